//! Registering and changing appliances, cylinders, sites, counterparties, persons and scales.
//!
//! Every field is a dated fact. *Changed on a day* is a new entry; *wrong from the start* is a
//! correction of the entry that said it. What a person typed is committed; words of closed lists,
//! masses, days and references stand in clear.

mod slips;
mod values;

use super::moves::{Asked, Moves};
use super::post::Intention;
use super::refusal::{ActionError, Refusal};
use super::request::read as read_members;
use crate::ledger::entry::{Body, EntryKind, Fact};
use crate::ledger::id::Id;
use crate::store::columns::{PlaceNumber, Sort};
use crate::store::dossier::{FactType, fact_type};
use crate::store::tx::Tx;
use reports::day::Day;
use serde::Deserialize;
use serde_json::Value;
use std::borrow::Cow;
use std::collections::BTreeMap;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Members {
    #[serde(default)]
    subject: Option<String>,
    facts: BTreeMap<String, Value>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Dated {
    #[serde(default)]
    from: Option<String>,
    is: Value,
}

/// Reads a register entry. A subject that is a new UUID, or none, registers a new thing; the id
/// of the latter follows from `entry`. `repeat`: the entry is booked already.
pub fn read(
    tx: &mut Tx<'_>,
    kind: EntryKind,
    body: &Value,
    asked: Asked<'_>,
    entry: Id,
    repeat: bool,
) -> Result<Intention, ActionError> {
    let members: Members = read_members(body, "/body")?;
    let sort = Sort::named(kind.word()).unwrap_or(Sort::World);
    let (id, known) = subject(tx, sort, members.subject.as_deref(), entry)?;
    let mut moves = Moves::default();
    let mut facts: BTreeMap<Cow<'static, str>, Vec<Fact>> = BTreeMap::new();
    let mut secrets = Vec::new();
    for (name, value) in &members.facts {
        let pointer = format!("/body/facts/{name}");
        let Some(sorted) = fact_type(name) else {
            return Err(unknown_fact(pointer, name).into());
        };
        let mut series = Vec::new();
        for dated in dated(value, &pointer)? {
            let from = dated
                .from
                .as_deref()
                .map(|text| day(text, &pointer))
                .transpose()?;
            let mut reader = values::Reader {
                tx,
                asked,
                moves: &mut moves,
                sort,
                id,
                repeat,
            };
            let is = reader.value(name, sorted, &dated.is, &pointer)?;
            series.push((from, is));
        }
        // A fact that says no day holds from the day the entry happened; it sorts first.
        series.sort_by_key(|(from, _)| *from);
        let list = facts.entry(Cow::Owned(name.clone())).or_default();
        for (at, (from, is)) in series.into_iter().enumerate() {
            let from = from.unwrap_or(STATED);
            match (sorted, is) {
                (FactType::Text, is) => {
                    let text = is.as_str().unwrap_or_default().to_string();
                    secrets.push((format!("facts.{name}.{at}"), text));
                    list.push(Fact { from, is: None });
                }
                (_, is) => list.push(Fact { from, is: Some(is) }),
            }
        }
    }
    if !known && !facts.contains_key("tag") {
        return Err(Refusal::Malformed {
            pointer: "/body/facts".to_string(),
            detail: format!(
                "Expected a tag for the new {}, got none. Add facts.tag.",
                sort.word()
            ),
        }
        .into());
    }
    if facts.is_empty() {
        return Err(without_facts().into());
    }
    if !repeat {
        moves
            .questions
            .extend(slips::asked_about(tx, (sort, id), &facts, &secrets)?);
    }
    let subject = Some(Cow::Owned(format!("{}:{id}", sort.word())));
    Ok(Intention {
        body: Body {
            facts: Some(facts),
            subject,
            ..Body::default()
        },
        secrets,
        questions: moves.questions,
        presumed: moves.presumed,
        findings: moves.findings,
        ..Intention::default()
    })
}

fn unknown_fact(pointer: String, name: &str) -> Refusal {
    let known = crate::store::dossier::FACTS.iter().map(|(name, _)| *name);
    Refusal::UnknownField {
        pointer,
        name: name.to_string(),
        known: known.collect::<Vec<_>>().join(", "),
    }
}

fn without_facts() -> Refusal {
    let detail = "Expected at least one fact, got none. Say what is to be recorded.".to_string();
    let pointer = "/body/facts".to_string();
    Refusal::Malformed { pointer, detail }
}

/// Most characters of a tag: one that a label could not show is none, and an index has limits.
const LONGEST_TAG: usize = 200;

/// Stands for "from the day the entry happened" until that day is known.
pub const STATED: Day = Day::from_count(i32::MIN / 2);

/// Fills in what only the posting knows, the day, and brings each series into its order; the paths
/// of what is committed follow.
pub fn complete(
    body: &mut Body<'static>,
    secrets: &mut [(String, String)],
    happened: Day,
) -> Result<(), ActionError> {
    for (name, series) in body.facts.iter_mut().flatten() {
        let mut ordered: Vec<(usize, Fact)> = series.drain(..).enumerate().collect();
        for (_, fact) in &mut ordered {
            if fact.from == STATED {
                fact.from = happened;
            }
        }
        ordered.sort_by_key(|(_, fact)| fact.from);
        if let Some([(_, twice), _]) = ordered.array_windows().find(|[a, b]| a.1.from == b.1.from) {
            let came = format!("two from {}", twice.from);
            let pointer = format!("/body/facts/{name}");
            let expected = "one value from each day";
            return Err(
                Refusal::invalid(&pointer, expected, &came, "Leave one of them out.").into(),
            );
        }
        let path = |at: usize| format!("facts.{name}.{at}");
        let moved: Vec<(String, String)> = (ordered.iter().enumerate())
            .map(|(now, (before, _))| (path(*before), path(now)))
            .collect();
        for (field, _) in secrets.iter_mut() {
            if let Some((_, now)) = moved.iter().find(|(before, _)| before == field) {
                field.clone_from(now);
            }
        }
        series.extend(ordered.into_iter().map(|(_, fact)| fact));
    }
    Ok(())
}

/// What somebody saw or did cannot have its day still to come.
pub fn not_to_come(body: &Body<'_>, today: Day, pointer: &str) -> Result<(), ActionError> {
    for name in ["held_by", "check_weight"] {
        let series = body.facts.as_ref().and_then(|facts| facts.get(name));
        if let Some(fact) = series.into_iter().flatten().find(|it| it.from > today) {
            let pointer = format!("{pointer}/facts/{name}");
            let remedy = format!("Say it when it has happened; today is {today} there.");
            let (expected, came) = ("a day that is over or today", fact.from.to_string());
            return Err(Refusal::invalid(&pointer, expected, &came, &remedy).into());
        }
    }
    Ok(())
}

/// The id of a thing that is registered without one: 128 bits that follow from the entry's id, so
/// that the same request sent twice means the same thing.
pub fn derived(entry: Id) -> Id {
    let hash =
        crate::ledger::tree::sha256(&[b"tarebook/subject/v1\n", &entry.bytes()[..]].concat());
    let bits = u128::from_be_bytes(hash[..16].try_into().unwrap_or_default());
    // Version 8 (made by the application), variant 1: RFC 9562, sections 5.8 and 4.1.
    let cleared = bits & !(0xf << 76) & !(0x3 << 62);
    Id::from_bits(cleared | 0x8 << 76 | 0x2 << 62)
}

/// The subject's id, and whether it is registered already.
fn subject(
    tx: &mut Tx<'_>,
    sort: Sort,
    name: Option<&str>,
    entry: Id,
) -> Result<(Id, bool), ActionError> {
    let Some(name) = name else {
        let id = derived(entry);
        return Ok((id, tx.by_id(id)?.is_some()));
    };
    let name = name
        .strip_prefix(&format!("{}:", sort.word()))
        .unwrap_or(name);
    let found = tx.find(sort, name)?;
    if let Some(place) = found
        && let Some(id) = tx.subject(place)?.id
    {
        return Ok((id, true));
    }
    if let Some(id) = Id::parse(name)
        && tx.by_id(id)?.is_none()
    {
        return Ok((id, false));
    }
    let (pointer, what) = ("/body/subject".to_string(), sort.word().to_string());
    Err(Refusal::Unknown {
        pointer,
        what,
        name: name.to_string(),
    }
    .into())
}

fn dated(value: &Value, pointer: &str) -> Result<Vec<Dated>, ActionError> {
    if let Value::Array(list) = value {
        if list.is_empty() {
            let detail = "Expected at least one dated value, got an empty list.".to_string();
            return Err(Refusal::Malformed {
                pointer: pointer.to_string(),
                detail,
            }
            .into());
        }
        return list
            .iter()
            .map(|item| read_members(item, pointer))
            .collect();
    }
    if value.get("is").is_some() {
        return Ok(vec![read_members(value, pointer)?]);
    }
    Ok(vec![Dated {
        from: None,
        is: value.clone(),
    }])
}

/// Reads a day.
pub fn day(text: &str, pointer: &str) -> Result<Day, ActionError> {
    Day::parse(text).ok_or_else(|| {
        Refusal::invalid(
            pointer,
            "a day written YYYY-MM-DD",
            text,
            "Write for example 2024-03-12.",
        )
        .into()
    })
}

/// May this tag be given to this thing?
pub fn free_tag(
    tx: &mut Tx<'_>,
    sort: Sort,
    id: Id,
    tag: &str,
    pointer: &str,
) -> Result<(), ActionError> {
    let long = tag.chars().count() > LONGEST_TAG;
    let unseen = tag.chars().any(super::post::is_unseen);
    if Id::parse(tag).is_some() || tag.contains(':') || tag.is_empty() || long || unseen {
        let remedy = "Choose a tag as people say it, for example HG-RACK-A.";
        let expected =
            "a tag of at most 200 characters, all visible, that is no UUID and has no colon";
        return Err(Refusal::invalid(pointer, expected, tag, remedy).into());
    }
    let holder: Option<PlaceNumber> = tx.find(sort, tag)?;
    let Some(holder) = holder else { return Ok(()) };
    let same = tx.subject(holder)?.id.is_some_and(|holder| holder == id);
    if same {
        return Ok(());
    }
    let expected = format!("a tag no other {} carries", sort.word());
    Err(Refusal::invalid(pointer, &expected, tag, "Tags are unique; choose another.").into())
}
