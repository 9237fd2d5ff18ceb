//! What goes wrong in a year of honest work, and how the book takes it: late, doubled, misread,
//! without signal, mixed, unknown. Nothing is refused that has happened; each leaves its trace.

use super::people::Person;
use super::script::Job;
use serde_json::{Value, json};

fn job(day: &str, time: &str, by: Person, request: Value) -> Job {
    Job::new(day, time, by).request(request)
}

/// All slips and what was done about them.
pub fn jobs() -> Vec<Job> {
    [
        late_and_at_night(),
        readings(),
        doubled(),
        corrected(),
        links(),
        without_signal(),
        unknown_content(),
        mixed(),
        mixed_and_open(),
        lifted(),
        shipments(),
        statements(),
        changed_on_a_day(),
        visit_netting(),
    ]
    .concat()
}

/// Friday's paper, written up on Tuesday week; and a call in the hour that the clocks skip.
fn late_and_at_night() -> Vec<Job> {
    let late = json!({
        "kind": "charge", "happened": {"day": "2026-02-06", "time": "15:40"}, "did": "@ines",
        "note": "note found in the van, written up late", "answers": {"old_day": "as_stated"},
        "body": {"from": "cylinder:SUP-88110", "to": "appliance:QK-RTU-1",
                 "weighed": {"net": "12 oz", "scale": "S-2"}, "reason": "leak_top_up"},
    });
    let night = json!({
        "kind": "charge", "happened": {"day": "2026-03-08", "time": "02:30"},
        "note": "on call, till area at 31 degrees",
        "answers": {"skipped_or_doubled_time": "day_only"},
        "body": {"from": "cylinder:SUP-88655", "to": "appliance:HG-RTU-21",
                 "weighed": {"net": "0.5 lb", "scale": "S-3"}, "reason": "emergency",
                 "returned_to_full_charge": true},
    });
    vec![
        job("2026-02-17", "17:20", Person::Ines, late).named("late"),
        job("2026-03-08", "04:10", Person::Dov, night).named("night"),
    ]
}

/// Readings the wrong way round, a decimal that could be ounces, and the customer's own scale.
fn readings() -> Vec<Job> {
    let swapped = json!({
        "kind": "charge", "happened": {"day": "2026-06-25", "time": "07:45"},
        "answers": {"swapped": "exchange"},
        "body": {"from": "cylinder:SUP-91020", "to": "appliance:SD-TRUCK-4",
                 "readings": {"before": "29.3 lb", "after": "30.5 lb", "scale": "S-3"},
                 "reason": "leak_top_up", "returned_to_full_charge": true},
    });
    let foreign = json!({
        "kind": "charge", "happened": {"day": "2026-06-18", "time": "10:30"},
        "answers": {"rate_jump": "as_stated"},
        "body": {"from": "cylinder:SUP-88113", "to": "appliance:LS-RTU-12",
                 "readings": {"before": "30.75 lb", "after": "24.65 lb",
                              "scale": "bench scale of the caretaker"},
                 "reason": "after_repair", "returned_to_full_charge": true},
    });
    let mut tank = json!({
        "kind": "charge", "happened": {"day": "2026-07-21", "time": "09:10"}, "visit": "@v-tank",
        "answers": {"pounds_or_ounces": "as_pounds"},
        "body": {"from": "cylinder:SUP-87903", "to": "appliance:SD-TANK-1", "mass": "3.12 lb",
                 "reason": "leak_top_up"},
    });
    let first = tank.clone();
    tank["happened"]["time"] = json!("15:30");
    tank["note"] = json!("called back for the other compressor");
    tank["answers"] = json!({});
    tank["body"]["mass"] = json!("2.5 lb");
    vec![
        job("2026-06-25", "09:00", Person::Dov, swapped).named("swapped"),
        job("2026-06-18", "11:45", Person::Dov, foreign).named("rtu12-in"),
        job("2026-07-21", "10:20", Person::Dov, first).named("tank-first"),
        job("2026-07-21", "16:50", Person::Dov, tank).named("tank-second"),
    ]
}

