//! The second reading of a movements file: rows become entries.

use super::Table;
use super::mass_cell::MassCell;
use super::movements::{MovementId, MovementRow, Pass, read_movements};
use super::problems::Problems;
use super::run::{Begun, CHUNK, Importing, changed, failed, failed_at, now};
use super::table::{FileFacts, Flow};
use super::things::{End, Ends, Thing, Things};
use super::when::Occurred;
use crate::actions::ActionError;
use crate::actions::moves::Moving;
use crate::actions::post::{Intention, Posting, book};
use crate::actions::when::stated;
use crate::ledger::actor::Actor;
use crate::ledger::entry::{Body, EntryKind, Fact, Happened, ImportRow, Moved, Typed};
use crate::ledger::id::Id;
use crate::ledger::place::Place;
use crate::ledger::tree::sha256;
use crate::store::StoreError;
use crate::store::apply::Draft;
use crate::store::columns::{PlaceNumber, Sort};
use crate::store::imports::ImportState;
use crate::store::tx::Tx;
use reports::day::{Day, Wall, Zone, clock_text, offset_text};
use reports::mass::{Answer, Mass, Unit};
use std::borrow::Cow;
use std::collections::BTreeMap;
use std::path::Path;

/// A row, ready to be booked.
struct Ready {
    row: u64,
    id: ReadyId,
    kind: EntryKind,
    happened: Happened<'static>,
    /// The clock of the site skipped or doubled the time.
    doubtful_time: bool,
    ends: Ends,
    refrigerant: u16,
    mass: Mass,
    text: String,
    unit: Unit,
    answer: Option<Answer>,
    guessed: bool,
    technician: Technician,
    visit: Option<Id>,
    reason: Option<&'static str>,
}

enum ReadyId {
    Uuid(Id),
    Text(String),
}

enum Technician {
    Known(Id),
    New(Box<str>),
}

impl Importing<'_> {
    /// Books the rows after the last booked one; says how many findings they left.
    pub(super) fn book_movements(
        &mut self,
        path: &Path,
        facts: &FileFacts,
        begun: Begun,
        things: &mut Things,
        progress: &mut dyn FnMut(u64),
    ) -> Result<u64, StoreError> {
        let Begun {
            state,
            untouched_at,
        } = begun;
        let salt = self.transact(|tx| salt(tx, state.seq))?;
        let mut chunk = Chunk {
            state,
            findings: 0,
            untouched_at,
        };
        let mut ready: Vec<Ready> = Vec::with_capacity(CHUNK);
        let mut problems = Problems::default();
        let mut error = None;
        let again = read_movements(path, Pass::Book, &mut problems, |row, _, _| {
            if row.row <= chunk.state.done {
                return Flow::Go;
            }
            match things.ends(row) {
                Ok(ends) => ready.push(ready_row(row, ends, things, &salt)),
                Err(_) => return Flow::Stop,
            }
            if ready.len() < CHUNK {
                return Flow::Go;
            }
            let booked = self.book_chunk(facts, &mut chunk, &mut ready, things);
            progress(row.row);
            match booked {
                Ok(()) => Flow::Go,
                Err(failure) => {
                    error = Some(failure);
                    Flow::Stop
                }
            }
        });
        if let Some(error) = error {
            return Err(error);
        }
        let same = again
            .as_ref()
            .is_some_and(|again| again.sha256 == facts.sha256);
        if !same || !problems.is_empty() {
            return Err(changed(facts, "another"));
        }
        self.book_chunk(facts, &mut chunk, &mut ready, things)?;
        Ok(chunk.findings)
    }

    fn book_chunk(
        &mut self,
        facts: &FileFacts,
        chunk: &mut Chunk,
        ready: &mut Vec<Ready>,
        things: &mut Things,
    ) -> Result<(), StoreError> {
        if ready.is_empty() {
            return Ok(());
        }
        let mut rows = Some(std::mem::take(ready));
        let (done, findings) = self.transact(|tx| {
            // An action runs once; a second run would find nothing left to book.
            let rows = rows.take().unwrap_or_default();
            let mut booking = Booking {
                import: chunk.state.id,
                // While nobody else writes, what the first reading knew of ids still holds.
                alone: chunk.untouched_at == Some(tx.next_seq()),
                fresh: 0,
                findings: 0,
                things: &mut *things,
            };
            let mut state = chunk.state;
            for ready in rows {
                state.done = ready.row;
                let row = ready.row;
                booking
                    .book(tx, ready)
                    .map_err(|error| failed_at(&facts.name, row, error))?;
            }
            tx.note_import(Table::Movements.word(), &facts.sha256, &state);
            chunk.untouched_at = booking.alone.then(|| tx.next_seq());
            Ok((state.done, booking.findings))
        })?;
        chunk.state.done = done;
        chunk.findings += findings;
        Ok(())
    }
}

/// How far the booking is.
struct Chunk {
    state: ImportState,
    findings: u64,
    /// The number that the next entry has if nobody else wrote since the ids were compared.
    untouched_at: Option<u64>,
}

