//! The drawing against the table, the worked figures of the invented firm and hostile names.
//!
//! HG-RACK-A: 14 lb 8 oz of 210 lb 96 days after the addition before are 26.25 % a year, with the 9 lb 4 oz
//! before 11.31 % in the rolling year (14.5 / 210 x 365 / 96; 23.75 / 210), worked by hand.

use super::*;
use crate::pages::picture::read;
use crate::pages::sample;
use reports::standing::{
    Corrected, LimitFrom, LineShown, MassShown, OpenedShown, RollingFrom, StartShown, StepKind,
};

mod since;

fn day(text: &str) -> Day {
    Day::parse(text).unwrap()
}

/// Ounces as a mass.
fn ounces(ounces: i128) -> MassShown {
    MassShown::of(sample::POUND / 16 * ounces)
}

fn number(text: &str) -> LineShown {
    let mut line = sample::exceedance("2026-07-14").bounds.remove(0).number;
    line.number = text.to_string();
    line
}

fn limit(from: &str, text: Option<&str>) -> LimitFrom {
    LimitFrom {
        from: day(from),
        number: text.map(number),
        title: None,
        known: if text.is_some() { Over::Yes } else { Over::No },
    }
}

/// The addition of so many ounces on a day, at so many days after the one before.
fn addition(on: &str, entry: u64, weight: i128, days: i128, limit: &str) -> AdditionShown {
    // weight / 16 / 210 x 365 / days, in percent.
    let (above, below) = (weight * 36_500, 16 * 210 * days);
    let of: i128 = limit.parse().unwrap();
    let rate = sample::rate(above, below, Some(above > of * below), Some(limit));
    let mut addition = sample::addition(Some(rate));
    addition.day = on.to_string();
    addition.mass = ounces(weight);
    addition.entries = vec![entry];
    addition
}

/// A step of a follow-up, done on a day or still owed.
fn duty(case: usize, since: &str, on: Option<&str>) -> DutyShown {
    let mut duty = sample::duty(Some("2026-08-13"));
    (duty.case, duty.since) = (Some(case), since.to_string());
    (duty.on, duty.is_owed) = (on.map(str::to_string), on.is_none());
    duty.opened = Some(OpenedShown {
        on: since.to_string(),
        by: StartShown {
            kind: "limit",
            limit: None,
            duty: None,
            entries: Vec::new(),
        },
        measured: None,
    });
    duty
}

/// The course of HG-RACK-A: two follow-ups, a house rule of 25 % until 2026, a corrected value.
fn rack() -> (Standing, Course) {
    let additions = vec![
        addition("2024-09-24", 803, 300, 196, "25"),
        addition("2024-12-17", 1_107, 196, 84, "25"),
        addition("2025-06-02", 1_733, 90, 167, "25"),
        addition("2026-04-09", 4_391, 148, 311, "20"),
        addition("2026-07-14", 4_807, 232, 96, "20"),
    ];
    let mut standing = sample::standing(Some(210), additions);
    standing.duties = vec![
        duty(1, "2026-07-14", None),
        duty(1, "2026-07-14", Some("2026-07-14")),
        duty(1, "2026-07-14", None),
        duty(0, "2024-12-17", Some("2025-01-08")),
        duty(0, "2024-12-17", Some("2025-01-17")),
    ];
    let rolling = |from: &str, hundredths: i128| RollingFrom {
        from: day(from),
        percent: Some(Fraction::new(hundredths, 210)),
    };
    let step = |on: &str, entry: u64, what: StepKind| StepDone {
        day: day(on),
        entry,
        what,
    };
    let course = Course {
        first: day("2024-07-17"),
        last: day("2026-07-16"),
        limits: vec![
            limit("2024-07-17", Some("25")),
            limit("2026-01-01", Some("20")),
        ],
        rolling: vec![
            rolling("2024-07-17", 0),
            rolling("2024-09-24", 1_875),
            rolling("2024-12-17", 3_100),
            rolling("2025-01-17", 0),
            rolling("2025-06-02", 562),
            rolling("2026-04-09", 1_487),
            rolling("2026-06-02", 925),
            rolling("2026-07-14", 2_375),
        ],
        restarted: None,
        steps: vec![
            step("2025-01-08", 1_140, StepKind::Repair),
            step("2025-01-17", 1_162, StepKind::Passed),
            step("2026-07-14", 4_808, StepKind::Repair),
        ],
        left_out: Vec::new(),
        corrected: vec![Corrected {
            day: day("2025-06-02"),
            mass: ounces(250),
            entry: 1_730,
            by: 1_733,
            now: Some((1_733, day("2025-06-02"), ounces(90))),
        }],
        days: Vec::new(),
        retired: None,
    };
    (standing, course)
}