/// Pressed twice on one bar of signal, from two telephones; the second is annulled.
fn doubled() -> Vec<Job> {
    let charge = json!({
        "kind": "charge", "happened": {"day": "2026-06-05", "time": "16:10"}, "did": "@ines",
        "body": {"from": "cylinder:SUP-88701", "to": "appliance:QK-ICE-1",
                 "readings": {"before": "36 lb 0 oz", "after": "35 lb 10 oz", "scale": "S-2"},
                 "reason": "leak_top_up", "returned_to_full_charge": true},
    });
    let mut again = charge.clone();
    again["answers"] = json!({"look_alike": "as_stated"});
    let annulled = json!({"kind": "correction", "reason_text": "the same charge from two telephones",
                          "body": {"corrects": "@doubled", "reason": "duplicate"}});
    vec![
        job("2026-06-05", "17:00", Person::Ines, charge),
        job("2026-06-05", "17:06", Person::Ines, again).named("doubled"),
        job("2026-06-08", "08:30", Person::Osric, annulled).named("annulled"),
    ]
}

/// A misread display, a wrong day, and a figure that was registered wrongly from the start.
fn corrected() -> Vec<Job> {
    let misread = |after: &str| {
        json!({"from": "cylinder:SUP-88110", "to": "appliance:HG-RTU-09",
               "readings": {"before": "23 lb 0 oz", "after": after, "scale": "S-2"},
               "reason": "leak_top_up", "returned_to_full_charge": true})
    };
    let charge = json!({"kind": "charge", "happened": {"day": "2026-05-21", "time": "14:20"},
                        "body": misread("20 lb 8 oz")});
    let read_anew = json!({
        "kind": "correction", "reason_text": "photo of the display shows 21 lb 8 oz",
        "body": {"corrects": "@misread", "reason": "misread",
                 "replace": {"body": misread("21 lb 8 oz")}},
    });
    let chiller = json!({"from": "cylinder:SUP-88700", "to": "appliance:PINE-CH-1",
                         "readings": {"before": "36 lb", "after": "27.1 lb", "scale": "S-3"},
                         "reason": "leak_top_up", "returned_to_full_charge": true});
    let wrong_day = json!({"kind": "charge", "happened": {"day": "2026-05-12", "time": "13:15"},
                           "answers": {"rate_jump": "as_stated"}, "body": chiller});
    let right_day = json!({
        "kind": "correction", "answers": {"rate_jump": "as_stated"},
        "reason_text": "the work order says the 13th",
        "body": {"corrects": "@wrong-day", "reason": "wrong_day",
                 "replace": {"happened": {"day": "2026-05-13", "time": "13:15"}, "body": chiller}},
    });
    vec![
        job("2026-05-21", "15:30", Person::Ines, charge).named("misread"),
        job("2026-05-22", "07:30", Person::Ines, read_anew).named("read-anew"),
        job("2026-05-13", "17:30", Person::Dov, wrong_day).named("wrong-day"),
        job("2026-05-14", "07:10", Person::Dov, right_day).named("right-day"),
        job("2025-11-05", "09:30", Person::Osric, registered_anew()).named("registered-anew"),
    ]
}

/// 156 lb was typed where the drawing says 165 lb. A correction states the whole.
fn registered_anew() -> Value {
    let from = |is: Value| json!([{"from": "2019-05-20", "is": is}]);
    let facts = json!({
        "tag": "HG-RACK-B", "site": "Alder Street", "installed": "2019-05-20",
        "category": from(json!("commercial_refrigeration")),
        "owner": from(json!("Halfmoon Grocers")), "refrigerant": from(json!("R-448A")),
        "full_charge": from(json!({"mass": "165 lb", "method": "calculation"})),
        "place": "machine room behind the bakery", "serial": "MR-19-3302",
    });
    json!({"kind": "correction", "reason_text": "two digits exchanged in the old spreadsheet",
           "body": {"corrects": "@reg-HG-RACK-B", "reason": "misread",
                    "replace": {"body": {"facts": facts}}}})
}

