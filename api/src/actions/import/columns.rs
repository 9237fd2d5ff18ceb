//! The columns that the three tables have, and the check of a header row.
//!
//! A column that nobody knows is refused by name rather than passed over: it would hold something
//! a person thought was imported. A column of masses carries its unit in its name.

use super::nearest::nearest;
use super::problems::{Bad, quoted};
use reports::mass::Unit;

/// A column that a table can have.
#[derive(Debug)]
pub struct Column {
    /// Its name; masses take a unit suffix besides.
    pub name: &'static str,
    /// Another name for the same column.
    pub also: Option<&'static str>,
    /// Whether the file must have it.
    pub needed: bool,
    /// Whether it holds masses.
    pub mass: bool,
}

impl Column {
    /// A column the file must have.
    pub const fn needed(name: &'static str) -> Column {
        Column {
            name,
            also: None,
            needed: true,
            mass: false,
        }
    }

    /// A column the file may have.
    pub const fn optional(name: &'static str) -> Column {
        Column {
            name,
            also: None,
            needed: false,
            mass: false,
        }
    }

    /// The same column, holding masses.
    pub const fn of_masses(self) -> Column {
        Column { mass: true, ..self }
    }

    /// The same column under a second name.
    pub const fn or(self, also: &'static str) -> Column {
        Column {
            also: Some(also),
            ..self
        }
    }
}

/// Where a column stands in a file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Place {
    /// Position in a row, from 0.
    pub at: usize,
    /// Its name in this file.
    pub name: String,
    /// The unit of its masses; `None` where they are texts with units, or no masses.
    pub unit: Option<Unit>,
}

/// The suffixes of mass columns.
const SUFFIXES: [(&str, Unit); 6] = [
    ("_lb", Unit::Pound),
    ("_oz", Unit::Ounce),
    ("_kg", Unit::Kilogram),
    ("_g", Unit::Gram),
    ("_mg", Unit::Milligram),
    ("_ug", Unit::Microgram),
];

/// The columns of a file, found in its header row.
#[derive(Debug)]
pub struct Header {
    /// By the position of the column in the table's list.
    pub places: Vec<Option<Place>>,
    /// Cells in a row.
    pub width: usize,
}

/// Finds the table's columns in a header row. Errors come with the name of the column they are
/// about, and all of them at once.
pub fn find(columns: &[Column], header: &[&str]) -> Result<Header, Vec<(Option<String>, Bad)>> {
    let mut places: Vec<Option<Place>> = columns.iter().map(|_| None).collect();
    let mut errors = Vec::new();
    for (at, name) in header.iter().enumerate() {
        let name = name.trim();
        let Some((index, unit)) = known(columns, name) else {
            errors.push((Some(name.to_string()), unknown(columns, name, header)));
            continue;
        };
        if let Some(earlier) = &places[index] {
            let expected = format!("one column for '{}'", columns[index].name);
            let remedy = format!("'{}' holds it already. Keep one of the two.", earlier.name);
            errors.push((Some(name.to_string()), Bad::new(expected, remedy)));
            continue;
        }
        places[index] = Some(Place {
            at,
            name: name.to_string(),
            unit,
        });
    }
    for (column, place) in columns.iter().zip(&places) {
        if column.needed && place.is_none() {
            errors.push((None, missing(column)));
        }
    }
    if errors.is_empty() {
        Ok(Header {
            places,
            width: header.len(),
        })
    } else {
        Err(errors)
    }
}

fn known(columns: &[Column], name: &str) -> Option<(usize, Option<Unit>)> {
    columns.iter().enumerate().find_map(|(index, column)| {
        if name == column.name || column.also == Some(name) {
            return Some((index, None));
        }
        let suffix = name.strip_prefix(column.name).filter(|_| column.mass)?;
        let (_, unit) = SUFFIXES.iter().find(|(known, _)| *known == suffix)?;
        Some((index, Some(*unit)))
    })
}

fn unknown(columns: &[Column], name: &str, header: &[&str]) -> Bad {
    let expected = "the name of a column of this table";
    if header.len() == 1 && name.contains([';', '\t']) {
        return Bad::new(
            "column names separated by commas",
            "Save the file as CSV with commas and decimal points.",
        );
    }
    let spelt = columns.iter().flat_map(|column| {
        let suffixes = SUFFIXES.iter().filter(|_| column.mass);
        let with_unit = suffixes.map(|(suffix, _)| format!("{}{suffix}", column.name));
        std::iter::once(column.name.to_string()).chain(with_unit)
    });
    let spelt: Vec<String> = spelt.collect();
    let advice = match nearest(name, spelt.iter().map(String::as_str)) {
        Some(near) => format!("Did you mean '{near}'?"),
        None => {
            let names: Vec<&str> = columns.iter().map(|column| column.name).collect();
            format!(
                "Take the column out or name it one of: {}.",
                names.join(", ")
            )
        }
    };
    Bad::new(expected, advice)
}

fn missing(column: &Column) -> Bad {
    let name = column.name;
    if column.mass {
        return Bad::new(
            format!("a column '{name}' or '{name}_kg' (or _lb, _oz, _g, _mg, _ug)"),
            "Add it; a column without a unit holds texts such as 7 lb 10 oz.",
        );
    }
    Bad::new(
        format!("a column {}", quoted(name)),
        "Add it; its cells may not be empty.",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    const COLUMNS: [Column; 3] = [
        Column::needed("tag"),
        Column::needed("mass").of_masses(),
        Column::optional("installed_on").or("commissioned_on"),
    ];

    fn errors(header: &[&str]) -> String {
        let errors = find(&COLUMNS, header).unwrap_err().into_iter();
        let words = errors.map(|(name, bad)| format!("{name:?} {} {}", bad.expected, bad.remedy));
        words.collect::<Vec<_>>().join("\n")
    }

    #[test]
    fn columns_are_found_in_any_order_with_their_units() {
        let header = find(&COLUMNS, &["commissioned_on", " mass_oz", "tag"]).unwrap();
        assert_eq!(header.width, 3);
        let mass = header.places[1].clone().unwrap();
        assert_eq!((mass.at, mass.unit), (1, Some(Unit::Ounce)));
        assert_eq!(header.places[2].clone().unwrap().at, 0);
        let plain = find(&COLUMNS, &["tag", "mass"]).unwrap();
        assert_eq!(plain.places[1].clone().unwrap().unit, None);
        assert_eq!(plain.places[2], None);
    }

    #[test]
    fn unknown_missing_and_doubled_columns_are_named() {
        assert!(errors(&["tag", "mass_k"]).contains("Did you mean 'mass_kg'?"));
        assert!(errors(&["tag", "mass_lbs"]).contains("Did you mean 'mass_lb'?"));
        assert!(errors(&["tag", "mass_kg", "colour"]).contains("one of: tag, mass, installed_on"));
        assert!(errors(&["tag"]).contains("'mass' or 'mass_kg'"));
        assert!(errors(&["tag", "mass_kg", "mass_lb"]).contains("'mass_kg' holds it already"));
        let both = ["tag", "mass", "installed_on", "commissioned_on"];
        assert!(errors(&both).contains("'installed_on' holds it already"));
        assert!(errors(&["tag;mass_kg"]).contains("commas"));
        assert!(
            errors(&["tag_kg", "mass"]).contains("'tag'"),
            "only masses carry a unit"
        );
    }
}
