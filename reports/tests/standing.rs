//! A standing as it travels: figures, exceedances, first due dates and sentences.
//!
//! Expected figures: the formulas of 40 CFR 82.152 and the days of 82.157(d), (e)(1) worked out by
//! hand; an exact 20 % and the hundredth of a pound more are the situations of the rule files.

use reports::appliance::{FactValue, Facts};
use reports::day::{Day, Zone};
use reports::event::{Event, Kind};
use reports::leak_rate::Method;
use reports::mass::Mass;
use reports::rules::file::Overlay;
use reports::rules::review::SiteSettings;
use reports::rules::{Judge, LimitOn, RuleSet, Tables, shipped};
use reports::standing::assess;
use serde_json::{Value, json};

fn day(text: &str) -> Day {
    Day::parse(text).unwrap()
}

fn pounds(hundredths: i64) -> Mass {
    Mass::from_steps(Mass::POUND / 100 * hundredths)
}

fn rack(refrigerant: &str, category: Option<&str>, full_charge: Option<i64>) -> Facts {
    let mut facts = Facts::default();
    let mut word = |name: &str, word: &str| {
        facts.set(name, Facts::ALWAYS, FactValue::Word(word.to_string()));
    };
    word("region", "US-CO-101");
    word("refrigerant", refrigerant);
    if let Some(category) = category {
        word("category", category);
    }
    if let Some(full) = full_charge {
        facts.set(
            "full_charge",
            Facts::ALWAYS,
            FactValue::Mass(pounds(full * 100)),
        );
    }
    facts.set(
        "installed",
        Facts::ALWAYS,
        FactValue::Day(day("2015-05-01")),
    );
    facts
}

fn charge(entry: u64, on: &str, hundredths: i64) -> Event {
    let chain = u128::from(entry);
    Event {
        entry,
        chain,
        ..Event::new(Kind::Charge, day(on), pounds(hundredths))
    }
}

fn settings(method: Method) -> SiteSettings {
    let methods = vec![(Facts::ALWAYS, method)];
    SiteSettings {
        methods,
        netting: None,
        zone: Zone::named("America/Denver").unwrap(),
    }
}

fn standing(sets: &[RuleSet], facts: &Facts, events: &[Event], method: Method, on: &str) -> Value {
    let tables = Tables::shipped();
    let judge = Judge::new(sets, &tables).unwrap();
    let standing = assess(&judge, facts, events, &settings(method), day(on), None);
    serde_json::to_value(standing).unwrap()
}

fn rack_two() -> (Facts, Vec<Event>) {
    let facts = rack("R-22", Some("commercial_refrigeration"), Some(100));
    (
        facts,
        vec![
            charge(12, "2023-06-01", 100),
            charge(41, "2024-05-31", 2001),
        ],
    )
}

#[test]
fn a_hundredth_of_a_pound_over_the_limit_opens_a_repair_with_its_reason() {
    let (facts, events) = rack_two();
    let shown = standing(
        &shipped(),
        &facts,
        &events,
        Method::Annualising,
        "2024-06-10",
    );
    let rate = &shown["additions"][1]["rates"]["annualising"];
    assert_eq!(rate["percent"], "20.0100");
    assert_eq!(
        (&rate["numerator"], &rate["denominator"]),
        (&json!("2001"), &json!("100"))
    );
    assert_eq!(
        (&rate["over"], &rate["threshold"]),
        (&json!(true), &json!("20"))
    );
    assert_eq!(rate["set"], "us-federal-ods");
    assert_eq!(rate["clause"], "40 CFR 82.157(c)(2)(i)");
    // By the rolling average 1 + 20.01 lb of 100 lb; 2023-06-01 is 365 days back and so outside.
    assert_eq!(
        shown["additions"][1]["rates"]["rolling"]["percent"],
        "20.0100"
    );
    assert_eq!(shown["additions"][1]["entries"], json!([41]));
    assert_eq!(shown["additions"][1]["baseline"], "addition 2023-06-01");
    assert_eq!(shown["exceedances"].as_array().unwrap().len(), 1);
    let worked = "20.01 lb put in on 2024-05-31 (entry 41) is 20.01 % a year of 100 lb (365 days \
                  since the addition of 2023-06-01), over 20 % [40 CFR 82.157(c)(2)(i), in force \
                  since 2019-01-01]";
    assert_eq!(shown["exceedances"][0]["worked"], worked);
    let duties: Vec<(&str, &str)> = (shown["duties"].as_array().unwrap().iter())
        .map(|duty| {
            (
                duty["duty"].as_str().unwrap(),
                duty["due"].as_str().unwrap(),
            )
        })
        .collect();
    let expected = [
        ("repair", "2024-06-30"),
        ("initial_test", "2024-06-30"),
        ("leak_inspection", "2024-12-31"),
    ];
    assert_eq!(duties, expected);
    let sentence = format!(
        "Find the leaks and repair them: due 2024-06-30: {worked}; 30 days [40 CFR \
         82.157(d), (e)(1)]."
    );
    assert_eq!(shown["duties"][0]["why"], sentence);
    assert_eq!(
        shown["why"][0],
        "us-federal-ods covers it [40 CFR 82.157(a)], band 'commercial'."
    );
    assert_eq!(shown["missing"], json!([]));
    assert_eq!(shown["balance"]["lb_oz"], "21 lb 0.16 oz");
}

