//! Standings as they are cached: a few columns for lists of the fleet, and the stamp that says
//! for which state of the book and which day they are true.
//!
//! What is worked out here is never a source: a reader who finds another stamp works the standing
//! out anew from the history.

use super::StoreError;
use super::book::Book;
use super::columns::{PlaceNumber, Sort};
use super::db::Db;
use super::flush::int;
use super::sql;
use super::statement::Bind;
use super::tx::Tx;
use diesel::result::QueryResult;
use reports::day::Day;
use reports::standing::{Newest, Over};
use std::collections::BTreeMap;

/// Days are kept moved by this, so that 0 can say *none*.
const DAY_SHIFT: i64 = 1_000_000;

/// For which state a standing was worked out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stamp {
    /// Count of entries about the appliance.
    pub nth: u64,
    /// Newest entry that changes judgements.
    pub judged_by: u64,
    /// The day it was worked out for.
    pub day: Day,
}

/// What a list of the fleet shows of a standing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StandingRow {
    /// For which state it holds.
    pub stamp: Stamp,
    /// Whether the newest addition passes its limit.
    pub over: Over,
    /// How many limits were passed in all.
    pub exceedances: u32,
    /// When a limit was passed last.
    pub exceeded_on: Option<Day>,
    /// The earliest date of what is owed.
    pub due: Option<Day>,
    /// Rate of the newest addition by the method in force.
    pub percent: Option<String>,
    /// That rate as a part of its limit, in ten-thousandths; none: no limit is held against it.
    pub share: Option<u32>,
}

impl StandingRow {
    /// The row of what is newest.
    pub fn new(stamp: Stamp, newest: &Newest) -> StandingRow {
        StandingRow {
            stamp,
            over: newest.over,
            exceedances: newest.exceedances,
            exceeded_on: newest.exceeded_on,
            due: newest.due,
            percent: newest.percent.clone(),
            share: newest.share,
        }
    }

    /// What it says, without its stamp, as a line that can be compared and read.
    pub fn line(&self) -> String {
        let day = |day: Option<Day>| day.map_or("never".to_string(), |day| day.to_string());
        format!(
            "over: {}, {} exceedances, last {}, due {}, {} %, {} of the limit",
            self.over.word(),
            self.exceedances,
            day(self.exceeded_on),
            day(self.due),
            self.percent.as_deref().unwrap_or("no rate,"),
            (self.share).map_or("nothing".to_string(), |share| format!(
                "{share} ten-thousandths"
            )),
        )
    }

    fn columns(&self) -> [i64; 8] {
        let day = |day: Option<Day>| day.map_or(0, |day| i64::from(day.count()) + DAY_SHIFT);
        [
            int(self.stamp.nth),
            int(self.stamp.judged_by),
            i64::from(self.stamp.day.count()),
            self.over as i64,
            i64::from(self.exceedances),
            day(self.exceeded_on),
            day(self.due),
            self.share.map_or(-1, i64::from),
        ]
    }
}

/// A cached standing beside the count its appliance has now.
pub struct Cached {
    /// What is cached.
    pub row: StandingRow,
    /// The appliance's count now: another one than the stamp's makes the row stale.
    pub nth_now: u64,
}

/// Every cached standing of a book, stale ones included.
pub fn cached(db: &mut Db, org: i64) -> Result<BTreeMap<PlaceNumber, Cached>, StoreError> {
    type Row = (i64, i64, i64, i64, i64, i64, i64, i64, i64, i64, String);
    let rows: Vec<Row> = db.rows(sql::Standings, &[Bind::Int(org)])?;
    let mut cached = BTreeMap::new();
    for (place, nth_now, nth, judged_by, day, over, exceedances, on, due, share, percent) in rows {
        let damaged = || StoreError::Broken(format!("the standing of place {place} is damaged"));
        let count = |count: i64| {
            i32::try_from(count)
                .map(Day::from_count)
                .map_err(|_| damaged())
        };
        let maybe = |day: i64| match day {
            0 => Ok(None),
            day => count(day - DAY_SHIFT).map(Some),
        };
        let over = usize::try_from(over)
            .ok()
            .and_then(|code| Over::ALL.get(code));
        let row = StandingRow {
            stamp: Stamp {
                nth: nth.unsigned_abs(),
                judged_by: judged_by.unsigned_abs(),
                day: count(day)?,
            },
            over: *over.ok_or_else(damaged)?,
            exceedances: u32::try_from(exceedances).map_err(|_| damaged())?,
            exceeded_on: maybe(on)?,
            due: maybe(due)?,
            percent: (!percent.is_empty()).then_some(percent),
            // Below nothing: there is none.
            share: u32::try_from(share).ok(),
        };
        let nth_now = nth_now.unsigned_abs();
        cached.insert(PlaceNumber(place), Cached { row, nth_now });
    }
    Ok(cached)
}

