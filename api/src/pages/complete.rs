//! What the register lacks of an appliance: a form with a box for each fact that the law asks about.
//!
//! What is left empty stays as it is. What is filled in is a new entry of the register; what was wrong
//! from the start is corrected where it was said, and the old value stays readable.

use super::appliances::fact;
use super::field::new::CATEGORIES;
use super::form::{BoxProblem, box_problem, pointer_of};
use super::frame::{Around, Frame, Part};
use super::posting::AskedQuestion;
use super::way::{Visit, go_to, page};
use super::{figures, words};
use crate::actions::ActionError;
use crate::actions::refusal::{Question, Refusal};
use crate::actions::show::things::{self, Sort, ThingShown};
use crate::http::Problem;
use crate::http::answer::PATIENCE;
use crate::ledger::id::Id;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;
use reports::mass;
use serde_json::{Map, Value, json};
use std::collections::BTreeMap;

const OVERTAKEN: &str = "Somebody wrote about this appliance while the form was open. What the book says now \
     stands at each box: look at it, then book again.";

/// Counterparties that are offered.
const MOST: usize = 200;

/// Facts of the form: name, label, hint. Words of closed lists and owners are chosen.
const BOXES: [(&str, &str, &str); 7] = [
    (
        "full_charge",
        "Full charge",
        "With its unit, such as 11 lb 14 oz or 5.4 kg.",
    ),
    ("installed", "Installed on", "The first day it ran here."),
    ("owner", "Owner", "Who answers for it under the law."),
    (
        "category",
        "What it is used for",
        "As the rules tell them apart.",
    ),
    (
        "refrigerant",
        "Refrigerant",
        "From the nameplate, such as R-410A.",
    ),
    ("serial", "Serial number", "From the nameplate."),
    (
        "place",
        "Where it stands",
        "At its site, such as roof, north-east corner.",
    ),
];

/// How a full charge is known: of the four ways of 40 CFR 82.152 those that give one number.
const METHODS: [(&str, &str); 3] = [
    ("maker_data", "from the maker's data or the nameplate"),
    ("calculation", "calculated"),
    ("measurement", "measured"),
];

/// Boxes that are no fact of their own.
const OTHERS: [&str; 3] = ["from", "method", "established_on"];

/// The page.
#[derive(Clone, Debug, Template)]
#[template(path = "complete.html")]
pub struct CompletePage {
    /// Around the content.
    pub frame: Frame,
    /// The appliance.
    pub tag: String,
    /// Its address.
    pub back: String,
    /// Made when the form was served, so that a second press books nothing twice.
    pub entry_id: String,
    /// The version of the appliance that the form was filled in against.
    pub version: String,
    /// What the book says now, by fact.
    pub known: BTreeMap<String, String>,
    /// What was filled in.
    pub filled: BTreeMap<String, String>,
    /// Owners that can be chosen, by id and tag.
    pub owners: Vec<(String, String)>,
    /// What is to be put right.
    pub problems: Vec<BoxProblem>,
    /// What the book asks before it books.
    pub questions: Vec<AskedQuestion>,
}

impl CompletePage {
    fn of(frame: Frame, thing: &ThingShown, owners: Vec<(String, String)>) -> CompletePage {
        let known = BOXES.iter().filter_map(|(name, ..)| {
            let since = figures::day_text(&thing.facts.get(*name)?.last()?.from);
            let known = known(thing, name, &owners)?;
            Some((name.to_string(), format!("{known}, since {since}")))
        });
        CompletePage {
            frame,
            tag: thing.tag.clone(),
            back: super::appliance_path(&thing.tag, &thing.id),
            entry_id: String::new(),
            version: thing.version.clone(),
            known: known.collect(),
            filled: BTreeMap::from([("from".to_string(), first_day(thing))]),
            owners,
            problems: Vec::new(),
            questions: Vec::new(),
        }
    }

    fn value(&self, name: &str) -> &str {
        self.filled.get(name).map_or("", String::as_str)
    }

    fn chosen(&self, name: &str, word: &str) -> bool {
        self.value(name) == word
    }

    fn is(&self, name: &str, other: &str) -> bool {
        name == other
    }

    fn is_of(&self, problem: &BoxProblem, name: &str) -> bool {
        problem.field == name
    }

    fn now(&self, name: &str) -> &str {
        self.known.get(name).map_or("not known", String::as_str)
    }

