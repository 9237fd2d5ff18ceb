//! The page of the year: its files, and the year of mass (E33, E21).

use super::*;
use crate::ledger::actor::Role;
use crate::pages::picture::read;
use crate::pages::sample;
use reports::event::Kind;
use reports::mass::Mass;
use reports::sheet::mass_balance::{End, Moved, Stock, Vessel};
use std::collections::BTreeSet;

mod unexplained;

fn page(role: Role, year: Option<i16>, unit: Option<&str>) -> YearPage {
    let today = day("2026-11-26");
    let asked = AskedYear {
        year,
        unit: unit.map(str::to_string),
        ..AskedYear::default()
    };
    YearPage::of(sample::frame(role, Part::Year), today, &asked)
}

#[test]
fn the_files_are_those_of_the_year_and_unit_asked_for() {
    let html = page(Role::Auditor, Some(2025), Some("kg"))
        .render()
        .unwrap();
    assert!(
        html.contains("/api/v1/reports/appliance-year.csv?year=2025&#38;unit=kg"),
        "{html}"
    );
    assert!(html.contains("/api/v1/reports/additions.csv?year=2025&#38;unit=kg"));
    assert!(html.contains("<option selected>2025</option>"));
    // A year that is over needs no day; each report has four files, and one that holds them all.
    assert!(!html.contains("on=2026"), "{html}");
    let files = if cfg!(feature = "xlsx") { 5 } else { 4 };
    assert_eq!(html.matches("/api/v1/reports/").count(), files * 9);
    let workbook = "/api/v1/reports/additions.xlsx?year=2025&#38;unit=kg\"";
    assert_eq!(html.contains(workbook), cfg!(feature = "xlsx"), "{html}");
    let both = "kg&#38;for=spreadsheet&#38;decimal=point";
    assert!(
        html.contains(both) && html.contains("kg&#38;describes=file"),
        "{html}"
    );
}

#[test]
fn how_things_stand_is_asked_for_today_while_the_year_runs() {
    let html = page(Role::Auditor, None, None).render().unwrap();
    let dated = "follow-ups.csv?year=2026&#38;unit=lb&#38;on=2026-11-26";
    assert!(html.contains(dated), "{html}");
    assert!(html.contains("appliance-year.csv?year=2026&#38;unit=lb\""));
    assert!(html.contains("82.157(d)") && html.contains("Who asks for it"));
}

#[test]
fn a_year_or_unit_nobody_has_is_the_usual_one() {
    for (year, unit) in [
        (None, None),
        (Some(3000), Some("stone")),
        (Some(-5), Some("")),
    ] {
        let shown = page(Role::Auditor, year, unit);
        assert_eq!((shown.year, shown.unit), (2026, "lb"));
    }
    let html = page(Role::Technician, None, None).render().unwrap();
    assert!(!html.contains(".csv"), "{html}");
    assert!(html.contains("Ask the compliance manager."));
}

/// The year 2025 of R-410A in the invented scenario, in pounds and quarters of ounces: 164 were there,
/// 250 bought, 187 lb 6 oz recovered, 601 lb 6 oz in all.
fn scenario() -> Vec<Balance> {
    use Kind::*;
    const SUPPLY: End = End::Cylinder(Vessel::Supply);
    const RECOVERY: End = End::Cylinder(Vessel::Recovery);
    let mut stock = Stock::new(day("2025-01-01"));
    let ounces = [
        ("2024-05-01", Purchase, End::Counterparty, SUPPLY, 140 * 16),
        ("2024-06-01", Recover, End::Appliance, RECOVERY, 24 * 16),
        ("2025-01-10", Purchase, End::Counterparty, SUPPLY, 250 * 16),
        ("2025-02-01", Charge, SUPPLY, End::Appliance, 308 * 16 + 2),
        ("2025-02-02", Charge, RECOVERY, End::Appliance, 10 * 16),
        (
            "2025-03-01",
            Recover,
            End::Appliance,
            RECOVERY,
            187 * 16 + 6,
        ),
        (
            "2025-04-01",
            SendToReclaim,
            RECOVERY,
            End::Counterparty,
            121 * 16 + 4,
        ),
        (
            "2025-04-02",
            SendToDestruction,
            RECOVERY,
            End::Counterparty,
            9 * 16 + 8,
        ),
        ("2025-05-01", Return, SUPPLY, End::Counterparty, 25 * 16),
        ("2025-06-01", Loss, SUPPLY, End::Atmosphere, 16 + 12),
        ("2025-12-30", Count, SUPPLY, End::Unexplained, 16 + 2),
        ("2025-12-31", Transfer, SUPPLY, RECOVERY, 4 * 16),
    ];
    for (entry, (on, kind, from, to, ounces)) in (1..).zip(ounces) {
        stock.take(&Moved {
            entry,
            kind,
            day: day(on),
            refrigerant: 0,
            mass: Mass::from_steps(ounces * Mass::OUNCE),
            from,
            to,
        });
    }
    stock.balances(&["R-410A"], &BTreeSet::new())
}

