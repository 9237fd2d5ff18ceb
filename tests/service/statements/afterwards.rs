//! What comes after a statement, and what is none: corrections, refusals, reports of what was sent.

use super::{answered, detail, line, send, shop, statement, states};
use api::actions::report::{ReportAsked, ReportName, report};
use harness::shop::Shop;
use reports::sheet::Options;
use serde_json::{Value, json};

pub(super) fn sheet(shop: &mut Shop, name: ReportName) -> String {
    let asked = ReportAsked {
        name,
        options: Options::of_year(2026),
        rules: None,
        as_of: None,
    };
    let (of, mut out) = (shop.of.clone(), Vec::new());
    report(&mut shop.db, &of, asked, &mut out, None).expect("a report");
    String::from_utf8(out).expect("text")
}

/// A statement is taken back, not replaced; a shipment that is corrected under an accepted statement
/// opens the difference again, and the next statement settles it.
#[test]
fn corrections_of_statements_and_of_their_shipments() {
    let mut shop = shop();
    let sent = send(&mut shop, "BIG", "50 lb");
    let before = shop.kept_balances();
    let wrong = shop.ok(statement("accepted", &[sent], line("R-410A", "49.8 lb")));
    let take_back = |of: &api::actions::Posted| {
        json!({"kind": "correction",
        "body": {"corrects": of.entry_id, "reason": "misread"}})
    };
    let mut replace = take_back(&wrong);
    replace["body"]["replace"] = json!({"body": {"counterparty": "Corvane Reclaim"}});
    detail(
        &shop.refused(replace),
        "Take this statement back and post another",
    );
    shop.ok(take_back(&wrong));
    assert_eq!(shop.kept_balances(), before);
    assert_eq!(states(&mut shop), ["waiting"]);
    let disputed = shop.ok(statement("disputed", &[sent], line("R-410A", "40 lb")));
    shop.ok(take_back(&disputed));
    assert!(
        shop.findings(disputed.seq)[0].2,
        "what is taken back is disputed no longer"
    );

    shop.ok(statement("accepted", &[sent], line("R-410A", "49.8 lb")));
    assert_eq!(states(&mut shop), ["fits"]);
    let id = shop.leaf(sent)["id"].clone();
    let corrected = shop.ok(
        json!({"kind": "correction", "body": {"corrects": id, "reason": "misread",
        "replace": {"body": {"from": "cylinder:BIG", "to": "counterparty:Corvane Reclaim",
            "refrigerant": "R-410A", "mass": "52 lb"}}},
        "answers": {"heel_left": "as_stated"}}),
    );
    assert_eq!(states(&mut shop), ["open_difference"]);
    assert!(
        shop.findings(corrected.seq)
            .iter()
            .any(|it| it.0 == "statement_open" && !it.2)
    );
    // The shipment is named by its first entry and counts as corrected: 52 lb less 0.2 lb of the first.
    let last = statement("accepted", &[sent], line("R-410A", "51.8 lb"));
    let last = shop.ok(answered(last, &["statement_again"]));
    assert_eq!(
        shop.leaf(last.seq)["body"]["stated"][0]["book_g"],
        "23496.084766"
    );
    assert_eq!(shop.leaf(last.seq)["body"]["movements"], Value::Null);
    assert!(shop.findings(corrected.seq).iter().all(|it| it.2));
    assert_eq!(states(&mut shop), ["fits"]);
    shop.sound();
    shop.caches_agree();
}

/// However often a shipment is corrected, what an accepted statement counted on stays open; and only the
/// office settles it.
#[test]
fn a_second_correction_leaves_the_difference_open() {
    let mut shop = shop();
    let sent = send(&mut shop, "SMALL", "20 lb");
    shop.ok(statement("accepted", &[sent], line("R-22", "19.9 lb")));
    let mut corrects = shop.leaf(sent)["id"].clone();
    let mut last = None;
    for mass in ["18 lb", "15 lb"] {
        let corrected = shop.ok(json!({"kind": "correction",
            "body": {"corrects": corrects, "reason": "misread", "replace": {"body": {
                "from": "cylinder:SMALL", "to": "counterparty:Corvane Reclaim",
                "refrigerant": "R-22", "mass": mass}}},
            "answers": {"heel_left": "as_stated"}}));
        let left = shop.findings(corrected.seq);
        let open = ("statement_open".to_string(), "high".to_string(), false);
        assert!(left.contains(&open), "{mass}: {left:?}");
        corrects = json!(corrected.entry_id);
        last = Some(corrected);
    }
    assert_eq!(states(&mut shop), ["open_difference"]);
    let settle = json!({"kind": "settle", "body": {"code": "statement_open",
        "entries": [last.expect("booked").entry_id], "reason": "checked"}});
    let technician = shop.technician;
    assert!(shop.post_as(&technician, settle).is_err());
    shop.sound();
}

