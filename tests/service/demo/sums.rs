//! The reports of duties and sums over the demo's year, against days and figures worked out by hand
//! from its script; on both engines the same rows.
//!
//! Days: 40 CFR 84.106 and 82.157 as the shipped rule files have them. GWP of R-404A under AR5:
//! 0.44 x 3170 + 0.52 x 4800 + 0.04 x 1300 = 3942.8 (IPCC, Fifth Assessment Report).

use super::Demo;
use api::actions::report::{ReportAsked, ReportName, report};
use api::demo;
use reports::day::Day;
use reports::sheet::Options;
use std::collections::BTreeMap;

type Row = BTreeMap<String, String>;

/// The rows of a report up to a day.
fn rows(demo: &mut Demo, name: ReportName, on: &str) -> Vec<Row> {
    let mut options = Options::of_year(demo::YEAR);
    options.cut = Some(Day::parse(on).expect("a day"));
    let csv = demo.csv(name, options);
    let mut reader = csv::Reader::from_reader(csv.as_bytes());
    let header = reader.headers().expect("a header").clone();
    let row = |record: csv::StringRecord| {
        let cells = header.iter().zip(&record);
        cells
            .map(|(name, cell)| (name.to_string(), cell.to_string()))
            .collect()
    };
    reader
        .records()
        .map(|record| row(record.expect("a row")))
        .collect()
}

fn cells<'r>(row: &'r Row, names: &[&str]) -> Vec<&'r str> {
    names.iter().map(|name| row[*name].as_str()).collect()
}

fn one<'r>(rows: &'r [Row], wanted: &[(&str, &str)]) -> &'r Row {
    let fits = |row: &&Row| wanted.iter().all(|(name, cell)| row[*name] == *cell);
    let found: Vec<&Row> = rows.iter().filter(fits).collect();
    assert_eq!(found.len(), 1, "{wanted:?}: {found:#?}");
    found[0]
}

/// HG-RACK-A: 14.5/210 x 365/96 = 26.2524 % on 14 July; 30 days are 13 August, 10 days after the
/// initial test of 21 July are 31 July. Inspected on 10 November: next in the calendar year after.
#[test]
fn the_follow_up_of_the_rack_and_its_next_inspection() {
    let mut demo = Demo::new();
    let steps = rows(&mut demo, ReportName::FollowUps, "2026-11-26");
    let step = |name| {
        let wanted = [
            ("appliance", "HG-RACK-A"),
            ("step", name),
            ("set", "us-federal-hfc"),
        ];
        cells(
            one(&steps, &wanted),
            &["opened_on", "measured", "due", "state", "over_on"],
        )
    };
    let opened = ["2026-07-14", "26.2524"];
    assert_eq!(
        step("repair"),
        [opened[0], opened[1], "2026-08-13", "done", "2026-07-21"]
    );
    assert_eq!(
        step("initial_test"),
        [opened[0], opened[1], "2026-08-13", "done", "2026-07-21"]
    );
    assert_eq!(
        step("follow_up_test"),
        [opened[0], opened[1], "2026-07-31", "done", "2026-07-28"]
    );
    let due = rows(&mut demo, ReportName::InspectionsDue, "2026-11-26");
    let wanted = [
        ("appliance", "HG-RACK-A"),
        ("inspection", "leak_inspection"),
    ];
    let told = cells(
        one(&due, &wanted),
        &["last_on", "due", "days_left", "state"],
    );
    assert_eq!(told, ["2026-11-10", "2027-12-31", "400", "open"]);
    // Nobody took PINE-CH-2 up: over on 9 September, so its repair was due on 9 October.
    let wanted = [
        ("appliance", "PINE-CH-2"),
        ("step", "repair"),
        ("state", "overdue"),
    ];
    assert!(!steps.iter().any(|row| row["appliance"] == "QK-RTU-1"));
    assert_eq!(one(&steps, &wanted)["due"], "2026-10-09");
}

