//! A known weight on a scale that shows something else altogether.

use harness::shop::Shop;
use serde_json::json;

/// A fifth (common practice, no source): 8 lb of 10 lb is still the scale's fault, 7 lb 15.9 oz is asked
/// about; so is 999 lb of 10 kg = 22 lb 0.74 oz (1 kg = 1 / 0.45359237 lb).
#[test]
fn a_known_weight_that_no_scale_shows_so_wrong_is_asked_about() {
    let mut shop = Shop::stocked();
    let technician = shop.technician;
    let weigh = |nominal: &str, shown: &str| {
        json!({"kind": "scale", "body": {"subject": "S-2", "facts": {
            "check_weight": {"nominal": nominal, "shown": shown}}}})
    };
    for (nominal, shown) in [("10 lb", "8 lb"), ("10 lb", "12 lb")] {
        let booked = shop.post_as(&technician, weigh(nominal, shown));
        let booked = booked.expect("within a fifth").seq;
        assert_eq!(
            shop.findings(booked),
            [("scale_off".into(), "normal".into(), false)]
        );
    }
    let before = shop.size();
    for (nominal, shown) in [
        ("10 lb", "7 lb 15.9 oz"),
        ("10 lb", "12 lb 0.1 oz"),
        ("10 kg", "999 lb"),
        ("10 kg", "10 lb"),
    ] {
        let refused = shop.refused(weigh(nominal, shown));
        assert_eq!(Shop::questions(&refused), ["check_weight_far"]);
    }
    let refused = shop.refused(weigh("10 kg", "999 lb")).to_string();
    for part in ["Is that the reading?", "999 lb 0 oz", "10 kg"] {
        assert!(refused.contains(part), "{part} in {refused}");
    }
    assert_eq!(
        shop.size(),
        before,
        "nothing is booked before it is answered"
    );
    let mut so = weigh("10 kg", "999 lb");
    so["answers"] = json!({"check_weight_far": "as_stated"});
    let booked = shop.post_as(&technician, so).expect("answered").seq;
    assert_eq!(
        shop.findings(booked)
            .iter()
            .map(|(code, ..)| code.as_str())
            .collect::<Vec<_>>(),
        ["scale_off"]
    );
    shop.sound();
    shop.caches_agree();
}
