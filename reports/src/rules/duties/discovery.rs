//! When the book knew: a follow-up that a late or corrected entry opened keeps its old dates, and
//! says that they were over before anybody could know.

use super::walk::{Case, Walk};
use super::{Owed, StartedBy};
use crate::day::Day;

impl<'j> Walk<'_, 'j> {
    /// Marks what was due before the book knew of its case, and what followed from that.
    pub(super) fn mark_discoveries(&self, rows: &mut [(usize, Owed<'j>)]) {
        let known: Vec<Option<Day>> = self
            .cases
            .iter()
            .map(|case| self.known_late(case))
            .collect();
        if known.iter().all(Option::is_none) {
            return;
        }
        let mut late = vec![false; self.owed.len()];
        for (at, one) in self.owed.iter().enumerate() {
            let due = self.due(at, self.story.day).map(|due| due.day());
            let before = |known: Day| due.is_some_and(|due| due < known);
            // What follows stands after what it follows.
            late[at] =
                known[one.case].is_some_and(before) || one.follows.is_some_and(|first| late[first]);
        }
        for (at, row) in rows {
            row.late_on_discovery = late[*at];
        }
    }

    /// The day on which a case was known, when that was after it began.
    fn known_late(&self, case: &Case) -> Option<Day> {
        let (before, at) = (self.story.known_then?, case.event?);
        let begun = case.root.day;
        let so_far = &self.story.events[..=at];
        let of_events = so_far.iter().map(|event| event.known);
        let taken_back = self.story.taken_back.iter().copied();
        let mut booked: Vec<Day> = of_events.chain(taken_back).collect();
        booked.retain(|known| *known > begun);
        if booked.is_empty() {
            return None;
        }
        booked.push(begun);
        booked.sort_unstable();
        booked.dedup();
        let shows = |day: &Day| {
            let then = before(*day);
            match case.started_by {
                StartedBy::Limit(exceedance) => {
                    let found = &self.story.exceedances[exceedance];
                    let mut passed = then.passed.iter();
                    passed.any(|(limit, on)| std::ptr::eq(*limit, found.limit) && *on == found.on)
                }
                _ => {
                    let event = &self.story.events[at];
                    let same = |other: &crate::event::Event| {
                        (other.chain, other.kind, other.day) == (event.chain, event.kind, event.day)
                    };
                    then.events.iter().any(same)
                }
            }
        };
        booked
            .into_iter()
            .find(shows)
            .filter(|known| *known > begun)
    }
}
