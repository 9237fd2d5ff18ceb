//! The reports `disposals-by-month` and `releases` against figures worked out by hand.
//!
//! 40 CFR 82.156(a)(3): appliances with more than 5 and less than 50 lb. SOR/2022-110, sections 24
//! and 25: releases of 100 kg, and of more than 10 kg.

use crate::making;

use crate::making::{Machine, cells, day, made, mass, rows, until};
use reports::event::Kind::{Charge, Loss, Recover};
use reports::event::{Kind, Reason};
use reports::mass::Unit;
use reports::refrigerant::Table;
use reports::sheet::{Elsewhere, Options, Report};

fn emptied(tag: &'static str, full_charge: &str, entry: u64, on: &str, amount: &str) -> Machine {
    let facts = [
        ("region", "US-OH"),
        ("refrigerant", "R-410A"),
        ("full_charge", full_charge),
    ];
    let own: Vec<_> = facts
        .into_iter()
        .filter(|(_, word)| !word.is_empty())
        .collect();
    let unit = Machine::new(tag, "QK", &own);
    unit.event(entry, on, Recover, amount, &[("reason", "disposal")])
}

fn shipment(entry: u64, on: &str, pounds: &str) -> Elsewhere {
    Elsewhere {
        entry,
        kind: Kind::SendToReclaim,
        reason: None,
        day: day(on),
        refrigerant: Table::shipped().code("R-410A").unwrap(),
        mass: mass(pounds, "lb"),
        from: "TR-0417".to_string(),
        to: "Corvane Reclaim".to_string(),
    }
}

fn emptied_fleet() -> [Machine; 6] {
    [
        emptied("A-12", "12 lb", 7, "2024-04-20", "9.375 lb"),
        emptied("B-5", "5 lb", 8, "2024-04-21", "5 lb"),
        emptied("C-50", "50 lb", 9, "2024-04-22", "48 lb"),
        emptied("D-49", "49.99 lb", 10, "2024-04-20", "4 lb"),
        emptied("E-UNKNOWN", "", 11, "2024-04-30", "3 lb"),
        emptied("F-12", "12 lb", 12, "2024-05-01", "6 lb"),
    ]
}

const LOG: &[&str] = &[
    "month",
    "line",
    "on",
    "appliance",
    "in_log",
    "disposals",
    "recovered_lb",
    "sent_lb",
];

/// 82.156(a)(3): 5 lb and 50 lb themselves are outside. April: 9.375 + 4 + 3 lb recovered, 12 lb
/// sent on; May: 6 lb. A unit without a known full charge stays in, and nobody says that it must.
#[test]
fn the_disposal_log_by_month() {
    let sent = [
        shipment(20, "2024-04-25", "12"),
        shipment(21, "2025-01-01", "1"),
    ];
    let (report, rules) = (Report::DisposalsByMonth, &["us-disposal-log"]);
    let written = made(
        report,
        rules,
        &emptied_fleet(),
        &sent,
        Options::of_year(2024),
    );
    let rows = rows(&written.csv);
    let found: Vec<_> = rows.iter().map(|row| cells(row, LOG).join(" ")).collect();
    let expected = [
        "2024-04 disposal 2024-04-20 A-12 yes 1 9.375 ",
        "2024-04 disposal 2024-04-20 D-49 yes 1 4 ",
        "2024-04 disposal 2024-04-30 E-UNKNOWN  1 3 ",
        "2024-04 sent 2024-04-25   0  12",
        "2024-04 total    3 16.375 12",
        "2024-05 disposal 2024-05-01 F-12 yes 1 6 ",
        "2024-05 total    1 6 0",
    ];
    assert_eq!(found, expected, "{}", written.csv);
    let told = ["company", "site", "refrigerant", "set", "clause", "entry"];
    let told = cells(&rows[0], &told).join(" | ");
    let log = "us-disposal-log | 40 CFR 82.156(a)(3) | 7";
    assert_eq!(
        told,
        format!("Tamarack Ridge Mechanical | QK | R-410A | {log}")
    );
    assert_eq!(
        cells(&rows[3], &["way", "receiver"]),
        ["reclaim", "Corvane Reclaim"]
    );
    assert_eq!(written.summary.cannot_judge, 1);
}

