//! Labels for appliances and cylinders, laid out for the stock they are printed on.
//!
//! Sizes are those of the sheet or roll in millimetres; the square has 25 mm with its white, so that
//! its dark part is at least 20 mm. The words carry the meaning, black does for all of it.

use super::appliances::fact;
use super::cautions;
use super::frame::{Around, Frame, Part};
use super::qr::{self, Square};
use super::way::{Visit, page};
use super::{figures, words};
use crate::actions::ActionError;
use crate::actions::code;
use crate::actions::judge::cut_text;
use crate::actions::show::cage::{self, Listed};
use crate::actions::show::things::{self, Sort, ThingShown};
use crate::actions::show::{Organisation, Sees};
use crate::http::{Problem, State};
use crate::ledger::id::Id;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;
use reports::day::Day;
use reports::mass::{self, Mass};
use reports::refrigerant::SafetyGroup;
use serde_json::Value;

/// Most labels of one page.
const MOST: usize = 60;

/// What labels are printed on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stock {
    /// Its word in an address and its class.
    pub word: &'static str,
    /// What it is called.
    pub name: &'static str,
    /// Labels of a sheet.
    pub labels: usize,
}

/// Stock that is laid out. Sizes: common practice, no source; `tests/browser` measures them.
pub const STOCK: [Stock; 3] = [
    Stock {
        word: "letter-30",
        name: "Letter, 30 to a sheet (66.7 × 25.4 mm)",
        labels: 30,
    },
    Stock {
        word: "a4-24",
        name: "A4, 24 to a sheet (70 × 37 mm)",
        labels: 24,
    },
    Stock {
        word: "roll",
        name: "Roll, 62 × 29 mm",
        labels: 1,
    },
];

/// The page.
#[derive(Clone, Debug, Template)]
#[template(path = "labels.html")]
pub struct LabelsPage {
    /// Around the content.
    pub frame: Frame,
    /// The stock.
    pub stock: Stock,
    /// Of cylinders? Else of appliances.
    pub cylinders: bool,
    /// Tags that were asked for.
    pub ids: String,
    /// Tags that nothing has.
    pub unknown: Vec<String>,
    /// Labels by sheet.
    pub sheets: Vec<Vec<Label>>,
    /// The address of further labels.
    pub next: Option<String>,
}

/// One label.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Label {
    /// Its code in groups.
    pub code: String,
    /// The square of its link.
    pub square: Square,
    /// The refrigerant, large.
    pub large: String,
    /// What class it is of, or what has been recovered into it.
    pub class: String,
    /// Lines below.
    pub lines: Vec<String>,
}

/// What stands on cylinders that are never filled again (common practice, no source; 49 CFR 178.65
/// forbids to transport one that was refilled: from memory).
const DO_NOT_REFILL: &str = "DO NOT REFILL";

fn mass_line(name: &str, is: Option<&Value>) -> Option<String> {
    let grams = is?.get("g")?.as_str()?;
    let steps = i128::from(Mass::from_grams_text(grams)?.steps());
    let (lb, kg) = (mass::lb_oz_text(steps), mass::kg_text(steps));
    Some(format!("{name} {lb} = {kg}"))
}

/// A class with the danger in capital letters: groups other than 1 of ISO 817 burn, B is toxic.
fn class_in_words(group: SafetyGroup) -> String {
    let word = group.word();
    let burns = if word.ends_with('1') {
        ""
    } else {
        ", FLAMMABLE"
    };
    let poisons = if word.starts_with('B') { ", TOXIC" } else { "" };
    format!("class {word}{burns}{poisons}")
}

impl Label {
    /// The label of a cylinder with the most it may show on a scale.
    pub fn of_cylinder(listed: &Listed, origin: &str) -> Option<Label> {
        let (thing, fill) = (&listed.thing, &listed.fill);
        let mut label = Label::of(Sort::Cylinder, thing, origin)?;
        let owner = match &listed.owners[..] {
            [] => None,
            [one] => Some(format!("{}, {one}", thing.tag)),
            _ => Some(format!("{}, several owners", thing.tag)),
        };
        if let (Some(owner), Some(first)) = (owner, label.lines.first_mut()) {
            *first = owner;
        }
        // In the line of the test: a class that burns keeps a line of its own.
        if let Some(class) = listed.class.as_deref() {
            let class = class.replace('_', "-").to_uppercase();
            let test = |line: &&mut String| line.starts_with("Retest");
            match label.lines.iter_mut().find(test) {
                Some(line) => *line = format!("{class}, {}", line.replacen('R', "r", 1)),
                None => label.lines.push(class),
            }
        }
        let limit = fill.limit.as_ref().zip(fill.brief.tare);
        label.lines.extend(limit.map(|(limit, tare)| {
            let steps = i128::from(limit.limit.steps()) + i128::from(tare.steps());
            // Cut, not rounded: what stands on a label is never above the limit.
            format!("Gross max {} = {}", cut_text(steps), mass::kg_text(steps))
        }));
        Some(label)
    }

