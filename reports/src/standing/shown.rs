//! The parts of a standing as they travel: JSON members with the words of the contract.
//!
//! Masses are exact grams with three forms for eyes; rates are exact fractions with a percent cut
//! to four decimals beside the answer, never instead of it.

use crate::day::Day;
use crate::leak_rate::{Addition, Baseline, Method, Rate};
use crate::mass::{self, Mass};
use crate::number::Fraction;
use crate::rules::deadline::DueLine;
use crate::rules::duties::{Asked, NotTaken, Owed, StartedBy};
use crate::rules::exceedance::Exceedance;
use crate::rules::review::Review;
use crate::rules::{Bound, LimitOn, NumberOn, PreparedAppliance, RuleSet};
use serde::Serialize;

/// A mass: exact grams, and how people write it.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[allow(missing_docs)]
pub struct MassShown {
    pub g: String,
    pub lb_oz: String,
    pub lb: String,
    pub kg: String,
}

impl MassShown {
    /// A mass of so many steps of 10⁻¹¹ g; a balance may be negative.
    pub fn of(steps: i128) -> MassShown {
        MassShown {
            g: mass::grams_text(steps),
            lb_oz: mass::lb_oz_text(steps),
            lb: mass::lb_text(steps),
            kg: mass::kg_text(steps),
        }
    }

    pub(super) fn of_mass(mass: Mass) -> MassShown {
        MassShown::of(i128::from(mass.steps()))
    }
}

/// One addition.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[allow(missing_docs)]
pub struct AdditionShown {
    pub day: String,
    /// The addition as a whole so far.
    pub mass: MassShown,
    pub entries: Vec<u64>,
    pub days: i32,
    /// `addition`, `installed`, `retrofit` with its day, or `none_known`.
    pub baseline: String,
    /// The method in force on its day, whose rate counts.
    pub method: &'static str,
    pub rates: Rates,
}

impl AdditionShown {
    /// The rate that counts; `None`: the full charge is unknown.
    pub fn counting(&self) -> Option<&RateShown> {
        let rolling = self.method == super::method_word(Method::Rolling);
        let rate = if rolling {
            &self.rates.rolling
        } else {
            &self.rates.annualising
        };
        rate.as_ref()
    }
}

/// The rate by both methods; `None` where the full charge is unknown.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[allow(missing_docs)]
pub struct Rates {
    pub annualising: Option<RateShown>,
    pub rolling: Option<RateShown>,
}

/// A leak rate against the limit of its day.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[allow(missing_docs)]
pub struct RateShown {
    /// Four decimals, cut toward zero.
    pub percent: String,
    pub numerator: String,
    pub denominator: String,
    /// Whether the limit is passed; `None`: cannot judge.
    pub over: Option<bool>,
    pub threshold: Option<String>,
    pub clause: Option<String>,
    pub confidence: Option<&'static str>,
    pub set: Option<String>,
    pub version: Option<String>,
}

/// What one set says of the appliance on the day.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[allow(missing_docs)]
pub struct SetShown {
    pub set: String,
    pub version: Option<String>,
    pub title: String,
    pub caution: String,
    /// `yes`, `no` or `cannot_judge`.
    pub applies: &'static str,
    /// Clause of the block that covers it.
    pub clause: Option<String>,
    pub band: Option<String>,
    pub missing: Vec<&'static str>,
}

/// A limit that was passed.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[allow(missing_docs)]
pub struct ExceedanceShown {
    pub set: String,
    pub version: Option<String>,
    pub limit: String,
    pub means: String,
    pub clause: String,
    pub confidence: Option<&'static str>,
    pub on: String,
    pub value: Value,
    pub bounds: Vec<BoundShown>,
    pub entries: Vec<u64>,
    /// The line of arithmetic, as a sentence.
    pub worked: String,
}

/// A number that was compared.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[allow(missing_docs)]
pub struct Value {
    /// `percent` or `kg`.
    pub unit: &'static str,
    /// Four decimals, cut toward zero.
    pub text: String,
    pub numerator: String,
    pub denominator: String,
}

/// A number it was compared with.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[allow(missing_docs)]
pub struct BoundShown {
    pub comparison: &'static str,
    #[serde(flatten)]
    pub number: LineShown,
}

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

/// A number in force with its source, and the date it gives in a duty.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[allow(missing_docs)]
pub struct LineShown {
    pub value: String,
    pub number: String,
    pub unit: &'static str,
    pub clause: String,
    /// First day of the row.
    pub from: String,
    pub published: Option<String>,
    pub confidence: Option<&'static str>,
    pub source: Option<String>,
    /// The layer the number comes from, when it is not the set's own.
    pub overlay: Option<String>,
    /// Why the layer may be looser than its base, when it is.
    pub loosens: Option<String>,
    pub due: Option<String>,
}

