//! observation: what was found out about a cylinder without moving anything: the content check.
//!
//! Pressure and wall temperature can only rule refrigerants out. The verdict and the list of what was
//! not ruled out are kept; they set and change no refrigerant. Where the book does not know what is in
//! the cylinder, or the check rules out what the book says, the cylinder is put under quarantine until
//! somebody settles it with an analysis or the chain of entries.

use super::measured::{given, refused, say};
use super::physics;
use super::post::Intention;
use super::refusal::ActionError;
use super::service::{Allowed, Word, YES_NO, of, word};
use crate::ledger::entry::Words;
use crate::store::columns::PlaceNumber;
use crate::store::tx::Tx;
use reports::physics::{Candidate, ContentResult, ContentVerdict};

use Allowed::{Decimal, Mass, Number};

const PRESSURES: &[&str] = &["psig", "kPa{gauge}", "bar{gauge}", "[psi]", "kPa", "bar"];

/// Words of a content check. What is missing does not refuse the entry but the verdict.
pub const WORDS: &[Word] = &[
    of("pressure", Number),
    word("pressure_unit", PRESSURES),
    word("gauge", &["vented", "sealed"]),
    of("accuracy_percent", Decimal),
    of("full_scale", Decimal),
    word("of_reading", YES_NO),
    of("wall_temperature", Number),
    of("temperature_accuracy", Decimal),
    word("temperature_unit", &["[degF]", "Cel"]),
    of("altitude", Number),
    word("altitude_unit", &["m", "[ft_i]"]),
    of("barometer", Decimal),
    word("barometer_unit", &["kPa", "hPa", "mbar", "[in_i'Hg]"]),
    word("rested", YES_NO),
    of("gross", Mass),
];

/// Works the check out with what the register knows of the cylinder.
pub fn work_out(
    tx: &mut Tx<'_>,
    place: PlaceNumber,
    said: &mut Words<'static>,
    what: &mut Intention,
) -> Result<(), ActionError> {
    let table = tx.table;
    let cylinder = tx.subject(place)?;
    let grams = |mass: reports::mass::Mass| format!("{mass} g");
    let (tare, water) = (cylinder.brief.tare, cylinder.brief.water_capacity);
    let known = [
        ("tare", tare.map(grams)),
        ("water_capacity", water.map(|water| water.to_string())),
    ];
    let mut holds = cylinder.holds().filter_map(|code| table.designation(code));
    let booked = match (holds.next(), holds.next()) {
        (Some(name), None) if !["unknown", "mixture"].contains(&name) => Some(name),
        _ => None,
    };
    let mut facts: Vec<(&str, String)> = Vec::new();
    for (name, value) in known {
        facts.extend(value.map(|value| (name, value)));
    }
    if let Some((_, water)) = facts.iter_mut().find(|(name, _)| *name == "water_capacity") {
        let kilograms = cylinder
            .brief
            .water_capacity
            .and_then(super::judge::water_capacity);
        *water = kilograms.map_or(String::new(), |water| water.value.to_string());
        facts.push(("water_capacity_unit", "kg".to_string()));
    }
    let pairs = facts.iter().map(|(name, value)| (*name, value.as_str()));
    let given = given(said, pairs, physics::CONTENT_CHECK)?;
    let result = physics::content_check(&given).map_err(refused)?;
    let verdict = match result.verdict {
        ContentVerdict::Ambiguous => "ambiguous",
        ContentVerdict::OneCompatible => "one_compatible",
        ContentVerdict::NoMatch => "no_match",
        ContentVerdict::Refused => "refused",
    };
    say(said, "verdict", verdict);
    say_list(said, "compatible", &result.compatible);
    say_list(said, "not_excluded", &result.not_excluded);
    let flammable = if result.possibly_flammable {
        "yes"
    } else {
        "no"
    };
    say(said, "possibly_flammable", flammable);
    let toxic = if result.possibly_toxic { "yes" } else { "no" };
    say(said, "possibly_toxic", toxic);
    if is_doubtful(&result, booked) {
        what.findings.push(("content_doubtful", place));
        what.quarantine.push(place);
    }
    Ok(())
}

/// Nobody knows what is in it, or the check rules out what the book says.
fn is_doubtful(result: &ContentResult, booked: Option<&str>) -> bool {
    let Some(booked) = booked else {
        return true;
    };
    let is_it = |candidate: &Candidate| candidate.refrigerant == booked;
    let listed = result
        .compatible
        .iter()
        .chain(&result.not_excluded)
        .any(is_it);
    let not_judged = result
        .not_judged
        .iter()
        .any(|other| other.refrigerant == booked);
    result.verdict != ContentVerdict::Refused && !listed && !not_judged
}

fn say_list(said: &mut Words<'static>, name: &'static str, list: &[Candidate]) {
    let names: Vec<&str> = list.iter().map(|it| it.refrigerant.as_str()).collect();
    if !names.is_empty() {
        say(said, name, &names.join(","));
    }
}
