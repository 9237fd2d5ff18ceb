//! The check itself: every refrigerant against the reading, what is listed, and what refuses it.

use super::candidate::{Candidate, Compared, NotJudged, Why, compare};
use super::inputs::{Numbers, Weighed, numbers};
use super::{CONTENT_CAUTION, ContentReading, ContentResult, ContentTables, ContentVerdict};
use crate::physics::fill::Work;
use crate::physics::hint;
use crate::physics::problem::{Problem, ProblemCode};
use crate::physics::quantity::Unit;
use crate::refrigerant;

/// The largest share of the pressure that the error of the temperature may be.
const MOST_OF_PRESSURE: f64 = 0.1;

/// Says what a cylinder can hold. It never fails: what cannot be judged is refused, with the reasons.
pub fn content_check(tables: ContentTables<'_>, reading: &ContentReading) -> ContentResult {
    let mut result = nothing_yet(tables);
    let numbers = match numbers(reading) {
        Ok(numbers) => numbers,
        Err(problems) => {
            result.refused = problems;
            return result;
        }
    };
    result.pressure_kpa = Some(numbers.kpa);
    result.gauge_error_kpa = Some(numbers.gauge_error);
    result.temperature_cel = Some(numbers.kelvin - 273.15);
    let mut listed: Vec<Listed<'_>> = Vec::new();
    let mut lowest_kpa = f64::INFINITY;
    let capacity = reading.water_capacity.filter(|_| numbers.weighed.is_some());
    let work =
        capacity.and_then(|capacity| Work::of(tables.rules, tables.densities, capacity, false));
    for fluid in tables.saturation.fluids() {
        let Some(compared) = compare(fluid, &numbers) else {
            result.not_judged.push(not_judged(fluid, numbers.kelvin));
            continue;
        };
        lowest_kpa = lowest_kpa.min(compared.saturated.dew_kpa);
        if let Some(why) = compared.why(&numbers) {
            let is_over = is_over_fill_limit(work.as_ref(), &numbers, &compared);
            listed.push(Listed {
                compared,
                why,
                is_over,
            });
        }
    }
    result.refused = refusals(&listed, &numbers, lowest_kpa);
    fill_lists(&mut result, &listed);
    result.verdict = match (result.refused.is_empty(), result.compatible.len()) {
        (false, _) => ContentVerdict::Refused,
        (true, 0) => ContentVerdict::NoMatch,
        (true, 1) => ContentVerdict::OneCompatible,
        (true, _) => ContentVerdict::Ambiguous,
    };
    if result.verdict == ContentVerdict::NoMatch {
        result.doubts = other_units(tables, reading);
    }
    result
}

struct Listed<'a> {
    compared: Compared<'a>,
    why: Why,
    is_over: bool,
}

impl Listed<'_> {
    fn is_compatible(&self) -> bool {
        self.compared.distance <= 1.0
    }
}

/// Refused until more is known; unknown content can burn and can be toxic.
fn nothing_yet(tables: ContentTables<'_>) -> ContentResult {
    let known = refrigerant::Table::shipped().rows().len();
    ContentResult {
        verdict: ContentVerdict::Refused,
        refused: Vec::new(),
        compatible: Vec::new(),
        not_excluded: Vec::new(),
        not_judged: Vec::new(),
        without_table: known.saturating_sub(tables.saturation.fluids().count()),
        possibly_flammable: true,
        possibly_toxic: true,
        doubts: Vec::new(),
        pressure_kpa: None,
        gauge_error_kpa: None,
        temperature_cel: None,
        caution: CONTENT_CAUTION,
    }
}

