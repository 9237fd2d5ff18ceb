//! The balance of the cylinders over a book (E21, E20), on the engine that `TEST_ENGINE` names:
//! corrections count as if the first had never been, `as_of` reads the book as it was, and the evidence
//! of every figure adds up.
//!
//! Masses by hand, in pounds and grams (1 lb = 453.59237 g, NIST SP 811).

use api::actions::report::{AsOf, ReportAsked, ReportName, report};
use harness::shop::Shop;
use reports::mass::Unit;
use reports::sheet::Options;
use serde_json::{Value, json};
use std::collections::BTreeMap;

type Row = BTreeMap<String, String>;

/// Rows and evidence of 2026 in a unit.
fn balance(shop: &mut Shop, unit: Unit, as_of: Option<u64>) -> (Vec<Row>, Vec<Row>) {
    let options = Options {
        unit,
        ..Options::of_year(2026)
    };
    let asked = ReportAsked {
        name: ReportName::MassBalance,
        options,
        rules: None,
        as_of: as_of.map(AsOf::Number),
    };
    let (mut out, mut evidence) = (Vec::new(), Vec::new());
    report(&mut shop.db, &shop.of, asked, &mut out, Some(&mut evidence)).expect("a report");
    (rows(&out), rows(&evidence))
}

fn rows(bytes: &[u8]) -> Vec<Row> {
    let mut reader = csv::Reader::from_reader(bytes);
    let header = reader.headers().expect("a header").clone();
    let row = |record: csv::StringRecord| {
        let cells = header.iter().zip(&record);
        cells
            .map(|(name, cell)| (name.to_string(), cell.to_string()))
            .collect()
    };
    reader
        .records()
        .map(|record| row(record.expect("a row")))
        .collect()
}

fn line<'r>(rows: &'r [Row], refrigerant: &str, line: &str, cylinders: &str) -> &'r Row {
    let fits = |row: &&Row| {
        row["refrigerant"] == refrigerant && row["line"] == line && row["cylinders"] == cylinders
    };
    let found: Vec<&Row> = rows.iter().filter(fits).collect();
    assert_eq!(
        found.len(),
        1,
        "{refrigerant} {line} {cylinders}: {rows:#?}"
    );
    found[0]
}

/// A decimal of micrograms in steps of 10^-11 g.
fn steps(cell: &str) -> i128 {
    let (whole, part) = cell.split_once('.').unwrap_or((cell, ""));
    format!("{whole}{part:0<5}")
        .parse()
        .unwrap_or_else(|_| panic!("{cell} is no number"))
}

/// Every line: both sides are the sums of their columns and the same; every figure is the sum of its
/// evidence.
fn adds_up((rows, evidence): (Vec<Row>, Vec<Row>)) {
    const IN: [&str; 8] = [
        "opening",
        "purchased",
        "recovered",
        "received",
        "stated_less",
        "redesignated_in",
        "found",
        "moved_in",
    ];
    const OUT: [&str; 11] = [
        "charged",
        "to_reclaim",
        "to_destruction",
        "returned",
        "stated_more",
        "lost",
        "redesignated_out",
        "residue",
        "missing",
        "moved_out",
        "closing",
    ];
    assert!(rows.len() >= 3, "too little to compare: {rows:?}");
    let mut proven: BTreeMap<(usize, &str), i128> = BTreeMap::new();
    for one in &evidence {
        let key = (one["row"].parse().expect("a row"), one["figure"].as_str());
        *proven.entry(key).or_default() += steps(&one["contribution"]);
    }
    for (at, row) in rows.iter().enumerate() {
        let of = |name: &&str| steps(&row[&format!("{name}_ug")]);
        let (left, right) = (IN.iter().map(of).sum(), OUT.iter().map(of).sum());
        let sides: [i128; 4] = [left, right, of(&"came_in"), of(&"accounted")];
        assert!(sides.iter().all(|side| *side == left), "{row:?}: {sides:?}");
        let figures = row.iter().filter(|(name, cell)| {
            let sum = name.starts_with("came_in") || name.starts_with("accounted");
            name.ends_with("_ug") && !sum && !cell.is_empty()
        });
        for (name, cell) in figures {
            let found = proven.remove(&(at + 1, name.as_str())).unwrap_or_default();
            assert_eq!(found, steps(cell), "row {}: {name}", at + 1);
        }
    }
    assert!(
        proven.values().all(|rest| *rest == 0),
        "evidence of no figure: {proven:?}"
    );
}

fn day(mut request: Value, on: &str) -> Value {
    request["happened"] = json!({"day": on, "time": "10:00"});
    request["answers"] = json!({
        "rate_jump": "as_stated", "balance_below_zero": "as_stated", "old_day": "as_stated", "count_differs": "as_stated",
        "content_renamed": "analysed", "over_full_charge": "as_stated",
    });
    request
}

fn charge(mass: &str) -> Value {
    json!({"from": "cylinder:SUP-88231", "to": "appliance:HG-RACK-A", "refrigerant": "R-448A",
           "mass": mass, "reason": "leak_top_up"})
}