/// What belongs together, and what does not, said afterwards.
fn links() -> Vec<Job> {
    let link = |relation: &str, entries: [&str; 2], note: &str| json!({"kind": "link", "note": note, "body": {"relation": relation, "entries": entries}});
    let visit = link(
        "same_visit",
        ["@rtu12-out", "@rtu12-in"],
        "one repair over two days",
    );
    let leak = link(
        "same_leak",
        ["@proc1-first", "@proc1-second"],
        "the flange, both times",
    );
    let jobs = link(
        "two_jobs",
        ["@tank-first", "@tank-second"],
        "two compressors, two calls",
    );
    vec![
        job("2026-06-19", "08:00", Person::Osric, visit).named("same-visit"),
        job("2026-04-07", "08:00", Person::Osric, leak).named("same-leak"),
        job("2026-07-22", "08:00", Person::Osric, jobs).named("two-jobs"),
    ]
}

/// No signal in the boiler house: nobody could be asked, so the doubts are findings.
fn without_signal() -> Vec<Job> {
    let more_than_was_in_it = json!({
        "kind": "charge", "captured_offline": true,
        "happened": {"day": "2026-09-22", "time": "11:20"},
        "note": "supplier fills generously, cylinder ran empty",
        "body": {"from": "cylinder:SUP-88700", "to": "appliance:LS-CH-1",
                 "weighed": {"net": "22.1 lb", "scale": "S-3"}, "reason": "leak_top_up"},
    });
    let retest_passed = json!({
        "kind": "recover", "captured_offline": true,
        "happened": {"day": "2026-09-29", "time": "10:05"},
        "body": {"from": "appliance:PINE-CH-1", "to": "cylinder:TR-0426",
                 "weighed": {"net": "4.5 lb", "scale": "S-3"}, "reason": "repair",
                 "class": "clean", "evacuation": {"value": "10", "unit": "[in_i'Hg]"}},
    });
    vec![
        job("2026-09-22", "18:40", Person::Dov, more_than_was_in_it).named("offline"),
        job("2026-09-29", "18:40", Person::Dov, retest_passed).named("expired"),
    ]
}

/// Five window units of nobody's register into the suspect cylinder; the laboratory names it.
fn unknown_content() -> Vec<Job> {
    let bulk = json!({
        "kind": "recover", "happened": {"day": "2026-01-13", "time": "13:00"},
        "note": "window units from the clearance, plates gone",
        "body": {"from": "unregistered", "to": "cylinder:TR-0422", "refrigerant": "unknown",
                 "number": 5, "weighed": {"net": "7.3 lb", "scale": "S-3"}, "class": "suspect",
                 "reason": "disposal"},
    });
    let analysed = json!({
        "kind": "redesignate", "note": "laboratory sheet L-2026-0211",
        "answers": {"content_renamed": "analysed"},
        "body": {"place": "cylinder:TR-0422", "refrigerant": "unknown", "becomes": "R-22",
                 "mass": "7.3 lb", "class": "suspect"},
    });
    vec![
        job("2026-01-13", "14:30", Person::Dov, bulk).named("unknown"),
        job("2026-02-11", "09:00", Person::Osric, analysed).named("analysed"),
    ]
}

