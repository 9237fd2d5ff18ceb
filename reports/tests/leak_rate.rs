//! Leak rates against figures worked out by hand.
//!
//! Unless a test says otherwise its source is the text of 40 CFR 82.152 ("leak rate"): the two
//! formulas were applied by hand, with exact fractions; these are no published examples. Published
//! worked examples are scarce: two were found, and both are below. Where the regulation is silent
//! the comment says "reading": it is our decision, and the test keeps it.

use crate::history::{History, day, facts, pounds, pounds_and_ounces};
use reports::appliance::{FactValue, Facts};
use reports::event::{Kind, Reason};
use reports::leak_rate::{Addition, Baseline, FirstDays, Netting, Reader, Reading, additions};
use reports::mass::Mass;
use reports::number::Fraction;

fn read(history: &History, facts: &Facts) -> Vec<Addition> {
    additions(&history.sorted(), facts, &Reading::default())
}

fn read_by(history: &History, facts: &Facts, netting: Netting) -> Vec<Addition> {
    additions(
        &history.sorted(),
        facts,
        &Reading {
            netting,
            ..Reading::default()
        },
    )
}

fn last(additions: &[Addition]) -> &Addition {
    additions.last().expect("an addition")
}

fn percent(rate: Option<Fraction>) -> String {
    rate.expect("a full charge").to_string()
}

fn annualised(additions: &[Addition]) -> Vec<String> {
    additions
        .iter()
        .map(|addition| percent(addition.annualised()))
        .collect()
}

fn rolling(additions: &[Addition]) -> Vec<String> {
    additions
        .iter()
        .map(|addition| percent(addition.rolling()))
        .collect()
}

#[test]
fn one_addition_is_scaled_to_a_year() {
    // id, full charge lb, previous addition, this addition, lb, days, percent.
    let vectors = [
        ("A1", "100", "2024-01-03", "2024-07-01", "10", 180, "365/18"),
        ("A2", "100", "2024-06-01", "2024-07-01", "5", 30, "365/6"),
        ("A3", "100", "2022-07-01", "2023-07-01", "20", 365, "20"),
        ("A4", "100", "2022-05-27", "2023-07-01", "20", 365, "20"), // 400 days
        (
            "A5",
            "100",
            "2022-07-01",
            "2023-07-01",
            "20.01",
            365,
            "2001/100",
        ),
        ("A6", "100", "2024-06-30", "2024-07-01", "10", 1, "3650"),
        ("A8", "15", "2024-05-02", "2024-07-01", "2", 60, "730/9"),
        ("A9", "500", "2024-01-01", "2024-08-07", "12", 219, "4"),
        ("A12", "50", "2024-01-01", "2024-05-26", "7.5", 146, "75/2"),
        ("A13", "150", "2023-05-02", "2024-05-02", "15", 365, "10"), // 366 days
        (
            "A14",
            "250",
            "2023-12-02",
            "2024-06-01",
            "25",
            182,
            "1825/91",
        ),
    ];
    for (id, full_charge, before, on, lb, days, expected) in vectors {
        let mut history = History::default();
        history.charge(before, "1");
        history.charge(on, lb);
        let all = read(&history, &facts(full_charge, None));
        assert_eq!(all.len(), 2, "{id}");
        assert_eq!(last(&all).days, days, "{id}");
        assert_eq!(percent(last(&all).annualised()), expected, "{id}");
        assert_eq!(last(&all).baseline, Baseline::Addition(day(before)), "{id}");
    }
}

#[test]
fn a_leak_event_is_one_addition_counted_from_the_day_before_its_first() {
    // A7: 4 + 6 lb of 100 lb, same leak, 73 days before the first part: 50 %.
    let mut history = History::default();
    history.charge("2024-04-01", "1");
    history.charge("2024-06-13", "4").leak = Some(1);
    history.charge("2024-06-20", "6").leak = Some(1);
    let all = read(&history, &facts("100", None));
    assert_eq!(annualised(&all)[1..], ["20", "50"]);
    assert_eq!((all[1].days, all[2].days), (73, 73));
    assert_eq!(rolling(&all)[1..], ["5", "11"]);
}

