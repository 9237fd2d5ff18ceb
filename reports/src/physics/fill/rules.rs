//! The rules of filling as data: which term, with what factor, from which source.
//!
//! A rule can have several terms; the lowest counts. The choice of a shop (the stricter rule, or one
//! of its own) is a change of rows, not of program.

use crate::number::Decimal;
use crate::physics::fill::densities::FillTemperature;
use crate::physics::problem::{Problem, ProblemCode};
use serde::{Deserialize, Serialize};
use std::collections::HashMap;
use std::sync::LazyLock;

/// The shipped rules, as CSV.
pub static FILL_RULES_BYTES: &[u8] = include_bytes!("../../../data/physics/fill-rules.csv");

/// The shipped filling densities that rules list by refrigerant, as CSV.
pub static FILL_LISTED_BYTES: &[u8] = include_bytes!("../../../data/physics/fill-listed.csv");

/// How a term is worked out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RuleKind {
    /// Factor × volume × density of the liquid at a temperature.
    Density(FillTemperature),
    /// Factor × mass of the water that fills it.
    Water,
    /// Filling density listed for the refrigerant × mass of the water that fills it.
    Listed,
    /// Factor in kilograms per litre × volume.
    Volume,
}

/// When a term applies.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Applies {
    /// Always, where its numbers are known.
    Always,
    /// When the shop chose the stricter rule.
    Shop,
    /// To content that nothing excludes.
    Unknown,
}

/// One term of a rule.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Term {
    /// The rule it belongs to.
    pub rule_id: String,
    /// How it is worked out.
    pub kind: RuleKind,
    /// Its factor.
    pub factor: Decimal,
    /// When it applies.
    pub applies: Applies,
    /// Whether the mass must stay below it.
    pub strict: bool,
    /// Whether the rule was read at its source, rather than remembered.
    pub read_at_source: bool,
    /// What it says.
    pub text: String,
    /// Its source.
    pub source: String,
}

/// All rules, and what they list by refrigerant.
#[derive(Clone, Debug)]
pub struct FillRules {
    terms: Vec<Term>,
    listed: HashMap<String, HashMap<String, Decimal>>,
}

#[derive(Deserialize)]
struct Line {
    rule_id: String,
    kind: String,
    factor: String,
    at: String,
    applies: Applies,
    strict: String,
    read_at_source: String,
    text: String,
    source: String,
}

#[derive(Deserialize)]
struct ListedLine {
    rule_id: String,
    refrigerant: String,
    percent: String,
}

impl FillRules {
    /// The rules that are compiled in.
    ///
    /// # Panics
    /// When a compiled-in file is broken, which a test would have said.
    pub fn shipped() -> &'static FillRules {
        static SHIPPED: LazyLock<FillRules> =
            LazyLock::new(
                || match FillRules::read(FILL_RULES_BYTES, FILL_LISTED_BYTES) {
                    Ok(rules) => rules,
                    Err(problem) => panic!("the compiled-in fill rules: {problem}"),
                },
            );
        &SHIPPED
    }

    /// Reads rules in the form of the shipped ones.
    ///
    /// # Errors
    /// [`ProblemCode::BadTable`].
    pub fn read(rules: &[u8], listed: &[u8]) -> Result<FillRules, Problem> {
        let mut read = FillRules {
            terms: Vec::new(),
            listed: HashMap::new(),
        };
        for line in reader(rules).deserialize() {
            let line: Line = line.map_err(|error| bad("a rule", &error.to_string()))?;
            read.terms.push(line.term()?);
        }
        for line in reader(listed).deserialize() {
            let line: ListedLine = line.map_err(|error| bad("a density", &error.to_string()))?;
            let percent = above_zero(&line.percent)?;
            let of_rule = read.listed.entry(line.rule_id).or_default();
            of_rule.insert(line.refrigerant, percent);
        }
        Ok(read)
    }

    /// All terms, in the order of the file.
    pub fn terms(&self) -> &[Term] {
        &self.terms
    }

    /// The filling density that a rule lists for a refrigerant, in percent of the water.
    pub fn listed(&self, rule_id: &str, designation: &str) -> Option<Decimal> {
        self.listed.get(rule_id)?.get(designation).copied()
    }
}

impl Line {
    fn term(self) -> Result<Term, Problem> {
        let kind = match (self.kind.as_str(), FillTemperature::from_word(&self.at)) {
            ("density", Some(at)) => RuleKind::Density(at),
            ("water", None) => RuleKind::Water,
            ("listed", None) => RuleKind::Listed,
            ("volume", None) => RuleKind::Volume,
            _ => {
                let came = format!("{} at \"{}\"", self.kind, self.at);
                return Err(bad(
                    "density at a known temperature, water, listed or volume",
                    &came,
                ));
            }
        };
        if self.source.trim().is_empty() {
            return Err(bad("a source", &self.rule_id));
        }
        Ok(Term {
            kind,
            factor: above_zero(&self.factor)?,
            applies: self.applies,
            strict: yes(&self.strict)?,
            read_at_source: yes(&self.read_at_source)?,
            rule_id: self.rule_id,
            text: self.text,
            source: self.source,
        })
    }
}

fn above_zero(text: &str) -> Result<Decimal, Problem> {
    let number = Decimal::parse(text).filter(|number| *number > Decimal::from(0));
    number.ok_or_else(|| bad("a decimal above zero", text))
}

fn yes(text: &str) -> Result<bool, Problem> {
    match text {
        "yes" => Ok(true),
        "no" => Ok(false),
        _ => Err(bad("yes or no", text)),
    }
}

fn reader(bytes: &[u8]) -> csv::Reader<&[u8]> {
    csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_reader(bytes)
}

fn bad(expected: &str, came: &str) -> Problem {
    Problem::new(
        ProblemCode::BadTable,
        "fill_rules",
        expected,
        came,
        "Correct the row: a rule that cannot be read would let a cylinder be overfilled.",
    )
}
