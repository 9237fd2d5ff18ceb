//! The reports `yearly-loss` and `yearly-co2e` against figures worked out by hand.
//!
//! 40 CFR 82.157(j): 125 % of the full charge in a calendar year, report by 1 March. Japan's yearly
//! report (Ministry of the Environment's page): charged less recovered at service x GWP from April
//! to March, 1 000 t, by 31 July.

use crate::making;

use crate::making::{Machine, cells, made, rows, until};
use reports::event::Kind::{Charge, Recover};
use reports::mass::Unit;
use reports::refrigerant::Basis;
use reports::sheet::{Options, Report};

const ODS: &[&str] = &["us-federal-ods"];

fn rack(tag: &'static str, full_charge: Option<&'static str>) -> Machine {
    let mut facts = vec![
        ("region", "US-CO-101"),
        ("category", "commercial_refrigeration"),
        ("refrigerant", "R-22"),
        ("installed", "2015-05-01"),
    ];
    facts.extend(full_charge.map(|full| ("full_charge", full)));
    Machine::new(tag, "HG-ALDER", &facts)
}

const LOSS: &[&str] = &[
    "lost_lb",
    "lost_percent",
    "limit_percent",
    "reached",
    "reached_on",
    "report_due",
    "left_lb",
];

/// 82.157(j): "125 percent or more": 60 + 65 lb of 100 lb are 125, 60 + 64.99 lb are 124.99. A charge
/// of the year before and one of the year after do not count.
#[test]
fn the_125_percent_of_a_calendar_year() {
    let unit = |tag, second| {
        rack(tag, Some("100 lb"))
            .charge(1, "2023-12-31", "30 lb")
            .charge(2, "2024-03-01", "60 lb")
            .charge(3, "2024-10-01", second)
            .charge(4, "2025-01-01", "9 lb")
    };
    let fleet = [unit("A", "65 lb"), unit("B", "64.99 lb")];
    let written = made(Report::YearlyLoss, ODS, &fleet, &[], Options::of_year(2024));
    let rows = rows(&written.csv);
    assert_eq!(rows.len(), 2, "{}", written.csv);
    let told = cells(&rows[0], LOSS);
    assert_eq!(
        told,
        [
            "125",
            "125.0000",
            "125",
            "yes",
            "2024-10-01",
            "2025-03-01",
            "0"
        ]
    );
    let told = cells(&rows[1], LOSS);
    assert_eq!(told, ["124.99", "124.9900", "125", "no", "", "", "0.01"]);
    // The year is over: the straight line ends where the sum does, and reaches nothing later.
    let line = [
        "days",
        "days_in_period",
        "projected_lb",
        "projected_percent",
        "projected_on",
    ];
    assert_eq!(
        cells(&rows[1], &line),
        ["366", "366", "124.99", "124.9900", ""]
    );
    let told = cells(
        &rows[0],
        &["set", "limit", "clause", "days_added", "report_state"],
    );
    assert_eq!(
        told,
        ["us-federal-ods", "chronic", "40 CFR 82.157(j)", "2", "open"]
    );
}

/// By hand: 50 lb of 100 lb by 31 March 2023 (day 90 of 365): 202.777... lb at the end of the year,
/// 125 lb on day 225, which is 13 August.
#[test]
fn the_projection_is_a_straight_line_through_the_year() {
    let unit = rack("A", Some("100 lb")).charge(2, "2023-02-01", "50 lb");
    let written = made(Report::YearlyLoss, ODS, &[unit], &[], until("2023-03-31"));
    let row = &rows(&written.csv)[0];
    let line = [
        "days",
        "days_in_period",
        "projected_percent",
        "projected_on",
        "left_lb",
        "reached",
    ];
    assert_eq!(
        cells(row, &line),
        ["90", "365", "202.7777", "2023-08-13", "75", "no"]
    );
    assert!(
        row["projected_lb"].starts_with("202.7777"),
        "{}",
        written.csv
    );
}

/// What was charged and taken out again in one visit is no loss, as the set nets by visits.
#[test]
fn an_unknown_full_charge_leaves_the_share_empty_and_never_0() {
    let unit = rack("A", None).charge(2, "2024-03-01", "60 lb");
    let written = made(
        Report::YearlyLoss,
        ODS,
        &[unit],
        &[],
        Options::of_year(2024),
    );
    let rows = rows(&written.csv);
    assert_eq!(rows.len(), 1);
    let empty = [
        "full_charge_lb",
        "lost_percent",
        "reached",
        "left_lb",
        "projected_percent",
    ];
    assert_eq!(
        cells(&rows[0], &empty),
        ["", "", "", "", ""],
        "{}",
        written.csv
    );
    assert_eq!(rows[0]["lost_lb"], "60");
    assert_eq!(written.summary.cannot_judge, 1);
}

/// Without a set that has such a limit, the loss alone.
#[test]
fn an_appliance_no_set_covers_has_its_loss_and_no_limit() {
    let facts = [
        ("region", "US-CO"),
        ("refrigerant", "R-744"),
        ("full_charge", "40 lb"),
    ];
    let unit = Machine::new("A", "S", &facts).charge(2, "2024-03-01", "10 lb");
    let written = made(
        Report::YearlyLoss,
        ODS,
        &[unit],
        &[],
        Options::of_year(2024),
    );
    let row = &rows(&written.csv)[0];
    let told = cells(
        row,
        &["set", "limit_percent", "reached", "lost_lb", "lost_percent"],
    );
    assert_eq!(told, ["", "", "", "10", "25.0000"]);
}

fn japanese(tag: &'static str, site: &'static str) -> Machine {
    let facts = [
        ("region", "JP-13"),
        ("refrigerant", "R-134a"),
        ("full_charge", "900 kg"),
    ];
    Machine::new(tag, site, &facts)
}

