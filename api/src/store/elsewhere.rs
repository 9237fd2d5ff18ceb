//! Movements in which no appliance takes part, for the reports that need them: what was sent on
//! from cylinders, what cylinders lost, what small appliances emptied in bulk gave.

use super::StoreError;
use super::columns::{PlaceNumber, Sort, Ties, What, event_kind};
use super::db::Db;
use super::dossier::Dossier;
use super::flush::int;
use super::scan::tag_at;
use super::sql;
use super::statement::Bind;
use reports::day::Day;
use reports::mass::Mass;
use reports::sheet::Elsewhere;
use std::collections::{HashMap, HashSet};

/// Those of some days, as known at a cut, corrections applied: by day, then by entry.
pub fn elsewhere(
    db: &mut Db,
    org: i64,
    cut: u64,
    (first, last): (Day, Day),
) -> Result<Vec<Elsewhere>, StoreError> {
    let binds = [
        Bind::Int(org),
        Bind::Int(i64::from(first.count())),
        Bind::Int(i64::from(last.count())),
        Bind::Int(int(cut)),
    ];
    type Wide = (i64, i64, i64, i64, i64, i64, Option<Vec<u8>>);
    let rows: Vec<Wide> = db.rows(sql::MovementsElsewhere, &binds)?;
    if rows.is_empty() {
        return Ok(Vec::new());
    }
    let mut tags = tags(db, org, cut, Sort::Cylinder)?;
    tags.extend(self::tags(db, org, cut, Sort::Counterparty)?);
    let tag = |place: i64| tags.get(&PlaceNumber(place)).cloned().unwrap_or_default();
    let mut found = Vec::new();
    let mut reversed = HashSet::new();
    for (day, seq, src, dst, mass, packed, ties) in rows {
        let entry = seq.unsigned_abs();
        let damaged = || StoreError::Broken(format!("a movement of entry {entry} is damaged"));
        let what = What::unpack(packed).ok_or_else(damaged)?;
        if what.reversal {
            let ties = Ties::unpack(ties.as_deref()).ok_or_else(damaged)?;
            reversed.extend(ties.reverses);
            continue;
        }
        // What was only looked at (an observation of a cylinder) moved nothing.
        let Some(kind) = event_kind(what.kind) else {
            continue;
        };
        found.push(Elsewhere {
            entry,
            kind,
            reason: what.reason,
            day: Day::from_count(i32::try_from(day).map_err(|_| damaged())?),
            refrigerant: what.refrigerant,
            mass: Mass::from_steps(mass),
            from: tag(src),
            to: tag(dst),
        });
    }
    found.retain(|movement| !reversed.contains(&movement.entry));
    Ok(found)
}

/// The tag of everything of a sort, as known at a cut.
fn tags(
    db: &mut Db,
    org: i64,
    cut: u64,
    sort: Sort,
) -> Result<HashMap<PlaceNumber, String>, StoreError> {
    let mut tags = HashMap::new();
    type Wide = (i64, Vec<u8>, Option<String>, String);
    let binds = [Bind::Int(org), Bind::Int(sort as i64)];
    db.each(sql::Registers, &binds, |(place, _, tag, facts): Wide| {
        let read = Dossier::parse(&facts);
        let then = read
            .as_ref()
            .and_then(|read| tag_at(read, cut))
            .map(str::to_string);
        tags.insert(PlaceNumber(place), then.or(tag).unwrap_or_default());
        Ok::<(), StoreError>(())
    })?;
    Ok(tags)
}
