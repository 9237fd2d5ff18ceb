//! When a posting happened: in which zone, on which local day, and what is doubtful about it.

use super::Intention;
use crate::actions::judge::as_stated;
use crate::actions::refusal::{ActionError, Question};
use crate::actions::request::{EntryRequest, HappenedRequest};
use crate::actions::when::{When, resolve};
use crate::store::StoreError;
use crate::store::columns::{PlaceNumber, Sort};
use crate::store::tx::Tx;
use reports::day::{Day, Zone};
use std::collections::BTreeMap;

/// The zone that holds: the site's of the appliance, else the organisation's, else UTC.
pub(super) fn zone_of(tx: &mut Tx<'_>, what: &Intention) -> Result<String, ActionError> {
    let moved = what.moves.iter().map(|moving| [moving.dst, moving.src]);
    for places in moved.chain(what.serviced.map(|place| [place, place])) {
        for place in places {
            if place.sort() != Sort::Appliance {
                continue;
            }
            let subject = tx.subject(place)?;
            if let Some(zone) = &subject.brief.zone {
                return Ok(zone.clone());
            }
            let Some(site) = subject.brief.site else {
                continue;
            };
            let Some(site) = tx.by_id(site)? else {
                continue;
            };
            if let Some(zone) = &tx.subject(site)?.brief.zone {
                return Ok(zone.clone());
            }
        }
    }
    Ok(organisation_zone(tx)?)
}

/// The organisation's zone today.
pub fn organisation_zone(tx: &mut Tx<'_>) -> Result<String, StoreError> {
    let far = Day::from_count(i32::MAX / 2);
    Ok(tx
        .adopted()?
        .setting("zone", far)
        .unwrap_or("UTC")
        .to_string())
}

/// Nobody can be asked about a time any more: the literal reading stands and leaves a finding.
pub(super) fn presume_time(question: &Question, what: &mut Intention) {
    if let Some(choice) = question.choices.first() {
        let (code, word) = (question.code.to_string(), choice.choice.to_string());
        what.presumed.insert(code, word);
    }
    let place = what.moves.first().map_or(PlaceNumber::OTHER, |it| it.src);
    what.findings.push((question.code, place));
}

/// A device whose clock is wrong dates what it captures wrongly: the day is asked about.
pub(super) fn ask_about_the_clock(request: &EntryRequest, what: &mut Intention) {
    if request.captured_offline {
        let place = what.moves.first().map_or(PlaceNumber::OTHER, |it| it.src);
        what.findings.push(("clock_skew", place));
        return;
    }
    let text = "The clock of the device and that of the book disagree by more than ten minutes. Is \
                the day that is stated right?";
    let books = "the entry with the day as stated";
    what.questions
        .push(as_stated("clock_skew", text.to_string(), books));
}

/// When it happened: as stated, else now.
pub(super) fn when_of(
    tx: &Tx<'_>,
    request: &EntryRequest,
    zone: &str,
    answers: &BTreeMap<String, String>,
) -> Result<When, ActionError> {
    let answer = answers.get("skipped_or_doubled_time").map(String::as_str);
    if let Some(happened) = &request.happened {
        return resolve(happened, zone, answer);
    }
    // What is not said to have happened on another day happens now.
    let asked = HappenedRequest {
        day: Some(today(tx, zone).to_string()),
        ..HappenedRequest::default()
    };
    resolve(&asked, zone, answer)
}

/// The local day of this batch in a zone.
pub fn today(tx: &Tx<'_>, zone: &str) -> Day {
    let now = jiff::Timestamp::from_microsecond(tx.now).unwrap_or(jiff::Timestamp::UNIX_EPOCH);
    Zone::named(zone)
        .or_else(|| Zone::named("UTC"))
        .map_or(Day::from_count(0), |z| z.day(now))
}
