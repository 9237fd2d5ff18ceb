//! Rule files that are wrong: each is refused with what was expected, what came and what to do, and
//! nothing is booked. The set is an invented house rule, the layer an invented wish over it.

use api::actions::rules_in_force::InForce;
use harness::shop::Shop;
use reports::rules::RuleFile;
use serde_json::{Value, json};

const HOUSE_RULE: &str = api::demo::HOUSE_RULE;

fn adopt(toml: &str) -> Value {
    json!({"kind": "rule_set", "body": {"toml": toml, "from": "2026-01-01"}})
}

fn layer(id: &str, over: &str, row: &str) -> String {
    format!(
        "id = \"{id}\"\noverlays = \"{over}\"\nlayer = \"local\"\ntitle = \"A wish (invented)\"\n\
         reason = \"ordinance 12 (invented)\"\n\n[values.trigger]\nrows = [{row}]\n"
    )
}

fn replaced(from: &str, to: &str) -> String {
    assert!(
        HOUSE_RULE.contains(from),
        "the text this test changes: {from}"
    );
    HOUSE_RULE.replacen(from, to, 1)
}

#[test]
fn a_wrong_set_is_refused_with_place_and_remedy() {
    let mut shop = Shop::open();
    let size = shop.size();
    let row = r#"{ from = "2026-01-01", is = "10", clause = "house rule 7.1 (invented)" }"#;
    let twice = format!("{row}, {row}");
    let late = row.replace("2026-01-01", "2027-01-01");
    let wrong = [
        // A misspelt field: line, column, the line itself, the allowed words, the nearest.
        (replaced("netting ", "neting "), "line 37, column 1"),
        (replaced("netting ", "neting "), "^^^^^^"),
        (
            replaced("netting ", "neting "),
            "allowed: clause, confidence",
        ),
        (replaced("netting ", "neting "), "nearest: netting"),
        // A wrong type.
        (
            replaced("is = \"10\"", "is = 10"),
            "numbers are written as text, such as \"7.5\"",
        ),
        (replaced("is = \"10\"", "is = \"ten\""), "'ten'"),
        // A gap, an overlap: with the days.
        (
            replaced(row, &late),
            "has no row from 2026-01-01 to 2026-12-31",
        ),
        (replaced(row, &twice), "overlap, two rows from 2026-01-01"),
        // Words of closed lists.
        (
            replaced("unit     = \"lb\"", "unit     = \"stone\""),
            "unknown word 'stone'; allowed: ",
        ),
        (
            replaced(
                "size\" }",
                "size\" }\nrefrigerant = { contains = \"us_odds\" }",
            ),
            "no list named 'us_odds'; there are: ",
        ),
        (
            replaced(
                "due     = [{ within = \"repair_time\"",
                "due     = [{ within = \"repair_tim\"",
            ),
            "no value named 'repair_tim'; there are: repair_time, size, trigger; nearest: repair_time",
        ),
        // An example that fails: what was expected, what came.
        (
            replaced(
                "expect = { applies = \"yes\" }",
                "expect = { applies = \"no\" }",
            ),
            "expected \"no\", found \"yes\"",
        ),
        // No rule file at all.
        ("{".to_string(), "line 1"),
        (String::new(), "the word 'id' is missing"),
    ];
    for (text, expected) in wrong {
        let refusal = shop.refused(adopt(&text));
        assert_eq!(refusal.slug(), "invalid-value");
        assert!(
            refusal.to_string().contains(expected),
            "{expected}: {refusal}"
        );
    }
    assert_eq!(shop.size(), size, "nothing was booked");
    shop.ok(adopt(HOUSE_RULE));
}

/// Ten million bytes of comment before a sound set.
#[test]
fn a_file_that_is_too_large_is_refused_before_it_is_read() {
    let mut shop = Shop::open();
    let size = shop.size();
    let large = format!("#{}\n{HOUSE_RULE}", "x".repeat(10_000_000));
    let refusal = shop.refused(adopt(&large)).to_string();
    let expected = "at most 131072 bytes (128 KiB), found 10";
    assert!(refusal.contains(expected), "{refusal}");
    assert_eq!(shop.size(), size, "nothing was booked");
}

