//! What is owed: the duties of a rule set, walked over the whole history of one appliance.
//!
//! A limit that was passed, a leak, or another event opens a *case* (a follow-up); what follows in
//! it opens, waits, moves by extensions, pauses while mothballed, is done, missed, opened again,
//! lifted, ended or lapsed, all as the rule file says. The walk goes day by day: first what was
//! missed before the day and what ended, then the day's events, after each of them the limits that
//! it passed, then the ends of periods. A duty keeps the numbers of the day it started; a cadence
//! takes those of the day asked. Dates never move with our knowledge: what was due before the book
//! knew of it is `late_on_discovery`.

mod acts;
mod covered;
mod discovery;
pub(super) mod line;
mod moves;
pub(super) mod ready;
pub(super) mod row;
mod walk;

use super::deadline::{Due, DueLine};
use super::exceedance::Exceedance;
use super::facts::FactSet;
use super::file::{Duty, Limit};
use super::judge::PreparedAppliance;
use super::words::Anchor;
use crate::day::{Day, Zone};
use crate::event::Event;

/// How a duty stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum State {
    /// Its due day is over.
    Overdue,
    /// It is due on a day to come.
    Open,
    /// The law gives no number: it is owed and carries its age.
    NoDate,
    /// Its clock has not started: something is awaited.
    Waiting,
    /// Its clock stands while the appliance is mothballed.
    Paused,
    /// Facts are missing.
    CannotJudge,
    /// A recorded fact says that it is not needed meanwhile.
    NotNeeded,
    /// Fulfilled in time.
    Done,
    /// Fulfilled after it was due.
    DoneLate,
    /// Over without fulfilment, by what happened.
    Lifted,
    /// A cadence that was needed long enough.
    Ended,
    /// The rule's own time is over.
    Lapsed,
}

impl State {
    /// The word of files and of the wire.
    pub fn word(self) -> &'static str {
        match self {
            State::Overdue => "overdue",
            State::Open => "open",
            State::NoDate => "no_date",
            State::Waiting => "waiting",
            State::Paused => "paused",
            State::CannotJudge => "cannot_judge",
            State::NotNeeded => "not_needed",
            State::Done => "done",
            State::DoneLate => "done_late",
            State::Lifted => "lifted",
            State::Ended => "ended",
            State::Lapsed => "lapsed",
        }
    }

    /// Whether something is still to be done, or to be found out.
    pub fn is_owed(self) -> bool {
        self < State::NotNeeded
    }
}

/// What started a duty.
#[derive(Clone, Copy, Debug)]
pub enum StartedBy<'j> {
    /// A limit that was passed: its place among the exceedances.
    Limit(usize),
    /// An entry.
    Event(u64),
    /// An entry that fulfilled another duty.
    Done(&'j Duty, u64),
    /// Another duty that was missed.
    Missed(&'j Duty),
    /// Being covered by the set.
    Covered,
    /// The end of a period.
    PeriodEnd,
}

/// An extension that was asked for.
#[derive(Clone, Debug)]
pub struct Asked<'j> {
    /// On what ground.
    pub ground: &'j str,
    /// The entry that says so.
    pub entry: u64,
    /// The day it was asked.
    pub on: Day,
    /// Whether it moves the date; when not: why.
    pub taken: Result<(), NotTaken>,
    /// The date it gives, when it gives one.
    pub due: Option<Due>,
    /// When no answer of the authority counts as granted.
    pub silence: Option<Day>,
}

/// Why an extension does not move a date.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NotTaken {
    /// It was asked after this day.
    AskedAfter(Day),
    /// The duty was overdue since this day.
    Overdue(Day),
    /// The authority refused it.
    Refused,
}