#[test]
fn a_year_with_a_leap_day_still_divides_by_365() {
    for (before, on, days) in [
        ("2023-03-15", "2024-03-14", 365),
        ("2024-02-29", "2025-02-28", 365),
        ("2026-02-28", "2026-03-01", 1),
        ("2025-12-31", "2026-01-01", 1),
    ] {
        let mut history = History::default();
        history.charge(before, "1");
        history.charge(on, "20");
        assert_eq!(
            last(&read(&history, &facts("100", None))).days,
            days,
            "{on}"
        );
    }
}

#[test]
fn the_two_published_examples() {
    // US industry alliance, "Leak Repair" page of its phase-out facts site (web page, pre-2019
    // wording): 100 lb charge, 10 lb lost over the past month is "over 100 percent" a year.
    let mut history = History::default();
    history.charge("2024-06-01", "1");
    history.charge("2024-07-01", "10");
    let rate = last(&read(&history, &facts("100", None)))
        .annualised()
        .unwrap();
    assert!(rate > Fraction::new(100, 1), "{rate}");
    // EPA fact sheet P1006XGE, first page: a yearly loss of about 1000 lb is 25 percent; the
    // charge is not printed, 4000 lb is implied. So this is a check of consistency only.
    let mut history = History::default();
    history.charge("2024-03-01", "400");
    history.charge("2024-09-01", "600");
    assert_eq!(
        percent(last(&read(&history, &facts("4000", None))).rolling()),
        "25"
    );
}

#[test]
fn the_two_methods_disagree_on_the_rack_of_halfmoon_grocers() {
    // Invented scenario: 14.5/210 x 365/96 = 26.25 %, 23.75/210 = 11.31 %.
    let mut history = History::default();
    history.push(Kind::Charge, "2026-04-09", pounds_and_ounces(9, 4));
    history.push(Kind::Charge, "2026-07-14", pounds_and_ounces(14, 8));
    let all = read(&history, &facts("210", None));
    assert_eq!(last(&all).days, 96);
    assert_eq!(last(&all).annualised().unwrap().cut(2), "26.25");
    assert_eq!(last(&all).rolling().unwrap().cut(4), "11.3095");
}

#[test]
fn a_visit_nets_itself() {
    // Invented scenario: 20 lb 10 oz out, 22 lb in, the loss is 1 lb 6 oz: 16.29 %, not 261 %.
    let mut history = History::default();
    history.charge("2026-01-31", "1");
    history
        .push(Kind::Recover, "2026-06-20", pounds_and_ounces(20, 10))
        .visit = Some(7);
    history
        .push(Kind::Charge, "2026-06-20", pounds_and_ounces(22, 0))
        .visit = Some(7);
    let facts = facts("22", None);
    let all = read(&history, &facts);
    assert_eq!(last(&all).days, 140);
    assert_eq!(last(&all).mass, i128::from(pounds_and_ounces(1, 6).steps()));
    assert_eq!(last(&all).annualised().unwrap().cut(4), "16.2946");
    assert_eq!(
        last(&all).entries(&history.sorted(), Netting::Visit),
        [2, 3]
    );
    let gross = read_by(&history, &facts, Netting::Gross);
    assert_eq!(last(&gross).annualised().unwrap().cut(0), "260");
}

#[test]
fn a_visit_is_judged_at_each_of_its_charges() {
    let mut history = History::default();
    history.charge("2024-01-03", "1");
    for (hour, kind, lb) in [
        (8, Kind::Recover, "6"),
        (9, Kind::Charge, "4"),
        (10, Kind::Charge, "10"),
        (11, Kind::Charge, "2"),
        (12, Kind::Recover, "3"),
    ] {
        let event = history.push(kind, "2024-07-01", pounds(lb));
        event.visit = Some(1);
        event.second = Some(hour * 3600);
    }
    let all = read(&history, &facts("100", None));
    // 4 - 6 is nothing yet; then 8, 10, and 7 after what came out again.
    let pound = i128::from(Mass::POUND);
    let figures: Vec<_> = all[1..]
        .iter()
        .map(|step| step.group_mass / pound)
        .collect();
    let steps: Vec<_> = all[1..].iter().map(|step| step.mass / pound).collect();
    assert_eq!((figures, steps), (vec![8, 10, 7], vec![8, 2, -3]));
    assert!(
        all[1..]
            .iter()
            .all(|step| step.group == all[1].group && step.days == 180)
    );
    assert_eq!(rolling(&all), ["1", "9", "11", "8"]);
}

