//! The rolling year against figures worked out by hand, above all where its edge cuts a visit.
//!
//! The source is the text of 40 CFR 82.152 ("leak rate", rolling average method), applied by hand
//! with exact fractions; these are no published examples. Where the regulation is silent the
//! comment says "reading": it is our decision, and the test keeps it.

use crate::fleet;
use crate::fleet::Appliance;
use crate::history::{History, facts, pounds};
use reports::event::Kind;
use reports::leak_rate::{Addition, Reading, additions};
use reports::number::Fraction;
use reports::sheet::{NoLimits, Options};

fn read(history: &History, full_charge_lb: &str) -> Vec<Addition> {
    let facts = facts(full_charge_lb, None);
    additions(&history.sorted(), &facts, &Reading::default())
}

fn last(additions: &[Addition]) -> &Addition {
    additions.last().expect("an addition")
}

fn percent(rate: Option<Fraction>) -> String {
    rate.expect("a full charge").to_string()
}

fn rolling(additions: &[Addition]) -> Vec<String> {
    let rates = additions.iter().map(|addition| addition.rolling());
    rates.map(percent).collect()
}

#[test]
fn the_rolling_year_is_a_sum() {
    // R1: 10 + 5 + 6 of 100 lb: 21 %. R6: 30 + 20 + 25 of 600 lb: 12.5 %. R3 and R4 are the sums
    // of 82.157(j), 125 and 124.99 of 100 lb; all three dates lie in one calendar year.
    let dates = ["2024-02-01", "2024-06-01", "2024-11-01"];
    for (full_charge, masses, expected) in [
        ("100", ["10", "5", "6"], ["10", "15", "21"]),
        ("600", ["30", "20", "25"], ["5", "25/3", "25/2"]),
        ("100", ["60", "65", "0.01"], ["60", "125", "12501/100"]), // R3
        ("100", ["60", "64.99", "0.01"], ["60", "12499/100", "125"]), // R4
    ] {
        let mut history = History::default();
        for (on, lb) in dates.iter().zip(masses) {
            history.charge(on, lb);
        }
        assert_eq!(rolling(&read(&history, full_charge)), expected);
    }
}

#[test]
fn the_window_is_half_open() {
    // (d - 365, d]: first and last day in and out, dates by Python's datetime.
    for (on, inside, outside) in [
        ("2026-07-14", "2025-07-15", "2025-07-14"),
        ("2024-02-29", "2023-03-02", "2023-03-01"),
        ("2025-03-01", "2024-03-02", "2024-03-01"),
        ("2023-12-31", "2023-01-01", "2022-12-31"),
    ] {
        let mut history = History::default();
        history.charge(outside, "10");
        history.charge(inside, "3");
        history.charge(on, "6");
        assert_eq!(percent(last(&read(&history, "100")).rolling()), "9", "{on}");
    }
}

#[test]
fn a_follow_up_test_of_all_leaks_restarts_the_rolling_year() {
    for (all_leaks, expected) in [("yes", "6"), ("no", "21")] {
        // R2, and the same with a test that did not show all leaks repaired.
        let mut history = History::default();
        history.charge("2024-02-01", "10");
        history.charge("2024-06-01", "5");
        history.follow_up_test("2024-07-01", all_leaks);
        history.charge("2024-11-01", "6");
        let all = read(&history, "100");
        assert_eq!(rolling(&all), ["10", "15", expected]);
        assert_eq!(
            last(&all).days,
            153,
            "the annualising method knows no restart"
        );
    }
}

#[test]
fn an_addition_on_the_day_of_the_test_is_not_after_it() {
    // Reading. Without times the test stands before the charge of its day.
    let mut history = History::default();
    history.charge("2024-07-01", "9");
    history.follow_up_test("2024-07-01", "yes");
    history.charge("2024-11-01", "6");
    assert_eq!(rolling(&read(&history, "100")), ["0", "6"]);
    // With times, a charge before the test was judged before the restart; later ones leave it out.
    history.events[0].second = Some(9 * 3600);
    history.events[1].second = Some(15 * 3600);
    assert_eq!(rolling(&read(&history, "100")), ["9", "6"]);
}

