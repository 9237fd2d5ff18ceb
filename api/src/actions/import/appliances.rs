//! Rows of an appliances file.

use super::cells::{
    day, decimal, optional_text, optional_word, refrigerant, region, tag, word, zone,
};
use super::columns::Column;
use super::file::ImportFile;
use super::mass_cell::{MassCell, mass_cell};
use super::problems::{Bad, Problems};
use super::seen::Seen;
use super::table::{Cells, FileFacts, Flow, read};
use reports::day::Day;
use reports::number::Decimal;

/// One appliance of a file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ApplianceRow<'a> {
    /// Row of the file (the header is row 1).
    pub row: u64,
    /// Its tag.
    pub tag: &'a str,
    /// Tag of its site.
    pub site: &'a str,
    /// Category, a word of the rules.
    pub category: &'static str,
    /// Code of its refrigerant in the table.
    pub refrigerant: u16,
    /// Full charge; `None` where it is recorded as unknown.
    pub full_charge: Option<MassCell<'a>>,
    /// How the full charge was found.
    pub full_charge_method: Option<&'static str>,
    /// Since when it is there.
    pub installed: Day,
    /// Tag of the machine whose circuit it is.
    pub machine: Option<&'a str>,
    /// Its zone; without one its site's, else the import's.
    pub zone: Option<&'static str>,
    /// Its region.
    pub region: Option<&'a str>,
    /// Where it stands, in words.
    pub place: Option<&'a str>,
    /// Serial number.
    pub serial: Option<&'a str>,
    /// Who owns it.
    pub owner: Option<&'a str>,
    /// Further facts that rules ask for.
    pub facts: Vec<(&'static str, FactCell)>,
}

/// The value of a further fact.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum FactCell {
    /// A word of a closed list.
    Word(&'static str),
    /// A number.
    Number(Decimal),
}

/// Categories that rules know.
pub const CATEGORIES: [&str; 7] = [
    "commercial_refrigeration",
    "industrial_process",
    "comfort_cooling",
    "refrigerated_transport",
    "other_refrigeration",
    "residential_light_commercial_ac",
    "other",
];

/// Ways in which a full charge is found. A range has two ends and cannot stand in one cell.
pub const METHODS: [&str; 3] = ["maker_data", "calculation", "measurement"];

/// Further facts that are words, with the words they may hold.
const WORD_FACTS: [(&str, &[&str]); 12] = [
    ("equipment", &["switchgear", "rankine", "other"]),
    ("owner_class", &["federal", "private", "other"]),
    ("land", &["federal", "aboriginal", "other"]),
    ("hermetic", YES_NO),
    ("residential", YES_NO),
    ("detector", YES_NO),
    ("mobile", YES_NO),
    ("process_shutdown", YES_NO),
    ("evacuated", YES_NO),
    ("ghg_reporter", YES_NO),
    ("year_round", YES_NO),
    ("indoors", YES_NO),
];
const YES_NO: &[&str] = &["yes", "no"];

const TAG: usize = 0;
const SITE: usize = 1;
const CATEGORY: usize = 2;
const REFRIGERANT: usize = 3;
const FULL_CHARGE: usize = 4;
const INSTALLED: usize = 5;
const METHOD: usize = 6;
const MACHINE: usize = 7;
/// Place of the zone in the table's columns.
pub const ZONE: usize = 8;
const REGION: usize = 9;
const PLACE: usize = 10;
const SERIAL: usize = 11;
const OWNER: usize = 12;
const MOTOR: usize = 13;
const FIRST_FACT: usize = 14;