/// E33: golden text, described, the same twice.
#[test]
fn the_picture_of_the_rack_is_drawn_as_it_was_looked_at() {
    let (standing, course) = rack();
    let shown = LossPicture::of("HG-RACK-A", &standing, &course).unwrap();
    assert_eq!(
        shown.picture.sentence,
        "Rate 26.3\u{202f}% a year after 14 lb 8 oz on 14 July 2026; limit 20\u{202f}%; follow-up 2 open \
         since 14 July 2026, 1 of 3 steps done."
    );
    for (name, drawing) in [
        ("loss-wide", &shown.picture.wide),
        ("loss-narrow", &shown.picture.narrow),
    ] {
        let read = read::drawing(drawing);
        read.is_legible();
        assert_eq!(
            read.title,
            "Loss and limit, HG-RACK-A, July 2024 to July 2026"
        );
        assert!(
            read.says.starts_with(&shown.picture.sentence),
            "{}",
            read.says
        );
        assert!(
            read.says
                .ends_with("The rolling year stands at 11.3\u{202f}%."),
            "{}",
            read.says
        );
        sample::is_as_kept(name, drawing);
    }
    assert_eq!(
        Some(shown),
        LossPicture::of("HG-RACK-A", &standing, &course),
        "the same twice"
    );
}

/// Every mass and percent that is drawn stands in the table, and the masses add up: 18 lb 12 oz + 12 lb 4 oz +
/// 5 lb 10 oz + 9 lb 4 oz + 14 lb 8 oz = 60 lb 6 oz.
#[test]
fn what_is_drawn_stands_in_the_table() {
    let (standing, course) = rack();
    let shown = LossPicture::of("HG-RACK-A", &standing, &course).unwrap();
    let mut cells = vec!["10", "20", "30", "0"];
    for row in &shown.rows {
        cells.extend([&row.mass, &row.rate, &row.rolling, &row.limit].map(String::as_str));
    }
    let mut numbers = 0;
    for text in &read::drawing(&shown.picture.wide).texts {
        let number = text
            .trim_start_matches("first booked as ")
            .trim_start_matches("limit ");
        if text.ends_with("oz") || text.ends_with('%') {
            assert!(cells.contains(&number), "{text} is in no cell of {cells:?}");
            numbers += 1;
        }
    }
    // Five masses, five rates, two limits, the rolling year, the corrected mass.
    assert_eq!(
        numbers,
        14,
        "{:?}",
        read::drawing(&shown.picture.wide).texts
    );
    let rates: Vec<&str> = (shown.rows.iter())
        .map(|row| row.rate.as_str())
        .filter(|rate| !rate.is_empty())
        .collect();
    let worked = ["16.6", "25.3", "5.9", "5.2", "26.3"].map(|rate| format!("{rate}\u{202f}%"));
    assert_eq!(rates, worked);
    assert_eq!(shown.total, "60 lb 6 oz");
    let struck: Vec<&str> = shown
        .rows
        .iter()
        .filter(|row| row.struck)
        .map(|row| row.mass.as_str())
        .collect();
    assert_eq!(struck, ["15 lb 10 oz"]);
}

/// Where things stand: the newest upright ends at 26.2524 of 30 % of 218 units above the base at 262, which is
/// 190.8 above it; the corrected value at 250 / 90 of 5.8544 %, 16.262 %.
#[test]
fn uprights_end_where_their_rates_are() {
    let (standing, course) = rack();
    let svg = LossPicture::of("HG-RACK-A", &standing, &course)
        .unwrap()
        .picture
        .wide;
    assert!(svg.svg().contains(" 262L572.5 71.2\""), "{}", svg.svg());
    assert!(svg.svg().contains("L274.4 143.8\""), "{}", svg.svg());
}

