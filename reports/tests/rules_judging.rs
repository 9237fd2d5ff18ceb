//! Readings that the file of situations does not reach, as situations of our own.
//!
//! Source: the sentences of the vocabulary, worked out by hand (common practice, no source, where a
//! sentence names no clause).

use reports::day::Day;
use reports::rules::conditions::WordTest;
use reports::rules::{Overlay, RuleSet, Tables, run_situations, shipped};
use serde_json::{Value, json};

/// Runs one situation over sets; every expectation must be compared and met.
fn holds(sets: &[RuleSet], situation: Value) {
    let file = json!({ "schema": "tarebook/rule-situations/1", "situations": [situation] });
    let outcome = run_situations("own", &file.to_string(), sets, &Tables::shipped()).unwrap();
    assert_eq!(outcome.differences, []);
    assert!(outcome.compared > 0);
}

fn rack() -> Value {
    json!({ "region": "US-CO", "category": "commercial_refrigeration", "refrigerant": "R-22",
            "full_charge": "100 lb", "installed": "2015-05-01" })
}

fn situation(on: &str, facts: Value, events: Value, set: &str, expect: Value) -> Value {
    json!({ "id": "own", "about": "own", "sets": [set], "on": on, "facts": facts,
            "events": events, "expect": { set: expect } })
}

#[test]
fn a_sum_of_a_period_is_passed_once_in_it() {
    // 40 CFR 82.157(j): 60 + 65 of 100 lb in 2023 pass 125 %, what follows in the year adds nothing;
    // 2024 begins at nothing and passes it with its second charge.
    let events = json!([
        { "kind": "charge", "at": "2023-02-01", "mass": "60 lb" },
        { "kind": "charge", "at": "2023-11-01", "mass": "65 lb" },
        { "kind": "charge", "at": "2023-12-31", "mass": "20 lb" },
        { "kind": "charge", "at": "2024-01-01", "mass": "100 lb" },
        { "kind": "charge", "at": "2024-03-01", "mass": "25 lb" },
        { "kind": "charge", "at": "2024-05-01", "mass": "1 lb" },
    ]);
    let mut facts = rack();
    facts["category"] = "industrial_process".into();
    let expect = json!({ "duties": [
        { "duty": "chronic_report", "since": "2023-11-01", "due": "2024-03-01" },
        { "duty": "chronic_report", "since": "2024-03-01", "due": "2025-03-01" },
    ] });
    let one = situation(
        "2024-06-01",
        facts.clone(),
        events.clone(),
        "us-federal-ods",
        expect,
    );
    holds(&shipped(), one);
    // Half-years instead: no half-year of 2023 has 125 %.
    let mut sets = shipped();
    sets.truncate(1);
    sets[0].limits.retain(|limit| limit.name == "chronic");
    sets[0].duties.clear();
    sets[0].limits[0].period = Some(reports::rules::words::Period::CalendarHalfYear);
    let expect =
        json!({ "exceedances": [{ "limit": "chronic", "on": "2024-03-01", "value": "125" }] });
    holds(
        &sets,
        situation("2024-06-01", facts, events, "us-federal-ods", expect),
    );
}

#[test]
fn a_later_step_of_a_visit_changes_the_figure_and_not_the_start() {
    let events = json!([
        { "kind": "charge", "at": "2023-05-01", "mass": "1 lb" },
        { "kind": "charge", "at": "2024-04-30", "mass": "25 lb", "visit": "V" },
        { "kind": "charge", "at": "2024-05-01", "mass": "5 lb", "visit": "V" },
    ]);
    let expect = json!({
        "additions": [{}, { "annualised": "25" }, { "on": "2024-05-01", "annualised": "30" }],
        "exceedances": [{ "on": "2024-04-30", "value": "30" }],
        "duties": [{ "duty": "repair", "since": "2024-04-30", "due": "2024-05-30" }],
    });
    holds(
        &shipped(),
        situation("2024-05-02", rack(), events, "us-federal-ods", expect),
    );
}

#[test]
fn an_exemption_must_be_shown() {
    let text = include_str!("../rules/eu-2024-573.toml");
    let sets = [RuleSet::from_toml("eu-2024-573.toml", text).unwrap()];
    for (hermetic, applies) in [("yes", "no"), ("no", "yes"), ("unknown", "yes")] {
        let facts = json!({ "region": "EU-DE", "refrigerant": "R-404A", "full_charge": "2.5 kg",
                            "hermetic": hermetic });
        let expect = json!({ "applies": applies });
        holds(
            &sets,
            situation("2025-01-01", facts, json!([]), "eu-2024-573", expect),
        );
    }
}

#[test]
fn what_is_booked_on_the_day_asked_is_known_on_it() {
    let events = json!([
        { "kind": "charge", "at": "2024-05-01", "mass": "30 lb", "booked": "2024-06-01" },
    ]);
    for (on, count) in [("2024-05-31", 0), ("2024-06-01", 1)] {
        let additions = vec![json!({}); count];
        let expect = json!({ "additions": additions });
        holds(
            &shipped(),
            situation(on, rack(), events.clone(), "us-federal-ods", expect),
        );
    }
}

