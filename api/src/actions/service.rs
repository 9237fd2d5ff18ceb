//! The service record of an appliance: leaks, repairs, inspections, tests, and what is decided.
//!
//! Such an entry moves no refrigerant. What it says in clear are words of closed lists, decimals
//! and days, because rules read them; whatever a person types freely (places, work done, parts) is
//! a commitment. A step that seems out of order is asked about and never refused.

use super::moves::named;
use super::post::{Intention, uuid};
use super::refusal::{ActionError, Refusal};
use crate::ledger::entry::{Body, EntryKind};
use crate::store::columns::{PlaceNumber, Sort};
use crate::store::tx::Tx;
use reports::day::Day;
use reports::mass;
use reports::number::Decimal;
use serde_json::{Map, Value};
use std::borrow::Cow;
use std::collections::BTreeMap;

/// What a word of a service event may be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Allowed {
    /// One of these.
    List(&'static [&'static str]),
    /// A decimal of at least zero.
    Decimal,
    /// Any decimal: a temperature can be below zero.
    Number,
    /// A mass as people type it.
    Mass,
    /// A day.
    Day,
}

/// One word of a kind.
#[derive(Clone, Copy, Debug)]
pub struct Word {
    /// Its name, as rules name it.
    pub name: &'static str,
    /// What it may be.
    pub allowed: Allowed,
    /// Whether it must be said.
    pub required: bool,
}

pub(super) const fn word(name: &'static str, list: &'static [&'static str]) -> Word {
    of(name, Allowed::List(list))
}

pub(super) const fn of(name: &'static str, allowed: Allowed) -> Word {
    Word {
        name,
        allowed,
        required: false,
    }
}

pub(super) const fn need(name: &'static str, allowed: Allowed) -> Word {
    Word {
        required: true,
        ..of(name, allowed)
    }
}

pub(super) const fn must(name: &'static str, list: &'static [&'static str]) -> Word {
    Word {
        required: true,
        ..word(name, list)
    }
}

pub(super) const YES_NO: &[&str] = &["yes", "no"];
const METHODS: &[&str] = &[
    "soap_bubbles",
    "electronic",
    "ultraviolet_dye",
    "ultrasonic",
    "infrared",
    "standing_pressure",
    "vacuum",
    "other",
];
/// Grounds on which a date may move (the shipped rule sets name them).
pub const GROUNDS: &[&str] = &[
    "parts",
    "radiological",
    "other_law",
    "relief",
    "exempt_replacement",
    "more_than_a_year",
    "second_year",
    "no_technician",
    "no_parts",
    "shutdown",
    "process_shutdown",
    "longer_term",
    "other",
];
/// Reports and notices that rule sets ask for.
pub const NOTICES: &[&str] = &[
    "chronic_report",
    "purge_exclusion",
    "first_report",
    "full_report",
    "half_year_report",
    "danger_report",
    "yearly_report",
    "registration",
    "start",
    "end",
    "other",
];
const FOUND_BY: &[&str] = &["detector", "inspection", "technician", "owner", "other"];
const SHUTDOWN: Word = word("process_shutdown", YES_NO);
const METHOD: Word = word("method", METHODS);

/// The words of each kind; a kind that is not here has none.
pub const WORDS: &[(EntryKind, &[Word])] = &[
    (
        EntryKind::LeakFound,
        &[word("found_by", FOUND_BY), SHUTDOWN],
    ),
    (
        EntryKind::Repair,
        &[
            word("all_leaks", YES_NO),
            word("evacuated", YES_NO),
            SHUTDOWN,
        ],
    ),
    (
        EntryKind::Inspection,
        &[
            must("result", &["clean", "leak"]),
            word("of", &["unit", "detector", "container"]),
            word("type", &["simple", "expert"]),
            word("certified", YES_NO),
            METHOD,
            of("run_hours", Allowed::Decimal),
        ],
    ),
    (
        EntryKind::VerificationTest,
        &[
            must("stage", &["initial", "follow_up"]),
            must("result", &["passed", "failed"]),
            word("all_leaks", YES_NO),
            METHOD,
        ],
    ),
    (EntryKind::PressureTest, super::measured::PRESSURE_TEST),
    (EntryKind::VacuumTest, super::measured::VACUUM_TEST),
    (EntryKind::RunCheck, super::measured::RUN_CHECK),
    (EntryKind::Observation, super::observation::WORDS),
    (
        EntryKind::Extension,
        &[
            must("ground", GROUNDS),
            word("answer", &["granted", "refused"]),
            of("delivered_on", Allowed::Day),
            of("until", Allowed::Day),
        ],
    ),
    (
        EntryKind::Decision,
        &[
            word("choice", &["replace", "fresh_leak", "waive"]),
            SHUTDOWN,
            word("evacuated", YES_NO),
            word("ghg_reporter", YES_NO),
        ],
    ),
    (EntryKind::Notice, &[must("what", NOTICES)]),
    (EntryKind::Shutdown, &[SHUTDOWN]),
];

/// The words of a kind.
pub fn words(kind: EntryKind) -> &'static [Word] {
    let row = WORDS.iter().find(|(known, _)| *known == kind);
    row.map_or(&[], |(_, words)| words)
}

/// What may be typed freely beside the words; each text is a commitment.
pub const TEXTS: &[&str] = &["place", "work_done", "parts", "document"];

/// What may be typed freely of a kind.
fn texts(kind: EntryKind) -> Vec<&'static str> {
    let own: &[&str] = match kind {
        EntryKind::PressureTest => &["criterion", "criterion_source"],
        _ => &[],
    };
    TEXTS.iter().chain(own).copied().collect()
}

