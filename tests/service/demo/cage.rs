//! The cage of the demo is right: what was not labelled is checked, locked away and resolved; a light
//! liquid stops at its own limit; the test in the sun waits for its answer.

use super::Demo;
use harness::shop::Shop;
use serde_json::{Value, json};

/// 47.7 lb of water: four fifths are 38.16 lb, and R-454B may be 0.80 x 986.23 kg/m3 x 21.6810 L =
/// 17.106 kg = 37.71 lb (CoolProp 8.0.0). TR-0432 holds 30 lb; 8 lb more would still be below the one.
#[test]
fn the_cage_of_the_demo_is_right() {
    let mut demo = Demo::new();
    let checked = demo.number("unlabelled");
    let words = demo.leaf("unlabelled")["body"]["words"].clone();
    assert_eq!(words["verdict"], "ambiguous");
    assert_eq!(words["possibly_flammable"], "yes");
    let doubt = ("content_doubtful".to_string(), "high".to_string(), true);
    assert_eq!(demo.shop.findings(checked), [doubt]);
    // 40 lb gross less 27.5 lb of tare, out of nowhere that was booked.
    let counted = demo.leaf("counted")["body"]["movements"][0].clone();
    assert_eq!(
        (&counted["from"], &counted["g"]),
        (&json!("unexplained"), &json!("5669.904625"))
    );

    let sunny = demo.leaf("sunny")["body"]["words"].clone();
    assert_eq!(
        (&sunny["verdict"], &sunny["in_shade"]),
        (&json!("not_decided"), &Value::Null)
    );
    let undecided = ("test_not_decided".to_string(), "normal".to_string(), true);
    let sunny = demo.number("sunny");
    assert_eq!(
        demo.shop.findings(sunny),
        [undecided],
        "settled by the correction"
    );
    let shaded = demo.leaf("shaded")["body"]["replace"]["body"]["words"].clone();
    assert_eq!(
        (&shaded["result"], &shaded["in_shade"]),
        (&json!("passed"), &json!("yes"))
    );

    let pour = |mass: &str| {
        json!({"kind": "transfer", "body": {"from": "cylinder:SUP-89341", "to": "cylinder:TR-0432",
            "refrigerant": "R-454B", "mass": mass}})
    };
    let refused = demo.shop.refused(pour("8 lb"));
    assert_eq!(Shop::stops(&refused), ["over_full"]);
    let said = refused.to_string();
    assert!(
        said.contains("GK80_25C") && said.contains("37 lb 11"),
        "{said}"
    );
    assert_eq!(
        Shop::questions(&demo.shop.refused(pour("7.5 lb"))),
        ["over_room"]
    );
}
