//! What one notice answers, and what two askings of one plan come to.
//!
//! Days: 40 CFR 82.157(h) and (j), SOR/2022-110, section 25, as the shipped files read
//! them; worked out by hand.

use crate::making::{Machine, cells, made, rack, rows, until};
use reports::event::Kind::{Decision, Loss, Notice, Repair, VerificationTest};
use reports::sheet::Report;

const ODS: &[&str] = &["us-federal-ods"];

/// 40 CFR 82.157(j): the report of 2024 was due on 2025-03-01, that of 2025 on 2026-03-01. One report
/// in February 2026 is that of 2024, a year late; that of 2025 is still owed.
#[test]
fn a_notice_answers_the_year_that_was_due_first() {
    let told = [("what", "chronic_report")];
    let unit = rack("HG-RACK-A")
        .charge(50, "2024-10-01", "125 lb")
        .charge(51, "2025-10-01", "125 lb")
        .event(52, "2026-02-20", Notice, "", &told);
    let states = |unit: Machine| {
        let written = made(Report::FollowUps, ODS, &[unit], &[], until("2026-02-25"));
        let rows = rows(&written.csv);
        let own = rows.iter().filter(|row| row["step"] == "chronic_report");
        own.map(|row| cells(row, &["due", "state"]).join(" "))
            .collect::<Vec<_>>()
    };
    let once = states(unit);
    assert_eq!(once, ["2025-03-01 done_late", "2026-03-01 open"]);
    let unit = rack("HG-RACK-A")
        .charge(50, "2024-10-01", "125 lb")
        .charge(51, "2025-10-01", "125 lb")
        .event(52, "2026-02-20", Notice, "", &told)
        .event(53, "2026-02-21", Notice, "", &told);
    assert_eq!(states(unit), ["2025-03-01 done_late", "2026-03-01 done"]);
}

/// SOR/2022-110, section 25: one report holds every smaller release of the half-year.
#[test]
fn one_report_of_a_half_year_answers_all_its_releases() {
    let federal = [
        ("region", "CA-ON"),
        ("owner_class", "federal"),
        ("land", "other"),
        ("refrigerant", "R-134a"),
        ("full_charge", "200 kg"),
    ];
    let unit = Machine::new("A", "OTTAWA-1", &federal)
        .event(1, "2025-02-10", Loss, "20 kg", &[])
        .event(2, "2025-05-10", Loss, "30 kg", &[])
        .event(3, "2025-07-02", Notice, "", &[("what", "half_year_report")]);
    let rules = &["ca-halocarbon-2022"];
    let written = made(Report::FollowUps, rules, &[unit], &[], until("2025-07-10"));
    let rows = rows(&written.csv);
    let own = rows.iter().filter(|row| row["step"] == "half_year_report");
    let own: Vec<_> = own
        .map(|row| cells(row, &["due", "state", "over_on"]))
        .collect();
    assert_eq!(
        own,
        [["2025-07-31", "done", "2025-07-02"]; 2],
        "{}",
        written.csv
    );
}

/// 82.157(h)(1)(iii), as the shipped file reads it: over again after a verified repair, a plan is
/// owed; the decision to replace asks for the same plan and not for a second one.
#[test]
fn a_plan_asked_for_twice_stands_once() {
    let initial = [("stage", "initial"), ("result", "passed")];
    let again = [
        ("stage", "follow_up"),
        ("result", "passed"),
        ("all_leaks", "no"),
    ];
    let unit = rack("HG-RACK-C")
        .event(44, "2024-06-10", Repair, "", &[])
        .event(45, "2024-06-12", VerificationTest, "", &initial)
        .event(46, "2024-06-20", VerificationTest, "", &again)
        .charge(47, "2024-09-02", "22 lb")
        .event(48, "2024-09-10", Decision, "", &[("choice", "replace")]);
    let written = made(Report::FollowUps, ODS, &[unit], &[], until("2024-09-15"));
    let rows = rows(&written.csv);
    let plans = rows.iter().filter(|row| row["step"] == "plan");
    let plans: Vec<_> = plans
        .map(|row| cells(row, &["since", "due", "state"]))
        .collect();
    assert_eq!(
        plans,
        [["2024-09-02", "2024-10-02", "open"]],
        "{}",
        written.csv
    );
}
