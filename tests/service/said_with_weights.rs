//! What a weighing says for the rules beside its mass: that all was recovered, that a process must stop.
//!
//! Days are counted by hand from the acts: SOR/2022-110, section 18 (repair the leak, isolate the part
//! and recover, or recover all, within 7 days), and 40 CFR 84.106(d) (30 days, 120 days where an
//! industrial process must stop).

use crate::duties::{adopt, read};
use api::actions::show::duties::{DutiesAsked, DutyItem, Stands};
use harness::shop::Shop;
use serde_json::{Value, json};

/// The steps of this name, whatever their state.
fn steps(shop: &mut Shop, name: &str) -> Vec<DutyItem> {
    let asked = DutiesAsked {
        most: 500,
        stands: Stands::All,
        ..DutiesAsked::default()
    };
    let items = read(shop, &asked).expect("a list").page.items;
    items
        .into_iter()
        .filter(|it| it.duty.duty == name)
        .collect()
}

fn unit(shop: &mut Shop, site: &str, region: &str, zone: &str, rest: Value) {
    shop.register("site", json!({"tag": site, "zone": zone, "region": region}));
    let mut facts = json!({"tag": "UNIT-1", "site": site, "refrigerant": "R-448A",
        "installed": "2019-05-20", "full_charge": "210 lb"});
    for (name, value) in rest.as_object().expect("facts") {
        facts[name] = value.clone();
    }
    shop.register("appliance", facts);
}

/// Taking out a part of it stops no leak; taking out all does, on the day it was done.
#[test]
fn a_leak_is_stopped_where_all_was_recovered_and_not_where_a_part_was() {
    let mut shop = Shop::stocked();
    adopt(&mut shop, "ca-halocarbon-2022", "2026-01-01");
    let facts = json!({"category": "commercial_refrigeration", "owner_class": "federal"});
    unit(&mut shop, "Fort Wren", "CA", "America/Winnipeg", facts);
    shop.ok(json!({"kind": "leak_found", "body": {"appliance": "UNIT-1"}}));
    let state = |shop: &mut Shop| {
        let steps = steps(shop, "stop_leak");
        let shown = steps.iter().map(|it| (it.stands, it.duty.due.clone()));
        shown.collect::<Vec<_>>()
    };
    let seventh = Some("2026-07-21".to_string());
    assert_eq!(state(&mut shop), [("due", seventh.clone())], "7 days");
    shop.wait_minutes(24 * 60);
    let recover = |what: Value| {
        let mut body = json!({"from": "appliance:UNIT-1", "to": "cylinder:TR-0417",
            "refrigerant": "R-448A", "mass": "2 lb", "reason": "repair"});
        if what.is_string() {
            body["what"] = what;
        }
        json!({"kind": "recover", "captured_offline": true, "body": body})
    };
    shop.ok(recover(Value::Null));
    assert_eq!(state(&mut shop), [("due", seventh.clone())], "a part");
    let refused = shop.refused(recover(json!("some"))).to_string();
    for part in ["one of all", "some", "Choose one"] {
        assert!(refused.contains(part), "{part} in {refused}");
    }
    let all = shop.ok(recover(json!("all")));
    assert_eq!(state(&mut shop), [("done", seventh.clone())], "all of it");
    // Corrected to a part, the leak is not stopped; the word goes with what stands.
    let part = recover(Value::Null);
    shop.ok(
        json!({"kind": "correction", "captured_offline": true, "body": {
        "corrects": all.entry_id.to_string(), "reason": "misread",
        "replace": {"kind": "recover", "body": part["body"]}}}),
    );
    assert_eq!(state(&mut shop), [("due", seventh)], "corrected");
    shop.sound();
    shop.caches_agree();
}

/// 5 lb of 210 lb after 30 days are 5 / 210 x 365 / 30 = 28.97 %, 10 lb 57.9 %: over the 30 % of an
/// industrial process. From 13 August 2026 30 days are 12 September, 120 days 11 December.
#[test]
fn a_charge_says_that_a_process_must_stop_and_the_days_become_120() {
    let mut shop = Shop::stocked();
    adopt(&mut shop, "us-federal-hfc", "2026-01-01");
    let facts = json!({"category": "industrial_process"});
    unit(
        &mut shop,
        "Sandstone Depot",
        "US-AZ",
        "America/Phoenix",
        facts,
    );
    let charge = |mass: &str, shutdown: Value| {
        let mut body = json!({"from": "cylinder:SUP-88231", "to": "appliance:UNIT-1",
            "refrigerant": "R-448A", "mass": mass, "reason": "leak_top_up"});
        if shutdown.is_string() {
            body["process_shutdown"] = shutdown;
        }
        json!({"kind": "charge", "captured_offline": true, "body": body})
    };
    shop.ok(charge("5 lb", Value::Null));
    shop.wait_minutes(30 * 24 * 60);
    let refused = shop.refused(charge("10 lb", json!("perhaps"))).to_string();
    assert!(refused.contains("one of yes, no"), "{refused}");
    let booked = shop.ok(charge("10 lb", Value::Null));
    let due = |shop: &mut Shop| {
        let steps = steps(shop, "repair");
        steps
            .iter()
            .map(|it| it.duty.due.clone().unwrap_or_default())
            .collect::<Vec<_>>()
    };
    assert_eq!(due(&mut shop), ["2026-09-12"], "30 days");
    let said = charge("10 lb", json!("yes"));
    shop.ok(
        json!({"kind": "correction", "captured_offline": true, "body": {
        "corrects": booked.entry_id.to_string(), "reason": "misread",
        "replace": {"kind": "charge", "body": said["body"]}}}),
    );
    assert_eq!(due(&mut shop), ["2026-12-11"], "120 days");
    shop.sound();
    shop.caches_agree();
}
