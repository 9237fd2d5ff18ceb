//! What was sent to reclaimers and destruction facilities, and which statements speak of it.
//!
//! A shipment is found by its movements, as they stand after corrections. A statement is found from
//! its counterparty: its links there name the first entry of each shipment's chain, so that it stays
//! with the shipment when that is corrected. There is no index by kind: such a page is asked rarely, and
//! the movements in which no appliance takes part are one stretch of the index of histories.

use super::StoreError;
use super::columns::{PlaceNumber, What};
use super::db::Db;
use super::flush::{MovementRow, Rare, int};
use super::sql;
use super::statement::{Bind, statement};
use super::tx::Tx;
use crate::ledger::entry::EntryKind;
use diesel::sql_types::BigInt;

/// What the links of statements say.
pub(super) const STATEMENT: &str = "statement";

statement! {
    // 26 and 27 are `send_to_reclaim` and `send_to_destruction`; bit 35 marks what takes a row back.
    SentBefore: "SELECT DISTINCT movements.seq FROM movements LEFT JOIN corrections \
                 ON corrections.org = movements.org AND corrections.corrects = movements.seq \
                 WHERE movements.org = ? AND appliance = 0 AND ((what >> 16) & 255) IN (26, 27) \
                 AND ((what >> 35) & 1) = 0 AND movements.seq < ? AND corrections.seq IS NULL \
                 AND (? = 0 OR dst = ?) ORDER BY movements.seq DESC LIMIT ?" => BigInt;
    SentOf: "SELECT n, src, dst, mass, day, what FROM movements WHERE org = ? AND seq = ? ORDER BY n"
            => (BigInt, BigInt, BigInt, BigInt, BigInt, BigInt);
    StatementsOf: "SELECT links.seq, entry FROM links LEFT JOIN corrections \
                   ON corrections.org = links.org AND corrections.corrects = links.seq \
                   WHERE links.org = ? AND place = ? AND relation = 'statement' \
                   AND corrections.seq IS NULL ORDER BY links.seq, entry" => (BigInt, BigInt);
    StatementsOfCorrected: "SELECT DISTINCT links.seq, place FROM links JOIN corrections AS later \
                            ON later.org = links.org AND later.corrects = links.entry \
                            LEFT JOIN corrections ON corrections.org = links.org \
                            AND corrections.corrects = links.seq WHERE links.org = ? \
                            AND relation = 'statement' AND corrections.seq IS NULL \
                            ORDER BY links.seq DESC" => (BigInt, BigInt);
}

/// One mass that was sent.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sent {
    /// To reclaim or to destruction.
    pub kind: EntryKind,
    /// The cylinder.
    pub from: PlaceNumber,
    /// Who received it.
    pub to: PlaceNumber,
    /// Code of the refrigerant table.
    pub refrigerant: u16,
    /// Steps.
    pub mass: i128,
    /// Local day, days since 1970.
    pub day: i32,
}

impl Sent {
    fn of(src: PlaceNumber, dst: PlaceNumber, mass: i64, day: i32, packed: i64) -> Option<Sent> {
        let what = What::unpack(packed).filter(|what| !what.reversal)?;
        is_shipment(what.kind).then_some(Sent {
            kind: what.kind,
            from: src,
            to: dst,
            refrigerant: what.refrigerant,
            mass: i128::from(mass),
            day,
        })
    }
}

/// Does a kind send refrigerant to somebody who weighs it and says so?
pub fn is_shipment(kind: EntryKind) -> bool {
    matches!(
        kind,
        EntryKind::SendToReclaim | EntryKind::SendToDestruction
    )
}

/// Numbers of the entries in force that sent something, the newest first; `to`: to this one only.
pub fn before(
    db: &mut Db,
    org: i64,
    before: Option<u64>,
    to: Option<PlaceNumber>,
    most: usize,
) -> Result<Vec<u64>, StoreError> {
    let binds = [
        Bind::Int(org),
        Bind::Int(before.map_or(i64::MAX, int)),
        Bind::Int(i64::from(to.is_some())),
        Bind::Int(to.map_or(0, |to| to.0)),
        Bind::Int(i64::try_from(most).unwrap_or(i64::MAX)),
    ];
    let numbers: Vec<i64> = db.rows(SentBefore, &binds)?;
    Ok(numbers.into_iter().map(i64::unsigned_abs).collect())
}

