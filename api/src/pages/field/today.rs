//! Today in the field: what is owed at which site, and the way to any appliance by its tag.
//!
//! Sites stand in the order of their names, appliances by tag. Everything on it is kept by the
//! phone, with the cards behind it, for the machine room without signal.

use super::{FieldFrame, cage, page, with_camera};
use crate::actions::show::flagged::{self, FlaggedAsked, FlaggedShown};
use crate::actions::show::labelled::{self, Named};
use crate::actions::show::overview::{self, Overview};
use crate::actions::show::things::{self, Sort, ThingShown};
use crate::actions::show::{Organisation, Page};
use crate::actions::{ActionError, permit};
use crate::http::{Problem, State};
use crate::pages::appliances::fact;
use crate::pages::duty::{DutyLine, first_owed};
use crate::pages::figures;
use crate::pages::way::{Visit, go_to};
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;
use permit::Deed;
use reports::standing::DutyShown;
use std::collections::BTreeMap;

/// Appliances with something owed that are shown, and those of a page by tag.
const MOST: usize = 30;

/// The page.
#[derive(Clone, Debug, Default, Template)]
#[template(path = "field/today.html")]
pub struct FieldToday {
    /// Around the page.
    pub field: FieldFrame,
    /// Goes into every form and must come back.
    pub form: String,
    /// Today, written out.
    pub day: String,
    /// What was looked for; `None`: nothing, the page shows what is owed.
    pub find: Option<String>,
    /// Appliances by site, or those that were looked for.
    pub sites: Vec<SiteGroup>,
    /// The address of the appliances further on.
    pub next: Option<String>,
}

/// Appliances of a site.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SiteGroup {
    /// Its name.
    pub name: String,
    /// Its appliances.
    pub places: Vec<PlaceRow>,
}

/// An appliance as a place to go to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PlaceRow {
    /// Where its card is.
    pub href: String,
    /// Its tag.
    pub tag: String,
    /// Its refrigerant.
    pub refrigerant: String,
    /// Where it stands.
    pub place: String,
    /// What is owed first.
    pub duty: Option<DutyLine>,
}

/// The address of the card of an appliance.
pub fn card_path(tag: &str, id: &str) -> String {
    format!("/field{}", crate::pages::appliance_path(tag, id))
}

/// Where what a label says is looked up.
fn label_path(typed: &str) -> String {
    format!("/q/{}", crate::pages::encoded(typed))
}

impl PlaceRow {
    fn of(overview: &Overview, owed: &[DutyShown]) -> PlaceRow {
        let (thing, standing) = (&overview.thing, &overview.standing);
        let duty = first_owed(owed);
        PlaceRow {
            href: card_path(&thing.tag, &thing.id),
            tag: thing.tag.clone(),
            refrigerant: fact(thing, "refrigerant").unwrap_or_default().to_string(),
            place: fact(thing, "place").unwrap_or_default().to_string(),
            duty: duty.map(|duty| DutyLine::of(duty, &standing.day)),
        }
    }
}

/// What is late, the longest first; then the other appliances under their sites, sites by name.
fn by_site(owed: &[Owed]) -> Vec<SiteGroup> {
    let mut sites: BTreeMap<&str, Vec<PlaceRow>> = BTreeMap::new();
    let mut late = Vec::new();
    for (overview, duties) in owed {
        let mut row = PlaceRow::of(overview, duties);
        let is_late = row.duty.as_ref().is_some_and(|duty| duty.class == "late");
        if !is_late {
            sites.entry(&overview.site).or_default().push(row);
            continue;
        }
        let at = [overview.site.as_str(), row.place.as_str()];
        let at: Vec<&str> = at.into_iter().filter(|text| !text.is_empty()).collect();
        row.place = at.join(", ");
        late.push((first_owed(duties).and_then(|duty| duty.due.clone()), row));
    }
    late.sort_by(|one, other| one.0.cmp(&other.0));
    let late = SiteGroup {
        name: "Late".to_string(),
        places: late.into_iter().map(|(_, row)| row).collect(),
    };
    let group = |(name, places): (&str, _)| SiteGroup {
        name: match name {
            "" => "No site is known".to_string(),
            name => name.to_string(),
        },
        places,
    };
    let late = [late].into_iter().filter(|late| !late.places.is_empty());
    late.chain(sites.into_iter().map(group)).collect()
}

