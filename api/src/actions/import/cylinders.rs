//! Rows of a cylinders file.

use super::cells::{day, optional_text, refrigerant, tag, word};
use super::columns::Column;
use super::file::ImportFile;
use super::mass_cell::{MassCell, mass_cell};
use super::problems::{Bad, Problems};
use super::seen::Seen;
use super::table::{Cells, FileFacts, Flow, read};
use reports::day::Day;

/// One cylinder of a file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CylinderRow<'a> {
    /// Row of the file (the header is row 1).
    pub row: u64,
    /// Its tag.
    pub tag: &'a str,
    /// Code of what it is for; none yet for a recovery cylinder that was never filled.
    pub refrigerant: Option<u16>,
    /// What it is used for.
    pub use_: CylinderUse,
    /// How much it takes.
    pub capacity: MassCell<'a>,
    /// Its weight when empty.
    pub tare: Option<MassCell<'a>>,
    /// Mass of water it holds.
    pub water_capacity: Option<MassCell<'a>>,
    /// Day of the next test of the shell.
    pub retest_on: Option<Day>,
    /// Who owns it.
    pub owner: Option<&'a str>,
}

/// What a cylinder is used for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CylinderUse {
    /// New or reclaimed refrigerant, refilled by the supplier.
    Supply,
    /// Recovered refrigerant.
    Recovery,
    /// New refrigerant, filled once.
    Disposable,
}

impl CylinderUse {
    /// The word of the file and of the entry.
    pub const fn word(self) -> &'static str {
        match self {
            CylinderUse::Supply => "supply",
            CylinderUse::Recovery => "recovery",
            CylinderUse::Disposable => "disposable",
        }
    }
}

const TAG: usize = 0;
const REFRIGERANT: usize = 1;
const USE: usize = 2;
const CAPACITY: usize = 3;
const TARE: usize = 4;
const WATER: usize = 5;
const RETEST: usize = 6;
const OWNER: usize = 7;

const COLUMNS: [Column; 8] = [
    Column::needed("cylinder"),
    Column::needed("refrigerant"),
    Column::needed("use"),
    Column::needed("capacity").of_masses(),
    Column::optional("tare").of_masses(),
    Column::optional("water_capacity").of_masses(),
    Column::optional("retest_on"),
    Column::optional("owner"),
];

/// Reads a file of cylinders; `each` is called with every row that is good by itself.
pub fn read_cylinders<'f>(
    file: impl Into<ImportFile<'f>>,
    problems: &mut Problems,
    mut each: impl FnMut(&CylinderRow<'_>, &Cells<'_>, &mut Problems) -> Flow,
) -> Option<FileFacts> {
    let mut seen = Seen::default();
    read(file, &COLUMNS, problems, |cells, problems| {
        let row = cylinder(cells, problems);
        if let Some(earlier) = seen.text(cells.text(TAG), cells.row) {
            let remedy = format!("Row {earlier} has it already. Take one of the two out.");
            cells.note(
                TAG,
                cells.text(TAG),
                Bad::new("a tag of its own", remedy),
                problems,
            );
            return Flow::Go;
        }
        row.map_or(Flow::Go, |row| each(&row, cells, problems))
    })
}

fn cylinder<'a>(cells: &Cells<'a>, problems: &mut Problems) -> Option<CylinderRow<'a>> {
    let p = problems;
    let own_tag = cells.read(TAG, p, tag);
    let use_ = cells.read(USE, p, |cell| {
        match word(cell, &["supply", "recovery", "disposable"])? {
            "supply" => Ok(CylinderUse::Supply),
            "recovery" => Ok(CylinderUse::Recovery),
            _ => Ok(CylinderUse::Disposable),
        }
    });
    let refrigerant = cells.read(REFRIGERANT, p, |cell| match (cell, use_) {
        ("", Some(CylinderUse::Recovery) | None) => Ok(None),
        _ => refrigerant(cell).map(Some),
    });
    let capacity = cells.read(CAPACITY, p, |cell| mass_cell(cell, cells.place(CAPACITY)));
    let mut mass = |column| {
        cells.read(column, p, |cell| match cell {
            "" => Ok(None),
            _ => mass_cell(cell, cells.place(column)).map(Some),
        })
    };
    let (tare, water_capacity) = (mass(TARE), mass(WATER));
    let retest_on = cells.read(RETEST, p, |cell| match cell {
        "" => Ok(None),
        _ => day(cell).map(Some),
    });
    let owner = cells.read(OWNER, p, optional_text);
    Some(CylinderRow {
        row: cells.row,
        tag: own_tag?,
        refrigerant: refrigerant?,
        use_: use_?,
        capacity: capacity?,
        tare: tare?,
        water_capacity: water_capacity?,
        retest_on: retest_on?,
        owner: owner?,
    })
}