const COLUMNS: [Column; FIRST_FACT + WORD_FACTS.len()] = {
    let mut columns = [const { Column::optional("") }; FIRST_FACT + WORD_FACTS.len()];
    columns[TAG] = Column::needed("appliance");
    columns[SITE] = Column::needed("site");
    columns[CATEGORY] = Column::needed("category");
    columns[REFRIGERANT] = Column::needed("refrigerant");
    columns[FULL_CHARGE] = Column::needed("full_charge").of_masses();
    columns[INSTALLED] = Column::needed("commissioned_on").or("installed_on");
    columns[METHOD] = Column::optional("full_charge_method");
    columns[MACHINE] = Column::optional("machine");
    columns[ZONE] = Column::optional("zone");
    columns[REGION] = Column::optional("region");
    columns[PLACE] = Column::optional("place");
    columns[SERIAL] = Column::optional("serial");
    columns[OWNER] = Column::optional("owner");
    columns[MOTOR] = Column::optional("motor_kw");
    let mut fact = 0;
    while fact < WORD_FACTS.len() {
        columns[FIRST_FACT + fact] = Column::optional(WORD_FACTS[fact].0);
        fact += 1;
    }
    columns
};

/// Reads a file of appliances; `each` is called with every row that is good by itself.
pub fn read_appliances<'f>(
    file: impl Into<ImportFile<'f>>,
    problems: &mut Problems,
    mut each: impl FnMut(&ApplianceRow<'_>, &Cells<'_>, &mut Problems) -> Flow,
) -> Option<FileFacts> {
    let mut seen = Seen::default();
    read(file, &COLUMNS, problems, |cells, problems| {
        let row = appliance(cells, problems);
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

/// Reads a row; each bad cell is noted, and one is enough for the row not to come back.
fn appliance<'a>(cells: &Cells<'a>, problems: &mut Problems) -> Option<ApplianceRow<'a>> {
    let p = problems;
    let own_tag = cells.read(TAG, p, tag);
    let site = cells.read(SITE, p, tag);
    let category = cells.read(CATEGORY, p, |cell| word(cell, &CATEGORIES));
    let refrigerant = cells.read(REFRIGERANT, p, refrigerant);
    let full_charge = cells.read(FULL_CHARGE, p, |cell| match cell {
        "" | "unknown" => Ok(None),
        _ => mass_cell(cell, cells.place(FULL_CHARGE)).map(Some),
    });
    let installed = cells.read(INSTALLED, p, day);
    let method = cells.read(METHOD, p, |cell| optional_word(cell, &METHODS));
    let machine = cells.read(MACHINE, p, optional_text);
    let own_zone = cells.read(ZONE, p, |cell| optional(cell, zone));
    let own_region = cells.read(REGION, p, |cell| optional(cell, region));
    let place = cells.read(PLACE, p, optional_text);
    let serial = cells.read(SERIAL, p, optional_text);
    let owner = cells.read(OWNER, p, optional_text);
    let facts = facts(cells, p);
    if let (Some(None), Some(Some(_))) = (&full_charge, &method) {
        let bad = Bad::new("no method for an unknown full charge", "Empty the cell.");
        cells.note(METHOD, cells.text(METHOD), bad, p);
        return None;
    }
    Some(ApplianceRow {
        row: cells.row,
        tag: own_tag?,
        site: site?,
        category: category?,
        refrigerant: refrigerant?,
        full_charge: full_charge?,
        full_charge_method: method?,
        installed: installed?,
        machine: machine?,
        zone: own_zone?,
        region: own_region?,
        place: place?,
        serial: serial?,
        owner: owner?,
        facts: facts?,
    })
}

fn facts(cells: &Cells<'_>, problems: &mut Problems) -> Option<Vec<(&'static str, FactCell)>> {
    let mut facts = Vec::new();
    let mut good = true;
    for (fact, (name, words)) in WORD_FACTS.iter().enumerate() {
        match cells.read(FIRST_FACT + fact, problems, |cell| {
            optional_word(cell, words)
        }) {
            Some(Some(word)) => facts.push((*name, FactCell::Word(word))),
            Some(None) => {}
            None => good = false,
        }
    }
    match cells.read(MOTOR, problems, |cell| optional(cell, decimal)) {
        Some(Some(number)) => facts.push(("motor_kw", FactCell::Number(number))),
        Some(None) => {}
        None => good = false,
    }
    good.then_some(facts)
}

fn optional<'a, T>(
    cell: &'a str,
    read: impl FnOnce(&'a str) -> Result<T, Bad>,
) -> Result<Option<T>, Bad> {
    if cell.is_empty() {
        Ok(None)
    } else {
        read(cell).map(Some)
    }
}
