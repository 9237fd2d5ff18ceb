//! Thirteen weeks: sites as rows, weeks as columns, what is late in front.

use super::duties::Filled;
use super::figures;
use super::words;
pub use crate::actions::mail::monday;
use crate::actions::show::duties::{Row, Word};
use crate::ledger::id::Id;
use reports::day::Day;
use std::collections::{BTreeMap, BTreeSet};

/// Weeks that are shown.
const WEEKS: usize = 13;
/// Sites that are shown, those with the earliest days.
const MOST_SITES: usize = 30;
/// Duties of a cell that are shown one by one.
const MOST_CHIPS: usize = 4;

/// The table.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Weeks {
    /// The Mondays of the columns, short.
    pub heads: Vec<String>,
    /// Sites with something in these weeks.
    pub sites: Vec<SiteRow>,
    /// How many sites more there are.
    pub more_sites: usize,
    /// How many duties have their day after these weeks.
    pub later: usize,
    /// How many have no day at all.
    pub undated: usize,
}

/// A site.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SiteRow {
    /// Its tag.
    pub name: String,
    /// The address of its duties.
    pub href: String,
    /// What is late, then week by week.
    pub cells: Vec<Cell>,
}

/// A week of a site.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Cell {
    /// Its duties, the first of them.
    pub chips: Vec<Chip>,
    /// How many there are more.
    pub more: usize,
    /// The address of all of them.
    pub href: String,
}

/// A duty in a cell.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Chip {
    /// Its shape.
    pub shape: Shape,
    /// Where the appliance is; empty: the whole organisation.
    pub href: String,
    /// The appliance.
    pub tag: String,
    /// The step.
    pub step: String,
    /// The class of the line below it.
    pub class: &'static str,
    /// Names the step.
    pub id: Id,
    /// The local layers whose numbers it rests on.
    pub layers: String,
    /// Was it over before the book knew of what began it?
    pub known_late: bool,
}

/// The shape before a duty says its sort.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shape {
    /// Looking for leaks.
    Inspection,
    /// Mending.
    Repair,
    /// Testing what was mended.
    Test,
    /// Papers: plans, reports, registrations.
    Report,
}

impl Shape {
    /// The shape of a duty by its name in the rule set.
    pub fn of(duty: &str) -> Shape {
        let has = |words: &[&str]| words.iter().any(|word| duty.contains(word));
        match duty {
            "plan_work" => Shape::Repair,
            _ if has(&["report", "plan", "notice", "registration", "record"]) => Shape::Report,
            _ if has(&["test", "verif"]) => Shape::Test,
            _ if has(&["repair", "stop_leak", "retrofit", "retire", "mend"]) => Shape::Repair,
            _ if has(&["inspect", "check", "detect", "alert"]) => Shape::Inspection,
            _ => Shape::Report,
        }
    }
}

impl Weeks {
    /// The table of rows that are in the order of the list.
    pub fn of(rows: &[Row], today: Day, asked: &Filled) -> Weeks {
        let begins = monday(today);
        let mut weeks = Weeks {
            heads: (0..WEEKS).map(|at| head(nth(begins, at))).collect(),
            ..Weeks::default()
        };
        let mut order: Vec<SiteRow> = Vec::new();
        let mut known: BTreeMap<&str, usize> = BTreeMap::new();
        for row in rows.iter().filter(|row| row.word.is_owed()) {
            let column = match (row.word, row.due) {
                (Word::Late, _) => Some(0),
                (_, Some(due)) => column(begins, due),
                (_, None) => {
                    weeks.undated += 1;
                    continue;
                }
            };
            let Some(column) = column else {
                weeks.later += 1;
                continue;
            };
            let at = *known.entry(site_of(row)).or_insert_with(|| {
                order.push(SiteRow::new(row, begins, asked));
                order.len() - 1
            });
            order[at].cells[column].take(row);
        }
        weeks.more_sites = order.len().saturating_sub(MOST_SITES);
        order.truncate(MOST_SITES);
        weeks.sites = order;
        weeks
    }
}

impl Weeks {
    /// The late steps that are shown.
    pub fn late(&self) -> BTreeSet<Id> {
        let late = self.sites.iter().filter_map(|site| site.cells.first());
        let chips = late.flat_map(|cell| &cell.chips);
        chips.map(|chip| chip.id).collect()
    }

    /// Marks steps that were over before the book knew.
    pub fn mark(&mut self, known_late: &BTreeSet<Id>) {
        let cells = self.sites.iter_mut().flat_map(|site| &mut site.cells);
        for chip in cells.flat_map(|cell| &mut cell.chips) {
            chip.known_late = known_late.contains(&chip.id);
        }
    }
}

