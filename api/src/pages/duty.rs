//! What is owed, each duty with its state in words.

use super::figures;
use super::words;
use reports::day::Day;
use reports::plural;
use reports::standing::DutyShown;

/// A duty as a line of a page.
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
        let (class, state) = state(duty, today);
        DutyLine {
            means: words::capital(&duty.means),
            class,
            state,
            why: duty.why.clone(),
        }
    }
}

/// What is owed first: the earliest date, else what has none; a step that was done is not owed.
pub fn first_owed(duties: &[DutyShown]) -> Option<&DutyShown> {
    let owed = || duties.iter().filter(|duty| duty.is_owed);
    let dated = owed().filter(|duty| duty.due.is_some());
    dated.min_by_key(|duty| &duty.due).or_else(|| owed().next())
}

/// Not due is more than seven days away.
fn state(duty: &DutyShown, today: &str) -> (&'static str, String) {
    let on = duty.on.as_deref().map_or(String::new(), |day| {
        format!(" on {}", figures::day_text(day))
    });
    let due = duty.due.as_deref().map_or(String::new(), |due| {
        figures::day_text(due.get(..10).unwrap_or(due))
    });
    let late = match duty.late_on_discovery {
        true => ", over before it was known",
        false => "",
    };
    match duty.state {
        "overdue" => ("late", format!("late, was due {due}{late}")),
        "open" => dated(duty, today),
        "paused" => {
            let left = plural::counted(duty.left.unwrap_or_default(), "days");
            ("ahead", format!("the clock stands, {left} left"))
        }
        "cannot_judge" => {
            let find = words::facts(&duty.missing);
            ("ahead", format!("date not known: find {find}"))
        }
        "waiting" => {
            let waits: Vec<String> = duty.waiting.iter().map(|it| words::plain(it)).collect();
            ("ahead", format!("waits for {}", waits.join(", ")))
        }
        "no_date" => ("", no_date(duty)),
        "not_needed" => ("waived", "not needed meanwhile".to_string()),
        "done" => ("done", format!("done{on}")),
        "done_late" => ("done", format!("done{on}, was due {due}{late}")),
        "ended" => ("waived", format!("ended{on}")),
        "lapsed" => ("waived", format!("lapsed{on}")),
        _ => ("waived", format!("waived{on}")),
    }
}

fn no_date(duty: &DutyShown) -> String {
    let words = duty.no_number.as_deref().unwrap_or("no date");
    match duty.age {
        None | Some(0) => words.to_string(),
        Some(1) => format!("{words}, for a day"),
        Some(days) => format!("{words}, for {}", plural::counted(days, "days")),
    }
}

fn dated(duty: &DutyShown, today: &str) -> (&'static str, String) {
    let day = |text: &str| Day::parse(text.get(..10)?);
    let (Some(due), Some(today)) = (duty.due.as_deref().and_then(day), day(today)) else {
        return ("", "no date".to_string());
    };
    let text = figures::day(due);
    match due.days_since(today) {
        0 => ("", "due today".to_string()),
        ..=7 => ("", format!("due {text}")),
        _ => ("ahead", format!("due by {text}, not yet")),
    }
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;

    /// Not due: more than seven days away.
    #[test]
    fn a_duty_says_its_state_in_words() {
        for (due, class, state) in [
            (
                Some("2026-08-13"),
                "ahead",
                "due by 13 August 2026, not yet",
            ),
            (Some("2026-07-24"), "ahead", "due by 24 July 2026, not yet"),
            (Some("2026-07-23"), "", "due 23 July 2026"),
            (Some("2026-07-16T23:59:59-06:00"), "", "due today"),
            (None, "", "no date"),
        ] {
            let line = DutyLine::of(&sample::duty(due), "2026-07-16");
            assert_eq!((line.class, line.state.as_str()), (class, state));
            assert_eq!(line.means, "Find the leaks and repair them");
        }
        let words = |change: fn(&mut DutyShown)| {
            let mut duty = sample::duty(Some("2026-07-15"));
            change(&mut duty);
            let line = DutyLine::of(&duty, "2026-07-16");
            format!("{}: {}", line.class, line.state)
        };
        assert_eq!(
            words(|duty| duty.state = "overdue"),
            "late: late, was due 15 July 2026"
        );
        assert_eq!(
            words(|duty| (duty.state, duty.late_on_discovery) = ("overdue", true)),
            "late: late, was due 15 July 2026, over before it was known"
        );
        assert_eq!(
            words(|duty| (duty.state, duty.waiting) = ("waiting", vec!["initial_test"])),
            "ahead: waits for initial test"
        );
        assert_eq!(
            words(|duty| duty.state = "not_needed"),
            "waived: not needed meanwhile"
        );
        assert_eq!(
            words(|duty| (duty.state, duty.on) = ("done", Some("2026-07-14".to_string()))),
            "done: done on 14 July 2026"
        );
        assert_eq!(
            words(|duty| (duty.state, duty.left) = ("paused", Some(10))),
            "ahead: the clock stands, 10 days left"
        );
    }
}
