//! What is missing in the form of a step, all of it at once, before anything is sent to the door.
//!
//! The door names the first thing that it cannot read; whoever stands at a unit with a gauge in the
//! hand is told everything in one go, each at its box.

use super::form::{Box, Filled};
use super::{measured, words_of};
use crate::pages::form::BoxProblem;

impl Filled {
    /// Notes all that is missing at once, each at its box; `false`: nothing is.
    pub fn note_missing(&mut self) -> bool {
        let value = |name: &str| self.values.get(name).map_or("", String::as_str);
        let boxes: Vec<Box> = words_of(self.kind)
            .iter()
            .map(|word| Box::of(self.kind, word, value(word.name)))
            .collect();
        let says = |one: &Box, why: &str| BoxProblem {
            field: one.name,
            text: format!("{}: {why}", one.label.trim_end_matches('?')),
        };
        let mut missing: Vec<BoxProblem> = boxes
            .iter()
            .filter(|one| one.required && one.value.is_empty())
            .map(|one| says(one, "say it."))
            .collect();
        for one in boxes.iter().filter(|one| one.value.is_empty()) {
            let of_what = one.name.strip_suffix("_unit");
            let lacks_unit = of_what.is_some_and(|name| !value(name).is_empty());
            if lacks_unit && !one.required {
                missing.push(says(one, "choose the unit."));
            }
            let is_open_air = !measured::is_absolute(value("pressure_unit"));
            let neither = value("altitude").is_empty() && value("barometer").is_empty();
            if one.name == "altitude" && value("gauge") == "vented" && is_open_air && neither {
                missing.push(says(one, "say it, or what a barometer shows there."));
            }
        }
        self.problems.extend(missing);
        !self.problems.is_empty()
    }
}
