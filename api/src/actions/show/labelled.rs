//! What a label or a nameplate names: a code of ours, or a foreign serial number as an alias.

use super::reading;
use super::things::{self, ThingShown};
use crate::actions::code::{self, Typed};
use crate::actions::refusal::ActionError;
use crate::store::columns::Sort;
use crate::store::open::Organisation;
use crate::store::{Db, labelled, listing};
use serde_json::Value;

/// Facts whose text is another name of the thing.
const ALIASES: [&str; 2] = ["serial", "equipment_tag"];
/// Things that one alias is looked up for.
const MOST: i64 = 20;

/// What a text names.
#[derive(Clone, Debug, PartialEq)]
pub enum Named {
    /// These things: one, unless two share a code or a serial number.
    Things(Vec<(Sort, ThingShown)>),
    /// A code in which a character is wrong.
    Slip,
    /// Nothing of this book.
    Nothing,
}

/// Looks up what a label says or a person typed.
pub fn named(db: &mut Db, of: &Organisation, typed: &str) -> Result<Named, ActionError> {
    reading(db, of, |db| {
        let mut found = Vec::new();
        match code::read(typed) {
            Typed::Code(sort, asked) => {
                for id in labelled::ids(db, of.org, sort)? {
                    if code::of(sort, id).as_ref() == Some(&asked) {
                        let row = listing::thing(db, of.org, sort, &id.to_string())?;
                        if let Some(row) = row {
                            found.push((sort, things::show(db, of, sort, row)?));
                        }
                    }
                }
            }
            Typed::Slip => {
                found = aliases(db, of, typed)?;
                if found.is_empty() {
                    return Ok(Named::Slip);
                }
            }
            Typed::Other => {}
        }
        if found.is_empty() {
            found = aliases(db, of, typed)?;
        }
        Ok(match found.is_empty() {
            true => Named::Nothing,
            false => Named::Things(found),
        })
    })
}

/// Things with this serial number as it is written on them, else whatever the case of its letters.
fn aliases(
    db: &mut Db,
    of: &Organisation,
    typed: &str,
) -> Result<Vec<(Sort, ThingShown)>, ActionError> {
    let typed = typed.trim();
    if typed.is_empty() || typed.len() > 200 || typed.chars().any(char::is_control) {
        return Ok(Vec::new());
    }
    let (mut found, mut folded) = (Vec::new(), Vec::new());
    for sort in [Sort::Appliance, Sort::Cylinder] {
        for id in labelled::holding(db, of.org, sort, typed, MOST)? {
            let Some(row) = listing::thing(db, of.org, sort, &id.to_string())? else {
                continue;
            };
            let said = ALIASES.iter();
            let said = said.filter_map(|name| row.dossier.newest(name).and_then(Value::as_str));
            let said: Vec<&str> = said.collect();
            let into = match said.contains(&typed) {
                true => &mut found,
                false if said.iter().any(|is| is.eq_ignore_ascii_case(typed)) => &mut folded,
                false => continue,
            };
            into.push((sort, things::show(db, of, sort, row)?));
        }
    }
    Ok(match found.is_empty() {
        true => folded,
        false => found,
    })
}