/// Every appliance with how many entries are about it, in the order of registration.
pub fn counts(db: &mut Db, org: i64) -> Result<Vec<(PlaceNumber, u64)>, StoreError> {
    let binds = [Bind::Int(org), Bind::Int(Sort::Appliance as i64)];
    let rows: Vec<(i64, i64)> = db.rows(sql::Counts, &binds)?;
    let counted = rows.into_iter();
    Ok(counted
        .map(|(place, nth)| (PlaceNumber(place), nth.unsigned_abs()))
        .collect())
}

/// Forgets every cached standing of a book.
pub fn forget(db: &mut Db, org: i64) -> Result<(), StoreError> {
    db.run(sql::DropStandings, &[Bind::Int(org)])?;
    Ok(())
}

impl Tx<'_> {
    /// The stamp of an appliance on a day, as the book stands now.
    pub fn stamp(&mut self, place: PlaceNumber, day: Day) -> Result<Stamp, StoreError> {
        Ok(Stamp {
            nth: self.subject(place)?.nth,
            judged_by: self.judged_by(),
            day,
        })
    }

    /// Keeps what was worked out of an appliance.
    pub fn keep_standing(&mut self, place: PlaceNumber, row: StandingRow) {
        self.book.pending.standings.insert(place, row);
    }
}

/// Writes the pending standings of one book, row by row.
pub(super) fn rows(db: &mut Db, book: &Book) -> QueryResult<()> {
    for (place, row) in &book.pending.standings {
        let [nth, judged_by, day, over, exceedances, on, due, share] = row.columns().map(Bind::Int);
        let percent = Bind::Text(row.percent.as_deref().unwrap_or_default());
        let (org, place) = (Bind::Int(book.org), Bind::Int(place.0));
        db.run(
            sql::SetStanding,
            &[
                org,
                place,
                nth,
                judged_by,
                day,
                over,
                exceedances,
                on,
                due,
                share,
                percent,
            ],
        )?;
    }
    Ok(())
}

/// Writes the pending standings of all books at once.
pub(super) fn columns(db: &mut Db, books: &[&mut Book]) -> QueryResult<()> {
    let pending = || {
        let all = books.iter();
        all.flat_map(|book| book.pending.standings.iter().map(|row| (book.org, row)))
    };
    let org: Vec<i64> = pending().map(|(org, _)| org).collect();
    if org.is_empty() {
        return Ok(());
    }
    let place: Vec<i64> = pending().map(|(_, (place, _))| place.0).collect();
    let rows: Vec<[i64; 8]> = pending().map(|(_, (_, row))| row.columns()).collect();
    let column = |at: usize| rows.iter().map(|row| row[at]).collect::<Vec<i64>>();
    let columns: Vec<Vec<i64>> = (0..8).map(column).collect();
    let percent: Vec<&str> = pending()
        .map(|(_, (_, row))| row.percent.as_deref().unwrap_or_default())
        .collect();
    let mut binds = vec![Bind::Ints(&org), Bind::Ints(&place)];
    binds.extend(columns.iter().map(|column| Bind::Ints(column)));
    binds.push(Bind::Texts(&percent));
    db.run(sql::SetStandings, &binds).map(|_| ())
}