#[test]
fn exactly_the_limit_is_not_over_and_later_events_are_not_seen() {
    let (facts, mut events) = rack_two();
    events[1] = charge(41, "2024-05-31", 2000);
    events.push(charge(50, "2024-06-11", 9000));
    let shown = standing(
        &shipped(),
        &facts,
        &events,
        Method::Annualising,
        "2024-06-10",
    );
    assert_eq!(shown["additions"].as_array().unwrap().len(), 2);
    assert_eq!(shown["additions"][1]["rates"]["annualising"]["over"], false);
    assert_eq!(shown["exceedances"], json!([]));
    assert_eq!(shown["duties"], json!([]));
}

#[test]
fn a_process_shutdown_recorded_in_the_case_gives_120_days() {
    let (facts, mut events) = rack_two();
    let mut decision = Event::new(Kind::Decision, day("2024-06-03"), Mass::ZERO);
    let words = [("process_shutdown".to_string(), "yes".to_string())];
    decision.words = Some(Box::new(words.into_iter().collect()));
    events.push(decision);
    let shown = standing(
        &shipped(),
        &facts,
        &events,
        Method::Annualising,
        "2024-06-10",
    );
    // 40 CFR 82.157(d): 120 days from 2024-05-31.
    assert_eq!(shown["duties"][0]["due"], "2024-09-28");
}

#[test]
fn the_rolling_sentence_names_the_window() {
    let facts = rack("R-22", Some("commercial_refrigeration"), Some(100));
    let events = [
        charge(1, "2024-02-01", 1000),
        charge(2, "2024-06-01", 500),
        charge(3, "2024-11-01", 600),
    ];
    let shown = standing(&shipped(), &facts, &events, Method::Rolling, "2024-12-01");
    assert_eq!(shown["method"], "rolling");
    assert_eq!(
        shown["exceedances"][0]["worked"],
        "21 lb put in within 365 days up to 2024-11-01 is 21 % of 100 lb, over 20 % [40 CFR \
         82.157(c)(2)(i), in force since 2019-01-01]"
    );
}

#[test]
fn what_nobody_recorded_is_named_and_never_taken_as_zero_or_no() {
    let facts = rack("R-22", Some("commercial_refrigeration"), None);
    let events = [charge(1, "2024-05-31", 2000)];
    let shown = standing(
        &shipped(),
        &facts,
        &events,
        Method::Annualising,
        "2024-06-10",
    );
    assert_eq!(shown["full_charge"], Value::Null);
    assert_eq!(
        shown["additions"][0]["rates"],
        json!({ "annualising": null, "rolling": null })
    );
    assert_eq!(shown["missing"], json!(["full_charge"]));
    assert_eq!(shown["sets"][0]["applies"], "cannot_judge");
    let said = "us-federal-ods: cannot judge whether it applies, find full_charge.";
    assert_eq!(shown["why"][0], said);

    let facts = rack("R-22", None, Some(100));
    let shown = standing(
        &shipped(),
        &facts,
        &events,
        Method::Annualising,
        "2024-06-10",
    );
    assert_eq!(shown["sets"][0]["applies"], "yes");
    assert_eq!(
        shown["additions"][0]["rates"]["annualising"]["over"],
        Value::Null
    );
    assert_eq!(shown["missing"], json!(["category"]));
}

