//! What may be adopted: a rule set that passes its check and its own examples, a layer over a set
//! that is adopted.

use harness::shop::Shop;
use reports::rules::shipped_texts;
use serde_json::{Value, json};

fn shipped(id: &str) -> &'static str {
    let file = format!("{id}.toml");
    let found = shipped_texts().iter().find(|(name, _)| *name == file);
    found.expect("a shipped set").1
}

fn adopt(toml: &str) -> Value {
    json!({"kind": "rule_set", "body": {"toml": toml, "from": "2019-01-01"}})
}

/// An invented layer: a lower number for shops in one county.
fn layer(is: &str) -> String {
    format!(
        "id = \"pueblo-example\"\noverlays = \"us-federal-ods\"\nlayer = \"local\"\n\
         title = \"Lower leak rate for shops (invented)\"\n\
         reason = \"county ordinance 12 (invented)\"\n\
         where = {{ region = {{ is = [\"US-CO-101\"] }} }}\n\n[values.trigger]\n\
         rows = [{{ from = \"2024-06-01\", for = [\"commercial\"], is = \"{is}\", \
         clause = \"ordinance 12 s. 3 (invented)\" }}]\n"
    )
}

#[test]
fn a_set_whose_own_examples_fail_is_not_adopted() {
    let mut shop = Shop::open();
    let size = shop.size();
    let good = shipped("us-federal-ods");
    // 20 % becomes 21 %: the example one hundredth of a pound over the limit no longer holds.
    let from = r#"for = ["commercial"], is = "20", clause = "40 CFR 82.157(c)(2)(i)""#;
    assert!(good.contains(from), "the row this test changes");
    let spoilt = good.replace(from, &from.replace("\"20\"", "\"21\""));
    let refusal = shop.refused(adopt(&spoilt));
    assert_eq!(refusal.slug(), "invalid-value");
    assert!(refusal.to_string().contains("example"), "{refusal}");
    let gap = good.replacen(
        "{ from = \"2019-01-01\", is = \"50\"",
        "{ from = \"2030-01-01\", is = \"none\"",
        1,
    );
    assert!(shop.refused(adopt(&gap)).to_string().contains("gap"));
    assert_eq!(shop.size(), size, "nothing was booked");
    shop.ok(adopt(good));
}

#[test]
fn a_layer_needs_its_base_and_may_only_tighten() {
    let mut shop = Shop::open();
    let refusal = shop.refused(adopt(&layer("15")));
    assert!(
        refusal.to_string().contains("Adopt that one first"),
        "{refusal}"
    );
    shop.ok(adopt(shipped("us-federal-ods")));
    let refusal = shop.refused(adopt(&layer("25")));
    assert!(refusal.to_string().contains("looser"), "{refusal}");
    shop.ok(adopt(&layer("15")));
}
