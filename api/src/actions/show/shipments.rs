//! Shipments beside what the receivers say of them: own weight, stated weight, what lies between.
//!
//! A case is one shipment that nobody has told about yet, or all the shipments of one statement. Its
//! state is worked out from the book as it stands, so that a corrected shipment shows at once that an
//! accepted statement says something else.

mod case;

use super::{Page, reading, unknown};
use crate::actions::refusal::ActionError;
use crate::store::columns::{PlaceNumber, Sort};
use crate::store::open::Organisation;
use crate::store::shipments::{self, Sent};
use crate::store::{Db, StoreError, listing};
use case::Reading;
use reports::physics::MassText;
use serde::Serialize;

/// Words of the states, the first ones first to be looked at.
pub const STATES: [&str; 7] = [
    "disputed",
    "open_difference",
    "shipment_gone",
    "waiting",
    "accepted",
    "fits",
    "settled",
];

/// States in which somebody has to do something.
const NEED_A_LOOK: [&str; 3] = ["disputed", "open_difference", "shipment_gone"];

/// One shipment without a statement, or the shipments of one statement; none where all of them went to
/// somebody else by a correction, or were taken back.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Case {
    /// Who received them.
    pub counterparty: Receiver,
    /// The shipments, the newest first.
    pub shipments: Vec<SentShown>,
    /// Shipments that the statement names and this receiver does not have any more.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub gone: Vec<GoneShown>,
    /// What the receiver says.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub statement: Option<StatementShown>,
    /// By refrigerant.
    pub lines: Vec<LineShown>,
    /// A word of [`STATES`].
    pub state: &'static str,
}

/// Who received something.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Receiver {
    /// Id.
    pub id: String,
    /// Tag.
    pub tag: String,
}

/// One shipment.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct SentShown {
    /// The entry in force.
    pub entry: u64,
    /// Its id.
    pub entry_id: String,
    /// The local day.
    pub day: String,
    /// `send_to_reclaim` or `send_to_destruction`.
    pub kind: &'static str,
    /// Tags of the cylinders.
    pub cylinders: Vec<String>,
    /// Numbers of the documents that went with it.
    pub documents: Vec<String>,
}

/// A shipment that is none to this receiver any more.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct GoneShown {
    /// The entry by which it was sent first.
    pub entry: u64,
    /// Its id.
    pub entry_id: String,
    /// The correction that holds.
    pub by: u64,
    /// To whom it went by that; empty: it is no shipment any more.
    pub to: Vec<Receiver>,
}

/// A statement.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct StatementShown {
    /// Its entry.
    pub entry: u64,
    /// Its id.
    pub entry_id: String,
    /// Its day.
    pub day: String,
    /// `accepted` or `disputed`.
    pub outcome: String,
    /// Its document number.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub document: Option<String>,
}

/// What was sent and stated of one refrigerant. Signed masses are grams: stated less sent.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LineShown {
    /// Designation.
    pub refrigerant: String,
    /// What was sent.
    pub own: MassText,
    /// What was stated.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stated: Option<MassText>,
    /// Oil, water and air that was stated.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub residue: Option<MassText>,
    /// Stated less sent.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub difference_g: Option<String>,
    /// The same in hundredths of what was sent, cut to four decimals; none where nothing was sent.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub percent: Option<String>,
    /// What of the difference is no oil, water and air.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unexplained_g: Option<String>,
    /// How far two scales may be apart about it.
    pub tolerance: MassText,
    /// Is what is unexplained within it?
    #[serde(skip_serializing_if = "Option::is_none")]
    pub within_tolerance: Option<bool>,
    /// The figures in steps.
    #[serde(skip)]
    pub steps: Steps,
}

/// Figures of a line in steps.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Steps {
    /// Sent.
    pub own: i128,
    /// Stated.
    pub stated: Option<i128>,
    /// Oil, water and air.
    pub residue: i128,
    /// What the receiver holds of it by the book.
    pub book: i128,
    /// How far two scales may be apart.
    pub tolerance: i128,
}

/// What is asked for.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ShipmentsAsked {
    /// The number at which an earlier page ended.
    pub after: Option<u64>,
    /// In this state only; empty: in any.
    pub state: String,
    /// To this counterparty only, by tag or id; empty: to anybody.
    pub counterparty: String,
    /// At most so many.
    pub most: usize,
}

