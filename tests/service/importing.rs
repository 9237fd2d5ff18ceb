//! Importing: a book of paper and spreadsheets becomes entries, once and only once.
//!
//! The files are invented; masses expected are written out beside them (NIST SP 811 appendix B:
//! 1 lb = 453.59237 g exactly).

use api::actions::import::{Importing, Outcome, Stage, Table};
use api::ledger::entry::Leaf;
use api::store::writer::transact;
use harness::shop::{CLOCK, Shop};
use reports::day::Zone;
use serde_json::{Value, json};
use std::path::PathBuf;

const HEADER: &str = "movement_id,occurred_at,kind,from,to,refrigerant,mass_lb,technician,visit";

/// A shop with a folder for its files.
pub struct Office {
    pub shop: Shop,
    folder: tempfile::TempDir,
}

impl Office {
    /// A book with two appliances and three cylinders, imported.
    pub fn stocked() -> Office {
        let mut office = Office {
            shop: Shop::open(),
            folder: tempfile::tempdir().expect("a folder"),
        };
        office.books(
            Table::Appliances,
            "appliance,site,category,refrigerant,full_charge_lb,commissioned_on,zone,owner,serial\n\
             HG-RACK-A,HG-ALDER,commercial_refrigeration,R-448A,210,2019-05-20,America/Denver,\
             Halfmoon Grocers,HM-19-0442\n\
             PINE-AHU-2,PINE,comfort_cooling,R-454B,unknown,2024-06-17,America/Phoenix,\
             Pinecroft Clinic,\n",
            2,
        );
        office.books(
            Table::Cylinders,
            "cylinder,refrigerant,use,capacity,tare\n\
             SUP-88231,R-448A,supply,1000 lb,\n\
             SUP-95120,R-454B,supply,1000 lb,\n\
             TR-0417,,recovery,38 lb 2 oz,27.6 lb\n",
            3,
        );
        office
    }

    fn file(&self, text: &str) -> PathBuf {
        let path = self.folder.path().join("file.csv");
        std::fs::write(&path, text).expect("a file");
        path
    }

    pub fn import(&mut self, table: Table, text: &str) -> Outcome {
        self.import_while(table, text, &mut |_| ())
    }

    pub fn import_while(
        &mut self,
        table: Table,
        text: &str,
        progress: &mut dyn FnMut(Stage),
    ) -> Outcome {
        let path = self.file(text);
        let shop = &mut self.shop;
        let zone = Zone::named("America/Denver").expect("Denver");
        let mut importing = Importing {
            db: &mut shop.db,
            books: &mut shop.books,
            of: &shop.of,
            clock: CLOCK,
            zone,
        };
        importing
            .run(table, &path, false, progress)
            .unwrap_or_else(|error| panic!("{error}"))
    }

    /// Imports a file that is good, and says how many findings it left.
    pub fn books(&mut self, table: Table, text: &str, expected: u64) -> u64 {
        match self.import(table, text) {
            Outcome::Booked {
                rows,
                booked,
                findings,
                ..
            } => {
                assert_eq!((rows, booked), (expected, expected));
                findings
            }
            other => panic!("{other:?}"),
        }
    }

    /// Imports a file that is not good; the problems in words.
    pub fn wrong(&mut self, table: Table, text: &str) -> String {
        let size = self.shop.size();
        match self.import(table, text) {
            Outcome::Wrong(problems) => {
                assert_eq!(self.shop.size(), size, "something was booked");
                problems.to_string()
            }
            other => panic!("{other:?}"),
        }
    }

    /// Leaves from a number on, with the findings of each.
    fn leaves(&mut self, from: u64) -> Vec<(Value, Vec<String>)> {
        let (shop, mut leaves) = (&mut self.shop, Vec::new());
        let size = shop.size();
        let table = reports::refrigerant::Table::shipped();
        transact(
            &mut shop.db,
            &mut shop.books,
            &shop.of,
            &[],
            table,
            CLOCK,
            |tx| {
                for seq in from..size {
                    let (bytes, _) = tx.leaf(seq)?.expect("an entry");
                    let findings = tx.findings_of(seq)?.into_iter().map(|finding| finding.0);
                    let leaf = serde_json::to_value(Leaf::parse(&bytes).expect("a leaf"));
                    leaves.push((leaf.expect("JSON"), findings.collect()));
                }
                Ok(())
            },
        )
        .expect("the book");
        leaves
    }

    /// Leaves of imported rows.
    pub fn rows(&mut self) -> Vec<(Value, Vec<String>)> {
        let mut leaves = self.leaves(0);
        leaves.retain(|(leaf, _)| {
            leaf["body"]["import"].is_object() && leaf["body"]["movements"].is_array()
        });
        leaves
    }
}

