//! A situation: one or more appliances with their facts and events, and what is expected.
//!
//! Rule sets carry such situations as `[[examples]]` (without `id` and `sets`); files of
//! situations are what two independent programs read and agree on.

use super::file::Overlay;
use super::text::{Date, TextOr};
use super::words::{EventKind, MethodWord, NettingWord, ReasonWord, YesNo};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// The schema word that a file of situations must carry.
pub const SCHEMA: &str = "tarebook/rule-situations/1";

/// A file of situations.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[allow(missing_docs)]
pub struct SituationFile {
    pub schema: String,
    pub note: Option<String>,
    pub situations: Vec<Situation>,
}

/// One situation.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Situation {
    /// Its name, unique in the file; absent in a set's own examples.
    pub id: Option<String>,
    /// One line.
    pub about: String,
    /// Where the expectation comes from.
    pub clause: Option<String>,
    /// `hand`, or how the expectation was found.
    pub checked: Option<String>,
    /// Ids of the shipped sets to evaluate; absent in a set's own examples.
    pub sets: Option<Vec<String>>,
    /// Layers laid over their base before evaluation.
    #[serde(default)]
    pub overlays: Vec<Overlay>,
    /// Site zone; absent: UTC.
    pub zone: Option<String>,
    /// The day asked.
    pub on: Date,
    /// How leak rates are annualised, one word or dated.
    pub method: Option<TextOr<DatedMethod>>,
    /// Replaces the sets' own netting.
    pub netting: Option<NettingWord>,
    /// Facts of the one appliance, called `A`.
    #[serde(default)]
    pub facts: BTreeMap<String, TextOr<DatedText>>,
    /// Its events.
    #[serde(default)]
    pub events: Vec<SituationEvent>,
    /// Several appliances instead.
    #[serde(default)]
    pub appliances: Vec<SituationAppliance>,
    /// What must come out.
    pub expect: serde_json::Value,
}

/// One of several appliances of a situation.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[allow(missing_docs)]
pub struct SituationAppliance {
    pub appliance: String,
    pub site: Option<String>,
    #[serde(default)]
    pub facts: BTreeMap<String, TextOr<DatedText>>,
    #[serde(default)]
    pub events: Vec<SituationEvent>,
}

/// A fact from a day on.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[allow(missing_docs)]
pub struct DatedText {
    pub from: Date,
    pub is: String,
}

/// A method from a day on.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[allow(missing_docs)]
pub struct DatedMethod {
    pub from: Date,
    pub is: MethodWord,
}

/// Something that happened. In a replacement every word may be left out: it then stays as it was.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SituationEvent {
    /// What it was.
    pub kind: Option<EventKind>,
    /// Date, local time, or instant with offset or `Z`.
    pub at: Option<String>,
    /// Booking number; absent: its place in the list, from 1.
    pub n: Option<u64>,
    /// Day of booking; absent: known at once.
    pub booked: Option<Date>,
    /// Mass as text with its unit.
    pub mass: Option<String>,
    /// Visit it belongs to.
    pub visit: Option<String>,
    /// Leak event key.
    pub leak: Option<String>,
    /// Why refrigerant was charged or recovered.
    pub reason: Option<ReasonWord>,
    /// Record fields that were filled in.
    pub has: Option<Vec<String>>,
    /// A correction: the number it reverses.
    pub reverses: Option<u64>,
    /// A correction: what stands instead; absent: annulled.
    pub replacement: Option<Box<SituationEvent>>,
    #[allow(missing_docs)]
    pub stage: Option<String>,
    #[allow(missing_docs)]
    pub result: Option<String>,
    #[allow(missing_docs)]
    pub choice: Option<String>,
    #[allow(missing_docs)]
    pub what: Option<String>,
    #[allow(missing_docs)]
    pub of: Option<String>,
    #[allow(missing_docs)]
    pub ground: Option<String>,
    #[allow(missing_docs)]
    pub all_leaks: Option<YesNo>,
    #[allow(missing_docs)]
    pub certified: Option<YesNo>,
    #[allow(missing_docs)]
    pub found_by: Option<String>,
    #[allow(missing_docs)]
    #[serde(rename = "type")]
    pub kind_of: Option<String>,
    #[allow(missing_docs)]
    pub delivered_on: Option<Date>,
    #[allow(missing_docs)]
    pub until: Option<Date>,
    #[allow(missing_docs)]
    pub run_hours: Option<String>,
    #[allow(missing_docs)]
    pub estimated: Option<YesNo>,
    #[allow(missing_docs)]
    pub process_shutdown: Option<YesNo>,
    #[allow(missing_docs)]
    pub evacuated: Option<YesNo>,
    #[allow(missing_docs)]
    pub ghg_reporter: Option<YesNo>,
}
