//! One refrigerant in one appliance in one year: the figures of a row of `appliance-year`.

use super::judged::YearAddition;
use crate::day::Day;
use crate::event::{Event, Kind};
use crate::leak_rate::Rate;

/// What an appliance held of one refrigerant.
#[derive(Debug)]
pub(super) struct Held {
    pub(super) refrigerant: u16,
    /// Index of the event with which it came in.
    pub(super) since: u32,
    /// Balance when the year began.
    pub(super) start: i128,
    /// Whether anything moved in the year.
    pub(super) moved: bool,
    pub(super) opening: i128,
    pub(super) charged: i128,
    pub(super) recovered: i128,
    pub(super) charges: i64,
    pub(super) additions: i64,
    pub(super) added: i128,
    pub(super) worst_rolling: Option<Worst>,
    pub(super) worst_annualised: Option<Worst>,
    pub(super) rolling_over: Count,
    pub(super) annualised_over: Count,
    pub(super) first_over_on: Option<Day>,
}

/// A highest rate and the addition it belongs to.
#[derive(Clone, Copy, Debug)]
pub(super) struct Worst {
    pub(super) rate: Rate,
    pub(super) on: Day,
    /// Index of the event at which it was judged.
    pub(super) at: u32,
}

/// Additions over a limit, and those of which nobody can say.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Count {
    over: i64,
    within: i64,
    unclear: i64,
}

/// The figure of the mass balance that an event belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Figure {
    Opening,
    Charged,
    Recovered,
}

impl Figure {
    /// Charges and recoveries of the year have their own figure, everything else is opening.
    pub(super) fn of(event: &Event, first_day: Day) -> Figure {
        match event.kind {
            _ if event.day < first_day => Figure::Opening,
            Kind::Charge | Kind::OutsideCharge => Figure::Charged,
            Kind::Recover => Figure::Recovered,
            _ => Figure::Opening,
        }
    }
}

impl Held {
    fn new(refrigerant: u16, since: u32) -> Held {
        Held {
            refrigerant,
            since,
            start: 0,
            moved: false,
            opening: 0,
            charged: 0,
            recovered: 0,
            charges: 0,
            additions: 0,
            added: 0,
            worst_rolling: None,
            worst_annualised: None,
            rolling_over: Count::default(),
            annualised_over: Count::default(),
            first_over_on: None,
        }
    }

    /// The account of a refrigerant, opened at this event if there is none.
    pub(super) fn of(all: &mut Vec<Held>, refrigerant: u16, at: u32) -> &mut Held {
        let known = all.iter().position(|held| held.refrigerant == refrigerant);
        let place = known.unwrap_or_else(|| {
            all.push(Held::new(refrigerant, at));
            all.len() - 1
        });
        &mut all[place]
    }

    /// Books what an event does to the balance.
    pub(super) fn weigh(&mut self, event: &Event, change: i128, first_day: Day) {
        if event.day < first_day {
            self.start += change;
        } else {
            self.moved = true;
        }
        match Figure::of(event, first_day) {
            Figure::Opening => self.opening += change,
            Figure::Recovered => self.recovered -= change,
            Figure::Charged => {
                self.charged += change;
                self.charges += 1;
            }
        }
    }

    /// Opening + charged - recovered, always.
    pub(super) fn closing(&self) -> i128 {
        self.opening + self.charged - self.recovered
    }

    /// Takes in an addition; additions come by date, so the first of equals is the earliest.
    pub(super) fn add(&mut self, row: &YearAddition) {
        self.additions += 1;
        self.added += row.added;
        let worst = |rate: Rate| Worst {
            rate,
            on: row.on,
            at: row.step.at,
        };
        keep_worst(&mut self.worst_rolling, row.step.rolling_rate().map(worst));
        keep_worst(
            &mut self.worst_annualised,
            row.step.annualised_rate().map(worst),
        );
        self.rolling_over.take_in(row.rolling_over);
        self.annualised_over.take_in(row.annualised_over);
        if row.is_over {
            self.first_over_on.get_or_insert(row.on);
        }
    }
}

impl Count {
    fn take_in(&mut self, over: Option<bool>) {
        match over {
            Some(true) => self.over += 1,
            Some(false) => self.within += 1,
            None => self.unclear += 1,
        }
    }

    /// The number over the limit; none where not one addition could be judged, or where none would
    /// have been (`in_the_dark`), because zero would read as "within".
    pub(super) fn answer(self, in_the_dark: bool) -> Option<i64> {
        let is_known = self.over + self.within > 0 || (self.unclear == 0 && !in_the_dark);
        is_known.then_some(self.over)
    }
}

fn keep_worst(worst: &mut Option<Worst>, new: Option<Worst>) {
    let Some(new) = new else { return };
    if worst.is_none_or(|worst| new.rate > worst.rate) {
        *worst = Some(new);
    }
}

/// Whether the appliance was retired before a day and not charged since.
pub(super) fn is_retired_before(events: &[Event], day: Day) -> bool {
    let ends = |event: &&Event| matches!(event.kind, Kind::Retire | Kind::Charge);
    let last = events.iter().rfind(ends);
    last.is_some_and(|event| event.kind == Kind::Retire && event.day < day)
}
