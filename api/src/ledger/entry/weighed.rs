//! Masses as they were typed or read from a scale, and what a counterparty says of shipments: its own
//! weights, by refrigerant.

use crate::ledger::id::Id;
use crate::ledger::text::mass_text;
use reports::mass::Mass;
use serde::{Deserialize, Serialize};
use std::borrow::Cow;

/// Two readings of a scale with the cylinder on it. Before less after is what left the cylinder,
/// after less before what entered it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Readings<'a> {
    /// Gross after, as typed.
    #[serde(borrow)]
    pub after: Cow<'a, str>,
    /// Gross before, as typed.
    #[serde(borrow)]
    pub before: Cow<'a, str>,
    /// The registered scale.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub scale: Option<Id>,
    /// UCUM code of the unit chosen or remembered.
    #[serde(borrow)]
    pub unit: Cow<'a, str>,
}

/// A mass as typed, with the UCUM code of the unit chosen or remembered.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Typed<'a> {
    /// The text, without blanks at its ends.
    #[serde(borrow)]
    pub text: Cow<'a, str>,
    /// UCUM code.
    #[serde(borrow)]
    pub unit: Cow<'a, str>,
}

/// One refrigerant of a statement. What the book had of the shipments stands beside what is stated, so
/// that the difference can be added up again from the leaf alone.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Stated<'a> {
    /// Exact grams that the book had of these shipments, earlier accepted statements included.
    #[serde(with = "mass_text")]
    pub book_g: Mass,
    /// Exact grams of refrigerant that the counterparty weighed.
    #[serde(with = "mass_text")]
    pub g: Mass,
    /// Designation.
    #[serde(borrow)]
    pub refrigerant: Cow<'a, str>,
    /// Oil, water and air that it found beside the refrigerant.
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    pub residue: Option<Weight<'a>>,
    /// The mass as typed; absent where the statement does not name what was shipped: then it is none.
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    pub typed: Option<Typed<'a>>,
}

/// A mass that moves nothing by itself, with its text.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Weight<'a> {
    /// Exact grams.
    #[serde(with = "mass_text")]
    pub g: Mass,
    /// As typed.
    #[serde(borrow)]
    pub typed: Typed<'a>,
}
