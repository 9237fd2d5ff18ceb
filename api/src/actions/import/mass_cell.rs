//! Masses in cells.
//!
//! A column with a unit in its name holds plain decimals of that unit and nothing else: a comma,
//! a sign or a second unit there is a slip of the program that wrote the file. A column without
//! one holds texts as people type them. An import cannot ask, so `7.12 lb` is taken as it stands
//! (the answer that says so goes into the entry), and what is finer than a step is refused.

use super::columns::Place;
use super::problems::Bad;
use reports::mass::{self, Answer, Mass, QuestionCode, Reading, Reason, Unit};
use std::borrow::Cow;

/// A mass as a file gave it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MassCell<'a> {
    /// The text that the entry keeps.
    pub text: Cow<'a, str>,
    /// The unit it is in.
    pub unit: Unit,
    /// Its mass.
    pub mass: Mass,
    /// The answer without which the text could mean two masses.
    pub answer: Option<Answer>,
    /// Whether a person typed the text, so that the answer was not theirs: that is a finding.
    pub guessed: bool,
}

/// Reads a mass from a cell of this column.
pub fn mass_cell<'a>(cell: &'a str, column: Option<&Place>) -> Result<MassCell<'a>, Bad> {
    match column.and_then(|place| place.unit) {
        Some(unit) => in_unit(cell, unit),
        None => as_typed(cell),
    }
}

fn in_unit(cell: &str, unit: Unit) -> Result<MassCell<'_>, Bad> {
    let plain = |byte: u8| byte.is_ascii_digit() || byte == b'.';
    if cell.is_empty() || !cell.bytes().all(plain) {
        let expected = format!("a plain decimal of {} above 0", unit.word());
        return Err(Bad::new(expected, advice(cell)));
    }
    match mass::read(cell, Some(unit)) {
        Reading::Mass(mass) => Ok(MassCell {
            text: cell.into(),
            unit,
            mass,
            answer: None,
            guessed: false,
        }),
        reading => {
            let mass = answered(cell, Some(unit), reading)?;
            let answer = Some(Answer::AsPounds);
            Ok(MassCell {
                text: cell.into(),
                unit,
                mass,
                answer,
                guessed: false,
            })
        }
    }
}

fn as_typed(cell: &str) -> Result<MassCell<'_>, Bad> {
    let (mass, answer) = match mass::read(cell, None) {
        Reading::Mass(mass) => (mass, None),
        reading => (answered(cell, None, reading)?, Some(Answer::AsPounds)),
    };
    // What was just read as a mass is kept as one.
    let kept = mass::leaf_text(cell, None, answer).ok_or_else(|| Bad::new("a mass", ""))?;
    let text = if kept.text == cell {
        Cow::Borrowed(cell)
    } else {
        Cow::Owned(kept.text)
    };
    Ok(MassCell {
        text,
        unit: kept.unit,
        mass,
        answer,
        guessed: answer.is_some(),
    })
}

/// The mass of a text that could be pounds or ounces, taken as the pounds that stand there; any
/// other question or refusal is an error.
fn answered(cell: &str, unit: Option<Unit>, reading: Reading) -> Result<Mass, Bad> {
    match reading {
        Reading::Mass(mass) => Ok(mass),
        Reading::Question {
            code: QuestionCode::PoundsOrOunces,
            ..
        } => match mass::read_with_answer(cell, unit, Some(Answer::AsPounds)) {
            Reading::Mass(mass) => Ok(mass),
            Reading::Question { why, .. } | Reading::Refused { why, .. } => {
                Err(Bad::new("a mass that can be written exactly", why))
            }
        },
        Reading::Question { why, .. } => Err(Bad::new("a mass that can be written exactly", why)),
        Reading::Refused {
            reason: Reason::Zero,
            ..
        } => {
            let advice = "Take the row out: where nothing moved there is nothing to book.";
            Err(Bad::new("a mass above 0", advice))
        }
        Reading::Refused { why, .. } => Err(Bad::new("a mass", why)),
    }
}