pub(super) fn addition(
    prepared: &PreparedAppliance,
    addition: &Addition,
    entries: Vec<u64>,
    judging: Option<usize>,
    method: Method,
) -> AdditionShown {
    let rate = |rate: Option<Rate>| rate.map(|rate| judged(prepared, rate, addition.day, judging));
    AdditionShown {
        day: addition.day.to_string(),
        mass: MassShown::of(addition.group_mass),
        entries,
        days: addition.days,
        baseline: baseline(addition.baseline),
        method: super::method_word(method),
        rates: Rates {
            annualising: rate(addition.annualised_rate()),
            rolling: rate(addition.rolling_rate()),
        },
    }
}

fn baseline(baseline: Baseline) -> String {
    match baseline {
        Baseline::Addition(day) => format!("addition {day}"),
        Baseline::Installed(day) => format!("installed {day}"),
        Baseline::Retrofit(day) => format!("retrofit {day}"),
        Baseline::NoneKnown => "none_known".to_string(),
    }
}

fn judged(prepared: &PreparedAppliance, rate: Rate, day: Day, judging: Option<usize>) -> RateShown {
    let fraction = rate.fraction();
    let mut shown = RateShown {
        percent: fraction.cut(4),
        numerator: fraction.numerator().to_string(),
        denominator: fraction.denominator().to_string(),
        over: Some(false),
        threshold: None,
        clause: None,
        confidence: None,
        set: None,
        version: None,
    };
    let Some(at) = judging else { return shown };
    let limit = prepared.leak_rate_limit(at, day);
    shown.over = limit.is_passed_by(rate);
    let set = prepared.set(at);
    shown.set = Some(set.id.clone());
    shown.version = set.version.clone();
    if let LimitOn::Applies { bounds, .. } = limit
        && let Some(bound) = bounds.first()
    {
        shown.threshold = Some(bound.number.text().to_string());
        shown.clause = Some(bound.number.clause().to_string());
        shown.confidence = bound.number.confidence().map(|word| word.word());
    }
    shown
}

pub(super) fn set(
    prepared: &PreparedAppliance,
    set: &RuleSet,
    review: &Review,
    at: usize,
    day: Day,
) -> SetShown {
    SetShown {
        set: set.id.clone(),
        version: set.version.clone(),
        title: set.title.clone(),
        caution: set.caution.clone(),
        applies: match prepared.applies(at, day) {
            Some(true) => "yes",
            Some(false) => "no",
            None => "cannot_judge",
        },
        clause: prepared
            .covered_by(at, day)
            .map(|block| block.clause.clone()),
        band: prepared.band(at, day).map(str::to_string),
        missing: review.missing.clone(),
    }
}

pub(super) fn exceedance(set: &RuleSet, found: &Exceedance, worked: String) -> ExceedanceShown {
    ExceedanceShown {
        set: set.id.clone(),
        version: set.version.clone(),
        limit: found.limit.name.clone(),
        means: found.limit.means.clone(),
        clause: found.limit.clause.clone(),
        confidence: found.limit.confidence.map(|word| word.word()),
        on: found.on.to_string(),
        value: value(found.value, found.is_percent),
        bounds: found.bounds.iter().map(bound).collect(),
        entries: found.entries.clone(),
        worked,
    }
}

fn value(value: Fraction, is_percent: bool) -> Value {
    Value {
        unit: if is_percent { "percent" } else { "kg" },
        text: value.cut(4),
        numerator: value.numerator().to_string(),
        denominator: value.denominator().to_string(),
    }
}

fn bound(bound: &Bound) -> BoundShown {
    BoundShown {
        comparison: bound.comparison.word(),
        number: line(&bound.number, None),
    }
}

fn line(number: &NumberOn, due: Option<String>) -> LineShown {
    LineShown {
        value: number.value.to_string(),
        number: number.text().to_string(),
        unit: number.unit.word(),
        clause: number.clause().to_string(),
        from: number.from().to_string(),
        published: number.published().map(|day| day.to_string()),
        confidence: number.confidence().map(|word| word.word()),
        source: number.source().map(str::to_string),
        overlay: number.overlay.map(|overlay| overlay.id.clone()),
        loosens: number.loosens().map(str::to_string),
        due,
    }
}

pub(super) fn duty(set: &RuleSet, review: &Review, owed: &Owed, why: String) -> DutyShown {
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
    }
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
