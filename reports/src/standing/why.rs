//! The why: one sentence for each thing that follows, with numbers, clauses and dates.

use super::duty::DutyShown;
use super::shown::SetShown;
use crate::leak_rate::{Addition, Baseline, Method};
use crate::mass;
use crate::number::{Fraction, shown_beside};
use crate::plural;
use crate::rules::RuleSet;
use crate::rules::duties::{Asked, NotTaken, Owed, StartedBy, State};
use crate::rules::exceedance::Exceedance;
use crate::rules::number::Comparison;
use crate::rules::organisation::Sum;
use crate::rules::review::{Review, SiteSettings};
use crate::rules::words::{Anchor, Measure, Unit};
use crate::rules::{Bound, NumberOn};

/// The arithmetic of an exceedance as a sentence without its full stop: `20.01 lb put in on
/// 2024-05-31 (entry 41) is 20.01 % a year of 100 lb (365 days since the addition of 2023-06-01),
/// over 20 % [40 CFR 82.157(c)(2)(i), in force since 2019-01-01]`.
pub(super) fn worked(
    set: &RuleSet,
    review: &Review,
    found: &Exceedance,
    settings: &SiteSettings,
) -> String {
    let mass = |steps| {
        if in_pounds(set) {
            mass::lb_text(steps)
        } else {
            mass::kg_text(steps)
        }
    };
    let addition = found.addition.map(|at| &review.additions[at]);
    let percent = percent_text(found.value(), &found.bounds);
    let full = addition.and_then(|a| a.full_charge);
    let full = full.map_or(String::new(), |full| {
        format!(" of {}", mass(full.steps().into()))
    });
    let entries = entries_text(&found.entries);
    let number = match (found.limit.measure, addition) {
        (Measure::LeakRate, Some(addition)) => match settings.method(addition.day) {
            Method::Annualising => {
                let (put_in, day) = (mass(addition.annualised_mass), addition.day);
                let days = days_text(addition);
                format!("{put_in} put in on {day}{entries} is {percent} % a year{full} ({days})")
            }
            Method::Rolling => {
                let (put_in, day) = (mass(addition.rolling_mass), addition.day);
                format!("{put_in} put in within 365 days up to {day} is {percent} %{full}")
            }
        },
        (Measure::LossOfPeriod, _) => {
            let period = found.limit.period.map_or("period", |period| period.word());
            let period = period.replace('_', " ");
            format!(
                "lost in the {period} up to {}{entries}: {percent} %{full}",
                found.on
            )
        }
        (measure, _) => {
            let what = match measure {
                Measure::NetGain => "more put in than taken out",
                Measure::Released => "released",
                _ => "put in",
            };
            let mass = mass(steps_of(found.value()));
            format!("{mass} {what} on {}{entries}", found.on)
        }
    };
    let bounds: Vec<String> = found.bounds.iter().map(bound_text).collect();
    format!("{number}, {}", bounds.join(" and "))
}

/// The sum of a period over the whole organisation as a sentence without its full stop.
pub(super) fn worked_sum(sum: &Sum) -> String {
    let limits: Vec<Fraction> = sum
        .bounds
        .iter()
        .map(|bound| bound.number.limit())
        .collect();
    let bounds: Vec<String> = sum.bounds.iter().map(bound_text).collect();
    let tonnes = shown_beside(sum.value, &limits);
    let (on, bounds) = (sum.on, bounds.join(" and "));
    let sites = match sum.lists.is_empty() {
        true => String::new(),
        false => format!("; over the limit of a part alone: {}", sum.lists.join(", ")),
    };
    format!("{tonnes} t of CO2 equivalent lost in the period up to {on}, {bounds}{sites}")
}

fn in_pounds(set: &RuleSet) -> bool {
    set.values.values().any(|series| series.unit == Unit::Pound)
}

/// Kilograms as steps of 10⁻¹¹ g; they came from whole steps.
fn steps_of(kilograms: Fraction) -> i128 {
    let kilogram = i128::from(mass::Mass::GRAM) * 1000;
    kilograms.numerator() * (kilogram / kilograms.denominator())
}

fn entries_text(entries: &[u64]) -> String {
    let list: Vec<String> = entries.iter().map(u64::to_string).collect();
    match list.len() {
        0 => String::new(),
        1 => format!(" (entry {})", list[0]),
        _ => format!(" (entries {})", list.join(", ")),
    }
}

