//! The rolling year: the sum of the additions dated in (day - 365, day] and after the last restart.
//!
//! A visit is judged at each of its charges: its figure is what it has charged less what it has
//! recovered so far. Each charge adds on its own day what it raises the figure by; where it lowers
//! the figure, the newest steps of the visit give way first, because a later step supersedes the
//! figure and never the start. A recovery alone is no judgement: it lowers the figure until the
//! next charge of the visit, which says anew what stands. So of a visit cut by its edge a window
//! holds
//!
//! > the figure now, less the least figure since the last charge before the edge,
//!
//! never less than nothing, and a window that reaches further back never holds less. Merely to add
//! up the changes inside would do neither: what came out of the part before the edge would be
//! taken from other visits, and an exceedance could be missed.
//!
//! Three visits by hand, in pounds. Each charges 5 on 1 March and goes on the day after; the window
//! of 1 March a year later begins with that second day.
//!
//! | second day | figures | holds | changes inside |
//! |---|---|---|---|
//! | recovers 3, charges 1 | 5, 3 | 3 - 3 = 0 | -2 |
//! | recovers 3, charges 4 | 5, 6 | 6 - 5 = 1 | 1 |
//! | recovers 4, charges 1, charges 3 | 5, 2, 5 | 5 - 2 = 3 | 0 |
//!
//! With 2 charged on that 1 March the window holds 0 + 1 + 3 + 2 = 6; the changes make 1.

use super::addition::Addition;
use crate::day::Day;

/// 82.152, rolling average: "over the previous 365-day period". Silent on its edge; half open.
const LENGTH: i32 = 365;

/// Stands for "no step".
const NONE: u32 = u32::MAX;

/// A window that moves along the additions of one appliance, in constant time a step: each step is
/// entered once, leaves the window once and is used up once.
#[derive(Debug, Default)]
pub(super) struct Window {
    /// Index of the first step inside.
    start: usize,
    sum: i128,
    restarted: Option<Day>,
    /// Beside the additions.
    steps: Vec<Step>,
    /// By the number of their unit.
    visits: Vec<Visit>,
}

/// What the window knows of one step.
#[derive(Clone, Copy, Debug)]
struct Step {
    /// What still stands of the mass that it added.
    left: i128,
    /// The newest step of the same visit before it of which something stands.
    below: u32,
    /// Whether a charge was judged with the figure that this step left.
    judged: bool,
}

/// What the window knows of one visit, or one day without.
#[derive(Clone, Copy, Debug)]
struct Visit {
    /// The figure at its last charge: what is left of its steps together.
    judged: i128,
    /// The figure now; smaller where something was recovered after the last charge.
    figure: i128,
    /// What is left of its steps inside the window.
    inside: i128,
    /// The newest step of which something stands.
    top: u32,
    /// Its last step.
    last: u32,
}

impl Visit {
    const NEW: Visit = Visit {
        judged: 0,
        figure: 0,
        inside: 0,
        top: NONE,
        last: NONE,
    };

    /// What it gives to the sum; what came out since its last charge comes off the newest.
    fn held(&self) -> i128 {
        (self.inside - (self.judged - self.figure)).max(0)
    }
}

impl Window {
    /// Begins the next appliance.
    pub(super) fn clear(&mut self) {
        self.start = 0;
        self.sum = 0;
        self.restarted = None;
        self.steps.clear();
        self.visits.clear();
    }

    /// Takes in the next step, which is about to follow `additions` and leaves its unit with this
    /// figure, and gives the sum with it.
    pub(super) fn add(
        &mut self,
        additions: &[Addition],
        unit: u32,
        day: Day,
        figure: i128,
        is_charge: bool,
    ) -> i128 {
        self.leave_out_before(additions, day);
        if self.restarted.is_some_and(|test| day <= test) {
            // Dated on the day of the test: 82.152 is silent; it is taken as before the test.
            self.start = additions.len() + 1;
        }
        let at = unit as usize;
        if self.visits.len() <= at {
            self.visits.resize(at + 1, Visit::NEW);
        }
        self.sum -= self.visits[at].held();
        self.steps.push(Step {
            left: 0,
            below: NONE,
            judged: is_charge,
        });
        self.visits[at].last = additions.len() as u32;
        self.visits[at].figure = figure;
        if is_charge {
            self.judge(at);
        }
        self.sum += self.visits[at].held();
        self.sum
    }