struct Booking<'t> {
    import: Id,
    alone: bool,
    fresh: u64,
    findings: u64,
    things: &'t mut Things,
}

impl Booking<'_> {
    fn book(&mut self, tx: &mut Tx<'_>, ready: Ready) -> Result<(), ActionError> {
        let (from, src) = self.end(tx, &ready.ends.from)?;
        let (to, dst) = self.end(tx, &ready.ends.to)?;
        let did = self.technician(tx, &ready.technician)?;
        let subject = if dst.sort() == Sort::Appliance {
            dst
        } else {
            src
        };
        let mut what = Intention::default();
        let id = match &ready.id {
            ReadyId::Uuid(id) if self.alone || tx.known(*id)?.is_none() => *id,
            ReadyId::Uuid(_) => {
                // Somebody booked it between the two readings. The row happened all the same.
                what.findings.push(("id_reused", subject));
                self.fresh_id(tx)
            }
            ReadyId::Text(text) => {
                what.secrets.push(("movement_id".to_string(), text.clone()));
                self.fresh_id(tx)
            }
        };
        if ready.guessed {
            what.findings.push(("pounds_or_ounces", subject));
        }
        if ready.doubtful_time {
            what.findings.push(("skipped_or_doubled_time", subject));
        }
        let mut answers = BTreeMap::new();
        if let Some(answer) = ready.answer {
            answers.insert("pounds_or_ounces".to_string(), answer.word().to_string());
        }
        let designation = tx.table.designation(ready.refrigerant).unwrap_or_default();
        let moved = Moved {
            from,
            g: ready.mass,
            number: None,
            readings: None,
            refrigerant: Cow::Owned(designation.to_string()),
            to,
            typed: Some(Typed {
                text: Cow::Owned(ready.text),
                unit: Cow::Borrowed(ready.unit.code()),
            }),
        };
        let (refrigerant, mass) = (ready.refrigerant, ready.mass);
        what.moves.push(Moving {
            src,
            dst,
            refrigerant,
            mass,
            resolution: None,
            moved,
        });
        what.body = Body {
            import: Some(ImportRow {
                entry: self.import,
                row: ready.row,
            }),
            reason: ready.reason.map(Cow::Borrowed),
            ..Body::default()
        };
        let posting = Posting {
            id,
            kind: ready.kind,
            happened: ready.happened,
            time_question: None,
            did: Some(did),
            visit: ready.visit,
            answers,
            captured_offline: false,
            what,
        };
        let posted = book(tx, &Actor::IMPORT, posting)?;
        self.findings += posted.findings.len() as u64;
        if let ReadyId::Text(text) = &ready.id {
            tx.note_movement_id(text, posted.seq);
        }
        Ok(())
    }

    fn fresh_id(&mut self, tx: &Tx<'_>) -> Id {
        self.fresh += 1;
        Id::at(tx.now.unsigned_abs() / 1000)
    }

    fn end(&mut self, tx: &mut Tx<'_>, end: &End) -> Result<(Place, PlaceNumber), ActionError> {
        match end {
            End::At(place, number) => Ok((*place, *number)),
            End::New(tag) => {
                let thing = self.registered(tx, Sort::Counterparty, tag)?;
                Ok((Place::Counterparty(thing.id), thing.place))
            }
        }
    }

    fn technician(&mut self, tx: &mut Tx<'_>, who: &Technician) -> Result<Id, ActionError> {
        match who {
            Technician::Known(id) => Ok(*id),
            Technician::New(tag) => Ok(self.registered(tx, Sort::Person, tag)?.id),
        }
    }

    fn registered(&mut self, tx: &mut Tx<'_>, sort: Sort, tag: &str) -> Result<Thing, ActionError> {
        let thing = register_tag(tx, sort, tag, None)?;
        self.things.of(sort).insert(tag.into(), thing);
        Ok(thing)
    }
}

/// Finds a counterparty, person or site by its tag, or registers it with nothing but its tag.
pub(super) fn register_tag(
    tx: &mut Tx<'_>,
    sort: Sort,
    tag: &str,
    zone: Option<&Zone>,
) -> Result<Thing, ActionError> {
    if let Some(place) = tx.find(sort, tag)? {
        let subject = tx.subject(place)?;
        let has_zone = subject.brief.zone.is_some();
        let id = subject
            .id
            .ok_or_else(|| StoreError::Broken(format!("'{tag}' has no id")))?;
        return Ok(Thing {
            place,
            id,
            zone: 0,
            has_zone,
        });
    }
    let happened = now(tx)?;
    let day = happened.day;
    let (entry, id) = (Id::at(tx.now.unsigned_abs() / 1000), Id::random());
    let mut facts = BTreeMap::new();
    facts.insert(
        Cow::Borrowed("tag"),
        vec![Fact {
            from: day,
            is: None,
        }],
    );
    if let Some(zone) = zone {
        // A site stands in its zone from the beginning.
        let is = Some(serde_json::Value::from(zone.name()));
        facts.insert(Cow::Borrowed("zone"), vec![Fact { from: EPOCH, is }]);
    }
    let kind = EntryKind::named(sort.word())
        .ok_or_else(|| StoreError::Broken(format!("{} is no kind of entry", sort.word())))?;
    let body = Body {
        facts: Some(facts),
        subject: Some(Cow::Owned(format!("{}:{id}", sort.word()))),
        ..Body::default()
    };
    let mut draft = Draft::new(entry, kind, happened, body);
    let text = crate::actions::post::typed_text(tag, "facts.tag.0")?;
    draft.secrets = vec![("facts.tag.0".to_string(), text)];
    tx.book(&Actor::IMPORT, draft)?;
    let place = tx
        .by_id(id)?
        .ok_or_else(|| StoreError::Broken(format!("'{tag}' was not registered")))?;
    Ok(Thing {
        place,
        id,
        zone: 0,
        has_zone: zone.is_some(),
    })
}

