//! Steps of a service record that seem out of order: asked about, never refused.

use super::stops::name_of;
use super::{Case, Judged, as_stated};
use crate::ledger::entry::EntryKind;
use crate::store::StoreError;
use crate::store::columns::PlaceNumber;
use crate::store::tx::Tx;
use reports::event::{Event, Kind};

/// Looks at one step beside the history of its appliance.
pub fn look(
    tx: &mut Tx<'_>,
    case: &Case<'_>,
    place: PlaceNumber,
    judged: &mut Judged,
) -> Result<(), StoreError> {
    let name = name_of(tx.subject(place)?);
    let events: Vec<Event> = (tx.history(place)?.iter())
        .filter(|event| !case.chain.contains(&event.entry))
        .cloned()
        .collect();
    if let Some((code, text)) = measured(case, &name) {
        let asked = as_stated(code, text, "the readings as stated, with a finding");
        judged.questions.push((asked, place));
    }
    let Some(text) = out_of_order(case, &events, &name) else {
        return Ok(());
    };
    let asked = as_stated("out_of_order_step", text, "the step as stated");
    judged.questions.push((asked, place));
    Ok(())
}

/// What looks like a slip in what was read.
fn measured(case: &Case<'_>, name: &str) -> Option<(&'static str, String)> {
    let is = |word: &str, value: &str| stated(case, word) == Some(value);
    let read = |word: &str| stated(case, word).unwrap_or_default();
    let unit = read("pressure_unit");
    if is("above_design", "yes") {
        let (start, design) = (read("start_pressure"), read("design_pressure"));
        let text = format!(
            "{name} was tested at {start} {unit}; the nameplate allows {design} {unit}. Never test \
             above it: let pressure off at the regulator. Is the reading right?"
        );
        return Some(("above_design_pressure", text));
    }
    if is("judged", "no") {
        let text = format!(
            "A reading at {name} lies outside of what can be judged (-30 to 65 Cel, at most 609 \
             psig). Is the unit right?"
        );
        return Some(("cannot_be_judged", text));
    }
    let (high, low) = (read("high_pressure"), read("low_pressure"));
    is("pair", "implausible").then(|| {
        let text = format!(
            "At {name} the low side shows {low} {unit} and the high side {high} {unit}. Were the \
             two exchanged?"
        );
        ("implausible_pair", text)
    })
}

fn out_of_order(case: &Case<'_>, events: &[Event], name: &str) -> Option<String> {
    let moment = (case.day, case.second.unwrap_or(0));
    let before = |event: &&Event| (event.day, event.second.unwrap_or(0)) <= moment;
    let earlier = || events.iter().filter(before);
    let retired = earlier().rfind(|event| event.kind == Kind::Retire);
    if let Some(retired) = retired {
        let day = retired.day;
        return Some(format!(
            "{name} was retired on {day}; was this done after it?"
        ));
    }
    let says = |event: &Event, word: &str, is: &str| event.word(word) == Some(is);
    match case.kind {
        EntryKind::VerificationTest if stated(case, "stage") == Some("follow_up") => {
            let initial = |event: &&Event| {
                event.kind == Kind::VerificationTest
                    && says(event, "stage", "initial")
                    && says(event, "result", "passed")
            };
            let none = earlier().rfind(initial).is_none();
            none.then(|| {
                format!("No initial test of {name} that was passed stands before this follow-up.")
            })
        }
        EntryKind::Repair => {
            let is_leak = |event: &&Event| event.kind == Kind::LeakFound;
            let known = earlier().any(|event| {
                is_leak(&event)
                    || says(event, "result", "leak")
                    || matches!(event.kind, Kind::Charge | Kind::OutsideCharge)
            });
            let later = events.iter().filter(is_leak).find(|event| !before(event));
            let later = later.filter(|_| !known)?;
            let (day, found) = (case.day, later.day);
            Some(format!(
                "The repair of {day} stands before the leak found on {found}."
            ))
        }
        _ => None,
    }
}

fn stated<'c>(case: &Case<'c>, name: &str) -> Option<&'c str> {
    case.words?.get(name).map(|word| &**word)
}