/// Reads a service event.
pub fn read(tx: &mut Tx<'_>, kind: EntryKind, body: &Value) -> Result<Intention, ActionError> {
    let Value::Object(members) = body else {
        return Err(Refusal::Malformed {
            pointer: "/body".to_string(),
            detail: "Expected an object with the members of this kind.".to_string(),
        }
        .into());
    };
    let known = words(kind);
    let about = match kind {
        EntryKind::Observation => Sort::Cylinder,
        _ => Sort::Appliance,
    };
    let place = thing(tx, members, about)?;
    let subject = tx.place(place)?.to_string();
    let mut said = BTreeMap::new();
    for one in known {
        if let Some(word) = read_word(members, one)? {
            said.insert(Cow::Borrowed(one.name), Cow::Owned(word));
        }
    }
    if kind == EntryKind::Inspection {
        // An inspection is one of the unit unless it says what else was looked at.
        said.entry(Cow::Borrowed("of"))
            .or_insert(Cow::Borrowed("unit"));
    }
    if kind == EntryKind::Decision && said.is_empty() {
        let detail = "Expected a `choice` (replace, fresh_leak, waive) or a fact such as \
                      `process_shutdown`, got neither. Say what was decided.";
        return Err(Refusal::Malformed {
            pointer: "/body".to_string(),
            detail: detail.to_string(),
        }
        .into());
    }
    let mut secrets = Vec::new();
    let texts = texts(kind);
    for name in &texts {
        let typed = text(members, name)?.filter(|typed| !typed.trim().is_empty());
        secrets.extend(typed.map(|typed| (name.to_string(), typed.to_string())));
    }
    known_only(members, known, about, &texts)?;
    let mut what = Intention {
        body: Body {
            leak: uuid(text(members, "leak")?, "/body/leak")?,
            subject: Some(Cow::Owned(subject)),
            ..Body::default()
        },
        secrets,
        serviced: Some(place),
        ..Intention::default()
    };
    match kind {
        EntryKind::Observation => super::observation::work_out(tx, place, &mut said, &mut what)?,
        kind => super::measured::work_out(tx, kind, place, &mut said, &mut what)?,
    }
    what.body.words = (!said.is_empty()).then_some(said);
    Ok(what)
}

/// Refuses members that the kind does not have.
fn known_only(
    members: &Map<String, Value>,
    known: &[Word],
    about: Sort,
    texts: &[&'static str],
) -> Result<(), ActionError> {
    let takes = |name: &str| {
        [about.word(), "leak"].contains(&name)
            || texts.contains(&name)
            || known.iter().any(|one| one.name == name)
    };
    let Some(name) = members.keys().find(|name| !takes(name)) else {
        return Ok(());
    };
    let mut allowed: Vec<&str> = known.iter().map(|one| one.name).collect();
    allowed.extend(texts);
    let (about, allowed) = (about.word(), allowed.join(", "));
    let expected = format!("one of {about}, leak, {allowed}");
    let remedy = "Leave it out, or spell it as the list does.";
    Err(Refusal::invalid(&format!("/body/{name}"), &expected, name, remedy).into())
}

/// The appliance, or of an observation the cylinder.
fn thing(
    tx: &mut Tx<'_>,
    members: &Map<String, Value>,
    sort: Sort,
) -> Result<PlaceNumber, ActionError> {
    let word = sort.word();
    let pointer = format!("/body/{word}");
    let name = text(members, word)?.ok_or_else(|| Refusal::Malformed {
        pointer: pointer.clone(),
        detail: format!("Expected the {word}, its tag or id. Name it."),
    })?;
    let name = name.strip_prefix(&format!("{word}:")).unwrap_or(name);
    named(tx, sort, name, &pointer)
}

fn text<'m>(members: &'m Map<String, Value>, name: &str) -> Result<Option<&'m str>, ActionError> {
    match members.get(name) {
        None | Some(Value::Null) => Ok(None),
        Some(Value::String(text)) => Ok(Some(text)),
        Some(other) => {
            let (pointer, came) = (format!("/body/{name}"), other.to_string());
            Err(Refusal::invalid(&pointer, "a text", &came, "Write it between quotes.").into())
        }
    }
}

fn read_word(members: &Map<String, Value>, one: &Word) -> Result<Option<String>, ActionError> {
    let pointer = format!("/body/{}", one.name);
    let expected = match one.allowed {
        Allowed::List(list) => format!("one of {}", list.join(", ")),
        Allowed::Decimal | Allowed::Number => "a decimal as text, such as 25.5".to_string(),
        Allowed::Mass => "a mass as text, such as 25 lb 8 oz".to_string(),
        Allowed::Day => "a day such as 2026-07-14".to_string(),
    };
    let Some(word) = text(members, one.name)? else {
        if one.required {
            let detail = format!("Expected {expected}, got nothing. Say it.");
            return Err(Refusal::Malformed { pointer, detail }.into());
        }
        return Ok(None);
    };
    let fits = match one.allowed {
        Allowed::List(list) => list.contains(&word),
        Allowed::Decimal => Decimal::parse(word).is_some_and(|number| number >= Decimal::from(0)),
        Allowed::Number => Decimal::parse(word).is_some(),
        Allowed::Mass => {
            matches!(mass::read_scale(word, None, None), mass::Reading::Mass(_))
        }
        Allowed::Day => Day::parse(word).is_some(),
    };
    if fits {
        return Ok(Some(word.to_string()));
    }
    Err(Refusal::invalid(&pointer, &expected, word, "Choose or write one of these.").into())
}
