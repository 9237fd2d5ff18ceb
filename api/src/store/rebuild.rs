//! Working every cache out anew from the entries.
//!
//! Everything happens in one write transaction: what is cached is remembered, removed, worked out
//! from the leaves and their disclosures by the same code that booked them, and compared. A check
//! then takes the transaction back; a rebuild keeps it. Findings are compared as far as the entries tell
//! (`rebuild/findings.rs`) and never written; a cylinder that an open one holds is put under quarantine. Entries, movements, attachments and
//! checkpoints are never touched: that these agree with each other is what `verify` proves.

mod findings;

use super::apply::class_stated;
use super::book::Book;
use super::columns::Class;
use super::db::Db;
use super::flush::{DisclosureRow, flush_caches, int};
use super::open::Organisation;
use super::sql;
use super::statement::Bind;
use super::tx::{LookedUp, Tx};
use super::{Sight, StoreError};
use crate::ledger::entry::{EntryKind, Leaf};
use crate::ledger::tree::Hash;
use findings::Findings;
use reports::refrigerant::Table;
use std::collections::{BTreeMap, HashMap};

/// Entries worked through between two writes.
const CHUNK: u64 = 1_024;

/// What a rebuild found.
#[derive(Debug, Default)]
pub struct Rebuilt {
    /// Entries worked through.
    pub entries: u64,
    /// Entries of kinds this program does not know; what depends on them is not compared.
    pub not_understood: u64,
    /// Caches that said something else: what was stored, and what follows from the entries.
    pub differences: Vec<String>,
}

/// Works the caches of one book out anew; keeps them unless this is only a check.
pub fn rebuild(
    db: &mut Db,
    of: &Organisation,
    table: &Table,
    check_only: bool,
) -> Result<Rebuilt, StoreError> {
    db.begin_for(Sight::Organisations(&[of.org]))?;
    let done = worked_out(db, of, table);
    match (&done, check_only) {
        (Ok(_), false) => db.commit()?,
        _ => db.rollback()?,
    }
    done
}

fn worked_out(db: &mut Db, of: &Organisation, table: &Table) -> Result<Rebuilt, StoreError> {
    if db.is_postgres() {
        let _: Option<i64> = db.first(sql::LockHead, &[Bind::Int(of.org)])?;
    }
    let size = super::open::size(db, of.org)?;
    let stored = Caches::read(db, of.org)?;
    let mut found = Findings::read(db, of.org)?;
    let org = [Bind::Int(of.org)];
    db.run(sql::DropBalances, &org)?;
    db.run(sql::DropSubjects, &org)?;
    db.run(sql::DropRegisters, &org)?;
    db.run(sql::DropCorrections, &org)?;
    db.run(sql::DropLinks, &org)?;
    db.run(sql::DropAdopted, &org)?;
    db.run(sql::DropTiles, &org)?;
    let mut rebuilt = Rebuilt {
        entries: size,
        ..Rebuilt::default()
    };
    let mut book = Book::new(of.org, of.log.clone());
    let mut first = 0;
    while first < size {
        let end = (first + CHUNK).min(size);
        chunk(db, &mut book, table, (first, end), &mut found, &mut rebuilt)?;
        stored.keep_quarantine(&mut book);
        flush_caches(db, &mut [&mut book])?;
        book.slim();
        first = end;
    }
    let worked_out = Caches::read(db, of.org)?;
    if rebuilt.not_understood == 0 {
        rebuilt.differences = stored.compare(&worked_out);
        // Books from before 2026-11-26 forgot the older of two quarantines when the newer ended.
        for (place, entry) in found.not_held(&stored.quarantine) {
            db.run(
                sql::HoldSubject,
                &[Bind::Int(int(entry)), org[0], Bind::Int(place)],
            )?;
            rebuilt.differences.push(format!(
                "quarantine of place {place}: stored none, though a finding of no. {entry} holds it"
            ));
        }
        let found = found.finish(size, &stored.quarantine);
        rebuilt.differences.extend(found);
    }
    Ok(rebuilt)
}

fn chunk(
    db: &mut Db,
    book: &mut Book,
    table: &Table,
    (first, end): (u64, u64),
    found: &mut Findings,
    rebuilt: &mut Rebuilt,
) -> Result<(), StoreError> {
    let binds = [
        Bind::Int(book.org),
        Bind::Int(int(first)),
        Bind::Int(int(end)),
    ];
    type Row = (i64, Vec<u8>, i64, i64, i64, Vec<u8>, Vec<u8>);
    let rows: Vec<Row> = db.rows(sql::EntriesOfBlock, &binds)?;
    let texts: Vec<(i64, String, Vec<u8>, String)> = db.rows(sql::DisclosuresOfBlock, &binds)?;
    let mut disclosed: HashMap<u64, Vec<DisclosureRow>> = HashMap::new();
    for (seq, field, salt, value) in texts {
        let (seq, salt) = (seq.unsigned_abs(), salt.try_into().unwrap_or([0; 32]));
        disclosed.entry(seq).or_default().push(DisclosureRow {
            seq,
            field,
            salt,
            value,
        });
    }
    let looked_up = LookedUp::new();
    for (seq, _, _, _, booked_at, leaf, hash) in rows {
        let seq = seq.unsigned_abs();
        if seq != book.next_seq {
            return Err(StoreError::Broken(format!(
                "entry no. {} is missing",
                book.next_seq
            )));
        }
        let hash: Hash = hash
            .try_into()
            .map_err(|_| StoreError::Broken(format!("the hash of entry {seq} is damaged")))?;
        let read = Leaf::parse(&leaf).ok();
        let kind = read.as_ref().and_then(|leaf| EntryKind::named(&leaf.kind));
        match (read, kind) {
            (Some(leaf), Some(kind)) => {
                let mut tx = Tx::new(db, book, booked_at, table, &looked_up);
                let rows = tx.rows_of(&leaf, kind)?;
                tx.apply(&leaf, kind, disclosed.get(&seq).map_or(&[], Vec::as_slice))?;
                tx.move_masses(&rows, class_stated(&leaf.body));
                found.entry(&mut tx, &leaf, kind)?;
            }
            _ => rebuilt.not_understood += 1,
        }
        book.grow(hash);
        book.next_seq += 1;
        book.booked_at = booked_at;
    }
    Ok(())
}

