//! Rows of a movements file.
//!
//! What a kind needs at its two ends is checked here; whether the tags there are known is for the
//! registers to say.

use super::cells::{empty, optional_text, optional_word, refrigerant, tag, text};
use super::columns::Column;
use super::file::ImportFile;
use super::mass_cell::{MassCell, mass_cell};
use super::problems::{Bad, Problems};
use super::seen::Seen;
use super::table::{Cells, FileFacts, Flow, read};
use super::when::{Occurred, OccurredReader};
use crate::ledger::entry::EntryKind;
use crate::ledger::id::Id;

/// One movement of a file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MovementRow<'a> {
    /// Row of the file (the header is row 1).
    pub row: u64,
    /// Its identifier.
    pub id: MovementId<'a>,
    /// When it happened.
    pub occurred: Occurred,
    /// What happened; `outside` has made an outside charge of a charge.
    pub kind: EntryKind,
    /// Tag of where it was; empty where the kind says it.
    pub from: &'a str,
    /// Tag of where it went; empty where the kind says it.
    pub to: &'a str,
    /// Code of its refrigerant in the table.
    pub refrigerant: u16,
    /// How much.
    pub mass: MassCell<'a>,
    /// Code of who did it.
    pub technician: &'a str,
    /// Order of recording, where the file has it.
    pub seq: Option<u64>,
    /// The visit it belongs to, as the file names it.
    pub visit: Option<&'a str>,
    /// Why, a word of the lists for charging and recovering.
    pub reason: Option<&'static str>,
}

/// The identifier of a movement.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MovementId<'a> {
    /// A UUID: it becomes the id of the entry.
    Uuid(Id),
    /// Any other text: it is committed to and the entry gets an id of its own.
    Text(&'a str),
}

const ID: usize = 0;
const OCCURRED: usize = 1;
const KIND: usize = 2;
const FROM: usize = 3;
const TO: usize = 4;
const REFRIGERANT: usize = 5;
const MASS: usize = 6;
const TECHNICIAN: usize = 7;
const SEQ: usize = 8;
const VISIT: usize = 9;
const REASON: usize = 10;
const OUTSIDE: usize = 11;

const COLUMNS: [Column; 12] = [
    Column::needed("movement_id"),
    Column::needed("occurred_at"),
    Column::needed("kind"),
    Column::needed("from"),
    Column::needed("to"),
    Column::needed("refrigerant"),
    Column::needed("mass").of_masses(),
    Column::needed("technician"),
    Column::optional("seq"),
    Column::optional("visit"),
    Column::optional("reason"),
    Column::optional("outside"),
];

const KINDS: [&str; 8] = [
    "opening",
    "purchase",
    "charge",
    "recover",
    "transfer",
    "send_to_reclaim",
    "send_to_destruction",
    "loss",
];

const CHARGE_REASONS: [&str; 7] = [
    "leak_top_up",
    "after_repair",
    "installation",
    "after_retrofit",
    "seasonal",
    "emergency",
    "immediate_danger",
];
const RECOVER_REASONS: [&str; 4] = ["repair", "seasonal", "retrofit", "disposal"];

/// Columns of a movements file by the part they play, for problems that only registers can find.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MovementColumn {
    /// `movement_id`.
    Id,
    /// `occurred_at`.
    Occurred,
    /// `from`.
    From,
    /// `to`.
    To,
    /// `refrigerant`.
    Refrigerant,
    /// `mass`.
    Mass,
    /// `technician`.
    Technician,
}

impl MovementColumn {
    /// Its place in the table's list of columns.
    pub const fn index(self) -> usize {
        match self {
            MovementColumn::Id => ID,
            MovementColumn::Occurred => OCCURRED,
            MovementColumn::From => FROM,
            MovementColumn::To => TO,
            MovementColumn::Refrigerant => REFRIGERANT,
            MovementColumn::Mass => MASS,
            MovementColumn::Technician => TECHNICIAN,
        }
    }
}

/// Which reading of a file it is.
pub enum Pass<'s> {
    /// The first: identifiers are noted, and repeated ones are problems.
    Check(&'s mut Seen),
    /// The second, after a first one without problems.
    Book,
}

/// Reads a file of movements; `each` is called with every row that is good by itself.
pub fn read_movements<'f>(
    file: impl Into<ImportFile<'f>>,
    mut pass: Pass<'_>,
    problems: &mut Problems,
    mut each: impl FnMut(&MovementRow<'_>, &Cells<'_>, &mut Problems) -> Flow,
) -> Option<FileFacts> {
    let mut reader = RowReader {
        occurred: OccurredReader::default(),
        last_seq: None,
    };
    read(file, &COLUMNS, problems, |cells, problems| {
        let Some(row) = reader.movement(cells, problems) else {
            return Flow::Go;
        };
        if let Pass::Check(seen) = &mut pass {
            let earlier = match row.id {
                MovementId::Uuid(id) => seen.bits(id.bits(), row.row),
                MovementId::Text(text) => seen.text(text, row.row),
            };
            if let Some(earlier) = earlier {
                let remedy = format!("Row {earlier} has it already. Take one of the two out.");
                let bad = Bad::new("an identifier of its own", remedy);
                cells.note(ID, cells.text(ID), bad, problems);
                return Flow::Go;
            }
        }
        each(&row, cells, problems)
    })
}