#[test]
fn a_correction_names_the_newest_of_its_chain() {
    let events = json!([
        { "n": 1, "kind": "charge", "at": "2024-05-01", "mass": "30 lb" },
        { "n": 2, "kind": "correction", "at": "2024-05-02", "reverses": 1,
          "replacement": { "mass": "3 lb" } },
        { "n": 3, "kind": "correction", "at": "2024-05-03", "reverses": 2,
          "replacement": { "mass": "25 lb", "at": "2024-05-02" } },
    ]);
    let exceedances = |on: &str, expect: Value| {
        let expect = json!({ "exceedances": expect });
        holds(
            &shipped(),
            situation(on, rack(), events.clone(), "us-federal-ods", expect),
        );
    };
    exceedances("2024-05-01", json!([{ "on": "2024-05-01", "value": "30" }]));
    exceedances("2024-05-02", json!([]));
    exceedances("2024-05-03", json!([{ "on": "2024-05-02", "value": "25" }]));
}

#[test]
fn an_unknown_full_charge_of_the_past_is_missing_where_it_mattered() {
    // Recorded from 2024 on: the addition of 2023 cannot be judged, and the answer says so.
    let mut facts = rack();
    facts["full_charge"] = json!([{ "from": "2024-01-01", "is": "100 lb" }]);
    let events = json!([{ "kind": "charge", "at": "2023-05-01", "mass": "30 lb" }]);
    let expect = json!({ "applies": "yes", "missing": ["full_charge"], "exceedances": [] });
    holds(
        &shipped(),
        situation("2024-05-02", facts, events, "us-federal-ods", expect),
    );
}

#[test]
fn a_band_that_two_blocks_share_is_known_when_one_of_them_is_sure() {
    // An alternative for shops on federal land (invented) stands first, and the land is unknown: a
    // shop is 'commercial' either way, a process may be either.
    let mut sets = shipped();
    let mut on_federal_land = sets[0].bands[0].clone();
    on_federal_land.category = None;
    on_federal_land.land = Some(WordTest {
        is: Some(vec!["federal".to_string()]),
        is_not: None,
    });
    sets[0].bands.insert(0, on_federal_land);
    for (category, land, band, missing) in [
        (
            "commercial_refrigeration",
            "unknown",
            json!("commercial"),
            json!([]),
        ),
        (
            "industrial_process",
            "unknown",
            json!(null),
            json!(["land"]),
        ),
        (
            "industrial_process",
            "private",
            json!("industrial"),
            json!([]),
        ),
    ] {
        let mut facts = rack();
        facts["category"] = category.into();
        facts["land"] = land.into();
        let expect = json!({ "applies": "yes", "band": band, "missing": missing });
        holds(
            &sets,
            situation("2025-01-01", facts, json!([]), "us-federal-ods", expect),
        );
    }
}

#[test]
fn an_unreadable_situation_is_a_difference_and_says_why() {
    let text = json!({ "schema": "tarebook/rule-situations/1", "situations": [situation(
        "2024-05-02", json!({ "full_charge": "many lb" }), json!([]), "us-federal-ods",
        json!({ "applies": "no" }))] });
    let outcome = run_situations("own", &text.to_string(), &shipped(), &Tables::shipped()).unwrap();
    assert_eq!(outcome.differences.len(), 1);
    assert!(
        outcome.differences[0].found.contains("many lb"),
        "{}",
        outcome.differences[0]
    );
}

/// An invented layer of 15 % since 2020, adopted for 2024 only: 16 lb of 100 lb, each a year and more
/// after the last, is over 15 % and within the 20 % of 40 CFR 82.157(c)(2)(i). Only that of 2024
/// passes a limit: neither the year before the layer was adopted nor the one after its end is touched.
#[test]
fn a_layer_judges_only_on_its_own_days() {
    let layer = "id = \"county\"\noverlays = \"us-federal-ods\"\nlayer = \"local\"\n\
                 title = \"t (invented)\"\nreason = \"r (invented)\"\n[values.trigger]\n\
                 rows = [{ from = \"2020-01-01\", for = [\"commercial\"], is = \"15\", clause = \"c\" }]\n";
    let day = |text| Day::parse(text).unwrap();
    let events: Vec<Value> = ["2022-12-30", "2023-12-31", "2024-12-31", "2026-01-01"]
        .map(|at| json!({ "kind": "charge", "at": at, "mass": "16 lb" }))
        .to_vec();
    let passed = |days: Option<(Day, Day)>, expect: Value| {
        let mut layer = Overlay::from_toml("county.toml", layer).unwrap();
        layer.days = days;
        let sets: Vec<RuleSet> = (shipped().into_iter())
            .filter(|set| set.id == "us-federal-ods")
            .map(|set| set.with_layer(layer.clone(), &Tables::shipped()).unwrap())
            .collect();
        let expect = json!({ "exceedances": expect });
        let events = json!(events);
        holds(
            &sets,
            situation("2026-02-01", rack(), events, "us-federal-ods", expect),
        );
    };
    let on = |days: &[&str]| days.iter().map(|on| json!({ "on": on })).collect::<Value>();
    passed(
        None,
        on(&["2022-12-30", "2023-12-31", "2024-12-31", "2026-01-01"]),
    );
    passed(
        Some((day("2024-01-01"), day("2025-12-31"))),
        on(&["2024-12-31"]),
    );
    // The first and the last day belong to it.
    passed(
        Some((day("2023-12-31"), day("2024-12-31"))),
        on(&["2023-12-31", "2024-12-31"]),
    );
    passed(Some((day("2024-01-01"), day("2024-12-30"))), on(&[]));
}
