//! What was taken out of an appliance and may come back without being an addition.
//!
//! Two readings need it: a seasonal variance (82.152: removed, and put back within 12 consecutive
//! months, no more than was removed) and the netting `returned`. Each mass comes back once, the
//! oldest first.

use crate::day::Day;

/// Masses taken out, with their days, oldest first.
#[derive(Debug, Default)]
pub(super) struct Pool {
    taken_out: Vec<(Day, i128)>,
    spent: usize,
}

impl Pool {
    pub(super) fn clear(&mut self) {
        self.taken_out.clear();
        self.spent = 0;
    }

    /// Remembers what was taken out on a day; days ascend.
    pub(super) fn put(&mut self, day: Day, mass: i128) {
        self.taken_out.push((day, mass));
    }

    /// How much of `mass`, charged on `day`, was taken out in the 12 months before and comes back.
    pub(super) fn take(&mut self, day: Day, mass: i128) -> i128 {
        if self.spent == self.taken_out.len() {
            return 0;
        }
        // Half open like the rolling window: the same date one year before is outside.
        let outside = one_year_before(day);
        let mut wanted = mass;
        while let Some((out_on, left)) = self.taken_out.get_mut(self.spent) {
            if *out_on > outside {
                let back = wanted.min(*left);
                *left -= back;
                wanted -= back;
                if *left > 0 {
                    break;
                }
            }
            self.spent += 1;
        }
        mass - wanted
    }
}

/// The same date of the year before; 28 February for a 29th.
fn one_year_before(day: Day) -> Day {
    let before = day.date().saturating_sub(jiff::Span::new().years(1));
    Day::from_ymd(before.year(), before.month(), before.day()).unwrap_or(day.plus(-365))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> Day {
        Day::parse(text).unwrap()
    }

    #[test]
    fn a_mass_comes_back_once_and_within_twelve_months() {
        let mut pool = Pool::default();
        pool.put(day("2023-04-10"), 7);
        pool.put(day("2023-10-10"), 30);
        assert_eq!(
            pool.take(day("2024-04-10"), 20),
            20,
            "of October; April is a year ago"
        );
        assert_eq!(pool.take(day("2024-04-11"), 35), 10);
        assert_eq!(pool.take(day("2024-04-12"), 1), 0);
        pool.put(day("2024-05-01"), 2);
        assert_eq!(pool.take(day("2024-05-01"), 5), 2);
    }

    #[test]
    fn the_year_before_a_leap_day_ends_on_the_28th() {
        let mut pool = Pool::default();
        pool.put(day("2023-02-28"), 1);
        pool.put(day("2023-03-01"), 2);
        assert_eq!(pool.take(day("2024-02-29"), 5), 2);
    }
}
