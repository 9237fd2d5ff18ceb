//! Rows of the owner's record: masses that moved, steps that were done, what a visit comes to.

use crate::actions::show::lines::{Line, LineMoved};
use crate::actions::show::record::Record;
use crate::pages::lines::{what, when};
use crate::pages::service::{measured, words as service};
use crate::pages::{figures, words};
use reports::mass;
use reports::physics::VACUUM_CAUTION;

/// A mass that moved.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct MovedRow {
    /// The entry.
    pub entry: String,
    /// What was done.
    pub what: String,
    /// From or into which cylinder.
    pub cylinder: String,
    /// Pounds and ounces.
    pub lb_oz: String,
    /// Decimal pounds.
    pub lb: String,
    /// Kilograms.
    pub kg: String,
    /// Taken back?
    pub struck: bool,
}

/// A step without a weight.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StepRow {
    /// The entry.
    pub entry: String,
    /// At which part.
    pub part: String,
    /// What was done.
    pub work: String,
    /// Everything else it says.
    pub says: String,
    /// Taken back?
    pub struck: bool,
}

impl MovedRow {
    pub(super) fn all(line: &Line) -> Vec<MovedRow> {
        let row = |moved: &LineMoved| {
            let steps = i128::from(moved.steps);
            let ends = [&moved.from, &moved.to];
            let other = ends.into_iter().find(|end| end.word != "appliance");
            let reason = line.reason.as_deref().map(words::reason);
            MovedRow {
                entry: figures::number(line.seq),
                what: format!(
                    "{} {}{}",
                    words::deed(&line.kind),
                    moved.refrigerant,
                    reason.map_or(String::new(), |reason| format!(", {reason}"))
                ),
                cylinder: other.map(|other| other.tag.clone()).unwrap_or_default(),
                struck: line.corrected_by.is_some(),
                ..MovedRow::of(steps)
            }
        };
        line.moved.iter().map(row).collect()
    }

    fn of(steps: i128) -> MovedRow {
        let bare = |text: String, unit: &str| text.trim_end_matches(unit).trim().to_string();
        MovedRow {
            lb_oz: mass::lb_oz_text(steps),
            lb: bare(mass::lb_text(steps), "lb"),
            kg: bare(mass::kg_text(steps), "kg"),
            ..MovedRow::default()
        }
    }
}

/// What went in less what came out, in force.
pub(super) fn net(record: &Record) -> Option<MovedRow> {
    let mut moved = record
        .lines
        .iter()
        .filter(|line| line.corrected_by.is_none())
        .flat_map(|line| &line.moved)
        .peekable();
    moved.peek()?;
    let signed = moved.map(|moved| match moved.to.word.as_str() {
        "appliance" => i128::from(moved.steps),
        _ => -i128::from(moved.steps),
    });
    let net: i128 = signed.sum();
    let what = match net {
        0 => "Net of this visit",
        net if net < 0 => "Net of this visit, taken out",
        _ => "Net of this visit, put in",
    };
    Some(MovedRow {
        what: what.to_string(),
        ..MovedRow::of(net.abs())
    })
}

impl StepRow {
    pub(super) fn of(line: &Line) -> Option<StepRow> {
        if !line.moved.is_empty() || line.about.is_none() {
            return None;
        }
        let text = |name: &str| line.texts.get(name).cloned();
        let parts = [text("place"), text("parts")];
        let parts: Vec<String> = parts.into_iter().flatten().collect();
        let mut says = said(line);
        says.extend(text("document").map(|document| format!("Document {document}.")));
        says.extend(text("note"));
        Some(StepRow {
            entry: figures::number(line.seq),
            part: match parts.is_empty() {
                true => "not stated".to_string(),
                false => parts.join("; "),
            },
            work: match text("work_done") {
                Some(done) => format!("{}: {done}", words::deed(&line.kind)),
                None => match line.annuls {
                    true => what(line),
                    false => words::deed(&line.kind),
                },
            },
            says: format!("{}. {}", when(line), says.join(" ")),
            struck: line.corrected_by.is_some(),
        })
    }
}

/// What a step says: measured ones in the sentences of their reading, so that a visit with several
/// tests still fits on one sheet; others word by word.
fn said(line: &Line) -> Vec<String> {
    let word = |(name, word): (&String, &String)| service::said(&line.kind, name, word);
    let Some(mut read) = measured::notes(line) else {
        return line.words.iter().map(word).collect();
    };
    // The sheet is no instruction: how to read a vacuum stands on the page of the entry.
    read.retain(|text| text != VACUUM_CAUTION);
    let stage = line.words.get_key_value("stage");
    stage.into_iter().map(word).chain(read).collect()
}
