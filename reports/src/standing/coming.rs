//! Limits that are still to come: what will judge the next additions of an appliance, and from
//! when.
//!
//! A manager who lowers a number from next month on, and whoever looks at the unit, shall see it
//! before it judges anything.

use super::shown::{LineShown, line};
use crate::appliance::Facts;
use crate::day::Day;
use crate::rules::{Judge, LimitOn, NumberOn};
use serde::Serialize;

/// A leak-rate limit from a day on.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LimitToCome {
    /// The set.
    pub set: String,
    /// Its title.
    pub title: String,
    /// The first day.
    pub from: String,
    /// The number, with its clause and the layer it comes from.
    pub number: LineShown,
}

/// The leak-rate limits that change after a day, by what is adopted now, the earliest first.
pub fn limits_to_come(judge: &Judge, facts: &Facts, day: Day) -> Vec<LimitToCome> {
    let prepared = judge.appliance(facts);
    let mut coming = Vec::new();
    for at in 0..prepared.sets() {
        let number = |day: Day| match prepared.leak_rate_limit(at, day) {
            LimitOn::Applies { bounds, .. } => bounds.first().map(|bound| bound.number),
            _ => None,
        };
        let mut last = number(day).as_ref().map(cited);
        for from in prepared.spans_after(at, day) {
            let Some(number) = number(*from) else {
                continue;
            };
            if last.as_ref() != Some(&cited(&number)) {
                last = Some(cited(&number));
                let set = prepared.set(at);
                coming.push(LimitToCome {
                    set: set.id.clone(),
                    title: set.title.clone(),
                    from: from.to_string(),
                    number: line(&number, None),
                });
            }
        }
    }
    coming.sort_by(|a, b| a.from.cmp(&b.from));
    coming
}

/// A number as it is cited: itself, its clause, its layer.
fn cited<'j>(number: &NumberOn<'j>) -> (&'j str, &'j str, Option<&'j str>) {
    let layer = number.overlay.map(|layer| layer.id.as_str());
    (number.text(), number.clause(), layer)
}
