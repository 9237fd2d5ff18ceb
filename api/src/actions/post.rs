//! The one door for facts.
//!
//! A request is read, its names and masses resolved, judged, and booked as one entry. The same id
//! with the same content is answered with the first booking and books nothing.

mod texts;
mod times;
mod told;

use super::answer::Posted;
use super::decide::{answered_before, closed, decide, keep};
use super::judge::{Case, Judged, judge};
use super::moves::{Asked, Moving};
use super::permit;
use super::refusal::{ActionError, Question, Refusal};
use super::request::EntryRequest;
use crate::ledger::actor::{Actor, Role, Via};
use crate::ledger::entry::{Body, EntryKind, Happened, Leaf};
use crate::ledger::id::Id;
use crate::store::StoreError;
use crate::store::apply::{Draft, class_stated};
use crate::store::columns::{PlaceNumber, Sort};
use crate::store::tx::Tx;
use serde_json::Value;
use std::collections::BTreeMap;
use texts::texts;
use times::{ask_about_the_clock, presume_time, when_of, zone_of};
use told::{days_about, repeated, tell_standings};

pub use texts::{is_unseen, turns_writing, typed_text};
pub use times::{organisation_zone, today};

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
    /// Cylinders it puts under quarantine.
    pub quarantine: Vec<PlaceNumber>,
    /// Findings it settles.
    pub settles: Vec<(u64, String)>,
    /// Appliances and cylinders of the entries it names.
    pub about: Vec<PlaceNumber>,
    /// The appliance that a service event is about.
    pub serviced: Option<PlaceNumber>,
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

/// Posts one entry: the request's JSON in, what was booked out.
pub fn post(tx: &mut Tx<'_>, actor: &Actor, request: &Value) -> Result<Posted, ActionError> {
    let request: EntryRequest = super::request::read(request, "")?;
    post_request(tx, actor, request)
}

/// Refuses what has not the shape of an entry, before anything of the book is looked at.
pub fn shaped(request: &Value) -> Result<(), ActionError> {
    let request: EntryRequest = super::request::read(request, "")?;
    entry_id(&request)?;
    kind_of(&request).map(|_| ())
}

/// A technician registers what stands on no list; what stands there is changed by the office, because
/// limits, owners and duties follow from it.
fn not_in_the_register(tx: &mut Tx<'_>, what: &Intention, repeat: bool) -> Result<(), ActionError> {
    let subject = what.body.subject.as_deref().unwrap_or_default();
    let id = subject.split_once(':').map_or("", |(_, id)| id);
    if repeat || tx.find(Sort::Appliance, id)?.is_none() {
        return Ok(());
    }
    let detail = "It is in the register already, and what stands there is changed by a compliance \
                  manager. Write what you found into the note of your next entry about it.";
    Err(Refusal::Forbidden {
        detail: detail.to_string(),
    }
    .into())
}

/// Posts one entry whose outer shape is read already.
pub fn post_request(
    tx: &mut Tx<'_>,
    actor: &Actor,
    request: EntryRequest,
) -> Result<Posted, ActionError> {
    let id = entry_id(&request)?;
    let kind = kind_of(&request)?;
    permit::may_post(actor, kind)?;
    closed(&request.answers)?;
    let known = tx.known(id)?;
    let mut answers = request.answers.clone();
    if let Some(seq) = known {
        first_answers(tx, seq, &mut answers)?;
    }
    let asked = Asked {
        answers: &answers,
        silent: request.captured_offline,
    };
    let repeat = known.is_some();
    let mut what = match kind {
        kind if kind.registers() => {
            super::register::read(tx, kind, &request.body, asked, id, repeat)?
        }
        kind => read_kind(tx, actor, kind, &request.body, asked, known)?,
    };
    permit::may_state(actor, kind, &what.body)?;
    if kind == EntryKind::Appliance && actor.role == Role::Technician {
        not_in_the_register(tx, &what, repeat)?;
        // It stands at once; the office completes it. The store knows the number of a new thing.
        what.findings
            .push(("registered_on_site", PlaceNumber::OTHER));
    }
    texts(&request, &mut what)?;
    if kind == EntryKind::RuleSet && !repeat {
        super::adopt::reasoned(tx, &what)?;
    }
    let zone = zone_of(tx, &what)?;
    let mut when = when_of(tx, &request, &zone, &answers)?;
    if let Some(question) = when.question.take_if(|_| request.captured_offline) {
        presume_time(&question, &mut what);
    }
    let did = match &request.did {
        Some(name) => {
            let person = super::moves::named(tx, Sort::Person, name, "/did")?;
            tx.subject(person)?.id
        }
        None => None,
    };
    if request.clock_skew {
        ask_about_the_clock(&request, &mut what);
    }
    let mut posting = Posting {
        id,
        kind,
        happened: when.happened,
        time_question: when.question,
        did,
        visit: uuid(request.visit.as_deref(), "/visit")?,
        answers,
        captured_offline: request.captured_offline,
        what,
    };
    completed(tx, &mut posting, repeat)?;
    match known {
        Some(seq) => repeated(tx, actor, seq, &posting),
        None => book(tx, actor, posting),
    }
}

