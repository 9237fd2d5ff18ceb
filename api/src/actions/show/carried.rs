//! What a phone carries of all cylinders, so that it can ask without signal what the book would ask
//! of a posting: what is in each, how much may be in it, whose it is, and whether it may be filled.
//!
//! It is as old as the page that was kept; the book judges again when the entry is booked.

use super::{findings, reading};
use crate::actions::code;
use crate::actions::judge::{limit_of, rule_text};
use crate::actions::refusal::ActionError;
use crate::store::book::Brief;
use crate::store::columns::{PlaceNumber, Sort};
use crate::store::listing::{self, FindingKey, FindingsWanted};
use crate::store::open::Organisation;
use crate::store::{Db, StoreError, entries_about};
use reports::mass::Mass;
use reports::physics::FillDensities;
use reports::refrigerant::Table;
use serde::Serialize;
use serde_json::Value;
use std::collections::BTreeMap;

/// Cylinders that are carried: a firm has hundreds.
const MOST: usize = 500;

/// Appliances whose tags are carried.
const MOST_UNITS: usize = 2_000;

/// Open findings that are gone through for all cylinders together.
const MOST_FINDINGS: usize = 5_000;

/// Open findings that are carried of one cylinder.
const MOST_OF_ONE: usize = 4;

/// An appliance by name, so that a phone without signal knows that the book has it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unit {
    /// Its id.
    pub id: String,
    /// Its tag.
    pub tag: String,
    /// The id of its site.
    pub site: Option<String>,
}

/// The appliances of an organisation, by tag.
pub fn units(db: &mut Db, of: &Organisation) -> Result<Vec<Unit>, ActionError> {
    reading(db, of, |db| {
        let rows = listing::things_after(db, of.org, Sort::Appliance, "", MOST_UNITS)?;
        let unit = |row: listing::ThingRow| Unit {
            id: row.id.to_string(),
            site: (row.dossier.newest("site").and_then(Value::as_str)).map(str::to_string),
            tag: row.tag,
        };
        Ok(rows.into_iter().map(unit).collect())
    })
}

/// One cylinder. What is not known is left out.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Carried {
    /// Its tag.
    pub tag: String,
    /// The code of its label, without groups.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub code: Option<String>,
    /// Its serial number.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub serial: Option<String>,
    /// Who has it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub held_by: Option<String>,
    /// Its use: supply, recovery, disposable.
    #[serde(rename = "use", skip_serializing_if = "Option::is_none")]
    pub usage: Option<String>,
    /// In service, condemned, retired.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub condition: Option<String>,
    /// The day its retest falls due.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub retest_on: Option<String>,
    /// The entry that put it under quarantine.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub quarantine: Option<u64>,
    /// Grams it weighs empty.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tare: Option<String>,
    /// Grams of water it would hold.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub water: Option<String>,
    /// Grams that are marked on it as the most.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub marking: Option<String>,
    /// Refrigerant and grams of what is in it.
    pub holds: Vec<(String, String)>,
    /// The strictest condition of what is in it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub class: Option<&'static str>,
    /// Ids of the owners of recovered content.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub owners: Vec<String>,
    /// Tags of the same owners.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub whose: Vec<String>,
    /// What is open about it, the gravest first: whether it is of the highest grade, and what it says.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub findings: Vec<(bool, String)>,
}

/// Open findings by what they are about, of each at most a few, the gravest first.
fn open_findings(
    db: &mut Db,
    org: i64,
) -> Result<BTreeMap<PlaceNumber, Vec<(bool, String)>>, StoreError> {
    let start = FindingKey {
        seq: -1,
        ..FindingKey::default()
    };
    let wanted = FindingsWanted::default();
    let rows = listing::findings_after(db, org, &start, &wanted, MOST_FINDINGS)?;
    let mut found: BTreeMap<PlaceNumber, Vec<(bool, String)>> = BTreeMap::new();
    for row in rows {
        let place = row.number;
        let shown = findings::show(row);
        let said = (shown.grade == "high", shown.text);
        found.entry(place).or_default().push(said);
    }
    for of_one in found.values_mut() {
        of_one.sort_by_key(|(high, _)| !high);
        of_one.truncate(MOST_OF_ONE);
    }
    Ok(found)
}

