//! The desk: settings, rule sets and methods; corrections, links and settlings.

use super::people::Person;
use super::script::Job;
use serde_json::{Value, json};

/// The house rule of a customer, invented; it lies beside the shipped sets and judges with them.
pub const HOUSE_RULE: &str = include_str!("halfmoon-house-rule.toml");

/// What judgements read: adopted before the first of January, the year the demo reports.
pub fn adoptions() -> Vec<Job> {
    let post = |day: &str, time: &str, kind: &str, body: Value| {
        Job::new(day, time, Person::Osric).request(json!({"kind": kind, "body": body}))
    };
    let mut jobs = vec![
        post(
            "2025-11-03",
            "08:50",
            "setting",
            json!({"name": "late_days", "value": "3", "from": "2025-11-03"}),
        ),
        post(
            "2025-11-03",
            "08:51",
            "setting",
            json!({"name": "netting", "value": "visit", "from": "2025-11-03"}),
        ),
        post(
            "2025-11-03",
            "08:55",
            "method",
            json!({"site": "Alder Street", "method": "annualising", "from": "2024-03-12"}),
        ),
        post(
            "2025-12-15",
            "14:00",
            "method",
            json!({"site": "Birch Lane", "method": "rolling", "from": "2026-01-01"}),
        ),
    ];
    let federal = (reports::rules::shipped_texts().iter())
        .filter_map(|(file, toml)| Some((adopted_from(file)?, toml)));
    for (at, (from, toml)) in federal.enumerate() {
        // Two of them hold from days on which work was booked already: why is said with each.
        let request = json!({"kind": "rule_set", "note": "the books begin with the law's own days",
                             "body": {"toml": toml, "from": from}});
        jobs.push(Job::new("2025-12-15", &format!("14:1{at}"), Person::Osric).request(request));
    }
    let body = json!({"toml": HOUSE_RULE, "from": "2026-01-01"});
    jobs.push(post("2025-12-15", "14:20", "rule_set", body));
    jobs
}

/// The day from which the firm judges by a set that comes with the program. It works in the United
/// States only, under no state's own rules.
fn adopted_from(file: &str) -> Option<&'static str> {
    match file {
        "us-federal-ods.toml" => Some("2019-01-01"),
        "us-federal-hfc.toml" => Some("2026-01-01"),
        "us-disposal-log.toml" => Some("2018-01-01"),
        _ => None,
    }
}
