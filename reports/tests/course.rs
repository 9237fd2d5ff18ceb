//! The course of an appliance: what a drawing shows between the additions.
//!
//! Expected figures: HG-RACK-A of the invented firm, 9.25 lb and 14.5 lb of 210 lb, 96 days apart: 26.25 % a
//! year, rolling year 23.75 / 210 = 11.31 %, both worked by hand; 365 days and the restart after a test that
//! shows all leaks repaired are those of 40 CFR 82.152. The limit of 20 % from 2026-01-01 on is 40 CFR
//! 84.106(c)(2)(i).

use reports::appliance::{FactValue, Facts};
use reports::day::{Day, Zone};
use reports::event::{Event, Kind, Reason};
use reports::leak_rate::Method;
use reports::mass::Mass;
use reports::number::Fraction;
use reports::rules::review::SiteSettings;
use reports::rules::{Judge, Tables, shipped};
use reports::standing::{Course, Over, Replaced, StepKind, assess, course};
use std::collections::BTreeMap;

fn day(text: &str) -> Day {
    Day::parse(text).unwrap()
}

fn pounds(hundredths: i64) -> Mass {
    Mass::from_steps(Mass::POUND / 100 * hundredths)
}

fn rack(full_charge: Option<i64>) -> Facts {
    let mut facts = Facts::default();
    for (name, word) in [
        ("region", "US-CO-031"),
        ("refrigerant", "R-448A"),
        ("category", "commercial_refrigeration"),
    ] {
        facts.set(name, Facts::ALWAYS, FactValue::Word(word.to_string()));
    }
    if let Some(full) = full_charge {
        facts.set(
            "full_charge",
            Facts::ALWAYS,
            FactValue::Mass(pounds(full * 100)),
        );
    }
    let installed = FactValue::Day(day("2019-05-20"));
    facts.set("installed", Facts::ALWAYS, installed);
    facts
}

fn event(kind: Kind, entry: u64, on: &str, hundredths: i64) -> Event {
    Event {
        entry,
        chain: u128::from(entry),
        ..Event::new(kind, day(on), pounds(hundredths))
    }
}

fn test(entry: u64, on: &str, words: &[(&str, &str)]) -> Event {
    let words: BTreeMap<String, String> = words
        .iter()
        .map(|(name, word)| (name.to_string(), word.to_string()))
        .collect();
    Event {
        words: Some(Box::new(words)),
        ..event(Kind::VerificationTest, entry, on, 0)
    }
}

fn read(facts: &Facts, events: &[Event], replaced: &[Replaced], last: &str) -> Course {
    let (sets, tables) = (shipped(), Tables::shipped());
    let judge = Judge::new(&sets, &tables).unwrap();
    let settings = SiteSettings {
        methods: vec![(Facts::ALWAYS, Method::Annualising)],
        netting: None,
        zone: Zone::named("America/Denver").unwrap(),
    };
    let standing = assess(&judge, facts, events, &settings, day(last), None);
    let entries = standing
        .additions
        .iter()
        .flat_map(|one| one.entries.clone())
        .collect();
    let days = (day("2024-11-27"), day(last));
    let course = course(&judge, facts, events, &settings, days, &entries, replaced);
    // On the day of each addition the line stands where the standing has it.
    for addition in &standing.additions {
        let on = day(&addition.day);
        let at = course.rolling.iter().rev().find(|from| from.from <= on);
        let Some(rate) = &addition.rates.rolling else {
            assert_eq!(at.and_then(|from| from.percent), None);
            continue;
        };
        let stated = Fraction::new(
            rate.numerator.parse().unwrap(),
            rate.denominator.parse().unwrap(),
        );
        assert_eq!(at.unwrap().percent, Some(stated), "{}", addition.day);
    }
    course
}

fn rolling(course: &Course) -> Vec<(String, String)> {
    let cut = |percent: Option<Fraction>| percent.map_or("unknown".to_string(), |it| it.cut(2));
    let all = course.rolling.iter();
    all.map(|from| (from.from.to_string(), cut(from.percent)))
        .collect()
}

fn named(pairs: &[(&str, &str)]) -> Vec<(String, String)> {
    pairs
        .iter()
        .map(|(day, percent)| (day.to_string(), percent.to_string()))
        .collect()
}

#[test]
fn the_rolling_year_rises_with_additions_and_falls_a_year_later() {
    let events = [
        event(Kind::Charge, 1, "2026-03-01", 925),
        event(Kind::Charge, 2, "2026-06-05", 1450),
    ];
    let course = read(&rack(Some(210)), &events, &[], "2027-11-26");
    let expected = [
        ("2024-11-27", "0.00"),
        ("2026-03-01", "4.40"),
        ("2026-06-05", "11.30"),
        ("2027-03-01", "6.90"),
        ("2027-06-05", "0.00"),
    ];
    assert_eq!(rolling(&course), named(&expected));
}

