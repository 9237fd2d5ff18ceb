//! A rule file as it is written: TOML and JSON read into the same types.
//!
//! The words and their meaning are those of the vocabulary in `reports/rules/README.md`. Every
//! table is closed: an unknown word is an error that lists the allowed ones. Numbers stand only
//! in `values`; everything else names them.

use super::conditions::{Band, Covers, Exempt, Test};
use super::situation::Situation;
use super::text::{Date, TextOr};
use super::words::{
    Anchor, Confidence, Each, EventKind, FirstDaysWord, GwpBasis, KeepAfter, Layer, LeavesOut,
    Measure, MonthEnd, NettingWord, PausedBy, Period, ReasonWord, Stricter, Subject, Unit, YesNo,
};
use crate::day::Day;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// The rules of one act of one jurisdiction, with the local layers laid over their numbers.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RuleSet {
    /// Name of the set (`a-z0-9-`); it never changes.
    pub id: String,
    /// ISO 3166 code, or `EU`.
    pub jurisdiction: String,
    /// Order of layers.
    pub layer: Layer,
    /// Shown with every result.
    pub title: String,
    /// The act.
    pub act: String,
    /// What a reader must know before relying on it; never empty.
    pub caution: String,
    /// What a month after the 31st is.
    pub month_end: MonthEnd,
    /// Which GWP column `gwp` and `co2e` use; needed when they occur.
    pub gwp_basis: Option<GwpBasis>,
    /// First day of `fiscal_year`, `MM-DD`.
    pub year_starts: Option<String>,
    /// Every number of the law, dated.
    #[serde(default)]
    pub values: BTreeMap<String, Series>,
    /// Which appliances: one block is enough.
    #[serde(default)]
    pub covers: Vec<Covers>,
    /// Which of them are left out; an exemption must be shown.
    #[serde(default)]
    pub exempt: Vec<Exempt>,
    /// Categories or sizes; tried from the top.
    #[serde(default)]
    pub bands: Vec<Band>,
    /// How additions are read; absent: this set computes no leak rate.
    pub leak_rate: Option<LeakRate>,
    /// What is too much.
    #[serde(default)]
    pub limits: Vec<Limit>,
    /// What is then owed.
    #[serde(default)]
    pub duties: Vec<Duty>,
    /// What is written down.
    #[serde(default)]
    pub records: Vec<Record>,
    /// How long it is kept.
    #[serde(default)]
    pub keep: Vec<Keep>,
    /// Situations the set must answer before it may be adopted.
    #[serde(default)]
    pub examples: Vec<Situation>,
    /// Which text this is (a hash or the number of the adopting entry); given by the adopter.
    #[serde(skip)]
    pub version: Option<String>,
    /// Local layers over the numbers of this set.
    #[serde(skip)]
    pub layers: Vec<Overlay>,
}

/// A local layer: other numbers for a base set, somewhere.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Overlay {
    /// Name of the layer (`a-z0-9-`).
    pub id: String,
    /// The set whose numbers it changes.
    pub overlays: String,
    /// Its place in the order of layers.
    pub layer: Layer,
    /// Shown with every result it changes.
    pub title: String,
    /// Why: the ordinance, the permit.
    pub reason: String,
    /// For which appliances; absent: all.
    #[serde(rename = "where")]
    pub place: Option<Test>,
    /// The other numbers.
    pub values: BTreeMap<String, OverlayRows>,
    /// First and last day on which it lies over its set; given by the adopter. `None`: always.
    #[serde(skip)]
    pub days: Option<(Day, Day)>,
}

/// The rows an overlay lays over one value.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OverlayRows {
    /// The dated series.
    pub rows: Vec<Row>,
}

/// A named number, dated.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Series {
    /// The number in plain words.
    pub means: String,
    /// Its unit.
    pub unit: Unit,
    /// Which way is stricter.
    pub stricter: Option<Stricter>,
    /// The dated series.
    pub rows: Vec<Row>,
}

/// One row of a value: it holds until the next row for the same band.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Row {
    /// First day.
    pub from: Date,
    /// The number as text; `none` ends the series.
    pub is: String,
    /// Bands it is for; absent: all.
    #[serde(rename = "for")]
    pub bands: Option<Vec<String>>,
    /// Where it stands.
    pub clause: Option<String>,
    /// Date of the official journal.
    pub published: Option<Date>,
    /// `unconfirmed` when the clause itself was not read.
    pub confidence: Option<Confidence>,
    /// What was read instead.
    pub source: Option<String>,
    /// Only in an overlay: this row may be looser than the base.
    #[serde(default)]
    pub loosens: bool,
    /// Why it may.
    pub reason: Option<String>,
}

/// How additions and leak rates are read.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[allow(missing_docs)]
pub struct LeakRate {
    pub clause: String,
    pub netting: Option<NettingWord>,
    #[serde(default)]
    pub leaves_out: Vec<LeavesOut>,
    pub first_days: Option<FirstDaysWord>,
    pub counts_from: Option<Date>,
    pub confidence: Option<Confidence>,
}