fn movements(rows: &[&str]) -> String {
    format!("{HEADER}\n{}\n", rows.join("\n"))
}

/// So many charges of a pound, ten to a visit.
pub fn charges(count: usize) -> String {
    let row = |n: usize| {
        let (day, visit) = (1 + n % 28, n / 10);
        format!("m-{n},2025-03-{day:02},charge,SUP-88231,HG-RACK-A,R-448A,1,ines,visit {visit}")
    };
    let rows: Vec<String> = (0..count).map(row).collect();
    format!("{HEADER}\n{}\n", rows.join("\n"))
}

#[test]
fn registers_and_movements_are_booked_with_their_rows() {
    let mut office = Office::stocked();
    let uuid = "019b76da-a800-7000-8000-0000000000aa";
    office.books(
        Table::Movements,
        &movements(&[
            "m-1,2025-01-02,opening,,HG-RACK-A,R-448A,210,osric,",
            &format!("{uuid},2025-01-09,purchase,Dunmore Supply,SUP-88231,R-448A,24,osric,"),
            "m-3,2025-04-09T11:15:00-06:00,charge,SUP-88231,HG-RACK-A,R-448A,9.25,ines,v-7",
        ]),
        3,
    );
    let rows = office.rows();
    let of = |at: usize, pointer: &str| rows[at].0.pointer(pointer).cloned().unwrap_or_default();
    assert_eq!(rows.len(), 3);
    assert_eq!(of(1, "/id"), uuid, "a UUID becomes the entry's id");
    assert_eq!(of(0, "/body/import/row"), 2);
    assert_eq!(of(2, "/body/import/row"), 4);
    // 9.25 lb x 453.59237 g.
    assert_eq!(of(2, "/body/movements/0/g"), "4195.7294225");
    assert_eq!(
        of(2, "/body/movements/0/typed"),
        json!({"text": "9.25", "unit": "[lb_av]"})
    );
    assert_eq!(of(2, "/happened/day"), "2025-04-09");
    assert_eq!(of(2, "/happened/time"), "11:15");
    assert_eq!(of(2, "/via"), "import");
    assert_eq!(of(2, "/role"), "operator");
    assert!(of(2, "/commit/movement_id").is_string() && of(1, "/commit").is_null());
    let import = office
        .leaves(0)
        .into_iter()
        .rfind(|(leaf, _)| leaf["kind"] == "import")
        .unwrap();
    assert_eq!(import.0["body"]["rows"], 3);
    assert_eq!(import.0["id"], of(0, "/body/import/entry"));
}

#[test]
fn nothing_is_booked_from_a_file_with_an_error_however_late() {
    let mut office = Office::stocked();
    let text = charges(2_300) + "m-x,2025-04-01,charge,SUP-88231,HG-RACK-A,R-448A,1 lb,ines,\n";
    let told = office.wrong(Table::Movements, &text);
    assert!(
        told.starts_with("file.csv, row 2302, column mass_lb: expected"),
        "{told}"
    );
}

#[test]
fn names_nobody_knows_are_told_with_the_nearest() {
    let mut office = Office::stocked();
    let told = office.wrong(
        Table::Movements,
        &movements(&[
            "m-1,2025-04-01,charge,SUP-88232,HG-RACK-A,R-448A,1,ines,",
            "m-2,2025-04-01,charge,SUP-88231,HG-RAK-A,R-448A,1,ines,",
            "m-3,2025-04-01,charge,SUP-88231,HG-RACK-A,R-448,1,ines,",
            "m-4,2025-04-01,recover,HG-RACK-A,SUP-X,R-448A,1,ines,",
        ]),
    );
    for words in [
        "row 2, column from: expected the tag of a cylinder of this book, came 'SUP-88232'. Did \
         you mean 'SUP-88231'?",
        "row 3, column to: expected the tag of an appliance of this book, came 'HG-RAK-A'. Did \
         you mean 'HG-RACK-A'?",
        "row 4, column refrigerant",
        "row 5, column to",
    ] {
        assert!(told.contains(words), "{words}\n{told}");
    }
    let told = office.wrong(
        Table::Appliances,
        "appliance,site,category,refrigerant,full_charge_lb,commissioned_on,zone\n\
         HG-RACK-A,HG-ALDER,other,R-22,1,2020-01-01,\n\
         NEW-1,HG-ALDER,other,R-22,1,2020-01-01,America/Phoenix\n",
    );
    assert!(
        told.contains("row 2, column appliance: expected a tag that no appliance"),
        "{told}"
    );
    assert!(told.contains("row 3, column zone"), "{told}");
}

