//! A shipment that a statement speaks of goes to somebody else by a correction, or is taken back.
//!
//! By hand: 63 lb were sent, 61.2 lb are stated, so 1.8 lb = 816.466266 g are unexplained until the
//! statement is taken back. Each time the mass of the whole book adds up to what it was (mass is neither made
//! nor lost, the law of the conservation of mass).

use super::afterwards::sheet;
use super::{answered, cases, line, send, shop, statement, states};
use api::actions::Posted;
use api::actions::report::ReportName;
use api::actions::show::shipments::{self, Case, ShipmentsAsked};
use harness::shop::Shop;
use serde_json::{Value, json};

/// 63 lb to Corvane Reclaim, of which it states 61.2 lb: the shipment and the statement.
fn stated(shop: &mut Shop, outcome: &str) -> (u64, Posted) {
    let sent = send(shop, "BIG", "63 lb");
    let request = statement(outcome, &[sent], line("R-410A", "61.2 lb"));
    let booked = shop.ok(answered(request, &["statement_differs"]));
    (sent, booked)
}

fn correction(shop: &mut Shop, of: u64, replace: Option<Value>) -> Value {
    let id = shop.leaf(of)["id"].clone();
    let mut request = json!({"kind": "correction", "answers": {"heel_left": "as_stated"},
                             "body": {"corrects": id, "reason": "other"}});
    if let Some(body) = replace {
        request["body"]["replace"] = json!({"body": body});
    }
    request
}

fn to(receiver: &str) -> Option<Value> {
    Some(
        json!({"from": "cylinder:BIG", "to": format!("counterparty:{receiver}"),
                "refrigerant": "R-410A", "mass": "63 lb"}),
    )
}

fn corrected(shop: &mut Shop, of: u64, replace: Option<Value>) -> u64 {
    let request = correction(shop, of, replace);
    shop.ok(request).seq
}

/// Codes that are open of an entry.
fn open(shop: &mut Shop, entry: u64) -> Vec<String> {
    let open = shop.findings(entry).into_iter().filter(|it| !it.2);
    open.map(|it| it.0).collect()
}

fn at(shop: &mut Shop, receiver: &str) -> Vec<Case> {
    let asked = ShipmentsAsked {
        most: 100,
        counterparty: receiver.to_string(),
        ..ShipmentsAsked::default()
    };
    let of = shop.of.clone();
    shipments::page(&mut shop.db, &of, &asked)
        .expect("a page")
        .items
}

/// All places together hold nothing, the verifier and the caches agree.
fn adds_up(shop: &mut Shop) {
    shop.sound();
    shop.caches_agree();
}

/// M2: the receiver's statement stays where the reader looks, says what became of its shipment, and is
/// taken back there; with it what it left open is settled.
#[test]
fn a_statement_whose_shipment_went_elsewhere_stays_with_its_receiver() {
    let mut shop = shop();
    let sent = send(&mut shop, "BIG", "63 lb");
    let before = sheet(&mut shop, ReportName::MassBalance);
    let accept = statement("accepted", &[sent], line("R-410A", "61.2 lb"));
    let stated = shop.ok(answered(accept, &["statement_differs"]));
    let with = sheet(&mut shop, ReportName::MassBalance);
    let moved = corrected(&mut shop, sent, to("Dunmore Supply"));
    assert_eq!(open(&mut shop, moved), ["statement_open"]);
    adds_up(&mut shop);

    let left = at(&mut shop, "Corvane Reclaim");
    assert_eq!(left.len(), 1);
    let case = &left[0];
    assert_eq!((case.state, case.shipments.len()), ("shipment_gone", 0));
    assert_eq!(case.statement.as_ref().map(|it| it.entry), Some(stated.seq));
    let gone = &case.gone[0];
    assert_eq!((gone.entry, gone.by), (sent, moved));
    assert_eq!(gone.to[0].tag, "Dunmore Supply");
    assert_eq!(case.lines[0].stated.as_ref().unwrap().lb_oz, "61 lb 3.2 oz");
    // The other one waits for its own statement; both stand in the list, by their numbers.
    assert_eq!(states(&mut shop), ["waiting", "shipment_gone"]);
    assert_eq!(shipments::open(&cases(&mut shop)), 1);
    // By the shipment's number both are read, by the statement's its own comes first.
    let of = shop.of.clone();
    let mut one = |name: u64| -> Vec<String> {
        let found = shipments::one(&mut shop.db, &of, &name.to_string()).expect("cases");
        found
            .into_iter()
            .map(|case| case.counterparty.tag)
            .collect()
    };
    assert_eq!(one(sent), ["Dunmore Supply", "Corvane Reclaim"]);
    assert_eq!(one(moved), ["Dunmore Supply", "Corvane Reclaim"]);
    assert_eq!(one(stated.seq), ["Corvane Reclaim", "Dunmore Supply"]);

    corrected(&mut shop, stated.seq, None);
    assert_eq!(open(&mut shop, moved), Vec::<String>::new());
    assert_eq!(states(&mut shop), ["waiting"]);
    assert_eq!(super::held(&mut shop, "unexplained"), []);
    // 63 lb = 28576.31931 g.
    let held = [("R-410A".to_string(), "28576.31931".to_string())];
    assert_eq!(super::held(&mut shop, "counterparty"), held);
    adds_up(&mut shop);
    // What left the cylinders is what it was before the statement, and the statement's line is gone.
    assert_eq!(sheet(&mut shop, ReportName::MassBalance), before);
    assert!(with.contains("statements") && !before.contains("statements"));
}

