//! The table below the drawing: the same figures, in words.

use super::{Loss, left_out_words, step_words};
use crate::pages::figures;
use crate::pages::words::capital;
use reports::day::Day;

/// A row.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LossRow {
    /// The day.
    pub day: String,
    /// What happened.
    pub what: String,
    /// The mass that went in.
    pub mass: String,
    /// The annualised rate.
    pub rate: String,
    /// The rolling year.
    pub rolling: String,
    /// The limit of the day.
    pub limit: String,
    /// The entries.
    pub entries: Vec<u64>,
    /// Was it corrected?
    pub struck: bool,
    /// Is it over the limit?
    pub is_over: bool,
}

impl LossRow {
    fn plain(day: Day, what: String, entries: Vec<u64>) -> LossRow {
        LossRow {
            day: figures::day(day),
            what,
            mass: String::new(),
            rate: String::new(),
            rolling: String::new(),
            limit: String::new(),
            entries,
            struck: false,
            is_over: false,
        }
    }
}

pub(super) fn rows(loss: &Loss) -> Vec<LossRow> {
    let course = loss.course;
    let mut rows: Vec<(Day, u8, LossRow)> = Vec::new();
    for limit in &loss.limits {
        let says = match (limit.value, limit.is_known) {
            (Some(_), _) if limit.from == course.first => "The limit at the beginning",
            (Some(_), _) => "Another limit",
            (None, false) => "Whether a limit applies is not known",
            (None, true) if limit.from == course.first => continue,
            (None, true) => "No limit applies from here on",
        };
        let mut row = LossRow::plain(limit.from, says.to_string(), Vec::new());
        row.limit.clone_from(&limit.text);
        rows.push((limit.from, 0, row));
    }
    for ghost in &loss.ghosts {
        let what = format!("First booked; {}", ghost.says);
        let mut row = LossRow::plain(ghost.day, what, vec![ghost.entry]);
        row.mass.clone_from(&ghost.mass);
        row.struck = true;
        rows.push((ghost.day, 1, row));
    }
    for left_out in &course.left_out {
        let what = format!("Charged, no addition: {}", left_out_words(left_out));
        let mut row = LossRow::plain(left_out.day, what, left_out.entries.clone());
        row.mass.clone_from(&left_out.mass.lb_oz);
        rows.push((left_out.day, 2, row));
    }
    for stem in &loss.stems {
        let what = match (stem.rate, stem.is_over) {
            (None, _) => "Addition; full charge unknown",
            (_, true) => "Addition, over the limit",
            (_, false) => "Addition",
        };
        let mut row = LossRow::plain(stem.day, what.to_string(), stem.entries.clone());
        row.mass.clone_from(&stem.mass);
        row.rate.clone_from(&stem.rate_text);
        row.rolling.clone_from(&stem.rolling_text);
        row.limit.clone_from(&stem.limit_text);
        row.is_over = stem.is_over;
        rows.push((stem.day, 3, row));
    }
    for step in &course.steps {
        let row = LossRow::plain(step.day, capital(step_words(step)), vec![step.entry]);
        rows.push((step.day, 4, row));
    }
    for follow_up in &loss.follow_ups {
        let what = format!("Follow-up {} begins", follow_up.number);
        rows.push((
            follow_up.from,
            5,
            LossRow::plain(follow_up.from, what, Vec::new()),
        ));
        if let Some(until) = follow_up.until {
            let what = format!("Follow-up {} is closed", follow_up.number);
            rows.push((until, 6, LossRow::plain(until, what, Vec::new())));
        }
    }
    if let Some(now) = loss.rolling.last().filter(|now| now.value.is_some()) {
        let what = match &loss.since {
            Some(since) => format!("The rolling year now, {since}"),
            None => "The rolling year now".to_string(),
        };
        let mut row = LossRow::plain(course.last, what, Vec::new());
        row.rolling.clone_from(&now.text);
        rows.push((course.last, 7, row));
    }
    rows.sort_by_key(|(day, rank, _)| (*day, *rank));
    rows.into_iter().map(|(.., row)| row).collect()
}