/// What an entry sent.
pub fn sent(db: &mut Db, org: i64, seq: u64) -> Result<Vec<Sent>, StoreError> {
    type Row = (i64, i64, i64, i64, i64, i64);
    let rows: Vec<Row> = db.rows(SentOf, &[Bind::Int(org), Bind::Int(int(seq))])?;
    let of = |(_, src, dst, mass, day, what): Row| {
        let day = i32::try_from(day).unwrap_or(0);
        Sent::of(PlaceNumber(src), PlaceNumber(dst), mass, day, what)
    };
    Ok(rows.into_iter().filter_map(of).collect())
}

/// Everything an entry moved by itself: from, to, steps, and the packed rest.
pub fn moved(
    db: &mut Db,
    org: i64,
    seq: u64,
) -> Result<Vec<(PlaceNumber, PlaceNumber, i128, i64)>, StoreError> {
    type Row = (i64, i64, i64, i64, i64, i64);
    let rows: Vec<Row> = db.rows(SentOf, &[Bind::Int(org), Bind::Int(int(seq))])?;
    let of = |(_, src, dst, mass, _, what): Row| {
        (PlaceNumber(src), PlaceNumber(dst), i128::from(mass), what)
    };
    Ok(rows.into_iter().map(of).collect())
}

/// Has an entry left a finding of this code that nobody has settled?
pub fn is_open(db: &mut Db, org: i64, seq: u64, code: &str) -> Result<bool, StoreError> {
    let binds = [Bind::Int(org), Bind::Int(int(seq))];
    let rows: Vec<(String, i64, String, i64)> = db.rows(sql::FindingsOfEntry, &binds)?;
    let open = |(known, _, _, settled): &(String, i64, String, i64)| known == code && *settled < 0;
    Ok(rows.iter().any(open))
}

/// The first entry of a chain of corrections.
pub fn first(db: &mut Db, org: i64, seq: u64) -> Result<u64, StoreError> {
    let binds = [Bind::Int(org), Bind::Int(int(seq))];
    let row: Option<(i64, i64)> = db.first(sql::CorrectionAt, &binds)?;
    Ok(row.map_or(seq, |(_, first)| first.unsigned_abs()))
}

/// Statements in force of a counterparty, each with the first entry of a shipment it is about.
pub fn statements(db: &mut Db, org: i64, of: PlaceNumber) -> Result<Vec<(u64, u64)>, StoreError> {
    let rows: Vec<(i64, i64)> = db.rows(StatementsOf, &[Bind::Int(org), Bind::Int(of.0)])?;
    let pair = |(seq, entry): (i64, i64)| (seq.unsigned_abs(), entry.unsigned_abs());
    Ok(rows.into_iter().map(pair).collect())
}

/// Statements in force about a shipment that was corrected, the newest first, each with its counterparty.
pub fn statements_of_corrected(
    db: &mut Db,
    org: i64,
) -> Result<Vec<(u64, PlaceNumber)>, StoreError> {
    let rows: Vec<(i64, i64)> = db.rows(StatementsOfCorrected, &[Bind::Int(org)])?;
    let pair = |(seq, place): (i64, i64)| (seq.unsigned_abs(), PlaceNumber(place));
    Ok(rows.into_iter().map(pair).collect())
}

impl Tx<'_> {
    /// The first entry of a chain of corrections.
    pub fn first_of(&mut self, entry: u64) -> Result<u64, StoreError> {
        Ok(self.correction_at(entry)?.map_or(entry, |(_, first)| first))
    }

    /// The newest entry of a chain of corrections.
    pub fn newest_of(&mut self, entry: u64) -> Result<u64, StoreError> {
        let mut newest = entry;
        while let Some(by) = self.corrected_by(newest)? {
            newest = by;
        }
        Ok(newest)
    }

    /// What an entry sent, as it says it itself.
    pub fn sent_by(&mut self, entry: u64) -> Result<Vec<Sent>, StoreError> {
        let of = |row: MovementRow| Sent::of(row.src, row.dst, row.mass, row.day, row.what);
        Ok(self
            .movements_of(entry)?
            .into_iter()
            .filter_map(of)
            .collect())
    }

    /// Statements in force of a counterparty, those of this batch as well.
    pub fn statements_of(&mut self, place: PlaceNumber) -> Result<Vec<(u64, u64)>, StoreError> {
        let mut found = statements(self.db, self.book.org, place)?;
        for row in &self.book.pending.rare {
            match row {
                Rare::Link {
                    seq,
                    entry,
                    place: about,
                    relation,
                } if *about == place && relation == STATEMENT => found.push((*seq, *entry)),
                Rare::Correction { corrects, .. } => found.retain(|(seq, _)| seq != corrects),
                _ => {}
            }
        }
        Ok(found)
    }
}