#[test]
fn a_layer_may_not_loosen_without_the_mark_nor_lie_over_a_layer() {
    let mut shop = Shop::open();
    shop.ok(adopt(HOUSE_RULE));
    let row = |is: &str, more: &str| {
        format!("{{ from = \"2026-02-01\", is = \"{is}\", clause = \"s. 3 (invented)\"{more} }}")
    };
    let over_house = |row: &str| layer("wish", "halfmoon-house-rule", row);
    let size = shop.size();
    let wrong = [
        (
            over_house(&row("12", "")),
            "12 from 2026-02-01 is looser than 10 of halfmoon-house-rule",
        ),
        (
            over_house(&row("12", ", loosens = true")),
            "loosens needs a reason",
        ),
        (
            layer("wish", "wish", &row("8", "")),
            "'wish' is a layer itself",
        ),
        (
            layer("wish", "no-such-set", &row("8", "")),
            "which is not adopted for any day",
        ),
        (
            over_house("{ from = \"2026-02-01\", is = \"8\" }"),
            "no clause; say where it stands",
        ),
    ];
    for (text, expected) in wrong {
        let refusal = shop.refused(adopt(&text)).to_string();
        assert!(refusal.contains(expected), "{expected}: {refusal}");
    }
    assert_eq!(shop.size(), size, "nothing was booked");
    let marked = row(
        "12",
        ", loosens = true, reason = \"the customer's letter (invented)\"",
    );
    shop.ok(adopt(&over_house(&marked)));
    // Two layers, each over the other, would go in a circle.
    let refusal = shop
        .refused(adopt(&layer("second", "wish", &row("8", ""))))
        .to_string();
    assert!(refusal.contains("'wish' is a layer itself"), "{refusal}");
}

/// Files that are given together: two sets of one id, and two layers in a circle.
#[test]
fn files_that_contradict_each_other_are_refused() {
    let read = |texts: &[String]| {
        let read = texts.iter().map(|text| {
            let file = RuleFile::from_toml("file", text).expect("a rule file");
            (file, text.clone())
        });
        InForce::of_files(read.collect())
            .map(|_| ())
            .expect_err("a refusal")
            .to_string()
    };
    let twice = read(&[HOUSE_RULE.to_string(), HOUSE_RULE.to_string()]);
    assert!(
        twice.contains("halfmoon-house-rule: id: this set is given twice"),
        "{twice}"
    );
    let row = "{ from = \"2026-02-01\", is = \"8\", clause = \"s. 3 (invented)\" }";
    let circle = read(&[layer("one", "two", row), layer("two", "one", row)]);
    assert!(
        circle.contains("overlay one: overlays: 'two' is a layer itself"),
        "{circle}"
    );
    assert!(
        circle.contains("overlay two: overlays: 'one' is a layer itself"),
        "{circle}"
    );
}

#[test]
fn a_zone_that_does_not_exist_is_refused() {
    let mut shop = Shop::open();
    let size = shop.size();
    let setting = json!({"kind": "setting", "body": {"name": "zone", "value": "America/Pueblo"}});
    let refusal = shop.refused(setting).to_string();
    assert!(
        refusal.contains("an IANA time zone such as America/Denver"),
        "{refusal}"
    );
    let site = json!({"kind": "site", "body": {"facts": {"tag": "Mill Row", "zone": "Denver"}}});
    let refusal = shop.refused(site).to_string();
    assert!(refusal.contains("zone"), "{refusal}");
    let zoned = replaced(
        "on     = \"2026-03-01\"",
        "zone   = \"America/Pueblo\"\non     = \"2026-03-01\"",
    );
    let refusal = shop.refused(adopt(&zoned)).to_string();
    assert!(refusal.contains("America/Pueblo"), "{refusal}");
    assert_eq!(shop.size(), size, "nothing was booked");
}

/// A set with hundreds of examples or rows would keep everybody waiting who tries it.
#[test]
fn a_set_that_is_much_larger_than_an_act_is_refused() {
    let mut shop = Shop::open();
    let size = shop.size();
    let example = "\n[[examples]]\nabout = \"one more\"\non = \"2026-02-01\"\n\
                   facts = { region = \"US-CO\" }\nexpect = { applies = \"no\" }\n";
    let many = format!("{HOUSE_RULE}{}", example.repeat(101));
    let refusal = shop.refused(adopt(&many)).to_string();
    assert!(
        refusal.contains("examples: expected at most 100, found 1"),
        "{refusal}"
    );
    assert_eq!(shop.size(), size, "nothing was booked");
}