#[test]
fn what_an_import_cannot_ask_becomes_a_finding() {
    let mut office = Office::stocked();
    let header = HEADER.replace("mass_lb", "mass");
    let text = format!(
        "{header}\n\
         m-1,2025-04-01,recover,HG-RACK-A,TR-0417,R-448A,4 lb,ines,\n\
         m-2,2025-04-02,recover,PINE-AHU-2,TR-0417,R-454B,2 lb,ines,\n\
         m-3,2025-11-02T01:30,charge,SUP-88231,HG-RACK-A,R-448A,7.12 lb,ines,\n\
         m-4,2018-01-01,charge,SUP-88231,HG-RACK-A,R-448A,1 lb,ines,\n\
         m-5,2025-03-09T02:30,charge,SUP-88231,HG-RACK-A,R-448A,1 lb,ines,\n"
    );
    assert!(office.books(Table::Movements, &text, 5) >= 5);
    let rows = office.rows();
    let has = |at: usize, code: &str| assert!(rows[at].1.contains(&code.to_string()), "{rows:?}");
    has(1, "mixing");
    has(2, "pounds_or_ounces");
    has(2, "skipped_or_doubled_time");
    has(3, "before_installed");
    has(4, "skipped_or_doubled_time");
    // 7.12 lb x 453.59237 g, taken as it stands, with the answer that says so.
    assert_eq!(rows[2].0["body"]["movements"][0]["g"], "3229.5776744");
    assert_eq!(
        rows[2].0["answers"],
        json!({"pounds_or_ounces": "as_pounds"})
    );
    // Doubled: the first of the two; skipped: the day alone (IANA: Denver, 2025-11-02, 2025-03-09).
    assert_eq!(rows[2].0["happened"]["offset"], "-06:00");
    assert_eq!(rows[4].0["happened"].get("time"), None);
    // Nothing leaves the mixed cylinder any more.
    let refused = office.shop.refused(json!({"kind": "transfer",
        "body": {"from": "cylinder:TR-0417", "to": "cylinder:SUP-88231", "refrigerant": "R-448A",
                 "mass": "1 lb"}}));
    assert!(Shop::stops(&refused).contains(&"quarantined"), "{refused}");
}

/// The same instant is another day in another zone (IANA: Phoenix keeps -07:00 all year).
#[test]
fn an_instant_falls_on_the_day_of_the_site() {
    let mut office = Office::stocked();
    let text = movements(&[
        "m-1,2025-07-01T06:30:00Z,charge,SUP-88231,HG-RACK-A,R-448A,1,ines,",
        "m-2,2025-07-01T06:30:00Z,charge,SUP-95120,PINE-AHU-2,R-454B,1,ines,",
    ]);
    office.books(Table::Movements, &text, 2);
    let rows = office.rows();
    assert_eq!(rows[0].0["happened"]["day"], "2025-07-01");
    assert_eq!(rows[0].0["happened"]["zone"], "America/Denver");
    assert_eq!(rows[1].0["happened"]["day"], "2025-06-30");
    assert_eq!(rows[1].0["happened"]["time"], "23:30");
}

#[test]
fn no_typed_text_of_a_file_stands_in_a_leaf_and_the_book_verifies() {
    let mut office = Office::stocked();
    office.books(
        Table::Movements,
        &movements(&[
            "slip-4711,2025-04-01,purchase,Dunmore Supply,SUP-88231,R-448A,24,marguerite,tour-9",
            "slip-4712,2025-04-01,charge,SUP-88231,HG-RACK-A,R-448A,7.12,marguerite,tour-9",
        ]),
        2,
    );
    let leaves = office.leaves(0);
    for text in [
        "slip-4711",
        "Dunmore",
        "SUP-88231",
        "HG-RACK-A",
        "marguerite",
        "tour-9",
        "HG-ALDER",
        "HM-19-0442",
        "Halfmoon",
        "TR-0417",
        "file.csv",
    ] {
        for (leaf, _) in &leaves {
            assert!(!leaf.to_string().contains(text), "{text} stands in {leaf}");
        }
    }
    let shop = &mut office.shop;
    let mut stored = api::store::source::StoredBook::open(&mut shop.db, shop.of.org).unwrap();
    let report =
        api::ledger::verify::verify(&mut stored, &[], &api::ledger::verify::Options::default());
    let report = report.unwrap();
    assert!(report.holds(), "{report}");
    assert_eq!(report.movements, 2);
}
