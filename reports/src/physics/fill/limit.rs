//! The limit itself: every term that applies, and the lowest of them.

use super::FILL_CAUTION;
use super::densities::FillDensities;
use super::rules::FillRules;
use super::work::{Work, cut};
use crate::mass::{Mass, kg_text, lb_oz_text};
use crate::physics::problem::{Problem, ProblemCode};
use crate::physics::volume::WaterCapacity;
use crate::refrigerant;
use serde::Serialize;

/// What is in the cylinder, or will be.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Content {
    /// One refrigerant that is known.
    Named(String),
    /// One or a mixture of these: what a content check did not exclude, and nothing else.
    AnyOf(Vec<String>),
    /// Unknown or mixed, and nothing excluded.
    Unknown,
}

/// What a limit is asked for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FillRequest {
    /// The content.
    pub content: Content,
    /// The water capacity on the collar.
    pub water_capacity: WaterCapacity,
    /// The empty mass, where it is known: a capacity far below it is asked about.
    pub tare: Option<Mass>,
    /// Whether a person has looked at the collar again after that question.
    pub water_capacity_confirmed: bool,
    /// The largest net mass that is marked on the cylinder for this content, where one is.
    pub marking: Option<Mass>,
    /// Whether the shop chose the stricter rule as well.
    pub shop_rules: bool,
}

/// A mass as answers show it: exact grams, and rounded for eyes.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct MassText {
    /// Exact grams, as text.
    pub g: String,
    /// Pounds and ounces: `20 lb 15.3 oz`.
    pub lb_oz: String,
    /// Kilograms: `9.507 kg`.
    pub kg: String,
}

impl MassText {
    /// Of a mass.
    pub fn of(mass: Mass) -> MassText {
        let steps = i128::from(mass.steps());
        MassText {
            g: mass.to_string(),
            lb_oz: lb_oz_text(steps),
            kg: kg_text(steps),
        }
    }
}

/// What one term of a rule allows.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct RuleLimit {
    /// The rule.
    pub rule_id: String,
    /// The refrigerant it was worked out for; absent where it does not depend on one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub refrigerant: Option<String>,
    /// The largest net mass.
    #[serde(serialize_with = "as_text")]
    pub limit: Mass,
    /// What the rule says.
    pub text: String,
    /// Its source.
    pub source: String,
    /// Whether it was read at its source, rather than remembered.
    pub read_at_source: bool,
    /// Where the density comes from, if the rule uses one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub density_source: Option<String>,
}

/// The limit of a cylinder.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct FillLimit {
    /// The largest net mass.
    #[serde(serialize_with = "as_text")]
    pub limit: Mass,
    /// The rule that it is: the first of `rules`.
    pub rule_id: String,
    /// Every term that was looked at, the lowest first. For content that may be one of many, the
    /// lowest of each refrigerant.
    pub rules: Vec<RuleLimit>,
    /// What else has to be said.
    pub notes: Vec<String>,
    /// [`FILL_CAUTION`].
    pub caution: &'static str,
}

fn as_text<S: serde::Serializer>(mass: &Mass, serializer: S) -> Result<S::Ok, S::Error> {
    MassText::of(*mass).serialize(serializer)
}

/// The largest net mass of a cylinder.
///
/// # Errors
/// [`ProblemCode::OutOfRange`] for a capacity that is not above zero; [`ProblemCode::Contradiction`]
/// for one below the tare that nobody confirmed; [`ProblemCode::UnknownRefrigerant`];
/// [`ProblemCode::DensityMissing`] for a refrigerant whose densities are not known, or that is no
/// liquid at 60 °C and has no marking.
pub fn fill_limit(
    rules: &FillRules,
    densities: &FillDensities,
    request: &FillRequest,
) -> Result<FillLimit, Problem> {
    check_capacity(request)?;
    let mut notes = Vec::new();
    let mut found = match &request.content {
        Content::Named(text) => {
            let name = known(text)?;
            check_density(densities, name, request.marking)?;
            let work = work_on(rules, densities, request)?;
            work.terms(Some(name), false)
                .ok_or_else(|| bad_capacity(request.water_capacity))?
        }
        Content::AnyOf(names) => any_of(rules, densities, request, names, &mut notes)?,
        Content::Unknown => unknown(rules, densities, request, &mut notes)?,
    };
    if let Some(marking) = request.marking {
        found.push(RuleLimit {
            rule_id: "MARKING".to_owned(),
            refrigerant: None,
            limit: marking,
            text: "the largest net mass marked on the cylinder".to_owned(),
            source: "the marking of the cylinder".to_owned(),
            read_at_source: true,
            density_source: None,
        });
    }
    found.sort_by_key(|rule| rule.limit);
    let lowest = found.first().ok_or_else(no_rule)?;
    Ok(FillLimit {
        limit: lowest.limit,
        rule_id: lowest.rule_id.clone(),
        rules: found,
        notes,
        caution: FILL_CAUTION,
    })
}

