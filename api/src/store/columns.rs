//! How places, kinds, times and ties are stored.
//!
//! A place is one number: its sort times 10^15 plus its own number in that sort. The rarely
//! differing properties of a movement share the column `what`, so that the yearly report reads
//! one covering index of seven columns.

mod class;
mod ties;

use crate::ledger::entry::EntryKind;
use crate::ledger::id::Id;
use crate::ledger::place::Place;
pub use class::Class;
use reports::event::{Kind, Reason};
pub use ties::{Ties, words_of, words_text};

const SORT: i64 = 1_000_000_000_000_000;

/// Sorts of places and of registered things; the numbers are stored and never change.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[allow(missing_docs)]
pub enum Sort {
    Appliance = 1,
    Cylinder = 2,
    Counterparty = 3,
    Site = 4,
    Person = 5,
    Scale = 6,
    World = 9,
}

impl Sort {
    /// Everything that can be registered.
    pub const REGISTERED: [Sort; 6] = [
        Sort::Appliance,
        Sort::Cylinder,
        Sort::Counterparty,
        Sort::Site,
        Sort::Person,
        Sort::Scale,
    ];

    /// The word before the colon of a subject.
    pub const fn word(self) -> &'static str {
        match self {
            Sort::Appliance => "appliance",
            Sort::Cylinder => "cylinder",
            Sort::Counterparty => "counterparty",
            Sort::Site => "site",
            Sort::Person => "person",
            Sort::Scale => "scale",
            Sort::World => "world",
        }
    }

    /// The sort with this word.
    pub fn named(word: &str) -> Option<Sort> {
        Sort::REGISTERED
            .into_iter()
            .find(|sort| sort.word() == word)
    }

    /// The kind of entry that registers it.
    pub const fn kind(self) -> Option<EntryKind> {
        match self {
            Sort::Appliance => Some(EntryKind::Appliance),
            Sort::Cylinder => Some(EntryKind::Cylinder),
            Sort::Counterparty => Some(EntryKind::Counterparty),
            Sort::Site => Some(EntryKind::Site),
            Sort::Person => Some(EntryKind::Person),
            Sort::Scale => Some(EntryKind::Scale),
            Sort::World => None,
        }
    }
}

/// A stored place or thing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct PlaceNumber(pub i64);

impl PlaceNumber {
    /// Lost to the atmosphere.
    pub const ATMOSPHERE: PlaceNumber = PlaceNumber::of(Sort::World, 1);
    /// Count differences.
    pub const UNEXPLAINED: PlaceNumber = PlaceNumber::of(Sort::World, 2);
    /// Before the book.
    pub const OPENING: PlaceNumber = PlaceNumber::of(Sort::World, 3);
    /// Changing designation.
    pub const REDESIGNATION: PlaceNumber = PlaceNumber::of(Sort::World, 4);
    /// Somebody else's refrigerant.
    pub const OUTSIDE: PlaceNumber = PlaceNumber::of(Sort::World, 5);
    /// Small appliances emptied in bulk.
    pub const UNREGISTERED: PlaceNumber = PlaceNumber::of(Sort::World, 6);
    /// Oil, water, air.
    pub const RESIDUE: PlaceNumber = PlaceNumber::of(Sort::World, 7);
    /// A place of a newer program.
    pub const OTHER: PlaceNumber = PlaceNumber::of(Sort::World, 8);

    /// The so-manieth of a sort.
    pub const fn of(sort: Sort, number: i64) -> PlaceNumber {
        PlaceNumber(sort as i64 * SORT + number)
    }

    /// Its sort.
    pub fn sort(self) -> Sort {
        let number = self.0 / SORT;
        let all = Sort::REGISTERED.into_iter();
        all.chain([Sort::World])
            .find(|sort| *sort as i64 == number)
            .unwrap_or(Sort::World)
    }