/// The Monday of a column, counted from this week.
fn nth(begins: Day, at: usize) -> Day {
    begins.plus(7 * i32::try_from(at).unwrap_or(0))
}

/// The column of a day: 0 holds what is late.
fn column(begins: Day, due: Day) -> Option<usize> {
    let week = usize::try_from(due.days_since(begins).div_euclid(7)).unwrap_or(0);
    (week < WEEKS).then_some(week + 1)
}

fn head(monday: Day) -> String {
    let written = figures::day(monday);
    let mut words = written.split(' ');
    let (day, month) = (words.next().unwrap_or_default(), words.next());
    format!(
        "{day} {}",
        month.and_then(|month| month.get(..3)).unwrap_or_default()
    )
}

fn site_of(row: &Row) -> &str {
    match (row.appliance, row.site_tag.as_str()) {
        (None, _) => "The whole organisation",
        (Some(_), "") => "No site is known",
        (Some(_), tag) => tag,
    }
}

impl SiteRow {
    fn new(row: &Row, begins: Day, asked: &Filled) -> SiteRow {
        let site = row.site.map_or(String::new(), |id| id.to_string());
        let site = if row.site_tag.is_empty() {
            &site
        } else {
            &row.site_tag
        };
        let address = |more: &[(&str, &str)]| {
            let mut members = vec![("site", site.as_str())];
            members.extend_from_slice(more);
            asked.address(&members)
        };
        let late = Cell {
            href: address(&[("state", "late")]),
            ..Cell::default()
        };
        let week = |at: usize| {
            let first = nth(begins, at);
            let (from, to) = (first.to_string(), first.plus(6).to_string());
            Cell {
                href: address(&[("from", &from), ("to", &to)]),
                ..Cell::default()
            }
        };
        SiteRow {
            name: site_of(row).to_string(),
            href: address(&[]),
            cells: std::iter::once(late).chain((0..WEEKS).map(week)).collect(),
        }
    }
}

/// `local layer 'pueblo-example'`, where the law alone does not say it.
fn by_layers(row: &Row) -> String {
    let mut names: Vec<&str> = row.layers.iter().map(|layer| &layer.layer[..]).collect();
    names.dedup();
    match names.is_empty() {
        true => String::new(),
        false => format!("local layer '{}'", names.join("', '")),
    }
}

impl Cell {
    fn take(&mut self, row: &Row) {
        if self.chips.len() == MOST_CHIPS {
            self.more += 1;
            return;
        }
        let id = row.appliance.map(|id| id.to_string());
        self.chips.push(Chip {
            shape: Shape::of(&row.duty),
            href: id.map_or(String::new(), |id| super::appliance_path(&row.tag, &id)),
            tag: row.tag.clone(),
            step: words::plain(&row.duty),
            id: row.step,
            layers: by_layers(row),
            known_late: false,
            class: match row.word {
                Word::Late => "passed",
                Word::Due => "",
                _ => "ahead",
            },
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By the calendar of November 2026: the 23rd is a Monday, the 29th a Sunday.
    #[test]
    fn a_week_begins_on_monday() {
        let day = |text| Day::parse(text).unwrap();
        for (of, first) in [
            ("2026-11-22", "2026-11-16"),
            ("2026-11-23", "2026-11-23"),
            ("2026-11-26", "2026-11-23"),
            ("2026-11-29", "2026-11-23"),
            ("1969-12-31", "1969-12-29"),
        ] {
            assert_eq!(monday(day(of)), day(first), "{of}");
        }
    }

    #[test]
    fn a_day_stands_in_the_column_of_its_week() {
        let day = |text| Day::parse(text).unwrap();
        let begins = day("2026-11-23");
        assert_eq!(column(begins, day("2026-11-26")), Some(1));
        assert_eq!(column(begins, day("2026-11-30")), Some(2));
        // The thirteenth week is that of 15 February 2027.
        assert_eq!(column(begins, day("2027-02-21")), Some(13));
        assert_eq!(column(begins, day("2027-02-22")), None);
    }

    #[test]
    fn the_shape_says_the_sort_of_a_step() {
        for (duty, shape) in [
            ("leak_inspection", Shape::Inspection),
            ("repair", Shape::Repair),
            ("initial_test", Shape::Test),
            ("retrofit_plan", Shape::Report),
            ("chronic_report", Shape::Report),
        ] {
            assert_eq!(Shape::of(duty), shape, "{duty}");
        }
    }
}