const SUM: &[&str] = &[
    "line",
    "site",
    "gwp_basis",
    "lost_kg",
    "gwp",
    "co2e_t",
    "over",
    "report_due",
];

/// What is no service, or of another fiscal year: a first charge, what goes out for disposal, and what
/// goes out before a change of refrigerant and in after it.
fn out_of_reach() -> Machine {
    let mut machine = japanese("B", "S2")
        .charge(3, "2024-03-31", "500 kg")
        .charge(4, "2025-04-01", "500 kg");
    for (entry, day, kind, mass, reason) in [
        (5, "2024-06-01", Charge, "800 kg", "installation"),
        (6, "2024-06-02", Recover, "700 kg", "disposal"),
        (7, "2024-07-01", Recover, "600 kg", "retrofit"),
        (8, "2024-07-02", Charge, "650 kg", "after_retrofit"),
    ] {
        machine = machine.event(entry, day, kind, mass, &[("reason", reason)]);
    }
    machine
}

/// R-134a has 1430 under AR4. 699.300 kg are 999.999 t: no report. 699.301 kg are 1000.00043 t: by
/// 31 July, and the site passes alone. 31 March is the last day of the fiscal year, 1 April the next.
#[test]
fn the_fiscal_year_of_the_yearly_report() {
    let year = |last: &str| {
        let fleet = [
            japanese("A", "S1")
                .charge(1, "2024-04-01", "600 kg")
                .charge(2, "2025-03-31", last),
            out_of_reach(),
        ];
        let options = Options {
            unit: Unit::Kilogram,
            ..Options::of_year(2024)
        };
        making::rows(
            &made(
                Report::YearlyCo2e,
                &["jp-yearly-co2e"],
                &fleet,
                &[],
                options,
            )
            .csv,
        )
    };
    let rows = year("99.3 kg");
    let found: Vec<_> = rows.iter().map(|row| cells(row, SUM)).collect();
    let expected = [
        [
            "refrigerant",
            "S1",
            "AR4",
            "699.3",
            "1430",
            "999.999",
            "",
            "",
        ],
        ["site", "S1", "AR4", "699.3", "", "999.999", "no", ""],
        ["organisation", "", "AR4", "699.3", "", "999.999", "no", ""],
    ];
    assert_eq!(found, expected);
    let period = ["from", "until", "set", "limit_t"];
    assert_eq!(
        cells(&rows[2], &period),
        ["2024-04-01", "2025-03-31", "jp-yearly-co2e", "1000"]
    );
    let rows = year("99.301 kg");
    assert_eq!(cells(&rows[1], SUM)[5..], ["1000.00043", "yes", ""]);
    assert_eq!(
        cells(&rows[2], SUM)[5..],
        ["1000.00043", "yes", "2025-07-31"]
    );
}

/// Two sites of 572 t each (400 kg x 1430) pass together and neither alone. What is recovered at
/// service comes off.
#[test]
fn sites_that_pass_only_together_are_not_listed() {
    let fleet = [
        japanese("A", "S1").charge(1, "2024-06-01", "400 kg"),
        japanese("B", "S2").charge(2, "2024-06-01", "450 kg").event(
            3,
            "2024-06-01",
            Recover,
            "50 kg",
            &[("reason", "repair")],
        ),
    ];
    let rules = &["jp-yearly-co2e"];
    let written = made(
        Report::YearlyCo2e,
        rules,
        &fleet,
        &[],
        Options::of_year(2024),
    );
    let found = rows(&written.csv);
    let sums = found.iter().filter(|row| row["line"] != "refrigerant");
    let sums: Vec<_> = sums
        .map(|row| cells(row, &["line", "co2e_t", "over"]))
        .collect();
    let expected = [
        ["site", "572", "no"],
        ["site", "572", "no"],
        ["organisation", "1144", "yes"],
    ];
    assert_eq!(sums, expected, "{}", written.csv);
}

/// The same kilogram under five bases: R-404A has 3921.6 (AR4), 3942.8 (AR5) and 4728 (AR6); its
/// parts are 44 % R-125, 52 % R-143a and 4 % R-134a (world over: IPCC tables). What has no value
/// stands apart, and a limit beside it cannot be called kept.
#[test]
fn every_sum_names_its_basis() {
    let facts = [("refrigerant", "R-404A")];
    let lost = || Machine::new("A", "S1", &facts).charge(1, "2024-06-01", "1000 kg");
    let sum = |basis| {
        let options = Options {
            basis,
            unit: Unit::Kilogram,
            ..Options::of_year(2024)
        };
        let unknown = Machine::new("B", "S1", &[("refrigerant", "unknown")]);
        let fleet = [lost(), unknown.charge(2, "2024-06-01", "7 kg")];
        let rows = making::rows(&made(Report::YearlyCo2e, &[], &fleet, &[], options).csv);
        let last = rows.last().unwrap().clone();
        assert_eq!(
            cells(&last, &["line", "without_gwp_kg", "over"]),
            ["organisation", "7", ""]
        );
        (last["gwp_basis"].clone(), last["co2e_t"].clone())
    };
    // 0.44 x 3500 + 0.52 x 4470 + 0.04 x 1430; 0.44 x 3170 + 0.52 x 4800 + 0.04 x 1300.
    assert_eq!(
        sum(Some(Basis::Ar4)),
        ("AR4".to_string(), "3921.6".to_string())
    );
    assert_eq!(
        sum(Some(Basis::Ar5)),
        ("AR5".to_string(), "3942.8".to_string())
    );
    assert_eq!(sum(None), ("AR5".to_string(), "3942.8".to_string()));
}
