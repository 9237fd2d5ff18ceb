//! Findings: what a person should look at, with the entry that left each and what it is about.

use super::{Page, reading};
use crate::actions::answer::FindingLeft;
use crate::actions::refusal::{ActionError, Refusal};
use crate::ledger::place::Place;
use crate::store::Db;
use crate::store::apply::instant_text;
use crate::store::listing::{self, FindingKey, FindingRow, FindingsWanted};
use crate::store::open::Organisation;
use serde::Serialize;
use serde_json::{Value, json};

/// A finding as it is shown.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FindingShown {
    /// A stop's word, a question's code, or another code of the list.
    pub code: String,
    /// high, normal or low.
    pub grade: String,
    /// What it is about: `appliance:UUID`, `cylinder:UUID`.
    pub subjects: Vec<String>,
    /// The entries that left it.
    pub entries: Vec<u64>,
    /// Numbers that were passed, where there are any.
    pub limits: Value,
    /// When it arose.
    pub since: String,
    /// The entry that settled it.
    pub settled: Option<u64>,
    /// What it says.
    pub text: String,
}

/// At most `most` findings after a key that an earlier page gave; `settled`: those too.
pub fn page(
    db: &mut Db,
    of: &Organisation,
    after: Option<&str>,
    settled: bool,
    most: usize,
) -> Result<Page<FindingShown>, ActionError> {
    let after = after.map(key_of).transpose()?.unwrap_or(FindingKey {
        seq: -1,
        ..FindingKey::default()
    });
    reading(db, of, |db| {
        let wanted = FindingsWanted {
            settled,
            ..FindingsWanted::default()
        };
        let rows = listing::findings_after(db, of.org, &after, &wanted, most + 1)?;
        Ok(Page::of(rows, most, key).map(show))
    })
}

/// The key of a page that begins after a finding.
pub(super) fn key(row: &FindingRow) -> String {
    format!("{}.{}.{}", row.seq, row.number.0, row.code)
}

/// Open findings for a first look: at most `most` of the highest grade, then the others, each the
/// oldest first; and whether there are more.
pub fn first(
    db: &mut Db,
    of: &Organisation,
    most: usize,
) -> Result<(Vec<FindingShown>, bool), ActionError> {
    let start = FindingKey {
        seq: -1,
        ..FindingKey::default()
    };
    reading(db, of, |db| {
        let wanted = |grade| FindingsWanted {
            grade,
            ..FindingsWanted::default()
        };
        let mut rows = listing::findings_after(db, of.org, &start, &wanted("high"), most + 1)?;
        let all = listing::findings_after(db, of.org, &start, &wanted(""), 2 * most + 2)?;
        rows.extend(all.into_iter().filter(|row| row.grade != "high"));
        let more = rows.len() > most;
        rows.truncate(most);
        Ok((rows.into_iter().map(show).collect(), more))
    })
}

/// Where the findings of an entry begin: the key of a page that starts with them.
pub fn before(seq: u64) -> String {
    // After every finding of the entry before it.
    let last = i64::try_from(seq).unwrap_or(i64::MAX) - 1;
    format!("{last}.{}.~", i64::MAX)
}

pub(super) fn key_of(text: &str) -> Result<FindingKey, ActionError> {
    let mut parts = text.splitn(3, '.');
    let mut number = || parts.next().and_then(|part| part.parse::<i64>().ok());
    let (seq, place) = (number(), number());
    let code = parts.next();
    match (seq, place, code) {
        (Some(seq), Some(place), Some(code)) if code.len() < 100 && !code.contains('\0') => {
            Ok(FindingKey {
                seq,
                place,
                code: code.to_string(),
            })
        }
        _ => {
            let expected = "the value that an earlier page gave";
            Err(Refusal::invalid("?after", expected, text, "Follow next as it stands.").into())
        }
    }
}

pub(super) fn show(row: FindingRow) -> FindingShown {
    let place = row.place();
    let tag = row.thing.as_ref().map(|(_, tag)| tag.as_str());
    FindingShown {
        text: text(place, tag, &row.code, row.seq),
        code: row.code,
        grade: row.grade,
        subjects: place.iter().map(ToString::to_string).collect(),
        entries: vec![row.seq],
        limits: json!({}),
        since: instant_text(row.booked_at),
        settled: row.settled,
    }
}

/// A finding that an entry just left, as a receipt says it.
pub fn left(
    finding: &FindingLeft,
    place: Place,
    tag: Option<&str>,
    seq: u64,
    since: &str,
) -> FindingShown {
    let place = Some(place).filter(|place| *place != Place::Other);
    FindingShown {
        text: text(place, tag, &finding.code, seq),
        code: finding.code.clone(),
        grade: finding.grade.clone(),
        subjects: place.iter().map(ToString::to_string).collect(),
        entries: vec![seq],
        limits: json!({}),
        since: since.to_string(),
        settled: None,
    }
}

