//! What a finding says of itself: what was asked when it was booked, who answered what, how it was
//! settled, and what that changed.

use super::ways::Ways;
use crate::actions::decide::is_stop;
use crate::actions::show::found::OneFound;
use crate::actions::show::lines::Line;
use crate::actions::show::things::ThingShown;
use crate::pages::figures;
use crate::pages::lines::when;
use crate::pages::service::measured;

/// Was nobody asked, so that the question still stands?
pub fn is_unanswered(found: &OneFound) -> bool {
    (found.offline || found.line.imported) && found.answer.is_none() && found.settled.is_none()
}

/// What was asked and what was answered.
pub fn asked(ways: &Ways, found: &OneFound) -> Vec<String> {
    let mut lines = Vec::new();
    if !ways.asks.is_empty() {
        lines.push(match is_unanswered(found) {
            true => format!("The question that nobody has answered: {}", ways.asks),
            false => format!("The question: {}", ways.asks),
        });
    }
    lines.push(answered(found));
    if found.settled.is_none() && found.rows.iter().any(|row| row.code == "test_not_decided") {
        lines.extend(measured::open(&found.line));
    }
    lines.extend(reason_of(&found.line).map(|text| format!("Reason given: “{text}”.")));
    lines.extend(found.line.corrected_by.map(|by| {
        let by = figures::number(by);
        format!("The entry was corrected since then: no. {by} stands in its place.")
    }));
    lines
}

fn answered(found: &OneFound) -> String {
    let by = &found.line.by;
    match (found.answer.as_deref(), found.offline, found.line.imported) {
        (Some("already_happened"), ..) => {
            format!("It was stopped. {by} answered: it has already happened.")
        }
        (Some("lifted"), ..) => format!("{by} lifted the stop with a written reason."),
        (Some(_), ..) => format!("{by} was asked and answered: it is so."),
        (None, true, _) => {
            let stops = found.rows.iter().any(|row| is_stop(&row.code));
            let what = if stops { "stopped" } else { "asked" };
            format!("{by} booked it without signal, so that nobody could be {what}.")
        }
        (None, _, true) => "It came from a file, so that nobody was asked.".to_string(),
        (None, ..) => "The book noticed it; nobody was asked.".to_string(),
    }
}

fn reason_of(line: &Line) -> Option<&str> {
    line.texts.get("reason_text").map(String::as_str)
}

/// How it was settled and what that changed; empty: it is open.
pub fn settled(ways: &Ways, found: &OneFound) -> Vec<String> {
    let Some(line) = &found.settled else {
        return Vec::new();
    };
    let reason = line.reason.as_deref().unwrap_or_default();
    let known = ways.reasons.iter().find(|(word, _)| *word == reason);
    let says = match (known, line.kind.as_str()) {
        _ if line.corrects.is_some() => {
            let because = crate::pages::words::plain(reason);
            match found.line.corrected_by {
                Some(_) => format!("the entry that left it was corrected ({because})"),
                None => format!("another entry was corrected ({because}), and it is so no longer"),
            }
        }
        (_, "count") => "the cylinder was weighed".to_string(),
        (Some((_, says)), _) => says.trim_end_matches('.').to_string(),
        (None, _) => crate::pages::words::plain(reason),
    };
    let text = reason_of(line).map_or(String::new(), |text| format!(" “{text}”"));
    let mut lines = vec![format!(
        "Settled by {} on {} as no. {}: {says}.{text}",
        line.by,
        when(line),
        figures::number(line.seq)
    )];
    // Only these put a cylinder under quarantine.
    let grave = (found.rows.iter())
        .any(|row| row.grade == "high" && (is_stop(&row.code) || row.code == "content_doubtful"));
    let cylinders = found.things.iter().filter(|thing| thing.kind == "cylinder");
    for cylinder in cylinders.filter(|_| grave) {
        lines.push(match cylinder.quarantine {
            None if is_doubtful(cylinder) => format!(
                "{} is no longer under quarantine. What is in it goes to reclaim or destruction \
                 only.",
                cylinder.tag
            ),
            None => format!(
                "{} is no longer under quarantine: it may be filled and taken from again.",
                cylinder.tag
            ),
            Some(by) => format!(
                "{} stays under quarantine because of no. {}.",
                cylinder.tag,
                figures::number(by)
            ),
        });
    }
    lines
}

/// Is what is in it a mixture, several refrigerants, or not known?
fn is_doubtful(cylinder: &ThingShown) -> bool {
    let names: Vec<&str> = cylinder
        .balances
        .iter()
        .flatten()
        .map(|balance| balance.refrigerant.as_str())
        .collect();
    names.len() > 1
        || names
            .iter()
            .any(|name| ["mixture", "unknown"].contains(name))
}