fn fill_lists(result: &mut ContentResult, listed: &[Listed<'_>]) {
    for one in listed {
        let candidate = one.compared.candidate(one.why, one.is_over);
        let list = match one.is_compatible() {
            true => &mut result.compatible,
            false => &mut result.not_excluded,
        };
        list.push(candidate);
    }
    let nearest = |list: &mut Vec<Candidate>| {
        list.sort_by(|a, b| a.difference_in_errors.total_cmp(&b.difference_in_errors));
    };
    nearest(&mut result.compatible);
    nearest(&mut result.not_excluded);
    // Of what nothing is known, everything is possible.
    let all = || result.compatible.iter().chain(&result.not_excluded);
    let is_open = !result.refused.is_empty() || result.compatible.is_empty();
    let flammable = is_open || all().any(|candidate| candidate.flammable != Some(false));
    let toxic = is_open || all().any(|candidate| candidate.toxic != Some(false));
    (result.possibly_flammable, result.possibly_toxic) = (flammable, toxic);
}

fn not_judged(fluid: &crate::physics::Fluid, kelvin: f64) -> NotJudged {
    let why = if fluid.is_above_critical(kelvin) {
        "above its critical temperature: the pressure depends on how much is in the cylinder"
    } else {
        "its table does not hold this temperature"
    };
    NotJudged {
        refrigerant: fluid.designation.clone(),
        why: why.to_owned(),
    }
}

/// What makes the reading say nothing, although every input is there.
fn refusals(listed: &[Listed<'_>], numbers: &Numbers, lowest_kpa: f64) -> Vec<Problem> {
    let mut problems = Vec::new();
    let near = || listed.iter().filter(|one| one.why == Why::Pressure);
    if let Some(one) =
        near().find(|one| one.compared.slope * numbers.degrees > MOST_OF_PRESSURE * numbers.kpa)
    {
        problems.push(too_coarse(one, numbers));
    }
    match numbers.weighed {
        None if numbers.kpa < lowest_kpa - numbers.gauge_error => {
            problems.push(below_all(lowest_kpa, numbers))
        }
        None => {}
        Some(weighed) => {
            let vapour = near().find(|one| !one.compared.liquid_is_proven(numbers));
            problems.extend(vapour.map(|one| may_be_vapour(one, weighed)));
            if near().next().is_some() && near().all(|one| one.is_over) {
                problems.push(over_full(
                    near().map(|one| one.compared.fluid.designation.as_str()),
                ));
            }
        }
    }
    problems
}

fn too_coarse(one: &Listed<'_>, numbers: &Numbers) -> Problem {
    let share = one.compared.slope * numbers.degrees / numbers.kpa * 100.0;
    Problem::new(
        ProblemCode::OutOfRange,
        "temperature_accuracy",
        "a temperature known well enough: its error at most 10 % of the pressure",
        format!("{share:.0} % for {}", one.compared.fluid.designation),
        "Use a better thermometer, strapped to the wall.",
    )
}

fn below_all(lowest_kpa: f64, numbers: &Numbers) -> Problem {
    Problem::missing(
        "gross",
        format!(
            "weight, tare and water capacity: {:.1} kPa is below every refrigerant ({lowest_kpa:.1} \
             kPa and more)",
            numbers.kpa
        ),
        "Weigh the cylinder: without liquid the pressure says nothing.",
    )
}

fn may_be_vapour(one: &Listed<'_>, weighed: Weighed) -> Problem {
    let vapour = one
        .compared
        .saturated
        .vapour_density_kg_m3
        .unwrap_or(f64::NAN);
    Problem::new(
        ProblemCode::OutOfRange,
        "gross",
        format!(
            "enough mass to prove liquid: more than {vapour:.1} g per litre if it is {}",
            one.compared.fluid.designation
        ),
        format!("{:.1} g per litre", weighed.kg_m3),
        "It may all be vapour, whose pressure says nothing. Recover it as unknown content.",
    )
}

fn over_full<'a>(names: impl Iterator<Item = &'a str>) -> Problem {
    Problem::new(
        ProblemCode::OutOfRange,
        "gross",
        "a net mass not above the fill limit of what fits the reading",
        format!(
            "more than the limit of {}",
            names.collect::<Vec<_>>().join(", ")
        ),
        "It may be full of liquid, whose pressure says nothing. Keep it cool, move some of it into \
         another cylinder, and check the tare.",
    )
}

/// Whether more was weighed than may be in the cylinder if it is this refrigerant.
fn is_over_fill_limit(work: Option<&Work<'_>>, numbers: &Numbers, compared: &Compared<'_>) -> bool {
    let limit = work.and_then(|work| work.lowest_mass(&compared.fluid.designation));
    let both = numbers.weighed.zip(limit);
    both.is_some_and(|(weighed, limit)| weighed.net > limit)
}

/// Units in which the reading would have fitted something.
fn other_units(tables: ContentTables<'_>, reading: &ContentReading) -> Vec<String> {
    let fits = |other: &ContentReading| {
        numbers(other).is_ok_and(|numbers| {
            let compared = tables
                .saturation
                .fluids()
                .filter_map(|fluid| compare(fluid, &numbers));
            compared
                .into_iter()
                .any(|compared| compared.distance <= 1.0)
        })
    };
    let mut doubts = Vec::new();
    if let Some(wall) = reading.wall_temperature {
        let with = |wall| ContentReading {
            wall_temperature: Some(wall),
            ..reading.clone()
        };
        let hint = hint::other_units(wall, |other| fits(&with(other)));
        doubts.extend(hint.map(|hint| format!("wall_temperature: {hint}")));
    }
    if let Some(pressure) = reading.pressure {
        let with = |pressure| ContentReading {
            pressure: Some(pressure),
            ..reading.clone()
        };
        let is_common = |code: &str| {
            ["psig", "kPa{gauge}", "bar{gauge}", "[psi]", "kPa", "bar"].contains(&code)
        };
        let hint = hint::other_units(pressure, |other| {
            is_common(other.unit.code()) && fits(&with(other))
        });
        doubts.extend(hint.map(|hint| format!("pressure: {hint}")));
    }
    doubts
}
