//! Standings that were worked out for a list, remembered in this process.
//!
//! On a new day, and after an import, no cached standing is fresh; readers write nothing, so without
//! this each of them would work the whole fleet out anew until each appliance is posted to. What is
//! remembered carries its stamp: an entry about the appliance, a change of what judges, or midnight at
//! its site makes it stale. It is never a source.

use crate::store::columns::PlaceNumber;
use crate::store::standings::StandingRow;
use reports::day::{Day, Zone};
use std::collections::HashMap;
use std::sync::{Mutex, MutexGuard, PoisonError};

/// Rows of all books together; a larger fleet is worked out each time.
const MOST: usize = 200_000;

/// One appliance.
struct Remembered {
    row: StandingRow,
    /// The zone of its site: its day ends there.
    zone: Zone,
}

type Books = HashMap<String, HashMap<PlaceNumber, Remembered>>;

static BOOKS: Mutex<Option<Books>> = Mutex::new(None);

fn books() -> MutexGuard<'static, Option<Books>> {
    BOOKS.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Splits appliances with their counts of entries into rows that still hold and places that are stale.
/// `log` names the book over all databases; `now` is an instant.
pub(super) fn split(
    log: &str,
    asked: Vec<(PlaceNumber, u64)>,
    judged_by: u64,
    now: jiff::Timestamp,
) -> (Vec<(PlaceNumber, StandingRow)>, Vec<PlaceNumber>) {
    let mut books = books();
    let known = books.get_or_insert_default().get(log);
    let (mut rows, mut stale) = (Vec::new(), Vec::new());
    let mut days: HashMap<&'static str, Day> = HashMap::new();
    for (place, nth) in asked {
        let holds = |one: &&Remembered| {
            let stamp = &one.row.stamp;
            let mut today = || {
                *days
                    .entry(one.zone.name())
                    .or_insert_with(|| one.zone.day(now))
            };
            stamp.nth == nth && stamp.judged_by == judged_by && stamp.day == today()
        };
        match known.and_then(|known| known.get(&place)).filter(holds) {
            Some(one) => rows.push((place, one.row.clone())),
            None => stale.push(place),
        }
    }
    (rows, stale)
}

/// Remembers rows of a book with the zones of their sites.
pub(super) fn remember(log: &str, rows: Vec<(PlaceNumber, StandingRow, Zone)>) {
    let mut books = books();
    let books = books.get_or_insert_default();
    let all: usize = books.values().map(HashMap::len).sum();
    if all + rows.len() > MOST {
        books.retain(|other, _| other == log);
    }
    let own = books.entry(log.to_string()).or_default();
    own.extend((rows.into_iter()).map(|(place, row, zone)| (place, Remembered { row, zone })));
    if own.len() > MOST {
        books.clear();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::standings::Stamp;
    use reports::standing::Over;

    fn row(nth: u64, day: &str) -> StandingRow {
        let day = Day::parse(day).expect("a day");
        StandingRow {
            stamp: Stamp {
                nth,
                judged_by: 5,
                day,
            },
            over: Over::ALL[0],
            exceedances: 0,
            exceeded_on: None,
            due: None,
            percent: None,
            share: None,
        }
    }

    /// An entry more, another rule and midnight at the site each make a row stale; another book has none.
    #[test]
    fn a_row_holds_for_its_state_and_for_the_day_at_its_site() {
        let place = PlaceNumber(1);
        let zone = Zone::named("America/Denver").expect("a zone");
        remember("tarebook/one", vec![(place, row(3, "2026-07-14"), zone)]);
        // 14 July in Denver ends at 06:00 UTC of the 15th.
        let held = |log: &str, nth: u64, judged_by: u64, now: &str| {
            let now = now.parse().expect("an instant");
            let (rows, stale) = split(log, vec![(place, nth)], judged_by, now);
            assert_eq!(rows.len() + stale.len(), 1);
            rows.len() == 1
        };
        assert!(held("tarebook/one", 3, 5, "2026-07-15T05:59:59Z"));
        assert!(!held("tarebook/one", 3, 5, "2026-07-15T06:00:00Z"));
        assert!(!held("tarebook/one", 4, 5, "2026-07-15T05:59:59Z"));
        assert!(!held("tarebook/one", 3, 6, "2026-07-15T05:59:59Z"));
        assert!(!held("tarebook/two", 3, 5, "2026-07-15T05:59:59Z"));
    }
}
