//! Which reminder a day asks for, and what becomes of the names in a message.

use super::words::{Says, plain};
use super::*;

fn day(text: &str) -> Day {
    Day::parse(text).expect("a day")
}

/// Something due on 12 September 2026, looked at on another day.
fn row(word: Word, due: Option<&str>, today: &str) -> Row {
    Row {
        step: Id::from_bits(7),
        place: None,
        appliance: Some(Id::from_bits(9)),
        tag: "HG-RACK-A".to_string(),
        site: None,
        site_tag: "Alder Street".to_string(),
        duty: "repair".to_string(),
        means: "mend it".to_string(),
        clause: "40 CFR 84.106(d)".to_string(),
        layers: Vec::new(),
        set: 0,
        at: 0,
        order: 0,
        word,
        due: due.map(day),
        on: None,
        since: day("2026-08-13"),
        today: day(today),
        assigned: None,
        after_own: false,
    }
}

const ALL: Choice = Choice {
    digest: Digest::Never,
    fortnight: true,
    three_days: true,
    on_the_day: true,
    late: true,
    everything: true,
    names: false,
};

/// By hand: 14 days before 12 September is 29 August; 30 days after it is 12 October.
#[test]
fn a_day_asks_for_the_nearest_reminder_that_was_chosen() {
    let due = Some("2026-09-12");
    let asked =
        |choice: &Choice, word, today| reminder(choice, &row(word, due, today)).map(|it| it.0);
    for (today, kind) in [
        ("2026-08-28", None),
        ("2026-08-29", Some(Kind::Fortnight)),
        ("2026-09-08", Some(Kind::Fortnight)),
        ("2026-09-09", Some(Kind::ThreeDays)),
        ("2026-09-11", Some(Kind::ThreeDays)),
        ("2026-09-12", Some(Kind::OnTheDay)),
    ] {
        assert_eq!(asked(&ALL, Word::Due, today), kind, "{today}");
    }
    assert_eq!(asked(&ALL, Word::Late, "2026-09-13"), Some(Kind::Late));
    assert_eq!(asked(&ALL, Word::Late, "2026-10-12"), Some(Kind::Late));
    assert_eq!(
        asked(&ALL, Word::Late, "2026-10-13"),
        None,
        "the list says it"
    );
    assert_eq!(
        asked(&ALL, Word::NotDue, "2026-09-13"),
        None,
        "its clock stands"
    );
    let only_three = Choice {
        three_days: true,
        ..Choice::default()
    };
    assert_eq!(
        asked(&only_three, Word::Due, "2026-09-12"),
        Some(Kind::ThreeDays)
    );
    assert_eq!(asked(&only_three, Word::Due, "2026-09-08"), None);
    assert!(reminder(&ALL, &row(Word::Due, None, "2026-09-12")).is_none());
}

/// Letters nobody sees, marks that turn the writing and ends of lines are no part of a name.
#[test]
fn a_name_is_one_line_of_plain_text() {
    for (typed, said) in [
        ("HG-RACK-A", "HG-RACK-A"),
        ("a\r\nBcc: b", "a Bcc: b"),
        ("a\u{2028}b\u{85}c", "ab c"),
        ("\u{202e}evil\u{2066}", "evil"),
        ("zero\u{200b}width", "zerowidth"),
        ("  Näämä \t 夜 ", "Näämä 夜"),
        ("\u{0}", ""),
    ] {
        assert_eq!(plain(typed), said, "{typed:?}");
    }
}

/// Mondays of September 2026 by the calendar: the 7th, the 14th, the 21st.
#[test]
fn what_is_owed_stands_by_week_with_what_is_late_first() {
    let today = "2026-09-10";
    let rows = [
        row(Word::Late, Some("2026-09-08"), today),
        row(Word::Due, Some("2026-09-12"), today),
        row(Word::Due, Some("2026-09-14"), today),
        row(Word::NotDue, Some("2026-09-27"), today),
        row(Word::NotDue, None, today),
    ];
    let says = Says {
        organisation: "Tamarack Ridge Mechanical",
        everything: true,
        names: true,
        base: "https://book.example",
        today: day(today),
    };
    let (subject, text) = says.digest(&rows.iter().collect::<Vec<_>>());
    assert_eq!(
        subject,
        "Duties of Tamarack Ridge Mechanical: 1 late, 4 to come"
    );
    let capitals = |line: &&str| !line.is_empty() && !line.chars().any(char::is_lowercase);
    let heads: Vec<&str> = text.lines().filter(capitals).collect();
    let expected = [
        "LATE",
        "THIS WEEK, TO 2026-09-13",
        "NEXT WEEK, FROM 2026-09-14",
        "WEEK FROM 2026-09-21",
        "WITHOUT A DAY",
    ];
    assert_eq!(heads, expected, "{text}");
    let (subject, _) = says.reminders(&[&rows[1]]);
    assert_eq!(subject, "Due 2026-09-12: HG-RACK-A, Alder Street: mend it");
    let (subject, _) = says.reminders(&[&rows[0], &rows[1], &rows[2]]);
    assert_eq!(subject, "1 late, 2 due soon, Tamarack Ridge Mechanical");
    let many: Vec<&Row> = std::iter::repeat_n(&rows[1], 203).collect();
    let (_, text) = says.digest(&many);
    assert!(text.contains("\nAnd 3 more.\n"), "{text}");
    let own = Says {
        everything: false,
        ..says
    };
    let (subject, text) = own.digest(&[]);
    assert_eq!(
        subject,
        "Your duties at Tamarack Ridge Mechanical: nothing is assigned to you"
    );
    assert!(text.starts_with("What is assigned to you,") && text.contains("/duties"));
}
