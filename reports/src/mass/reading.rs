//! Reading a mass as a person types it.
//!
//! A text that can mean only one thing is a [`Mass`]; one that can mean two is a question with
//! both readings; everything else is refused with the words the person needs. Units in the text
//! beat the unit of the field. Nothing is ever rounded on the quiet: what is finer than a step is
//! asked about. The same text, unit and answer give the same mass for ever, because the text
//! stands in the entry and every verification reads it again.

use super::amount::{Amount, Unreadable, Value, after_blanks};
use super::outcome::{refused, shown};
use super::{Answer, Choice, Mass, QuestionCode, Reading, Reason, Unit, lb_oz_rounded};

/// Reads a mass; `default` is the unit the field is set to, if that is known.
pub fn read(text: &str, default: Option<Unit>) -> Reading {
    read_with_answer(text, default, None)
}

/// Reads a mass whose question, if it raises one, has been answered.
pub fn read_with_answer(text: &str, default: Option<Unit>, answer: Option<Answer>) -> Reading {
    match read_scale(text, default, answer) {
        Reading::Mass(Mass::ZERO) => refused(Reason::Zero, text),
        reading => reading,
    }
}

/// Reads what a scale shows: as [`read_with_answer`], but a scale set to zero may show zero.
pub fn read_scale(text: &str, default: Option<Unit>, answer: Option<Answer>) -> Reading {
    if let Some(mass) = plain_digits(text.as_bytes(), default) {
        return Reading::Mass(mass);
    }
    let text = text.trim();
    match parse(text) {
        Ok(typed) => weigh(text, typed, default, answer),
        Err(reason) => refused(reason, text),
    }
}

/// The short way for whole numbers in the unit of the field, which is what imports are made of.
fn plain_digits(text: &[u8], default: Option<Unit>) -> Option<Mass> {
    let unit = default?.steps();
    if text.is_empty() || text.len() > 15 || !text.iter().all(u8::is_ascii_digit) {
        return None;
    }
    let number = text.iter().fold(0, |n, b| n * 10 + i64::from(b - b'0'));
    number.checked_mul(unit).map(Mass::from_steps)
}

/// What was typed, before any unit of the field comes into it.
#[derive(Clone, Copy, Debug)]
pub(super) enum Typed<'a> {
    /// One number, perhaps with its unit.
    One(Amount<'a>, Option<Unit>),
    /// Pounds and ounces, both named.
    Two(Amount<'a>, Amount<'a>),
    /// Two numbers and no unit.
    TwoBare(Amount<'a>, Amount<'a>),
}

/// Takes a trimmed text apart.
pub(super) fn parse(text: &str) -> Result<Typed<'_>, Reason> {
    if text.is_empty() {
        return Err(Reason::Empty);
    }
    let (first, rest) = take_amount(text)?;
    let rest = after_blanks(rest);
    if rest.is_empty() {
        return Ok(Typed::One(first, None));
    }
    if rest.starts_with(|c: char| c.is_ascii_digit() || c == '.') {
        let (second, rest) = take_amount(rest)?;
        return if rest.is_empty() {
            Ok(Typed::TwoBare(first, second))
        } else {
            Err(Reason::NotAMass)
        };
    }
    let (unit, rest) = take_unit(rest)?;
    if rest.is_empty() {
        return Ok(Typed::One(first, Some(unit)));
    }
    if rest.starts_with('.') {
        return Err(Reason::NotAMass); // 7 lb.4 oz: four ounces, or four tenths of one.
    }
    let (second, rest) = take_amount(after_joint(rest))?;
    let (second_unit, rest) = take_unit(after_blanks(rest))?;
    let pounds_then_ounces = unit == Unit::Pound && second_unit == Unit::Ounce;
    if !pounds_then_ounces
        || !rest.is_empty()
        || second.separator == Some(',') && second.whole.is_empty()
    {
        return Err(Reason::NotAMass);
    }
    Ok(Typed::Two(first, second))
}

