//! The service record in words: what a step is called, what its boxes ask, what a choice means.

use crate::ledger::entry::EntryKind;
use crate::pages::words::{capital, plain};

/// What a step is called on a form.
pub fn step_title(kind: EntryKind) -> &'static str {
    match kind {
        EntryKind::LeakFound => "Leak found",
        EntryKind::Repair => "Repair",
        EntryKind::VerificationTest => "Test after a repair",
        EntryKind::PressureTest => "Pressure test with nitrogen",
        EntryKind::VacuumTest => "Vacuum test",
        EntryKind::RunCheck => "Check while running",
        EntryKind::Inspection => "Leak inspection",
        EntryKind::Isolate => "Leaking part isolated",
        EntryKind::Shutdown => "Shut down",
        EntryKind::Mothball => "Mothballed",
        EntryKind::BackInOperation => "Back in operation",
        EntryKind::Plan => "Plan to retrofit or retire",
        EntryKind::Extension => "Extension asked for",
        EntryKind::Decision => "Decision",
        EntryKind::Notice => "Report handed in",
        EntryKind::Observation => "What gauge and wall say of its content",
        EntryKind::Count => "Weigh it and count it",
        _ => "Step",
    }
}

/// What a box asks.
pub fn label(kind: EntryKind, name: &str) -> &'static str {
    match (kind, name) {
        (_, "found_by") => "Found by",
        (_, "process_shutdown") => "Does the repair need an industrial process to stop?",
        (EntryKind::VerificationTest, "all_leaks") => "Were all repaired leaks tested?",
        (_, "all_leaks") => "Are all leaks that were found repaired?",
        (_, "evacuated") => "Was it evacuated for the repair?",
        (_, "result") => "Result",
        (_, "of") => "What was inspected?",
        (_, "type") => "Kind of inspection",
        (_, "certified") => {
            "Were all visible and accessible parts inspected, by a certified person?"
        }
        (_, "method") => "How?",
        (_, "run_hours") => "Hours run since the last one",
        (_, "stage") => "Which test?",
        (_, "ground") => "Ground",
        (_, "answer") => "Answer of the authority",
        (_, "delivered_on") => "Parts delivered on",
        (_, "until") => "Asked for until",
        (_, "choice") => "What was decided?",
        (_, "ghg_reporter") => "Does the facility report greenhouse gases?",
        (EntryKind::Recover, "what") => "Was all that was in it recovered?",
        (_, "what") => "What was handed in?",
        (EntryKind::Count, "reason") => "Why the scale and the book differ, if known",
        (_, other) => super::measured::label(other).unwrap_or("Stated"),
    }
}

/// What a choice means.
pub fn choice(name: &str, word: &str) -> String {
    if let Some(known) = super::measured::choice(name, word) {
        return known;
    }
    let known = match (name, word) {
        ("found_by", "detector") => "An automatic detector",
        ("found_by", "inspection") => "An inspection",
        ("found_by", "technician") => "The technician at work",
        ("found_by", "owner") => "The owner",
        ("result", "clean") => "No leak found",
        ("result", "leak") => "A leak was found",
        ("of", "unit") => "The appliance",
        ("of", "detector") => "The leak detector",
        ("of", "container") => "A container",
        ("stage", "initial") => "First test, right after the repair",
        ("stage", "follow_up") => "Second test, in normal operation",
        ("choice", "replace") => "Replace the appliance",
        ("choice", "fresh_leak") => "This is a leak of its own",
        ("choice", "waive") => "Waive what is owed",
        ("ground", "parts") => "Parts cannot be had in time",
        ("ground", "radiological") => "Radiological contamination",
        ("ground", "other_law") => "Another law stands in the way",
        ("ground", "more_than_a_year") => "More than a year is needed",
        ("what", "all") => "Yes, all",
        ("what", "chronic_report") => "Report of a chronic leak",
        ("what", "purge_exclusion") => "Notice of the purge exclusion",
        (_, other) => return capital(&plain(other)),
    };
    known.to_string()
}

/// What may be typed freely for a kind: name and label.
pub fn texts(kind: EntryKind) -> &'static [(&'static str, &'static str)] {
    const PLACE: (&str, &str) = ("place", "Where at the appliance?");
    match kind {
        EntryKind::LeakFound => &[("place", "Where is the leak?")],
        EntryKind::Repair => &[
            PLACE,
            ("work_done", "What was done?"),
            ("parts", "Which parts?"),
        ],
        EntryKind::VerificationTest => &[("place", "Where was tested?")],
        EntryKind::Inspection => &[("place", "Where is each leak?")],
        EntryKind::Isolate => &[PLACE],
        EntryKind::Count => &[
            ("scale", "Scale, by its tag"),
            ("refrigerant", "What is in it, where the book does not say"),
        ],
        EntryKind::Plan => &[
            ("work_done", "What the plan says"),
            ("document", "Number or place of the document"),
        ],
        EntryKind::Extension | EntryKind::Decision | EntryKind::Notice => {
            &[("document", "Number or place of the document")]
        }
        _ => &[],
    }
}

/// A word of an entry as a line below it: `Result: passed`.
pub fn said(kind: &str, name: &str, word: &str) -> String {
    let kind = EntryKind::named(kind);
    let label = kind.map_or("Stated", |kind| label(kind, name));
    let end = if label.ends_with('?') { "" } else { ":" };
    format!("{label}{end} {}.", choice(name, word))
}
