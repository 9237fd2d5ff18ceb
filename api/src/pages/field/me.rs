//! What is a technician's own: the certificate with its class, the scales, the last entries.

use super::{FieldFrame, page};
use crate::actions::show::lines::{self, Line};
use crate::actions::show::scales::{self, ScaleShown};
use crate::actions::show::things::{self, Sort, ThingShown};
use crate::actions::show::{Own, Sees, overview};
use crate::http::Problem;
use crate::pages::appliances::fact;
use crate::pages::field::card::CardLine;
use crate::pages::way::Visit;
use crate::pages::{figures, words};
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;
use reports::day::Day;

/// Entries of the book that are looked through for one page.
const LOOKED_AT: usize = 400;
/// Entries of one page.
const SHOWN: usize = 25;
/// Scales that are shown.
const MOST_SCALES: usize = 30;

/// The page.
#[derive(Clone, Debug, Default, Template)]
#[template(path = "field/me.html")]
pub struct MePage {
    /// Around the page.
    pub field: FieldFrame,
    /// The name.
    pub name: String,
    /// The certificate in a sentence.
    pub certificate: String,
    /// Is it over, or not known?
    pub caution: bool,
    /// The scales of the organisation.
    pub scales: Vec<ScaleLine>,
    /// The last entries.
    pub lines: Vec<CardLine>,
    /// The address of earlier ones.
    pub earlier: Option<String>,
}

/// A scale with the address of its checks.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ScaleLine {
    /// Where its checks are.
    pub href: String,
    /// Tag, step, last check.
    pub says: String,
    /// Is it to be checked now?
    pub is_due: bool,
    /// Did its last check fail?
    pub failed: bool,
}

/// The certificate of a person on a day: a sentence, and whether it is a warning.
pub fn certificate(person: &ThingShown, today: Day) -> (String, bool) {
    let today = today.to_string();
    let class = fact(person, "certificate_class").map(words::plain);
    let Some(class) = class else {
        let says = "No certificate is recorded. Tell the office its number and class.";
        return (says.to_string(), true);
    };
    let number = fact(person, "serial").map_or(String::new(), |number| format!(" {number}"));
    match fact(person, "certificate_until") {
        Some(until) if until < today.as_str() => {
            let day = figures::day_text(until);
            (
                format!("Certificate{number}, {class}: over since {day}."),
                true,
            )
        }
        Some(until) => {
            let day = figures::day_text(until);
            (
                format!("Certificate{number}, {class}, good until {day}."),
                false,
            )
        }
        None => (
            format!("Certificate{number}, {class}, without an end."),
            false,
        ),
    }
}

fn scale(scale: &ScaleShown, today: Day) -> ScaleLine {
    let (says, is_due) = super::scale::line(scale, today);
    let href = super::scale::path(scale);
    let failed = super::scale::failed(scale);
    ScaleLine {
        href,
        says,
        is_due,
        failed,
    }
}

/// `GET /field/me`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let by = visit.by()?;
    let of = by.signed_in.of.clone();
    let own = Own {
        person: by.signed_in.person,
        device: by.signed_in.key,
    };
    let (now, before) = (visit.asked.now, visit.asked.query.number("before")?);
    let field = FieldFrame::of(&visit)?;
    let read = visit.asked.read(move |state| {
        let (today, _) = state.desk.read(|db| overview::today(db, &of, now))?;
        let mut shown = MePage {
            field,
            ..MePage::default()
        };
        if let Some(person) = own.person {
            let id = person.to_string();
            let person = state
                .desk
                .read(|db| things::one(db, &of, Sort::Person, &id))?;
            shown.name = fact(&person, "name").unwrap_or(&person.tag).to_string();
            (shown.certificate, shown.caution) = certificate(&person, today);
        }
        let scales = state
            .desk
            .read(|db| scales::page(db, &of, "", MOST_SCALES))?;
        let line = |one: &ScaleShown| scale(one, today);
        shown.scales = scales.items.iter().map(line).collect();
        let sees = Sees::Own(own);
        let lines = |db: &mut _| lines::newest(db, &of, before, LOOKED_AT, sees);
        let page = state.desk.read(lines)?;
        let mut next = page.next;
        shown.lines = page.items.iter().take(SHOWN).map(about).collect();
        if page.items.len() > SHOWN {
            next = shown.lines.last().map(|line| line.entry.to_string());
        }
        shown.earlier = next.map(|next| format!("/field/me?before={next}"));
        Ok(shown)
    });
    Ok(page(StatusCode::OK, &read.await?))
}

/// A line with the appliance or cylinder that it is about, which a card need not say.
fn about(line: &Line) -> CardLine {
    let mut shown = CardLine::of(line);
    let ends = line.moved.iter().flat_map(|moved| [&moved.to, &moved.from]);
    let is_one = |named: &&lines::Named| named.word == "appliance";
    let appliance = ends.chain(line.about.as_ref()).find(is_one);
    let thing = line.about.as_ref().filter(|thing| thing.word == "cylinder");
    if let Some(appliance) = appliance.or(thing) {
        shown.below = format!("{}. {}", appliance.tag, shown.below);
    }
    shown
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::actions::show::things::FactShown;
    use crate::pages::sample;

    fn person(facts: &[(&str, &str)]) -> ThingShown {
        let standing = sample::standing(None, Vec::new());
        let mut thing = sample::overview("ines@tamarack.example", "", standing).thing;
        thing.facts = facts
            .iter()
            .map(|(name, is)| {
                let shown = FactShown {
                    from: "2019-04-01".to_string(),
                    is: (*is).into(),
                    entry: 3,
                };
                (name.to_string(), vec![shown])
            })
            .collect();
        thing
    }

    #[test]
    fn a_certificate_says_its_class_and_when_it_is_over() {
        let today = Day::parse("2026-07-14").unwrap();
        let of = |facts: &[(&str, &str)]| certificate(&person(facts), today);
        let class = ("certificate_class", "universal");
        assert_eq!(
            of(&[class, ("serial", "TS-40117")]),
            (
                "Certificate TS-40117, universal, without an end.".to_string(),
                false
            )
        );
        assert!(of(&[class, ("certificate_until", "2026-07-13")]).1);
        assert!(!of(&[class, ("certificate_until", "2026-07-14")]).1);
        assert!(of(&[]).0.contains("No certificate is recorded"));
    }

    #[test]
    fn hostile_names_stay_text() {
        let page = MePage {
            name: sample::hostile(),
            certificate: sample::hostile(),
            scales: vec![ScaleLine {
                href: "/field/scales/1".to_string(),
                says: sample::hostile(),
                is_due: true,
                failed: true,
            }],
            lines: vec![about(&sample::line(&sample::hostile()))],
            ..MePage::default()
        };
        sample::is_clean(&page.render().unwrap());
    }
}