/// The lowest limit of each that is left, or of everything when one of them has no densities.
fn any_of(
    rules: &FillRules,
    densities: &FillDensities,
    request: &FillRequest,
    names: &[String],
    notes: &mut Vec<String>,
) -> Result<Vec<RuleLimit>, Problem> {
    let work = work_on(rules, densities, request)?;
    let mut found = Vec::new();
    for text in names {
        let name = known(text)?;
        if densities.are_complete(name) {
            found.extend(
                work.lowest(name)
                    .ok_or_else(|| bad_capacity(request.water_capacity))?,
            );
        } else if densities.of(name, super::FillTemperature::At25).is_some() {
            notes.push(format!(
                "{name} is not a liquid up to 60 degC: it is not looked at, because such cylinders \
                 are not filled with it."
            ));
        } else {
            notes.push(format!(
                "The density of {name} is not known, so the limit is that of unknown content."
            ));
            return unknown(rules, densities, request, notes);
        }
    }
    if found.is_empty() {
        return unknown(rules, densities, request, notes);
    }
    Ok(found)
}

/// The lowest limit of every refrigerant there are densities of.
fn unknown(
    rules: &FillRules,
    densities: &FillDensities,
    request: &FillRequest,
    notes: &mut Vec<String>,
) -> Result<Vec<RuleLimit>, Problem> {
    notes.push(
        "Nothing is excluded: the limit is the lowest of all refrigerants that are liquid up to \
         60 degC."
            .to_owned(),
    );
    let work = work_on(rules, densities, request)?;
    let mut found = work
        .terms(None, true)
        .ok_or_else(|| bad_capacity(request.water_capacity))?;
    for name in densities
        .refrigerants()
        .filter(|name| densities.are_complete(name))
    {
        found.extend(
            work.lowest(name)
                .ok_or_else(|| bad_capacity(request.water_capacity))?,
        );
    }
    Ok(found)
}

fn work_on<'a>(
    rules: &'a FillRules,
    densities: &'a FillDensities,
    request: &FillRequest,
) -> Result<Work<'a>, Problem> {
    let capacity = request.water_capacity;
    let work = Work::of(rules, densities, capacity, request.shop_rules);
    work.ok_or_else(|| bad_capacity(capacity))
}

fn check_capacity(request: &FillRequest) -> Result<(), Problem> {
    let capacity = request.water_capacity;
    let water = capacity
        .water_grams()
        .and_then(|grams| cut(&[grams], false));
    let water = water.ok_or_else(|| bad_capacity(capacity))?;
    match request
        .tare
        .filter(|tare| water < *tare && !request.water_capacity_confirmed)
    {
        None => Ok(()),
        Some(tare) => Err(Problem::new(
            ProblemCode::Contradiction,
            "water_capacity",
            format!(
                "more water than the cylinder weighs empty, {}",
                MassText::of(tare).lb_oz
            ),
            capacity.text(),
            "Look at the collar again: WC is the water capacity, TW the tare, each with its unit. \
             A heavy high-pressure cylinder may be so; say that you have looked.",
        )),
    }
}

fn check_density(
    densities: &FillDensities,
    name: &str,
    marking: Option<Mass>,
) -> Result<(), Problem> {
    let is_gas = densities.of(name, super::FillTemperature::At25).is_some();
    if densities.are_complete(name) || (is_gas && marking.is_some()) {
        return Ok(());
    }
    let to_do = if is_gas {
        "It is no liquid at 60 degC: give the largest net mass marked on the cylinder for it."
    } else {
        "Add the manufacturer's liquid densities with their source, or treat the content as unknown."
    };
    Err(Problem::new(
        ProblemCode::DensityMissing,
        "refrigerant",
        "a refrigerant with liquid densities at 25, 50 and 60 degC",
        name,
        to_do,
    ))
}

fn known(text: &str) -> Result<&'static str, Problem> {
    let row = refrigerant::Table::shipped().understood(text);
    row.map(|row| row.designation.as_str()).ok_or_else(|| {
        Problem::new(
            ProblemCode::UnknownRefrigerant,
            "refrigerant",
            "a designation such as R-410A",
            format!("\"{text}\""),
            "Write the designation from the label, or treat the content as unknown.",
        )
    })
}

fn bad_capacity(capacity: WaterCapacity) -> Problem {
    Problem::new(
        ProblemCode::OutOfRange,
        "water_capacity",
        "a water capacity above zero and below 90 t",
        capacity.text(),
        "Read WC on the collar again, with its unit.",
    )
}

fn no_rule() -> Problem {
    Problem::new(
        ProblemCode::BadTable,
        "fill_rules",
        "a rule that applies",
        "none",
        "Put the rules back: without one there is no limit and nothing may be filled.",
    )
}