/// Two refrigerants met in one cylinder; analysed, written off as a mixture, settled, destroyed.
fn mixed() -> Vec<Job> {
    let mixing = json!({
        "kind": "recover", "captured_offline": true, "visit": "@v-rtu12-winter",
        "happened": {"day": "2026-02-26", "time": "09:30"},
        "note": "took the wrong cylinder off the van",
        "body": {"from": "appliance:LS-RTU-12", "to": "cylinder:TR-0423", "refrigerant": "R-410A",
                 "weighed": {"net": "6.2 lb", "scale": "S-3"}, "reason": "repair",
                 "class": "clean"},
    });
    let recharged = json!({
        "kind": "charge", "captured_offline": true, "visit": "@v-rtu12-winter",
        "happened": {"day": "2026-02-26", "time": "13:50"},
        "body": {"from": "cylinder:SUP-88110", "to": "appliance:LS-RTU-12",
                 "weighed": {"net": "6.5 lb", "scale": "S-3"}, "reason": "after_repair",
                 "returned_to_full_charge": true},
    });
    let part = |refrigerant: &str, mass: &str| json!({"from": "cylinder:TR-0423", "refrigerant": refrigerant, "mass": mass});
    let mixture = json!({
        "kind": "redesignate", "note": "laboratory sheet L-2026-0302",
        "body": {"becomes": "mixture", "parts": ["R-22", "R-410A"], "class": "mixed",
                 "movements": [part("R-22", "4 lb"), part("R-410A", "6.2 lb")]},
    });
    let settled = json!({
        "kind": "settle", "reason_text": "content known, labelled, goes to destruction",
        "body": {"code": "mixing", "entries": ["@mixed"], "reason": "analysed"},
    });
    let destroyed = json!({
        "kind": "send_to_destruction",
        "body": {"from": "cylinder:TR-0423", "to": "counterparty:Emberline Destruction",
                 "mass": "10.2 lb", "document": "ED-2207"},
    });
    vec![
        job("2026-02-26", "18:10", Person::Dov, mixing).named("mixed"),
        job("2026-02-26", "18:11", Person::Dov, recharged),
        job("2026-03-02", "10:00", Person::Osric, mixture).named("mixture"),
        job("2026-03-03", "08:30", Person::Osric, settled).named("settled"),
        job("2026-03-24", "14:00", Person::Marguerite, destroyed).named("destroyed"),
    ]
}

/// It happened again in November, and nobody has settled it yet.
fn mixed_and_open() -> Vec<Job> {
    let mixing = json!({
        "kind": "recover", "visit": "@v-rackb", "did": "@ines",
        "happened": {"day": "2026-11-10", "time": "09:20"},
        "note": "label had come off, looked like the R-448A one",
        "answers": {"mixing": "already_happened"},
        "body": {"from": "appliance:HG-RACK-B", "to": "cylinder:TR-0424", "refrigerant": "R-448A",
                 "weighed": {"net": "12 lb", "scale": "S-2"}, "reason": "repair",
                 "class": "mixed"},
    });
    let charged = json!({
        "kind": "charge", "visit": "@v-rackb", "happened": {"day": "2026-11-10", "time": "14:40"},
        "body": {"from": "cylinder:SUP-88232", "to": "appliance:HG-RACK-B",
                 "weighed": {"net": "13 lb", "scale": "S-2"}, "reason": "after_repair",
                 "returned_to_full_charge": true},
    });
    vec![
        job("2026-11-10", "10:00", Person::Ines, mixing).named("mixed-open"),
        job("2026-11-10", "15:30", Person::Ines, charged),
    ]
}

/// A stop that the manager lifts, with his reason in writing.
fn lifted() -> Vec<Job> {
    let request = json!({
        "kind": "charge", "did": "@ines", "happened": {"day": "2026-06-23", "time": "12:30"},
        "answers": {"other_owner": "lifted"},
        "reason_text": "the grocers bought the kitchen on 2 June, deed seen; register follows",
        "body": {"from": "cylinder:TR-0420", "to": "appliance:QK-WIF-1",
                 "weighed": {"net": "2 lb", "scale": "S-2"}, "reason": "emergency",
                 "returned_to_full_charge": true},
    });
    vec![job("2026-06-23", "12:45", Person::Osric, request).named("lifted")]
}