    /// The sum on a day on or after the last step.
    pub(super) fn sum_on(&mut self, additions: &[Addition], day: Day) -> i128 {
        self.leave_out_before(additions, day);
        self.sum
    }

    /// Leaves out what is a year old on a day.
    fn leave_out_before(&mut self, additions: &[Addition], day: Day) {
        while let Some(oldest) = additions.get(self.start) {
            if day.days_since(oldest.day) < LENGTH {
                break;
            }
            self.leave_out_oldest(oldest.group);
        }
    }

    /// A charge of the unit that counts, but leaves the figure where a recovery had brought it.
    pub(super) fn judge_unchanged(&mut self, unit: u32) {
        let at = unit as usize;
        if let Some(visit) = self.visits.get(at).filter(|visit| visit.last != NONE) {
            self.steps[visit.last as usize].judged = true;
            self.judge(at);
        }
    }

    /// Lets the figure of a visit stand: its last step gets what is new, or its newest steps give
    /// way.
    fn judge(&mut self, at: usize) {
        let visit = &mut self.visits[at];
        let new = visit.figure - visit.judged;
        visit.judged = visit.figure;
        if new > 0 {
            let step = &mut self.steps[visit.last as usize];
            (step.left, step.below) = (new, visit.top);
            visit.top = visit.last;
            if visit.last as usize >= self.start {
                visit.inside += new;
            }
        }
        let mut back = (-new).max(0);
        while back > 0 {
            let step = &mut self.steps[visit.top as usize];
            let taken = back.min(step.left);
            step.left -= taken;
            back -= taken;
            if visit.top as usize >= self.start {
                visit.inside -= taken;
            }
            if step.left == 0 {
                visit.top = step.below;
            }
        }
    }

    fn leave_out_oldest(&mut self, unit: u32) {
        let visit = &mut self.visits[unit as usize];
        self.sum -= visit.held();
        visit.inside -= self.steps[self.start].left;
        self.sum += visit.held();
        self.start += 1;
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
        while let Some(oldest) = additions.get(self.start) {
            self.leave_out_oldest(oldest.group);
        }
    }

    /// The steps whose masses add up to the sum at a step: of each visit those since the least
    /// figure that the rule above asks for, which is nothing at all unless the edge cuts the visit.
    pub(super) fn sources(&self, additions: &[Addition], index: u32) -> Vec<u32> {
        let so_far = &additions[..=index as usize];
        let edge = so_far[index as usize].rolling_from as usize;
        let mut visits = vec![Since::default(); self.visits.len()];
        for (at, step) in so_far.iter().enumerate() {
            let since = &mut visits[step.group as usize];
            since.now = (step.group_mass, at + 1);
            let judged = self.steps[at].judged;
            if judged && (at < edge || step.group_mass < since.least.0) {
                since.least = since.now;
            }
        }
        let first = |step: &Addition| visits[step.group as usize].first_step();
        let steps = so_far.iter().enumerate();
        let counted = steps.filter(|(at, step)| *at >= first(step));
        counted.map(|(at, _)| at as u32).collect()
    }
}

/// Figures of a visit, each with the index that follows the step that left it.
#[derive(Clone, Copy, Default)]
struct Since {
    least: (i128, usize),
    now: (i128, usize),
}

impl Since {
    /// Index from which its steps count.
    fn first_step(&self) -> usize {
        if self.now.0 < self.least.0 {
            self.now.1
        } else {
            self.least.1
        }
    }
}
