//! Entries as rows of a history: what was done, how much, by whom, what corrects what.

use super::field::cage::in_hand;
use super::figures::{self, Columns};
use super::service::{measured, words as service};
use super::words;
use crate::actions::show::lines::{Line, LineMoved, Named};
use reports::mass::{self, Mass};
use reports::physics::{Weighing, mass_uncertainty};

/// A row of a history.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Row {
    /// The entry's number.
    pub entry: u64,
    /// When it happened.
    pub happened: String,
    /// What was done.
    pub what: String,
    /// Lines below it.
    pub notes: Vec<String>,
    /// The correction that stands in its place.
    pub corrected_by: Option<u64>,
    /// The entry it corrects.
    pub corrects: Option<u64>,
    /// What went in (of an appliance).
    pub charged: Columns,
    /// What came out (of an appliance).
    pub recovered: Columns,
    /// The mass in kilograms.
    pub kg: String,
    /// The mass in pounds and ounces.
    pub mass: String,
    /// Who did it.
    pub by: String,
    /// The beginning of its hash.
    pub print: String,
}

impl Row {
    /// The row of the whole book.
    pub fn of(line: &Line) -> Row {
        // What returns under its new name left under its old one in the same entry.
        let moved = line.moved.iter();
        let once = moved.filter(|moved| moved.from.word != "redesignation");
        let total: i128 = once.map(|moved| i128::from(moved.steps)).sum();
        Row {
            entry: line.seq,
            happened: when(line),
            what: what(line),
            notes: notes(line),
            corrected_by: line.corrected_by,
            corrects: line.corrects,
            mass: match line.moved.is_empty() {
                true => String::new(),
                false => mass::lb_oz_text(total),
            },
            by: line.by.clone(),
            print: figures::print(&line.hash, 8),
            ..Row::default()
        }
    }

    /// The row as the history of an appliance shows it: in and out in columns of their own.
    pub fn of_appliance(line: &Line, appliance: &str) -> Row {
        let is_it = |named: &Named| named.id.is_some_and(|id| id.to_string() == appliance);
        let sum = |end: fn(&LineMoved) -> &Named| -> Option<i128> {
            let mut own = line
                .moved
                .iter()
                .filter(|moved| is_it(end(moved)))
                .peekable();
            own.peek()?;
            Some(own.map(|moved| i128::from(moved.steps)).sum())
        };
        let (charged, recovered) = (sum(|moved| &moved.to), sum(|moved| &moved.from));
        let kg = charged.or(recovered).map(mass::kg_text).unwrap_or_default();
        Row {
            charged: figures::columns(charged),
            recovered: figures::columns(recovered),
            kg: kg.trim_end_matches(" kg").to_string(),
            ..Row::of(line)
        }
    }
}

/// `14 July 2026, 11:52`.
pub fn when(line: &Line) -> String {
    let day = figures::day_text(&line.day);
    match &line.time {
        Some(time) => format!("{day}, {time}"),
        None => day,
    }
}

/// What was done, in a word or two: whose hands a cylinder is in, else what its kind did.
pub fn deed(line: &Line) -> String {
    match line.held_by.as_deref() {
        Some(who) => format!("Held by {}", in_hand(who)),
        None => words::deed(&line.kind),
    }
}

/// What was done, with where from and where to.
pub fn what(line: &Line) -> String {
    if line.annuls {
        return "Taken back, nothing in its place".to_string();
    }
    let mut text = deed(line);
    if let Some(reason) = &line.reason {
        text.push_str(&format!(", {}", words::reason(reason)));
    }
    if let Some(about) = &line.about {
        text.push_str(&format!(": {}", named(about)));
    }
    if let Some(adopted) = &line.adopted {
        text.push_str(&format!(": {}", words::plain(adopted)));
    }
    for (at, moved) in line.moved.iter().enumerate() {
        text.push_str(if at == 0 { ": " } else { "; " });
        text.push_str(&format!("{} {}", moved.refrigerant, way(moved)));
    }
    text
}

/// `into HG-RACK-A from SUP-88231`.
pub fn way(moved: &LineMoved) -> String {
    let from = match moved.from.word.as_str() {
        "opening" => String::new(),
        "redesignation" => " under its new name".to_string(),
        _ => format!(" from {}", named(&moved.from)),
    };
    let to = match moved.to.word.as_str() {
        "redesignation" => "taken out under its old name".to_string(),
        "atmosphere" => "to the atmosphere".to_string(),
        "counterparty" => format!("to {}", named(&moved.to)),
        _ => format!("into {}", named(&moved.to)),
    };
    format!("{to}{from}")
}

/// A thing by its tag, a place of the world by its word.
fn named(named: &Named) -> String {
    match (named.tag.is_empty(), named.id) {
        (false, _) => named.tag.clone(),
        (true, Some(_)) => format!("{} (no tag)", named.word),
        (true, None) => words::plain(&named.word),
    }
}

