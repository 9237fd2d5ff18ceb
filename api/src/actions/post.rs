//! The one door for facts.
//!
//! A request is read, its names and masses resolved, judged, and booked as one entry. The same id
//! with the same content is answered with the first booking and books nothing.

use super::answer::{Posted, replay};
use super::judge::{Case, Judged, judge};
use super::moves::{Asked, Moving};
use super::refusal::{ActionError, Question, Refusal, Stop};
use super::request::{EntryRequest, HappenedRequest};
use super::when::{When, resolve};
use super::{permit, refusal};
use crate::ledger::actor::{Actor, Role, Via};
use crate::ledger::entry::{Body, EntryKind, Happened};
use crate::ledger::id::Id;
use crate::store::apply::Draft;
use crate::store::columns::{PlaceNumber, Sort};
use crate::store::tx::Tx;
use reports::day::{Day, Zone};
use serde_json::Value;
use std::collections::BTreeMap;

/// What a kind's file makes of a request's body.
#[derive(Default)]
pub struct Intention {
    /// Members of the leaf's body, without what is committed.
    pub body: Body<'static>,
    /// Movements, resolved; their leaf form is put into the body when it is booked.
    pub moves: Vec<Moving>,
    /// Texts to commit to.
    pub secrets: Vec<(String, String)>,
    /// Questions from reading.
    pub questions: Vec<Question>,
    /// Findings from reading.
    pub findings: Vec<(&'static str, PlaceNumber)>,
    /// Answers presumed because nobody can be asked.
    pub presumed: BTreeMap<String, String>,
    /// Larger content.
    pub attachments: Vec<Vec<u8>>,
    /// Findings it settles.
    pub settles: Vec<(u64, String)>,
    /// Appliances and cylinders of the entries it names.
    pub about: Vec<PlaceNumber>,
    /// What a correction takes back, as changes of balances that undo it.
    pub without: Vec<(PlaceNumber, u16, i128)>,
    /// Entries of the corrected chain.
    pub chain: Vec<u64>,
    /// Kind, time and visit by which it is judged, where they are not the entry's own.
    pub judged_as: Option<(EntryKind, Happened<'static>, Option<Id>)>,
}

/// A posting, ready to be judged and booked.
pub struct Posting {
    /// Id made by the client.
    pub id: Id,
    /// Kind.
    pub kind: EntryKind,
    /// When.
    pub happened: Happened<'static>,
    /// A question about the time.
    pub time_question: Option<Question>,
    /// Who did the work.
    pub did: Option<Id>,
    /// The visit.
    pub visit: Option<Id>,
    /// Answers given.
    pub answers: BTreeMap<String, String>,
    /// Captured without signal.
    pub captured_offline: bool,
    /// What the kind makes of it.
    pub what: Intention,
}

/// Most characters a person may type into one member.
const LONGEST_TEXT: usize = 2_000;

/// Posts one entry: the request's JSON in, what was booked out.
pub fn post(tx: &mut Tx<'_>, actor: &Actor, request: &Value) -> Result<Posted, ActionError> {
    let request: EntryRequest = super::request::read(request, "")?;
    post_request(tx, actor, request)
}

/// Posts one entry whose outer shape is read already.
pub fn post_request(
    tx: &mut Tx<'_>,
    actor: &Actor,
    request: EntryRequest,
) -> Result<Posted, ActionError> {
    let id = entry_id(&request)?;
    let kind = EntryKind::named(&request.kind).ok_or_else(|| {
        let known: Vec<&str> = permit::POSTED.iter().map(|kind| kind.word()).collect();
        Refusal::invalid(
            "/kind",
            &format!("one of {}", known.join(", ")),
            &request.kind,
            "",
        )
    })?;
    permit::may_post(actor, kind)?;
    let asked = Asked {
        answers: &request.answers,
        silent: request.captured_offline,
    };
    let known = tx.known(id)?;
    let mut what = read_kind(tx, actor, kind, &request.body, asked, known.is_some())?;
    texts(&request, &mut what)?;
    let zone = zone_of(tx, &what)?;
    let when = when_of(tx, &request, &zone)?;
    let did = match &request.did {
        Some(name) => {
            let person = super::moves::named(tx, Sort::Person, name, "/did")?;
            tx.subject(person)?.id
        }
        None => None,
    };
    let posting = Posting {
        id,
        kind,
        happened: when.happened,
        time_question: when.question,
        did,
        visit: uuid(request.visit.as_deref(), "/visit")?,
        answers: request.answers,
        captured_offline: request.captured_offline,
        what,
    };
    let mut posting = posting;
    super::register::complete(&mut posting.what.body, kind, id, posting.happened.day);
    match known {
        Some(seq) => replay(tx, seq, &posting),
        None => book(tx, actor, posting),
    }
}

fn entry_id(request: &EntryRequest) -> Result<Id, ActionError> {
    let text = request.entry_id.as_deref().ok_or(Refusal::MissingId)?;
    Id::parse(text).ok_or_else(|| {
        Refusal::invalid(
            "/entry_id",
            "a UUID",
            text,
            "Make one, for example of version 7.",
        )
        .into()
    })
}

/// Reads an optional UUID.
pub fn uuid(text: Option<&str>, pointer: &str) -> Result<Option<Id>, ActionError> {
    let read = |text: &str| {
        Id::parse(text)
            .ok_or_else(|| Refusal::invalid(pointer, "a UUID", text, "Make one and keep it."))
    };
    Ok(text.map(read).transpose()?)
}

/// The kind's own file reads the body.
fn read_kind(
    tx: &mut Tx<'_>,
    actor: &Actor,
    kind: EntryKind,
    body: &Value,
    asked: Asked<'_>,
    known: bool,
) -> Result<Intention, ActionError> {
    match kind {
        EntryKind::Correction => super::correct::read(tx, actor, body, asked, known),
        EntryKind::Link => super::link::read(tx, body),
        EntryKind::Settle => super::settle::read(tx, body, known),
        EntryKind::Setting => super::adopt::setting(tx, body),
        EntryKind::Method => super::adopt::method(tx, body),
        EntryKind::RuleSet => super::adopt::rule_set(body),
        kind if kind.registers() => super::register::read(tx, kind, body, asked),
        kind => read_moving(tx, kind, body, asked),
    }
}

/// Reads the body of a kind that moves refrigerant.
pub fn read_moving(
    tx: &mut Tx<'_>,
    kind: EntryKind,
    body: &Value,
    asked: Asked<'_>,
) -> Result<Intention, ActionError> {
    match kind {
        EntryKind::Opening => super::opening::read(tx, body, asked),
        EntryKind::Purchase => super::purchase::read(tx, body, asked),
        EntryKind::Charge => super::charge::read(tx, body, asked),
        EntryKind::OutsideCharge => super::outside_charge::read(tx, body, asked),
        EntryKind::Recover => super::recover::read(tx, body, asked),
        EntryKind::Transfer => super::transfer::read(tx, body, asked),
        EntryKind::SendToReclaim | EntryKind::SendToDestruction | EntryKind::Return => {
            super::send::read(tx, body, asked)
        }
        EntryKind::Loss => super::loss::read(tx, body, asked),
        EntryKind::Redesignate => super::redesignate::read(tx, body, asked),
        other => Err(Refusal::invalid(
            "/kind",
            "a kind that moves refrigerant",
            other.word(),
            "See the list of kinds.",
        )
        .into()),
    }
}

/// Adds note and reason text, and checks what a person typed.
fn texts(request: &EntryRequest, what: &mut Intention) -> Result<(), ActionError> {
    for (name, text) in [
        ("note", &request.note),
        ("reason_text", &request.reason_text),
    ] {
        if let Some(text) = text
            .as_deref()
            .map(str::trim)
            .filter(|text| !text.is_empty())
        {
            what.secrets.push((name.to_string(), text.to_string()));
        }
    }
    for (path, text) in &mut what.secrets {
        *text = typed_text(text, path)?;
    }
    Ok(())
}

/// A typed text as it is kept: NFC, without blanks at its ends, without control characters.
pub fn typed_text(text: &str, pointer: &str) -> Result<String, ActionError> {
    use unicode_normalization::UnicodeNormalization;
    let text: String = text.trim().nfc().collect();
    let wrong = |expected: &str| {
        let pointer = format!("/{}", pointer.replace('.', "/"));
        Refusal::invalid(&pointer, expected, &text, "Shorten or retype it.")
    };
    if text.chars().count() > LONGEST_TEXT {
        return Err(wrong("at most 2000 characters").into());
    }
    if text.chars().any(|c| c.is_control() && c != '\n') {
        return Err(wrong("text without control characters").into());
    }
    Ok(text)
}

/// The zone that holds: the site's of the appliance, else the organisation's, else UTC.
fn zone_of(tx: &mut Tx<'_>, what: &Intention) -> Result<String, ActionError> {
    for moving in &what.moves {
        for place in [moving.dst, moving.src] {
            if place.sort() != Sort::Appliance {
                continue;
            }
            let subject = tx.subject(place)?;
            if let Some(zone) = &subject.brief.zone {
                return Ok(zone.clone());
            }
            let Some(site) = subject.brief.site else {
                continue;
            };
            let Some(site) = tx.by_id(site)? else {
                continue;
            };
            if let Some(zone) = &tx.subject(site)?.brief.zone {
                return Ok(zone.clone());
            }
        }
    }
    organisation_zone(tx)
}

/// The organisation's zone today.
pub fn organisation_zone(tx: &mut Tx<'_>) -> Result<String, ActionError> {
    let far = Day::from_count(i32::MAX / 2);
    Ok(tx
        .adopted()?
        .setting("zone", far)
        .unwrap_or("UTC")
        .to_string())
}

fn when_of(tx: &Tx<'_>, request: &EntryRequest, zone: &str) -> Result<When, ActionError> {
    let answer = request
        .answers
        .get("skipped_or_doubled_time")
        .map(String::as_str);
    if let Some(happened) = &request.happened {
        return resolve(happened, zone, answer);
    }
    // What is not said to have happened on another day happens now.
    let asked = HappenedRequest {
        day: Some(today(tx, zone).to_string()),
        ..HappenedRequest::default()
    };
    resolve(&asked, zone, answer)
}

/// The local day of this batch in a zone.
pub fn today(tx: &Tx<'_>, zone: &str) -> Day {
    let now = jiff::Timestamp::from_microsecond(tx.now).unwrap_or(jiff::Timestamp::UNIX_EPOCH);
    Zone::named(zone)
        .or_else(|| Zone::named("UTC"))
        .map_or(Day::from_count(0), |z| z.day(now))
}

/// Judges a posting and books it.
pub fn book(tx: &mut Tx<'_>, actor: &Actor, posting: Posting) -> Result<Posted, ActionError> {
    let imported = actor.via == Via::Import;
    let judged = judged(tx, &posting, imported)?;
    let late = judged.late && !imported;
    let decided = decide(&posting, judged, actor, imported)?;
    let Posting {
        id,
        kind,
        happened,
        did,
        visit,
        mut answers,
        captured_offline,
        what,
        ..
    } = posting;
    let mut draft = Draft::new(id, kind, happened, what.body);
    if !what.moves.is_empty() && kind != EntryKind::Correction {
        draft.body.movements = Some(what.moves.into_iter().map(|moving| moving.moved).collect());
    }
    answers.extend(what.presumed);
    draft.did = did;
    draft.visit = visit;
    draft.secrets = what.secrets;
    draft.answers = answers;
    draft.captured_offline = captured_offline;
    draft.late = late;
    draft.attachments = what.attachments;
    draft.findings = decided.findings;
    draft.quarantine = decided.quarantine;
    draft.settles = what.settles;
    draft.about = what.about;
    let findings = draft.findings.clone();
    let booked = tx.book(actor, draft)?;
    Ok(Posted::new(id, booked, &findings))
}

fn judged(tx: &mut Tx<'_>, posting: &Posting, imported: bool) -> Result<Judged, ActionError> {
    let what = &posting.what;
    let (kind, happened, visit) = match &what.judged_as {
        Some((kind, happened, visit)) => (*kind, happened, *visit),
        None => (posting.kind, &posting.happened, posting.visit),
    };
    let today = if imported {
        happened.day
    } else {
        today(tx, &happened.zone)
    };
    let late_days = tx
        .adopted()?
        .setting("late_days", today)
        .and_then(|days| days.parse().ok());
    let case = Case {
        kind,
        day: happened.day,
        second: happened
            .time
            .as_deref()
            .and_then(crate::store::apply::second_of_day),
        visit,
        moves: &what.moves,
        leak: what.body.leak,
        reason: what.body.reason.as_deref(),
        imported,
        today,
        late_days: late_days.unwrap_or(7),
        without: &what.without,
        chain: &what.chain,
    };
    Ok(judge(tx, &case)?)
}

struct Decided {
    findings: Vec<(String, PlaceNumber, &'static str)>,
    quarantine: Vec<PlaceNumber>,
}

/// Turns stops and questions into findings where the fact has happened or was answered; into a
/// refusal otherwise.
fn decide(
    posting: &Posting,
    judged: Judged,
    actor: &Actor,
    imported: bool,
) -> Result<Decided, ActionError> {
    let happened = imported || posting.captured_offline;
    let mut decided = Decided {
        findings: Vec::new(),
        quarantine: Vec::new(),
    };
    let mut open: Vec<Stop> = Vec::new();
    for (stop, place) in judged.stops {
        match posting.answers.get(stop.word).map(String::as_str) {
            _ if happened => {}
            Some("already_happened") => {}
            Some("lifted") => {
                lift(&stop, posting, actor)?;
                decided
                    .findings
                    .push((stop.word.to_string(), place, "normal"));
                continue;
            }
            _ => {
                open.push(stop);
                continue;
            }
        }
        if super::judge::quarantines(stop.word, place, imported) {
            decided.quarantine.push(place);
        }
        decided
            .findings
            .push((stop.word.to_string(), place, "high"));
    }
    if !open.is_empty() {
        return Err(Refusal::HardStop(open).into());
    }
    let mut unanswered = Vec::new();
    // Questions of reading and of the clock are settled by their answer; the others leave a finding.
    let read = posting.what.questions.iter().cloned();
    for question in read.chain(posting.time_question.clone()) {
        if answered(&question, posting)? || happened {
            continue;
        }
        unanswered.push(question);
    }
    for (question, place) in judged.questions {
        if answered(&question, posting)? || happened {
            decided
                .findings
                .push((question.code.to_string(), place, "normal"));
        } else {
            unanswered.push(question);
        }
    }
    if !unanswered.is_empty() {
        return Err(Refusal::NeedsAnswer(unanswered).into());
    }
    let read = posting.what.findings.iter().chain(&judged.findings);
    decided
        .findings
        .extend(read.map(|(code, place)| ((*code).to_string(), *place, "normal")));
    decided.findings.sort();
    decided.findings.dedup();
    Ok(decided)
}

fn lift(stop: &Stop, posting: &Posting, actor: &Actor) -> Result<(), ActionError> {
    let has_reason = posting
        .what
        .secrets
        .iter()
        .any(|(path, _)| path == "reason_text");
    if !stop.may_lift || actor.role != Role::ComplianceManager {
        let who = if stop.may_lift {
            "only a compliance manager lifts it"
        } else {
            "nobody lifts it"
        };
        let detail = format!("The stop {} stays: {who}. {}", stop.word, stop.text);
        return Err(Refusal::Forbidden { detail }.into());
    }
    if !has_reason {
        return Err(Refusal::Malformed {
            pointer: "/reason_text".to_string(),
            detail: "Expected the written reason for lifting the stop, got none. Add reason_text."
                .to_string(),
        }
        .into());
    }
    Ok(())
}

/// Was the question answered with one of its choices?
fn answered(question: &Question, posting: &Posting) -> Result<bool, ActionError> {
    let Some(answer) = posting.answers.get(question.code) else {
        return Ok(false);
    };
    let choices: Vec<&str> = question
        .choices
        .iter()
        .map(|choice| choice.choice)
        .collect();
    if choices.contains(&answer.as_str()) {
        return Ok(true);
    }
    let pointer = format!("/answers/{}", question.code);
    let expected = format!("one of {}", choices.join(", "));
    Err(refusal::Refusal::invalid(&pointer, &expected, answer, "Choose one.").into())
}

impl Intention {
    /// What a kind that moves refrigerant makes of its body and movements.
    pub fn moving(body: Body<'static>, moves: super::moves::Moves) -> Intention {
        Intention {
            body,
            moves: moves.list,
            secrets: moves.secrets,
            questions: moves.questions,
            findings: moves.findings,
            presumed: moves.presumed,
            ..Intention::default()
        }
    }
}
