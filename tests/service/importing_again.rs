//! Importing once and only once: repeated, stopped and continued, beside another writer.

use crate::importing::{Office, charges};
use api::actions::import::{Outcome, Stage, Table};
use api::actions::post::post;
use api::ledger::id::Id;
use api::store::writer::{Books, transact};
use api::store::{Db, Purpose};
use harness::shop::CLOCK;
use serde_json::json;
use std::panic::{AssertUnwindSafe, catch_unwind};

/// E39: a repeated import adds nothing.
#[test]
fn a_second_import_of_the_same_file_books_nothing() {
    let mut office = Office::stocked();
    let text = charges(3);
    office.books(Table::Movements, &text, 3);
    let size = office.shop.size();
    let again = office.import(Table::Movements, &text);
    assert!(
        matches!(again, Outcome::Already { rows: 3, .. }),
        "{again:?}"
    );
    assert_eq!(office.shop.size(), size);
    // Another file with one of the rows is an error, and says which entry has it.
    let told = office.wrong(
        Table::Movements,
        &(text + "m-9,2025-04-01,loss,TR-0417,,R-22,1,x,\n"),
    );
    assert!(
        told.contains("row 2, column movement_id") && told.contains("Entry no. "),
        "{told}"
    );
}

/// Stops after the second thousand, goes on with the same command, and ends as if never stopped.
#[test]
fn a_stopped_import_goes_on_where_it_stopped() {
    let mut office = Office::stocked();
    let text = charges(2_500);
    let size = office.shop.size();
    let stopped = catch_unwind(AssertUnwindSafe(|| {
        office.import_while(Table::Movements, &text, &mut |stage| {
            assert!(
                !matches!(stage, Stage::Booking(2_000, 2_500)),
                "the power went off"
            );
        })
    }));
    assert!(stopped.is_err(), "it was not stopped");
    let shop = &mut office.shop;
    shop.books.clear();
    let left = api::store::imports::unfinished(&mut shop.db, shop.of.org).expect("the state");
    assert_eq!((left.len(), left[0].rows, left[0].done), (1, 2_500, 2_001));
    match office.import(Table::Movements, &text) {
        Outcome::Booked {
            rows: 2_500,
            booked: 500,
            ..
        } => {}
        other => panic!("{other:?}"),
    }
    let rows = office.rows();
    let numbers: Vec<u64> = rows
        .iter()
        .map(|(leaf, _)| leaf["body"]["import"]["row"].as_u64().unwrap())
        .collect();
    assert_eq!(
        numbers,
        (2..=2_501).collect::<Vec<u64>>(),
        "each row once, in order"
    );
    // The import entry, one technician, and the rows.
    assert_eq!(office.shop.size(), size + 2 + 2_500);
    // The word of a visit means the same visit on both sides of the break.
    let visit = |at: usize| rows[at].0["visit"].clone();
    assert_eq!(visit(1_999), visit(1_990));
    assert_ne!(visit(1_999), visit(2_000));
    let shop = &mut office.shop;
    assert!(
        api::store::imports::unfinished(&mut shop.db, shop.of.org)
            .unwrap()
            .is_empty()
    );
}

/// Somebody books an entry under the id of a row, before or after the rows were compared.
#[test]
fn an_id_that_is_taken_meanwhile_is_an_error_before_and_a_finding_after() {
    let id = Id::random();
    let many = charges(3_000);
    let text = format!("{many}{id},2025-04-01,charge,SUP-88231,HG-RACK-A,R-448A,1,ines,\n");
    let mut office = Office::stocked();
    match office.import_beside(&text, id, Stage::Checking(2_048)) {
        Outcome::Wrong(problems) => {
            let told = problems.to_string();
            assert!(told.contains("row 3002, column movement_id"), "{told}");
        }
        other => panic!("{other:?}"),
    }
    let mut office = Office::stocked();
    match office.import_beside(&text, id, Stage::Booking(1_000, 3_001)) {
        Outcome::Booked { booked: 3_001, .. } => {}
        other => panic!("{other:?}"),
    }
    let rows = office.rows();
    let (leaf, findings) = rows.last().unwrap();
    assert_eq!(
        (rows.len(), leaf["body"]["import"]["row"].as_u64()),
        (3_001, Some(3_002))
    );
    assert_ne!(leaf["id"], json!(id));
    // The supply cylinder was never filled, so that every charge left a finding of its own.
    assert_eq!(findings, &["id_reused", "over_content"]);
    assert!(
        !rows[..3_000]
            .iter()
            .any(|(_, left)| left.contains(&"id_reused".to_string()))
    );
}

impl Office {
    /// Imports movements while another process books an entry with this id at that moment.
    fn import_beside(&mut self, text: &str, id: Id, moment: Stage) -> Outcome {
        let address = harness::shop::address(&self.shop.database);
        let (of, manager) = (self.shop.of.clone(), self.shop.manager);
        let mut posted = false;
        let outcome = self.import_while(Table::Movements, text, &mut |stage| {
            if stage != moment {
                return;
            }
            posted = true;
            let mut db = Db::open(&address, Purpose::Write, false).expect("a second connection");
            let request = json!({"entry_id": id, "kind": "counterparty",
                                 "body": {"facts": {"tag": "Corvane Reclaim"}}});
            let table = reports::refrigerant::Table::shipped();
            transact(&mut db, &mut Books::new(), &of, &[], table, CLOCK, |tx| {
                post(tx, &manager, &request).expect("a new counterparty");
                Ok(())
            })
            .expect("a second writer");
        });
        assert!(posted, "the moment never came");
        outcome
    }
}
