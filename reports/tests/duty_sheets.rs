//! The reports `follow-ups` and `inspections-due` against days worked out by hand.
//!
//! Days and clauses: 40 CFR 82.157(d) to (h), and Regulation (EU) 2024/573, Articles 4 and 5, as
//! their texts state them; each test says which. Appliances and firms are invented.

use crate::making::{Machine, cells, made, rack, rows, until};
use reports::event::Kind::{BackInOperation, Inspection, Mothball, Repair, VerificationTest};
use reports::sheet::Report;

const ODS: &[&str] = &["us-federal-ods"];

const STEP: &[&str] = &[
    "follow_up",
    "opened_on",
    "measured",
    "step",
    "due",
    "state",
    "over_on",
];

/// 82.157(d)(1), (e)(1): 30 days from the exceedance, 2024-06-30. (e)(2): 10 days from the initial
/// test of 2024-06-12, 2024-06-22. (g)(1)(ii), 50 to 500 lb: once in the calendar year.
#[test]
fn each_step_of_a_follow_up_has_its_day() {
    let words = [("stage", "initial"), ("result", "passed")];
    let unit = rack("HG-RACK-A")
        .event(44, "2024-06-10", Repair, "", &[])
        .event(45, "2024-06-12", VerificationTest, "", &words);
    let written = made(Report::FollowUps, ODS, &[unit], &[], until("2024-06-15"));
    let rows = rows(&written.csv);
    let found: Vec<_> = rows.iter().map(|row| cells(row, STEP)).collect();
    let opened = ["1", "2024-05-31", "20.0100"];
    let expected = [
        ["repair", "2024-06-30", "done", "2024-06-10"],
        ["initial_test", "2024-06-30", "done", "2024-06-12"],
        ["leak_inspection", "2024-12-31", "open", ""],
        ["follow_up_test", "2024-06-22", "open", ""],
    ];
    let expected: Vec<Vec<&str>> = expected
        .iter()
        .map(|step| [&opened[..], &step[..]].concat())
        .collect();
    assert_eq!(found, expected, "{}", written.csv);
    let told = cells(
        &rows[0],
        &[
            "set",
            "opened_by",
            "measured_in",
            "clause",
            "rests_on",
            "acts",
        ],
    );
    assert_eq!(
        told,
        [
            "us-federal-ods",
            "limit leak_rate",
            "percent",
            "40 CFR 82.157(d)(1)",
            "1",
            "1"
        ]
    );
    let why = &rows[0]["why"];
    assert!(
        why.contains("20.01 lb") && why.contains("entry 44"),
        "{why}"
    );
    // The entries behind the counts: what opened it, and what did it.
    assert!(
        written.evidence.contains("1,HG-RACK-A,rests_on,41,1\r\n"),
        "{}",
        written.evidence
    );
    assert!(written.evidence.contains("1,HG-RACK-A,acts,44,1\r\n"));
}

/// 82.157(h)(1)(i): nothing repaired by 2024-06-30, so a plan within 30 days, by 2024-07-30.
#[test]
fn what_was_missed_is_overdue_and_leads_to_a_plan() {
    let written = made(
        Report::FollowUps,
        ODS,
        &[rack("HG-RACK-A")],
        &[],
        until("2024-07-10"),
    );
    let rows = rows(&written.csv);
    let states: Vec<_> = rows
        .iter()
        .map(|row| cells(row, &["step", "due", "state"]))
        .collect();
    assert!(
        states.contains(&vec!["repair", "2024-06-30", "overdue"]),
        "{states:?}"
    );
    assert!(
        states.contains(&vec!["plan", "2024-07-30", "open"]),
        "{states:?}"
    );
}

/// 82.157(d), (l)(8): mothballed on 2024-06-10 with 20 days left, in operation on 2024-07-10: the
/// repair is due 30 days later, on 2024-07-30.
#[test]
fn a_pause_moves_the_date_and_says_by_how_much() {
    let unit = rack("HG-RACK-A")
        .event(44, "2024-06-10", Mothball, "", &[])
        .event(45, "2024-07-10", BackInOperation, "", &[])
        .charge(46, "2024-07-10", "0.01 lb");
    let written = made(Report::FollowUps, ODS, &[unit], &[], until("2024-07-15"));
    let rows = rows(&written.csv);
    let repair = rows
        .iter()
        .find(|row| row["step"] == "repair")
        .expect("the repair");
    let told = cells(repair, &["due", "state", "paused_days"]);
    assert_eq!(told, ["2024-07-30", "open", "30"], "{}", written.csv);
}

/// What was over before the year has no row in it; what is still open has one in every year.
#[test]
fn a_year_shows_what_was_open_in_it() {
    let words = [("stage", "initial"), ("result", "passed")];
    let follow_up = [
        ("stage", "follow_up"),
        ("result", "passed"),
        ("all_leaks", "yes"),
    ];
    let unit = rack("HG-RACK-A")
        .event(44, "2024-06-10", Repair, "", &[])
        .event(45, "2024-06-12", VerificationTest, "", &words)
        .event(46, "2024-06-20", VerificationTest, "", &follow_up);
    let year = |year| {
        let options = reports::sheet::Options::of_year(year);
        rows(
            &made(
                Report::FollowUps,
                ODS,
                std::slice::from_ref(&unit),
                &[],
                options,
            )
            .csv,
        )
    };
    // 2023 and before: no exceedance yet.
    assert!(year(2023).is_empty());
    assert_eq!(year(2024).len(), 4);
    let later: Vec<String> = year(2025).iter().map(|row| row["step"].clone()).collect();
    assert!(!later.contains(&"repair".to_string()), "{later:?}");
    let unit = rack("HG-RACK-B");
    let options = reports::sheet::Options::of_year(2025);
    let still = rows(&made(Report::FollowUps, ODS, &[unit], &[], options).csv);
    let states: Vec<_> = still
        .iter()
        .map(|row| cells(row, &["step", "state"]))
        .collect();
    assert!(states.contains(&vec!["repair", "overdue"]), "{states:?}");
}

