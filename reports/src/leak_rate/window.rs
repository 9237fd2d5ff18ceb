//! The rolling year: the sum of the steps dated in (day - 365, day] and after the last restart.

use super::addition::Addition;
use crate::day::Day;

/// 82.152, rolling average: "over the previous 365-day period". Silent on its edge; half open.
const LENGTH: i32 = 365;

/// A window that moves along the additions of one appliance.
#[derive(Debug, Default)]
pub(super) struct Window {
    start: usize,
    sum: i128,
    restarted: Option<Day>,
}

impl Window {
    /// Takes in the next step, which is about to follow `additions`, and gives the sum with it.
    pub(super) fn add(&mut self, additions: &[Addition], day: Day, mass: i128) -> i128 {
        while let Some(oldest) = additions.get(self.start) {
            if day.days_since(oldest.day) < LENGTH {
                break;
            }
            self.sum -= oldest.mass;
            self.start += 1;
        }
        if self.restarted.is_some_and(|test| day <= test) {
            // Dated on the day of the test: 82.152 is silent; it is taken as before the test.
            self.start = additions.len() + 1;
        } else {
            self.sum += mass;
        }
        // Only a visit that the edge of the window cuts in two can bring the sum below zero.
        self.sum.max(0)
    }

    /// Index of the first step inside.
    pub(super) fn start(&self) -> u32 {
        self.start as u32
    }

    /// A follow-up verification test showed all identified leaks repaired.
    pub(super) fn restart(&mut self, additions: &[Addition], day: Day) {
        self.restarted = Some(day);
        self.empty(additions);
    }

    /// Leaves out everything up to now, as at a retrofit.
    pub(super) fn empty(&mut self, additions: &[Addition]) {
        self.start = additions.len();
        self.sum = 0;
    }
}