fn take_amount(text: &str) -> Result<(Amount<'_>, &str), Reason> {
    Amount::take(text).map_err(|unreadable| match unreadable {
        Unreadable::AmbiguousComma => Reason::AmbiguousComma,
        Unreadable::NotANumber => Reason::NotAMass,
    })
}

/// A unit word, with the full stop of an abbreviation where no number follows it directly.
fn take_unit(text: &str) -> Result<(Unit, &str), Reason> {
    let letter = |c: char| c.is_ascii_alphabetic() || c == 'µ' || c == 'μ';
    let end = match text.strip_prefix('#') {
        Some(_) => 1,
        None => text.find(|c| !letter(c)).unwrap_or(text.len()),
    };
    let unit = Unit::from_typed(&text[..end]).ok_or(Reason::NotAMass)?;
    let rest = &text[end..];
    let stop = rest
        .strip_prefix('.')
        .filter(|after| !after.starts_with(|c: char| c.is_ascii_digit()));
    Ok((unit, stop.unwrap_or(rest)))
}

/// What may stand between pounds and ounces: a comma right after the pounds, blanks, `and`.
fn after_joint(text: &str) -> &str {
    let text = after_blanks(text.strip_prefix(',').unwrap_or(text));
    match text.strip_prefix("and") {
        Some(after) if after_blanks(after) != after => after_blanks(after),
        _ => text,
    }
}

/// Puts the unit of the field to what was typed.
fn weigh(text: &str, typed: Typed, default: Option<Unit>, answer: Option<Answer>) -> Reading {
    let bare_pounds_and_ounces = default == Some(Unit::PoundsAndOunces);
    match typed {
        Typed::Two(pounds, ounces) => pounds_and_ounces(text, pounds, ounces, answer),
        Typed::TwoBare(pounds, ounces) if bare_pounds_and_ounces => {
            pounds_and_ounces(text, pounds, ounces, answer)
        }
        Typed::TwoBare(..) if default.is_none() => refused(Reason::UnitMissing, text),
        Typed::TwoBare(..) => refused(Reason::NotAMass, text),
        Typed::One(amount, Some(unit)) => one_unit(text, amount, unit, answer),
        // 7 1/4 could be 7¼ lb or 7 lb ¼ oz, and 1/2 could be a slip for 1 lb 2 oz.
        Typed::One(amount, None) if bare_pounds_and_ounces && amount.fraction.is_some() => {
            refused(Reason::NotAMass, text)
        }
        Typed::One(amount, None) => match default {
            Some(unit) => one_unit(text, amount, unit, answer),
            None => refused(Reason::UnitMissing, text),
        },
    }
}

fn pounds_and_ounces(
    text: &str,
    pounds: Amount,
    ounces: Amount,
    answer: Option<Answer>,
) -> Reading {
    if !pounds.is_whole() {
        return refused(Reason::NotAMass, text);
    }
    if ounces.whole_number().is_none_or(|whole| whole >= 16) {
        return refused(Reason::OuncesNotBelow16, text);
    }
    let (Some(pounds), Some(ounces)) = (pounds.times(Mass::POUND), ounces.times(Mass::OUNCE))
    else {
        return refused(Reason::TooLarge, text);
    };
    settle(
        text,
        Value {
            below: pounds.below + ounces.below,
            ..ounces
        },
        answer,
    )
}

fn one_unit(text: &str, amount: Amount, unit: Unit, answer: Option<Answer>) -> Reading {
    let counts_pounds = unit.steps() == Mass::POUND && amount.separator.is_some();
    if counts_pounds && answer == Some(Answer::AsPoundsAndOunces) {
        return decimals_as_ounces(text, amount);
    }
    let asks = counts_pounds && may_be_ounces(amount.part, unit);
    if asks && answer != Some(Answer::AsPounds) {
        return ask_pounds_or_ounces(text, amount);
    }
    match amount.times(unit.steps()) {
        Some(value) => settle(text, value, answer),
        None => refused(Reason::TooLarge, text),
    }
}