/// An appliance and what is owed because of a limit, the earliest due first.
type Owed = (Overview, Vec<DutyShown>);

/// Appliances with something owed because of a limit that was passed within 365 days.
fn owed(state: &State, of: &Organisation, now: i64) -> Result<Vec<Owed>, ActionError> {
    let items = flagged(state, of, now)?;
    let mut owed = Vec::with_capacity(items.len());
    for item in items {
        let read = |db: &mut _| overview::one(db, of, &item.appliance, now);
        owed.push((state.desk.read(read)?, item.duties));
    }
    Ok(owed)
}

/// The appliances that stand on the page of today.
pub fn flagged(
    state: &State,
    of: &Organisation,
    now: i64,
) -> Result<Vec<FlaggedShown>, ActionError> {
    let asked = FlaggedAsked {
        after: String::new(),
        most: MOST,
        since: None,
        now,
    };
    let mut items = state.desk.read(|db| flagged::page(db, of, &asked))?.items;
    items.retain(|item| !item.duties.is_empty());
    Ok(items)
}

/// `GET /field`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let by = visit.by()?;
    let (of, now, follows) = (
        by.signed_in.of.clone(),
        visit.asked.now,
        by.may(Deed::ReadFollowUps),
    );
    let text = |name| visit.asked.query.text(name).map(str::trim);
    let (find, after) = (text("find"), text("after"));
    let asked = find.or(after).map(str::to_string);
    let exact = find.is_some_and(|find| !find.is_empty());
    let (field, form) = (FieldFrame::of(&visit)?, visit.token.clone());
    let read = visit.asked.read(move |state| {
        let (today, _) = state.desk.read(|db| overview::today(db, &of, now))?;
        let mut shown = FieldToday {
            field,
            form,
            day: figures::weekday(today),
            ..FieldToday::default()
        };
        let Some(asked) = asked else {
            let owed = if follows {
                owed(state, &of, now)?
            } else {
                Vec::new()
            };
            shown.sites = by_site(&owed);
            return Ok(Ok(shown));
        };
        let (mut named, mut from) = (Named::Nothing, asked.clone());
        if exact {
            if let Some(card) = meant(state, &of, &asked)? {
                return Ok(Err(card));
            }
            // A code of a label, or the serial number of a nameplate.
            named = state.desk.read(|db| labelled::named(db, &of, &asked))?;
            if matches!(named, Named::Things(_)) {
                return Ok(Err(label_path(&asked)));
            }
            from = spelt(state, &of, Sort::Appliance, &asked)?;
        }
        let listed = state
            .desk
            .read(|db| overview::page(db, &of, &from, MOST, now))?;
        let begins = |item: &Overview| item.thing.tag.starts_with(&from);
        let cylinders = match exact {
            true => cylinders(state, &of, &spelt(state, &of, Sort::Cylinder, &asked)?)?,
            false => Vec::new(),
        };
        let nothing = cylinders.is_empty() && !listed.items.iter().any(begins);
        if named == Named::Slip && nothing {
            return Ok(Err(label_path(&asked)));
        }
        shown.list(asked, listed, cylinders);
        Ok(Ok(shown))
    });
    Ok(match read.await? {
        Ok(shown) => with_camera(page(StatusCode::OK, &shown)),
        Err(card) => go_to(&card),
    })
}

/// The card of the appliance or cylinder that is meant, whatever the case of what was typed.
fn meant(state: &State, of: &Organisation, asked: &str) -> Result<Option<String>, ActionError> {
    for sort in [Sort::Appliance, Sort::Cylinder] {
        let read = |db: &mut _| things::meant(db, of, sort, asked);
        if let Some(thing) = state.desk.read(read)? {
            return Ok(Some(match sort {
                Sort::Appliance => card_path(&thing.tag, &thing.id),
                _ => cage::card_path(&thing.tag, &thing.id),
            }));
        }
    }
    Ok(None)
}