#[test]
fn a_visit_of_several_days_is_dated_by_each_of_its_charges() {
    // Reading: days run to the charge judged; only those of a leak event run to its first.
    for (leak, days) in [(None, [180, 185]), (Some(1), [180, 180])] {
        let mut history = History::default();
        history.charge("2024-01-03", "1");
        for (on, lb) in [("2024-07-01", "4"), ("2024-07-06", "6")] {
            let event = history.charge(on, lb);
            (event.visit, event.leak) = (Some(1), leak);
        }
        let all = read(&history, &facts("100", None));
        assert_eq!([all[1].days, all[2].days], days);
        assert_eq!(all[2].annualised_mass, i128::from(pounds("10").steps()));
    }
}

#[test]
fn what_a_visit_took_out_again_does_not_reset_the_days() {
    let mut history = History::default();
    history.charge("2024-01-03", "1");
    for (hour, kind) in [(9, Kind::Charge), (12, Kind::Recover)] {
        let event = history.push(kind, "2024-06-01", pounds("5"));
        (event.visit, event.second) = (Some(1), Some(hour * 3600));
    }
    history.charge("2024-07-01", "10");
    let all = read(&history, &facts("100", None));
    assert_eq!(last(&all).days, 180);
    assert_eq!(rolling(&all), ["1", "6", "1", "11"]);
}

#[test]
fn a_visit_that_goes_on_after_taking_all_out_counts_from_its_start() {
    // The visit of 1 July puts in 20 lb, takes them out, and puts in 14 on the 5th. Before that
    // the days of another leak of the 5th have no addition to run from; afterwards 4 days.
    let mut history = History::default();
    history.charge("2024-07-01", "20").visit = Some(1);
    history.recover("2024-07-02", "20").visit = Some(1);
    for (hour, lb, visit, leak) in [
        (8, "1", 2, Some(1)),
        (9, "14", 1, None),
        (10, "1", 3, Some(2)),
    ] {
        let event = history.charge("2024-07-05", lb);
        (event.visit, event.leak, event.second) = (Some(visit), leak, Some(hour * 3600));
    }
    let all = read(&history, &facts("100", None));
    assert_eq!((all[2].days, last(&all).days), (365, 4));
    assert_eq!(last(&all).baseline, Baseline::Addition(day("2024-07-01")));
}

#[test]
fn without_a_visit_a_day_is_one_addition_and_one_judgement() {
    let mut history = History::default();
    history.charge("2024-01-03", "1");
    for (hour, kind, lb) in [
        (9, Kind::Charge, "4"),
        (10, Kind::Charge, "6"),
        (15, Kind::Recover, "3"),
    ] {
        history.push(kind, "2024-07-01", pounds(lb)).second = Some(hour * 3600);
    }
    let facts = facts("100", None);
    let all = read(&history, &facts);
    assert_eq!(all.len(), 2);
    assert_eq!(percent(last(&all).annualised()), "511/36"); // 7 % x 365/180
    assert_eq!(
        last(&all).entries(&history.sorted(), Netting::Visit),
        [2, 3, 4]
    );
    let gross = read_by(&history, &facts, Netting::Gross);
    assert_eq!(
        (gross.len(), percent(last(&gross).annualised())),
        (2, "365/18".to_string())
    );
}