    /// The label of a thing; `origin`: where its link leads.
    pub fn of(sort: Sort, thing: &ThingShown, origin: &str) -> Option<Label> {
        let code = code::of(sort, Id::parse(&thing.id)?)?;
        let square = qr::square(&format!("{origin}/q/{code}")).unwrap_or_default();
        let refrigerant = match sort {
            Sort::Cylinder => content(thing).or(fact(thing, "refrigerant")),
            _ => fact(thing, "refrigerant"),
        };
        let refrigerant = refrigerant.unwrap_or("not known");
        let class = cautions::group(refrigerant).map(class_in_words);
        let class = class.unwrap_or_else(|| "class not known".to_string());
        let recovery = sort == Sort::Cylinder && fact(thing, "use") == Some("recovery");
        let value = |name: &str| Some(&thing.facts.get(name)?.last()?.is);
        let lines = match sort {
            Sort::Cylinder => vec![
                mass_line("Empty", value("tare")),
                mass_line("Water", value("water_capacity")),
                (fact(thing, "use") == Some("disposable")).then(|| DO_NOT_REFILL.to_string()),
                fact(thing, "retest_on").map(|day| format!("Retest by {}", figures::day_text(day))),
            ],
            _ => vec![
                mass_line("Full", value("full_charge"))
                    .or(Some("Full charge not known".to_string())),
                fact(thing, "place").map(str::to_string),
            ],
        };
        Some(Label {
            code: code::grouped(&code),
            square,
            large: refrigerant.to_string(),
            class: match recovery {
                true => format!("RECOVERED, {class}"),
                false => words::capital(&class),
            },
            lines: std::iter::once(thing.tag.clone())
                .chain(lines.into_iter().flatten())
                .collect(),
        })
    }
}

/// What a cylinder holds by the book, where it is one refrigerant.
fn content(thing: &ThingShown) -> Option<&str> {
    match thing.balances.as_deref()? {
        [one] => Some(one.refrigerant.as_str()),
        _ => None,
    }
}

struct Asked {
    sort: Sort,
    ids: Vec<String>,
    after: String,
    origin: String,
}

struct Found {
    labels: Vec<Label>,
    unknown: Vec<String>,
    next: Option<String>,
}

/// The labels that are asked for: by tag or id, or all by tag.
fn found(
    state: &State,
    of: &Organisation,
    asked: &Asked,
    today: Day,
) -> Result<Found, ActionError> {
    let mut found = Found {
        labels: Vec::new(),
        unknown: Vec::new(),
        next: None,
    };
    let cylinder = |one: &Listed| Label::of_cylinder(one, &asked.origin);
    if asked.ids.is_empty() && asked.sort == Sort::Cylinder {
        let read = |db: &mut _| cage::page(db, of, &asked.after, MOST, today);
        let page = state.desk.read(read)?;
        found.labels = page.items.iter().filter_map(cylinder).collect();
        found.next = page.next;
        return Ok(found);
    }
    if asked.ids.is_empty() {
        let read = |db: &mut _| things::page(db, of, asked.sort, &asked.after, MOST);
        let page = state.desk.read(read)?;
        let label = |thing: &ThingShown| Label::of(asked.sort, thing, &asked.origin);
        found.labels = page.items.iter().filter_map(label).collect();
        found.next = page.next;
        return Ok(found);
    }
    for name in asked.ids.iter().take(MOST) {
        let label = match asked.sort {
            Sort::Cylinder => {
                let read = |db: &mut _| cage::one(db, of, name, Some(today), Sees::Names);
                let one = state.desk.read(read);
                one.map(|one| {
                    let listed = Listed {
                        thing: one.thing,
                        fill: one.fill,
                        class: one.class,
                        owners: one.owners,
                    };
                    cylinder(&listed)
                })
            }
            sort => {
                let one = state.desk.read(|db| things::one(db, of, sort, name));
                one.map(|thing| Label::of(sort, &thing, &asked.origin))
            }
        };
        match label {
            Ok(label) => found.labels.extend(label),
            Err(ActionError::Refused(_)) => found.unknown.push(name.clone()),
            Err(failed) => return Err(failed),
        }
    }
    Ok(found)
}

