//! What an action sees of the store: one organisation's book inside one write transaction.
//!
//! An action first reads and decides, then appends with [`Tx::book`]. Reading loads what is not
//! yet in memory; a refusal has touched nothing, so nothing needs to be taken back.

use super::StoreError;
use super::book::{Adopted, AdoptedSet, Book, Brief, Subject};
use super::columns::{Class, PlaceNumber, Sort};
use super::db::Db;
use super::dossier::Dossier;
use super::flush::{MovementRow, Rare, int};
use super::sql;
use super::statement::Bind;
use crate::ledger::entry::EntryKind;
use crate::ledger::id::Id;
use crate::ledger::place::Place;
use crate::ledger::tree::Hash;
use reports::day::Day;
use reports::refrigerant::Table;
use std::collections::{HashMap, HashSet};
use std::sync::Arc;

/// Ids of a batch that were looked up at once; an id that is absent here is not in the book.
pub type LookedUp = HashMap<(i64, [u8; 16]), Option<u64>>;

/// One organisation's book inside one write transaction.
pub struct Tx<'a> {
    pub(super) db: &'a mut Db,
    pub(super) book: &'a mut Book,
    /// The moment of this batch, microseconds since 1970; never before the newest entry.
    pub now: i64,
    /// The refrigerant table.
    pub table: &'a Table,
    /// Ids looked up beforehand.
    pub looked_up: &'a LookedUp,
}

/// A registers row: place, uuid, tag, facts.
type RegisterRow = (i64, Vec<u8>, Option<String>, String);