#[test]
fn two_visits_on_one_day_are_grouped_with_the_first() {
    // Reading: the formula would divide by zero days, and one day is never put in silently.
    let mut history = History::default();
    history.charge("2024-01-03", "1");
    history.charge("2024-07-01", "4").visit = Some(1);
    history.charge("2024-07-01", "6").visit = Some(2);
    let all = read(&history, &facts("100", None));
    assert_eq!(annualised(&all)[1..], ["73/9", "365/18"]);
    assert_eq!((all[1].days, all[2].days), (180, 180));
    assert_ne!(all[1].group, all[2].group, "two visits stay two additions");
    // With keys they are two leaks, each from the last addition of an earlier day.
    history.events[1].leak = Some(1);
    history.events[2].leak = Some(2);
    assert_eq!(
        annualised(&read(&history, &facts("100", None)))[1..],
        ["73/9", "73/6"]
    );
}

#[test]
fn a_visit_with_a_gap_of_more_than_seven_days_is_split_and_told() {
    for (second, parts) in [("2024-07-08", 1), ("2024-07-09", 2)] {
        let mut history = History::default();
        history.recover("2024-07-01", "10").visit = Some(5);
        history.charge(second, "12").visit = Some(5);
        let mut reader = Reader::default();
        reader.read(&history.sorted(), &facts("100", None), &Reading::default());
        let expected = pounds(if parts == 1 { "2" } else { "12" });
        assert_eq!(
            reader.additions()[0].mass,
            i128::from(expected.steps()),
            "{second}"
        );
        assert_eq!(reader.split_visits().len(), parts - 1);
    }
}

#[test]
fn installation_is_no_addition_and_the_days_begin_there() {
    let mut history = History::default();
    history.charge("2024-01-01", "100").reason = Some(Reason::Installation);
    history.charge("2024-03-14", "6");
    let all = read(&history, &facts("100", Some("2024-01-01")));
    assert_eq!((all.len(), all[0].days), (1, 73));
    assert_eq!(percent(all[0].annualised()), "30");
    assert_eq!(all[0].baseline, Baseline::Installed(day("2024-01-01")));
}

#[test]
fn when_nothing_is_known_the_days_are_365() {
    // Reading: 82.152 is silent on the first addition.
    for (installed, first_days, baseline) in [
        (None, FirstDays::SinceInstalled, Baseline::NoneKnown),
        (Some("2024-01-01"), FirstDays::Year, Baseline::NoneKnown),
        (
            Some("2024-03-15"),
            FirstDays::SinceInstalled,
            Baseline::NoneKnown,
        ),
        (
            Some("2024-03-14"),
            FirstDays::SinceInstalled,
            Baseline::Installed(day("2024-03-14")),
        ),
    ] {
        let mut history = History::default();
        history.push(Kind::Opening, "2024-01-05", pounds("90"));
        history.charge("2024-03-14", "6");
        let reading = Reading {
            first_days,
            ..Reading::default()
        };
        let all = additions(&history.sorted(), &facts("100", installed), &reading);
        assert_eq!(
            (all.len(), all[0].days, all[0].baseline),
            (1, 365, baseline),
            "{installed:?}"
        );
    }
}

#[test]
fn a_season_puts_back_no_more_than_it_took_out() {
    for (back, expected) in [("30", None), ("35", Some("5"))] {
        let mut history = History::default();
        history.charge("2023-04-11", "1");
        history.seasonal(Kind::Recover, "2023-10-10", "30");
        history.seasonal(Kind::Charge, "2024-04-10", back);
        let all = read(&history, &facts("100", None));
        assert_eq!(annualised(&all).get(1).map(String::as_str), expected);
    }
    // More than 12 consecutive months later it is an addition like any other.
    let mut history = History::default();
    history.seasonal(Kind::Recover, "2023-04-09", "30");
    history.seasonal(Kind::Charge, "2024-04-10", "30");
    assert_eq!(annualised(&read(&history, &facts("100", None))), ["30"]);
}

