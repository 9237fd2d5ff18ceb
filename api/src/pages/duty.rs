//! What is owed first, each duty with its state in words.
//!
//! Only the first due date of a duty is known here. A date that has passed is said; nothing is
//! called late or done, because what was done since is not read.

use super::figures;
use super::words;
use reports::day::Day;
use reports::standing::DutyShown;

/// A duty with its first due date.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DutyLine {
    /// What is to be done.
    pub means: String,
    /// The class of the line below it.
    pub class: &'static str,
    /// Its state in words.
    pub state: String,
    /// Why, with clause and date.
    pub why: String,
}

impl DutyLine {
    /// The line of a duty as of a day (`YYYY-MM-DD`).
    pub fn of(duty: &DutyShown, today: &str) -> DutyLine {
        let due = duty
            .due
            .as_deref()
            .and_then(|due| Day::parse(due.get(..10)?));
        let (class, state) = match (due, Day::parse(today)) {
            _ if duty.not_needed => ("waived", "not needed meanwhile".to_string()),
            (Some(due), Some(today)) => dated(due, today),
            _ if !duty.missing.is_empty() => {
                let find = words::facts(&duty.missing);
                ("ahead", format!("date not known: find {find}"))
            }
            _ if !duty.waiting.is_empty() => {
                let waits: Vec<String> = duty.waiting.iter().map(|it| words::plain(it)).collect();
                ("ahead", format!("waits for {}", waits.join(", ")))
            }
            _ => {
                let words = duty.no_number.clone();
                ("", words.unwrap_or_else(|| "no date".to_string()))
            }
        };
        DutyLine {
            means: words::capital(&duty.means),
            class,
            state,
            why: duty.why.clone(),
        }
    }
}

/// Not due is more than seven days away. What was done meanwhile is not read, so that a date that
/// has passed is said and nothing is called late.
fn dated(due: Day, today: Day) -> (&'static str, String) {
    let day = figures::day(due);
    match due.days_since(today) {
        ..0 => ("passed", format!("was first due {day}")),
        0 => ("", "due today".to_string()),
        1..=7 => ("", format!("due {day}")),
        _ => ("ahead", format!("not due, first due {day}")),
    }
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;

    /// Not due: more than seven days away. A date that has passed is said, and nothing is called
    /// late, because what was done since is not read.
    #[test]
    fn a_duty_says_its_state_in_words() {
        for (due, class, state) in [
            (
                Some("2026-08-13"),
                "ahead",
                "not due, first due 13 August 2026",
            ),
            (
                Some("2026-07-24"),
                "ahead",
                "not due, first due 24 July 2026",
            ),
            (Some("2026-07-23"), "", "due 23 July 2026"),
            (Some("2026-07-16T23:59:59-06:00"), "", "due today"),
            (Some("2026-07-15"), "passed", "was first due 15 July 2026"),
            (None, "", "no date"),
        ] {
            let line = DutyLine::of(&sample::duty(due), "2026-07-16");
            assert_eq!((line.class, line.state.as_str()), (class, state));
            assert_eq!(line.means, "Find the leaks and repair them");
        }
        let mut waits = sample::duty(None);
        waits.waiting = vec!["initial_test"];
        assert_eq!(
            DutyLine::of(&waits, "2026-07-16").state,
            "waits for initial test"
        );
        let mut relieved = sample::duty(Some("2026-07-15"));
        relieved.not_needed = true;
        assert_eq!(DutyLine::of(&relieved, "2026-07-16").class, "waived");
    }
}