impl<'a> Tx<'a> {
    /// Opens a view of `book`, which the caller holds locked. Time is kept in milliseconds, which is
    /// what a leaf says.
    pub fn new(
        db: &'a mut Db,
        book: &'a mut Book,
        now: i64,
        table: &'a Table,
        looked_up: &'a LookedUp,
    ) -> Tx<'a> {
        Tx {
            now: (now - now.rem_euclid(1000)).max(book.booked_at),
            db,
            book,
            table,
            looked_up,
        }
    }

    /// Origin of the log.
    pub fn log(&self) -> &str {
        &self.book.log
    }

    /// Number the next entry will get.
    pub fn next_seq(&self) -> u64 {
        self.book.next_seq
    }

    /// Newest entry that changes judgements: a stamp of standings.
    pub fn judged_by(&self) -> u64 {
        self.book.judged_by
    }

    /// The entry that carries this id, if the book has one.
    pub fn known(&mut self, id: Id) -> Result<Option<u64>, StoreError> {
        if let Some(seq) = self.book.pending.ids.get(&id.bytes()) {
            return Ok(Some(*seq));
        }
        if let Some(seq) = self.looked_up.get(&(self.book.org, id.bytes())) {
            return Ok(*seq);
        }
        let binds = [Bind::Int(self.book.org), Bind::Bytes(&id.bytes())];
        let seq: Option<i64> = self.db.first(sql::EntryById, &binds)?;
        Ok(seq.map(|seq| seq.unsigned_abs()))
    }

    /// Finds a registered thing by its id or its tag.
    pub fn find(&mut self, sort: Sort, name: &str) -> Result<Option<PlaceNumber>, StoreError> {
        if let Some(id) = Id::parse(name) {
            let place = self.by_id(id)?;
            return Ok(place.filter(|place| place.sort() == sort));
        }
        // No tag looks so, and PostgreSQL would take no such text.
        if name.len() > 1_000 || name.chars().any(char::is_control) {
            return Ok(None);
        }
        // A missing tag is not remembered: the next entry may register it.
        let key = (sort, name.to_string());
        if let Some(place) = self.book.by_tag.get(&key) {
            return Ok(Some(*place));
        }
        let binds = [
            Bind::Int(self.book.org),
            Bind::Int(sort as i64),
            Bind::Text(name),
        ];
        let row: Option<RegisterRow> = self.db.first(sql::RegisterByTag, &binds)?;
        row.map(|row| self.take_in(row)).transpose()
    }

    /// Finds a registered thing by its id.
    pub fn by_id(&mut self, id: Id) -> Result<Option<PlaceNumber>, StoreError> {
        if let Some(place) = self.book.by_uuid.get(&id) {
            return Ok(Some(*place));
        }
        let binds = [Bind::Int(self.book.org), Bind::Bytes(&id.bytes())];
        let row: Option<RegisterRow> = self.db.first(sql::RegisterByUuid, &binds)?;
        row.map(|row| self.take_in(row)).transpose()
    }

    /// What is known of a place; it must exist.
    pub fn subject(&mut self, place: PlaceNumber) -> Result<&Subject, StoreError> {
        if !self.book.subjects.contains_key(&place) {
            if place.sort() == Sort::World {
                self.take_in_place(place, Subject::default())?;
            } else {
                let binds = [Bind::Int(self.book.org), Bind::Int(place.0)];
                let row: Option<RegisterRow> = self.db.first(sql::RegisterByPlace, &binds)?;
                let row = row.ok_or_else(|| {
                    StoreError::Broken(format!("place {} is used but not registered", place.0))
                })?;
                self.take_in(row)?;
            }
        }
        Ok(&self.book.subjects[&place])
    }

    /// The stored number of a place of a leaf; `None` when it is not registered.
    pub fn place_number(&mut self, place: Place) -> Result<Option<PlaceNumber>, StoreError> {
        let sort = match place {
            Place::Appliance(_) => Sort::Appliance,
            Place::Cylinder(_) => Sort::Cylinder,
            Place::Counterparty(_) => Sort::Counterparty,
            Place::Atmosphere => return Ok(Some(PlaceNumber::ATMOSPHERE)),
            Place::Unexplained => return Ok(Some(PlaceNumber::UNEXPLAINED)),
            Place::Opening => return Ok(Some(PlaceNumber::OPENING)),
            Place::Redesignation => return Ok(Some(PlaceNumber::REDESIGNATION)),
            Place::Outside => return Ok(Some(PlaceNumber::OUTSIDE)),
            Place::Unregistered => return Ok(Some(PlaceNumber::UNREGISTERED)),
            Place::Residue => return Ok(Some(PlaceNumber::RESIDUE)),
            Place::Other => return Ok(Some(PlaceNumber::OTHER)),
        };
        let Some(id) = place.id() else {
            return Ok(None);
        };
        Ok(self.by_id(id)?.filter(|place| place.sort() == sort))
    }

    /// The place of a leaf that a stored number means.
    pub fn place(&mut self, number: PlaceNumber) -> Result<Place, StoreError> {
        let id = self.subject(number)?.id;
        Ok(number.place(id))
    }

    /// Everything that was said of a registered thing.
    pub fn dossier(&mut self, place: PlaceNumber) -> Result<Dossier, StoreError> {
        if let Some(dossier) = self.book.pending.registers.get(&place) {
            return Ok(dossier.clone());
        }
        let binds = [Bind::Int(self.book.org), Bind::Int(place.0)];
        let row: Option<RegisterRow> = self.db.first(sql::RegisterByPlace, &binds)?;
        let Some((_, _, _, facts)) = row else {
            return Ok(Dossier::default());
        };
        Dossier::parse(&facts).ok_or_else(|| {
            StoreError::Broken(format!("the facts of place {} are unreadable", place.0))
        })
    }

    /// Leaf bytes and leaf hash of an entry.
    pub fn leaf(&mut self, seq: u64) -> Result<Option<(Vec<u8>, Hash)>, StoreError> {
        if let Some(row) = self.book.pending.leaf(seq) {
            return Ok(Some((row.leaf.clone(), row.hash)));
        }
        let binds = [Bind::Int(self.book.org), Bind::Int(int(seq))];
        let row: Option<(Vec<u8>, Vec<u8>)> = self.db.first(sql::EntryLeaf, &binds)?;
        let Some((leaf, hash)) = row else {
            return Ok(None);
        };
        let hash = hash.try_into().map_err(|_| {
            StoreError::Broken(format!("the hash of entry {seq} is not 32 bytes long"))
        })?;
        Ok(Some((leaf, hash)))
    }

    /// What was typed beside an entry: field and value.
    pub fn disclosures(&mut self, seq: u64) -> Result<Vec<(String, [u8; 32], String)>, StoreError> {
        let pending = self
            .book
            .pending
            .disclosures
            .iter()
            .filter(|row| row.seq == seq);
        let pending: Vec<_> = pending
            .map(|row| (row.field.clone(), row.salt, row.value.clone()))
            .collect();
        if !pending.is_empty() {
            return Ok(pending);
        }
        let binds = [Bind::Int(self.book.org), Bind::Int(int(seq))];
        let rows: Vec<(String, Vec<u8>, String)> = self.db.rows(sql::DisclosuresOf, &binds)?;
        let rows = rows.into_iter().filter_map(|(field, salt, value)| {
            salt.try_into().ok().map(|salt| (field, salt, value))
        });
        Ok(rows.collect())
    }

    /// The movements an entry wrote, reversals of a correction included.
    pub fn movements_of(&mut self, seq: u64) -> Result<Vec<MovementRow>, StoreError> {
        let pending = self
            .book
            .pending
            .movements
            .iter()
            .filter(|row| row.seq == seq);
        let pending: Vec<_> = pending.cloned().collect();
        if !pending.is_empty() {
            return Ok(pending);
        }
        type Row = (i64, i64, i64, i64, i64, i64, i64, i64, Option<Vec<u8>>);
        let binds = [Bind::Int(self.book.org), Bind::Int(int(seq))];
        let rows: Vec<Row> = self.db.rows(sql::MovementsOfEntry, &binds)?;
        let row = |(n, src, dst, mass, appliance, day, what, id_high, ties): Row| MovementRow {
            seq,
            n,
            src: PlaceNumber(src),
            dst: PlaceNumber(dst),
            mass,
            appliance: (appliance != 0).then_some(PlaceNumber(appliance)),
            day: i32::try_from(day).unwrap_or(0),
            what,
            id_high,
            ties,
        };
        Ok(rows.into_iter().map(row).collect())
    }

    /// The correction that corrects an entry, if there is one.
    pub fn corrected_by(&mut self, entry: u64) -> Result<Option<u64>, StoreError> {
        let pending = self.book.pending.rare.iter().find_map(|row| match row {
            Rare::Correction { corrects, seq, .. } if *corrects == entry => Some(*seq),
            _ => None,
        });
        if pending.is_some() {
            return Ok(pending);
        }
        let binds = [Bind::Int(self.book.org), Bind::Int(int(entry))];
        let seq: Option<i64> = self.db.first(sql::CorrectedBy, &binds)?;
        Ok(seq.map(|seq| seq.unsigned_abs()))
    }

    /// What a correction corrects, and the first entry of its chain; `None` for other entries.
    pub fn correction_at(&mut self, entry: u64) -> Result<Option<(u64, u64)>, StoreError> {
        let pending = self.book.pending.rare.iter().find_map(|row| match row {
            Rare::Correction {
                corrects,
                seq,
                first,
            } if *seq == entry => Some((*corrects, *first)),
            _ => None,
        });
        if pending.is_some() {
            return Ok(pending);
        }
        let binds = [Bind::Int(self.book.org), Bind::Int(int(entry))];
        let row: Option<(i64, i64)> = self.db.first(sql::CorrectionAt, &binds)?;
        Ok(row.map(|(corrects, first)| (corrects.unsigned_abs(), first.unsigned_abs())))
    }

    #[allow(clippy::type_complexity)]
    /// Open and settled findings that an entry left: code, place, grade, settled by.
    pub fn findings_of(
        &mut self,
        entry: u64,
    ) -> Result<Vec<(String, PlaceNumber, String, Option<u64>)>, StoreError> {
        let binds = [Bind::Int(self.book.org), Bind::Int(int(entry))];
        let rows: Vec<(String, i64, String, i64)> = self.db.rows(sql::FindingsOfEntry, &binds)?;
        let mut found: Vec<_> = rows
            .into_iter()
            .map(|(code, place, grade, settled)| {
                (code, PlaceNumber(place), grade, u64::try_from(settled).ok())
            })
            .collect();
        for row in &self.book.pending.rare {
            match row {
                Rare::Finding {
                    seq,
                    code,
                    place,
                    grade,
                } if *seq == entry => {
                    found.push((code.clone(), *place, grade.clone(), None));
                }
                Rare::Settled { by, seq, code } if *seq == entry => {
                    let same = found.iter_mut().filter(|finding| finding.0 == *code);
                    same.for_each(|finding| finding.3 = Some(*by));
                }
                _ => {}
            }
        }
        Ok(found)
    }

    /// Rule sets, methods and settings as adopted.
    pub fn adopted(&mut self) -> Result<Arc<Adopted>, StoreError> {
        if let Some(adopted) = &self.book.adopted {
            return Ok(Arc::clone(adopted));
        }
        let corrected = |row: &Rare| match row {
            Rare::Correction { corrects, .. } => Some(*corrects),
            _ => None,
        };
        let pending = self.book.pending.rare.iter();
        let gone: HashSet<u64> = pending.filter_map(corrected).collect();
        let mut adopted = adopted_without(self.db, self.book.org, u64::MAX, &gone)?;
        for row in &self.book.pending.rare {
            if let Rare::Adopted {
                seq,
                kind,
                name,
                since,
                value,
            } = row
                && !gone.contains(seq)
            {
                add_adopted(
                    &mut adopted,
                    *seq,
                    *kind,
                    name,
                    Day::from_count(*since),
                    value,
                );
            }
        }
        let adopted = Arc::new(adopted);
        self.book.adopted = Some(Arc::clone(&adopted));
        Ok(adopted)
    }

    /// Bytes of an attachment.
    pub fn attachment(&mut self, sha256: &Hash) -> Result<Option<Vec<u8>>, StoreError> {
        for row in &self.book.pending.rare {
            match row {
                Rare::Attachment {
                    sha256: known,
                    bytes,
                } if known == sha256 => {
                    return Ok(Some(bytes.clone()));
                }
                _ => {}
            }
        }
        let binds = [Bind::Int(self.book.org), Bind::Bytes(sha256)];
        Ok(self.db.first(sql::AttachmentBytes, &binds)?)
    }

    fn take_in(&mut self, row: RegisterRow) -> Result<PlaceNumber, StoreError> {
        let (place, uuid, tag, facts) = row;
        let place = PlaceNumber(place);
        if self.book.subjects.contains_key(&place) {
            return Ok(place);
        }
        let id = Id::from_bytes(&uuid)
            .ok_or_else(|| StoreError::Broken(format!("the id of place {} is damaged", place.0)))?;
        let dossier = Dossier::parse(&facts).ok_or_else(|| {
            StoreError::Broken(format!("the facts of place {} are unreadable", place.0))
        })?;
        let brief = Brief::of(&dossier, self.table);
        if let Some(tag) = &tag {
            self.book.by_tag.insert((place.sort(), tag.clone()), place);
        }
        self.book.by_uuid.insert(id, place);
        self.take_in_place(
            place,
            Subject {
                id: Some(id),
                tag,
                brief,
                ..Subject::default()
            },
        )?;
        Ok(place)
    }

    fn take_in_place(&mut self, place: PlaceNumber, subject: Subject) -> Result<(), StoreError> {
        let mut subject = subject;
        let binds = [Bind::Int(self.book.org), Bind::Int(place.0)];
        if matches!(place.sort(), Sort::Appliance | Sort::Cylinder) {
            type Row = (i64, i64, String, i64, i64, i64);
            let row: Option<Row> = self.db.first(sql::SubjectOf, &binds)?;
            if let Some((nth, quarantine, owners, class, newest, moved)) = row {
                subject.nth = nth.unsigned_abs();
                subject.quarantine = u64::try_from(quarantine).ok();
                subject.read_owners(&owners);
                subject.class = Class::stored(class);
                subject.newest = u64::try_from(newest).ok();
                subject.moved = moved.unsigned_abs();
            }
        }
        let rows: Vec<(i64, String)> = self.db.rows(sql::BalancesOfPlace, &binds)?;
        for (code, mass) in rows {
            let code = u16::try_from(code).ok();
            let (Some(code), Ok(mass)) = (code, mass.parse()) else {
                return Err(StoreError::Broken(format!(
                    "a balance of place {} is damaged",
                    place.0
                )));
            };
            subject.balances.push((code, mass));
        }
        self.book.subjects.insert(place, subject);
        Ok(())
    }
}