/// The cylinders of an organisation, by tag.
pub fn cylinders(db: &mut Db, of: &Organisation) -> Result<Vec<Carried>, ActionError> {
    let table = Table::shipped();
    reading(db, of, |db| {
        let rows = listing::things_after(db, of.org, Sort::Cylinder, "", MOST)?;
        let mut carried = Vec::with_capacity(rows.len());
        let mut found = open_findings(db, of.org)?;
        for row in rows {
            let brief = Brief::of(&row.dossier, table);
            let held = listing::balances(db, of.org, row.place)?;
            let (owners, class) = match held.is_empty() {
                true => Default::default(),
                false => entries_about::content(db, of.org, row.place)?,
            };
            let inside = held.iter().filter(|(_, steps)| *steps > 0);
            let names = inside.filter_map(|(code, _)| table.designation(*code));
            let class = class.with_content(&names.collect::<Vec<_>>());
            let grams = |mass: Mass| mass.to_string();
            let held = held.into_iter().filter_map(|(code, steps)| {
                let mass = Mass::from_steps(i64::try_from(steps).ok()?);
                Some((table.designation(code)?.to_string(), grams(mass)))
            });
            let text = |name: &str| {
                let known = row.dossier.newest(name).and_then(Value::as_str);
                known.map(str::to_string)
            };
            let mut whose = Vec::with_capacity(owners.len());
            for owner in &owners {
                let owner = listing::thing(db, of.org, Sort::Counterparty, &owner.to_string())?;
                whose.extend(owner.map(|owner| owner.tag));
            }
            carried.push(Carried {
                code: code::of(Sort::Cylinder, row.id),
                serial: text("serial"),
                findings: found.remove(&row.place).unwrap_or_default(),
                held_by: text("held_by"),
                whose,
                tag: row.tag,
                usage: brief.usage,
                condition: brief.condition,
                retest_on: brief.retest_on.map(|day| day.to_string()),
                quarantine: row.quarantine,
                tare: brief.tare.map(grams),
                water: brief.water_capacity.map(grams),
                marking: brief.capacity.map(grams),
                holds: held.collect(),
                class: class.word(),
                owners: owners.iter().map(ToString::to_string).collect(),
            });
        }
        Ok(carried)
    })
}

/// The most that may be in a cylinder that would hold a tonne of water, by refrigerant: grams, and
/// the rule in words. Every rule is a share of the water, so that a phone can take its own share.
/// `unknown` stands for every content that is not in the list.
pub fn limits() -> BTreeMap<String, (String, String)> {
    let table = Table::shipped();
    let brief = Brief {
        water_capacity: Mass::from_grams_text("1000000"),
        ..Brief::default()
    };
    let names = FillDensities::shipped().refrigerants().chain(["unknown"]);
    let limit = |name: &str| {
        let limit = limit_of(&brief, table, &[table.code(name)?], false)?;
        Some((limit.limit.to_string(), rule_text(&limit)))
    };
    let known = names.filter_map(|name| Some((name.to_string(), limit(name)?)));
    known.collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Four fifths of a tonne of water for R-410A (AHRI Guideline K of the 1990s, as in
    /// judge/room.rs); R-32 has 961.00 g/L at 25 degC, and a tonne of water, at 27.737 cubic inches a
    /// pound (49 CFR), fills 1 002.06 L: 0.8 x 961.00 x 1 002.06 g = 770.4 kg.
    #[test]
    fn the_limits_are_shares_of_the_water() {
        let limits = limits();
        assert!(limits.len() > 50, "{}", limits.len());
        assert_eq!(limits["R-410A"].0, "800000");
        assert!(limits["R-410A"].1.contains("WATER80"));
        let grams: f64 = limits["R-32"].0.parse().unwrap();
        assert!((770_300.0..770_500.0).contains(&grams), "{grams}");
        let least = limits.values().map(|(grams, _)| grams.len()).min();
        assert!(least >= Some(6), "nothing below a tenth of the water");
        assert!(limits.contains_key("unknown"));
    }
}
