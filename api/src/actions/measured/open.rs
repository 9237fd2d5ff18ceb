//! What keeps a booked test open, in sentences.
//!
//! A verdict that waits stands in the leaf as one word. What it waits for is worked out again from
//! the same readings, so that whoever opens the entry reads the question that is open and not one that
//! was answered long ago.

use super::physics::{self, Given};
use reports::physics::{PressureVerdict, Problem, judge_pressure_test, judge_vacuum_test};

const GAINED: &str = "More pressure than the gas can have: the temperatures are not those of the \
                      gas, or gas was added. Read all again.";

/// What is open of a test of this kind, by what was said of it; empty: it is decided, or it is no
/// test. Names may stand behind a path, as a correction keeps them.
pub fn open_reasons<'t>(kind: &str, said: impl Iterator<Item = (&'t str, &'t str)>) -> Vec<String> {
    let plain = |(name, text): (&'t str, &'t str)| (name.rsplit('.').next().unwrap_or(name), text);
    let said = said.map(plain);
    let open = match kind {
        "pressure_test" => of_pressure_test(&given(said, physics::PRESSURE_TEST)),
        "vacuum_test" => given(said, physics::VACUUM_TEST)
            .and_then(|given| physics::read_vacuum_test(&given))
            .and_then(|test| judge_vacuum_test(&test))
            .map(|result| result.open.iter().map(sentence).collect()),
        _ => Ok(Vec::new()),
    };
    // What cannot be judged at all is open for the reason that the judging gives.
    open.unwrap_or_else(|problem| vec![sentence(&problem)])
}

fn of_pressure_test(given: &Result<Given, Problem>) -> Result<Vec<String>, Problem> {
    let given = given.as_ref().map_err(Clone::clone)?;
    let result = judge_pressure_test(&physics::read_pressure_test(given)?)?;
    if result.verdict == PressureVerdict::GainBeyondUncertaintyTestInvalid {
        return Ok(vec![GAINED.to_string()]);
    }
    Ok(result.open.iter().map(sentence).collect())
}

fn given<'t>(
    said: impl Iterator<Item = (&'t str, &'t str)>,
    known: &[&str],
) -> Result<Given, Problem> {
    Given::of(said.filter(|(name, _)| known.contains(name)), known)
}

/// What is wanted, what there is, what to do.
pub fn sentence(open: &Problem) -> String {
    let came = match open.came.as_str() {
        "no" => "answered with no",
        "no answer" => "not answered",
        "nothing" => "nothing was stated",
        came => came,
    };
    let text = format!("{}: {came}. {}", open.expected, open.to_do);
    let mut letters = text.chars();
    let first = letters.next().map(|first| first.to_uppercase().to_string());
    first.unwrap_or_default() + letters.as_str()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A gauge that shows whole pounds cannot show a quarter of 1 psi: 4 x 1 > 1, by hand. All four
    /// questions about the sensors are answered, so none of them is open.
    #[test]
    fn a_coarse_gauge_is_named_and_not_the_answered_questions() {
        let mut said = vec![
            ("start_pressure", "150"),
            ("end_pressure", "146.5"),
            ("pressure_unit", "psig"),
            ("start_temperature", "70"),
            ("end_temperature", "60"),
            ("temperature_unit", "[degF]"),
            ("pressure_accuracy", "0.5"),
            ("temperature_accuracy", "1"),
            ("design_pressure", "450"),
            ("minutes", "60"),
            ("criterion_minutes", "60"),
            ("gauge", "sealed"),
            ("acceptance", "1"),
            ("resolution", "1"),
            ("in_shade", "yes"),
            ("on_tested_part", "yes"),
            ("same_place", "yes"),
            ("settled_after_filling", "yes"),
        ];
        let open = open_reasons("pressure_test", said.iter().copied()).join(" ");
        assert!(open.contains("quarter of the acceptable loss"), "{open}");
        assert!(open.contains("Read a finer gauge."), "{open}");
        assert!(!open.contains("shade"), "{open}");
        // A fifth of a pound is fine enough: 4 x 0.2 < 1, by hand. It is decided then.
        said.retain(|(name, _)| *name != "resolution");
        said.push(("replace.body.words.resolution", "0.2"));
        let decided = open_reasons("pressure_test", said.iter().copied());
        assert_eq!(decided, Vec::<String>::new());
    }
}