/// How far a weighed mass can be trusted; it stands beside the mass and softens no limit.
fn trusted(moved: &LineMoved) -> Option<String> {
    let scale = moved.scale.as_ref()?;
    let mass = Mass::from_steps(moved.steps);
    let known = mass_uncertainty(scale, Weighing::Difference, mass).ok()?;
    let step = mass::lb_oz_text(i128::from(scale.resolution.steps()));
    let by = match scale.checks.len() {
        0 => "by the step of the scale alone".to_string(),
        count => {
            let checks = figures::counted(count, "check weight", "check weights");
            format!("by the step of the scale and {checks}")
        }
    };
    Some(format!(
        "Weighed to {}: known to ± {:.1} g (k = 2), {by}.",
        step.trim_start_matches("0 lb "),
        known.expanded_g
    ))
}

/// Who corrected, when, and what was wrong; the line itself names who did the work.
pub fn correcting(line: &Line) -> Option<String> {
    let correction = line.correction.as_ref()?;
    let wrong = (correction.reason.as_deref())
        .map_or(String::new(), |word| format!(": {}", words::wrong(word)));
    Some(format!(
        "by {} on {}{wrong}",
        correction.by,
        figures::day_text(&correction.day)
    ))
}

/// What is said below the line.
pub fn notes(line: &Line) -> Vec<String> {
    let mut notes = Vec::new();
    notes.extend(correcting(line).map(|said| format!("Corrected {said}.")));
    if line.returned_to_full_charge {
        notes.push("Back to full charge.".to_string());
    }
    notes.extend(line.moved.iter().filter_map(trusted));
    if line.late {
        notes.push(format!(
            "Late: booked {}.",
            figures::instant(&line.booked_at)
        ));
    }
    if line.imported {
        notes.push("From an imported file.".to_string());
    }
    match measured::notes(line) {
        Some(said) => notes.extend(said),
        None => {
            let said = |(name, word): (&String, &String)| service::said(&line.kind, name, word);
            notes.extend(line.words.iter().map(said));
        }
    }
    for (field, before) in [
        ("place", "Where: "),
        ("work_done", "Done: "),
        ("parts", "Parts: "),
        ("document", "Document: "),
        ("note", ""),
        ("reason_text", "Reason: "),
    ] {
        if let Some(text) = line.texts.get(field) {
            notes.push(format!("{before}“{text}”"));
        }
    }
    for (field, text) in &line.texts {
        if field.ends_with(".document") {
            notes.push(format!("Document {text}."));
        }
    }
    notes
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;
    use crate::actions::show::lines::Correcting;
    #[test]
    fn a_charge_stands_in_the_columns_of_its_appliance() {
        let line = sample::line("HG-RACK-A");
        let appliance = line.moved[0].to.id.unwrap().to_string();
        let row = Row::of_appliance(&line, &appliance);
        assert_eq!(
            (row.charged.lb.as_str(), row.charged.oz.as_str()),
            ("14", "8")
        );
        assert_eq!(row.recovered, Columns::default());
        assert_eq!(row.kg, "6.577");
        assert_eq!(
            row.what,
            "Charged, top-up after a leak: R-448A into HG-RACK-A from SUP-88231"
        );
        assert_eq!(row.happened, "14 July 2026, 11:52");
        assert_eq!(row.notes[0], "Back to full charge.");
        assert_eq!(row.print, "5a5a5a5a");
    }

    /// Worked by hand: steps of 5 g give 2 x 5 / √6 = 4.08 g for the difference of two readings.
    #[test]
    fn a_weighed_mass_says_how_far_it_is_known() {
        let mut line = sample::line("HG-RACK-A");
        assert!(notes(&line).iter().all(|note| !note.contains("known to")));
        line.moved[0].scale = Some(reports::physics::ScaleFacts {
            resolution: Mass::from_grams_text("5").unwrap(),
            checks: Vec::new(),
        });
        let said = notes(&line);
        assert!(
            said.iter().any(|note| note.contains("± 4.1 g (k = 2)")),
            "{said:?}"
        );
    }

    #[test]
    fn corrections_and_late_entries_say_so() {
        let mut line = sample::line("HG-RACK-A");
        line.late = true;
        line.imported = true;
        line.texts = [("movements.0.document".to_string(), "CR-5512".to_string())].into();
        let said = notes(&line);
        assert_eq!(said[1], "Late: booked 14 July 2026, 17:53 UTC.");
        assert_eq!(said[2], "From an imported file.");
        assert_eq!(said[3], "Document CR-5512.");
        line.annuls = true;
        assert_eq!(what(&line), "Taken back, nothing in its place");
        line.correction = Some(Correcting {
            by: "Osric Kettleby".to_string(),
            day: "2026-07-15".to_string(),
            reason: Some("misread".to_string()),
        });
        let said = "Corrected by Osric Kettleby on 15 July 2026: the scale was misread.";
        assert_eq!(notes(&line)[0], said);
    }

    #[test]
    fn places_of_the_world_have_words() {
        let mut line = sample::line("HG-RACK-A");
        let world = |word: &str| Named {
            word: word.to_string(),
            id: None,
            tag: String::new(),
        };
        line.moved[0].to = world("atmosphere");
        assert_eq!(way(&line.moved[0]), "to the atmosphere from SUP-88231");
        line.moved[0].to.word = "redesignation".to_string();
        line.moved[0].from = world("opening");
        assert_eq!(way(&line.moved[0]), "taken out under its old name");
    }
}
