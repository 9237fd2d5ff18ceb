//! The parts of a standing as they travel: JSON members with the words of the contract.
//!
//! Masses are exact grams with three forms for eyes; rates are exact fractions with a percent cut
//! to four decimals beside the answer, never instead of it.

use crate::day::Day;
use crate::leak_rate::{Addition, Baseline, Method, Rate};
use crate::mass::{self, Mass};
use crate::number::Decimal;
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
    /// How far it can be trusted, where all of it was weighed on registered scales. It is shown beside
    /// the rates and decides nothing: `assess` neither knows nor reads it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub uncertainty: Option<UncertaintyShown>,
}

/// Expanded uncertainty (k = 2) of an addition and of its rates.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[allow(missing_docs)]
pub struct UncertaintyShown {
    /// Of the mass, in grams.
    pub added_g: String,
    /// Of the annualised rate, in percentage points.
    pub annualising_points: Option<String>,
    /// Of the rolling rate, in percentage points.
    pub rolling_points: Option<String>,
    pub k: &'static str,
    /// What it rests on.
    pub basis: String,
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

impl RateShown {
    /// The rate as a part of its limit, in ten-thousandths, cut: 10 000 is the limit itself. `None`:
    /// no limit is held against it, or the limit is nothing.
    pub fn share(&self) -> Option<u32> {
        let limit = Decimal::parse(self.threshold.as_deref()?)?.fraction();
        let (over, of): (i128, i128) =
            (self.numerator.parse().ok()?, self.denominator.parse().ok()?);
        if limit.numerator() <= 0 || of <= 0 {
            return None;
        }
        // Both are brought to lowest terms; where the product does not fit, it is beyond all bounds.
        let above = over.checked_mul(limit.denominator())?.checked_mul(10_000)?;
        let below = of.checked_mul(limit.numerator())?;
        Some(u32::try_from((above / below).max(0)).unwrap_or(u32::MAX))
    }
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
        uncertainty: None,
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
        value: measured(found),
        bounds: found.bounds.iter().map(bound).collect(),
        entries: found.entries.clone(),
        worked,
    }
}

/// The number that passed a limit.
pub(super) fn measured(found: &Exceedance) -> Value {
    let value = found.value();
    Value {
        unit: if found.is_percent() { "percent" } else { "kg" },
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

pub(super) fn line(number: &NumberOn, due: Option<String>) -> LineShown {
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
