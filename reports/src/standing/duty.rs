//! What is owed as it travels: JSON members with the words of the vocabulary.

use super::layers::{LayerShown, layers_behind};
use super::shown::{LineShown, Value, line, measured};
use crate::day::Day;
use crate::rules::RuleSet;
use crate::rules::deadline::DueLine;
use crate::rules::duties::{Asked, NotTaken, Owed, StartedBy};
use crate::rules::review::Review;
use crate::rules::words::EventKind;
use serde::Serialize;

/// What is owed, or was.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[allow(missing_docs)]
pub struct DutyShown {
    pub duty: String,
    pub means: String,
    pub set: String,
    pub version: Option<String>,
    pub clause: String,
    pub confidence: Option<&'static str>,
    /// The case (follow-up) of the set it belongs to; `None`: it comes from being covered.
    pub case: Option<usize>,
    pub since: String,
    pub started_by: StartShown,
    /// `overdue`, `open`, `no_date`, `waiting`, `paused`, `cannot_judge`, `not_needed`, `done`,
    /// `done_late`, `lifted`, `ended` or `lapsed`.
    pub state: &'static str,
    /// Whether something is still to be done or to be found out.
    #[serde(skip)]
    pub is_owed: bool,
    /// The date, extensions and pauses included.
    pub due: Option<String>,
    /// An act before this does not count.
    pub not_before: Option<String>,
    /// The day it was done, lifted, ended or lapsed, and the entry that did.
    pub on: Option<String>,
    pub by: Option<u64>,
    /// The last act of a cadence that counted.
    pub last: Option<ActShown>,
    /// Days left when its clock was stopped.
    pub left: Option<i32>,
    /// Days since it started, where the law gives no number.
    pub age: Option<i32>,
    /// The law's words where it gives no number.
    pub no_number: Option<String>,
    /// What a line waits for.
    pub waiting: Vec<&'static str>,
    pub missing: Vec<&'static str>,
    /// Every line that applies; the earliest binds.
    pub lines: Vec<LineShown>,
    pub extensions: Vec<ExtensionShown>,
    /// Days by which pauses moved the date.
    pub paused_days: i32,
    /// Acts that came too early to count.
    pub too_early: Vec<ActShown>,
    /// It was due before the book knew of what started it.
    pub late_on_discovery: bool,
    pub why: String,
    /// The local layers whose numbers it rests on, with the law's own beneath.
    pub layers: Vec<LayerShown>,
    /// What opened the case it belongs to; for reports.
    #[serde(skip)]
    pub opened: Option<OpenedShown>,
    /// Which inspection fulfils it, where one does; for reports.
    #[serde(skip)]
    pub inspects: Option<Inspects>,
}

/// What opened a case.
#[derive(Clone, Debug, PartialEq)]
#[allow(missing_docs)]
pub struct OpenedShown {
    pub on: String,
    pub by: StartShown,
    /// The number that passed a limit.
    pub measured: Option<Value>,
}

/// An inspection as a rule asks for it.
#[derive(Clone, Debug, PartialEq)]
pub struct Inspects {
    /// `unit`, `detector` or `container`; `None`: the rule does not say.
    pub of: Option<String>,
    /// The type of inspection.
    pub kind: Option<String>,
    /// Whether only one by a certified person counts.
    pub certified: Option<&'static str>,
}

impl DutyShown {
    /// Whether its clause, or a number that gives its date, was not read by whoever wrote the set.
    pub fn is_unconfirmed(&self) -> bool {
        let of_line = |line: &LineShown| line.confidence.is_some();
        self.confidence.is_some() || self.lines.iter().any(of_line)
    }
}

/// What started a duty.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[allow(missing_docs)]
pub struct StartShown {
    /// `limit`, `event`, `done`, `missed`, `covered` or `period_end`.
    pub kind: &'static str,
    /// The limit that was passed.
    pub limit: Option<String>,
    /// The duty that was done or missed.
    pub duty: Option<String>,
    /// The entries it rests on.
    pub entries: Vec<u64>,
}

/// Something that was done, with its entry.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[allow(missing_docs)]
pub struct ActShown {
    pub on: String,
    pub entry: u64,
}

/// An extension that was asked for.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[allow(missing_docs)]
pub struct ExtensionShown {
    pub ground: String,
    pub entry: u64,
    pub on: String,
    pub taken: bool,
    /// Why it does not move the date, as a sentence.
    pub not_taken: Option<String>,
    /// The date it gives.
    pub due: Option<String>,
    /// When no answer of the authority counts as granted.
    pub silence: Option<String>,
}