#[test]
fn what_was_taken_out_for_a_season_does_not_also_come_off_a_top_up() {
    // Reading: otherwise the same 30 lb would excuse two charges.
    let mut history = History::default();
    history.seasonal(Kind::Recover, "2023-10-10", "30").visit = Some(1);
    history.charge("2023-10-10", "2").visit = Some(1);
    history.seasonal(Kind::Charge, "2024-04-10", "30");
    assert_eq!(annualised(&read(&history, &facts("100", None))), ["2"]);
}

#[test]
fn returned_netting_leaves_out_what_is_put_back() {
    let mut history = History::default();
    history.charge("2024-01-03", "1");
    history.recover("2024-03-01", "40");
    history.charge("2024-05-01", "45");
    let all = read_by(&history, &facts("100", None), Netting::Returned);
    assert_eq!(
        (last(&all).days, percent(last(&all).annualised())),
        (119, "1825/119".to_string())
    );
}

#[test]
fn a_retrofit_begins_a_new_life() {
    let mut history = History::default();
    history.charge("2024-01-03", "9").leak = Some(1);
    history.recover("2024-05-01", "80").visit = Some(3);
    history.push(Kind::Retrofit, "2024-05-01", Mass::ZERO).visit = Some(3);
    let charge = history.charge("2024-05-01", "100");
    (charge.visit, charge.reason) = (Some(3), Some(Reason::AfterRetrofit));
    history.charge("2024-07-13", "6").leak = Some(1);
    let all = read(&history, &facts("100", Some("2015-05-01")));
    assert_eq!((all.len(), last(&all).days), (2, 73));
    assert_eq!(last(&all).baseline, Baseline::Retrofit(day("2024-05-01")));
    assert_eq!(
        (annualised(&all)[1].as_str(), rolling(&all)[1].as_str()),
        ("30", "6")
    );
}

#[test]
fn additions_before_the_first_day_that_counts_do_not_reset_the_days() {
    let mut history = History::default();
    history.charge("2025-12-01", "9");
    history.charge("2026-02-01", "6");
    history.charge("2026-03-03", "1");
    let reading = Reading {
        counts_from: Some(day("2026-01-01")),
        first_days: FirstDays::Year,
        ..Reading::default()
    };
    let all = additions(
        &history.sorted(),
        &facts("100", Some("2015-05-01")),
        &reading,
    );
    assert_eq!(all.iter().map(|a| a.days).collect::<Vec<_>>(), [365, 30]);
    assert_eq!(rolling(&all), ["6", "7"]);
}

#[test]
fn an_outside_top_up_counts_like_our_own() {
    let mut history = History::default();
    history.charge("2024-01-03", "1");
    history.charge("2024-07-01", "5");
    history.push(Kind::OutsideCharge, "2024-06-01", pounds("2"));
    let all = read(&history, &facts("100", None));
    assert_eq!((all.len(), last(&all).days), (3, 30));
    assert_eq!(percent(last(&all).annualised()), "365/6");
}

#[test]
fn the_full_charge_is_the_one_in_force_that_day_and_may_be_unknown() {
    let mut facts = Facts::default();
    facts.set(
        "full_charge",
        day("2024-03-01"),
        FactValue::Mass(pounds("100")),
    );
    facts.set(
        "full_charge",
        day("2024-07-01"),
        FactValue::Mass(pounds("200")),
    );
    facts.set("full_charge", day("2024-09-01"), FactValue::Unknown);
    let mut history = History::default();
    for on in ["2024-02-29", "2024-06-30", "2024-07-10", "2024-09-01"] {
        history.charge(on, "10");
    }
    let all = read(&history, &facts);
    let rates: Vec<_> = all
        .iter()
        .map(|a| a.rolling().map(|rate| rate.to_string()))
        .collect();
    assert_eq!(rates, [None, Some("20".into()), Some("15".into()), None]);
}

#[test]
fn ten_point_oh_one_of_fifty_point_oh_five_pounds_is_exactly_twenty_percent() {
    let mut history = History::default();
    history.charge("2024-06-01", "10.01");
    let all = read(&history, &facts("50.05", None));
    assert_eq!(percent(all[0].annualised()), "20");
}