struct RowReader {
    occurred: OccurredReader,
    last_seq: Option<u64>,
}

impl RowReader {
    fn movement<'a>(
        &mut self,
        cells: &Cells<'a>,
        problems: &mut Problems,
    ) -> Option<MovementRow<'a>> {
        let p = problems;
        let id = cells.read(ID, p, movement_id);
        let occurred = cells.read(OCCURRED, p, |cell| self.occurred.read(cell));
        let outside = cells.read(OUTSIDE, p, |cell| optional_word(cell, &["yes", "no"]));
        let outside = outside.map(|word| word == Some("yes"));
        let kind = cells.read(KIND, p, kind);
        let refrigerant = cells.read(REFRIGERANT, p, refrigerant);
        let mass = cells.read(MASS, p, |cell| mass_cell(cell, cells.place(MASS)));
        let technician = cells.read(TECHNICIAN, p, text);
        let seq = cells.read(SEQ, p, |cell| self.seq(cell));
        let visit = cells.read(VISIT, p, optional_text);
        let kind = match (kind?, outside?) {
            (EntryKind::Charge, true) => EntryKind::OutsideCharge,
            (kind, false) => kind,
            (_, true) => {
                let bad = Bad::new("'no' or nothing", "Only a charge can come from outside.");
                cells.note(OUTSIDE, "yes", bad, p);
                return None;
            }
        };
        let reason = cells.read(REASON, p, |cell| reason(kind, cell));
        let (from, to) = ends(kind, cells, p)?;
        Some(MovementRow {
            row: cells.row,
            id: id?,
            occurred: occurred?,
            kind,
            from,
            to,
            refrigerant: refrigerant?,
            mass: mass?,
            technician: technician?,
            seq: seq?,
            visit: visit?,
            reason: reason?,
        })
    }

    fn seq(&mut self, cell: &str) -> Result<Option<u64>, Bad> {
        if cell.is_empty() && self.last_seq.is_none() {
            return Ok(None);
        }
        let plain = cell.bytes().all(|byte| byte.is_ascii_digit());
        let number: Option<u64> = cell.parse().ok().filter(|_| plain);
        let last = self.last_seq;
        match number {
            Some(number) if last.is_none_or(|last| number > last) => {
                self.last_seq = Some(number);
                Ok(Some(number))
            }
            _ => Err(Bad::new(
                last.map_or("a whole number".to_string(), |last| {
                    format!("a number above {last}")
                }),
                "seq is the order of recording and must ascend. Sort the file by it.",
            )),
        }
    }
}

fn movement_id(cell: &str) -> Result<MovementId<'_>, Bad> {
    match Id::parse(cell) {
        Some(id) => Ok(MovementId::Uuid(id)),
        None => text(cell).map(MovementId::Text),
    }
}

fn kind(cell: &str) -> Result<EntryKind, Bad> {
    // The frequent ones first: this runs once for every row.
    Ok(match cell {
        "charge" => EntryKind::Charge,
        "recover" => EntryKind::Recover,
        "opening" => EntryKind::Opening,
        "purchase" => EntryKind::Purchase,
        "transfer" => EntryKind::Transfer,
        "send_to_reclaim" => EntryKind::SendToReclaim,
        "send_to_destruction" => EntryKind::SendToDestruction,
        "loss" => EntryKind::Loss,
        _ => return super::cells::word(cell, &KINDS).map(|_| EntryKind::Charge),
    })
}

fn reason(kind: EntryKind, cell: &str) -> Result<Option<&'static str>, Bad> {
    match kind {
        EntryKind::Charge | EntryKind::OutsideCharge => optional_word(cell, &CHARGE_REASONS),
        EntryKind::Recover => optional_word(cell, &RECOVER_REASONS),
        _ => empty(cell, "Only charge and recover have a reason.").map(|()| None),
    }
}

/// The two ends of a movement: which of them the kind needs, and that they differ.
fn ends<'a>(
    kind: EntryKind,
    cells: &Cells<'a>,
    problems: &mut Problems,
) -> Option<(&'a str, &'a str)> {
    let from = cells.read(FROM, problems, |cell| match kind {
        EntryKind::Opening => empty(cell, "What opens the book comes from nowhere.").map(|()| ""),
        EntryKind::OutsideCharge if cell.is_empty() => Ok(""),
        EntryKind::OutsideCharge => empty(
            cell,
            "Refrigerant from outside is in none of our cylinders.",
        )
        .map(|()| ""),
        _ => tag(cell),
    });
    let to = cells.read(TO, problems, |cell| match kind {
        EntryKind::Loss if cell.is_empty() || cell == "atmosphere" => Ok(""),
        EntryKind::Loss => empty(cell, "A loss goes to the atmosphere.").map(|()| ""),
        _ => tag(cell),
    });
    let (from, to) = (from?, to?);
    if kind == EntryKind::Transfer && from == to {
        let bad = Bad::new(
            "another cylinder than in 'from'",
            "Name the cylinder that was filled.",
        );
        cells.note(TO, to, bad, problems);
        return None;
    }
    Some((from, to))
}
