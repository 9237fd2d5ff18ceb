//! Reading the book page by page: entries, registered things, findings, visits.
//!
//! Pages are keyset pages: whoever asks names the last item seen, and one index range is read. So a
//! page costs the same at the beginning of a book and at its end, and what is booked meanwhile
//! neither hides nor repeats an item.

use super::StoreError;
use super::columns::{PlaceNumber, Sort, Ties};
use super::db::Db;
use super::dossier::Dossier;
use super::flush::int;
use super::sql;
use super::statement::{Bind, statement};
use crate::ledger::id::Id;
use crate::ledger::place::Place;
use crate::ledger::tree::Hash;
use diesel::sql_types::{BigInt, Binary, Nullable, Text};
use std::collections::BTreeMap;

statement! {
    EntriesAfter: "SELECT entries.seq, leaf, hash, COALESCE(corrections.seq, -1) FROM entries \
                   LEFT JOIN corrections ON corrections.org = entries.org \
                   AND corrections.corrects = entries.seq \
                   WHERE entries.org = ? AND entries.seq > ? ORDER BY entries.seq LIMIT ?"
                  => (BigInt, Binary, Binary, BigInt);
    ThingsAfter: "SELECT registers.place, uuid, tag, facts, COALESCE(nth, 0), \
                  COALESCE(quarantine, -1) FROM registers LEFT JOIN subjects \
                  ON subjects.org = registers.org AND subjects.place = registers.place \
                  WHERE registers.org = ? AND sort = ? AND tag > ? ORDER BY tag LIMIT ?"
                 => (BigInt, Binary, Nullable<Text>, Text, BigInt, BigInt);
    ThingWithTag: "SELECT registers.place, uuid, tag, facts, COALESCE(nth, 0), \
                   COALESCE(quarantine, -1) FROM registers LEFT JOIN subjects \
                   ON subjects.org = registers.org AND subjects.place = registers.place \
                   WHERE registers.org = ? AND sort = ? AND tag = ?"
                  => (BigInt, Binary, Nullable<Text>, Text, BigInt, BigInt);
    ThingWithId: "SELECT registers.place, uuid, tag, facts, COALESCE(nth, 0), \
                  COALESCE(quarantine, -1) FROM registers LEFT JOIN subjects \
                  ON subjects.org = registers.org AND subjects.place = registers.place \
                  WHERE registers.org = ? AND sort = ? AND uuid = ?"
                 => (BigInt, Binary, Nullable<Text>, Text, BigInt, BigInt);
    ThingAt: "SELECT registers.place, uuid, tag, facts, COALESCE(nth, 0), \
              COALESCE(quarantine, -1) FROM registers LEFT JOIN subjects \
              ON subjects.org = registers.org AND subjects.place = registers.place \
              WHERE registers.org = ? AND registers.place = ?"
             => (BigInt, Binary, Nullable<Text>, Text, BigInt, BigInt);
    FindingsAfter: "SELECT findings.seq, code, findings.place, grade, settled, uuid, tag, \
                    booked_at FROM findings JOIN entries ON entries.org = findings.org \
                    AND entries.seq = findings.seq LEFT JOIN registers \
                    ON registers.org = findings.org AND registers.place = findings.place \
                    WHERE findings.org = ? AND (settled = -1 OR ? = 1) AND (? = '' OR code = ?) \
                    AND (? = 0 OR findings.place = ?) AND (? = '' OR grade = ?) AND (findings.seq > ? \
                    OR (findings.seq = ? AND (code > ? OR (code = ? AND findings.place > ?)))) \
                    ORDER BY findings.seq, code, findings.place LIMIT ?"
                   => (BigInt, Text, BigInt, Text, BigInt, Nullable<Binary>, Nullable<Text>,
                       BigInt);
    /// The sign hides the book from SQLite's planner, which would walk it: a visit is in one book only.
    TiedMovements: "SELECT seq, ties FROM movements WHERE +org = ? AND ties IS NOT NULL \
                    AND substr(ties, 2, 16) = ? ORDER BY seq, n LIMIT ?"
                   => (BigInt, Nullable<Binary>);
}

/// An entry as it is stored.
#[derive(Clone, Debug)]
pub struct EntryRow {
    /// Its number.
    pub seq: u64,
    /// Its leaf bytes.
    pub leaf: Vec<u8>,
    /// Its leaf hash.
    pub hash: Hash,
    /// The correction that corrects it.
    pub corrected_by: Option<u64>,
    /// What was typed: field and value.
    pub texts: BTreeMap<String, String>,
}

/// A registered thing as it is stored.
#[derive(Clone, Debug)]
pub struct ThingRow {
    /// Where it is stored.
    pub place: PlaceNumber,
    /// Its id.
    pub id: Id,
    /// Its tag.
    pub tag: String,
    /// Everything that was said of it.
    pub dossier: Dossier,
    /// How many entries are about it (appliances and cylinders).
    pub nth: u64,
    /// The entry that put it under quarantine.
    pub quarantine: Option<u64>,
}