const DUE: &[&str] = &[
    "inspection",
    "of",
    "certified",
    "last_on",
    "due",
    "days_left",
    "state",
];

/// 82.157(g)(1)(ii): once in the calendar year. From 15 June to 31 December are 199 days (15 of
/// June, 31 + 31 + 30 + 31 + 30 + 31).
#[test]
fn an_inspection_after_an_exceedance_is_due_by_the_end_of_the_year() {
    let written = made(
        Report::InspectionsDue,
        ODS,
        &[rack("HG-RACK-A")],
        &[],
        until("2024-06-15"),
    );
    let rows = rows(&written.csv);
    assert_eq!(rows.len(), 1, "{}", written.csv);
    let told = cells(&rows[0], DUE);
    assert_eq!(
        told,
        [
            "leak_inspection",
            "unit",
            "yes",
            "",
            "2024-12-31",
            "199",
            "open"
        ]
    );
    assert!(
        written.evidence.contains("rests_on,41,1"),
        "{}",
        written.evidence
    );
}

/// (EU) 2024/573, Article 5(6): 20 kg of R-404A are 78.432 t (3921.6), so every 6 months without a
/// detector and every 12 with one, from the last check; a check by nobody certified does not count.
#[test]
fn the_european_interval_follows_size_and_detector() {
    let facts = [
        ("region", "EU-DE"),
        ("refrigerant", "R-404A"),
        ("full_charge", "20 kg"),
        ("installed", "2024-05-01"),
    ];
    let check = |certified| {
        [
            ("of", "unit"),
            ("certified", certified),
            ("result", "clean"),
        ]
    };
    let unit = |tag| {
        Machine::new(tag, "BERLIN", &facts)
            .event(7, "2025-03-10", Inspection, "", &check("yes"))
            .event(8, "2025-06-01", Inspection, "", &check("no"))
    };
    let with = unit("B").dated("detector", "2025-04-01", "yes");
    let fleet = [unit("A").dated("detector", "2024-05-01", "no"), with];
    let written = made(
        Report::InspectionsDue,
        &["eu-2024-573"],
        &fleet,
        &[],
        until("2025-09-20"),
    );
    let rows = rows(&written.csv);
    let of = |tag: &str| {
        let own = rows
            .iter()
            .find(|row| row["appliance"] == tag && row["inspection"] == "leak_check");
        own.unwrap_or_else(|| panic!("no row of {tag}: {}", written.csv))
    };
    let told = cells(of("A"), &["last_on", "due", "days_left", "state"]);
    assert_eq!(told, ["2025-03-10", "2025-09-10", "-10", "overdue"]);
    let told = cells(of("B"), &["last_on", "due", "days_left", "state"]);
    assert_eq!(told, ["2025-03-10", "2026-03-10", "171", "open"]);
    assert!(
        written.evidence.contains("acts,7,1"),
        "{}",
        written.evidence
    );
}

/// Whether an expert must inspect hangs on the rating of the compressor motor, which nobody wrote
/// down: the appliance is not left out, and what must be found is named.
#[test]
fn what_cannot_be_judged_has_no_date_and_names_what_is_missing() {
    let facts = [
        ("region", "JP-13"),
        ("category", "comfort_cooling"),
        ("refrigerant", "R-410A"),
        ("installed", "2024-04-01"),
    ];
    let unit = Machine::new("PINE-AHU-2", "PINE", &facts);
    let rules = &["jp-yearly-co2e"];
    let written = made(
        Report::InspectionsDue,
        rules,
        &[unit],
        &[],
        until("2025-06-01"),
    );
    let rows = rows(&written.csv);
    let expert = rows
        .iter()
        .find(|row| row["inspection"] == "expert_inspection");
    let expert = expert.unwrap_or_else(|| panic!("no row: {}", written.csv));
    let told = cells(expert, &["due", "days_left", "state", "to_be_found"]);
    assert_eq!(told, ["", "", "cannot_judge", "motor_kw"]);
    assert!(written.summary.cannot_judge >= 1);
}

/// A rule set with numbers that nobody confirmed says so in each row that rests on them.
#[test]
fn unconfirmed_numbers_are_marked() {
    let facts = [
        ("region", "US-CO-101"),
        ("category", "commercial_refrigeration"),
        ("refrigerant", "R-404A"),
        ("full_charge", "100 lb"),
        ("installed", "2015-05-01"),
    ];
    let unit = Machine::new("QK-WIC-1", "QK", &facts).charge(3, "2026-03-01", "21 lb");
    let rules = &["us-federal-hfc"];
    let written = made(Report::FollowUps, rules, &[unit], &[], until("2026-03-05"));
    let rows = rows(&written.csv);
    assert!(
        rows.iter()
            .any(|row| row["step"] == "repair" && row["due"] == "2026-03-31")
    );
    assert!(
        rows.iter().all(|row| row["confidence"] == "unconfirmed"),
        "{}",
        written.csv
    );
    assert_eq!(written.summary.unconfirmed, rows.len() as u64);
}