pub(super) fn shown(set: &RuleSet, review: &Review, owed: &Owed, why: String) -> DutyShown {
    DutyShown {
        duty: owed.duty.name.clone(),
        means: owed.duty.means.clone(),
        set: set.id.clone(),
        version: set.version.clone(),
        clause: owed.duty.clause.clone(),
        confidence: owed.duty.confidence.map(|word| word.word()),
        case: owed.case,
        since: owed.since.to_string(),
        started_by: start(review, owed.started_by),
        state: owed.state.word(),
        is_owed: owed.state.is_owed(),
        due: owed.due.map(|due| due.to_string()),
        not_before: owed.not_before.map(|due| due.to_string()),
        on: owed.on.map(|day| day.to_string()),
        by: owed.by,
        last: owed.last.map(act),
        left: owed.left,
        age: owed.age,
        no_number: owed.duty.no_number.clone(),
        waiting: owed.waiting.iter().map(|anchor| anchor.word()).collect(),
        missing: owed.missing.clone(),
        lines: owed.lines.iter().map(due_line).collect(),
        extensions: owed.extensions.iter().map(extension).collect(),
        paused_days: owed.paused_days,
        too_early: owed.too_early.iter().copied().map(act).collect(),
        late_on_discovery: owed.late_on_discovery,
        why,
        layers: layers_behind(review, owed),
        opened: owed.case.and_then(|case| opened(review, case)),
        inspects: inspects(owed),
    }
}

/// The first start of a case: duties stand in the order in which they started.
fn opened(review: &Review, case: usize) -> Option<OpenedShown> {
    let root = review.duties.iter().find(|owed| owed.case == Some(case))?;
    let measured = match root.started_by {
        StartedBy::Limit(at) => review.exceedances.get(at).map(measured),
        _ => None,
    };
    Some(OpenedShown {
        on: root.since.to_string(),
        by: start(review, root.started_by),
        measured,
    })
}

fn inspects(owed: &Owed) -> Option<Inspects> {
    let mut fulfilling = owed.duty.done_by.iter();
    let pattern = fulfilling.find(|pattern| pattern.event == EventKind::Inspection)?;
    Some(Inspects {
        of: pattern.of.clone(),
        kind: pattern.kind_of.clone(),
        certified: pattern.certified.map(|word| word.word()),
    })
}

fn start(review: &Review, started_by: StartedBy) -> StartShown {
    let mut shown = StartShown {
        kind: "covered",
        limit: None,
        duty: None,
        entries: Vec::new(),
    };
    match started_by {
        StartedBy::Limit(at) => {
            shown.kind = "limit";
            if let Some(found) = review.exceedances.get(at) {
                shown.limit = Some(found.limit.name.clone());
                shown.entries.clone_from(&found.entries);
            }
        }
        StartedBy::Event(entry) => (shown.kind, shown.entries) = ("event", vec![entry]),
        StartedBy::Done(duty, entry) => {
            (shown.kind, shown.entries) = ("done", vec![entry]);
            shown.duty = Some(duty.name.clone());
        }
        StartedBy::Missed(duty) => {
            shown.kind = "missed";
            shown.duty = Some(duty.name.clone());
        }
        StartedBy::Covered => {}
        StartedBy::PeriodEnd => shown.kind = "period_end",
    }
    shown
}

fn act((on, entry): (Day, u64)) -> ActShown {
    let on = on.to_string();
    ActShown { on, entry }
}

fn extension(asked: &Asked) -> ExtensionShown {
    let not_taken = asked.taken.err().map(|why| match why {
        NotTaken::AskedAfter(day) => format!("it had to be asked by {day}"),
        NotTaken::Refused => "the authority refused it".to_string(),
        NotTaken::Overdue(day) => format!("it was asked after the due date {day}"),
    });
    ExtensionShown {
        ground: asked.ground.to_string(),
        entry: asked.entry,
        on: asked.on.to_string(),
        taken: asked.taken.is_ok(),
        not_taken,
        due: asked.due.map(|due| due.to_string()),
        silence: asked.silence.map(|day| day.to_string()),
    }
}

/// A line of a duty; the date that an authority wrote has no number of the rules.
fn due_line(of: &DueLine) -> LineShown {
    let due = Some(of.due.to_string());
    match &of.number {
        Some(number) => line(number, due),
        None => LineShown {
            value: "granted".to_string(),
            number: of.due.to_string(),
            unit: "date",
            clause: String::new(),
            from: String::new(),
            published: None,
            confidence: None,
            source: None,
            overlay: None,
            loosens: None,
            due,
        },
    }
}
