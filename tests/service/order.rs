//! Booking order is never a key (model: order; promise M4).
//!
//! The same facts, booked in any order, give the same history and the same additions. Of links
//! the newest by number holds, and what was said of an entry holds of its correction.

use api::ledger::id::Id;
use api::store::columns::Sort;
use harness::shop::Shop;
use proptest::prelude::*;
use reports::appliance::{FactValue, Facts};
use reports::leak_rate::{self, FirstDays, Netting, Reading};
use reports::mass::Mass;
use serde_json::{Value, json};
use std::collections::BTreeSet;

/// How many additions there are, one line for each of their steps, and the events in their order.
fn additions(shop: &mut Shop) -> (usize, Vec<String>, Vec<String>) {
    shop.books.clear();
    shop.inside(|tx| {
        let place = tx
            .find(Sort::Appliance, "HG-RACK-A")?
            .expect("an appliance");
        let events = tx.history(place)?.to_vec();
        let mut facts = Facts::default();
        let full = FactValue::Mass(Mass::from_steps(210 * Mass::POUND));
        facts.set("full_charge", Facts::ALWAYS, full);
        let reading = Reading {
            netting: Netting::Visit,
            leaves_out_installation: true,
            leaves_out_after_retrofit: true,
            leaves_out_seasonal: true,
            first_days: FirstDays::Year,
            counts_from: None,
        };
        let line = |it: &leak_rate::Addition| {
            format!("{} {:?} {:?}", it.day, it.annualised(), it.rolling())
        };
        let lines = leak_rate::additions(&events, &facts, &reading);
        let groups: BTreeSet<u32> = lines.iter().map(|it| it.group).collect();
        let lines = lines.iter().map(line).collect();
        let event = |it: &reports::event::Event| {
            format!("{} {:?} {:?} {}", it.day, it.second, it.kind, it.mass)
        };
        Ok((groups.len(), lines, events.iter().map(event).collect()))
    })
}

fn post(kind: &str, day: &str, time: Option<&str>, mass: &str, visit: u128, id: u128) -> Value {
    let (from, to) = match kind {
        "recover" => ("appliance:HG-RACK-A", "cylinder:TR-0417"),
        "outside_charge" => ("outside", "appliance:HG-RACK-A"),
        "opening" => ("opening", "appliance:HG-RACK-A"),
        _ => ("cylinder:SUP-88231", "appliance:HG-RACK-A"),
    };
    let mut request = json!({"kind": kind, "entry_id": Id::from_bits(id << 64 | id),
        "happened": {"day": day}, "captured_offline": true,
        "body": {"from": from, "to": to, "refrigerant": "R-448A", "mass": mass}});
    if let Some(time) = time {
        request["happened"]["time"] = json!(time);
    }
    if visit > 0 {
        request["visit"] = json!(Id::from_bits(visit));
    }
    request
}

/// Facts of one appliance with everything the order looks at: days, times and none, kinds, visits.
fn facts() -> Vec<Value> {
    vec![
        post("opening", "2026-01-01", None, "210 lb", 0, 91),
        post("charge", "2026-03-01", Some("09:00"), "3 lb", 1, 12),
        post("recover", "2026-03-01", Some("09:00"), "1 lb", 1, 77),
        post("charge", "2026-03-01", None, "2 lb", 0, 50),
        post("charge", "2026-03-01", None, "2.5 lb", 0, 49),
        post("outside_charge", "2026-03-02", Some("00:00"), "1 lb", 0, 3),
        post("charge", "2026-05-05", Some("17:30:05"), "4 lb", 2, 9),
        post("charge", "2026-05-06", Some("08:00"), "1 lb", 2, 8),
        post("recover", "2026-06-01", None, "0.5 lb", 0, 2),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 12, failure_persistence: None, ..Default::default() })]
    /// M4: any booking order of the same facts, with one of them corrected, gives the same figures.
    #[test]
    fn m4_any_booking_order_gives_the_same_additions(order in Just(facts()).prop_shuffle()) {
        let mut expected = Shop::stocked();
        let mut shuffled = Shop::stocked();
        for (shop, facts) in [(&mut expected, facts()), (&mut shuffled, order)] {
            for fact in facts {
                shop.ok(fact);
            }
            // The day of one is put right afterwards: the replacement stands where the fact does.
            let id = Id::from_bits(9_u128 << 64 | 9);
            let body = json!({"from": "cylinder:SUP-88231", "to": "appliance:HG-RACK-A",
                "refrigerant": "R-448A", "mass": "4.5 lb"});
            shop.ok(json!({"kind": "correction", "captured_offline": true, "body": {"corrects": id,
                "reason": "misread", "replace": {"body": body}}}));
        }
        let right = additions(&mut expected);
        prop_assert_eq!(right.0, 4, "visits 1 and 2, and two local days without a visit");
        prop_assert_eq!(additions(&mut shuffled), right);
        shuffled.sound();
    }
}

/// The order itself, of one day: no time is 00:00; then rank of the kind; then the id of the
/// chain's first entry (model: order).
#[test]
fn m4_the_order_is_day_time_rank_and_id() {
    let mut shop = Shop::stocked();
    for fact in facts().into_iter().rev() {
        shop.ok(fact);
    }
    let (_, _, events) = additions(&mut shop);
    let expected = [
        "2026-01-01 None Opening 95254.3977",
        // Ids 49 and 50, both without a time.
        "2026-03-01 None Charge 1133.980925",
        "2026-03-01 None Charge 907.18474",
        // At 09:00 a recovery ranks before a charge.
        "2026-03-01 Some(32400) Recover 453.59237",
        "2026-03-01 Some(32400) Charge 1360.77711",
        "2026-03-02 Some(0) OutsideCharge 453.59237",
        "2026-05-05 Some(63005) Charge 1814.36948",
        "2026-05-06 Some(28800) Charge 453.59237",
        "2026-06-01 None Recover 226.796185",
    ];
    assert_eq!(events, expected);
}

/// Of several links the newest holds, and a link holds of what an entry was corrected to.
#[test]
fn m4_the_newest_link_holds_also_of_a_correction() {
    let mut shop = Shop::stocked();
    let first = shop.ok(post("charge", "2026-03-01", None, "2 lb", 1, 5));
    let second = shop.ok(post("charge", "2026-03-03", None, "3 lb", 2, 6));
    let count = |shop: &mut Shop| additions(shop).0;
    assert_eq!(count(&mut shop), 2);
    let link = |relation: &str| json!({"kind": "link", "body": {"relation": relation, "entries": [first.entry_id, second.entry_id]}});
    let linked = shop.ok(link("same_visit"));
    assert_eq!(
        linked.nth.len(),
        2,
        "a link counts for what its entries are about"
    );
    assert_eq!(count(&mut shop), 1);
    shop.ok(link("two_jobs"));
    assert_eq!(count(&mut shop), 2);
    shop.ok(link("same_job"));
    let body = json!({"from": "cylinder:SUP-88231", "to": "appliance:HG-RACK-A",
        "refrigerant": "R-448A", "mass": "3.5 lb"});
    shop.ok(
        json!({"kind": "correction", "captured_offline": true, "body": {
        "corrects": second.entry_id, "reason": "misread", "replace": {"body": body}}}),
    );
    assert_eq!(
        count(&mut shop),
        1,
        "the correction stands in the linked entry's place"
    );
    shop.sound();
    shop.caches_agree();
}