/// 40 CFR 84.106 counts additions from 2026-01-01 on: what went in before rolls until then only.
#[test]
fn it_is_read_by_the_set_that_judges_on_the_day() {
    let events = [event(Kind::Charge, 1, "2025-06-05", 925)];
    let course = read(&rack(Some(210)), &events, &[], "2026-11-26");
    let expected = [
        ("2024-11-27", "0.00"),
        ("2025-06-05", "4.40"),
        ("2026-01-01", "0.00"),
    ];
    assert_eq!(rolling(&course), named(&expected));
}

#[test]
fn it_begins_again_after_a_test_that_shows_all_leaks_repaired() {
    let again = [
        ("stage", "follow_up"),
        ("result", "passed"),
        ("all_leaks", "yes"),
    ];
    let events = [
        event(Kind::Charge, 1, "2026-04-09", 925),
        event(Kind::Charge, 2, "2026-07-14", 1450),
        event(Kind::Repair, 3, "2026-07-21", 0),
        test(
            4,
            "2026-07-21",
            &[("stage", "initial"), ("result", "failed")],
        ),
        test(5, "2026-07-28", &again),
        event(Kind::Charge, 6, "2026-09-01", 210),
    ];
    let course = read(&rack(Some(210)), &events, &[], "2026-11-26");
    let expected = [
        ("2024-11-27", "0.00"),
        ("2026-04-09", "4.40"),
        ("2026-07-14", "11.30"),
        ("2026-07-28", "0.00"),
        ("2026-09-01", "1.00"),
    ];
    assert_eq!(rolling(&course), named(&expected));
    // It says since when it counts, while that is less than a year: 365 days later it is a year as any.
    assert_eq!(course.restarted, Some(day("2026-07-28")));
    let at = |last| read(&rack(Some(210)), &events, &[], last).restarted;
    assert_eq!(at("2026-07-27"), None);
    assert_eq!(at("2027-07-27"), Some(day("2026-07-28")));
    assert_eq!(at("2027-07-28"), None);
    let steps: Vec<(u64, StepKind)> = course.steps.iter().map(|it| (it.entry, it.what)).collect();
    let expected = [
        (3, StepKind::Repair),
        (4, StepKind::Failed),
        (5, StepKind::Passed),
    ];
    assert_eq!(steps, expected);
}

#[test]
fn the_limit_begins_when_its_rule_does() {
    let course = read(&rack(Some(210)), &[], &[], "2026-11-26");
    let limits: Vec<(String, Option<&str>, Over)> = (course.limits.iter())
        .map(|from| {
            let number = from.number.as_ref().map(|number| number.number.as_str());
            (from.from.to_string(), number, from.known)
        })
        .collect();
    let expected = [
        ("2024-11-27".to_string(), None, Over::No),
        ("2026-01-01".to_string(), Some("20"), Over::Yes),
    ];
    assert_eq!(limits, expected);
    assert!(course.left_out.is_empty() && course.corrected.is_empty());
}

#[test]
fn without_a_full_charge_nothing_rolls() {
    let events = [event(Kind::Charge, 1, "2026-05-05", 200)];
    let course = read(&rack(None), &events, &[], "2026-11-26");
    assert_eq!(rolling(&course), named(&[("2024-11-27", "unknown")]));
}

#[test]
fn what_is_no_addition_and_what_was_corrected_is_told() {
    let mut installed = event(Kind::Charge, 1, "2026-03-17", 12_000);
    installed.reason = Some(Reason::Installation);
    let more = Event {
        entry: 2,
        chain: 2,
        ..installed.clone()
    };
    let stands = event(Kind::Charge, 5, "2026-06-02", 563);
    let was = |entry, on, hundredths, newest| Replaced {
        event: event(Kind::Charge, entry, on, hundredths),
        by: newest,
        newest,
    };
    let replaced = [
        was(3, "2026-06-02", 1563, 5),
        was(4, "2026-06-02", 563, 5),
        was(6, "2026-08-01", 100, 7),
        was(8, "2020-08-01", 100, 9),
    ];
    let course = read(
        &rack(Some(210)),
        &[installed, more, stands],
        &replaced,
        "2026-11-26",
    );
    assert_eq!(course.left_out.len(), 1);
    let left_out = &course.left_out[0];
    assert_eq!(
        (left_out.why, left_out.mass.lb_oz.as_str()),
        ("installation", "240 lb 0 oz")
    );
    assert_eq!(left_out.entries, [1, 2]);
    let told: Vec<(u64, Option<u64>)> = (course.corrected.iter())
        .map(|one| (one.entry, one.now.as_ref().map(|(entry, ..)| *entry)))
        .collect();
    assert_eq!(
        told,
        [(3, Some(5)), (6, None)],
        "the same again is no other value"
    );
}
