//! What came after a limit was passed, and the rest of the service record of the year: one
//! follow-up done in time, one that waited for parts and came back, one that nobody took up.

use super::people::Person;
use super::script::Job;
use serde_json::{Value, json};

fn job(day: &str, time: &str, by: Person, kind: &str, appliance: &str, more: Value) -> Job {
    let mut body = json!({"appliance": appliance});
    if let (Value::Object(body), Value::Object(more)) = (&mut body, more) {
        body.extend(more);
    }
    let request = json!({"kind": kind, "happened": {"day": day, "time": time}, "body": body});
    Job::new(day, time, by).request(request)
}

/// The service record of the year.
pub fn jobs() -> Vec<Job> {
    [
        in_time(),
        parts_and_back(),
        overdue(),
        house_rule(),
        the_rest(),
    ]
    .concat()
}

/// HG-RACK-A, over on 14 July: repaired and tested within the 30 days, inspected in November.
fn in_time() -> Vec<Job> {
    let unit = "HG-RACK-A";
    let found = json!({"found_by": "technician", "place": "liquid line filter"});
    let repaired = json!({"all_leaks": "yes", "place": "liquid line filter",
                          "work_done": "filter drier and both flare nuts renewed",
                          "parts": "filter drier"});
    let initial = json!({"stage": "initial", "result": "passed", "method": "electronic",
                         "place": "liquid line, receiver"});
    let again = json!({"stage": "follow_up", "result": "passed", "all_leaks": "yes",
                       "method": "soap_bubbles", "place": "liquid line, receiver"});
    let inspected = json!({"result": "clean", "certified": "yes", "method": "electronic",
                           "place": "the whole circuit"});
    vec![
        job(
            "2026-07-14",
            "11:15",
            Person::Ines,
            "leak_found",
            unit,
            found,
        ),
        job(
            "2026-07-21",
            "10:30",
            Person::Ines,
            "repair",
            unit,
            repaired,
        ),
        job(
            "2026-07-21",
            "11:50",
            Person::Ines,
            "verification_test",
            unit,
            initial,
        ),
        job(
            "2026-07-28",
            "10:40",
            Person::Ines,
            "verification_test",
            unit,
            again,
        ),
        job(
            "2026-11-10",
            "09:20",
            Person::Dov,
            "inspection",
            unit,
            inspected,
        ),
    ]
}

/// HG-RACK-C, over on 6 May: parts came late, repaired in July; over again in October, and the
/// owner decides to replace it.
fn parts_and_back() -> Vec<Job> {
    let unit = "HG-RACK-C";
    let (dov, osric) = (Person::Dov, Person::Osric);
    let found = json!({"found_by": "technician", "place": "suction header"});
    let waits = json!({"ground": "parts", "delivered_on": "2026-06-15",
                       "document": "Dunmore Supply, order 4471"});
    let repaired = json!({"all_leaks": "no", "evacuated": "no", "place": "suction header",
                          "work_done": "header brazed in two places"});
    let initial = json!({"stage": "initial", "result": "passed", "method": "electronic"});
    let again = json!({"stage": "follow_up", "result": "passed", "all_leaks": "no",
                       "method": "electronic"});
    let plan = json!({"document": "replacement of rack C, signed 2026-11-02"});
    vec![
        job("2026-05-06", "12:40", dov, "leak_found", unit, found),
        job("2026-05-20", "16:00", osric, "extension", unit, waits),
        job("2026-07-08", "13:30", dov, "repair", unit, repaired),
        job(
            "2026-07-08",
            "14:50",
            dov,
            "verification_test",
            unit,
            initial,
        ),
        job("2026-07-16", "08:10", dov, "verification_test", unit, again),
        job(
            "2026-10-15",
            "15:00",
            osric,
            "decision",
            unit,
            json!({"choice": "replace"}),
        ),
        job("2026-11-02", "10:00", osric, "plan", unit, plan),
    ]
}

/// PINE-CH-2, over on 9 September: nobody took it up, and the page says so. Its purge unit was
/// reported in time.
fn overdue() -> Vec<Job> {
    let unit = "PINE-CH-2";
    let told = json!({"what": "purge_exclusion", "document": "letter of 2026-07-02"});
    vec![
        job(
            "2026-06-18",
            "09:30",
            Person::Dov,
            "purge_destroyed",
            unit,
            json!({}),
        ),
        job("2026-07-02", "11:00", Person::Osric, "notice", unit, told),
    ]
}

/// HG-RTU-07: over the house line, repaired in the same visit.
fn house_rule() -> Vec<Job> {
    let repaired = json!({"all_leaks": "yes", "place": "service valve",
                          "work_done": "valve core renewed"});
    vec![job(
        "2026-07-28",
        "12:20",
        Person::Ines,
        "repair",
        "HG-RTU-07",
        repaired,
    )]
}

/// Laid up over the summer, changed to another refrigerant, shut down, isolated, taken down.
fn the_rest() -> Vec<Job> {
    let dov = Person::Dov;
    let shut = json!({"process_shutdown": "yes", "place": "pasteuriser 2"});
    let isolated = json!({"place": "plate heat exchanger, both valves"});
    let changed = json!({"work_done": "oil, driers and expansion valves changed"});
    vec![
        job(
            "2026-05-04",
            "11:30",
            dov,
            "mothball",
            "LS-RINK-1",
            json!({}),
        ),
        job(
            "2026-09-14",
            "11:00",
            dov,
            "back_in_operation",
            "LS-RINK-1",
            json!({}),
        ),
        job("2026-06-10", "16:00", dov, "retrofit", "HG-RACK-D", changed),
        job("2026-08-19", "09:40", dov, "shutdown", "SD-PROC-2", shut),
        job("2026-08-19", "09:50", dov, "isolate", "SD-PROC-2", isolated),
        job("2026-09-15", "11:00", dov, "retire", "HG-RTU-22", json!({})),
    ]
}