/// What is too much.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[allow(missing_docs)]
pub struct Limit {
    pub name: String,
    pub means: String,
    pub clause: String,
    pub confidence: Option<Confidence>,
    pub from: Option<Date>,
    pub until: Option<Date>,
    pub when: Option<Test>,
    pub measure: Measure,
    pub over: Option<TextOr<String>>,
    pub at_least: Option<TextOr<String>>,
    pub below: Option<TextOr<String>>,
    pub at_most: Option<TextOr<String>>,
    pub period: Option<Period>,
    pub subject: Option<Subject>,
    pub lists: Option<Lists>,
}

/// Which parts of an organisation pass a sum alone.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[allow(missing_docs)]
pub struct Lists {
    pub each: Each,
    pub at_least: String,
}

/// What is owed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[allow(missing_docs)]
pub struct Duty {
    pub name: String,
    pub means: String,
    pub clause: String,
    pub from: Option<Date>,
    pub until: Option<Date>,
    pub confidence: Option<Confidence>,
    pub subject: Option<Subject>,
    pub starts: Vec<Start>,
    pub when: Option<Test>,
    #[serde(default)]
    pub due: Vec<Line>,
    #[serde(default)]
    pub not_before: Vec<Line>,
    pub no_number: Option<String>,
    #[serde(default)]
    pub done_by: Vec<Pattern>,
    #[serde(default)]
    pub reopened_by: Vec<Pattern>,
    #[serde(default)]
    pub lifted_by: Vec<Pattern>,
    #[serde(default)]
    pub paused_by: Vec<PausedBy>,
    #[serde(default)]
    pub extensions: Vec<Extension>,
    pub extensions_of: Option<String>,
    #[serde(default)]
    pub repeats: bool,
    #[serde(default)]
    pub ends_after: Vec<EndsAfter>,
    #[serde(default)]
    pub not_while: Vec<Test>,
    #[serde(default)]
    pub once: bool,
}

/// What starts a duty: exactly one trigger, and conditions.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[allow(missing_docs)]
pub struct Start {
    pub event: Option<EventKind>,
    pub limit: Option<String>,
    pub done: Option<String>,
    pub missed: Option<String>,
    #[serde(default)]
    pub covered: bool,
    pub period_end: Option<Period>,
    pub while_open: Option<String>,
    pub unless_open: Option<String>,
    pub after_done: Option<String>,
    pub when: Option<Test>,
    pub stage: Option<String>,
    pub result: Option<String>,
    pub choice: Option<String>,
    pub what: Option<String>,
    pub of: Option<String>,
    pub ground: Option<String>,
    pub all_leaks: Option<YesNo>,
    pub certified: Option<YesNo>,
    pub found_by: Option<String>,
    pub reason: Option<ReasonWord>,
    #[serde(rename = "type")]
    pub kind_of: Option<String>,
}

/// An event with equal words.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[allow(missing_docs)]
pub struct Pattern {
    pub event: EventKind,
    pub stage: Option<String>,
    pub result: Option<String>,
    pub choice: Option<String>,
    pub what: Option<String>,
    pub of: Option<String>,
    pub ground: Option<String>,
    pub all_leaks: Option<YesNo>,
    pub certified: Option<YesNo>,
    pub found_by: Option<String>,
    pub reason: Option<ReasonWord>,
    #[serde(rename = "type")]
    pub kind_of: Option<String>,
    /// Only with the extension of this ground.
    pub under: Option<String>,
    /// When running hours are stated they must reach this value.
    pub min_run_hours: Option<String>,
}

/// A line of `due`, `not_before`, `ask_by`: exactly one of `within`, `by`, `on`, `granted`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[allow(missing_docs)]
pub struct Line {
    pub within: Option<String>,
    pub by: Option<String>,
    pub on: Option<String>,
    #[serde(default)]
    pub granted: bool,
    pub after: Option<Anchor>,
    pub when: Option<Test>,
}

/// A ground on which a date moves later.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[allow(missing_docs)]
pub struct Extension {
    pub ground: String,
    pub clause: Option<String>,
    pub confidence: Option<Confidence>,
    pub from: Option<Date>,
    #[serde(default)]
    pub ask_by: Vec<Line>,
    #[serde(default)]
    pub due: Vec<Line>,
    pub silence: Option<String>,
}

/// When a cadence ends: the limit was not passed for so long.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[allow(missing_docs)]
pub struct EndsAfter {
    pub quiet: String,
    pub within: String,
    pub when: Option<Test>,
}

/// What is written down at an event.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[allow(missing_docs)]
pub struct Record {
    pub on: Vec<EventKind>,
    #[serde(default)]
    pub fields: Vec<String>,
    #[serde(default)]
    pub with: Vec<EventKind>,
    #[serde(default)]
    pub reason: Vec<ReasonWord>,
    pub when: Option<Test>,
    pub total_by: Option<Period>,
    pub clause: String,
    pub confidence: Option<Confidence>,
}

/// How long something is kept; a floor, never a ceiling.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[allow(missing_docs)]
pub struct Keep {
    pub what: String,
    pub time: String,
    pub after: KeepAfter,
    #[serde(rename = "where")]
    pub place: Option<String>,
    pub clause: String,
}