/// Without a set that keeps such a log nobody can say, and nothing is left out.
#[test]
fn without_a_rule_every_disposal_stands_in_the_log_unjudged() {
    let report = Report::DisposalsByMonth;
    let all = made(report, &[], &emptied_fleet(), &[], Options::of_year(2024));
    let disposals = making::rows(&all.csv);
    let lines = disposals.iter().filter(|row| row["line"] == "disposal");
    assert_eq!(lines.filter(|row| row["in_log"].is_empty()).count(), 6);
}

/// Sections 24 and 25: exactly 10 kg nothing; 99 kg in March, the half-year's report by 31 July;
/// exactly 100 kg, 24 hours and 30 days (10 April) from 2025-03-11 08:00.
#[test]
fn releases_by_site_with_what_must_be_handed_in() {
    let federal = [
        ("region", "CA-ON"),
        ("owner_class", "federal"),
        ("land", "other"),
        ("refrigerant", "R-134a"),
        ("full_charge", "200 kg"),
    ];
    let mut a = Machine::new("A", "OTTAWA-1", &federal)
        .event(1, "2025-03-10", Loss, "10 kg", &[])
        .event(2, "2025-03-10T09:00", Loss, "99 kg", &[])
        .charge(3, "2025-03-12", "105 kg");
    a.zone = "America/Toronto";
    let mut b = Machine::new("B", "OTTAWA-2", &federal)
        .event(4, "2025-03-11T08:00", Loss, "100 kg", &[])
        .event(5, "2026-01-01", Loss, "50 kg", &[]);
    b.zone = "America/Toronto";
    let options = Options {
        unit: Unit::Kilogram,
        ..until("2025-03-11")
    };
    let rules = &["ca-halocarbon-2022"];
    let written = made(Report::Releases, rules, &[a, b], &[], options);
    let rows = rows(&written.csv);
    let columns = [
        "line",
        "site",
        "appliance",
        "releases",
        "released_kg",
        "limit",
        "over",
        "next_due",
    ];
    let found: Vec<_> = rows.iter().map(|row| cells(row, &columns)).collect();
    let at_once = "2025-03-12T08:00:00-04:00";
    let expected = [
        ["release", "OTTAWA-1", "A", "1", "10", "", "no", ""],
        [
            "release",
            "OTTAWA-1",
            "A",
            "1",
            "99",
            "small_release",
            "yes",
            "2025-07-31",
        ],
        ["site", "OTTAWA-1", "", "2", "109", "", "", ""],
        [
            "release",
            "OTTAWA-2",
            "B",
            "1",
            "100",
            "big_release",
            "yes",
            at_once,
        ],
        ["site", "OTTAWA-2", "", "1", "100", "", "", ""],
        ["jurisdiction", "", "", "3", "209", "", "", ""],
    ];
    assert_eq!(found, expected, "{}", written.csv);
    assert!(
        rows[3]["reports"].contains("full_report 2025-04-10 open"),
        "{}",
        rows[3]["reports"]
    );
}

/// A stated loss that is filled up again stands beside the topping up and is not added to it; a
/// first charge is no topping up; what a cylinder lost has no site.
#[test]
fn releases_and_topping_up_stand_apart() {
    let facts = [
        ("region", "US-CO"),
        ("refrigerant", "R-410A"),
        ("full_charge", "22 lb"),
    ];
    let unit = Machine::new("A", "HG", &facts)
        .event(
            1,
            "2024-01-05",
            Charge,
            "22 lb",
            &[("reason", "installation")],
        )
        .event(2, "2024-02-01", Loss, "5 lb", &[])
        .charge(3, "2024-02-02", "5.5 lb");
    let hose = Elsewhere {
        kind: Loss,
        reason: None::<Reason>,
        to: String::new(),
        ..shipment(9, "2024-06-01", "0.25")
    };
    let written = made(
        Report::Releases,
        &[],
        &[unit],
        &[hose],
        Options::of_year(2024),
    );
    let rows = rows(&written.csv);
    let columns = [
        "line",
        "jurisdiction",
        "site",
        "cylinder",
        "released_lb",
        "topped_up_lb",
        "over",
    ];
    let found: Vec<_> = rows.iter().map(|row| cells(row, &columns)).collect();
    let expected = [
        ["release", "", "", "TR-0417", "0.25", "", ""],
        ["site", "", "", "", "0.25", "0", ""],
        ["jurisdiction", "", "", "", "0.25", "0", ""],
        ["release", "US-CO", "HG", "", "5", "", ""],
        ["site", "US-CO", "HG", "", "5", "5.5", ""],
        ["jurisdiction", "US-CO", "", "", "5", "5.5", ""],
    ];
    assert_eq!(found, expected, "{}", written.csv);
}
