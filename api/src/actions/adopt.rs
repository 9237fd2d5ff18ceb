//! setting, method, rule_set: what judgements read, each from a day on.

use super::candidate::Candidate;
use super::moves::named;
use super::post::{Intention, organisation_zone, today};
use super::recover::word;
use super::refusal::{ActionError, Refusal};
use super::register::day;
use super::request::read as read_members;
use crate::ledger::entry::{Attachment, Body};
use crate::store::columns::Sort;
use crate::store::tx::Tx;
use reports::day::{Day, Zone};
use reports::rules::RuleFile;
use serde::Deserialize;
use serde_json::Value;
use std::borrow::Cow;

const ZONE_NAME: &str = "Write it as the time-zone database spells it.";

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SettingMembers {
    name: String,
    value: String,
    #[serde(default)]
    from: Option<String>,
}

/// Reads a setting: `zone`, `late_days`, `netting`.
pub fn setting(_: &mut Tx<'_>, body: &Value) -> Result<Intention, ActionError> {
    let members: SettingMembers = read_members(body, "/body")?;
    let value = members.value.as_str();
    let pointer = "/body/value";
    let number = |least: u32, most: u32| {
        let read = value
            .parse::<u32>()
            .ok()
            .filter(|n| (least..=most).contains(n));
        let expected = format!("a whole number from {least} to {most}");
        read.map(|_| ())
            .ok_or_else(|| Refusal::invalid(pointer, &expected, value, "Choose a number."))
    };
    match members.name.as_str() {
        "zone" => {
            let expected = "an IANA time zone such as America/Denver";
            Zone::named(value)
                .ok_or_else(|| Refusal::invalid(pointer, expected, value, ZONE_NAME))?;
        }
        "late_days" => number(1, 365)?,
        "netting" => {
            word(Some(value), &["visit", "gross", "returned"], pointer)?;
        }
        other => {
            let expected = "one of zone, late_days, netting";
            return Err(Refusal::invalid("/body/name", expected, other, "Choose one.").into());
        }
    }
    let from = members
        .from
        .as_deref()
        .map(|text| day(text, "/body/from"))
        .transpose()?;
    Ok(Intention {
        body: Body {
            from,
            name: Some(Cow::Owned(members.name.clone())),
            value: Some(Cow::Owned(value.to_string())),
            ..Body::default()
        },
        ..Intention::default()
    })
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct MethodMembers {
    #[serde(default)]
    site: Option<String>,
    method: String,
    #[serde(default)]
    from: Option<String>,
}

/// Reads a facility's leak-rate method; without a site it holds for all that have none.
pub fn method(tx: &mut Tx<'_>, body: &Value) -> Result<Intention, ActionError> {
    let members: MethodMembers = read_members(body, "/body")?;
    let method = word(
        Some(&members.method),
        &["annualising", "rolling"],
        "/body/method",
    )?;
    let site = match &members.site {
        None => None,
        Some(name) => {
            let site = named(tx, Sort::Site, name, "/body/site")?;
            tx.subject(site)?.id
        }
    };
    let from = members
        .from
        .as_deref()
        .map(|text| day(text, "/body/from"))
        .transpose()?;
    let body = Body {
        from,
        method: method.map(Cow::Borrowed),
        site,
        ..Body::default()
    };
    Ok(Intention {
        body,
        ..Intention::default()
    })
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RuleSetMembers {
    #[serde(default)]
    toml: Option<String>,
    #[serde(default)]
    set: Option<Value>,
    #[serde(default)]
    ends: Option<String>,
    #[serde(default)]
    from: Option<String>,
}

/// Reads the adoption of a rule set or overlay (`toml` or `set`), or its end (`ends`: its id).
/// `known`: it is booked already, and was sound then.
pub fn rule_set(tx: &mut Tx<'_>, body: &Value, known: bool) -> Result<Intention, ActionError> {
    let members: RuleSetMembers = read_members(body, "/body")?;
    let from = members
        .from
        .as_deref()
        .map(|text| day(text, "/body/from"))
        .transpose()?;
    let read = match (&members.toml, &members.set, members.ends) {
        (Some(text), None, None) => RuleFile::from_toml("rule set", text),
        (None, Some(set), None) => RuleFile::from_json("rule set", &set.to_string()),
        (None, None, Some(id)) => return ending(tx, id, from),
        _ => {
            let detail = "Expected one of toml (the file's text), set (the same as JSON) or ends.";
            let (pointer, detail) = ("/body".to_string(), detail.to_string());
            return Err(Refusal::Malformed { pointer, detail }.into());
        }
    };
    let wrong = |problems: Vec<reports::rules::Problem>| Refusal::InvalidValue {
        pointer: "/body".to_string(),
        detail: problems
            .iter()
            .map(ToString::to_string)
            .collect::<Vec<_>>()
            .join("\n"),
    };
    let file = read.map_err(wrong)?;
    let since = from.unwrap_or_else(|| today(tx, "UTC"));
    let mut candidate = Candidate::new(file, since, tx.next_seq());
    candidate.text = members.toml;
    if !known {
        let (adopted, on) = (tx.adopted()?, today(tx, "UTC"));
        let problems = candidate.unsound(&adopted, on, &mut |hash| tx.attachment(hash))?;
        if !problems.is_empty() {
            let (pointer, detail) = ("/body".to_string(), problems.join("\n"));
            return Err(Refusal::InvalidValue { pointer, detail }.into());
        }
    }
    let text = Attachment {
        bytes: candidate.bytes.len() as u64,
        sha256: Cow::Owned(candidate.entry.sha256),
    };
    let body = Body {
        from,
        rule_set: Some(Cow::Owned(candidate.entry.id)),
        text: Some(text),
        ..Body::default()
    };
    Ok(Intention {
        body,
        attachments: vec![candidate.bytes],
        ..Intention::default()
    })
}

/// Refuses an adoption from a day in the past without a reason, where something was judged since.
pub fn reasoned(tx: &mut Tx<'_>, what: &Intention) -> Result<(), ActionError> {
    let zone = organisation_zone(tx)?;
    let today = today(tx, &zone);
    let Some(from) = what.body.from.filter(|from| *from < today) else {
        return Ok(());
    };
    let said = what
        .secrets
        .iter()
        .any(|(name, _)| matches!(name.as_str(), "note" | "reason_text"));
    if said || !tx.has_events(from, today)? {
        return Ok(());
    }
    let expected = format!(
        "why the rules change from {from} on, a day in the past: what was judged since is worked \
         out again"
    );
    let remedy = "Say the ordinance, the notice or what was wrong; it is booked with the adoption.";
    Err(Refusal::invalid("/note", &expected, "", remedy).into())
}

/// The end of an adopted rule set.
fn ending(tx: &mut Tx<'_>, id: String, from: Option<Day>) -> Result<Intention, ActionError> {
    let adopted = tx.adopted()?;
    if !adopted.rule_sets.iter().any(|set| set.id == id) {
        let known: Vec<&str> = adopted.rule_sets.iter().map(|set| &*set.id).collect();
        let expected = match known.is_empty() {
            true => "the id of an adopted rule set; none is adopted".to_string(),
            false => format!("the id of an adopted rule set ({})", known.join(", ")),
        };
        let remedy = "Name the one that ends.";
        return Err(Refusal::invalid("/body/ends", &expected, &id, remedy).into());
    }
    let body = Body {
        from,
        rule_set: Some(Cow::Owned(id)),
        ..Body::default()
    };
    Ok(Intention {
        body,
        ..Intention::default()
    })
}