/// Fills in the day that facts hold from; no fact that somebody saw has a day to come.
fn completed(tx: &Tx<'_>, posting: &mut Posting, repeat: bool) -> Result<(), ActionError> {
    let (what, happened) = (&mut posting.what, &posting.happened);
    super::register::complete(&mut what.body, &mut what.secrets, happened.day)?;
    if repeat {
        return Ok(());
    }
    super::register::not_to_come(&what.body, today(tx, &happened.zone), "/body")
}

fn kind_of(request: &EntryRequest) -> Result<EntryKind, ActionError> {
    EntryKind::named(&request.kind).ok_or_else(|| {
        let known: Vec<&str> = permit::posted().map(|kind| kind.word()).collect();
        let expected = format!("one of {}", known.join(", "));
        let remedy = "Name the kind of entry.";
        Refusal::invalid("/kind", &expected, &request.kind, remedy).into()
    })
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
    booked: Option<u64>,
) -> Result<Intention, ActionError> {
    let known = booked.is_some();
    match kind {
        EntryKind::Correction => super::correct::read(tx, actor, body, asked, known),
        EntryKind::Link => super::link::read(tx, actor, body),
        EntryKind::Settle => super::settle::read(tx, actor, body, known),
        EntryKind::Setting => super::adopt::setting(tx, body),
        EntryKind::Method => super::adopt::method(tx, body),
        EntryKind::RuleSet => super::adopt::rule_set(tx, body, known),
        EntryKind::Count => super::count::read(tx, body, asked, booked),
        EntryKind::Statement => super::statement::read(tx, body, asked, booked),
        kind if kind.is_service() => super::service::read(tx, kind, body),
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

/// What was answered when a repeated id was booked.
fn first_answers(
    tx: &mut Tx<'_>,
    seq: u64,
    answers: &mut BTreeMap<String, String>,
) -> Result<(), StoreError> {
    if let Some((bytes, _)) = tx.leaf(seq)? {
        let broken = |error| StoreError::Broken(format!("entry {seq} is unreadable: {error}"));
        answered_before(&Leaf::parse(&bytes).map_err(broken)?, answers);
    }
    Ok(())
}

/// Judges a posting and books it.
pub fn book(tx: &mut Tx<'_>, actor: &Actor, posting: Posting) -> Result<Posted, ActionError> {
    let imported = actor.via == Via::Import;
    let judged = judged(tx, &posting, actor)?;
    let late = judged.late && !imported;
    let arose: Vec<&'static str> = judged.stops.iter().map(|(stop, _)| stop.word).collect();
    let is_doubted = judged.into_supply();
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
    keep(&mut answers, &arose);
    super::judge::doubted(&mut draft.body, is_doubted);
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
    draft.quarantine.extend(what.quarantine);
    draft.settles = what.settles;
    draft.about = what.about;
    let findings = draft.findings.clone();
    let about = days_about(&draft.happened, &draft.body);
    let booked = tx.book(actor, draft).map_err(|error| match error {
        StoreError::TooLarge(bytes) => ActionError::Refused(Refusal::TooLarge { bytes }),
        failed => failed.into(),
    })?;
    let mut posted = Posted::new(id, booked, &findings);
    tell_standings(tx, actor, &mut posted, &about)?;
    Ok(posted)
}

fn judged(tx: &mut Tx<'_>, posting: &Posting, actor: &Actor) -> Result<Judged, ActionError> {
    let imported = actor.via == Via::Import;
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
        serviced: what.serviced,
        words: (what.body.words.as_ref()).or(what
            .body
            .replace
            .as_ref()
            .and_then(|new| new.body.words.as_ref())),
        leak: what.body.leak,
        class: class_stated(&what.body),
        reason: what.body.reason.as_deref(),
        by_office: matches!(actor.role, Role::ComplianceManager | Role::Operator),
        imported,
        today,
        late_days: late_days.unwrap_or(7),
        without: &what.without,
        chain: &what.chain,
    };
    Ok(judge(tx, &case)?)
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