/// The same where the shipment was taken back: nobody has it, and the statement says so until it goes.
#[test]
fn a_statement_whose_shipment_was_taken_back_is_shown_until_it_goes_too() {
    let mut shop = shop();
    let (sent, stated) = stated(&mut shop, "accepted");
    let annulled = corrected(&mut shop, sent, None);
    assert_eq!(open(&mut shop, annulled), ["statement_open"]);
    let all = cases(&mut shop);
    assert_eq!((all.len(), all[0].state), (1, "shipment_gone"));
    assert_eq!((all[0].gone[0].by, all[0].gone[0].to.len()), (annulled, 0));
    adds_up(&mut shop);
    corrected(&mut shop, stated.seq, None);
    assert_eq!(open(&mut shop, annulled), Vec::<String>::new());
    assert!(cases(&mut shop).is_empty());
    assert_eq!(super::held(&mut shop, "unexplained"), []);
    adds_up(&mut shop);
}

/// A finding stays as long as the book is not what the statement says, however often the shipment moves,
/// and is settled by the correction that brings it back.
#[test]
fn what_is_open_is_settled_where_the_shipment_comes_back() {
    let mut shop = shop();
    let (sent, _) = stated(&mut shop, "accepted");
    let one = corrected(&mut shop, sent, to("Dunmore Supply"));
    let two = corrected(&mut shop, one, to("Halfmoon Grocers"));
    assert_eq!(open(&mut shop, one), ["statement_open"]);
    assert_eq!(
        open(&mut shop, two),
        Vec::<String>::new(),
        "not about the first receiver"
    );
    adds_up(&mut shop);
    let three = corrected(&mut shop, two, to("Corvane Reclaim"));
    for entry in [one, two, three] {
        assert_eq!(open(&mut shop, entry), Vec::<String>::new(), "no. {entry}");
    }
    assert_eq!(states(&mut shop), ["accepted"]);
    adds_up(&mut shop);
}

/// What a technician corrects settles nothing of the highest grade: a manager looks at it.
#[test]
fn s3_a_technicians_correction_leaves_the_finding_to_the_office() {
    let mut shop = shop();
    let technician = shop.technician;
    let body = json!({"from": "cylinder:BIG", "to": "counterparty:Corvane Reclaim",
                      "refrigerant": "R-410A", "mass": "63 lb"});
    let sent = json!({"kind": "send_to_reclaim", "body": body});
    let sent = shop.post_as(&technician, sent).expect("sent").seq;
    let accept = statement("accepted", &[sent], line("R-410A", "62.9 lb"));
    shop.ok(accept);
    let away = correction(&mut shop, sent, to("Dunmore Supply"));
    let away = shop.post_as(&technician, away).expect("corrected").seq;
    assert_eq!(open(&mut shop, away), ["statement_open"]);
    let back = correction(&mut shop, away, to("Corvane Reclaim"));
    let back = shop.post_as(&technician, back).expect("corrected").seq;
    assert_eq!(open(&mut shop, away), ["statement_open"]);
    assert_eq!(open(&mut shop, back), Vec::<String>::new());
    shop.sound();
    shop.caches_agree();
}

/// A dispute that somebody settled has booked nothing and is nothing to look at; an open one is.
#[test]
fn a_disputed_statement_without_a_shipment_is_looked_at_while_it_is_open() {
    let mut shop = shop();
    let (sent, stated) = stated(&mut shop, "disputed");
    let annulled = corrected(&mut shop, sent, None);
    assert_eq!(
        open(&mut shop, annulled),
        Vec::<String>::new(),
        "it booked nothing"
    );
    assert_eq!(states(&mut shop), ["shipment_gone"]);
    assert_eq!(open(&mut shop, stated.seq), ["statement_disputed"]);
    shop.ok(
        json!({"kind": "settle", "body": {"code": "statement_disputed",
        "entries": [stated.entry_id], "reason": "checked"}}),
    );
    assert_eq!(states(&mut shop), ["settled"]);
    corrected(&mut shop, stated.seq, None);
    assert!(cases(&mut shop).is_empty());
    adds_up(&mut shop);
}

/// Of several shipments some are left: the statement stays with these and names the others.
#[test]
fn what_is_left_of_a_statement_names_what_went() {
    let mut shop = shop();
    let one = send(&mut shop, "BIG", "30 lb");
    let two = send(&mut shop, "BIG", "33 lb");
    shop.ok(statement("accepted", &[one, two], line("R-410A", "63 lb")));
    let annulled = corrected(&mut shop, one, None);
    let all = cases(&mut shop);
    assert_eq!((all.len(), all[0].state), (1, "open_difference"));
    assert_eq!(all[0].shipments[0].entry, two);
    assert_eq!((all[0].gone[0].entry, all[0].gone[0].by), (one, annulled));
    // Page by page the same list, each once: a statement without a shipment is found by its own number.
    corrected(&mut shop, two, None);
    let third = send(&mut shop, "SMALL", "20 lb");
    let asked = |after| ShipmentsAsked {
        most: 1,
        after,
        ..ShipmentsAsked::default()
    };
    let of = shop.of.clone();
    let first = shipments::page(&mut shop.db, &of, &asked(None)).expect("a page");
    assert_eq!(first.items[0].shipments[0].entry, third);
    let after = first.next.expect("more").parse().ok();
    let second = shipments::page(&mut shop.db, &of, &asked(after)).expect("a page");
    assert_eq!(second.items[0].state, "shipment_gone");
    assert_eq!((second.items.len(), second.next), (1, None));
    adds_up(&mut shop);
}