/// Reads what was adopted by entries up to `cut`.
pub fn read_adopted(db: &mut Db, org: i64, cut: u64) -> Result<Adopted, StoreError> {
    adopted_without(db, org, cut, &HashSet::new())
}

/// The same without entries that a correction of this batch takes back; those taken back by a
/// correction up to `cut` never count.
fn adopted_without(
    db: &mut Db,
    org: i64,
    cut: u64,
    gone: &HashSet<u64>,
) -> Result<Adopted, StoreError> {
    type Row = (i64, i64, String, i64, String, i64);
    let rows: Vec<Row> = db.rows(sql::AdoptedAndCorrected, &[Bind::Int(org)])?;
    let mut adopted = Adopted::default();
    for (seq, kind, name, since, value, corrected) in rows {
        let (seq, kind) = (seq.unsigned_abs(), i16::try_from(kind).unwrap_or(0));
        let corrected = u64::try_from(corrected).is_ok_and(|by| by <= cut);
        if seq <= cut && !corrected && !gone.contains(&seq) {
            let since = Day::from_count(i32::try_from(since).unwrap_or(0));
            add_adopted(&mut adopted, seq, kind, &name, since, &value);
        }
    }
    Ok(adopted)
}

fn add_adopted(to: &mut Adopted, seq: u64, kind: i16, name: &str, since: Day, value: &str) {
    match EntryKind::coded(kind) {
        Some(EntryKind::RuleSet) => to.rule_sets.push(AdoptedSet {
            seq,
            id: name.to_string(),
            since,
            sha256: value.to_string(),
        }),
        Some(EntryKind::Method) => to.methods.push((Id::parse(name), since, value.to_string())),
        Some(EntryKind::Engine) => to.engine = value.to_string(),
        Some(EntryKind::Setting) => {
            to.settings
                .push((name.to_string(), since, value.to_string()));
        }
        _ => {}
    }
}

impl Tx<'_> {
    /// Lets a person sign in. The row is no fact of the book and may change.
    pub fn add_sign_in(
        &mut self,
        person: Id,
        email: &str,
        password_hash: &str,
        roles: &str,
    ) -> Result<(), StoreError> {
        let person = person.bytes();
        let binds = [
            Bind::Int(self.book.org),
            Bind::Bytes(&person),
            Bind::Text(email),
            Bind::Text(password_hash),
            Bind::Text(roles),
        ];
        self.db.run(sql::AddSignIn, &binds)?;
        Ok(())
    }
}
