//! correction: takes back what an entry said, and says it anew, in one entry.
//!
//! A correction names the newest entry of its chain and states the whole. What it takes back acts
//! at its own time; what it puts in place is judged on the book without the chain. The original
//! stays readable for ever.

mod chain;
mod settled;

use super::moves::Asked;
use super::post::{Intention, read_moving, uuid};
use super::recover::word;
use super::refusal::{ActionError, Refusal};
use super::request::{HappenedRequest, an_object, read as read_members};
use super::when::resolve;
use crate::ledger::actor::{Actor, Role};
use crate::ledger::entry::{Body, EntryKind, EntryRef, Happened, Leaf, Replacement};
use crate::ledger::id::Id;
use crate::store::StoreError;
use crate::store::columns::{PlaceNumber, Sort};
use crate::store::tx::Tx;
use chain::{chain, changes, lacking, reversals};
use serde::Deserialize;
use serde_json::Value;
use std::borrow::Cow;

/// Why something is corrected.
pub const REASONS: &[&str] = &[
    "misread",
    "wrong_unit",
    "wrong_appliance",
    "wrong_cylinder",
    "wrong_refrigerant",
    "wrong_day",
    "wrong_person",
    "duplicate",
    "did_not_happen",
    "other",
];

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Members {
    corrects: String,
    reason: String,
    #[serde(default, deserialize_with = "an_object")]
    replace: Option<ReplaceMembers>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ReplaceMembers {
    #[serde(default)]
    kind: Option<String>,
    #[serde(default, deserialize_with = "an_object")]
    happened: Option<HappenedRequest>,
    #[serde(default)]
    visit: Option<String>,
    #[serde(default)]
    did: Option<String>,
    body: Value,
}

/// The statement a correction takes back.
struct Standing {
    kind: EntryKind,
    happened: Happened<'static>,
    visit: Option<Id>,
    /// Who did the work, also where that is who booked it.
    did: Option<Id>,
    subject: Option<String>,
}

/// Reads a correction; `known`: a repeat, whose chain has moved on since.
pub fn read(
    tx: &mut Tx<'_>,
    actor: &Actor,
    body: &Value,
    asked: Asked<'_>,
    known: bool,
) -> Result<Intention, ActionError> {
    let members: Members = read_members(body, "/body")?;
    let reason = word(Some(&members.reason), REASONS, "/body/reason")?;
    let corrects = entry(tx, &members.corrects, "/body/corrects")?;
    if let Some(by) = tx.corrected_by(corrects.seq)?.filter(|_| !known) {
        return Err(Refusal::AlreadyCorrected { by }.into());
    }
    let standing = standing(tx, corrects.seq)?;
    own(tx, actor, corrects.seq)?;
    let (reverse, without) = reversals(tx, corrects.seq)?;
    let mut what = Intention::default();
    let replaced = match members.replace {
        Some(given) => {
            let mut new = replacement(tx, given, &standing, asked, known, &mut what)?;
            // As in the frame: absent where it is who books.
            new.did = new.did.filter(|did| Some(*did) != actor.person);
            let kind = EntryKind::named(&new.kind).unwrap_or(standing.kind);
            super::permit::may_state(actor, kind, &new.body)?;
            Some(new)
        }
        None => None,
    };
    if !known {
        uncovered_tag(
            tx,
            corrects.seq,
            &standing,
            replaced.as_ref(),
            &what.secrets,
        )?;
    }
    what.about = about(tx, corrects.seq)?;
    for moving in &what.moves {
        what.about.extend([moving.src, moving.dst]);
    }
    what.about.extend(what.serviced);
    what.without = without;
    what.chain = chain(tx, corrects.seq)?;
    let changes = changes(&what);
    lacking(tx, &changes, &mut what)?;
    if !known {
        settled::settled(tx, actor, &changes, &mut what)?;
        super::statement::rests(tx, actor, corrects.seq, &mut what)?;
    }
    what.body = Body {
        corrects: Some(corrects),
        reason: reason.map(Cow::Borrowed),
        replace: replaced.map(Box::new),
        reverse: (!reverse.is_empty()).then_some(reverse),
        ..Body::default()
    };
    Ok(what)
}

/// An earlier entry by its id.
pub fn entry(tx: &mut Tx<'_>, id: &str, pointer: &str) -> Result<EntryRef, ActionError> {
    let unknown = || Refusal::Unknown {
        pointer: pointer.to_string(),
        what: "entry".to_string(),
        name: id.to_string(),
    };
    let id = Id::parse(id).ok_or_else(unknown)?;
    let seq = tx.known(id)?.ok_or_else(unknown)?;
    Ok(EntryRef { id, seq })
}

/// Refuses everybody but a compliance manager the entries that somebody else booked.
pub fn own(tx: &mut Tx<'_>, actor: &Actor, seq: u64) -> Result<(), ActionError> {
    let bytes = leaf_bytes(tx, seq)?;
    let by = parsed(&bytes, seq)?.by;
    if actor.role == Role::ComplianceManager || (by == actor.person && by.is_some()) {
        return Ok(());
    }
    let detail =
        format!("Entry no. {seq} was booked by somebody else. Ask a compliance manager to do it.");
    Err(Refusal::Forbidden { detail }.into())
}

/// Taking facts back may uncover a tag that another thing carries by now.
fn uncovered_tag(
    tx: &mut Tx<'_>,
    corrects: u64,
    standing: &Standing,
    new: Option<&Replacement<'_>>,
    secrets: &[(String, String)],
) -> Result<(), ActionError> {
    let subject = standing.subject.as_deref().unwrap_or_default();
    let Some((word, id)) = subject.split_once(':') else {
        return Ok(());
    };
    let (Some(sort), Some(id)) = (Sort::named(word), Id::parse(id)) else {
        return Ok(());
    };
    let Some(place) = tx.by_id(id)? else {
        return Ok(());
    };
    let mut dossier = tx.dossier(place)?;
    let later = tx.next_seq();
    dossier.take_back(corrects, later);
    let same = new.filter(|new| new.body.subject.as_deref() == Some(subject));
    let facts = same.and_then(|new| new.body.facts.as_ref()?.get("tag"));
    for (at, fact) in facts.into_iter().flatten().enumerate() {
        let path = format!("replace.body.facts.tag.{at}");
        let tag = secrets.iter().find(|(known, _)| *known == path);
        if let Some((_, tag)) = tag {
            dossier.say("tag", fact.from, Value::from(tag.as_str()), later);
        }
    }
    match dossier.newest("tag").and_then(Value::as_str) {
        Some(tag) => super::register::free_tag(tx, sort, id, tag, "/body/corrects"),
        None => Ok(()),
    }
}

/// Appliances and cylinders an entry is about.
pub fn about(tx: &mut Tx<'_>, seq: u64) -> Result<Vec<PlaceNumber>, ActionError> {
    let bytes = leaf_bytes(tx, seq)?;
    let leaf = parsed(&bytes, seq)?;
    let mut about = Vec::new();
    for place in leaf.nth.iter().flat_map(|nth| nth.keys()) {
        about.extend(tx.place_number(*place)?);
    }
    Ok(about)
}

fn leaf_bytes(tx: &mut Tx<'_>, seq: u64) -> Result<Vec<u8>, StoreError> {
    let leaf = tx.leaf(seq)?;
    leaf.map(|(bytes, _)| bytes)
        .ok_or_else(|| StoreError::Broken(format!("entry {seq} has an id but no leaf")))
}

fn parsed(bytes: &[u8], seq: u64) -> Result<Leaf<'_>, StoreError> {
    Leaf::parse(bytes)
        .map_err(|error| StoreError::Broken(format!("entry {seq} is unreadable: {error}")))
}