/// HG-RACK-C: 31 + 38 + 12 lb of 310 lb are 26.1290 %. PINE-AHU-2 has no known full charge.
#[test]
fn the_yearly_loss_of_two_units() {
    let mut demo = Demo::new();
    let loss = rows(&mut demo, ReportName::YearlyLoss, "2026-12-31");
    let rack = one(
        &loss,
        &[("appliance", "HG-RACK-C"), ("set", "us-federal-ods")],
    );
    let told = cells(
        rack,
        &[
            "lost_lb",
            "lost_percent",
            "limit_percent",
            "reached",
            "days",
        ],
    );
    assert_eq!(told, ["81", "26.1290", "125", "no", "365"]);
    let unknown = loss.iter().filter(|row| row["appliance"] == "PINE-AHU-2");
    for row in unknown {
        let told = cells(
            row,
            &["full_charge_lb", "lost_percent", "reached", "left_lb"],
        );
        assert_eq!(told, ["", "", "", ""], "{row:#?}");
    }
}

/// HG-RTU-22 (12 lb) gave 11.2 lb on 15 September; 88.5 lb left in June, 34.04 and 20.625 in August.
/// HG-ICE-1 lost 4.5 lb, a burst hose 0.25 lb.
#[test]
fn what_was_emptied_sent_on_and_released() {
    let mut demo = Demo::new();
    let log = rows(&mut demo, ReportName::DisposalsByMonth, "2026-12-31");
    let unit = one(&log, &[("line", "disposal"), ("appliance", "HG-RTU-22")]);
    let told = cells(
        unit,
        &["month", "site", "refrigerant", "in_log", "recovered_lb"],
    );
    assert_eq!(told, ["2026-09", "Birch Lane", "R-22", "yes", "11.2"]);
    let total = one(
        &log,
        &[
            ("line", "total"),
            ("month", "2026-09"),
            ("refrigerant", "R-22"),
        ],
    );
    assert_eq!(
        cells(total, &["disposals", "recovered_lb", "sent_lb"]),
        ["1", "11.2", "0"]
    );
    let sent = log
        .iter()
        .filter(|row| row["line"] == "sent" && row["way"] == "reclaim");
    let sent: Vec<_> = sent
        .map(|row| cells(row, &["month", "sent_lb", "cylinder"]))
        .collect();
    let expected = [
        ["2026-06", "88.5", "TR-0440"],
        ["2026-08", "34.04", "TR-0417"],
        ["2026-08", "20.625", "TR-0419"],
        ["2026-10", "4.5", "TR-0426"],
    ];
    assert_eq!(sent, expected);
    let released = rows(&mut demo, ReportName::Releases, "2026-12-31");
    let ice = one(&released, &[("line", "release"), ("appliance", "HG-ICE-1")]);
    assert_eq!(
        cells(ice, &["jurisdiction", "site", "released_lb"]),
        ["US-CO-901", "Alder Street", "4.5"]
    );
    let hose = one(&released, &[("line", "release"), ("cylinder", "SUP-87902")]);
    assert_eq!(
        cells(hose, &["jurisdiction", "refrigerant", "released_lb"]),
        ["", "R-404A", "0.25"]
    );
}

/// Birch Lane, R-404A: 14 lb in, 12 lb 4 oz out, 1.75 lb = 0.7937866475 kg; x 3942.8 / 1000.
#[test]
fn the_tonnes_of_a_site_and_the_bytes_of_every_report() {
    let mut demo = Demo::new();
    let sums = rows(&mut demo, ReportName::YearlyCo2e, "2026-12-31");
    let wanted = [
        ("line", "refrigerant"),
        ("site", "Birch Lane"),
        ("refrigerant", "R-404A"),
    ];
    let told = cells(
        one(&sums, &wanted),
        &["gwp_basis", "lost_lb", "gwp", "co2e_t"],
    );
    assert_eq!(told, ["AR5", "1.75", "3942.8", "3.129741993763"]);
    // No day was asked for: the newest entry gives it, and the same book gives the same bytes.
    for name in ReportName::ALL {
        let first = demo.csv(name, Options::of_year(demo::YEAR));
        assert_eq!(
            first,
            demo.csv(name, Options::of_year(demo::YEAR)),
            "{}",
            name.word()
        );
        assert!(first.lines().count() > 1, "{} is empty", name.word());
    }
    let mut other_year = Options::of_year(demo::YEAR);
    other_year.cut = Day::parse("2025-06-01");
    let asked = ReportAsked {
        name: ReportName::FollowUps,
        options: other_year,
        rules: None,
        as_of: None,
    };
    let of = demo.told.of.clone();
    let refused = report(&mut demo.shop.db, &of, asked, Vec::new(), None);
    let refused = format!("{:?}", refused.expect_err("a day of another year"));
    assert!(
        refused.contains("/on") && refused.contains("a day of the year 2026"),
        "{refused}"
    );
}
