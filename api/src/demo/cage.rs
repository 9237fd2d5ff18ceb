//! What the cage and the gauges of the year tell: a cylinder without a label, one that is light for
//! its refrigerant, a pressure test in the sun, a vacuum that held, a unit that was looked at running.

use super::people::Person;
use super::script::Job;
use serde_json::{Value, json};

fn job(day: &str, time: &str, by: Person, request: Value) -> Job {
    Job::new(day, time, by).request(request)
}

/// All of it.
pub fn jobs() -> Vec<Job> {
    [
        unlabelled(),
        light_liquid(),
        sunny_test(),
        tests_of_the_visit(),
        known_weight(),
    ]
    .concat()
}

/// Found behind the compressor at Birch Lane, no label, gauge like R-410A and like what burns; weighed,
/// locked away, analysed, named, released.
fn unlabelled() -> Vec<Job> {
    let cylinder = json!({
        "kind": "cylinder", "note": "found behind the compressor, collar stamp readable",
        "body": {"facts": {"tag": "TR-0431", "use": "recovery", "tare": "27.5 lb",
                           "water_capacity": "47.7 lb", "retest_on": "2028-03-31",
                           "serial": "K-7719", "held_by": "van of Dov"}},
    });
    let checked = json!({
        "kind": "observation", "happened": {"day": "2026-10-12", "time": "15:10"},
        "note": "stood in the shade over lunch",
        "body": {"cylinder": "TR-0431", "pressure": "195.3", "pressure_unit": "psig",
                 "gauge": "sealed", "accuracy_percent": "1", "full_scale": "800",
                 "wall_temperature": "68", "temperature_unit": "[degF]", "rested": "yes",
                 "gross": "40 lb"},
    });
    let counted = json!({
        "kind": "count", "answers": {"count_differs": "as_stated"},
        "body": {"cylinder": "TR-0431", "gross": "40 lb", "scale": "S-1", "refrigerant": "unknown",
                 "reason": "unposted_transfer"},
    });
    let analysed = json!({
        "kind": "redesignate", "note": "laboratory sheet L-2026-1019",
        "answers": {"content_renamed": "analysed"},
        "body": {"place": "cylinder:TR-0431", "refrigerant": "unknown", "becomes": "R-410A",
                 "mass": "12.5 lb", "class": "suspect"},
    });
    let settled = json!({
        "kind": "settle", "reason_text": "laboratory names R-410A, label is on",
        "body": {"code": "content_doubtful", "entries": ["@unlabelled"], "reason": "analysed"},
    });
    vec![
        job("2026-10-12", "14:50", Person::Marguerite, cylinder),
        job("2026-10-12", "15:20", Person::Dov, checked).named("unlabelled"),
        job("2026-10-12", "15:40", Person::Dov, counted).named("counted"),
        job("2026-10-19", "10:00", Person::Osric, analysed).named("unlabelled-named"),
        job("2026-10-19", "10:10", Person::Osric, settled).named("released"),
    ]
}

/// The known weight of the month on a scale of the van.
fn known_weight() -> Vec<Job> {
    let checked = json!({
        "kind": "scale",
        "body": {"subject": "S-2", "facts": {
            "check_weight": {"nominal": "10 lb", "shown": "10 lb 0.25 oz"}}},
    });
    vec![job("2026-10-30", "17:20", Person::Ines, checked).named("known-weight")]
}

/// Liquid R-454B is lighter than water: four fifths of the water capacity would overfill TR-0432.
fn light_liquid() -> Vec<Job> {
    let out = json!({
        "kind": "transfer", "note": "large cylinder goes back to the supplier",
        "body": {"from": "cylinder:SUP-89341", "to": "cylinder:TR-0432", "refrigerant": "R-454B",
                 "mass": "30 lb"},
    });
    let cylinder = json!({
        "kind": "cylinder",
        "body": {"facts": {"tag": "TR-0432", "use": "recovery", "tare": "27.5 lb",
                           "water_capacity": "47.7 lb", "retest_on": "2027-01-31",
                           "serial": "K-7720", "held_by": "cage"}},
    });
    vec![
        job("2026-10-20", "09:10", Person::Marguerite, cylinder),
        job("2026-10-20", "09:30", Person::Marguerite, out).named("light-liquid"),
    ]
}

/// The sensor lay in the sun: 15 degF too warm looks like a loss of almost 5 psi. Not decided until
/// the question about the sensors was answered by reading again in the shade; the correction settles it.
fn sunny_test() -> Vec<Job> {
    let read = |more: Value| {
        let mut body = json!({
            "appliance": "HG-RTU-07", "stage": "initial", "start_pressure": "150",
            "start_temperature": "70", "end_pressure": "150", "end_temperature": "85",
            "pressure_unit": "psig", "temperature_unit": "[degF]", "pressure_accuracy": "0.5",
            "temperature_accuracy": "1", "design_pressure": "450", "minutes": "60",
            "criterion_minutes": "60", "gauge": "vented", "altitude": "5280",
            "altitude_unit": "[ft_i]",
        });
        for (name, value) in more.as_object().into_iter().flatten() {
            body[name] = value.clone();
        }
        body
    };
    let happened = json!({"day": "2026-07-28", "time": "10:50"});
    let test = json!({"kind": "pressure_test", "happened": happened, "visit": "@v-rtu07",
                      "body": read(json!({}))});
    let answers = json!({"end_temperature": "70", "in_shade": "yes", "on_tested_part": "yes",
                         "same_place": "yes", "settled_after_filling": "yes"});
    let again = json!({
        "kind": "correction", "reason_text": "sensor lay in the sun; shaded and read again",
        "body": {"corrects": "@sunny", "reason": "misread", "replace": {"body": read(answers)}},
    });
    vec![
        job("2026-07-28", "11:05", Person::Ines, test).named("sunny"),
        job("2026-07-28", "11:20", Person::Ines, again).named("shaded"),
    ]
}

/// The same visit: pumped down, closed off, and looked at running.
fn tests_of_the_visit() -> Vec<Job> {
    let vacuum = json!({
        "kind": "vacuum_test", "happened": {"day": "2026-07-28", "time": "11:50"},
        "visit": "@v-rtu07",
        "body": {"appliance": "HG-RTU-07", "stage": "initial", "start_pressure": "320",
                 "middle_minute": "10", "middle_pressure": "400", "end_pressure": "420",
                 "pressure_unit": "um[Hg]", "minutes": "20", "criterion": "END_500_20"},
    });
    let running = json!({
        "kind": "run_check", "happened": {"day": "2026-07-28", "time": "13:00"},
        "visit": "@v-rtu07",
        "body": {"appliance": "HG-RTU-07", "mode": "cooling", "high_pressure": "365",
                 "low_pressure": "122", "pressure_unit": "psig", "gauge": "vented",
                 "altitude": "5280", "altitude_unit": "[ft_i]"},
    });
    vec![
        job("2026-07-28", "12:15", Person::Ines, vacuum).named("vacuum"),
        job("2026-07-28", "13:10", Person::Ines, running).named("run-check"),
    ]
}
