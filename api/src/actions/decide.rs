//! Answers: which there are, and what a posting becomes with those it carries.
//!
//! An answer stands in the leaf for ever, so its code and its choice are words of closed lists. A
//! stop or question that is answered, or whose fact has happened, becomes a finding; one that is
//! open refuses the posting.

use super::judge::Judged;
use super::post::Posting;
use super::refusal::{ActionError, Question, Refusal, Stop};
use crate::ledger::actor::{Actor, Role};
use crate::ledger::entry::{EntryKind, Leaf};
use crate::store::columns::PlaceNumber;
use crate::store::quarantine;
use reports::mass::QuestionCode;
use std::collections::BTreeMap;

/// Stops, by their words.
const STOPS: [&str; 8] = [
    "mixing",
    "expired",
    "condemned",
    "disposable",
    "over_full",
    "other_owner",
    "quarantined",
    "mixed_content",
];
/// Questions whose one answer is that it is so as stated.
const AS_STATED: [&str; 29] = [
    "above_design_pressure",
    "balance_below_zero",
    "below_resolution",
    "cannot_be_judged",
    "check_weight_far",
    "clock_skew",
    "content_class",
    "count_differs",
    "future_day",
    "heel_left",
    "implausible_pair",
    "look_alike",
    "old_day",
    "out_of_order_step",
    "over_content",
    "over_full_charge",
    "over_room",
    "rate_jump",
    "recovered_into_supply",
    "same_mass",
    "several_owners",
    "statement_again",
    "statement_differs",
    "statement_other_refrigerant",
    "statement_other_unit",
    "tag_looks_alike",
    "tag_of_several_alphabets",
    "water_capacity_below_tare",
    "wrong_refrigerant_for_appliance",
];
/// Answers about a time that a clock change skipped or doubled.
const TIME: (&str, &[&str]) = ("skipped_or_doubled_time", &["first", "second", "day_only"]);
/// Answers about content that gets another name, or is said to be better than it was.
const ANALYSED: &[&str] = &["analysed", "not_analysed"];
/// Questions with answers of their own.
const OWN: [(&str, &[&str]); 3] = [
    TIME,
    ("content_renamed", ANALYSED),
    ("content_cleared", ANALYSED),
];

/// The choices of a code; `None`: there is no such question and no such stop.
fn choices(code: &str) -> Option<Vec<&'static str>> {
    let read = [
        QuestionCode::PoundsOrOunces,
        QuestionCode::FinerThanAStep,
        QuestionCode::Swapped,
    ];
    if let Some(read) = read.into_iter().find(|read| read.word() == code) {
        return Some(read.answers().iter().map(|answer| answer.word()).collect());
    }
    if let Some((_, own)) = OWN.into_iter().find(|(known, _)| *known == code) {
        return Some(own.to_vec());
    }
    if STOPS.contains(&code) {
        return Some(vec!["already_happened", "lifted"]);
    }
    AS_STATED.contains(&code).then(|| vec!["as_stated"])
}

/// Every question and stop there is, with its answers: the same in each language of a client.
pub fn known_codes() -> Vec<(&'static str, Vec<&'static str>)> {
    let read = [
        QuestionCode::PoundsOrOunces,
        QuestionCode::FinerThanAStep,
        QuestionCode::Swapped,
    ];
    let read = read.into_iter().map(QuestionCode::word);
    let codes = STOPS
        .into_iter()
        .chain(AS_STATED)
        .chain(read)
        .chain(OWN.map(|(code, _)| code));
    let mut known: Vec<_> = codes
        .filter_map(|code| Some((code, choices(code)?)))
        .collect();
    known.sort_unstable();
    known
}

/// Is this the word of a stop?
pub fn is_stop(code: &str) -> bool {
    STOPS.contains(&code)
}

/// Refuses answers to questions nobody asks, and choices nobody offers.
pub fn closed(answers: &BTreeMap<String, String>) -> Result<(), ActionError> {
    for (code, choice) in answers {
        let pointer = format!("/answers/{code}");
        let Some(choices) = choices(code) else {
            let known = STOPS.iter().chain(&AS_STATED).copied();
            let known = known.chain(["pounds_or_ounces", "finer_than_a_step", "swapped"]);
            let known = known.chain(OWN.map(|(code, _)| code));
            return Err(Refusal::UnknownField {
                pointer,
                name: code.clone(),
                known: known.collect::<Vec<_>>().join(", "),
            }
            .into());
        };
        if !choices.contains(&choice.as_str()) {
            let expected = format!("one of {}", choices.join(", "));
            return Err(Refusal::invalid(&pointer, &expected, choice, "Choose one.").into());
        }
    }
    Ok(())
}

/// A repeat means what it meant the first time: answers it no longer carries are those of the
/// first booking.
pub fn answered_before(leaf: &Leaf<'_>, answers: &mut BTreeMap<String, String>) {
    for (code, choice) in leaf.answers.iter().flatten() {
        let first = || choice.to_string();
        answers.entry(code.to_string()).or_insert_with(first);
    }
}

