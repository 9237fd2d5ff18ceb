//! The ground of the drawing: months to the right, percent upwards.

use super::{Loss, Parts};
use crate::pages::picture::{Anchor, Ink, Pen, Size, Stroke, Tenths, Words, along, ticks, units};
use reports::day::Day;

/// Percent, in parts.
const PERCENT: Parts = 10_000;

/// Where things stand.
pub(super) struct Axes {
    pub size: Size,
    pub left: Tenths,
    pub right: Tenths,
    pub top: Tenths,
    pub base: Tenths,
    pub height: Tenths,
    first: Day,
    days: i32,
    /// The value of the upper edge, in percent.
    percents: Vec<i128>,
}

impl Axes {
    pub(super) fn of(loss: &Loss, size: Size) -> Axes {
        let course = loss.course;
        let rates = loss.stems.iter().filter_map(|stem| stem.rate);
        let rolling = loss.rolling.iter().filter_map(|rolling| rolling.value);
        let highest = rates.chain(rolling).max().unwrap_or(0);
        let limit = loss.limits.iter().filter_map(|limit| limit.value).max();
        // Beyond three times the limit nobody reads how far: what is higher is cut, its number written.
        let most = limit.map_or(100 * PERCENT, |limit| (3 * limit).max(30 * PERCENT));
        let wanted = highest
            .min(most)
            .max(limit.unwrap_or(0) * 11 / 10)
            .max(10 * PERCENT);
        let percents = ticks((wanted + PERCENT - 1) / PERCENT, 4);
        Axes {
            size,
            left: size.pick(units(40), units(30)),
            right: size.pick(units(586), units(268)),
            top: size.pick(units(44), units(58)),
            base: size.pick(units(262), units(266)),
            height: size.pick(units(330), units(356)),
            first: course.first,
            days: course.last.days_since(course.first).max(1),
            percents,
        }
    }

    /// The value of the upper edge.
    pub(super) fn highest(&self) -> Parts {
        self.percents.last().copied().unwrap_or(1) * PERCENT
    }

    pub(super) fn x(&self, day: Day) -> Tenths {
        let after = i128::from(day.days_since(self.first));
        self.left + along(after, i128::from(self.days), self.end() - self.left)
    }

    /// Where the last day stands. What goes on is drawn up to the right edge, a little behind it.
    pub(super) fn end(&self) -> Tenths {
        self.right - self.size.pick(units(12), units(6))
    }

    /// Where something ends that ends on a day, or goes on.
    pub(super) fn until(&self, day: Option<Day>) -> Tenths {
        day.map_or(self.right, |day| self.x(day))
    }

    pub(super) fn y(&self, value: Parts) -> Tenths {
        self.base - along(value, self.highest(), self.base - self.top)
    }

    /// Lines of the percents, drawn first; without numbers where nothing has a rate.
    pub(super) fn percents(&self, pen: &mut Pen, has_rates: bool) {
        if !has_rates {
            return;
        }
        let soft = |anchor| Words::of(Ink::Soft, anchor);
        for percent in &self.percents {
            let y = self.y(percent * PERCENT);
            if *percent > 0 {
                pen.line((self.left, y), (self.right, y), Stroke::of(Ink::Ruling, 10));
            }
            pen.text(
                self.left - units(8),
                y + units(4),
                &percent.to_string(),
                soft(Anchor::End),
            );
        }
        let title = self.size.pick(units(20), units(14));
        pen.text(0, title, "% of full charge a year", soft(Anchor::Start));
    }

    /// Months and years along the base.
    pub(super) fn months(&self, pen: &mut Pen) {
        let last = self.first.plus(self.days);
        let mut month = first_of_month(self.first);
        while month <= last {
            let ((year, of_year, _), x) = (month.ymd(), self.x(month));
            let is_year = of_year == 1;
            let tick = if is_year { units(9) } else { units(5) };
            pen.line(
                (x, self.base),
                (x, self.base + tick),
                Stroke::of(Ink::Line, 10),
            );
            let named = self.size.pick(of_year % 3 == 1, of_year % 6 == 1);
            let inside = x >= self.left + units(6) && x <= self.right - units(4);
            if named && inside {
                let name =
                    ["Jan", "Apr", "Jul", "Oct"][usize::from(of_year.unsigned_abs() / 3).min(3)];
                let words = Words::of(Ink::Soft, Anchor::Middle);
                pen.text(x, self.base + units(46), name, words);
            }
            if is_year && inside {
                let words = Words::of(Ink::Ink, Anchor::Middle);
                pen.text(x, self.base + units(62), &year.to_string(), words);
            }
            month = month_of(month.plus(31));
        }
        pen.line(
            (self.left, self.base),
            (self.right, self.base),
            Stroke::of(Ink::Ink, 20),
        );
    }
}

/// The first day of the month on or after a day.
fn first_of_month(day: Day) -> Day {
    let (_, _, of_month) = day.ymd();
    match of_month {
        1 => day,
        later => month_of(day.plus(32 - i32::from(later))),
    }
}

/// The first day of the month a day is in.
fn month_of(day: Day) -> Day {
    let (_, _, of_month) = day.ymd();
    day.plus(1 - i32::from(of_month))
}
