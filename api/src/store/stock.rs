//! Every movement at a cylinder or a counterparty, for the balance of the stock: in the order of
//! entries, one by one, in constant memory.

use super::StoreError;
use super::columns::{PlaceNumber, Sort, What, event_kind};
use super::db::Db;
use super::dossier::Dossier;
use super::flush::int;
use super::scan::Failure;
use super::sql;
use super::statement::Bind;
use reports::day::Day;
use reports::mass::Mass;
use reports::sheet::mass_balance::{End, Moved, Vessel};
use std::collections::{HashMap, HashSet};

/// Hands over those up to a day, as known at a cut; what a correction took back is not among them.
pub fn stock<E: From<StoreError>>(
    db: &mut Db,
    org: i64,
    cut: u64,
    last: Day,
    mut with: impl FnMut(&Moved) -> Result<(), E>,
) -> Result<(), E> {
    let corrected = corrected(db, org, cut)?;
    let vessels = vessels(db, org, cut)?;
    let binds = [
        Bind::Int(org),
        Bind::Int(i64::from(last.count())),
        Bind::Int(int(cut)),
    ];
    type Wide = (i64, i64, i64, i64, i64, i64);
    let each = |(seq, src, dst, mass, day, packed): Wide| -> Result<(), Failure<E>> {
        let (from, to) = (
            end(PlaceNumber(src), &vessels),
            end(PlaceNumber(dst), &vessels),
        );
        let ours = |end: End| matches!(end, End::Cylinder(_) | End::Counterparty);
        if !(ours(from) || ours(to)) || corrected.contains(&seq) {
            return Ok(());
        }
        let damaged = || {
            let told = format!("a movement of entry {seq} is damaged");
            Failure::Store(StoreError::Broken(told))
        };
        let what = What::unpack(packed).ok_or_else(damaged)?;
        // What was only looked at (an observation of a cylinder) moved nothing.
        let kind = event_kind(what.kind).filter(|_| !what.reversal);
        let Some(kind) = kind else { return Ok(()) };
        let moved = Moved {
            entry: seq.unsigned_abs(),
            kind,
            day: Day::from_count(i32::try_from(day).map_err(|_| damaged())?),
            refrigerant: what.refrigerant,
            mass: Mass::from_steps(mass),
            from,
            to,
        };
        with(&moved).map_err(Failure::Caller)
    };
    db.each(sql::MovementsUntil, &binds, each)
        .map_err(Failure::into_caller)
}

/// Entries whose movements corrections have taken back by an entry.
fn corrected(db: &mut Db, org: i64, cut: u64) -> Result<HashSet<i64>, StoreError> {
    let rows: Vec<(i64, i64, i64)> = db.rows(sql::Corrections, &[Bind::Int(org)])?;
    let known = rows.into_iter().filter(|(_, seq, _)| *seq <= int(cut));
    Ok(known.map(|(corrects, ..)| corrects).collect())
}

/// The kind of each cylinder, as known at an entry.
fn vessels(db: &mut Db, org: i64, cut: u64) -> Result<HashMap<PlaceNumber, Vessel>, StoreError> {
    let mut vessels = HashMap::new();
    type Wide = (i64, Vec<u8>, Option<String>, String);
    let binds = [Bind::Int(org), Bind::Int(Sort::Cylinder as i64)];
    db.each(sql::Registers, &binds, |(place, _, _, facts): Wide| {
        let damaged = || StoreError::Broken(format!("the register of place {place} is damaged"));
        let dossier = Dossier::parse(&facts).ok_or_else(damaged)?;
        let said = dossier.in_force(cut).filter(|known| known.0 == "use");
        let newest = said.max_by_key(|known| (known.1, known.3));
        let word = newest.and_then(|known| known.2.as_str());
        let vessel = word.map_or(Vessel::NotStated, Vessel::named);
        vessels.insert(PlaceNumber(place), vessel);
        Ok::<(), StoreError>(())
    })?;
    Ok(vessels)
}

fn end(place: PlaceNumber, vessels: &HashMap<PlaceNumber, Vessel>) -> End {
    match place.sort() {
        Sort::Cylinder => {
            let vessel = vessels.get(&place).copied();
            End::Cylinder(vessel.unwrap_or(Vessel::NotStated))
        }
        Sort::Appliance => End::Appliance,
        Sort::Counterparty => End::Counterparty,
        _ => match place {
            PlaceNumber::ATMOSPHERE => End::Atmosphere,
            PlaceNumber::UNEXPLAINED => End::Unexplained,
            PlaceNumber::OPENING => End::Opening,
            PlaceNumber::REDESIGNATION => End::Redesignation,
            PlaceNumber::UNREGISTERED => End::Unregistered,
            PlaceNumber::RESIDUE => End::Residue,
            _ => End::Elsewhere,
        },
    }
}
