//! What the square or the code of a label leads to: the card of an appliance, what a cylinder holds,
//! or the page that says that a code is not one of ours.

use super::appliances::fact;
use super::field::{FieldFrame, cage, page, today};
use super::way::{Visit, go_to};
use super::{cautions, figures, words};
use crate::actions::code;
use crate::actions::show::labelled::{self, Named};
use crate::actions::show::things::{Sort, ThingShown};
use crate::http::Problem;
use crate::ledger::id::Id;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;

/// The page.
#[derive(Clone, Debug, Template)]
#[template(path = "field/label.html")]
pub struct LabelPage {
    /// Around the page.
    pub field: FieldFrame,
    /// What was typed or scanned.
    pub typed: String,
    /// Why nothing is found; empty: something is.
    pub not_found: &'static str,
    /// What it names.
    pub things: Vec<LabelledLine>,
}

/// One thing that is named.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LabelledLine {
    /// Its tag.
    pub tag: String,
    /// Where all of it is shown; empty: nowhere.
    pub href: String,
    /// Its code in groups.
    pub code: String,
    /// What is known of it.
    pub says: Vec<String>,
}

const NOT_OURS: &str = "This is not one of ours: no appliance, cylinder or site of this book has \
                        this code, and no serial number is written so.";
const SLIP: &str = "One character at least is wrong: the last one is a check of the others, and it \
                    does not fit. Read the label again. The letters I, L, O and U are never in a \
                    code.";

/// Where a thing is shown; none: on this page.
pub fn href(field: &FieldFrame, sort: Sort, thing: &ThingShown) -> Option<String> {
    match (sort, field.posts()) {
        (Sort::Appliance, true) => Some(today::card_path(&thing.tag, &thing.id)),
        (Sort::Appliance, false) => Some(super::appliance_path(&thing.tag, &thing.id)),
        (Sort::Cylinder, true) => Some(cage::card_path(&thing.tag, &thing.id)),
        (Sort::Cylinder, false) => Some(super::cylinder_path(&thing.tag, &thing.id)),
        _ => None,
    }
}

impl LabelledLine {
    fn of(field: &FieldFrame, sort: Sort, thing: &ThingShown) -> LabelledLine {
        let code = Id::parse(&thing.id).and_then(|id| code::of(sort, id));
        LabelledLine {
            tag: thing.tag.clone(),
            href: href(field, sort, thing).unwrap_or_default(),
            code: code.map(|code| code::grouped(&code)).unwrap_or_default(),
            says: says(sort, thing),
        }
    }
}

fn says(sort: Sort, thing: &ThingShown) -> Vec<String> {
    let mut says = vec![words::capital(sort.word())];
    says.extend(fact(thing, "place").map(str::to_string));
    says.extend(fact(thing, "held_by").map(|who| format!("Held by {who}")));
    if sort == Sort::Cylinder {
        let held: Vec<String> = (thing.balances.iter().flatten())
            .map(|held| format!("{} {}", figures::mass_both(&held.mass), held.refrigerant))
            .collect();
        says.push(match held.is_empty() {
            true => "Empty by the book".to_string(),
            false => format!("Holds {}", held.join(", ")),
        });
        says.extend(fact(thing, "use").map(|word| format!("For {}", words::plain(word))));
        let retest = fact(thing, "retest_on").map(figures::day_text);
        says.extend(retest.map(|day| format!("Retest by {day}")));
        if thing.quarantine.is_some() {
            says.push("Closed until the compliance manager has looked at it".to_string());
        }
        says.extend(fact(thing, "refrigerant").and_then(cautions::of_class));
    }
    says
}

/// `GET /q/{code}`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let (field, of) = (FieldFrame::of(&visit)?, visit.by()?.signed_in.of.clone());
    let typed = visit.asked.name("code").to_string();
    let asked = typed.clone();
    let read = visit
        .asked
        .read(move |state| state.desk.read(|db| labelled::named(db, &of, &asked)));
    let mut shown = LabelPage {
        field,
        typed,
        not_found: "",
        things: Vec::new(),
    };
    let found = read.await?;
    match found {
        Named::Slip => shown.not_found = SLIP,
        Named::Nothing => shown.not_found = NOT_OURS,
        Named::Things(things) => {
            if let [(sort, thing)] = things.as_slice()
                && let Some(path) = href(&shown.field, *sort, thing)
            {
                return Ok(go_to(&path));
            }
            let line =
                |(sort, thing): &(Sort, ThingShown)| LabelledLine::of(&shown.field, *sort, thing);
            shown.things = things.iter().map(line).collect();
        }
    }
    let status = match shown.not_found {
        "" => StatusCode::OK,
        _ => StatusCode::NOT_FOUND,
    };
    Ok(page(status, &shown))
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;

    fn shown(not_found: &'static str, things: Vec<LabelledLine>) -> String {
        let page = LabelPage {
            field: FieldFrame::default(),
            typed: sample::hostile(),
            not_found,
            things,
        };
        page.render().unwrap()
    }

    #[test]
    fn what_is_not_ours_says_so_with_what_was_typed() {
        let html = shown(NOT_OURS, Vec::new());
        assert!(html.contains("not one of ours"), "{html}");
        sample::is_clean(&html);
        assert!(shown(SLIP, Vec::new()).contains("One character at least is wrong"));
    }

    #[test]
    fn two_things_of_one_code_are_both_shown() {
        let line = LabelledLine {
            tag: sample::hostile(),
            href: "/appliances/HG-RACK-A".to_string(),
            code: "A-000-0R7-W".to_string(),
            says: vec![sample::hostile()],
        };
        let html = shown("", vec![line.clone(), line]);
        sample::is_clean(&html);
        assert!(html.contains("Which of these is it?"), "{html}");
    }
}