    /// The request for the door; `None`: nothing is filled in.
    fn request(&self, id: &str) -> Option<Value> {
        let mut facts = Map::new();
        for (name, ..) in BOXES {
            let value = match (name, self.value(name)) {
                (_, "") => continue,
                ("full_charge", text) => self.full_charge(text),
                (_, text) => json!(text),
            };
            let dated = json!([{"from": self.value("from"), "is": value}]);
            facts.insert(name.to_string(), dated);
        }
        let answers: BTreeMap<&str, &String> = (self.filled.iter())
            .filter_map(|(name, value)| Some((name.strip_prefix("answer.")?, value)))
            .collect();
        let body = json!({"subject": format!("appliance:{id}"), "facts": facts});
        (!facts.is_empty()).then(|| {
            json!({"entry_id": self.entry_id, "kind": "appliance", "answers": answers, "body": body})
        })
    }

    fn full_charge(&self, text: &str) -> Value {
        let mut charge = json!({"mass": text});
        for name in ["method", "established_on"] {
            if !self.value(name).is_empty() {
                charge[name] = json!(self.value(name));
            }
        }
        charge
    }

    /// What would change nothing of today: the book has a value that begins later.
    fn covered(&self, thing: &ThingShown) -> Vec<BoxProblem> {
        let from = self.value("from");
        let filled = BOXES
            .iter()
            .filter(|(name, ..)| !self.value(name).is_empty());
        let later = filled.filter_map(|(name, label, _)| {
            let newest = thing.facts.get(*name)?.last()?;
            (newest.from.as_str() > from).then(|| BoxProblem {
                field: name,
                text: format!(
                    "{label}: the book has a value since {}, which this would not change. Take that \
                     day or a later one, or correct no. {}.",
                    figures::day_text(&newest.from),
                    figures::number(newest.entry)
                ),
            })
        });
        later.collect()
    }

    fn refuse(&mut self, refusal: Refusal) -> Result<(), Problem> {
        let filled = self.filled.clone();
        let answered = |code: &str| filled.get(&format!("answer.{code}")).cloned();
        let asked = |question: Question| AskedQuestion {
            answered: answered(question.code).unwrap_or_default(),
            code: question.code,
            text: question.text,
            choices: question.choices,
        };
        if let Refusal::NeedsAnswer(questions) = refusal {
            self.questions = questions.into_iter().map(asked).collect();
            return Ok(());
        }
        let pointer = pointer_of(&refusal).to_string();
        let named = BOXES.iter().map(|(name, ..)| *name).find(|name| {
            let rest = pointer.strip_prefix("/body/facts/");
            rest.is_some_and(|rest| rest == *name || rest.starts_with(&format!("{name}/")))
        });
        let Some(mut problem) = box_problem(&refusal) else {
            return Err(refusal.into());
        };
        problem.field = named.unwrap_or("form");
        self.problems.push(problem);
        Ok(())
    }
}

/// What the book says of a fact now, in words.
fn known(thing: &ThingShown, name: &str, owners: &[(String, String)]) -> Option<String> {
    let newest = &thing.facts.get(name)?.last()?.is;
    if newest.is_object() {
        let grams = newest.get("g").and_then(Value::as_str);
        let steps = grams.and_then(|grams| Some(mass::Mass::from_grams_text(grams)?.steps()));
        let both = |steps: i128| format!("{} = {}", mass::lb_oz_text(steps), mass::kg_text(steps));
        return Some(steps.map_or("a range".to_string(), |steps| both(steps.into())));
    }
    let word = fact(thing, name).filter(|word| *word != "unknown")?;
    let owner = owners.iter().find(|(id, _)| id == word);
    Some(match name {
        "category" => words::plain(word),
        "installed" => figures::day_text(word),
        _ => owner.map_or(word.to_string(), |(_, tag)| tag.clone()),
    })
}

/// The day since which the book knows it: what was not known then is completed from there on.
fn first_day(thing: &ThingShown) -> String {
    let tag = thing.facts.get("tag").and_then(|tags| tags.first());
    tag.map_or(String::new(), |tag| tag.from.clone())
}

async fn read(visit: &Visit) -> Result<(CompletePage, ThingShown), Problem> {
    let (around, of) = (Around::of(visit)?, visit.by()?.signed_in.of.clone());
    let name = visit.asked.name("id").to_string();
    let read = visit.asked.read(move |state| {
        let (frame, ..) = around.read(state, Part::Appliances)?;
        let desk = &state.desk;
        let thing = desk.read(|db| things::one(db, &of, Sort::Appliance, &name))?;
        let owners = desk.read(|db| things::page(db, &of, Sort::Counterparty, "", MOST))?;
        let owners = owners.items.into_iter().map(|it| (it.id, it.tag)).collect();
        Ok((CompletePage::of(frame, &thing, owners), thing))
    });
    read.await
}

