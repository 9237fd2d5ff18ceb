//! A local layer shortens every step of a follow-up, not the limit alone: its clause leads the date, and the
//! law's own number stands where the layer does not lie.
//!
//! By hand from 40 CFR 84.106(d) and (e): repaired within 30 days of 13 August 2026, by 12 September;
//! tested again within 10 days of the test of 13 August, by 23 August. The ordinance is invented: 14 days,
//! by 27 August, and 3 days, by 16 August.

use crate::duties::{read, two_sites_over};
use api::actions::show::duties::DutiesAsked;
use harness::shop::Shop;
use serde_json::json;

const LAYER: &str = "id = \"quick-example\"\noverlays = \"us-federal-hfc\"\nlayer = \"local\"\n\
    title = \"Quicker repairs (invented)\"\nreason = \"ordinance 14 (invented)\"\n\
    where = { region = { is = [\"US-CO\"] } }\n\n[values.repair_time]\n\
    rows = [{ from = \"2026-01-01\", is = \"14\", clause = \"ordinance 14 s. 1 (invented)\" }]\n\n\
    [values.follow_up_time]\n\
    rows = [{ from = \"2026-01-01\", is = \"3\", clause = \"ordinance 14 s. 2 (invented)\" }]\n";

/// Unit and date of a step that is open.
fn dates(shop: &mut Shop, step: &str) -> Vec<(String, Option<String>)> {
    let asked = DutiesAsked {
        most: 500,
        ..DutiesAsked::default()
    };
    let items = read(shop, &asked).expect("a list").page.items.into_iter();
    let mut own: Vec<(String, Option<String>)> = items
        .filter(|item| item.duty.duty == step)
        .map(|item| (item.tag, item.duty.due))
        .collect();
    own.sort();
    own
}

#[test]
fn a_layer_shortens_the_second_step_of_a_follow_up_too() {
    let mut shop = two_sites_over();
    let both = |colorado: &str, arizona: &str| {
        let date = |day: &str| Some(day.to_string());
        vec![
            ("HG-RACK-A".to_string(), date(colorado)),
            ("SD-RACK-B".to_string(), date(arizona)),
        ]
    };
    assert_eq!(dates(&mut shop, "repair"), both("2026-09-12", "2026-09-12"));
    shop.ok(
        json!({"kind": "rule_set", "body": {"toml": LAYER, "from": "2026-01-01"},
        "reason_text": "Adopted late."}),
    );
    assert_eq!(dates(&mut shop, "repair"), both("2026-08-27", "2026-09-12"));
    for tag in ["HG-RACK-A", "SD-RACK-B"] {
        shop.ok(json!({"kind": "repair", "body": {"appliance": tag}}));
        shop.ok(
            json!({"kind": "verification_test", "body": {"appliance": tag,
            "result": "passed", "stage": "initial"}}),
        );
    }
    assert_eq!(
        dates(&mut shop, "follow_up_test"),
        both("2026-08-16", "2026-08-23")
    );
}
