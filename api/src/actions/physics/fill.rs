//! Fill limits: how much may be in a cylinder, what is in it, and what room is left.

use super::Given;
use reports::physics::{
    self, Content, FillDensities, FillLimit, FillRequest, FillRules, FillVerdict, Problem, Room,
    WaterUnit,
};
use serde::Serialize;

/// The limit; where the scale was read, the room; where a mass is to be added, what comes of it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct FillAnswer {
    /// The limit, with every rule that was looked at.
    #[serde(flatten)]
    pub limit: FillLimit,
    /// What is in it and what room is left.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub room: Option<Room>,
    /// What comes of adding so much.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fill: Option<FillVerdict>,
}

/// The content of a word: a designation, or `unknown` and `mixture`.
pub fn content_named(word: &str) -> Content {
    match word {
        "unknown" | "mixture" | "mixed" => Content::Unknown,
        name => Content::Named(name.to_string()),
    }
}

/// Answers a question about a fill limit.
///
/// # Errors
/// Those of reading and of the rules.
pub fn fill_limit(given: &Given) -> Result<FillAnswer, Problem> {
    let content = match (given.text("not_excluded"), given.text("refrigerant")) {
        (Some(names), None) => {
            let names = names
                .split(',')
                .map(str::trim)
                .filter(|name| !name.is_empty());
            Content::AnyOf(names.map(str::to_string).collect())
        }
        _ => {
            content_named(given.needed("refrigerant", "a designation such as R-410A, or unknown")?)
        }
    };
    let expected = "the water capacity on the collar (WC)";
    let tare = given.mass("tare")?;
    let request = FillRequest {
        content,
        water_capacity: given.needed_quantity::<WaterUnit>("water_capacity", "unit", expected)?,
        tare,
        water_capacity_confirmed: given.yes_no("water_capacity_confirmed")? == Some(true),
        marking: given.mass("marking")?,
        shop_rules: given.yes_no("shop_rules")? == Some(true),
    };
    let limit = physics::fill_limit(FillRules::shipped(), FillDensities::shipped(), &request)?;
    let (gross, adding) = (given.mass("gross")?, given.mass("adding")?);
    let room = gross
        .map(|gross| physics::room(&limit, tare, gross))
        .transpose()?;
    let fill = match (&room, adding) {
        (Some(room), Some(adding)) => Some(physics::judge_fill(room, adding)?),
        (None, Some(_)) => {
            return Err(Problem::missing(
                "gross",
                "what the scale shows with the cylinder on it",
                "Weigh the cylinder before it is filled.",
            ));
        }
        _ => None,
    };
    Ok(FillAnswer { limit, room, fill })
}
