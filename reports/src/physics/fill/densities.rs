//! Liquid densities at the temperatures of the fill rules, as decimals.
//!
//! They have a table of their own, cut to 0.01 kg/m³ and never rounded up, so that a stop does not
//! hang on how a curve was drawn. A refrigerant without densities in it gets those of its
//! manufacturer, with their source.

use crate::number::Decimal;
use crate::physics::problem::{Problem, ProblemCode};
use std::collections::HashMap;
use std::sync::LazyLock;

/// The shipped densities, as CSV.
pub static FILL_DENSITIES_BYTES: &[u8] = include_bytes!("../../../data/physics/fill-densities.csv");

/// A temperature that a fill rule names.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum FillTemperature {
    /// 25 °C, 77 °F.
    At25,
    /// 50 °C.
    At50,
    /// 54.44 °C, 130 °F.
    At54,
    /// 55 °C, 131 °F.
    At55,
    /// 60 °C.
    At60,
}

impl FillTemperature {
    /// All of them, rising.
    pub const ALL: [FillTemperature; 5] = [
        FillTemperature::At25,
        FillTemperature::At50,
        FillTemperature::At54,
        FillTemperature::At55,
        FillTemperature::At60,
    ];

    /// Its word in the tables, in degrees Celsius: `54_44`.
    pub const fn word(self) -> &'static str {
        match self {
            FillTemperature::At25 => "25",
            FillTemperature::At50 => "50",
            FillTemperature::At54 => "54_44",
            FillTemperature::At55 => "55",
            FillTemperature::At60 => "60",
        }
    }

    /// The temperature of a word.
    pub fn from_word(word: &str) -> Option<FillTemperature> {
        FillTemperature::ALL
            .into_iter()
            .find(|at| at.word() == word)
    }
}

/// Densities of many refrigerants.
#[derive(Clone, Debug)]
pub struct FillDensities {
    rows: Vec<Row>,
    by_designation: HashMap<String, usize>,
}

#[derive(Clone, Debug)]
struct Row {
    refrigerant: String,
    source: String,
    kg_m3: [Option<Decimal>; 5],
}

/// A manufacturer's liquid densities, for a refrigerant that has none or other ones.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AddedDensities {
    /// The designation of the refrigerant.
    pub refrigerant: String,
    /// Who published them, under which title, when.
    pub source: String,
    /// kg/m³ at the temperatures of [`FillTemperature::ALL`].
    pub kg_m3: [Option<Decimal>; 5],
}

impl FillDensities {
    /// The densities that are compiled in.
    ///
    /// # Panics
    /// When the compiled-in file is broken, which a test would have said.
    pub fn shipped() -> &'static FillDensities {
        static SHIPPED: LazyLock<FillDensities> =
            LazyLock::new(|| match FillDensities::read(FILL_DENSITIES_BYTES) {
                Ok(densities) => densities,
                Err(problem) => panic!("the compiled-in densities: {problem}"),
            });
        &SHIPPED
    }

    /// Reads densities in the form of the shipped ones.
    ///
    /// # Errors
    /// [`ProblemCode::BadTable`].
    pub fn read(bytes: &[u8]) -> Result<FillDensities, Problem> {
        let mut densities = FillDensities {
            rows: Vec::new(),
            by_designation: HashMap::new(),
        };
        let mut reader = csv::ReaderBuilder::new()
            .comment(Some(b'#'))
            .from_reader(bytes);
        for line in reader.records() {
            let line = line.map_err(|error| bad("a row of densities", &error.to_string()))?;
            let text = format!("{line:?}");
            let name = line.get(0).filter(|name| !name.is_empty());
            let mut kg_m3 = [None; 5];
            for (at, cell) in kg_m3.iter_mut().enumerate() {
                let text_of_cell = line.get(at + 1).unwrap_or_default();
                let number = Decimal::parse(text_of_cell);
                if number.is_none() && !text_of_cell.is_empty() {
                    return Err(bad("decimals or nothing", &text));
                }
                *cell = number;
            }
            densities.put(Row {
                refrigerant: name.ok_or_else(|| bad("a refrigerant", &text))?.to_owned(),
                source: "CoolProp 8.0.0".to_owned(),
                kg_m3,
            })?;
        }
        Ok(densities)
    }

    /// These and a manufacturer's, which take the place of those of the same refrigerant.
    ///
    /// # Errors
    /// [`ProblemCode::BadTable`]; [`ProblemCode::Missing`] without a source.
    pub fn with(&self, added: &AddedDensities) -> Result<FillDensities, Problem> {
        if added.source.trim().is_empty() {
            return Err(Problem::missing(
                "source",
                "who published the densities, under which title and when",
                "Write it from the sheet: it stands beside every limit from these densities.",
            ));
        }
        let mut densities = self.clone();
        densities.put(Row {
            refrigerant: added.refrigerant.clone(),
            source: added.source.clone(),
            kg_m3: added.kg_m3,
        })?;
        Ok(densities)
    }

    /// The density of a liquid in kg/m³.
    pub fn of(&self, designation: &str, at: FillTemperature) -> Option<Decimal> {
        let row = &self.rows[*self.by_designation.get(designation)?];
        row.kg_m3[at as usize]
    }

    /// Where the densities of a refrigerant come from.
    pub fn source_of(&self, designation: &str) -> Option<&str> {
        let at = self.by_designation.get(designation)?;
        Some(&self.rows[*at].source)
    }

    /// Whether the fill rules can be worked out for it: it is a liquid up to 60 °C and its densities
    /// are known. Others are high-pressure gases, or have no table.
    pub fn are_complete(&self, designation: &str) -> bool {
        let at = [
            FillTemperature::At25,
            FillTemperature::At50,
            FillTemperature::At60,
        ];
        at.iter().all(|at| self.of(designation, *at).is_some())
    }

    /// All refrigerants with a row.
    pub fn refrigerants(&self) -> impl Iterator<Item = &str> {
        self.rows.iter().map(|row| row.refrigerant.as_str())
    }

    fn put(&mut self, row: Row) -> Result<(), Problem> {
        let known: Vec<Decimal> = row.kg_m3.iter().flatten().copied().collect();
        let falling = known.windows(2).all(|pair| pair[0] > pair[1]);
        if !falling || known.iter().any(|density| *density <= Decimal::from(0)) {
            let expected = "densities above zero that fall with temperature";
            return Err(bad(expected, &format!("{}: {known:?}", row.refrigerant)));
        }
        match self.by_designation.get(&row.refrigerant) {
            Some(at) => self.rows[*at] = row,
            None => {
                let at = self.rows.len();
                self.by_designation.insert(row.refrigerant.clone(), at);
                self.rows.push(row);
            }
        }
        Ok(())
    }
}

fn bad(expected: &str, came: &str) -> Problem {
    Problem::new(
        ProblemCode::BadTable,
        "densities",
        expected,
        came,
        "Compare the row with the published table: a digit or a unit may be wrong.",
    )
}