#[test]
fn what_cannot_be_drawn_is_said() {
    let (_, mut course) = rack();
    course.limits = vec![limit("2024-07-17", None)];
    course.rolling = vec![RollingFrom {
        from: course.first,
        percent: None,
    }];
    course.corrected.clear();
    course.left_out = vec![LeftOut {
        day: day("2025-03-17"),
        mass: ounces(3_808),
        entries: vec![7, 8],
        why: "installation",
    }];
    let standing = sample::standing(None, vec![sample::addition(None)]);
    let shown = LossPicture::of("PINE-AHU-2", &standing, &course).unwrap();
    for drawing in [&shown.picture.wide, &shown.picture.narrow] {
        let read = read::drawing(drawing);
        read.is_legible();
        for text in [
            "full charge unknown",
            "14 lb 8 oz",
            "238 lb 0 oz",
            "installation",
        ] {
            assert!(
                read.texts.iter().any(|written| written == text),
                "{text}: {:?}",
                read.texts
            );
        }
        assert!(
            !read.texts.iter().any(|text| text.ends_with('%')),
            "no rate is made up"
        );
    }
    assert!(
        shown
            .picture
            .sentence
            .starts_with("No rate: the full charge is not known; 14 lb 8 oz went in")
    );
    course.left_out.clear();
    course.steps.clear();
    let nothing = sample::standing(Some(210), Vec::new());
    assert_eq!(LossPicture::of("HG-RACK-A", &nothing, &course), None);
}

/// A rate beyond three times the limit is cut; its number is written all the same.
#[test]
fn a_rate_above_the_scale_is_cut_and_named() {
    let (mut standing, course) = rack();
    // 232 oz after one day: 14.5 / 210 x 365 = 2 520.2 %.
    standing.additions[4] = addition("2026-07-14", 4_807, 232, 1, "20");
    let shown = LossPicture::of("HG-RACK-A", &standing, &course).unwrap();
    for drawing in [&shown.picture.wide, &shown.picture.narrow] {
        let read = read::drawing(drawing);
        read.is_legible();
        assert!(
            read.texts.iter().any(|text| text == "2520.2\u{202f}%"),
            "{:?}",
            read.texts
        );
        assert!(
            read.texts.iter().any(|text| text == "80"),
            "three times 25 % ends at 80: {:?}",
            read.texts
        );
    }
}

/// Every week an addition: whatever finds no room is left to the table, nothing covers anything.
#[test]
fn a_crowded_picture_stays_legible() {
    let (mut standing, mut course) = rack();
    let on = |week: i32| course.first.plus(week * 7).to_string();
    standing.additions = (0..104)
        .map(|week| {
            addition(
                &on(week),
                100 + week.unsigned_abs() as u64,
                100 + i128::from(week),
                7,
                "20",
            )
        })
        .collect();
    course.steps = (0..104)
        .map(|week| StepDone {
            day: course.first.plus(week * 7),
            entry: 500,
            what: StepKind::Repair,
        })
        .collect();
    let shown = LossPicture::of("HG-RACK-A", &standing, &course).unwrap();
    for drawing in [&shown.picture.wide, &shown.picture.narrow] {
        read::drawing(drawing).is_legible();
    }
    assert_eq!(
        shown.rows.iter().filter(|row| !row.rate.is_empty()).count(),
        104
    );
}

#[test]
fn hostile_names_stay_inside() {
    let (standing, course) = rack();
    for tag in [
        "</text><script>alert(1)</script>",
        "HG-\u{202e}A",
        &"W".repeat(200),
    ] {
        let shown = LossPicture::of(tag, &standing, &course).unwrap();
        for drawing in [&shown.picture.wide, &shown.picture.narrow] {
            read::drawing(drawing).is_legible();
            sample::is_clean(drawing.svg());
            assert!(!drawing.svg().contains('\u{202e}'));
        }
    }
}