/// `GET /appliances/{id}/register`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let (mut shown, _) = read(&visit).await?;
    let milliseconds = u64::try_from(visit.asked.now / 1_000).unwrap_or_default();
    shown.entry_id = Id::at(milliseconds).to_string();
    Ok(page(StatusCode::OK, &shown))
}

/// `POST /appliances/{id}/register`.
pub async fn take(mut visit: Visit) -> Result<HttpResponse, Problem> {
    let pairs = std::mem::take(&mut visit.form);
    let (mut shown, thing) = read(&visit).await?;
    shown.filled = BTreeMap::new();
    let now = std::mem::take(&mut shown.version);
    for (name, value) in pairs {
        let own = BOXES.iter().any(|(known, ..)| *known == name) || OTHERS.contains(&&name[..]);
        match name.as_str() {
            "entry_id" => shown.entry_id = value,
            "version" => shown.version = value,
            name if own || name.starts_with("answer.") => {
                let value = value.trim().to_string();
                shown.filled.insert(name.to_string(), value);
            }
            _ => {}
        }
    }
    let Some(request) = shown.request(&thing.id) else {
        let (field, text) = (
            "form",
            "Nothing is filled in. Fill in what is known now.".to_string(),
        );
        shown.problems.push(BoxProblem { field, text });
        return Ok(page(StatusCode::UNPROCESSABLE_ENTITY, &shown));
    };
    shown.problems = shown.covered(&thing);
    if !shown.problems.is_empty() {
        return Ok(page(StatusCode::UNPROCESSABLE_ENTITY, &shown));
    }
    let by = visit.by()?.poster();
    let version = Some(vec![shown.version.clone()]);
    let desk = &visit.asked.state.desk;
    let posted = desk.change(&by, Sort::Appliance, thing.id.clone(), version, request);
    let posted = tokio::time::timeout(PATIENCE, posted).await;
    let posted = posted.map_err(|_| Problem::unavailable("no answer of the book in time"))?;
    let refusal = match posted {
        Ok(receipt) => return Ok(go_to(&format!("/entries/{}?posted=now", receipt.entry_id))),
        Err(ActionError::Refused(Refusal::StaleVersion { .. })) => {
            // The boxes say by now what the book says; whoever presses again has seen it.
            shown.version = now;
            let (field, text) = ("form", OVERTAKEN.to_string());
            shown.problems.push(BoxProblem { field, text });
            return Ok(page(StatusCode::PRECONDITION_FAILED, &shown));
        }
        Err(ActionError::Refused(refusal)) => refusal,
        Err(failed) => return Err(failed.into()),
    };
    let status = crate::http::problem::status_of(&refusal);
    let status = StatusCode::from_u16(status).unwrap_or(StatusCode::UNPROCESSABLE_ENTITY);
    shown.refuse(refusal)?;
    Ok(page(status, &shown))
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;
    use crate::ledger::actor::Role;

    fn shown(tag: &str) -> CompletePage {
        let standing = sample::standing(None, Vec::new());
        let thing = sample::overview(tag, "R-448A", standing).thing;
        let frame = sample::frame(Role::ComplianceManager, Part::Appliances);
        let owners = vec![("id".to_string(), tag.to_string())];
        CompletePage::of(frame, &thing, owners)
    }

    #[test]
    fn what_is_filled_in_is_a_dated_fact_and_what_is_not_is_left_out() {
        let mut page = shown("HG-RACK-A");
        page.entry_id = "id".to_string();
        assert_eq!(page.request("x"), None, "nothing is filled in");
        let filled = [
            ("from", "2019-05-20"),
            ("full_charge", "210 lb"),
            ("method", "maker_data"),
            ("serial", ""),
            ("answer.full_charge_unit", "as_stated"),
        ];
        page.filled = filled
            .map(|(name, is)| (name.to_string(), is.to_string()))
            .into();
        let expected = json!({"entry_id": "id", "kind": "appliance",
            "answers": {"full_charge_unit": "as_stated"},
            "body": {"subject": "appliance:x", "facts": {"full_charge": [{"from": "2019-05-20",
                "is": {"mass": "210 lb", "method": "maker_data"}}]}}});
        assert_eq!(page.request("x"), Some(expected));
    }

    #[test]
    fn hostile_names_come_back_as_text() {
        let hostile = sample::hostile();
        let mut page = shown(&hostile);
        page.filled.insert("serial".to_string(), hostile.clone());
        let (field, text) = ("serial", hostile);
        page.problems.push(BoxProblem { field, text });
        let html = page.render().unwrap();
        sample::is_clean(&html);
        assert!(html.contains("<title>Error: "), "{html}");
    }
}