/// A finding as it is stored.
#[derive(Clone, Debug)]
pub struct FindingRow {
    /// The entry that left it.
    pub seq: u64,
    /// Its code.
    pub code: String,
    /// Where it is stored.
    pub number: PlaceNumber,
    /// high, normal or low.
    pub grade: String,
    /// The entry that settled it.
    pub settled: Option<u64>,
    /// Id and tag of the thing it is about, where it is about one.
    pub thing: Option<(Id, String)>,
    /// When the entry was booked, microseconds since 1970.
    pub booked_at: i64,
}

impl FindingRow {
    /// The place it is about; none: the whole entry.
    pub fn place(&self) -> Option<Place> {
        let place = self.number.place(self.thing.as_ref().map(|(id, _)| *id));
        (place != Place::Other).then_some(place)
    }
}

/// At most `most` entries after no. `after` (`None`: from the first).
pub fn entries_after(
    db: &mut Db,
    org: i64,
    after: Option<u64>,
    most: usize,
) -> Result<Vec<EntryRow>, StoreError> {
    let after = after.map_or(-1, int);
    let binds = [Bind::Int(org), Bind::Int(after), Bind::Int(limit(most))];
    let rows: Vec<(i64, Vec<u8>, Vec<u8>, i64)> = db.rows(EntriesAfter, &binds)?;
    let mut entries = Vec::with_capacity(rows.len());
    for (seq, leaf, hash, corrected_by) in rows {
        let seq = seq.unsigned_abs();
        let hash = hash
            .try_into()
            .map_err(|_| damaged(&format!("the hash of entry {seq}")))?;
        let corrected_by = u64::try_from(corrected_by).ok();
        let texts = BTreeMap::new();
        entries.push(EntryRow {
            seq,
            leaf,
            hash,
            corrected_by,
            texts,
        });
    }
    let (Some(first), Some(last)) = (entries.first(), entries.last()) else {
        return Ok(entries);
    };
    let binds = [
        Bind::Int(org),
        Bind::Int(int(first.seq)),
        Bind::Int(int(last.seq + 1)),
    ];
    let texts: Vec<(i64, String, Vec<u8>, String)> = db.rows(sql::DisclosuresOfBlock, &binds)?;
    for (seq, field, _, value) in texts {
        if let Ok(at) = entries.binary_search_by_key(&seq.unsigned_abs(), |entry| entry.seq) {
            entries[at].texts.insert(field, value);
        }
    }
    Ok(entries)
}

/// One entry by its number.
pub fn entry(db: &mut Db, org: i64, seq: u64) -> Result<Option<EntryRow>, StoreError> {
    let first = entries_after(db, org, seq.checked_sub(1), 1)?
        .into_iter()
        .next();
    Ok(first.filter(|entry| entry.seq == seq))
}

/// The number of the entry with this id.
pub fn seq_of(db: &mut Db, org: i64, id: Id) -> Result<Option<u64>, StoreError> {
    let seq: Option<i64> = db.first(sql::EntryById, &[Bind::Int(org), Bind::Bytes(&id.bytes())])?;
    Ok(seq.map(i64::unsigned_abs))
}

type Thing = (i64, Vec<u8>, Option<String>, String, i64, i64);

fn thing_row((place, uuid, tag, facts, nth, quarantine): Thing) -> Result<ThingRow, StoreError> {
    let wrong = || damaged(&format!("the register of place {place}"));
    Ok(ThingRow {
        place: PlaceNumber(place),
        id: Id::from_bytes(&uuid).ok_or_else(wrong)?,
        tag: tag.unwrap_or_default(),
        dossier: Dossier::parse(&facts).ok_or_else(wrong)?,
        nth: nth.unsigned_abs(),
        quarantine: u64::try_from(quarantine).ok(),
    })
}

/// At most `most` things of a sort whose tags come after `after`, by tag.
pub fn things_after(
    db: &mut Db,
    org: i64,
    sort: Sort,
    after: &str,
    most: usize,
) -> Result<Vec<ThingRow>, StoreError> {
    let binds = [
        Bind::Int(org),
        Bind::Int(sort as i64),
        Bind::Text(after),
        Bind::Int(limit(most)),
    ];
    let rows: Vec<Thing> = db.rows(ThingsAfter, &binds)?;
    rows.into_iter().map(thing_row).collect()
}

