//! setting, method, rule_set: what judgements read, each from a day on.

use super::moves::named;
use super::post::{Intention, today};
use super::recover::word;
use super::refusal::{ActionError, Refusal};
use super::register::day;
use super::request::read as read_members;
use crate::ledger::entry::{Attachment, Body};
use crate::ledger::tree::{Hash, sha256};
use crate::store::StoreError;
use crate::store::columns::Sort;
use crate::store::tx::Tx;
use base64::Engine;
use reports::day::{Day, Zone};
use reports::rules::{RuleFile, RuleSet, Tables, check, check_overlay, run_examples};
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
pub fn rule_set(tx: &mut Tx<'_>, body: &Value) -> Result<Intention, ActionError> {
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
    let problems = unsound(tx, &file)?;
    if !problems.is_empty() {
        let (pointer, detail) = ("/body".to_string(), problems.join("\n"));
        return Err(Refusal::InvalidValue { pointer, detail }.into());
    }
    let (id, json) = match &file {
        RuleFile::Set(set) => (set.id.clone(), set.to_json()),
        RuleFile::Overlay(overlay) => (overlay.id.clone(), overlay.to_json()),
    };
    // Members sort themselves and no number occurs: what serde writes is canonical JSON.
    let bytes = json.to_string().into_bytes();
    let text = Attachment {
        bytes: bytes.len() as u64,
        sha256: Cow::Owned(base64::engine::general_purpose::STANDARD.encode(sha256(&bytes))),
    };
    let body = Body {
        from,
        rule_set: Some(Cow::Owned(id)),
        text: Some(text),
        ..Body::default()
    };
    Ok(Intention {
        body,
        attachments: vec![bytes],
        ..Intention::default()
    })
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

/// What stands against adopting a file: a set must pass its check and its own examples, a layer must
/// fit the set it lies over, which is adopted already.
fn unsound(tx: &mut Tx<'_>, file: &RuleFile) -> Result<Vec<String>, ActionError> {
    let tables = Tables::shipped();
    match file {
        RuleFile::Set(set) => {
            let problems = check(&set.id, set, &tables, today(tx, "UTC"));
            if !problems.is_empty() {
                return Ok(problems.iter().map(ToString::to_string).collect());
            }
            let outcome = run_examples(set, &tables);
            Ok(outcome
                .differences
                .iter()
                .map(ToString::to_string)
                .collect())
        }
        RuleFile::Overlay(layer) => Ok(match adopted_set(tx, &layer.overlays)? {
            Some(base) => check_overlay(layer, &base, &tables)
                .iter()
                .map(ToString::to_string)
                .collect(),
            None => vec![format!(
                "The layer {} lies over the set {}, which is not adopted. Adopt that one first.",
                layer.id, layer.overlays
            )],
        }),
    }
}

/// The version of a set that was adopted last.
fn adopted_set(tx: &mut Tx<'_>, id: &str) -> Result<Option<RuleSet>, ActionError> {
    let adopted = tx.adopted()?;
    let newest = adopted.rule_sets.iter().rfind(|set| set.id == id);
    let Some(newest) = newest.filter(|set| !set.sha256.is_empty()) else {
        return Ok(None);
    };
    let damaged = || StoreError::Broken(format!("the rule set of entry {} is damaged", newest.seq));
    let hash = base64::engine::general_purpose::STANDARD.decode(&newest.sha256);
    let hash: Hash = hash
        .ok()
        .and_then(|hash| hash.try_into().ok())
        .ok_or_else(damaged)?;
    let bytes = tx.attachment(&hash)?.ok_or_else(damaged)?;
    let text = String::from_utf8(bytes).map_err(|_| damaged())?;
    match RuleFile::from_json(id, &text) {
        Ok(RuleFile::Set(set)) => Ok(Some(*set)),
        _ => Ok(None),
    }
}
