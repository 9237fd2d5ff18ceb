//! The cage: every cylinder as a bar, what it holds, what may be in it, when its test is due.
//!
//! A bar is as long as the water it would hold; the filled part is what is in it, the notch its limit,
//! what lies beyond the notch is hatched: keep empty. Words beside it say the same.

mod drawing;

use super::cautions;
use super::figures;
use super::frame::{Around, Frame, Part};
use super::picture::{Fill, Picture};
use super::taken::{self, Taken};
use super::way::{Visit, page};
use super::words;
use crate::actions::judge::cut_text;
use crate::actions::permit::Deed;
use crate::actions::show::Page;
use crate::actions::show::cage::{self, Due, Listed};
use crate::actions::show::things::ThingShown;
use crate::http::Problem;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;
use drawing::Lying;
use reports::day::Day;
use reports::mass::{self, Unit, in_unit};

/// The page.
#[derive(Clone, Debug, Template)]
#[template(path = "cage.html")]
pub struct CagePage {
    /// Around the content.
    pub frame: Frame,
    /// The headline as one sentence.
    pub lede: String,
    /// The same cylinders as bars; none where there are none.
    pub picture: Option<Picture>,
    /// The cylinders, by refrigerant and room.
    pub rows: Vec<CylinderRow>,
    /// Whose test is due within 90 days or overdue, the earliest first.
    pub retests: Vec<Retest>,
    /// Cautions.
    pub cautions: Vec<String>,
    /// The address of the next page.
    pub next: Option<String>,
    /// The same rows as a file; empty where there are none.
    pub taken: String,
}

/// One cylinder.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CylinderRow {
    /// Where its page is.
    pub href: String,
    /// Its tag.
    pub tag: String,
    /// What is in it.
    pub content: String,
    /// The safety class of what is in it, where it burns or is toxic.
    pub class: String,
    /// The bar; none where neither capacity nor limit is known.
    pub bar: Option<Bar>,
    /// Net mass.
    pub holds: String,
    /// Room, or why there is none.
    pub room: String,
    /// Net mass as decimals, in pounds and in kilograms.
    pub net: [String; 2],
    /// Room in pounds as a decimal; below nothing where it is over-full, empty where none is known.
    pub room_lb: String,
    /// The rule of its limit.
    pub rule: String,
    /// What closes it, in words.
    pub closed: String,
}

/// A bar in units of an svg 200 wide.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Bar {
    /// Filled part.
    pub filled: i64,
    /// Where the limit is.
    pub limit: Option<i64>,
    /// What lies beyond the limit.
    pub beyond: i64,
    /// More is in it than may be.
    pub is_over: bool,
    /// The pattern of its condition, as the picture of the cage draws it.
    pub ground: Fill,
}

/// A test that is due.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Retest {
    /// Where its page is.
    pub href: String,
    /// Its tag.
    pub tag: String,
    /// The day.
    pub on: String,
    /// `overdue by 12 days: not to be filled`, `in 25 days`.
    pub says: String,
    /// Is it overdue?
    pub is_over: bool,
}

/// Width of a bar.
const WIDTH: i128 = 200;