/// The thing of a sort with this id or tag.
pub fn thing(
    db: &mut Db,
    org: i64,
    sort: Sort,
    name: &str,
) -> Result<Option<ThingRow>, StoreError> {
    let row: Option<Thing> = match Id::parse(name) {
        Some(id) => {
            let id = id.bytes();
            let binds = [Bind::Int(org), Bind::Int(sort as i64), Bind::Bytes(&id)];
            db.first(ThingWithId, &binds)?
        }
        // No tag looks so, and PostgreSQL would take no such text.
        None if name.len() > 1_000 || name.chars().any(char::is_control) => None,
        None => {
            let binds = [Bind::Int(org), Bind::Int(sort as i64), Bind::Text(name)];
            db.first(ThingWithTag, &binds)?
        }
    };
    row.map(thing_row).transpose()
}

/// The thing that is stored at a place.
pub fn thing_at(db: &mut Db, org: i64, place: PlaceNumber) -> Result<Option<ThingRow>, StoreError> {
    let row: Option<Thing> = db.first(ThingAt, &[Bind::Int(org), Bind::Int(place.0)])?;
    row.map(thing_row).transpose()
}

/// Balances of a place by refrigerant code, in steps, zeros left out.
pub fn balances(db: &mut Db, org: i64, place: PlaceNumber) -> Result<Vec<(u16, i128)>, StoreError> {
    let rows: Vec<(i64, String)> =
        db.rows(sql::BalancesOfPlace, &[Bind::Int(org), Bind::Int(place.0)])?;
    let read = |(code, mass): (i64, String)| Some((u16::try_from(code).ok()?, mass.parse().ok()?));
    let mut balances = rows
        .into_iter()
        .map(|row| read(row).ok_or_else(|| damaged(&format!("a balance of place {}", place.0))))
        .collect::<Result<Vec<(u16, i128)>, _>>()?;
    balances.retain(|(_, mass)| *mass != 0);
    Ok(balances)
}

/// Where a page of findings goes on: after this entry, code and place.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct FindingKey {
    /// Entry.
    pub seq: i64,
    /// Code.
    pub code: String,
    /// Place.
    pub place: i64,
}

/// Which findings are asked for.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct FindingsWanted {
    /// Also those that are settled?
    pub settled: bool,
    /// Of this code only; empty: of every code.
    pub code: String,
    /// About this place only.
    pub place: Option<PlaceNumber>,
    /// Of this grade only; empty: of every grade.
    pub grade: &'static str,
}

/// At most `most` findings after a key.
pub fn findings_after(
    db: &mut Db,
    org: i64,
    after: &FindingKey,
    wanted: &FindingsWanted,
    most: usize,
) -> Result<Vec<FindingRow>, StoreError> {
    let place = wanted.place.map_or(0, |place| place.0);
    let binds = [
        Bind::Int(org),
        Bind::Int(i64::from(wanted.settled)),
        Bind::Text(&wanted.code),
        Bind::Text(&wanted.code),
        Bind::Int(i64::from(wanted.place.is_some())),
        Bind::Int(place),
        Bind::Text(wanted.grade),
        Bind::Text(wanted.grade),
        Bind::Int(after.seq),
        Bind::Int(after.seq),
        Bind::Text(&after.code),
        Bind::Text(&after.code),
        Bind::Int(after.place),
        Bind::Int(limit(most)),
    ];
    type Row = (
        i64,
        String,
        i64,
        String,
        i64,
        Option<Vec<u8>>,
        Option<String>,
        i64,
    );
    let rows: Vec<Row> = db.rows(FindingsAfter, &binds)?;
    let read = |(seq, code, place, grade, settled, uuid, tag, booked_at): Row| FindingRow {
        seq: seq.unsigned_abs(),
        code,
        number: PlaceNumber(place),
        grade,
        settled: u64::try_from(settled).ok(),
        thing: uuid.as_deref().and_then(Id::from_bytes).zip(tag),
        booked_at,
    };
    Ok(rows.into_iter().map(read).collect())
}

/// Numbers of the entries whose movements belong to a visit, at most `most`.
pub fn entries_of_visit(
    db: &mut Db,
    org: i64,
    visit: Id,
    most: usize,
) -> Result<Vec<u64>, StoreError> {
    let visit_bytes = visit.bytes();
    let binds = [
        Bind::Int(org),
        Bind::Bytes(&visit_bytes),
        Bind::Int(limit(most)),
    ];
    let rows: Vec<(i64, Option<Vec<u8>>)> = db.rows(TiedMovements, &binds)?;
    let of_visit = |(seq, ties): (i64, Option<Vec<u8>>)| {
        let ties = Ties::unpack(ties.as_deref())?;
        (ties.visit == Some(visit)).then(|| seq.unsigned_abs())
    };
    let mut numbers: Vec<u64> = rows.into_iter().filter_map(of_visit).collect();
    numbers.dedup();
    Ok(numbers)
}

fn limit(most: usize) -> i64 {
    i64::try_from(most).unwrap_or(i64::MAX)
}

fn damaged(what: &str) -> StoreError {
    StoreError::Broken(format!("{what} is damaged"))
}