/// Shipments that are read at a time.
const AT_ONCE: usize = 100;
/// Most shipments that are gone through for one page; the next page goes on from there.
const LOOKED_AT: usize = 2_000;

/// A page of cases, the newest shipments first.
pub fn page(
    db: &mut Db,
    of: &Organisation,
    asked: &ShipmentsAsked,
) -> Result<Page<Case>, ActionError> {
    reading(db, of, |db| {
        let to = receiver(db, of, &asked.counterparty)?;
        let mut read = Reading::new(db, of);
        let mut gone = read.without_shipment(to)?;
        gone.retain(|(seq, _)| asked.after.is_none_or(|after| *seq < after));
        let (mut before, mut items, mut looked) = (asked.after, Vec::new(), 0);
        loop {
            let numbers = shipments::before(read.db, of.org, before, to, AT_ONCE)?;
            let is_end = numbers.len() < AT_ONCE;
            let numbers = beside(numbers, &mut gone, is_end);
            let last = numbers.last().map(|(seq, _)| *seq);
            for (seq, statement) in numbers {
                let cases = match statement {
                    None => read.cases_at(seq, to)?,
                    Some(receiver) => vec![read.case_without(receiver, seq)?],
                };
                let wanted = |case: &Case| asked.state.is_empty() || case.state == asked.state;
                items.extend(cases.into_iter().filter(wanted));
                looked += 1;
                let more = !is_end || Some(seq) != last;
                if more && (items.len() >= asked.most || looked == LOOKED_AT) {
                    let next = Some(seq.to_string());
                    return Ok(Page { items, next });
                }
                before = Some(seq);
            }
            if is_end {
                return Ok(Page { items, next: None });
            }
        }
    })
}

/// Numbers of shipments with those of statements without one among them, the newest first.
fn beside(
    shipments: Vec<u64>,
    gone: &mut Vec<(u64, PlaceNumber)>,
    is_end: bool,
) -> Vec<(u64, Option<PlaceNumber>)> {
    let least = shipments.last().filter(|_| !is_end).copied().unwrap_or(0);
    let later = gone.iter().position(|(seq, _)| *seq < least);
    let later = gone.split_off(later.unwrap_or(gone.len()));
    let here = std::mem::replace(gone, later);
    let here = here
        .into_iter()
        .map(|(seq, receiver)| (seq, Some(receiver)));
    let mut all: Vec<_> = shipments.into_iter().map(|seq| (seq, None)).collect();
    all.extend(here);
    all.sort_by_key(|(seq, _)| std::cmp::Reverse(*seq));
    all
}

/// The cases of one shipment, or of one statement, by its id or number: one for each receiver.
pub fn one(db: &mut Db, of: &Organisation, name: &str) -> Result<Vec<Case>, ActionError> {
    reading(db, of, |db| {
        let missing = || unknown("shipment", name);
        let seq = super::entries::number_of(db, of, name)?.ok_or_else(missing)?;
        let mut read = Reading::new(db, of);
        let found = read.cases_of(seq)?;
        if found.is_empty() {
            return Err(missing());
        }
        Ok(found)
    })
}

/// How many cases are in a state that somebody should look at, of those that are gone through.
pub fn open(cases: &[Case]) -> usize {
    let open = cases.iter();
    open.filter(|case| NEED_A_LOOK.contains(&case.state))
        .count()
}

fn receiver(
    db: &mut Db,
    of: &Organisation,
    name: &str,
) -> Result<Option<PlaceNumber>, ActionError> {
    if name.is_empty() {
        return Ok(None);
    }
    let row = listing::thing(db, of.org, Sort::Counterparty, name)?;
    Ok(Some(
        row.ok_or_else(|| unknown("counterparty", name))?.place,
    ))
}

/// The receivers of what was sent, each once.
fn receivers(sent: &[Sent]) -> Vec<PlaceNumber> {
    let mut to: Vec<PlaceNumber> = sent.iter().map(|sent| sent.to).collect();
    to.sort();
    to.dedup();
    to
}

fn damaged(seq: u64) -> StoreError {
    StoreError::Broken(format!("entry no. {seq} is unreadable"))
}
