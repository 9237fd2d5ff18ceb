//! What a history means does not hang on the order in which it was booked, nor on what was booked
//! by mistake and taken back.
//!
//! Each situation is changed in a way that the law cannot see, and must answer as before: the
//! entries are booked in the opposite order, or in an order drawn by chance; a large charge is
//! booked and annulled; an entry is corrected to itself. Source of the expectations: those of the
//! situations, worked out by hand from the clause that each names.

use crate::sets;

use proptest::prelude::*;
use reports::rules::{Outcome, RuleSet, Tables, run_situations};
use serde_json::{Map, Value, json};
use std::sync::LazyLock;

static SETS: LazyLock<Vec<RuleSet>> = LazyLock::new(|| {
    let read = |(name, text): &(String, String)| RuleSet::from_toml(name, text).unwrap();
    sets::files().iter().map(read).collect()
});

fn situations() -> Value {
    serde_json::from_str(include_str!("data/rule-situations.json")).unwrap()
}

fn run(file: &Value) -> Outcome {
    run_situations("s.json", &file.to_string(), &SETS, &Tables::shipped()).unwrap()
}

/// Does something to the events of every appliance of every situation; gives how many it changed.
fn change(file: &mut Value, mut act: impl FnMut(&mut Vec<Value>, &str) -> bool) -> usize {
    let mut changed = 0;
    for situation in file["situations"].as_array_mut().unwrap() {
        let on = situation["on"].as_str().unwrap().to_string();
        let whole: &mut Map<String, Value> = situation.as_object_mut().unwrap();
        let lists = if whole.contains_key("appliances") {
            let appliances = whole["appliances"].as_array_mut().unwrap().iter_mut();
            appliances.filter_map(|one| one.get_mut("events")).collect()
        } else {
            Vec::from_iter(whole.get_mut("events"))
        };
        for list in lists {
            changed += usize::from(act(list.as_array_mut().unwrap(), &on));
        }
    }
    changed
}

/// Writes down the booking number that an entry has by its place.
fn number(events: &mut [Value]) {
    for (at, event) in events.iter_mut().enumerate() {
        let event = event.as_object_mut().unwrap();
        event.entry("n").or_insert(json!(at + 1));
    }
}

/// Whether nothing but the id could tell two entries apart in time, or a number is named.
fn order_is_told(events: &[Value]) -> bool {
    let moment = |event: &Value| (event["at"].clone(), event["kind"].clone());
    events.iter().enumerate().any(|(at, event)| {
        event.get("reverses").is_some()
            || events[at + 1..]
                .iter()
                .any(|other| moment(other) == moment(event))
    })
}

/// Leaves out what names entries: one that was corrected goes by the number of its correction.
fn without_gaps(file: &mut Value) {
    for situation in file["situations"].as_array_mut().unwrap() {
        for outcome in situation["expect"].as_object_mut().unwrap().values_mut() {
            outcome
                .as_object_mut()
                .map(|outcome| outcome.remove("gaps"));
        }
    }
}

/// Books the entries of a history in another order: `place` gives the new number of each.
fn rebooked(events: &mut [Value], place: impl Fn(usize) -> usize) -> bool {
    if events.len() < 2 || order_is_told(events) {
        return false;
    }
    for (at, event) in events.iter_mut().enumerate() {
        event["n"] = json!(place(at) + 1);
    }
    events.sort_by_key(|event| event["n"].as_u64());
    true
}

fn same(as_it_was: &Outcome, now: &Outcome) {
    assert_eq!(now.differences, []);
    assert_eq!(now.compared, as_it_was.compared);
    assert!(now.compared > 300);
}

#[test]
fn booking_in_the_opposite_order_changes_nothing() {
    let mut file = situations();
    let as_it_was = run(&file);
    let changed = change(&mut file, |events, _| {
        let last = events.len().saturating_sub(1);
        rebooked(events, |at| last - at)
    });
    println!("{changed} histories booked backwards");
    assert!(changed > 80, "{changed}");
    same(&as_it_was, &run(&file));
}

#[test]
fn a_charge_that_was_annulled_changes_nothing() {
    let mut file = situations();
    let as_it_was = run(&file);
    let pair = |events: &mut Vec<Value>, on: &str| {
        number(events);
        let charge = json!({ "kind": "charge", "at": on, "mass": "500 kg", "n": 1001 });
        events.push(charge);
        events.push(json!({ "kind": "correction", "at": on, "n": 1002, "reverses": 1001 }));
        true
    };
    let changed = change(&mut file, pair);
    assert!(changed > 150, "{changed}");
    same(&as_it_was, &run(&file));
    // The charge alone is seen: the pair above would not have been harmless by being overlooked.
    change(&mut file, |events, _| events.pop().is_some());
    assert!(run(&file).differences.len() > 20);
}

#[test]
fn an_entry_corrected_to_itself_changes_nothing() {
    let mut file = situations();
    without_gaps(&mut file);
    let as_it_was = run(&file);
    let restated = |events: &mut Vec<Value>, on: &str| {
        number(events);
        let reversed: Vec<Value> = events
            .iter()
            .map(|event| event["reverses"].clone())
            .collect();
        let seen = |event: &&Value| {
            event.get("booked").is_none()
                && event["kind"] != "correction"
                && event["at"].as_str().is_some_and(|at| &at[..10] <= on)
                && !reversed.contains(&event["n"])
        };
        let corrections: Vec<Value> = events
            .iter()
            .filter(seen)
            .enumerate()
            .map(|(at, event)| {
                let mut whole = event.clone();
                whole.as_object_mut().unwrap().remove("n");
                json!({ "kind": "correction", "at": on, "n": 1001 + at, "reverses": event["n"],
                        "replacement": whole })
            })
            .collect();
        events.extend(corrections.iter().cloned());
        !corrections.is_empty()
    };
    let changed = change(&mut file, restated);
    assert!(changed > 100, "{changed}");
    same(&as_it_was, &run(&file));
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..Default::default() })]

    #[test]
    fn booking_in_any_order_changes_nothing(keys in proptest::collection::vec(any::<u32>(), 40)) {
        let mut file = situations();
        let as_it_was = run(&file);
        change(&mut file, |events, _| {
            let keys: Vec<(u32, usize)> =
                (0..events.len()).map(|at| (keys[at % keys.len()], at)).collect();
            rebooked(events, |at| keys.iter().filter(|key| **key < keys[at]).count())
        });
        same(&as_it_was, &run(&file));
    }
}