/// Three visits of 1 and 2 March 2025, in which 5 lb go in on the first day. On the second some is
/// recovered (negative) and charged: the figures are 5, 3; 5, 6; and 5, 2, 5. So of the second day
/// stand 0, 1 and 3 lb; the changes alone would make -2, 1 and 0.
fn visits_of_two_days() -> History {
    let mut history = History::default();
    let second_days: [&[&str]; 3] = [&["-3", "1"], &["-3", "4"], &["-4", "1", "3"]];
    for (visit, second_day) in (1..).zip(second_days) {
        history.charge("2025-03-01", "5").visit = Some(visit);
        for (hour, lb) in (8..).zip(second_day) {
            let event = match lb.strip_prefix('-') {
                Some(lb) => history.recover("2025-03-02", lb),
                None => history.charge("2025-03-02", lb),
            };
            (event.visit, event.second) = (Some(visit), Some(hour * 3600));
        }
    }
    history
}

#[test]
fn a_window_that_cuts_visits_holds_what_stands_of_their_later_days() {
    // Reading: 82.152 sums what was added in the year and is silent on what a visit takes out
    // again. (2025-03-01, 2026-03-01] leaves out the first day: 0 + 1 + 3 + 2 lb; one day earlier
    // it holds all: 3 + 6 + 5 + 2 lb; one day later none.
    for (on, expected) in [
        ("2026-02-28", "32"),
        ("2026-03-01", "12"),
        ("2026-03-02", "4"),
    ] {
        let mut history = visits_of_two_days();
        history.charge(on, "2");
        assert_eq!(
            percent(last(&read(&history, "50")).rolling()),
            expected,
            "{on}"
        );
    }
}

#[test]
fn a_restart_that_cuts_visits_leaves_what_stands_after_it() {
    // As above, with a test on the evening of 1 March for the edge.
    let mut history = visits_of_two_days();
    history.follow_up_test("2025-03-01", "yes").second = Some(20 * 3600);
    history.charge("2025-03-03", "2");
    let all = read(&history, "50");
    assert_eq!(percent(last(&all).rolling()), "12");
}

#[test]
fn what_comes_out_last_is_taken_from_the_newest_until_the_next_charge() {
    // Reading. The test of 1 March cuts the visit: figures 5 before it, 9, and 3 when 6 have come
    // out, all of it from before the test. The next charge says anew: with 5 the figures are 5, 9,
    // 8 and 8 - 5 = 3 stand after the test; with 8 they are 5, 9, 11 and 6 stand. Beside the visit
    // 12 went in on 2 March and 1 on the 5th.
    for (then, expected) in [("5", ["12", "15", "16"]), ("8", ["12", "18", "19"])] {
        let mut history = History::default();
        history.charge("2025-03-01", "5").visit = Some(1);
        history.follow_up_test("2025-03-01", "yes").second = Some(20 * 3600);
        history.charge("2025-03-02", "4").visit = Some(1);
        history.charge("2025-03-02", "12");
        history.recover("2025-03-03", "6").visit = Some(1);
        history.charge("2025-03-04", then).visit = Some(1);
        history.charge("2025-03-05", "1");
        let all = read(&history, "100");
        assert_eq!(rolling(&all)[3..], expected, "with {then}");
    }
}

#[test]
fn the_evidence_of_a_window_that_cuts_a_visit_names_what_stands() {
    // 5 lb on 1 March. The day after 4 come out, 1 goes in, 3 go in: figures 5, 2, 5; or 20 come
    // out, 10 go in, 8 go in: figures 5, 0 (5 less than nothing), 3. Either way 3 stand a year
    // after the first day, and the 2 of that day: 5 of 30 lb.
    let row = "RACK,2026-03-01,2,364,5,16.6666,6.6849,no,no";
    for (second_day, evidence) in [
        (["4", "1", "3"], &["4,3", "5,2"][..]),
        (["20", "10", "8"], &["2,-15", "3,10", "4,8", "5,2"]),
    ] {
        let mut rack = Appliance::new("RACK", "S", &[]).holds(pounds("30"), None);
        let mut visit = |on, kind, lb| rack.event(on, kind, "R-448A", pounds(lb)).visit = Some(1);
        visit("2025-03-01", Kind::Charge, "5");
        visit("2025-03-02", Kind::Recover, second_day[0]);
        visit("2025-03-02", Kind::Charge, second_day[1]);
        visit("2025-03-02", Kind::Charge, second_day[2]);
        rack.event("2026-03-01", Kind::Charge, "R-448A", pounds("2"));
        let written = fleet::additions(&[rack], &NoLimits, Options::of_year(2026));
        assert_eq!(written.csv.lines().nth(1), Some(row));
        let lines = written.evidence.lines();
        let lines: Vec<&str> = lines
            .filter_map(|line| line.strip_prefix("1,RACK,rolling_lb,"))
            .collect();
        assert_eq!(lines, evidence);
    }
}