/// `GET /labels`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let (around, of) = (Around::of(&visit)?, visit.by()?.signed_in.of.clone());
    let text = |name| visit.asked.query.text(name).unwrap_or_default().trim();
    let cylinders = text("of") == "cylinders";
    let stock = STOCK.iter().find(|stock| stock.word == text("stock"));
    let stock = *stock.unwrap_or(&STOCK[0]);
    let ids = text("ids").to_string();
    let asked = Asked {
        sort: match cylinders {
            true => Sort::Cylinder,
            false => Sort::Appliance,
        },
        ids: ids
            .split(',')
            .map(|id| id.trim().to_string())
            .filter(|id| !id.is_empty())
            .collect(),
        after: text("after").to_string(),
        origin: super::way::origin(&visit),
    };
    let read = visit.asked.read(move |state| {
        let (frame, today, _) = around.read(state, Part::Appliances)?;
        let found = found(state, &of, &asked, today)?;
        let kind = if cylinders { "cylinders" } else { "appliances" };
        let next = found.next.map(|after| {
            let after = super::encoded(&after);
            format!("/labels?of={kind}&stock={}&after={after}", stock.word)
        });
        let sheets = found.labels.chunks(stock.labels).map(<[Label]>::to_vec);
        Ok(LabelsPage {
            frame,
            stock,
            cylinders,
            ids,
            unknown: found.unknown,
            sheets: sheets.collect(),
            next,
        })
    });
    Ok(page(StatusCode::OK, &read.await?))
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;
    use crate::ledger::actor::Role;

    #[test]
    fn a_label_says_code_refrigerant_class_and_tag_and_hostile_names_stay_text() {
        let standing = sample::standing(Some(210), Vec::new());
        let thing = sample::overview(&sample::hostile(), "R-448A", standing).thing;
        let label = Label::of(Sort::Appliance, &thing, "https://book.example").unwrap();
        assert!(label.code.starts_with("A-") && label.square.side == 41);
        assert_eq!(
            (label.large.as_str(), label.class.as_str()),
            ("R-448A", "Class A1")
        );
        assert_eq!(label.lines[1], "Full charge not known");
        let page = LabelsPage {
            frame: sample::frame(Role::ComplianceManager, Part::Appliances),
            stock: STOCK[2],
            cylinders: false,
            ids: sample::hostile(),
            unknown: vec![sample::hostile()],
            sheets: vec![vec![label]],
            next: None,
        };
        sample::is_clean(&page.render().unwrap());
    }

    /// 27.6 lb = 27 lb 9.6 oz; 27.6 x 0.45359237 kg = 12.519 kg.
    #[test]
    fn a_recovery_cylinder_says_so_with_its_weights_and_its_retest() {
        let standing = sample::standing(None, Vec::new());
        let mut thing = sample::overview("TR-0417", "R-410A", standing).thing;
        let fact = |is: Value| {
            vec![crate::actions::show::things::FactShown {
                from: "2025-11-03".to_string(),
                is,
                entry: 3,
            }]
        };
        let tare = serde_json::json!({"g": "12519.149412"});
        thing.facts.insert("tare".to_string(), fact(tare));
        thing
            .facts
            .insert("use".to_string(), fact("recovery".into()));
        thing
            .facts
            .insert("retest_on".to_string(), fact("2027-05-31".into()));
        let label = Label::of(Sort::Cylinder, &thing, "https://book.example").unwrap();
        assert!(label.code.starts_with("C-"));
        assert_eq!(label.class, "RECOVERED, class A1");
        assert_eq!(class_in_words(SafetyGroup::A2L), "class A2L, FLAMMABLE");
        assert_eq!(class_in_words(SafetyGroup::B1), "class B1, TOXIC");
        assert_eq!(label.lines[1], "Empty 27 lb 9.6 oz = 12.519 kg");
        assert_eq!(label.lines[2], "Retest by 31 May 2027");
        // What stands in it and whose it is, in the lines that are there already.
        let mut listed = Listed {
            thing,
            fill: cage::Fill::default(),
            class: Some("burn_out".to_string()),
            owners: vec!["Halfmoon Grocers".to_string()],
        };
        let label = Label::of_cylinder(&listed, "https://book.example").unwrap();
        assert_eq!(label.lines[0], "TR-0417, Halfmoon Grocers");
        assert_eq!(label.lines[2], "BURN-OUT, retest by 31 May 2027");
        listed.owners.push("Quillfeather Kitchen".to_string());
        let label = Label::of_cylinder(&listed, "https://book.example").unwrap();
        assert_eq!(label.lines[0], "TR-0417, several owners");
    }
}