fn day(text: &str) -> Day {
    Day::parse(text).expect("a day")
}

fn drawn() -> MassOfYear {
    MassOfYear::of(&scenario(), None, 2025, "/year?year=2025&unit=lb").expect("a picture")
}

/// E33: XML, described, legible, the same twice and as it was kept.
#[test]
fn e33_the_year_of_mass_is_drawn_as_it_was_kept() {
    let (one, other) = (drawn().picture, drawn().picture);
    assert_eq!(one, other);
    for (name, drawing) in [
        ("year-of-mass-wide", &one.wide),
        ("year-of-mass-narrow", &one.narrow),
    ] {
        let read = read::drawing(drawing);
        read.is_legible();
        assert_eq!(read.title, "The year of mass 2025: R-410A");
        assert!(
            read.says.contains("1 lb 2 oz has no explanation yet"),
            "{}",
            read.says
        );
        for text in [
            "187 lb 6 oz",
            "318 lb 2 oz",
            "124 lb 10 oz",
            // The word of the list beside it, too.
            if name.ends_with("wide") {
                "unexplained: short"
            } else {
                "unexpl. short"
            },
            "1 lb 2 oz",
        ] {
            assert!(
                read.texts.iter().any(|one| one == text),
                "{name}: no {text}"
            );
        }
        sample::is_as_kept(name, drawing);
    }
    // 318.125 of 601.375 lb on 240 units are 126.96, rounded to tenths 127.
    assert!(
        one.wide.svg().contains("height=\"127\""),
        "{}",
        one.wide.svg()
    );
    let said = "601 lb 6 oz of R-410A came in or was there; 318 lb 2 oz went into appliances, \
                124 lb 10 oz is still there. 1 lb 2 oz has no explanation yet.";
    assert_eq!(one.sentence, said);
}

/// Exact grams as text in steps.
fn steps(text: &str) -> i128 {
    let (whole, part) = text.split_once('.').unwrap_or((text, ""));
    format!("{whole}{part:0<11}").parse().expect("a number")
}

/// E21: the table has the drawing's figures, and adds up to the last step.
#[test]
fn e21_the_table_below_the_drawing_adds_up() {
    let drawn = drawn();
    let texts = read::drawing(&drawn.picture.wide).texts;
    let mut totals = Vec::new();
    for side in &drawn.sides {
        let sum = |of: &dyn Fn(&mass::SideRow) -> i128| side.rows.iter().map(of).sum::<i128>();
        let whole = sum(&|row| steps(&row.whole.g));
        assert_eq!(whole, steps(&side.total.whole.g), "{}", side.caption);
        for at in 0..drawn.parts.len() {
            let part = sum(&|row| steps(&row.parts[at].g));
            assert_eq!(
                part,
                steps(&side.total.parts[at].g),
                "{} {at}",
                side.caption
            );
        }
        for row in side
            .rows
            .iter()
            .filter(|row| !row.name.contains("another kind"))
        {
            assert!(
                texts.contains(&row.whole.lb_oz),
                "{} is not drawn",
                row.name
            );
        }
        totals.push(whole);
    }
    // 601 lb 6 oz: 9 622 ounces of 28.349523125 g.
    assert_eq!(totals, [9_622 * i128::from(Mass::OUNCE); 2]);
    assert_eq!(drawn.parts, ["supply cylinders", "recovery cylinders"]);
}