/// Two decimals from 10 to 15 after pounds are the trap; in a field set to pounds and ounces every
/// decimal that could be ounces is.
fn may_be_ounces(part: &str, unit: Unit) -> bool {
    let ounces = part.parse::<u8>().ok().filter(|_| part.len() <= 2);
    match unit {
        Unit::PoundsAndOunces => ounces.is_some_and(|n| (1..16).contains(&n)),
        _ => part.len() == 2 && ounces.is_some_and(|n| (10..16).contains(&n)),
    }
}

fn decimals_as_ounces(text: &str, amount: Amount) -> Reading {
    let ounces = Amount {
        whole: amount.part,
        separator: None,
        part: "",
        fraction: None,
    };
    if amount.part.len() > 2 {
        return refused(Reason::OuncesNotBelow16, text);
    }
    pounds_and_ounces(
        text,
        Amount {
            separator: None,
            part: "",
            ..amount
        },
        ounces,
        None,
    )
}

fn ask_pounds_or_ounces(text: &str, amount: Amount) -> Reading {
    let as_pounds = match amount.times(Mass::POUND) {
        Some(value) => settle(text, value, None),
        None => refused(Reason::TooLarge, text),
    };
    let (as_pounds, as_both) = match (as_pounds, decimals_as_ounces(text, amount)) {
        (Reading::Mass(as_pounds), Reading::Mass(as_both)) => (as_pounds, as_both),
        (Reading::Mass(_), refusal) | (refusal, _) => return refusal,
    };
    let whole = if amount.whole.is_empty() {
        "0"
    } else {
        amount.whole
    };
    let in_ounces = lb_oz_rounded(i128::from(as_pounds.steps()), 1);
    let ounces = amount.part.trim_start_matches('0');
    let why = format!(
        "{whole}.{} lb ({in_ounces}) or {whole} lb {ounces} oz?",
        amount.part
    );
    let choices = vec![
        Choice {
            answer: Answer::AsPounds,
            mass: as_pounds,
        },
        Choice {
            answer: Answer::AsPoundsAndOunces,
            mass: as_both,
        },
    ];
    Reading::Question {
        code: QuestionCode::PoundsOrOunces,
        choices,
        why,
    }
}

/// Whole steps are a mass; anything between two steps is asked about.
fn settle(text: &str, value: Value, answer: Option<Answer>) -> Reading {
    // One step is left free above, so that the step above exists.
    let Some(below) = i64::try_from(value.below)
        .ok()
        .filter(|steps| *steps < i64::MAX)
    else {
        return refused(Reason::TooLarge, text);
    };
    let (below, above) = (Mass::from_steps(below), Mass::from_steps(below + 1));
    match answer {
        _ if value.exact => Reading::Mass(below),
        Some(Answer::StepBelow) => Reading::Mass(below),
        Some(Answer::StepAbove) => Reading::Mass(above),
        Some(Answer::NearestStep) => Reading::Mass(if value.upper_half { above } else { below }),
        _ => ask_which_step(text, below, above),
    }
}

fn ask_which_step(text: &str, below: Mass, above: Mass) -> Reading {
    let text = shown(text);
    let above_choice = Choice {
        answer: Answer::StepAbove,
        mass: above,
    };
    let (choices, why) = if below == Mass::ZERO {
        (
            vec![above_choice],
            format!("{text} is finer than any scale shows: take {above} g?"),
        )
    } else {
        let why = format!("{text} is finer than any scale shows: take {below} g or {above} g?");
        (
            vec![
                Choice {
                    answer: Answer::StepBelow,
                    mass: below,
                },
                above_choice,
            ],
            why,
        )
    };
    Reading::Question {
        code: QuestionCode::FinerThanAStep,
        choices,
        why,
    }
}