/// The first day of facts that have always held.
pub(super) const EPOCH: Day = Day::from_count(0);

fn ready_row(row: &MovementRow<'_>, ends: Ends, things: &Things, salt: &[u8; 32]) -> Ready {
    let zone = &things.zones[usize::from(ends.zone)];
    let (happened, doubtful_time) = happened(row.occurred, zone);
    let MassCell {
        text,
        unit,
        mass,
        answer,
        guessed,
    } = &row.mass;
    let technician = match things.persons.get(row.technician) {
        Some(person) => Technician::Known(person.id),
        None => Technician::New(row.technician.into()),
    };
    let id = match row.id {
        MovementId::Uuid(id) => ReadyId::Uuid(id),
        MovementId::Text(text) => ReadyId::Text(text.to_string()),
    };
    Ready {
        row: row.row,
        id,
        kind: row.kind,
        happened,
        doubtful_time,
        ends,
        refrigerant: row.refrigerant,
        mass: *mass,
        text: text.to_string(),
        unit: *unit,
        answer: *answer,
        guessed: *guessed,
        technician,
        visit: row.visit.map(|visit| visit_id(visit, salt)),
        reason: row.reason,
    }
}

/// When a row happened, in the zone of its appliance, and whether the clock there left a doubt: a
/// skipped time keeps its day alone, a doubled one is taken as the first.
fn happened(occurred: Occurred, zone: &Zone) -> (Happened<'static>, bool) {
    match occurred {
        Occurred::Day(day) => (stated(day, None, None, zone), false),
        Occurred::Instant(second) => {
            let (day, second, offset) = match zone.name() {
                "UTC" => {
                    let day = i32::try_from(second.div_euclid(86_400)).unwrap_or(i32::MAX);
                    let second = u32::try_from(second.rem_euclid(86_400)).unwrap_or(0);
                    (Day::from_count(day), second, "+00:00".to_string())
                }
                _ => {
                    let at = jiff::Timestamp::from_second(second).unwrap_or_default();
                    let local = zone.local(at);
                    (local.day, local.second, offset_text(local.offset))
                }
            };
            let time = clock_text(second, !second.is_multiple_of(60));
            (stated(day, Some(time), Some(offset), zone), false)
        }
        Occurred::Local(day, time) => match zone.resolve(day, time.second) {
            Wall::Skipped => (stated(day, None, None, zone), true),
            wall => {
                let (at, doubtful) = match wall {
                    Wall::Twice(first, _) => (first, true),
                    Wall::Once(at) => (at, false),
                    Wall::Skipped => (jiff::Timestamp::UNIX_EPOCH, true),
                };
                let text = clock_text(time.second, time.to_the_second);
                let offset = offset_text(zone.local(at).offset);
                (stated(day, Some(text), Some(offset), zone), doubtful)
            }
        },
    }
}

/// The id of a visit that the file names by a word of its own: the same word of the same file is
/// the same visit, also when the import was stopped in between. The salt keeps the word secret.
fn visit_id(visit: &str, salt: &[u8; 32]) -> Id {
    if let Some(id) = Id::parse(visit) {
        return id;
    }
    let hash = sha256(&[b"tarebook/import/visit/v1\n", &salt[..], visit.as_bytes()].concat());
    let bits = hash[..16]
        .iter()
        .fold(0_u128, |bits, byte| bits << 8 | u128::from(*byte));
    // Version 8 (made by the application), variant 1: RFC 9562, sections 5.8 and 4.1.
    Id::from_bits(bits & !(0xf << 76) & !(0x3 << 62) | 0x8 << 76 | 0x2 << 62)
}

/// The salt of the import entry: random, and the same in every run.
fn salt(tx: &mut Tx<'_>, seq: u64) -> Result<[u8; 32], StoreError> {
    let texts = tx.disclosures(seq)?;
    let salt = texts
        .iter()
        .find(|(field, ..)| field == "file.sha256")
        .map(|(_, salt, _)| *salt);
    salt.ok_or_else(|| {
        let erased = format!("the texts of the import entry no. {seq} are gone");
        failed(StoreError::Broken(erased).into())
    })
}