/// Drops the answers to stops that did not arise: a leaf does not say that something was lifted
/// which never stood in the way.
pub fn keep(answers: &mut BTreeMap<String, String>, arose: &[&'static str]) {
    answers.retain(|code, _| !STOPS.contains(&code.as_str()) || arose.contains(&code.as_str()));
}

/// What becomes of a posting that goes on.
pub struct Decided {
    /// Findings it leaves.
    pub findings: Vec<(String, PlaceNumber, &'static str)>,
    /// Cylinders it puts under quarantine.
    pub quarantine: Vec<PlaceNumber>,
}

/// Turns stops and questions into findings where the fact has happened or was answered; into a
/// refusal otherwise.
pub fn decide(
    posting: &Posting,
    judged: Judged,
    actor: &Actor,
    imported: bool,
) -> Result<Decided, ActionError> {
    let happened = imported || posting.captured_offline;
    let mut decided = Decided {
        findings: Vec::new(),
        quarantine: Vec::new(),
    };
    let open = stops(posting, judged.stops, actor, imported, &mut decided)?;
    if !open.is_empty() {
        return Err(Refusal::HardStop(open).into());
    }
    let mut unanswered = Vec::new();
    // Most questions of reading and of the clock are settled by their answer; the others leave a finding.
    let read = posting.what.questions.iter().cloned();
    for question in read.chain(posting.time_question.clone()) {
        let is_answered = answered(&question, posting)?;
        if !is_answered && !happened {
            unanswered.push(question);
        } else if leaves_finding(question.code, is_answered) {
            // Of what is registered here the store knows the number.
            let (code, grade) = (question.code.to_string(), grade_of(question.code));
            decided.findings.push((code, PlaceNumber::OTHER, grade));
        }
    }
    for (question, place) in judged.questions {
        if answered(&question, posting)? || happened {
            decided
                .findings
                .push((question.code.to_string(), place, grade_of(question.code)));
        } else {
            unanswered.push(question);
        }
    }
    if !unanswered.is_empty() {
        return Err(Refusal::NeedsAnswer(unanswered).into());
    }
    for (code, place) in judged.happened {
        if quarantine::holds(code, place, imported) {
            decided.quarantine.push(place);
        }
        decided.findings.push((code.to_string(), place, "high"));
    }
    let read = posting.what.findings.iter().chain(&judged.findings);
    decided
        .findings
        .extend(read.map(|(code, place)| ((*code).to_string(), *place, grade_of(code))));
    decided.findings.sort();
    decided.findings.dedup();
    Ok(decided)
}

/// Books the stops whose fact has happened or that are lifted, as findings; gives those that stay.
fn stops(
    posting: &Posting,
    stops: Vec<(Stop, PlaceNumber)>,
    actor: &Actor,
    imported: bool,
    decided: &mut Decided,
) -> Result<Vec<Stop>, ActionError> {
    let happened = imported || posting.captured_offline;
    let mut open: Vec<Stop> = Vec::new();
    for (stop, place) in stops {
        // A scale that shows too much in a cylinder tells what is so: it is booked and looked at.
        let counted = posting.kind == EntryKind::Count && stop.word == "over_full";
        match posting.answers.get(stop.word).map(String::as_str) {
            _ if happened || counted => {}
            Some("already_happened") => {}
            Some("lifted") => {
                lift(&stop, posting, actor)?;
                decided
                    .findings
                    .push((stop.word.to_string(), place, "normal"));
                continue;
            }
            _ => {
                open.push(stop);
                continue;
            }
        }
        if quarantine::holds(stop.word, place, imported) {
            decided.quarantine.push(place);
        }
        decided
            .findings
            .push((stop.word.to_string(), place, "high"));
    }
    Ok(open)
}

/// Of what a register entry was asked its answer settles, but for a condition that becomes better;
/// what nobody could be asked is looked at by the office.
fn leaves_finding(code: &str, is_answered: bool) -> bool {
    match code {
        "content_cleared" => true,
        "heel_left"
        | "tag_looks_alike"
        | "tag_of_several_alphabets"
        | "water_capacity_below_tare" => !is_answered,
        _ => false,
    }
}

/// What puts a cylinder under quarantine is of the highest grade, and what only the office settles.
fn grade_of(code: &str) -> &'static str {
    match code {
        "content_doubtful"
        | "content_renamed"
        | "content_cleared"
        | "recovered_into_supply"
        | "statement_open" => "high",
        _ => "normal",
    }
}

fn lift(stop: &Stop, posting: &Posting, actor: &Actor) -> Result<(), ActionError> {
    let has_reason = posting
        .what
        .secrets
        .iter()
        .any(|(path, _)| path == "reason_text");
    if !stop.may_lift || actor.role != Role::ComplianceManager {
        let who = if stop.may_lift {
            "only a compliance manager lifts it"
        } else {
            "nobody lifts it"
        };
        let detail = format!("The stop {} stays: {who}. {}", stop.word, stop.text);
        return Err(Refusal::Forbidden { detail }.into());
    }
    if !has_reason {
        return Err(Refusal::Malformed {
            pointer: "/reason_text".to_string(),
            detail: "Expected the written reason for lifting the stop, got none. Add reason_text."
                .to_string(),
        }
        .into());
    }
    Ok(())
}

/// Was the question answered with one of its choices?
fn answered(question: &Question, posting: &Posting) -> Result<bool, ActionError> {
    let Some(answer) = posting.answers.get(question.code) else {
        return Ok(false);
    };
    let choices: Vec<&str> = question
        .choices
        .iter()
        .map(|choice| choice.choice)
        .collect();
    if choices.contains(&answer.as_str()) {
        return Ok(true);
    }
    let pointer = format!("/answers/{}", question.code);
    let expected = format!("one of {}", choices.join(", "));
    Err(Refusal::invalid(&pointer, &expected, answer, "Choose one.").into())
}
