//! Rows of a movements file, ready to be booked: resolved, dated, and independent of the file.

use super::mass_cell::MassCell;
use super::movements::{MovementId, MovementRow};
use super::things::{Ends, Things};
use super::when::Occurred;
use crate::actions::when::stated;
use crate::ledger::entry::{EntryKind, Happened};
use crate::ledger::id::Id;
use crate::ledger::tree::sha256;
use reports::day::{Day, Wall, Zone, clock_text, offset_text};
use reports::mass::{Answer, Mass, Unit};

/// A row, ready to be booked.
pub(super) struct Ready {
    pub row: u64,
    pub id: ReadyId,
    pub kind: EntryKind,
    pub happened: Happened<'static>,
    /// The clock of the site skipped or doubled the time.
    pub doubtful_time: bool,
    pub ends: Ends,
    pub refrigerant: u16,
    pub mass: Mass,
    pub text: String,
    pub unit: Unit,
    pub answer: Option<Answer>,
    pub guessed: bool,
    pub technician: Technician,
    pub visit: Option<Id>,
    pub reason: Option<&'static str>,
}

pub(super) enum ReadyId {
    Uuid(Id),
    Text(String),
}

pub(super) enum Technician {
    Known(Id),
    New(Box<str>),
}

impl Ready {
    /// Codes of what a person at the unit would have been asked.
    pub(super) fn doubts(&self) -> impl Iterator<Item = &'static str> + use<> {
        let mass = self.guessed.then_some("pounds_or_ounces");
        let time = self.doubtful_time.then_some("skipped_or_doubled_time");
        mass.into_iter().chain(time)
    }
}

/// Makes a row ready to be booked; `salt` keeps the names of visits secret.
pub(super) fn ready_row(
    row: &MovementRow<'_>,
    ends: Ends,
    things: &Things,
    salt: &[u8; 32],
) -> Ready {
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