    /// The place of a leaf that it stands for; `id` is that of what is registered there.
    pub fn place(self, id: Option<Id>) -> Place {
        match (self.sort(), id) {
            (Sort::Appliance, Some(id)) => Place::Appliance(id),
            (Sort::Cylinder, Some(id)) => Place::Cylinder(id),
            (Sort::Counterparty, Some(id)) => Place::Counterparty(id),
            _ => match self {
                PlaceNumber::ATMOSPHERE => Place::Atmosphere,
                PlaceNumber::UNEXPLAINED => Place::Unexplained,
                PlaceNumber::OPENING => Place::Opening,
                PlaceNumber::REDESIGNATION => Place::Redesignation,
                PlaceNumber::OUTSIDE => Place::Outside,
                PlaceNumber::UNREGISTERED => Place::Unregistered,
                PlaceNumber::RESIDUE => Place::Residue,
                _ => Place::Other,
            },
        }
    }

    /// Its number within the sort.
    pub const fn number(self) -> i64 {
        self.0 % SORT
    }
}

/// Which way a movement goes as its appliance sees it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Flow {
    /// No appliance takes part.
    None,
    /// Into the appliance.
    In,
    /// Out of it.
    Out,
}

/// What shares the column `what`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct What {
    /// Code of the refrigerant table.
    pub refrigerant: u16,
    /// Kind of the entry (of the replaced or reversed entry, for a correction).
    pub kind: EntryKind,
    /// Its reason.
    pub reason: Option<Reason>,
    /// Into or out of the appliance.
    pub flow: Flow,
    /// Stated to have brought the appliance back to its full charge.
    pub returned: bool,
    /// A row of a correction that takes an earlier row back.
    pub reversal: bool,
    /// Second of the day, where a time was stated.
    pub second: Option<u32>,
}

impl What {
    /// The stored number.
    pub fn pack(self) -> i64 {
        let flow = match self.flow {
            Flow::None => 0,
            Flow::In => 1,
            Flow::Out => 2,
        };
        i64::from(self.refrigerant)
            | i64::from(self.kind.code()) << 16
            | i64::from(self.reason.map_or(0, reason_code)) << 24
            | flow << 32
            | i64::from(self.returned) << 34
            | i64::from(self.reversal) << 35
            | self.second.map_or(0, |second| i64::from(second) + 1) << 36
    }

    /// What the stored number says; `None` when no program of this version wrote it.
    pub fn unpack(packed: i64) -> Option<What> {
        let byte = |shift: u32| (packed >> shift & 0xff) as u8;
        let reason = match byte(24) {
            0 => None,
            code => Some(REASONS.get(usize::from(code) - 1)?.0),
        };
        let second = packed >> 36 & 0x1_ffff;
        Some(What {
            refrigerant: (packed & 0xffff) as u16,
            kind: EntryKind::coded(i16::from(byte(16)))?,
            reason,
            flow: match packed >> 32 & 3 {
                0 => Flow::None,
                1 => Flow::In,
                2 => Flow::Out,
                _ => return None,
            },
            returned: packed >> 34 & 1 == 1,
            reversal: packed >> 35 & 1 == 1,
            second: (second > 0).then(|| (second - 1) as u32),
        })
    }
}

/// Reasons with their words, in the order of their stored codes (from 1).
pub const REASONS: [(Reason, &str); 10] = [
    (Reason::LeakTopUp, "leak_top_up"),
    (Reason::AfterRepair, "after_repair"),
    (Reason::Installation, "installation"),
    (Reason::AfterRetrofit, "after_retrofit"),
    (Reason::Seasonal, "seasonal"),
    (Reason::Emergency, "emergency"),
    (Reason::ImmediateDanger, "immediate_danger"),
    (Reason::Repair, "repair"),
    (Reason::Retrofit, "retrofit"),
    (Reason::Disposal, "disposal"),
];

fn reason_code(reason: Reason) -> u8 {
    let at = REASONS
        .iter()
        .position(|(known, _)| *known == reason)
        .unwrap_or(0);
    u8::try_from(at + 1).unwrap_or(0)
}

