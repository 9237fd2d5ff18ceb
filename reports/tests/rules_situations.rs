//! The 197 situations and every example of the ten sets come out exactly, every expectation of
//! them.
//!
//! Source of the expectations: worked out by hand from the clause that each names, and agreed to
//! by a reference interpreter written apart from this program.

use crate::sets;

use reports::rules::{Outcome, RuleSet, Tables, run_examples, run_situations};

fn all_sets() -> Vec<RuleSet> {
    let read = |(name, text): &(String, String)| RuleSet::from_toml(name, text).unwrap();
    sets::files().iter().map(read).collect()
}

fn show(outcome: &Outcome) {
    for difference in &outcome.differences {
        println!("{difference}");
    }
}

#[test]
fn nothing_that_is_compared_differs_in_the_situations() {
    let text = include_str!("data/rule-situations.json");
    let sets = all_sets();
    let outcome = run_situations("rule-situations.json", text, &sets, &Tables::shipped()).unwrap();
    show(&outcome);
    assert_eq!(outcome.differences, []);
    assert_eq!(outcome.compared, 747);
}

#[test]
fn every_set_answers_its_own_examples() {
    let mut all = Outcome::default();
    for set in all_sets() {
        let outcome = run_examples(&set, &Tables::shipped());
        all.compared += outcome.compared;
        all.differences.extend(outcome.differences);
    }
    show(&all);
    assert_eq!(all.differences, []);
    assert_eq!(all.compared, 193);
}

#[test]
fn a_wrong_expectation_is_found() {
    let text = include_str!("data/rule-situations.json");
    let sets = all_sets();
    for (right, wrong) in [
        (r#""annualised": "365/18""#, r#""annualised": "365/17""#),
        (r#""value": "2145""#, r#""valu": "2145""#),
        (r#""missing": ["category"]"#, r#""missing": []"#),
        (
            r#""due": "2025-03-09T13:00:00-04:00""#,
            r#""due": "2025-03-09T12:00:00-04:00""#,
        ),
        (r#""error": "looser""#, r#""error": "no such thing""#),
        (r#""days": 180"#, r#""days": 181"#),
        (r#""band": "third""#, r#""band": "second""#),
        (r#""duty": "initial_test""#, r#""duty": "inital_test""#),
    ] {
        let changed = text.replace(right, wrong);
        assert_ne!(changed, text, "{right}");
        let outcome = run_situations("s.json", &changed, &sets, &Tables::shipped()).unwrap();
        assert_ne!(outcome.differences, [], "{right}");
    }
}