/// The beginning of a tag as the tags of this sort have it.
fn spelt(state: &State, of: &Organisation, sort: Sort, typed: &str) -> Result<String, ActionError> {
    state.desk.read(|db| things::beginning(db, of, sort, typed))
}

/// Cylinders whose tag begins so.
fn cylinders(state: &State, of: &Organisation, begins: &str) -> Result<Vec<PlaceRow>, ActionError> {
    let read = |db: &mut _| things::page(db, of, Sort::Cylinder, begins, MOST);
    let listed = state.desk.read(read)?.items.into_iter();
    let begun = listed.take_while(|thing| thing.tag.starts_with(begins));
    let row = |thing: ThingShown| PlaceRow {
        href: cage::card_path(&thing.tag, &thing.id),
        refrigerant: crate::pages::cage::content(&thing),
        place: fact(&thing, "held_by").map_or(String::new(), |who| format!("held by {who}")),
        tag: thing.tag,
        duty: None,
    };
    Ok(begun.map(row).collect())
}

impl FieldToday {
    fn list(&mut self, asked: String, listed: Page<Overview>, cylinders: Vec<PlaceRow>) {
        self.next = listed
            .next
            .map(|after| format!("/field?after={}", crate::pages::encoded(&after)));
        let cylinders = SiteGroup {
            name: "Cylinders".to_string(),
            places: cylinders,
        };
        let appliances = SiteGroup {
            name: match asked.as_str() {
                "" => "Appliances by tag".to_string(),
                asked => format!("From {asked} on"),
            },
            places: listed
                .items
                .iter()
                .map(|item| PlaceRow::of(item, &[]))
                .collect(),
        };
        self.sites = vec![cylinders, appliances];
        self.sites.retain(|site| !site.places.is_empty());
        self.find = Some(asked);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pages::sample;

    fn shown(owed: &[Owed]) -> String {
        let page = FieldToday {
            day: "Tuesday 14 July 2026".to_string(),
            sites: by_site(owed),
            ..FieldToday::default()
        };
        page.render().unwrap()
    }

    #[test]
    fn what_is_owed_stands_under_its_site() {
        let over = sample::standing(Some(210), vec![sample::addition(Some(sample::over()))]);
        let mut rack = sample::overview("HG-RACK-A", "R-448A", over);
        rack.site = "Alder Street".to_string();
        let html = shown(&[(rack, vec![sample::duty(Some("2026-08-13"))])]);
        for part in [
            "<h2>Alder Street</h2>",
            "href=\"/field/appliances/HG-RACK-A\"",
            "R-448A",
            "Find the leaks and repair them",
        ] {
            assert!(html.contains(part), "{part} in {html}");
        }
    }

    #[test]
    fn what_is_late_stands_before_every_site() {
        let of = |tag: &str, site: &str| {
            let over = sample::standing(Some(210), vec![sample::addition(Some(sample::over()))]);
            let mut found = sample::overview(tag, "R-448A", over);
            found.site = site.to_string();
            found
        };
        let mut late = sample::duty(Some("2026-06-30"));
        late.state = "overdue";
        let ahead = sample::duty(Some("2026-08-13"));
        let html = shown(&[
            (of("HG-RACK-A", "Alder Street"), vec![ahead]),
            (of("SD-PROC-1", "Saltbush Dairy"), vec![late]),
        ]);
        let at = |part: &str| {
            html.find(part)
                .unwrap_or_else(|| panic!("{part} in {html}"))
        };
        assert!(at("<h2>Late</h2>") < at("SD-PROC-1"));
        assert!(at("SD-PROC-1") < at("<h2>Alder Street</h2>"));
        assert!(html.contains("Saltbush Dairy"));
        assert!(!html.contains("<h2>Saltbush Dairy</h2>"), "listed once");
    }

    #[test]
    fn a_quiet_day_and_hostile_names_are_shown_as_they_are() {
        assert!(shown(&[]).contains("Nothing is owed because of a limit."));
        let standing = sample::standing(None, Vec::new());
        let hostile = sample::overview(&sample::hostile(), &sample::hostile(), standing);
        sample::is_clean(&shown(&[(hostile, Vec::new())]));
    }
}