/// The reason with this word.
pub fn reason_named(word: &str) -> Option<Reason> {
    REASONS
        .iter()
        .find(|(_, known)| *known == word)
        .map(|(reason, _)| *reason)
}

/// The kind of event a movement's entry is to an appliance.
pub fn event_kind(kind: EntryKind) -> Option<Kind> {
    Some(match kind {
        EntryKind::Opening => Kind::Opening,
        EntryKind::Purchase => Kind::Purchase,
        EntryKind::Charge => Kind::Charge,
        EntryKind::OutsideCharge => Kind::OutsideCharge,
        EntryKind::Recover => Kind::Recover,
        EntryKind::Transfer => Kind::Transfer,
        EntryKind::SendToReclaim => Kind::SendToReclaim,
        EntryKind::SendToDestruction => Kind::SendToDestruction,
        EntryKind::Return => Kind::Return,
        EntryKind::Loss => Kind::Loss,
        EntryKind::Redesignate => Kind::Redesignate,
        EntryKind::Count => Kind::Count,
        EntryKind::Statement => Kind::Statement,
        EntryKind::LeakFound => Kind::LeakFound,
        EntryKind::Repair => Kind::Repair,
        EntryKind::Inspection => Kind::Inspection,
        EntryKind::VerificationTest => Kind::VerificationTest,
        EntryKind::PressureTest => Kind::PressureTest,
        EntryKind::VacuumTest => Kind::VacuumTest,
        EntryKind::RunCheck => Kind::RunCheck,
        EntryKind::Shutdown => Kind::Shutdown,
        EntryKind::Isolate => Kind::Isolate,
        EntryKind::PurgeDestroyed => Kind::PurgeDestroyed,
        EntryKind::Plan => Kind::Plan,
        EntryKind::Extension => Kind::Extension,
        EntryKind::Decision => Kind::Decision,
        EntryKind::Notice => Kind::Notice,
        EntryKind::Mothball => Kind::Mothball,
        EntryKind::BackInOperation => Kind::BackInOperation,
        EntryKind::Retrofit => Kind::Retrofit,
        EntryKind::Retire => Kind::Retire,
        _ => return None,
    })
}

/// The first half of an id as a signed number that sorts as the id does.
pub fn id_high(id: Id) -> i64 {
    let high = (id.bits() >> 64) as u64;
    (high ^ 1 << 63) as i64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_and_ties_come_back_as_they_were() {
        for second in [None, Some(0), Some(86_399)] {
            for (reason, _) in REASONS {
                let what = What {
                    refrigerant: 65_002,
                    kind: EntryKind::Redesignate,
                    reason: Some(reason),
                    flow: Flow::Out,
                    returned: true,
                    reversal: true,
                    second,
                };
                assert_eq!(What::unpack(what.pack()), Some(what));
            }
        }
        let (a, b) = (Id::random(), Id::random());
        for ties in [
            Ties::default(),
            Ties {
                visit: Some(a),
                ..Ties::default()
            },
            Ties {
                leak: Some(b),
                reverses: Some(7),
                ..Ties::default()
            },
            Ties {
                visit: Some(a),
                leak: Some(b),
                reverses: Some(u64::MAX),
                words: Some("result=passed;stage=initial".to_string()),
            },
        ] {
            assert_eq!(Ties::unpack(ties.pack().as_deref()), Some(ties));
        }
        assert_eq!(Ties::unpack(Some(&[1, 2, 3])), None, "cut short");
    }

    #[test]
    fn halves_of_ids_sort_as_ids() {
        let low = Id::from_bits(0x7fff_u128 << 112);
        let high = Id::from_bits(0x8000_u128 << 112);
        assert!(low < high && id_high(low) < id_high(high));
    }

    #[test]
    fn places_tell_their_sort_and_number() {
        let place = PlaceNumber::of(Sort::Cylinder, 41);
        assert_eq!((place.sort(), place.number()), (Sort::Cylinder, 41));
        assert_eq!(PlaceNumber::OUTSIDE.sort(), Sort::World);
    }
}
