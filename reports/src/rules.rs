//! Rule sets: dated rules of one jurisdiction, as data.
//!
//! A set says which appliances it covers, what is too much, what is then owed, and what is kept;
//! its numbers are dated rows with a clause. `reports/rules/README.md` says how to write one.
//! Reading (`parse`) refuses unknown words, `check` refuses gaps, overlaps and unknown names,
//! `Judge` answers what holds for an appliance on a day, and `examples` runs the situations that
//! a set must answer. Every test says yes, no, or *cannot judge: find X*.

mod as_if;
pub mod check;
mod compare;
mod compiled;
pub mod conditions;
pub mod deadline;
mod difference;
pub mod duties;
pub mod examples;
pub mod exceedance;
pub mod facts;
pub mod file;
mod for_sheets;
mod history;
pub mod in_force;
pub mod judge;
pub mod number;
pub mod organisation;
mod owned;
pub mod parse;
pub mod problem;
pub mod records;
pub mod region;
mod resolve;
pub mod review;
pub mod schema;
mod scope;
pub mod situation;
pub mod tables;
pub mod text;
pub mod words;
mod write;

pub use check::{check, check_overlay};
pub use difference::differences;
pub use examples::{Outcome, run_examples, run_situations};
pub use file::{Overlay, RuleSet};
pub use for_sheets::SheetLimits;
pub use in_force::{Bound, NumberOn};
pub use judge::{Judge, LimitOn, PreparedAppliance};
pub use owned::OwnedJudge;
pub use parse::RuleFile;
pub use problem::Problem;
pub use tables::Tables;

/// The sets that come with the program, as TOML.
const SHIPPED: [(&str, &str); 10] = [
    (
        "us-federal-ods.toml",
        include_str!("../rules/us-federal-ods.toml"),
    ),
    (
        "us-federal-hfc.toml",
        include_str!("../rules/us-federal-hfc.toml"),
    ),
    (
        "us-disposal-log.toml",
        include_str!("../rules/us-disposal-log.toml"),
    ),
    (
        "us-california.toml",
        include_str!("../rules/us-california.toml"),
    ),
    (
        "us-washington.toml",
        include_str!("../rules/us-washington.toml"),
    ),
    (
        "eu-2024-573.toml",
        include_str!("../rules/eu-2024-573.toml"),
    ),
    ("gb-517.toml", include_str!("../rules/gb-517.toml")),
    (
        "ca-halocarbon-2022.toml",
        include_str!("../rules/ca-halocarbon-2022.toml"),
    ),
    (
        "jp-yearly-co2e.toml",
        include_str!("../rules/jp-yearly-co2e.toml"),
    ),
    ("ch-orrchem.toml", include_str!("../rules/ch-orrchem.toml")),
];

/// The text of every shipped set with its file name.
pub fn shipped_texts() -> &'static [(&'static str, &'static str)] {
    &SHIPPED
}

/// The sets that come with the program. An organisation judges by them only after adopting them.
///
/// # Panics
/// When a shipped file cannot be read, which the tests of this crate rule out.
pub fn shipped() -> Vec<RuleSet> {
    let read = |(name, text): &(&str, &str)| match RuleSet::from_toml(name, text) {
        Ok(set) => set,
        Err(problems) => panic!("shipped rule set cannot be read: {}", problems[0]),
    };
    SHIPPED.iter().map(read).collect()
}

impl RuleSet {
    /// This set with a local layer over its numbers, or everything that is wrong with the layer.
    pub fn with_layer(mut self, layer: Overlay, tables: &Tables) -> Result<RuleSet, Vec<Problem>> {
        let problems = check_overlay(&layer, &self, tables);
        if !problems.is_empty() {
            return Err(problems);
        }
        self.layers.push(layer);
        Ok(self)
    }
}

/// Lays every overlay over the set it names and gives the sets; an overlay without its base is a
/// problem, and so is a set that is given twice.
pub fn assemble(files: Vec<RuleFile>, tables: &Tables) -> Result<Vec<RuleSet>, Vec<Problem>> {
    let mut sets: Vec<RuleSet> = Vec::new();
    let mut layers = Vec::new();
    let mut problems = Vec::new();
    for file in files {
        match file {
            RuleFile::Set(set) if sets.iter().any(|other| other.id == set.id) => {
                problems.push(Problem::new(&set.id, "id", "this set is given twice"));
            }
            RuleFile::Set(set) => sets.push(*set),
            RuleFile::Overlay(layer) => layers.push(*layer),
        }
    }
    let ids: Vec<String> = layers
        .iter()
        .map(|layer: &Overlay| layer.id.clone())
        .collect();
    for layer in layers {
        let Some(base) = sets.iter_mut().find(|set| set.id == layer.overlays) else {
            let names: Vec<&str> = sets.iter().map(|set| set.id.as_str()).collect();
            let message = match ids.contains(&layer.overlays) {
                true => problem::over_a_layer(&layer.overlays),
                false => problem::no_such("set", &layer.overlays, &names),
            };
            problems.push(Problem::new(
                &format!("overlay {}", layer.id),
                "overlays",
                message,
            ));
            continue;
        };
        match base.clone().with_layer(layer, tables) {
            Ok(layered) => *base = layered,
            Err(found) => problems.extend(found),
        }
    }
    if problems.is_empty() {
        Ok(sets)
    } else {
        Err(problems)
    }
}
