//! The rolling year: the sum of the steps dated in (day - 365, day] and after the last restart.

use super::addition::Addition;
use crate::day::Day;

/// 82.152, rolling average: "over the previous 365-day period". Silent on its edge; half open.
const LENGTH: i32 = 365;

/// A window that moves along the additions of one appliance.
///
/// What a later step of a visit takes back is taken from the newest steps of the visit before it,
/// wherever the window's edge lies: so the window never holds less of a visit than nothing.
#[derive(Debug, Default)]
pub(super) struct Window {
    start: usize,
    sum: i128,
    restarted: Option<Day>,
    /// What is left of the mass of each step.
    left: Vec<i128>,
}

impl Window {
    /// Takes in the next step, of this group, which is about to follow `additions`, and gives the
    /// sum with it.
    pub(super) fn add(&mut self, additions: &[Addition], group: u32, day: Day, mass: i128) -> i128 {
        self.left.resize(additions.len(), 0);
        while let Some(oldest) = additions.get(self.start) {
            if day.days_since(oldest.day) < LENGTH {
                break;
            }
            self.sum -= self.left[self.start];
            self.start += 1;
        }
        self.left.push(mass.max(0));
        if self.restarted.is_some_and(|test| day <= test) {
            // Dated on the day of the test: 82.152 is silent; it is taken as before the test.
            self.start = additions.len() + 1;
        } else {
            self.sum += mass.max(0);
        }
        if mass < 0 {
            self.take_back(additions, group, -mass);
        }
        self.sum
    }

    fn take_back(&mut self, additions: &[Addition], group: u32, mut back: i128) {
        for at in (0..additions.len()).rev() {
            if additions[at].group != group {
                continue;
            }
            let taken = back.min(self.left[at]);
            self.left[at] -= taken;
            back -= taken;
            if at >= self.start {
                self.sum -= taken;
            }
            if back == 0 {
                return;
            }
        }
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
