//! What a scale shows of a cylinder is a fact: a count pours nothing, so it is never refused as a
//! filling; and a mixture is counted as a whole.
//!
//! Figures by hand: 27.5 lb of tare; a cylinder of 47.7 lb of water takes 38.16 lb of R-410A at the
//! most (0.8 x 47.7).

use harness::shop::Shop;
use serde_json::{Value, json};

fn shop() -> Shop {
    let mut shop = Shop::stocked();
    for tag in ["HEAVY", "BOTH"] {
        let facts = json!({"tag": tag, "use": "recovery", "water_capacity": "47.7 lb",
                           "tare": "27.5 lb", "retest_on": "2027-05-31"});
        shop.register("cylinder", facts);
    }
    shop
}

fn recover(to: &str, refrigerant: &str, mass: &str) -> Value {
    json!({"kind": "recover", "body": {"from": "unregistered", "number": 3,
        "to": format!("cylinder:{to}"), "refrigerant": refrigerant, "mass": mass}})
}

fn count(cylinder: &str, gross: &str) -> Value {
    json!({"kind": "count", "body": {"cylinder": cylinder, "gross": gross, "reason": "counted"}})
}

/// 67.5 lb on the scale are 40 lb in it, 1.84 lb above its limit: it is so, and it is looked at.
#[test]
fn a_count_above_the_limit_is_booked_and_closes_the_cylinder() {
    let mut shop = shop();
    shop.ok(recover("HEAVY", "R-410A", "30 lb"));
    let mut heavy = count("HEAVY", "67.5 lb");
    heavy["answers"] = json!({"count_differs": "as_stated"});
    let counted = shop.ok(heavy);
    let moved = shop.leaf(counted.seq)["body"]["movements"][0]["g"].clone();
    // 10 lb more than the book: 4535.9237 g.
    assert_eq!(moved, "4535.9237");
    assert!(
        shop.findings(counted.seq)
            .contains(&("over_full".into(), "high".into(), false))
    );
    let out = json!({"kind": "transfer", "body": {"from": "cylinder:HEAVY", "to": "cylinder:BOTH",
        "refrigerant": "R-410A", "mass": "1 lb"}});
    assert!(Shop::stops(&shop.refused(out)).contains(&"quarantined"));
    shop.sound();
    shop.caches_agree();
}

/// 10 lb of one and 2 lb of another, 38.5 lb on the scale: 11 lb are in it, one is missing, and it is
/// booked out of the larger part.
#[test]
fn a_mixture_is_counted_as_a_whole() {
    let mut shop = shop();
    shop.ok(recover("BOTH", "R-410A", "10 lb"));
    let mut other = recover("BOTH", "R-32", "2 lb");
    other["answers"]["mixing"] = json!("already_happened");
    shop.ok(other);
    let counted = shop.ok(count("BOTH", "38.5 lb"));
    let moved = shop.leaf(counted.seq)["body"]["movements"][0].clone();
    assert_eq!(
        (&moved["g"], &moved["refrigerant"]),
        (&json!("453.59237"), &json!("R-410A"))
    );
    assert_eq!(moved["to"], "unexplained");
    // Counted a second time, scale and book agree.
    let again = shop.ok(count("BOTH", "38.5 lb"));
    assert_eq!(shop.leaf(again.seq)["body"]["movements"], Value::Null);
    shop.sound();
    shop.caches_agree();
}