/// One duty as it stands on the day asked.
#[derive(Clone, Debug)]
pub struct Owed<'j> {
    /// The duty.
    pub duty: &'j Duty,
    /// The case it belongs to, counted from 0; `None`: no case, it comes from being covered.
    pub case: Option<usize>,
    /// The day it started.
    pub since: Day,
    /// What started it.
    pub started_by: StartedBy<'j>,
    /// How it stands.
    pub state: State,
    /// The date, extensions and pauses included.
    pub due: Option<Due>,
    /// An act before this does not count.
    pub not_before: Option<Due>,
    /// The day it was done, lifted, ended or lapsed.
    pub on: Option<Day>,
    /// The entry that did.
    pub by: Option<u64>,
    /// The last act of a cadence that counted, and its entry.
    pub last: Option<(Day, u64)>,
    /// Days left when its clock was stopped.
    pub left: Option<i32>,
    /// Days since it started, where the law gives no number.
    pub age: Option<i32>,
    /// What its lines wait for.
    pub waiting: Vec<Anchor>,
    /// Every line that applies, with its date.
    pub lines: Vec<DueLine<'j>>,
    /// Extensions, taken and not taken.
    pub extensions: Vec<Asked<'j>>,
    /// Days by which pauses moved the date.
    pub paused_days: i32,
    /// Acts that came too early to count.
    pub too_early: Vec<(Day, u64)>,
    /// Facts that must be found before it can be judged, sorted.
    pub missing: Vec<&'static str>,
    /// It was due before the book knew of what started it.
    pub late_on_discovery: bool,
}

impl<'j> Owed<'j> {
    /// A duty that has just started; what else is known of it is set field by field.
    pub(super) fn new(duty: &'j Duty, since: Day, started_by: StartedBy<'j>) -> Owed<'j> {
        Owed {
            duty,
            case: None,
            since,
            started_by,
            state: State::Open,
            due: None,
            not_before: None,
            on: None,
            by: None,
            last: None,
            left: None,
            age: None,
            waiting: Vec::new(),
            lines: Vec::new(),
            extensions: Vec::new(),
            paused_days: 0,
            too_early: Vec::new(),
            missing: Vec::new(),
            late_on_discovery: false,
        }
    }
}

/// What the book knew of an appliance, and when.
#[derive(Clone, Copy)]
pub struct KnownThen<'k> {
    /// The history as the book knew it at the end of a day.
    pub then: &'k dyn Fn(Day) -> Vec<Event>,
    /// Days on which something was taken back: no event of the history is dated by them.
    pub taken_back: &'k [Day],
}

/// What a set made of a history as it was known on an earlier day.
pub(super) struct Then<'j> {
    pub events: Vec<Event>,
    /// Limits that were passed, with their days.
    pub passed: Vec<(&'j Limit, Day)>,
}

/// What a walk reads beside the appliance.
pub(super) struct Story<'s, 'j> {
    /// Events up to the day, in their order.
    pub events: &'s [Event],
    /// Limits that were passed, in the order of their places.
    pub exceedances: &'s [Exceedance<'j>],
    /// The zone of the site.
    pub zone: &'s Zone,
    /// The day asked.
    pub day: Day,
    /// What was known on an earlier day, where entries came late or were corrected.
    pub known_then: Option<&'s dyn Fn(Day) -> Then<'j>>,
    /// Days on which something was taken back.
    pub taken_back: &'s [Day],
}

/// Every duty of one set, as it stands on the day asked, with the facts that were missing.
pub(super) fn duties<'j>(
    prepared: &PreparedAppliance<'j>,
    set: usize,
    story: &Story<'_, 'j>,
) -> (Vec<Owed<'j>>, FactSet) {
    if prepared.judge.sets[set].duties.is_empty() {
        return (Vec::new(), FactSet::NONE);
    }
    let mut walk = walk::Walk::new(prepared, set, story);
    walk.run();
    let mut rows = walk.rows();
    let mut missing = walk.missing;
    rows.extend(covered::rows(prepared, set, story, &mut missing));
    (rows, missing)
}