fn days_text(addition: &Addition) -> String {
    let days = plural::counted(addition.days, "days");
    match addition.baseline {
        Baseline::Addition(day) => format!("{days} since the addition of {day}"),
        Baseline::Installed(day) => format!("{days} since it was installed on {day}"),
        Baseline::Retrofit(day) => format!("{days} since the retrofit of {day}"),
        Baseline::NoneKnown => format!("{days}: no earlier addition counts"),
    }
}

fn bound_text(bound: &Bound) -> String {
    let comparison = match bound.comparison {
        Comparison::Over => "over",
        Comparison::AtLeast => "at least",
        Comparison::Below => "below",
        Comparison::AtMost => "at most",
    };
    let unit = unit_word(bound.number.unit);
    let (number, from) = (bound.number.text(), bound.number.from());
    let clause = clause_text(&bound.number);
    format!("{comparison} {number} {unit} [{clause}, in force since {from}]")
}

/// A unit as it stands behind a number.
pub(super) fn unit_word(unit: Unit) -> &'static str {
    match unit {
        Unit::Percent | Unit::PercentPerYear => "%",
        Unit::PercentOfFullCharge => "% of the full charge",
        unit => unit.word(),
    }
}

fn clause_text(number: &NumberOn) -> String {
    let mut text = number.clause().to_string();
    if let Some(overlay) = number.overlay {
        text.push_str(&format!(", local layer '{}'", overlay.id));
    }
    if number.confidence().is_some() {
        text.push_str(", unconfirmed");
    }
    text
}

/// As pages show it, without a last decimal that is zero.
fn percent_text(value: Fraction, bounds: &[Bound]) -> String {
    let limits: Vec<Fraction> = bounds.iter().map(|bound| bound.number.limit()).collect();
    let text = shown_beside(value, &limits);
    text.strip_suffix(".0").map_or(text.clone(), str::to_string)
}

/// Why a duty is owed, and how it stands: `worked` is the arithmetic of the exceedance that
/// started it, when one did.
pub(super) fn duty(owed: &Owed, worked: Option<&str>) -> String {
    let means = capital(&owed.duty.means);
    let because = because(owed, worked);
    let text = match owed.state {
        State::Done => format!("{means}: done{}{}", on(owed), was_due(owed)),
        State::DoneLate => format!("{means}: done late{}{}", on(owed), was_due(owed)),
        State::Lifted => format!("{means}: lifted{}", on(owed)),
        State::Ended => format!("{means}: not needed any more, it ended{}", on(owed)),
        State::Lapsed => format!("{means}: lapsed{}, the rule's own time is over", on(owed)),
        State::CannotJudge => {
            let missing = owed.missing.join(", ");
            format!("{means}: when it is due cannot be judged, find {missing}")
        }
        State::NotNeeded => format!("{means}: not needed meanwhile, a recorded fact says so"),
        State::NoDate => {
            let words = owed.duty.no_number.as_deref().unwrap_or("no number");
            let age = plural::counted(owed.age.unwrap_or(0), "days");
            format!("{means}: {words}, owed for {age}")
        }
        State::Waiting => {
            let waits: Vec<&str> = owed.waiting.iter().map(|anchor| anchor.word()).collect();
            format!("{means}: waiting for {}", waits.join(", "))
        }
        State::Paused => {
            let left = plural::counted(owed.left.unwrap_or(0), "days");
            format!("{means}: the clock stands while it is mothballed, {left} left")
        }
        State::Open => format!("{means}: due {}", date(owed)),
        State::Overdue if owed.late_on_discovery => {
            format!("{means}: overdue since {}, late on discovery", date(owed))
        }
        State::Overdue => format!("{means}: overdue since {}", date(owed)),
    };
    let counted = match owed.state {
        State::Open | State::Overdue => counted(owed),
        _ => String::new(),
    };
    format!("{text}: {because}{counted}{}.", extensions(owed))
}

fn on(owed: &Owed) -> String {
    let on = owed.on.map_or(String::new(), |day| format!(" on {day}"));
    let by = owed
        .by
        .map_or(String::new(), |entry| format!(" (entry {entry})"));
    on + &by
}

fn was_due(owed: &Owed) -> String {
    owed.due
        .map_or(String::new(), |due| format!(", it was due {due}"))
}

