//! Rules as if they had begun earlier: what a change that is still to come would have meant.
//!
//! A manager who lowers a number from next month on wants to know which appliances would cross it.
//! Their history ends today, so the change is laid back over it: whatever begins between an earlier
//! day and the first day of the change begins on the earlier day. Nobody is judged by the outcome.

use super::file::{Row, RuleSet};
use super::parse::RuleFile;
use super::text::Date;
use crate::day::Day;

impl RuleFile {
    /// The file as it will read on `since`, in force from `start` on.
    pub fn as_if_from(&self, start: Day, since: Day) -> RuleFile {
        let back = Back { start, since };
        match self {
            RuleFile::Set(set) => RuleFile::Set(Box::new(back.set((**set).clone()))),
            RuleFile::Overlay(layer) => {
                let mut layer = (**layer).clone();
                for over in layer.values.values_mut() {
                    back.rows(&mut over.rows);
                }
                RuleFile::Overlay(Box::new(layer))
            }
        }
    }
}

/// The days that are laid back.
struct Back {
    start: Day,
    since: Day,
}

impl Back {
    fn set(&self, mut set: RuleSet) -> RuleSet {
        for series in set.values.values_mut() {
            self.rows(&mut series.rows);
        }
        for block in &mut set.covers {
            self.days(&mut block.from, &mut block.until);
        }
        for block in &mut set.exempt {
            self.days(&mut block.from, &mut block.until);
        }
        for limit in &mut set.limits {
            self.days(&mut limit.from, &mut limit.until);
        }
        for duty in &mut set.duties {
            self.days(&mut duty.from, &mut duty.until);
            for extension in &mut duty.extensions {
                self.days(&mut extension.from, &mut None);
            }
        }
        set
    }

    /// Of the rows that begin in between the newest of each band stays and begins at the start.
    fn rows(&self, rows: &mut Vec<Row>) {
        let between = |row: &Row| self.start <= row.from.0 && row.from.0 <= self.since;
        let moved: Vec<Row> = rows.iter().filter(|row| between(row)).cloned().collect();
        rows.retain(|row| !between(row));
        for (at, row) in moved.iter().enumerate() {
            let of_same = |other: &Row| other.bands == row.bands;
            let newer = |other: &(usize, &Row)| {
                of_same(other.1) && (other.1.from, other.0) > (row.from, at)
            };
            if !moved.iter().enumerate().any(|other| newer(&other)) {
                let from = Date(self.start);
                rows.push(Row {
                    from,
                    ..row.clone()
                });
            }
        }
    }

    /// What begins in between begins at the start; what ends before the change is over by then.
    fn days(&self, from: &mut Option<Date>, until: &mut Option<Date>) {
        if let Some(last) = until
            && self.start <= last.0
            && last.0 < self.since
        {
            last.0 = self.start.plus(-1);
        }
        if let Some(first) = from
            && self.start <= first.0
            && first.0 <= self.since
        {
            first.0 = self.start;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> Day {
        Day::parse(text).expect("a day")
    }

    /// Rows of a layer from the start, from in between (twice) and from later: of those in between
    /// the newest counts from the start, what is later stays.
    #[test]
    fn the_newest_row_in_between_holds_from_the_start() {
        let row = |from: &str, is: &str| {
            format!("{{ from = \"{from}\", is = \"{is}\", clause = \"c\" }}")
        };
        let rows = [
            row("2020-01-01", "20"),
            row("2026-03-01", "18"),
            row("2026-12-01", "15"),
            row("2030-01-01", "9"),
        ];
        let text = format!(
            "id = \"county\"\noverlays = \"base\"\nlayer = \"local\"\ntitle = \"t\"\n\
             reason = \"r\"\n[values.trigger]\nrows = [{}]\n",
            rows.join(", ")
        );
        let file = RuleFile::from_toml("county", &text).expect("a layer");
        let back = file.as_if_from(day("2025-12-01"), day("2026-12-01"));
        let RuleFile::Overlay(layer) = back else {
            panic!("a layer stays a layer");
        };
        let read: Vec<(String, &str)> = (layer.values["trigger"].rows.iter())
            .map(|row| (row.from.to_string(), row.is.as_str()))
            .collect();
        let expected = [
            ("2020-01-01".to_string(), "20"),
            ("2030-01-01".to_string(), "9"),
            ("2025-12-01".to_string(), "15"),
        ];
        assert_eq!(read, expected);
    }

    /// A shipped set laid back over the years before it: the HFC rules of 2026 cover a rack in 2025
    /// only as if.
    #[test]
    fn a_set_covers_earlier_only_as_if() {
        let sets = crate::rules::shipped();
        let set = sets.into_iter().find(|set| set.id == "us-federal-hfc");
        let file = RuleFile::Set(Box::new(set.expect("the set")));
        let RuleFile::Set(back) = file.as_if_from(day("2025-01-01"), day("2026-01-01")) else {
            panic!("a set stays a set");
        };
        let begins = |set: &RuleSet| set.covers.iter().filter_map(|block| block.from).min();
        assert_eq!(begins(&back), Some(Date(day("2025-01-01"))));
        let RuleFile::Set(own) = &file else {
            panic!("a set");
        };
        assert_eq!(begins(own), Some(Date(day("2026-01-01"))));
    }
}