#[test]
fn figures_come_from_the_set_that_applies_on_the_day() {
    let facts = rack("R-404A", Some("commercial_refrigeration"), Some(100));
    let events = [charge(1, "2025-12-20", 1000), charge(2, "2026-01-20", 1000)];
    let shown = standing(
        &shipped(),
        &facts,
        &events,
        Method::Annualising,
        "2026-02-10",
    );
    // 40 CFR 84.106(b)(1) (unconfirmed): the first after 2026-01-01 counts 365 days: 10 %.
    let second = &shown["additions"][1];
    assert_eq!(
        (&second["days"], &second["baseline"]),
        (&json!(365), &json!("none_known"))
    );
    let rate = &second["rates"]["annualising"];
    assert_eq!(rate["percent"], "10.0000");
    assert_eq!(
        (&rate["set"], &rate["confidence"]),
        (&json!("us-federal-hfc"), &json!("unconfirmed"))
    );
    // Before 2026 no set covered an HFC appliance: the figure is shown and nothing is over.
    let first = &shown["additions"][0]["rates"]["annualising"];
    assert_eq!(
        (&first["over"], &first["set"]),
        (&json!(false), &Value::Null)
    );
}

#[test]
fn a_local_layer_is_named_wherever_it_acts() {
    let layer = "id = \"pueblo-example\"\noverlays = \"us-federal-ods\"\nlayer = \"local\"\n\
                 title = \"Example county (invented)\"\nreason = \"ordinance 12 (invented)\"\n\
                 where = { region = { is = [\"US-CO-101\"] } }\n[values.trigger]\nrows = [{ from = \
                 \"2024-05-01\", for = [\"commercial\"], is = \"15\", clause = \
                 \"ordinance 12\" }]\n";
    let layer = Overlay::from_toml("county.toml", layer).unwrap();
    let ods = shipped()
        .remove(0)
        .with_layer(layer, &Tables::shipped())
        .unwrap();
    let (facts, events) = rack_two();
    let shown = standing(&[ods], &facts, &events, Method::Annualising, "2024-06-10");
    let bound = &shown["exceedances"][0]["bounds"][0];
    assert_eq!(
        (&bound["number"], &bound["overlay"]),
        (&json!("15"), &json!("pueblo-example"))
    );
    let worked = shown["exceedances"][0]["worked"].as_str().unwrap();
    assert!(
        worked.ends_with(
            "over 15 % [ordinance 12, local layer 'pueblo-example', in force since 2024-05-01]"
        ),
        "{worked}"
    );
}

#[test]
fn with_no_rule_set_the_figures_stand_and_nothing_is_over() {
    let (facts, events) = rack_two();
    let shown = standing(&[], &facts, &events, Method::Annualising, "2024-06-10");
    let rate = &shown["additions"][1]["rates"]["annualising"];
    assert_eq!(
        (&rate["percent"], &rate["over"]),
        (&json!("20.0100"), &json!(false))
    );
    assert_eq!(shown["exceedances"], json!([]));
}

/// An unknown full charge hides the size that decides whether the rule covers the unit, and the
/// number of the limit hangs on its band: that is *cannot judge*, never *no limit*.
#[test]
fn a_limit_by_bands_cannot_be_judged_while_cover_is_in_doubt() {
    let facts = rack("R-454B", Some("comfort_cooling"), None);
    let (sets, tables) = (shipped(), Tables::shipped());
    let judge = Judge::new(&sets, &tables).unwrap();
    let prepared = judge.appliance(&facts);
    let set = sets.iter().position(|set| set.id == "us-federal-hfc");
    let limit = prepared.leak_rate_limit(set.unwrap(), day("2026-05-05"));
    assert!(
        matches!(limit, LimitOn::CannotJudge { missing } if missing == &["full_charge"]),
        "{limit:?}"
    );
}