fn date(owed: &Owed) -> String {
    owed.due
        .map_or("no known day".to_string(), |due| due.to_string())
}

/// The number that binds, and what moved the date it gives.
fn counted(owed: &Owed) -> String {
    let first = owed.lines.iter().min_by_key(|line| line.due.order());
    let Some((line, number)) = first.and_then(|line| Some((line, line.number?))) else {
        return String::new();
    };
    let time = plural::counted(number.text(), number.unit.word());
    let after = words(line.after.word());
    let count = match (number.unit, line.after) {
        (Unit::Date, _) => "the date of the rule".to_string(),
        (Unit::MonthDay, _) => format!("the first {} after the {after}", number.text()),
        (_, Anchor::Start) => time,
        _ => format!("{time} after the {after}"),
    };
    let paused = match owed.paused_days {
        0 => String::new(),
        days => {
            let days = plural::counted(days, "days");
            format!(", moved by {days} without refrigerant")
        }
    };
    format!("; {count} [{}]{paused}", clause_text(&number))
}

fn words(word: &str) -> String {
    match word {
        "last" => "last one".to_string(),
        "root" => "start of the follow-up".to_string(),
        "previous_start" => "start of the step before".to_string(),
        word => word.replace('_', " "),
    }
}

/// What started it.
fn because(owed: &Owed, worked: Option<&str>) -> String {
    let clause = &owed.duty.clause;
    let unconfirmed = match owed.duty.confidence {
        Some(_) => ", unconfirmed",
        None => "",
    };
    let started = match (owed.started_by, worked) {
        (StartedBy::Limit(_), Some(worked)) => return worked.to_string(),
        (StartedBy::Limit(_), None) => format!("a limit was passed on {}", owed.since),
        (StartedBy::Event(entry), _) => format!("entry {entry} of {}", owed.since),
        (StartedBy::Done(duty, entry), _) => {
            format!(
                "follows '{}', done on {} (entry {entry})",
                duty.means, owed.since
            )
        }
        (StartedBy::Missed(duty), _) => {
            format!("follows '{}', missed on {}", duty.means, owed.since)
        }
        (StartedBy::Covered, _) => format!("covered since {}", owed.since),
        (StartedBy::PeriodEnd, _) => format!("the period that ended on {}", owed.since),
    };
    format!("{started} [{clause}{unconfirmed}]")
}

fn extensions(owed: &Owed) -> String {
    let one = |asked: &Asked| {
        let ground = words(asked.ground);
        let (entry, on) = (asked.entry, asked.on);
        match (asked.taken, asked.due) {
            (Ok(()), Some(due)) => format!("; extension '{ground}' (entry {entry}) to {due}"),
            (Ok(()), None) => format!("; extension '{ground}' (entry {entry}) gives no date yet"),
            (Err(NotTaken::AskedAfter(day)), _) => {
                format!("; extension '{ground}' not taken: asked on {on}, it had to be by {day}")
            }
            (Err(NotTaken::Refused), _) => format!("; extension '{ground}' was refused"),
            (Err(NotTaken::Overdue(day)), _) => {
                format!("; extension '{ground}' not taken: asked on {on}, due since {day}")
            }
        }
    };
    owed.extensions.iter().map(one).collect()
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters
        .next()
        .map(|letter| letter.to_uppercase().to_string());
    format!("{}{}", first.unwrap_or_default(), letters.as_str())
}

/// The sentences of a standing: what each set says, then what is owed.
pub(super) fn reasons(sets: &[SetShown], duties: &[DutyShown]) -> Vec<String> {
    let of_sets = sets.iter().map(|set| {
        let SetShown {
            set: id, missing, ..
        } = set;
        match (set.applies, &set.clause) {
            ("yes", Some(clause)) => {
                let band = set
                    .band
                    .as_ref()
                    .map_or(String::new(), |band| format!(", band '{band}'"));
                let find = match missing.is_empty() {
                    true => String::new(),
                    false => format!("; to be found: {}", missing.join(", ")),
                };
                format!("{id} covers it [{clause}]{band}{find}.")
            }
            ("cannot_judge", _) => {
                format!(
                    "{id}: cannot judge whether it applies, find {}.",
                    missing.join(", ")
                )
            }
            _ => format!("{id} does not cover it."),
        }
    });
    of_sets
        .chain(duties.iter().map(|duty| duty.why.clone()))
        .collect()
}