/// O1: a statement that was booked is answered as it was, whatever became of its shipments.
#[test]
fn o1_an_accepted_statement_is_answered_again_after_the_book_moved_on() {
    let mut shop = shop();
    let (big, small) = (
        send(&mut shop, "BIG", "63 lb"),
        send(&mut shop, "SMALL", "20 lb"),
    );
    let mut first = statement("accepted", &[small], line("R-22", "20 lb"));
    first["entry_id"] = json!(api::ledger::id::Id::random());
    let booked = shop.ok(first.clone());
    let both = json!([{"refrigerant": "R-22", "mass": "20 lb"},
                      {"refrigerant": "R-410A", "mass": "63 lb"}]);
    let wider = statement("accepted", &[big, small], both);
    shop.ok(answered(wider, &["statement_again"]));
    assert!(shop.ok(first.clone()).replayed);
    let id = shop.leaf(small)["id"].clone();
    shop.ok(json!({"kind": "correction", "body": {"corrects": id, "reason": "did_not_happen"}}));
    let again = shop.ok(first.clone());
    assert!(again.replayed && again.leaf_hash == booked.leaf_hash);
    let mut other = first;
    other["body"]["stated"] = line("R-22", "19 lb");
    assert_eq!(shop.refused(other).slug(), "id-reused");
    shop.sound();
}

/// Whatever cannot be a statement says why and what to do, and books nothing.
#[test]
fn what_is_no_statement_is_refused_with_what_to_do() {
    let mut shop = shop();
    let sent = send(&mut shop, "BIG", "63 lb");
    let size = shop.size();
    let good = || statement("accepted", &[sent], line("R-410A", "63 lb"));
    let mut with = |member: &str, value: Value, holds: &str| {
        let mut request = good();
        request["body"][member] = value;
        detail(&shop.refused(request), holds);
    };
    with("outcome", json!("maybe"), "one of accepted, disputed");
    with("counterparty", json!("Nobody"), "Nobody");
    with(
        "counterparty",
        json!("Dunmore Supply"),
        "it went to Corvane Reclaim",
    );
    with("entries", json!([]), "at least one shipment");
    with("entries", json!(["99999"]), "99999");
    with(
        "entries",
        json!([sent.to_string(), sent.to_string()]),
        "another shipment",
    );
    with("entries", json!(["3"]), "it sent nothing");
    with("stated", json!([]), "at least one refrigerant");
    with("stated", line("R-999Z", "1 lb"), "R-999Z");
    with("stated", line("R-410A", "some"), "some");
    let twice = json!([{"refrigerant": "R-410A", "mass": "1 lb"}, {"refrigerant": "R410A", "mass": "2 lb"}]);
    with("stated", twice, "each refrigerant once");
    assert_eq!(shop.size(), size);
    // A weight in another unit: 63 lb are no 63 kg.
    let refused = shop.refused(statement("disputed", &[sent], line("R-410A", "63 kg")));
    assert_eq!(Shop::questions(&refused), ["statement_other_unit"]);
    // Only who answers for the book says what the receiver says.
    let (technician, request) = (shop.technician, good());
    let refused = shop.post_as(&technician, request).unwrap_err().to_string();
    assert!(refused.contains("compliance manager"), "{refused}");
}

/// What was sent stays what was sent: the log of disposals and the stated losses are the same before and
/// after a statement, neither twice nor lost.
#[test]
fn a_statement_changes_no_report_of_what_was_sent_or_released() {
    let mut shop = shop();
    let sent = send(&mut shop, "BIG", "63 lb");
    let sheets = |shop: &mut Shop| {
        [ReportName::DisposalsByMonth, ReportName::Releases].map(|name| sheet(shop, name))
    };
    let before = sheets(&mut shop);
    assert!(
        before[0].contains("Corvane Reclaim") && before[0].contains(",63,"),
        "{}",
        before[0]
    );
    let accept = statement("accepted", &[sent], line("R-410A", "61.2 lb"));
    shop.ok(answered(accept, &["statement_differs"]));
    assert_eq!(sheets(&mut shop), before);
    // The balance of the year shows what the statement changed in a line of its own.
    let balance = sheet(&mut shop, ReportName::MassBalance);
    let mut own =
        (balance.lines()).filter(|row| row.contains("statements") && row.contains("R-410A"));
    let row = own.next().unwrap_or_else(|| panic!("{balance}"));
    assert!(row.split(',').any(|cell| cell == "1.8"), "{row}");
}
