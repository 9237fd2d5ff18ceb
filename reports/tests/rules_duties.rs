//! Duties in histories that the 197 situations leave out, worked out by hand from the clause.

use crate::sets;

use reports::rules::{RuleSet, Tables, run_situations};
use serde_json::{Value, json};

/// A rack of 100 lb R-22 that passed 20 % on 1 March 2024: 30 days to repair, until 31 March
/// (40 CFR 82.157(d)(1)).
fn differences(more: &[Value], on: &str, expected: Value) -> Vec<String> {
    let mut events = vec![
        json!({"kind": "charge", "at": "2023-03-02", "mass": "1 lb"}),
        json!({"kind": "charge", "at": "2024-03-01", "mass": "30 lb"}),
    ];
    events.extend(more.iter().cloned());
    let file = json!({"schema": "tarebook/rule-situations/1", "situations": [{
        "id": "by-hand", "about": "a rack over the trigger", "sets": ["us-federal-ods"], "on": on,
        "facts": {"region": "US-CO", "category": "commercial_refrigeration", "refrigerant": "R-22",
                  "full_charge": "100 lb", "installed": "2015-05-01"},
        "events": events, "expect": {"us-federal-ods": {"duties": [expected]}}}]});
    let read = |(name, text): &(String, String)| RuleSet::from_toml(name, text).unwrap();
    let sets: Vec<RuleSet> = sets::files().iter().map(read).collect();
    let outcome = run_situations("by hand", &file.to_string(), &sets, &Tables::shipped()).unwrap();
    assert!(outcome.compared > 0);
    outcome
        .differences
        .iter()
        .map(ToString::to_string)
        .collect()
}

/// Common reading of 40 CFR 82.157 (the clause of the mothballing rule from memory): the clock stands while it is mothballed. Stopped on 21 March with
/// ten days left, repaired on 1 May while it is laid up: ten days are left still, and what moves
/// after that moves nothing.
#[test]
fn a_repair_while_the_clock_stands_is_in_time() {
    let history = [
        json!({"kind": "mothball", "at": "2024-03-21"}),
        json!({"kind": "repair", "at": "2024-05-01"}),
        json!({"kind": "charge", "at": "2024-06-10", "mass": "1 lb"}),
    ];
    let done = json!({"duty": "repair", "state": "done", "on": "2024-05-01", "due": "2024-05-11"});
    assert_eq!(
        differences(&history, "2024-06-20", done),
        Vec::<String>::new()
    );
    let late = json!({"duty": "repair", "state": "done_late"});
    assert_eq!(
        differences(&history, "2024-06-20", late).len(),
        1,
        "can fail"
    );
}
