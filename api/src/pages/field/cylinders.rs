//! The cylinders as a phone keeps them: no page, but what its check before posting reads when there
//! is no signal; with the tags of all appliances, and those that are worth keeping besides the cards of
//! today: the others at the same sites. It goes with the kept pages when somebody signs in or out.

use crate::actions::permit::Deed;
use crate::actions::show;
use crate::actions::show::carried::{self, Unit};
use crate::actions::show::flagged::FlaggedShown;
use crate::actions::show::scales;
use crate::http::Problem;
use crate::pages::cautions;
use crate::pages::field::cage::own_name;
use crate::pages::field::scale::path as scale_path;
use crate::pages::field::today::{card_path, flagged};
use crate::pages::way::Visit;
use actix_web::HttpResponse;
use actix_web::http::header::{CACHE_CONTROL, ETAG};
use serde_json::json;
use std::collections::{BTreeMap, BTreeSet};

/// Units that are kept besides those of today, each with its card and three forms: forty pages; and
/// scales, each with its form for a known weight.
const NEAR: usize = 10;

/// The cards of the other appliances at the sites that stand on the page of today.
fn near(units: &[Unit], today: &[FlaggedShown]) -> Vec<String> {
    let is_today = |unit: &&Unit| today.iter().any(|item| item.appliance == unit.id);
    let sites: BTreeSet<&String> = (units.iter().filter(is_today))
        .filter_map(|unit| unit.site.as_ref())
        .collect();
    let others = units.iter().filter(|unit| !is_today(unit));
    let others = others.filter(|unit| unit.site.as_ref().is_some_and(|site| sites.contains(site)));
    let cards = others.map(|unit| card_path(&unit.tag, &unit.id));
    cards.take(NEAR).collect()
}

/// `GET /field/cylinders`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let by = visit.by()?;
    let (of, person, now) = (
        by.signed_in.of.clone(),
        by.signed_in.person,
        visit.asked.now,
    );
    let follows = by.may(Deed::ReadFollowUps);
    let read = visit.asked.read(move |state| {
        let cylinders = state.desk.read(|db| carried::cylinders(db, &of))?;
        let units = state.desk.read(|db| carried::units(db, &of))?;
        let today = match follows {
            true => flagged(state, &of, now)?,
            false => Vec::new(),
        };
        let near = near(&units, &today);
        let tags: Vec<String> = units.into_iter().map(|unit| unit.tag).collect();
        let scales = state.desk.read(|db| scales::page(db, &of, "", NEAR))?;
        let scales: Vec<String> = scales.items.iter().map(scale_path).collect();
        Ok((cylinders, own_name(state, &of, person)?, tags, near, scales))
    });
    let (cylinders, name, units, near, scales) = read.await?;
    let held = cylinders.iter().flat_map(|one| &one.holds);
    let burns = |(name, _): &(String, String)| Some((name.clone(), cautions::of_class(name)?));
    let warned: BTreeMap<String, String> = held.filter_map(burns).collect();
    let mut said = json!({"cylinders": cylinders, "name": name, "units": units, "near": near, "scales": scales,
        "caution": cautions::PRESSURE, "cautions": warned});
    let print = super::weak_print(said.to_string().as_bytes());
    said["made"] = json!(show::instant(now));
    Ok(HttpResponse::Ok()
        .insert_header((CACHE_CONTROL, "no-store"))
        .insert_header((ETAG, print))
        .json(said))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_stands_at_the_sites_of_today_is_worth_keeping_and_no_more_than_forty_pages() {
        let unit = |tag: &str, site: Option<&str>| Unit {
            id: format!("id of {tag}"),
            tag: tag.to_string(),
            site: site.map(str::to_string),
        };
        let shown = FlaggedShown {
            appliance: "id of HG-RACK-A".to_string(),
            tag: "HG-RACK-A".to_string(),
            as_of: 0,
            day: "2026-07-14".to_string(),
            exceedances: Vec::new(),
            duties: Vec::new(),
            first_due: None,
        };
        let alder = Some("Alder Street");
        let mut units = vec![
            unit("HG-RACK-A", alder),
            unit("HG-RTU-09", alder),
            unit("LS-RINK-1", Some("Lodestar")),
            unit("LOOSE-1", None),
        ];
        let cards = near(&units, std::slice::from_ref(&shown));
        assert_eq!(cards, ["/field/appliances/HG-RTU-09"]);
        assert!(near(&units, &[]).is_empty());
        units.extend((0..99).map(|at| unit(&format!("HG-CASE-{at:02}"), alder)));
        assert_eq!(near(&units, &[shown]).len(), 10);
    }
}