/// What went to the reclaimer, with the numbers of his papers.
fn shipments() -> Vec<Job> {
    let out = |cylinder: &str, mass: &str, document: &str| {
        json!({"from": format!("cylinder:{cylinder}"), "to": "counterparty:Corvane Reclaim",
               "mass": mass, "document": document})
    };
    let send = |movements: Vec<Value>| json!({"kind": "send_to_reclaim", "body": {"movements": movements}});
    let june = send(vec![out("TR-0440", "88.5 lb", "CR-55164")]);
    let august = send(vec![
        out("TR-0417", "34.04 lb", "CR-55180"),
        out("TR-0419", "20 lb 10 oz", "CR-55181"),
    ]);
    let october = send(vec![out("TR-0426", "4.5 lb", "CR-55239")]);
    let settled = json!({
        "kind": "settle", "reason_text": "emptied by the reclaimer, retest booked",
        "body": {"code": "expired", "entries": ["@expired"], "reason": "checked"},
    });
    vec![
        job("2026-06-16", "16:00", Person::Marguerite, june).named("shipment-june"),
        job("2026-08-11", "16:00", Person::Marguerite, august).named("shipment-august"),
        job("2026-10-06", "16:00", Person::Marguerite, october).named("shipment-october"),
        job("2026-10-07", "08:10", Person::Osric, settled),
    ]
}

/// What the reclaimer says of them: June fits, of August he says 2.9 % less, October he has not told.
fn statements() -> Vec<Job> {
    let says = |shipment: &str, document: &str, refrigerant: &str, mass: &str, outcome: &str| {
        json!({"kind": "statement", "body": {"counterparty": "Corvane Reclaim",
               "entries": [shipment], "document": document, "outcome": outcome,
               "stated": [{"refrigerant": refrigerant, "mass": mass}]}})
    };
    let june = says(
        "@shipment-june",
        "CR-S-0611",
        "R-22",
        "88.25 lb",
        "accepted",
    );
    let mut august = says(
        "@shipment-august",
        "CR-S-0804",
        "R-410A",
        "53.08 lb",
        "disputed",
    );
    august["note"] = json!("asked for both weighing tickets on the telephone");
    vec![
        job("2026-07-02", "09:20", Person::Osric, june).named("statement-june"),
        job("2026-08-28", "15:10", Person::Osric, august).named("statement-august"),
    ]
}

/// What became different on a day: a refrigerant, a condition; and a unit found on a roof.
fn changed_on_a_day() -> Vec<Job> {
    let retrofit = json!({
        "kind": "appliance", "note": "change of refrigerant, plan of 4 May",
        "body": {"subject": "HG-RACK-D", "facts": {
            "refrigerant": [{"from": "2026-06-10", "is": "R-448A"}],
            "full_charge": [{"from": "2026-06-10", "is": {"mass": "84 lb", "method": "maker_data"}}],
        }},
    });
    let empty = json!({"kind": "cylinder", "note": "to the scrap dealer",
                       "body": {"subject": "SUP-90001", "facts": {"condition": "retired"}}});
    let found = json!({
        "kind": "appliance", "note": "not on the school's list",
        "body": {"facts": {"tag": "LS-RTU-13", "site": "Larkmoor Schools", "refrigerant": "R-410A",
                           "category": "residential_light_commercial_ac",
                           "full_charge": "unknown", "place": "gymnasium roof, behind the duct"}},
    });
    vec![
        job("2026-06-10", "08:00", Person::Osric, retrofit).named("retrofit"),
        job("2026-10-28", "09:00", Person::Marguerite, empty),
        job("2026-08-05", "11:00", Person::Dov, found).named("found"),
    ]
}

/// One visit, out and in: the loss is the difference.
fn visit_netting() -> Vec<Job> {
    let out = json!({
        "kind": "recover", "visit": "@v-rtu07",
        "happened": {"day": "2026-07-28", "time": "08:20"},
        "note": "room in TR-0417 4 lb 2 oz, took the empty one",
        "body": {"from": "appliance:HG-RTU-07", "to": "cylinder:TR-0419",
                 "weighed": {"net": "20 lb 10 oz", "scale": "S-2"}, "reason": "repair",
                 "class": "clean", "evacuation": {"value": "10", "unit": "[in_i'Hg]"}},
    });
    vec![job("2026-07-28", "10:40", Person::Ines, out).named("rtu07-out")]
}
