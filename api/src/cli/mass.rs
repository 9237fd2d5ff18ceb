//! `tarebook mass`: reads a mass as the field does.

use super::failure::{Exit, Failure};
use super::{Context, examples};
use clap::{Args, ValueEnum};
use reports::mass::{self, Reading, Unit};
use serde::Serialize;
use std::io::Write;

/// Read a mass as the field does
///
/// Prints exact grams and the three forms people use, or the question that would be asked, or why
/// the text is refused. The exit code is 0 for a mass and 1 for a question or a refusal: only a
/// mass can be booked as it stands.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook mass \"7 lb 10 oz\"\n  \
       tarebook mass 3.29 --unit kg --json"
))]
pub struct ReadMass {
    /// The text, such as "7 lb 10 oz", "7.25" or "3290 g"
    #[arg(value_name = "TEXT", allow_hyphen_values = true)]
    text: String,

    /// Unit of a number that names none (default: none, such a number is refused)
    #[arg(long, value_name = "UNIT")]
    unit: Option<MassUnit>,

    /// Answer as one JSON object
    ///
    /// Members: outcome (mass, question or refused), g (exact grams), choices_g (what a question
    /// offers), lb_oz, lb, kg and why; a member that does not apply is empty.
    #[arg(long)]
    json: bool,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum MassUnit {
    /// Pounds avoirdupois
    Lb,
    /// Ounces avoirdupois
    Oz,
    /// Kilograms
    Kg,
    /// Grams
    G,
    /// Pounds and ounces, as two numbers
    #[value(name = "lb+oz")]
    LbOz,
}

impl ReadMass {
    pub(super) fn run(self, _context: &Context) -> Result<Exit, Failure> {
        let told = Told::of(mass::read(&self.text, self.unit.map(Unit::from)));
        let mut out = std::io::stdout().lock();
        if self.json {
            // Seven texts always serialise.
            writeln!(out, "{}", serde_json::to_string(&told).unwrap_or_default())?;
        } else if told.outcome == "mass" {
            writeln!(
                out,
                "{} g\n{} = {} = {}",
                told.g, told.lb_oz, told.lb, told.kg
            )?;
        } else {
            writeln!(out, "{}: {}", told.outcome, told.why)?;
        }
        Ok(if told.outcome == "mass" {
            Exit::Good
        } else {
            Exit::Failed
        })
    }
}

/// The answer, with the members that outside programs read.
#[derive(Debug, Default, Serialize, PartialEq, Eq)]
struct Told {
    outcome: &'static str,
    g: String,
    choices_g: Vec<String>,
    lb_oz: String,
    lb: String,
    kg: String,
    why: String,
}

impl Told {
    fn of(reading: Reading) -> Told {
        match reading {
            Reading::Mass(mass) => {
                let steps = i128::from(mass.steps());
                Told {
                    outcome: "mass",
                    g: mass.to_string(),
                    lb_oz: mass::lb_oz_text(steps),
                    lb: mass::lb_text(steps),
                    kg: mass::kg_text(steps),
                    ..Told::default()
                }
            }
            Reading::Question { choices, why, .. } => Told {
                outcome: "question",
                choices_g: choices
                    .iter()
                    .map(|choice| choice.mass.to_string())
                    .collect(),
                why,
                ..Told::default()
            },
            Reading::Refused { why, .. } => Told {
                outcome: "refused",
                why,
                ..Told::default()
            },
        }
    }
}

impl From<MassUnit> for Unit {
    fn from(unit: MassUnit) -> Unit {
        match unit {
            MassUnit::Lb => Unit::Pound,
            MassUnit::Oz => Unit::Ounce,
            MassUnit::Kg => Unit::Kilogram,
            MassUnit::G => Unit::Gram,
            MassUnit::LbOz => Unit::PoundsAndOunces,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_json_has_the_members_that_programs_read() {
        // 7.25 lb x 453.59237 g = 3 288.5446825 g (NIST SP 811 appendix B).
        let told = Told::of(mass::read("7 lb 4 oz", None));
        assert_eq!((told.outcome, told.g.as_str()), ("mass", "3288.5446825"));
        let json = serde_json::to_value(&told).unwrap();
        let names: Vec<&String> = json.as_object().unwrap().keys().collect();
        assert_eq!(
            names,
            ["choices_g", "g", "kg", "lb", "lb_oz", "outcome", "why"]
        );
    }

    #[test]
    fn questions_offer_masses_and_refusals_say_why() {
        let told = Told::of(mass::read("7.12 lb", None));
        assert_eq!(
            (told.outcome, told.choices_g.len(), told.g.as_str()),
            ("question", 2, "")
        );
        let told = Told::of(mass::read("-3", Some(Unit::Pound)));
        assert_eq!((told.outcome, told.why.is_empty()), ("refused", false));
    }
}