fn text(place: Option<Place>, tag: Option<&str>, code: &str, seq: u64) -> String {
    let name = match (place, tag) {
        (Some(place), Some(tag)) => format!("{} {tag}", place.word()),
        (Some(place), None) => place.word().replace('_', " "),
        (None, Some(tag)) => tag.to_string(),
        (None, None) => "The entry".to_string(),
    };
    format!("{name}: {} (entry no. {seq}).", says(code))
}

/// What a code says, in words that go after the name of a thing.
pub fn says(code: &str) -> &str {
    match code {
        "mixing" => "another refrigerant went into what it held; only to reclaim or destruction",
        "expired" => "filled after its retest was due",
        "condemned" => "filled though it is condemned",
        "disposable" => "a disposable cylinder was refilled",
        "over_full" => "filled beyond what it may hold",
        "other_owner" => "one owner's recovered refrigerant went to another owner's appliance",
        "quarantined" => "taken from while it is under quarantine",
        "mixed_content" => "a mixture was taken from it other than to reclaim or destruction",
        "several_owners" => {
            "refrigerant of several owners met in it; only to reclaim or destruction"
        }
        "recovered_into_supply" => {
            "recovered refrigerant went into a supply cylinder: mark it as recovered"
        }
        "over_full_charge" => "charged beyond its full charge",
        "over_content" => "more was taken than it held",
        "above_design_pressure" => {
            "the test pressure was above the design pressure of the nameplate"
        }
        "cannot_be_judged" => "the readings lie outside of what can be judged",
        "implausible_pair" => "the low side was not below the high side",
        "test_not_decided" => "the test is not decided; what is open stands with its entry",
        "content_doubtful" => {
            "what is in the cylinder is not known, or not what the book says: analyse it"
        }
        "content_class" => "burnt, suspect, mixed or unknown refrigerant went on from a cylinder",
        "content_renamed" => "its content got another name: look at the analysis",
        "content_cleared" => {
            "its content was said to be in a better condition: look at the analysis"
        }
        "count_differs" => {
            "a count was far from the book: weigh it again, look for what is missing"
        }
        "scale_tare" => "the scale showed less than the tare: the tare may have changed",
        "scale_exchange" => "the scale and the book are far apart: perhaps another cylinder",
        "scale_unposted" => "the scale and the book differ: perhaps a transfer was not posted",
        "heel_left" => "retired with refrigerant in it by the book: weigh it",
        "tag_looks_alike" => "its tag looks like the tag of another one",
        "tag_of_several_alphabets" => "its tag has letters of several alphabets that look alike",
        "water_capacity_below_tare" => {
            "would hold less water than it weighs empty: read the collar again"
        }
        "scale_off" => {
            "showed a known weight wrong by more than its step: adjust it or take another"
        }
        "check_weight_far" => "showed a known weight as something else: was it read right?",
        "over_room" => "filled close to what it may hold",
        "balance_below_zero" => "its balance is below zero; a count or a correction closes this",
        "below_resolution" => "the mass is finer than the scale shows",
        "same_mass" => "both readings of the scale are the same",
        "swapped" => "the readings of the scale look swapped",
        "rate_jump" => "its leak rate jumped; is the mass right?",
        "clock_skew" => "the clock of the device and that of the book disagree",
        "old_day" => "booked long after it happened",
        "future_day" => "dated in the future",
        "pounds_or_ounces" => "pounds or ounces: which was meant is presumed",
        "finer_than_a_step" => "the mass was finer than a step of the book",
        "look_alike" => "looks like an entry that is booked already",
        "skipped_or_doubled_time" => "a clock change skipped or doubled the time that was stated",
        "wrong_refrigerant_for_appliance" => "not the refrigerant that it is registered with",
        "out_of_order_step" => "a step before the one it needs",
        "registered_on_site" => "registered on site; complete what the office knows",
        "before_installed" => "something happened before it was installed",
        "unregistered_scale" => "weighed on a scale that is not registered",
        _ => says_of_statement(code),
    }
}

fn says_of_statement(code: &str) -> &str {
    match code {
        "statement_disputed" => {
            "its weights for a shipment are disputed: agree on them, then accept a statement"
        }
        "statement_open" => {
            "an accepted statement counted on what was corrected: compare the weights again"
        }
        "statement_differs" => "a statement says another weight than was sent",
        "statement_again" => "a statement about a shipment that has an accepted one already",
        "statement_other_refrigerant" => "a statement names another refrigerant than was sent",
        "statement_other_unit" => "a stated weight looks like the sent one in another unit",
        _ => "to be looked at",
    }
}
