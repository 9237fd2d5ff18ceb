//! Cylinders that a posting may mean: those that hold the refrigerant, and those with room for it.
//!
//! It only helps the memory at the unit. What must not be poured is judged when it is posted, by
//! [`judge`](crate::actions::judge), whatever was offered here.

use super::reading;
use crate::actions::judge::{cut_text, limit_of};
use crate::actions::refusal::ActionError;
use crate::ledger::id::Id;
use crate::store::book::Brief;
use crate::store::columns::{Class, PlaceNumber, Sort};
use crate::store::listing::{self, FindingKey, FindingsWanted, ThingRow};
use crate::store::open::Organisation;
use crate::store::{Db, StoreError, entries_about};
use reports::day::Day;
use reports::mass;
use reports::refrigerant::Table;

/// Cylinders that are looked at: a firm has hundreds, and the form must come at once.
const LOOKED_AT: usize = 500;

/// A cylinder that fits.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fitting {
    /// Its tag.
    pub tag: String,
    /// `R-410A, 24 lb 0 oz`, `R-410A, suspect, room for 4 lb 2 oz`.
    pub says: String,
}

/// What a cylinder is wanted for.
struct Wanted<'a> {
    refrigerant: &'a str,
    /// The owner of the appliance; none: it is not known.
    owner: Option<Id>,
    most: usize,
    /// For a charge?
    draws: bool,
}

/// At most `most` cylinders a charge of an appliance of this owner with this refrigerant may come from:
/// by tag, those with something to look at after the others.
pub fn to_charge(
    db: &mut Db,
    of: &Organisation,
    refrigerant: &str,
    owner: Option<Id>,
    most: usize,
) -> Result<Vec<Fitting>, ActionError> {
    let wanted = Wanted {
        refrigerant,
        owner,
        most,
        draws: true,
    };
    looked_at(db, of, &wanted, |row, _, held, table| {
        let code = table.code(refrigerant)?;
        let mass = held.iter().find(|(of, mass)| *of == code && *mass > 0)?.1;
        let alone = held.iter().all(|(of, _)| *of == code);
        (alone && row.quarantine.is_none()).then(|| mass::lb_oz_text(mass))
    })
}

/// At most `most` cylinders that may take this refrigerant on a day, in the same order.
pub fn to_recover(
    db: &mut Db,
    of: &Organisation,
    refrigerant: &str,
    owner: Option<Id>,
    on: Day,
    most: usize,
) -> Result<Vec<Fitting>, ActionError> {
    let wanted = Wanted {
        refrigerant,
        owner,
        most,
        draws: false,
    };
    looked_at(db, of, &wanted, |row, brief, held, table: &Table| {
        let code = table.code(refrigerant)?;
        let usable = brief.usage.as_deref() == Some("recovery")
            && brief.condition.as_deref() != Some("condemned")
            && brief.retest_on.is_none_or(|due| due >= on)
            && row.quarantine.is_none()
            && held.iter().all(|(of, _)| *of == code);
        let total: i128 = held.iter().map(|(_, mass)| mass).sum();
        let limit = limit_of(brief, table, &[code], false);
        let room = limit.map(|limit| i128::from(limit.limit.steps()) - total);
        match room {
            _ if !usable => None,
            Some(room) if room <= 0 => None,
            Some(room) => Some(format!("room for {}", cut_text(room))),
            None => Some("room not known".to_string()),
        }
    })
}

type Held = Vec<(u16, i128)>;

fn looked_at(
    db: &mut Db,
    of: &Organisation,
    wanted: &Wanted<'_>,
    says: impl Fn(&ThingRow, &Brief, &Held, &Table) -> Option<String>,
) -> Result<Vec<Fitting>, ActionError> {
    let table = Table::shipped();
    reading(db, of, |db| {
        let rows = listing::things_after(db, of.org, Sort::Cylinder, "", LOOKED_AT)?;
        let high = with_high_findings(db, of)?;
        let (mut good, mut doubtful) = (Vec::new(), Vec::new());
        for row in &rows {
            if good.len() == wanted.most {
                break;
            }
            let held: Result<Held, StoreError> = listing::balances(db, of.org, row.place);
            let held = held?;
            let Some(said) = says(row, &Brief::of(&row.dossier, table), &held, table) else {
                continue;
            };
            let (owners, class) = entries_about::content(db, of.org, row.place)?;
            // What is mixed, or nobody's alone, no appliance gets.
            if wanted.draws && (class == Class::Mixed || owners.len() > 1) {
                continue;
            }
            let class = match held.is_empty() {
                true => class,
                false => class.with_content(&[wanted.refrigerant]),
            };
            let mut parts: Vec<String> = Vec::new();
            if !held.is_empty() {
                parts.push(wanted.refrigerant.to_string());
            }
            parts.extend(condition(class).map(str::to_string));
            if high.contains(&row.place) {
                parts.push("open finding".to_string());
            }
            let others = owners.iter().filter(|owner| Some(**owner) != wanted.owner);
            for other in others {
                let row = listing::thing(db, of.org, Sort::Counterparty, &other.to_string())?;
                parts.push(format!("of {}", row.map_or(String::new(), |row| row.tag)));
            }
            let is_good = parts.len() == usize::from(!held.is_empty());
            parts.push(said);
            let fitting = Fitting {
                tag: row.tag.clone(),
                says: parts.join(", "),
            };
            match is_good {
                true => good.push(fitting),
                false => doubtful.push(fitting),
            }
        }
        good.extend(doubtful);
        good.truncate(wanted.most);
        Ok(good)
    })
}

/// A condition that somebody should know before it is taken.
fn condition(class: Class) -> Option<&'static str> {
    match class {
        Class::NotStated | Class::Clean => None,
        Class::BurnOut => Some("from a burn-out"),
        Class::Unknown => Some("condition not known"),
        other => other.word(),
    }
}

/// Places about which a finding of the highest grade is open.
fn with_high_findings(db: &mut Db, of: &Organisation) -> Result<Vec<PlaceNumber>, StoreError> {
    let first = FindingKey {
        seq: -1,
        ..FindingKey::default()
    };
    let wanted = FindingsWanted {
        grade: "high",
        ..FindingsWanted::default()
    };
    let rows = listing::findings_after(db, of.org, &first, &wanted, LOOKED_AT)?;
    Ok(rows.into_iter().map(|row| row.number).collect())
}
