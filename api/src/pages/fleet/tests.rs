//! The fleet: five classes, words and signs, and what has no number.

use super::*;
use crate::ledger::actor::Role;
use crate::pages::sample;
use reports::standing::{MassShown, Standing};

fn of(tag: &str, standing: Standing) -> OfFleet {
    let overview = sample::overview(tag, "R-448A", standing);
    OfFleet {
        thing: overview.thing,
        site: overview.site,
        standing: overview.standing,
        days: vec![Day::parse("2026-06-02").unwrap()],
        retired: None,
    }
}

fn shown(rows: Vec<OfFleet>, unit: &str) -> FleetPage {
    let fleet = Fleet {
        day: Day::parse("2026-07-16").unwrap(),
        all: 120,
        before: 50,
        rows,
    };
    FleetPage::of(sample::frame(Role::Auditor, Part::Appliances), &fleet, unit)
}

fn cells(page: &FleetPage) -> Vec<(&'static str, String)> {
    let cells = page.rows[0].cells.iter();
    cells.map(|cell| (cell.class, cell.text.clone())).collect()
}

/// 26.2524 % of 20 % is 1.3126 of it: the fourth step. 14 lb 8 oz = 14.5 lb = 6.577 kg.
#[test]
fn the_months_hold_masses_and_shades() {
    let over = sample::standing(Some(210), vec![sample::addition(Some(sample::over()))]);
    let page = shown(vec![of("HG-RACK-A", over)], "lb");
    assert_eq!(page.months.len(), 24);
    assert_eq!((page.months[0], page.months[23]), ("Aug", "Jul"));
    let years =
        [("2024", 5), ("2025", 12), ("2026", 7)].map(|(year, months)| (year.to_string(), months));
    assert_eq!(page.years, years);
    let cells = cells(&page);
    assert_eq!(cells[23], ("s4", "14.5".to_string()));
    assert_eq!(
        cells[22],
        ("", "0".to_string()),
        "serviced in June, nothing added"
    );
    assert_eq!(cells[21], ("", "–".to_string()));
    let html = page.render().unwrap();
    for part in [
        "<td class=\"s4\">14.5<span class=\"away\"> at the limit or over it</span></td>",
        "26.3\u{202f}%<span class=\"more\">limit 20\u{202f}%</span>",
        "51 to 51 of 120",
        "href=\"/fleet?before=0&#38;unit=lb\"",
        "href=\"/fleet?before=51&#38;unit=lb\"",
    ] {
        assert!(html.contains(part), "{part} in {html}");
    }
    sample::is_clean(&html);
}

#[test]
fn kilograms_on_request() {
    let over = sample::standing(Some(210), vec![sample::addition(Some(sample::over()))]);
    let page = shown(vec![of("HG-RACK-A", over)], "kg");
    assert_eq!(cells(&page)[23].1, "6.6");
}

#[test]
fn steps_of_the_limit_begin_where_they_are_named() {
    for (share, class) in [
        (0, "s1"),
        (2_499, "s1"),
        (2_500, "s2"),
        (5_000, "s3"),
        (9_999, "s3"),
        (10_000, "s4"),
        (14_999, "s4"),
        (15_000, "s5"),
        (u32::MAX, "s5"),
    ] {
        assert_eq!(shade(share).0, class, "{share}");
    }
    assert_eq!(sample::over().share(), Some(13_126), "529250 / 20160 / 20");
    assert_eq!(
        sample::rate(20, 1, Some(false), Some("20")).share(),
        Some(10_000)
    );
    assert_eq!(sample::rate(20, 1, Some(false), None).share(), None);
}

#[test]
fn what_has_no_number_has_its_sign() {
    let unknown = sample::standing(None, vec![sample::addition(None)]);
    let mut gone = of("PINE-AHU-2", unknown);
    gone.retired = Day::parse("2026-06-30");
    assert_eq!(
        cells(&shown(vec![gone.clone()], "lb"))[23],
        ("", "×".to_string())
    );
    gone.retired = None;
    assert_eq!(cells(&shown(vec![gone], "lb"))[23], ("", "?".to_string()));
    let mut little = sample::addition(Some(sample::rate(1, 100, Some(false), Some("20"))));
    little.mass = MassShown::of(sample::POUND / 1_000);
    let page = shown(
        vec![of("QK-ICE-1", sample::standing(Some(2), vec![little]))],
        "lb",
    );
    assert_eq!(cells(&page)[23], ("s1", "<0.1".to_string()), "not nothing");
}

#[test]
fn hostile_names_stay_text() {
    let standing = sample::standing(None, Vec::new());
    let html = shown(vec![of(&sample::hostile(), standing)], "lb")
        .render()
        .unwrap();
    sample::is_clean(&html);
    assert!(
        shown(Vec::new(), "lb")
            .render()
            .unwrap()
            .contains("There are no more appliances.")
    );
}