/// What stands in the chain now: the entry itself, or the replacement of a correction. An annulled
/// chain stands with the kind and time it last had.
fn standing(tx: &mut Tx<'_>, seq: u64) -> Result<Standing, ActionError> {
    let bytes = leaf_bytes(tx, seq)?;
    let leaf = parsed(&bytes, seq)?;
    if leaf.kind == EntryKind::Correction.word() {
        let Some(new) = &leaf.body.replace else {
            let before = leaf.body.corrects.map_or(0, |corrects| corrects.seq);
            return standing(tx, before);
        };
        return Ok(Standing {
            kind: correctable(&new.kind, seq)?,
            happened: owned(&new.happened),
            visit: new.visit,
            did: new.did.or(leaf.by),
            subject: new.body.subject.as_deref().map(str::to_string),
        });
    }
    Ok(Standing {
        kind: correctable(&leaf.kind, seq)?,
        happened: owned(&leaf.happened),
        visit: leaf.visit,
        did: leaf.did.or(leaf.by),
        subject: leaf.body.subject.as_deref().map(str::to_string),
    })
}

fn owned(happened: &Happened<'_>) -> Happened<'static> {
    let text = |text: &Cow<'_, str>| Cow::Owned(text.to_string());
    Happened {
        day: happened.day,
        offset: happened.offset.as_ref().map(text),
        time: happened.time.as_ref().map(text),
        tzdb: text(&happened.tzdb),
        zone: text(&happened.zone),
    }
}

/// Facts and registers can be corrected; what the log itself rests on is only followed.
fn correctable(kind: &str, seq: u64) -> Result<EntryKind, ActionError> {
    match EntryKind::named(kind) {
        Some(known)
            if known.moves()
                || known.registers()
                || known.is_service()
                || known == EntryKind::Method =>
        {
            Ok(known)
        }
        _ => Err(Refusal::InvalidValue {
            pointer: "/body/corrects".to_string(),
            detail: format!(
                "Entry no. {seq} is of kind {kind}, which is never corrected, only followed by a \
                 new entry."
            ),
        }
        .into()),
    }
}

fn replacement(
    tx: &mut Tx<'_>,
    given: ReplaceMembers,
    standing: &Standing,
    asked: Asked<'_>,
    repeat: bool,
    what: &mut Intention,
) -> Result<Replacement<'static>, ActionError> {
    let kind = match &given.kind {
        None => standing.kind,
        Some(word) => EntryKind::named(word)
            .filter(|kind| kind.moves() == standing.kind.moves())
            .filter(|kind| kind.is_service() == standing.kind.is_service())
            .filter(|kind| kind.moves() || kind.is_service() || *kind == standing.kind)
            .ok_or_else(|| {
                let expected = format!("{} or a kind of the same sort", standing.kind.word());
                let remedy = "Leave it out, or annul this entry and post another.";
                Refusal::invalid("/body/replace/kind", &expected, word, remedy)
            })?,
    };
    let happened = match &given.happened {
        None => standing.happened.clone(),
        Some(asked_when) => {
            let answer = asked
                .answers
                .get("skipped_or_doubled_time")
                .map(String::as_str);
            let when = resolve(asked_when, &standing.happened.zone, answer)?;
            what.questions.extend(when.question);
            when.happened
        }
    };
    let mut inner = anew(tx, kind, &given.body, standing, asked, repeat)?;
    super::register::complete(&mut inner.body, &mut inner.secrets, happened.day)?;
    if !repeat {
        let today = super::post::today(tx, &happened.zone);
        super::register::not_to_come(&inner.body, today, "/body/replace/body")?;
    }
    let visit = uuid(given.visit.as_deref(), "/body/replace/visit")?.or(standing.visit);
    let did = match &given.did {
        None => standing.did,
        Some(name) => {
            let person = super::moves::named(tx, Sort::Person, name, "/body/replace/did")?;
            tx.subject(person)?.id
        }
    };
    let mut body = inner.body;
    if !inner.moves.is_empty() {
        body.movements = Some(
            inner
                .moves
                .iter()
                .map(|moving| moving.moved.clone())
                .collect(),
        );
    }
    let secrets = inner.secrets.into_iter();
    what.secrets
        .extend(secrets.map(|(path, text)| (format!("replace.body.{path}"), text)));
    what.questions.extend(inner.questions);
    what.findings.extend(inner.findings);
    what.presumed.extend(inner.presumed);
    what.moves = inner.moves;
    what.serviced = inner.serviced;
    what.quarantine = inner.quarantine;
    what.judged_as = Some((kind, happened.clone(), visit));
    Ok(Replacement {
        body,
        did,
        happened,
        kind: Cow::Borrowed(kind.word()),
        visit,
    })
}

/// Reads what stands instead, as its kind reads it.
fn anew(
    tx: &mut Tx<'_>,
    kind: EntryKind,
    body: &Value,
    standing: &Standing,
    asked: Asked<'_>,
    repeat: bool,
) -> Result<Intention, ActionError> {
    if kind == EntryKind::Count {
        return super::count::again();
    }
    if kind == EntryKind::Statement {
        return super::statement::again();
    }
    if kind.moves() {
        return read_moving(tx, kind, body, asked);
    }
    if kind.is_service() {
        return super::service::read(tx, kind, body);
    }
    if !kind.registers() {
        return super::adopt::method(tx, body);
    }
    let mut body = body.clone();
    if let (Value::Object(members), Some(subject)) = (&mut body, &standing.subject) {
        members
            .entry("subject")
            .or_insert_with(|| Value::String(subject.clone()));
    }
    super::register::read(tx, kind, &body, asked, Id::from_bits(0), repeat)
}