#[test]
fn what_is_less_than_nothing_is_said_and_drawn() {
    let mut stock = Stock::new(day("2025-01-01"));
    for (entry, to) in [(1, End::Appliance), (2, End::Unexplained)] {
        stock.take(&Moved {
            entry,
            kind: Kind::Charge,
            day: day("2025-02-01"),
            refrigerant: 0,
            mass: Mass::from_steps(3 * Mass::POUND),
            from: End::Cylinder(Vessel::NotStated),
            to,
        });
    }
    let balances = stock.balances(&["R-32"], &BTreeSet::new());
    let drawn = MassOfYear::of(&balances, Some("R-410A"), 2025, "/year").expect("a picture");
    assert!(
        drawn
            .picture
            .sentence
            .ends_with("below nothing: an entry is missing.")
    );
    for drawing in [&drawn.picture.wide, &drawn.picture.narrow] {
        let read = read::drawing(drawing);
        read.is_legible();
        assert!(
            read.texts.iter().any(|text| text == "-6 lb 0 oz"),
            "{:?}",
            read.texts
        );
    }
}

/// Every kind of cylinder and every figure at once, with masses of many letters: no name over another.
#[test]
fn everything_at_once_is_legible() {
    let mut stock = Stock::new(day("2025-01-01"));
    let vessels = [
        Vessel::Supply,
        Vessel::Disposable,
        Vessel::Recovery,
        Vessel::NotStated,
    ];
    let ends = [
        (Kind::Purchase, End::Counterparty),
        (Kind::Recover, End::Appliance),
        (Kind::Opening, End::Opening),
        (Kind::Count, End::Unexplained),
        (Kind::Redesignate, End::Redesignation),
        (Kind::Statement, End::Residue),
        (Kind::Loss, End::Atmosphere),
        (Kind::SendToReclaim, End::Counterparty),
        (Kind::SendToDestruction, End::Counterparty),
    ];
    let mut entry = 0;
    for (kind, end) in ends {
        for (at, vessel) in (1..).zip(vessels) {
            for (from, to) in [(end, End::Cylinder(vessel)), (End::Cylinder(vessel), end)] {
                entry += 1;
                let mass = Mass::from_steps(1_234_567_890_123 * (at * 17 + entry as i64));
                let (day, refrigerant) = (day("2025-02-01"), 0);
                stock.take(&Moved {
                    entry,
                    kind,
                    day,
                    refrigerant,
                    mass,
                    from,
                    to,
                });
            }
        }
    }
    let mass = Mass::from_steps(55 * Mass::POUND);
    for (from, to) in [
        (End::Counterparty, End::Residue),
        (End::Unexplained, End::Counterparty),
    ] {
        let (day, kind, refrigerant) = (day("2025-03-01"), Kind::Statement, 0);
        stock.take(&Moved {
            entry,
            kind,
            day,
            refrigerant,
            mass,
            from,
            to,
        });
    }
    let balances = stock.balances(&["R-1234ze(E)"], &BTreeSet::new());
    let drawn = MassOfYear::of(&balances, None, 2025, "/year").expect("a picture");
    assert_eq!(drawn.parts.len(), 5);
    read::drawing(&drawn.picture.wide).is_legible();
    read::drawing(&drawn.picture.narrow).is_legible();
}

/// The page: a reader who may not take the file sees no picture; a large book is asked about.
#[test]
fn the_page_shows_the_picture_to_whom_it_may() {
    let balances = scenario();
    let shown = page(Role::Auditor, Some(2025), None)
        .with(Some(&balances), None)
        .render()
        .unwrap();
    assert!(
        shown.contains("class=\"pic\"") && shown.contains("id=\"mass\""),
        "{shown}"
    );
    assert!(
        shown.contains("<data value=\"272779.11150875\">601 lb 6 oz</data>"),
        "{shown}"
    );
    assert!(shown.contains("refrigerant=R%2D410A#mass"), "{shown}");
    let asked = page(Role::Auditor, Some(2025), None)
        .with(None, None)
        .render()
        .unwrap();
    assert!(
        asked.contains("/year?year=2025&#38;unit=lb&#38;draw=yes#mass"),
        "{asked}"
    );
    let empty = page(Role::Auditor, Some(2025), None)
        .with(Some(&[]), None)
        .render()
        .unwrap();
    assert!(empty.contains("Nothing was in a cylinder in 2025"));
    let technician = page(Role::Technician, Some(2025), None).render().unwrap();
    assert!(!technician.contains("id=\"mass\""));
}
