//! Local layers behind a duty: which of the numbers it rests on are a layer's, and what the law's
//! own say beneath them.

use super::why::unit_word;
use crate::plural;
use crate::rules::duties::{Owed, StartedBy};
use crate::rules::review::Review;
use crate::rules::{Bound, NumberOn};
use serde::Serialize;

/// A number of a local layer that a duty rests on.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct LayerShown {
    /// Name of the layer.
    pub layer: String,
    /// What it is, in its own words.
    pub title: String,
    /// Where the number stands.
    pub clause: String,
    /// `unconfirmed` when the clause itself was not read.
    pub confidence: Option<&'static str>,
    /// Name of the value.
    pub value: String,
    /// The number with its unit.
    pub number: String,
    /// The law's own number with its unit, where the layer lies over one.
    pub own: Option<String>,
    /// Where the law's own stands.
    pub own_clause: Option<String>,
}

impl LayerShown {
    fn of(number: &NumberOn) -> Option<LayerShown> {
        let overlay = number.overlay?;
        let own = number.beneath();
        Some(LayerShown {
            layer: overlay.id.clone(),
            title: overlay.title.clone(),
            clause: number.clause().to_string(),
            confidence: number.confidence().map(|word| word.word()),
            value: number.value.to_string(),
            number: with_unit(number),
            own: own.as_ref().map(with_unit),
            own_clause: own.map(|own| own.clause().to_string()),
        })
    }

    /// Where the layer's number stands: `county ordinance 12 s. 3, local layer 'pueblo'`.
    pub fn stands(&self) -> String {
        let clause = match self.clause.is_empty() {
            true => &self.title,
            false => &self.clause,
        };
        let unconfirmed = if self.confidence.is_some() {
            ", unconfirmed"
        } else {
            ""
        };
        format!("{clause}, local layer '{}'{unconfirmed}", self.layer)
    }

    /// What it says, and what the law says beneath: `10 %; the law's own: 20 % [40 CFR 84.106(c)]`.
    pub fn says(&self) -> String {
        let own = self.own.as_deref().map_or(String::new(), |own| {
            match self.own_clause.as_deref().unwrap_or_default() {
                "" => format!("; the law's own: {own}"),
                clause => format!("; the law's own: {own} [{clause}]"),
            }
        });
        format!("{}{own}", self.number)
    }
}

fn with_unit(number: &NumberOn) -> String {
    plural::counted(number.text(), unit_word(number.unit))
}

/// The layers behind a duty: of the limit that opened its case, and of the number that gives its
/// date; each once.
pub fn layers_behind(review: &Review, owed: &Owed) -> Vec<LayerShown> {
    let of_case = |case| review.duties.iter().find(|duty| duty.case == Some(case));
    let root = owed.case.and_then(of_case).unwrap_or(owed);
    let passed = match (owed.started_by, root.started_by) {
        (StartedBy::Limit(at), _) | (_, StartedBy::Limit(at)) => review.exceedances.get(at),
        _ => None,
    };
    layers_of(passed.map_or(&[][..], |passed| &passed.bounds), owed)
}

/// Those of the numbers that were passed, and of the one that gives the date.
pub(super) fn layers_of(passed: &[Bound], owed: &Owed) -> Vec<LayerShown> {
    let binding = owed.lines.iter().min_by_key(|line| line.due.order());
    let numbers = passed.iter().map(|bound| &bound.number);
    let mut found: Vec<LayerShown> = Vec::new();
    for number in numbers.chain(binding.and_then(|line| line.number.as_ref())) {
        let layer = LayerShown::of(number).filter(|layer| !found.contains(layer));
        found.extend(layer);
    }
    found
}
