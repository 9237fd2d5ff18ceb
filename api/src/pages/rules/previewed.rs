//! What a change would do, as rows of a page.

use super::super::{appliance_path, encoded, words};
use crate::actions::preview_rules::{Changed, Crossing, Preview};
use reports::standing::ExceedanceShown;

/// What would change.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Previewed {
    /// That it covers none of the appliances; stands above everything else.
    pub covers_none: Option<String>,
    /// What it comes to, in sentences.
    pub sentences: Vec<String>,
    /// Appliances of which anything changes.
    pub changed: Vec<ChangedRow>,
    /// Appliances of which anything changes and that are not shown.
    pub more: u64,
    /// Who would have crossed, where the change is still to come.
    pub crossing: Option<Vec<ChangedRow>>,
    /// Who would have crossed and is not shown.
    pub more_crossing: u64,
    /// From which day it was laid back.
    pub as_if_from: String,
}

/// An appliance with what would change.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ChangedRow {
    /// Its tag.
    pub tag: String,
    /// Its page.
    pub href: String,
    /// Its state now and then; empty: the same.
    pub state: String,
    /// A line for each change.
    pub lines: Vec<String>,
    /// The entries it rests on.
    pub entries: Vec<u64>,
}

impl Previewed {
    /// The rows of a preview.
    pub fn of(preview: &Preview) -> Previewed {
        let rest = |all: u64, shown: usize| all.saturating_sub(u64::try_from(shown).unwrap_or(all));
        let as_if = preview.as_if.as_ref();
        let crossing = as_if.map(|it| it.crossing.iter().map(ChangedRow::crossing).collect());
        let nowhere = preview.nowhere.as_ref();
        let mut sentences = preview.sentences();
        sentences.retain(|sentence| Some(sentence) != nowhere);
        Previewed {
            covers_none: nowhere
                .map(|why| format!("It covers 0 of {} appliances. {why}", preview.appliances)),
            sentences,
            changed: preview.changed.iter().map(ChangedRow::changed).collect(),
            more: rest(preview.counts.appliances, preview.changed.len()),
            crossing,
            more_crossing: as_if.map_or(0, |it| rest(it.appliances, it.crossing.len())),
            as_if_from: as_if.map_or(String::new(), |it| super::super::figures::day(it.from)),
        }
    }
}

impl ChangedRow {
    fn changed(of: &Changed) -> ChangedRow {
        let state = match of.over {
            (now, then) if now == then => String::new(),
            (now, then) => format!("{} becomes {}", standing(now), standing(then)),
        };
        ChangedRow {
            tag: of.tag.clone(),
            href: appliance_path(&of.tag, &encoded(&of.tag)),
            state,
            lines: without_tag(&of.tag, of.lines()),
            entries: entries(of.passed.iter().chain(&of.no_longer)),
        }
    }

    fn crossing(of: &Crossing) -> ChangedRow {
        let said = |one: &ExceedanceShown, verb: &str| {
            let (limit, set, worked) = (words::plain(&one.limit), &one.set, &one.worked);
            format!("{verb} {limit} of {set} on {}: {worked}.", one.on)
        };
        let passed = of.passed.iter().map(|one| said(one, "Would have passed"));
        let not = (of.no_longer.iter()).map(|one| said(one, "Would not have passed"));
        ChangedRow {
            tag: of.tag.clone(),
            href: appliance_path(&of.tag, &encoded(&of.tag)),
            state: String::new(),
            lines: passed.chain(not).collect(),
            entries: entries(of.passed.iter().chain(&of.no_longer)),
        }
    }
}

fn standing(word: &str) -> &'static str {
    match word {
        "yes" => "over the limit",
        "no" => "not over",
        _ => "not to be judged",
    }
}

/// The lines of the command without the tag, which stands in its own column here.
fn without_tag(tag: &str, lines: Vec<String>) -> Vec<String> {
    let own = format!("{tag}: ");
    let bare =
        |line: String| words::capital(&words::plain(line.strip_prefix(&own).unwrap_or(&line)));
    lines.into_iter().map(bare).collect()
}

fn entries<'e>(of: impl Iterator<Item = &'e ExceedanceShown>) -> Vec<u64> {
    let mut entries: Vec<u64> = of.flat_map(|one| one.entries.clone()).collect();
    entries.sort_unstable();
    entries.dedup();
    entries
}