/// 24 lb were bought; 7 lb were charged, and in truth 8 lb; 30 lb were recovered, of which 12 went to
/// reclaim; the scale shows 17.5 lb where 18 should be; half a pound is unexplained.
#[test]
fn e21_the_balance_follows_corrections_and_the_book_as_it_was() {
    let mut shop = Shop::stocked();
    let posted = shop.ok(day(
        json!({"kind": "charge", "body": charge("7 lb")}),
        "2026-06-01",
    ));
    let recovered = json!({"kind": "recover", "body": {"from": "appliance:HG-RACK-A",
        "to": "cylinder:TR-0417", "refrigerant": "R-448A", "mass": "30 lb", "reason": "repair"}});
    shop.ok(day(recovered, "2026-06-02"));
    let sent = json!({"kind": "send_to_reclaim", "body": {"from": "cylinder:TR-0417",
        "to": "counterparty:Corvane Reclaim", "refrigerant": "R-448A", "mass": "12 lb",
        "document": "BOL-1"}});
    shop.ok(day(sent, "2026-06-03"));
    // 27.6 lb of tare and 17.5 lb.
    let counted = json!({"kind": "count", "body": {"cylinder": "TR-0417", "gross": "45.1 lb",
        "reason": "counted"}});
    let counted = shop.ok(day(counted, "2026-06-04")).seq;
    let told = balance(&mut shop, Unit::Pound, None).0;
    let whole = line(&told, "R-448A", "refrigerant", "");
    let of = |name: &str| whole[&format!("{name}_lb")].clone();
    assert_eq!(
        ["purchased", "recovered", "came_in", "charged", "to_reclaim"].map(of),
        ["24", "30", "54", "7", "12"]
    );
    assert_eq!(
        ["missing", "closing", "unexplained"].map(of),
        ["0.5", "34.5", "0.5"]
    );
    adds_up(balance(&mut shop, Unit::Microgram, None));

    let mut body = json!({"corrects": posted.entry_id, "reason": "misread"});
    body["replace"] = json!({"body": charge("8 lb")});
    let answers = json!({"rate_jump": "as_stated", "old_day": "as_stated"});
    shop.ok(json!({"kind": "correction", "body": body, "answers": answers}));
    let told = balance(&mut shop, Unit::Pound, None).0;
    let disposable = line(&told, "R-448A", "cylinders", "disposable");
    assert_eq!(
        (&*disposable["charged_lb"], &*disposable["closing_lb"]),
        ("8", "16")
    );
    adds_up(balance(&mut shop, Unit::Microgram, None));

    // As it was known before the correction, and with the correction taken back for good.
    let before = balance(&mut shop, Unit::Pound, Some(counted)).0;
    assert_eq!(
        line(&before, "R-448A", "cylinders", "disposable")["charged_lb"],
        "7"
    );
    let before = balance(&mut shop, Unit::Pound, Some(posted.seq)).0;
    let whole = line(&before, "R-448A", "refrigerant", "");
    assert_eq!((&*whole["charged_lb"], &*whole["recovered_lb"]), ("7", "0"));
    assert_eq!(whole["closing_lb"], "17");
}

/// What a laboratory names moves from one account to the other, and both close; a transfer between
/// cylinders of two kinds is in both of them and in no sum.
#[test]
fn names_and_transfers_close_both_accounts() {
    let mut shop = Shop::stocked();
    let facts = json!({"tag": "TR-9", "use": "recovery", "water_capacity": "47.7 lb",
                       "tare": "27.5 lb", "retest_on": "2028-03-31"});
    shop.register("cylinder", facts);
    let bulk = json!({"kind": "recover", "body": {"from": "unregistered", "number": 3,
        "to": "cylinder:TR-9", "refrigerant": "unknown", "mass": "5 lb 4 oz"}});
    shop.ok(day(bulk, "2026-06-01"));
    let named = json!({"kind": "redesignate", "body": {"place": "cylinder:TR-9",
        "refrigerant": "unknown", "becomes": "R-448A", "mass": "5 lb 4 oz", "class": "suspect"}});
    shop.ok(day(named, "2026-06-02"));
    let over = json!({"kind": "transfer", "body": {"from": "cylinder:SUP-88231",
        "to": "cylinder:TR-0417", "refrigerant": "R-448A", "mass": "3 lb"}});
    shop.ok(day(over, "2026-06-03"));
    let lost = json!({"kind": "loss", "body": {"from": "cylinder:SUP-88231",
        "refrigerant": "R-448A", "mass": "2 oz", "basis": "estimated"}});
    shop.ok(day(lost, "2026-06-04"));
    let told = balance(&mut shop, Unit::Pound, None).0;
    let unknown = line(&told, "unknown", "refrigerant", "");
    let of = |row: &Row, names: [&str; 4]| names.map(|name| row[&format!("{name}_lb")].clone());
    assert_eq!(
        of(
            unknown,
            ["recovered", "redesignated_out", "closing", "accounted"]
        ),
        ["5.25", "5.25", "0", "5.25"]
    );
    let whole = line(&told, "R-448A", "refrigerant", "");
    assert_eq!(
        of(whole, ["redesignated_in", "moved_in", "lost", "closing"]),
        ["5.25", "0", "0.125", "29.125"]
    );
    let recovery = line(&told, "R-448A", "cylinders", "recovery");
    assert_eq!(
        of(recovery, ["redesignated_in", "moved_in", "lost", "closing"]),
        ["5.25", "3", "0", "8.25"]
    );
    adds_up(balance(&mut shop, Unit::Microgram, None));
}