impl Bar {
    /// What is in it: solid where its condition has no pattern, on paper else.
    pub fn held(&self) -> String {
        let over = if self.is_over { "cage-over" } else { "cage-in" };
        let sides = format!(r#"x="2" y="5" width="{}" height="14""#, self.filled);
        match self.ground {
            Fill::Pattern(pattern) => format!(
                r##"<defs>{}</defs><rect class="{over}-line" {sides} fill="url(#held-{})"/>"##,
                pattern.defined("held"),
                pattern.name()
            ),
            _ => format!(r#"<rect class="{over}" {sides}/>"#),
        }
    }

    /// Crossed lines over what is to be kept empty.
    pub fn hatch(&self) -> String {
        let begin = self.limit.unwrap_or(200) + 2;
        let steps = (begin..202).step_by(6);
        let crossed = steps.map(|x| {
            let to = (x + 6).min(202);
            format!("M{x} 5L{to} 19M{x} 19L{to} 5")
        });
        crossed.collect()
    }

    /// The bar of a cylinder; `None`: neither capacity nor limit is known.
    pub fn of(listed: &cage::Fill, class: Option<&str>) -> Option<Bar> {
        let limit = listed
            .limit
            .as_ref()
            .map(|limit| i128::from(limit.limit.steps()));
        let water = listed
            .brief
            .water_capacity
            .map(|water| i128::from(water.steps()));
        let whole = water.or(limit).into_iter().chain(limit).max()?;
        let whole = whole.max(1);
        let at = |steps: i128| i64::try_from((steps.clamp(0, whole) * WIDTH) / whole).unwrap_or(0);
        let limit_at = limit.map(at);
        Some(Bar {
            filled: at(listed.net),
            limit: limit_at,
            beyond: 200 - limit_at.unwrap_or(200),
            is_over: limit.is_some_and(|limit| listed.net > limit),
            ground: drawing::ground(class, listed.brief.usage.as_deref() == Some("recovery")),
        })
    }
}

/// What is in it, or that it is empty. Less than nothing is not empty: more came out than the book knows.
pub fn content(thing: &ThingShown) -> String {
    let mut balances = thing.balances.iter().flatten();
    if balances.any(|held| held.mass.g.starts_with('-')) {
        return "an entry is missing: treat as holding refrigerant".to_string();
    }
    let held: Vec<&str> = (thing.balances.iter().flatten())
        .filter(|held| !held.mass.g.starts_with('-') && held.mass.g != "0")
        .map(|held| match held.refrigerant.as_str() {
            "unknown" => "not identified",
            "mixture" => "a mixture",
            name => name,
        })
        .collect();
    match held.is_empty() {
        true => "empty by the book".to_string(),
        false => held.join(" and "),
    }
}

/// A rule of the limit in few words.
pub fn rule_name(rule: &str) -> String {
    let known = match rule {
        "MARKING" => "its marking",
        "WATER80" => "0.8 × water",
        "GK80_25C" => "Guideline K, 25 °C",
        "VOL80_54C" => "0.8 × volume, 54 °C",
        "UN_95_50C" => "UN, 50 and 60 °C",
        "CFR_TABLE" => "49 CFR, table",
        "CFR_NOTFULL_55C" => "49 CFR, 55 °C",
        "UNKNOWN_042" => "0.42 kg per litre",
        other => other,
    };
    known.to_string()
}

/// Why nothing may go in, in words.
pub fn closed(words: &[&str]) -> String {
    let says = |word: &&str| match *word {
        "quarantined" => "under quarantine: to reclaim or destruction only",
        "disposable" => "disposable: never refilled",
        "condemned" => "condemned: never filled again",
        "retired" => "retired",
        "expired" => "test overdue: not to be filled",
        _ => "closed",
    };
    words.iter().map(says).collect::<Vec<_>>().join("; ")
}

/// Where what is in it goes, whatever the register says, in words; empty: nowhere in particular.
pub fn only_to_reclaim(word: Option<&str>) -> &'static str {
    match word {
        Some("mixed") => "mixed: to reclaim or destruction only",
        Some(_) => "of several owners: to reclaim or destruction only",
        None => "",
    }
}

/// What stands beside the room.
pub fn room(fill: &cage::Fill) -> String {
    match (fill.room_steps, fill.closed.is_empty()) {
        (_, false) => "none".to_string(),
        (Some(room), _) if room < 0 => format!("none, over-full by {}", cut_text(-room)),
        (Some(room), _) => format!("{} = {}", cut_text(room), mass::kg_text(room)),
        (None, _) if fill.net == 0 && fill.brief.water_capacity.is_some() => {
            "by what goes in".to_string()
        }
        (None, _) => "not known: record its water capacity".to_string(),
    }
}

impl CylinderRow {
    /// The row of what was read.
    pub fn of(listed: &Listed) -> CylinderRow {
        let (thing, fill) = (&listed.thing, &listed.fill);
        let names = thing
            .balances
            .iter()
            .flatten()
            .map(|held| held.refrigerant.as_str());
        let classes: Vec<String> = names
            .filter(|name| cautions::of_class(name).is_some())
            .map(|name| match cautions::group(name) {
                Some(group) => group.word().to_string(),
                None => "possibly flammable".to_string(),
            })
            .collect();
        CylinderRow {
            href: super::cylinder_path(&thing.tag, &thing.id),
            tag: thing.tag.clone(),
            content: match listed.class.as_deref() {
                None | Some("clean") => content(thing),
                Some(class) => format!("{}, {}", content(thing), words::class(class)),
            },
            class: classes.join(", "),
            bar: Bar::of(fill, listed.class.as_deref()),
            holds: mass::lb_oz_text(fill.net),
            room: room(fill),
            net: [Unit::Pound, Unit::Kilogram].map(|unit| in_unit(fill.net, unit)),
            room_lb: (fill.room_steps.filter(|_| fill.closed.is_empty()))
                .map_or(String::new(), |room| in_unit(room, Unit::Pound)),
            rule: fill
                .limit
                .as_ref()
                .map_or(String::new(), |limit| rule_name(&limit.rule_id)),
            closed: {
                let only = cage::only_to_reclaim(listed.class.as_deref(), listed.owners.len());
                let all = [closed(&fill.closed), only_to_reclaim(only).to_string()];
                let said = all.iter().filter(|text| !text.is_empty());
                said.map(String::as_str).collect::<Vec<_>>().join("; ")
            },
        }
    }
}

impl Retest {
    /// A test that is due soon, or overdue.
    pub fn of(due: &Due, on: Day) -> Retest {
        let left = due.on.days_since(on);
        Retest {
            href: super::cylinder_path(&due.tag, &due.id),
            tag: due.tag.clone(),
            on: figures::day(due.on),
            says: days_left(left),
            is_over: left < 0,
        }
    }
}

/// How far a test is away.
pub fn days_left(left: i32) -> String {
    let days = |count: i32| figures::counted(count.unsigned_abs() as usize, "day", "days");
    match left {
        ..0 => format!("overdue by {}: not to be filled", days(left)),
        0 => "due today".to_string(),
        1..=30 => format!("within 30 days: in {}", days(left)),
        _ => format!("within 90 days: in {}", days(left)),
    }
}

impl CagePage {
    /// The page of what was read.
    pub fn of(frame: Frame, today: Day, page: Page<Listed>, due: &[Due]) -> CagePage {
        let mut items: Vec<&Listed> = page.items.iter().collect();
        items.sort_by_key(|it| (content(&it.thing), it.fill.room_steps, it.thing.tag.clone()));
        let lying: Vec<Lying> = items.iter().map(|one| Lying::of(one, today)).collect();
        let rows: Vec<CylinderRow> = items.into_iter().map(CylinderRow::of).collect();
        // A disposable one is never filled again: that closes nothing that was open.
        let shut = |it: &&Listed| it.fill.closed.iter().any(|word| *word != "disposable");
        let closed = page.items.iter().filter(shut).count();
        let locked = page
            .items
            .iter()
            .filter(|it| it.fill.closed.contains(&"quarantined"));
        let lede = match rows.len() {
            0 => "No cylinder is registered here.".to_string(),
            count => format!(
                "On this page: {}, {closed} closed to filling, {} of them under quarantine.",
                figures::counted(count, "cylinder", "cylinders"),
                locked.count()
            ),
        };
        let next = page
            .next
            .map(|after| format!("/cylinders?after={}", super::encoded(&after)));
        CagePage {
            frame,
            lede: words::capital(&lede),
            picture: drawing::picture(&lying),
            taken: String::new(),
            rows,
            retests: due.iter().map(|due| Retest::of(due, today)).collect(),
            cautions: vec![
                cautions::PRESSURE.to_string(),
                cautions::FILLING.to_string(),
            ],
            next,
        }
    }
}

/// Cylinders of one page.
const MOST: usize = 100;

/// `GET /cylinders`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let (around, of) = (Around::of(&visit)?, visit.by()?.signed_in.of.clone());
    let after = visit
        .asked
        .query
        .text("after")
        .unwrap_or_default()
        .to_string();
    let read = visit.asked.read(move |state| {
        let (frame, today, _) = around.read(state, Part::Cylinders)?;
        let page = state
            .desk
            .read(|db| cage::page(db, &of, &after, MOST, today))?;
        let due = state.desk.read(|db| cage::tests_due(db, &of, today))?;
        Ok(CagePage::of(frame, today, page, &due))
    });
    let mut shown = read.await?;
    if taken::is_asked(&visit)? {
        return taken::answer(&visit, Deed::ReadBook, Taken::from(&shown)).await;
    }
    shown.taken = taken::address(&visit, !shown.rows.is_empty());
    Ok(page(StatusCode::OK, &shown))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_test_is_named_at_90_30_and_0_days() {
        assert_eq!(days_left(-12), "overdue by 12 days: not to be filled");
        assert_eq!(days_left(0), "due today");
        assert_eq!(days_left(30), "within 30 days: in 30 days");
        assert_eq!(days_left(31), "within 90 days: in 31 days");
    }
}
