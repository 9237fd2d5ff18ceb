//! The second reading of a movements file: rows become entries.

use super::Table;
use super::file::ImportFile;
use super::movements::{Pass, read_movements};
use super::problems::Problems;
use super::ready::{Ready, ReadyId, Technician, ready_row};
use super::run::{Begun, CHUNK, Importing, changed, failed, failed_at, now};
use super::table::{FileFacts, Flow};
use super::things::{End, Thing, Things};
use crate::actions::ActionError;
use crate::actions::moves::Moving;
use crate::actions::post::{Intention, Posting, book};
use crate::ledger::actor::Actor;
use crate::ledger::entry::{Body, EntryKind, Fact, ImportRow, Moved, Typed};
use crate::ledger::id::Id;
use crate::ledger::place::Place;
use crate::store::StoreError;
use crate::store::apply::Draft;
use crate::store::columns::{PlaceNumber, Sort};
use crate::store::imports::ImportState;
use crate::store::tx::Tx;
use reports::day::{Day, Zone};
use std::borrow::Cow;
use std::collections::BTreeMap;

impl Importing<'_> {
    /// Books the rows after the last booked one; says how many findings they left.
    pub(super) fn book_movements(
        &mut self,
        file: ImportFile<'_>,
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
        let again = read_movements(file, Pass::Book, &mut problems, |row, _, _| {
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
            tx.note_import(Table::Movements.word(), &facts.key, &state);
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
        let doubts = ready.doubts();
        let (refrigerant, mass) = (ready.refrigerant, ready.mass);
        let designation = tx.table.designation(refrigerant).unwrap_or_default();
        let typed = Typed {
            text: Cow::Owned(ready.text),
            unit: Cow::Borrowed(ready.unit.code()),
        };
        let moved = Moved {
            from,
            g: mass,
            number: None,
            readings: None,
            refrigerant: Cow::Owned(designation.to_string()),
            to,
            typed: Some(typed),
        };
        let mut what = Intention {
            moves: vec![Moving {
                src,
                dst,
                refrigerant,
                mass,
                resolution: None,
                moved,
            }],
            body: Body {
                import: Some(ImportRow {
                    entry: self.import,
                    row: ready.row,
                }),
                reason: ready.reason.map(Cow::Borrowed),
                ..Body::default()
            },
            ..Intention::default()
        };
        what.findings.extend(doubts.map(|code| (code, subject)));
        let id = self.id(tx, &ready.id, subject, &mut what)?;
        let answer = ready.answer.map(|answer| answer.word().to_string());
        let posting = Posting {
            id,
            kind: ready.kind,
            happened: ready.happened,
            time_question: None,
            did: Some(did),
            visit: ready.visit,
            answers: answer
                .map(|word| ("pounds_or_ounces".to_string(), word))
                .into_iter()
                .collect(),
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

    /// The id of the entry: the row's own where it is a UUID that is free.
    fn id(
        &mut self,
        tx: &mut Tx<'_>,
        id: &ReadyId,
        subject: PlaceNumber,
        what: &mut Intention,
    ) -> Result<Id, ActionError> {
        match id {
            ReadyId::Uuid(id) if self.alone || tx.known(*id)?.is_none() => return Ok(*id),
            // Somebody booked it between the two readings. The row happened all the same.
            ReadyId::Uuid(_) => what.findings.push(("id_reused", subject)),
            ReadyId::Text(text) => what.secrets.push(("movement_id".to_string(), text.clone())),
        }
        Ok(Id::at(tx.now.unsigned_abs() / 1000))
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