/// Everything that is cached, as lines that can be compared.
struct Caches {
    lines: BTreeMap<String, String>,
    quarantine: Vec<(i64, u64)>,
}

impl Caches {
    fn read(db: &mut Db, org: i64) -> Result<Caches, StoreError> {
        let mut lines = BTreeMap::new();
        let org = [Bind::Int(org)];
        let balances: Vec<(i64, i64, String)> = db.rows(sql::Balances, &org)?;
        for (place, code, mass) in balances.into_iter().filter(|row| row.2 != "0") {
            lines.insert(
                format!("balance of refrigerant {code} in place {place}"),
                mass,
            );
        }
        let mut quarantine = Vec::new();
        type Subjects = Vec<(i64, i64, i64, String, i64, i64, i64)>;
        let subjects: Subjects = db.rows(sql::Subjects, &org)?;
        for (place, nth, held, owners, class, newest, moved) in subjects {
            lines.insert(format!("count of place {place}"), nth.to_string());
            if !owners.is_empty() {
                lines.insert(format!("owners of the content of place {place}"), owners);
            }
            if moved > 0 {
                let line = format!("{moved}, the newest no. {newest}");
                lines.insert(
                    format!("entries that moved the content of place {place}"),
                    line,
                );
            }
            if let Some(class) = Class::stored(class).word() {
                let line = format!("class of the content of place {place}");
                lines.insert(line, class.to_string());
            }
            quarantine.extend(u64::try_from(held).ok().map(|entry| (place, entry)));
        }
        for sort in super::columns::Sort::REGISTERED {
            type Wide = (i64, Vec<u8>, Option<String>, String);
            let binds = [org[0], Bind::Int(sort as i64)];
            let rows: Vec<Wide> = db.rows(sql::Registers, &binds)?;
            for (place, _, tag, facts) in rows {
                let tag = tag.unwrap_or_default();
                lines.insert(
                    format!("register of place {place}"),
                    format!("{tag} {facts}"),
                );
            }
        }
        let corrections: Vec<(i64, i64, i64)> = db.rows(sql::Corrections, &org)?;
        for (corrects, seq, first) in corrections {
            let line = format!("no. {seq}, chain from no. {first}");
            lines.insert(format!("correction of no. {corrects}"), line);
        }
        let links: Vec<(i64, i64, i64, String)> = db.rows(sql::Links, &org)?;
        for (place, seq, entry, relation) in links {
            lines.insert(
                format!("link no. {seq} of no. {entry} in place {place}"),
                relation,
            );
        }
        let adopted: Vec<(i64, i64, String, i64, String)> = db.rows(sql::Adopted, &org)?;
        for (seq, kind, name, since, value) in adopted {
            let line = format!("{kind} {name} from day {since}: {value}");
            lines.insert(format!("what no. {seq} adopts"), line);
        }
        let tiles: Vec<(i64, i64, Vec<u8>)> = db.rows(sql::Tiles, &org)?;
        for (level, index, hashes) in tiles {
            let hash = crate::ledger::tree::sha256(&hashes);
            lines.insert(
                format!("tile {index} of level {level}"),
                format!("{hash:02x?}"),
            );
        }
        Ok(Caches { lines, quarantine })
    }

    /// Quarantine follows from judgements at the door, which are not made again here.
    fn keep_quarantine(&self, book: &mut Book) {
        for (place, entry) in &self.quarantine {
            let place = super::columns::PlaceNumber(*place);
            if book.pending.subjects.contains(&place)
                && let Some(subject) = book.subjects.get_mut(&place)
            {
                subject.quarantine = Some(*entry);
            }
        }
    }

    fn compare(&self, worked_out: &Caches) -> Vec<String> {
        let mut differences = Vec::new();
        let nothing = "nothing".to_string();
        for (what, stored) in &self.lines {
            let now = worked_out.lines.get(what).unwrap_or(&nothing);
            if now != stored {
                differences.push(format!("{what}: stored {stored}, worked out {now}"));
            }
        }
        for (what, now) in &worked_out.lines {
            if !self.lines.contains_key(what) {
                differences.push(format!("{what}: stored nothing, worked out {now}"));
            }
        }
        differences
    }
}
