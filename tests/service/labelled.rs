//! Codes of labels and serial numbers as names, what a correction changed, and what the owner's
//! record of a visit holds; on both engines, because each looks differently for a text.

use api::actions::code;
use api::actions::show::labelled::{Named, named};
use api::actions::show::{Sees, changed, record, things};
use api::store::columns::Sort;
use harness::shop::{Shop, now};
use serde_json::json;

/// The tags that a text names.
fn tags(shop: &mut Shop, typed: &str) -> Vec<String> {
    match named(&mut shop.db, &shop.of, typed).expect("an answer") {
        Named::Things(things) => things.into_iter().map(|(_, thing)| thing.tag).collect(),
        Named::Slip => vec!["a slip".to_string()],
        Named::Nothing => Vec::new(),
    }
}

#[test]
fn a_code_and_a_serial_number_name_a_thing_exactly() {
    let mut shop = Shop::stocked();
    let site = json!({"tag": "HG-RTU-07", "refrigerant": "R-410A", "serial": "MR_19%\"33\u{fc}"});
    let rtu = shop.register("appliance", site);
    shop.register(
        "appliance",
        json!({"tag": "HG-RTU-08", "serial": "MRx19yy33z"}),
    );
    shop.register("cylinder", json!({"tag": "TR-0501", "serial": "K-7701"}));
    shop.register("cylinder", json!({"tag": "TR-0502", "serial": "K-7702"}));
    assert_eq!(tags(&mut shop, "K-7701"), ["TR-0501"]);
    assert_eq!(
        tags(&mut shop, "MR_19%\"33\u{fc}"),
        ["HG-RTU-07"],
        "marks are no wildcards"
    );
    for nobody in ["K-770", "K-77%", "%", "_", "", "\u{0}", "HG-RTU-07"] {
        assert!(tags(&mut shop, nobody).is_empty(), "{nobody:?}");
    }
    let thing = things::one(&mut shop.db, &shop.of, Sort::Appliance, "HG-RTU-07").expect("it");
    let id = api::ledger::id::Id::parse(&thing.id).expect("an id");
    let code = code::of(Sort::Appliance, id).expect("a code");
    assert_eq!(tags(&mut shop, &code::grouped(&code)), ["HG-RTU-07"]);
    let wrong = format!(
        "{}{}",
        &code[..7],
        if code.ends_with('7') { "8" } else { "7" }
    );
    assert_eq!(tags(&mut shop, &wrong), ["a slip"]);
    assert!(rtu.seq > 0);
}

/// Small letters and capitals find the same thing on both engines; where two tags or serial numbers
/// differ by nothing else, the one that is written so is meant, and else nobody guesses.
#[test]
fn the_case_of_letters_does_not_matter() {
    let mut shop = Shop::stocked();
    let rtu = json!({"tag": "HG-RTU-07", "refrigerant": "R-410A", "serial": "MR-06-1178"});
    shop.register("appliance", rtu);
    for (tag, serial) in [("Wing-b_2", "Q\u{fc}1"), ("WINGX3", "MR-06-1179")] {
        shop.register("appliance", json!({"tag": tag, "serial": serial}));
    }
    shop.register("cylinder", json!({"tag": "C-7", "serial": "k-1"}));
    shop.register("cylinder", json!({"tag": "D-7", "serial": "K-1"}));
    assert_eq!(tags(&mut shop, "mr-06-1178"), ["HG-RTU-07"]);
    assert_eq!(tags(&mut shop, "q\u{fc}1"), ["Wing-b_2"]);
    assert_eq!(tags(&mut shop, "K-1"), ["D-7"], "as it is written");
    let meant = |shop: &mut Shop, typed: &str| {
        let found = things::meant(&mut shop.db, &shop.of, Sort::Appliance, typed);
        found.expect("an answer").map(|thing| thing.tag)
    };
    for (typed, tag) in [
        ("hg-rtu-07", Some("HG-RTU-07")),
        ("HG-RTU-07", Some("HG-RTU-07")),
        ("wing-B_2", Some("Wing-b_2")),
        ("wing-b%2", None),
        ("wing-b", None),
        ("", None),
        ("\u{0}", None),
    ] {
        assert_eq!(meant(&mut shop, typed).as_deref(), tag, "{typed:?}");
    }
    let begins = |shop: &mut Shop, typed: &str| {
        things::beginning(&mut shop.db, &shop.of, Sort::Appliance, typed).expect("an answer")
    };
    for (typed, spelt) in [
        ("hg-rt", "HG-RT"),
        ("WING-B_", "Wing-b_"),
        ("wingx", "WINGX"),
        ("none_", "none_"),
    ] {
        assert_eq!(begins(&mut shop, typed), spelt);
    }
}

/// HG-RACK-A holds 210 lb: 7 lb with no addition before are 7 / 210 = 3.3333 % a year, 8 lb are
/// 8 / 210 = 3.8095 % (40 CFR 84.106(b): the days since the last addition count as 365).
#[test]
fn a_correction_says_what_it_changed_and_the_record_shows_both() {
    let mut shop = Shop::stocked();
    let visit = "90c192cf-d3ac-44af-8f21-ddb66cad4a26";
    let charge = |mass: &str| {
        json!({"from": "cylinder:SUP-88231", "to": "appliance:HG-RACK-A",
               "refrigerant": "R-448A", "mass": mass, "reason": "leak_top_up"})
    };
    let happened = json!({"day": "2026-07-13", "time": "09:30"});
    let first = shop.ok(
        json!({"kind": "charge", "happened": happened, "visit": visit,
                               "body": charge("7 lb")}),
    );
    let repair = shop.ok(
        json!({"kind": "repair", "happened": happened, "visit": visit,
        "body": {"appliance": "HG-RACK-A", "all_leaks": "yes", "work_done": "brazed"}}),
    );
    let second = shop.ok(
        json!({"kind": "correction", "answers": {"rate_jump": "as_stated"},
        "body": {"corrects": first.entry_id, "reason": "misread",
                 "replace": {"body": charge("8 lb")}}}),
    );
    let (db, of) = (&mut shop.db, &shop.of);
    let found = changed::by_entry(db, of, "HG-RACK-A", second.seq, now()).expect("it");
    let (before, with) = found.expect("both");
    let percent = |standing: &reports::standing::Standing| {
        let newest = standing.additions.last().expect("an addition");
        let rate = newest.rates.annualising.as_ref().expect("a rate");
        rate.percent.clone()
    };
    assert_eq!(
        (percent(&before).as_str(), percent(&with).as_str()),
        ("3.3333", "3.8095")
    );
    let name = repair.seq.to_string();
    let record = record::of_entry(db, of, &name, Sees::Everything, None, now()).expect("it");
    let lines: Vec<(u64, Option<u64>)> = (record.lines.iter())
        .map(|line| (line.seq, line.corrected_by))
        .collect();
    let expected = [
        (first.seq, Some(second.seq)),
        (repair.seq, None),
        (second.seq, None),
    ];
    assert_eq!(
        lines, expected,
        "the whole visit, the corrected entry with it"
    );
    assert_eq!(record.lines[1].texts["work_done"], "brazed");
    assert_eq!(record.lines[1].words["all_leaks"], "yes");
}
