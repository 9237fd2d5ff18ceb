//! An invented firm with a year of believable work, booked through the door that people use.
//!
//! The year is a fixed one, from 3 November 2025 to 10 November 2026, and not the twelve months
//! before today: so the yearly CSV of 2026 is the same on every machine and every day, and a test
//! can hold it against figures worked out by hand. Only ids, salts and keys are new each time. The
//! clock of the book is made up and follows the script; all of it lies in the past of the program.
//!
//! The firm, its customers, places and figures are invented. Everyday work stands in tables
//! (`work.csv`, `appliances.csv`, `cylinders.csv`), what needs telling in `slips.rs`.

mod cage;
mod flagged;
mod follow_ups;
mod office;
mod people;
mod script;
mod slips;
mod teller;
mod things;

pub use flagged::{Flagged, flagged};
pub use people::{ALL as PEOPLE, Member};
pub use teller::StoryError;

use crate::actions::begin::{Beginning, begin};
use crate::ledger::checkpoint::{SigningKey, VerificationKey};
use crate::store::Db;
use crate::store::open::Organisation;
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use teller::{CLOCK, Teller, set_clock};

/// The firm that keeps the book.
pub const ORGANISATION: &str = "Tamarack Ridge Mechanical";

/// Its home zone.
pub const ZONE: &str = "America/Denver";

/// The year that is reported.
pub const YEAR: i16 = 2026;

/// Sites with who does what is owed there.
pub const FOLLOWED: &[(&str, &str)] = &[
    ("Alder Street", "ines@tamarack.example"),
    ("Pinecroft Clinic", "dov@tamarack.example"),
];

/// The text of the customer's house rule.
pub const HOUSE_RULE: &str = office::HOUSE_RULE;

/// What was booked.
pub struct Told {
    /// The organisation with its book.
    pub of: Organisation,
    /// Every request as it was posted, in order.
    pub requests: Vec<Value>,
    /// Numbers of the entries that the script names.
    pub numbers: BTreeMap<String, u64>,
    /// Codes of the findings that were left.
    pub findings: BTreeSet<String>,
}

/// Opens a book in an empty database with its tables, and books the year.
pub fn tell(
    db: &mut Db,
    log: &str,
    key: &SigningKey,
    recovery: &VerificationKey,
) -> Result<Told, StoryError> {
    set_clock(things::BEGINS, "07:00")?;
    let what = Beginning {
        organisation: ORGANISATION,
        zone: ZONE,
        log,
        signing: &key.verification_key(),
        recovery,
        administrator: None,
    };
    let of = begin(db, CLOCK, &what)?;
    let mut teller = Teller::new(db, &of, key);
    let parts = vec![
        people::jobs(),
        things::jobs()?,
        office::adoptions(),
        script::work()?,
        slips::jobs(),
        follow_ups::jobs(),
        cage::jobs(),
    ];
    for job in script::in_order(parts) {
        teller.tell(&job)?;
    }
    teller.sign()?;
    let (requests, numbers, findings) = (teller.requests, teller.numbers, teller.findings);
    Ok(Told {
        of,
        requests,
        numbers,
        findings,
    })
}
