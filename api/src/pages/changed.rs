//! What a correction or a late entry changed, line by line: the old figure and the new one.

use super::figures;
use reports::standing::{AdditionShown, Standing};
use std::collections::BTreeSet;

/// The figures that differ, in words.
pub fn lines(tag: &str, before: &Standing, with: &Standing) -> Vec<String> {
    let mut lines = Vec::new();
    let days: BTreeSet<&str> = (before.additions.iter().chain(&with.additions))
        .map(|addition| addition.day.as_str())
        .collect();
    for day in days {
        let (old, new) = (said(before, day), said(with, day));
        if old != new {
            let day = figures::day_text(day);
            lines.push(format!("{tag}, {day}: {old} → {new}."));
        }
    }
    let balance = |standing: &Standing| figures::mass_both(&standing.balance);
    let (old, new) = (balance(before), balance(with));
    if old != new {
        lines.push(format!("{tag}, charged less recovered: {old} → {new}."));
    }
    let passed = |standing: &Standing| -> BTreeSet<String> {
        let passed = standing.exceedances.iter();
        passed
            .map(|passed| format!("{}, {}", passed.means, figures::day_text(&passed.on)))
            .collect()
    };
    let (old, new) = (passed(before), passed(with));
    lines.extend(
        old.difference(&new)
            .map(|gone| format!("{tag}, no longer: {gone}.")),
    );
    lines.extend(
        new.difference(&old)
            .map(|come| format!("{tag}, new: {come}.")),
    );
    lines
}

/// What a standing says of the addition of a day.
fn said(standing: &Standing, day: &str) -> String {
    let on = |addition: &&AdditionShown| addition.day == day;
    let Some(addition) = standing.additions.iter().rfind(on) else {
        return "no addition".to_string();
    };
    match addition.counting() {
        Some(rate) => format!("{} added, {}", addition.mass.lb_oz, figures::rate(rate)),
        None => format!("{} added, no rate", addition.mass.lb_oz),
    }
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;

    /// 26.3 % is the rate of the job; an addition that is taken back leaves none.
    #[test]
    fn old_and_new_figures_stand_side_by_side() {
        let before = sample::standing(Some(210), vec![sample::addition(Some(sample::over()))]);
        let with = sample::standing(Some(210), Vec::new());
        let changed = lines("HG-RACK-A", &before, &with);
        assert_eq!(
            changed,
            ["HG-RACK-A, 14 July 2026: 14 lb 8 oz added, 26.3\u{202f}% → no addition."]
        );
        assert!(lines("HG-RACK-A", &before, &before).is_empty());
        let mut passed = before.clone();
        passed.exceedances = vec![sample::exceedance("2026-07-14")];
        let changed = lines("HG-RACK-A", &passed, &before);
        assert_eq!(
            changed,
            ["HG-RACK-A, no longer: leak rate over the trigger, 14 July 2026."]
        );
    }
}