fn advice(cell: &str) -> &'static str {
    match cell {
        "" => "Fill the cell.",
        _ if cell.contains(',') => "Write a decimal point and no thousands mark.",
        _ if cell.contains('-') => "Exchange from and to instead of a sign; a mass has none.",
        _ if cell.bytes().any(|byte| byte.is_ascii_digit()) => {
            "Write digits and a point only; texts with units belong into a column without one."
        }
        _ => "Write digits and a point only.",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn column(unit: Option<Unit>) -> Place {
        Place {
            at: 0,
            name: "mass".into(),
            unit,
        }
    }

    fn grams(cell: &str, unit: Option<Unit>) -> Result<String, Bad> {
        mass_cell(cell, Some(&column(unit))).map(|cell| cell.mass.to_string())
    }

    #[test]
    fn every_unit_is_exact() {
        // NIST SP 811 appendix B: 1 lb = 453.59237 g, 1 oz = 28.349523125 g exactly.
        for (cell, unit, expected) in [
            ("1", Unit::Pound, "453.59237"),
            ("7.25", Unit::Pound, "3288.5446825"),
            ("0.01", Unit::Ounce, "0.28349523125"),
            ("3.29", Unit::Kilogram, "3290"),
            ("13607771", Unit::Milligram, "13607.771"),
            ("1", Unit::Microgram, "0.000001"),
            ("0.00001", Unit::Microgram, "0.00000000001"),
        ] {
            assert_eq!(
                grams(cell, Some(unit)),
                Ok(expected.to_string()),
                "{cell} {unit:?}"
            );
        }
    }

    #[test]
    fn thirty_pounds_are_the_same_in_every_unit() {
        // 30 lb x 453.59237 g = 13 607.7711 g (NIST SP 811 appendix B).
        let thirty = Ok("13607.7711".to_string());
        for (cell, unit) in [
            ("30", Some(Unit::Pound)),
            ("480", Some(Unit::Ounce)),
            ("13.6077711", Some(Unit::Kilogram)),
            ("13607.7711", Some(Unit::Gram)),
            ("13607771.1", Some(Unit::Milligram)),
            ("13607771100", Some(Unit::Microgram)),
            ("30 lb", None),
            ("29 lb 16/16 oz", None),
        ] {
            if cell.contains('/') {
                assert!(grams(cell, unit).is_err(), "{cell}");
            } else {
                assert_eq!(grams(cell, unit), thirty, "{cell}");
            }
        }
    }

    #[test]
    fn what_is_no_plain_decimal_is_refused_in_a_column_with_a_unit() {
        for cell in [
            "", "1,250", "7,25", "-3", "3e2", "7 lb", "7 4", "٧", "NaN", "inf", "+1", "1.2.3", ".",
        ] {
            assert!(grams(cell, Some(Unit::Pound)).is_err(), "{cell}");
        }
        for cell in [
            "0",
            "0.0",
            "1000000000000000000000000000000",
            "204000",
            "0.000000000001",
        ] {
            assert!(grams(cell, Some(Unit::Pound)).is_err(), "{cell}");
        }
    }

    #[test]
    fn texts_are_read_as_the_field_reads_them() {
        assert_eq!(grams("7 lb 10 oz", None), Ok("3458.64182125".into()));
        for cell in ["7 lb 16 oz", "1,250", "7", "5#8oz x", "11.6", "1/8 oz"] {
            assert!(grams(cell, None).is_err(), "{cell}");
        }
        let cell = "7 lb 10 oz";
        let read = mass_cell(cell, Some(&column(None))).unwrap();
        assert_eq!(
            (read.text.as_ref(), read.unit.code(), read.guessed),
            (cell, "[lb_av]", false)
        );
    }

    #[test]
    fn pounds_that_look_like_ounces_are_taken_as_they_stand_and_marked() {
        // 7.12 x 453.59237 g = 3 229.5776744 g.
        let pounds = column(Some(Unit::Pound));
        let in_pounds = mass_cell("7.12", Some(&pounds)).unwrap();
        assert_eq!(in_pounds.mass.to_string(), "3229.5776744");
        assert_eq!(
            (in_pounds.answer, in_pounds.guessed),
            (Some(Answer::AsPounds), false)
        );
        let typed = mass_cell("7.12 lb", None).unwrap();
        assert_eq!(typed.mass, in_pounds.mass);
        assert!(typed.guessed);
    }
}
