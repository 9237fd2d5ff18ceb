//! The arithmetic of the rules: from a term, a capacity and a refrigerant to a mass, exactly.
//!
//! The outer `None` always means that a number was too large for 128 bits; the inner one that the term
//! has no number for the refrigerant.

use super::densities::FillDensities;
use super::limit::RuleLimit;
use super::rules::{Applies, FillRules, RuleKind, Term};
use crate::mass::Mass;
use crate::number::{Decimal, Fraction};
use crate::physics::exact;
use crate::physics::volume::WaterCapacity;

/// A cylinder against the rules.
pub(in crate::physics) struct Work<'a> {
    rules: &'a FillRules,
    densities: &'a FillDensities,
    litres: Fraction,
    water_grams: Fraction,
    shop_rules: bool,
}

impl Work<'_> {
    /// `None` when the capacity is not above zero, too.
    pub(in crate::physics) fn of<'a>(
        rules: &'a FillRules,
        densities: &'a FillDensities,
        capacity: WaterCapacity,
        shop_rules: bool,
    ) -> Option<Work<'a>> {
        Some(Work {
            rules,
            densities,
            litres: capacity.litres()?,
            water_grams: capacity.water_grams()?,
            shop_rules,
        })
    }

    /// Every term that applies to a refrigerant, or to none in particular.
    pub(super) fn terms(&self, name: Option<&str>, is_unknown: bool) -> Option<Vec<RuleLimit>> {
        let mut found = Vec::new();
        for term in self.rules.terms() {
            let applies = match term.applies {
                Applies::Always => true,
                Applies::Shop => self.shop_rules,
                Applies::Unknown => is_unknown,
            };
            if !applies {
                continue;
            }
            if let Some(limit) = self.mass(term, name)? {
                found.push(self.described(term, name, limit));
            }
        }
        Some(found)
    }

    /// The lowest of them.
    pub(super) fn lowest(&self, name: &str) -> Option<Option<RuleLimit>> {
        let terms = self.terms(Some(name), false)?;
        Some(terms.into_iter().min_by_key(|rule| rule.limit))
    }

    /// The lowest limit by the rules that always apply; `None` where there is none.
    pub(in crate::physics) fn lowest_mass(&self, name: &str) -> Option<Mass> {
        let mut lowest = None;
        for term in self.rules.terms() {
            if term.applies == Applies::Always {
                let mass = self.mass(term, Some(name))?;
                lowest = [lowest, mass].into_iter().flatten().min();
            }
        }
        lowest
    }

    fn mass(&self, term: &Term, name: Option<&str>) -> Option<Option<Mass>> {
        // Kilograms per cubic metre are grams per litre.
        let (per, size) = match (term.kind, name) {
            (RuleKind::Water, _) => (Fraction::new(1, 1), self.water_grams),
            (RuleKind::Volume, _) => (Fraction::new(1_000, 1), self.litres),
            (RuleKind::Density(at), Some(name)) => match self.densities.of(name, at) {
                Some(density) => (density.fraction(), self.litres),
                None => return Some(None),
            },
            (RuleKind::Listed, Some(name)) => match self.rules.listed(&term.rule_id, name) {
                Some(percent) => (hundredth(percent), self.water_grams),
                None => return Some(None),
            },
            (RuleKind::Density(_) | RuleKind::Listed, None) => return Some(None),
        };
        cut(&[term.factor.fraction(), per, size], term.strict).map(Some)
    }

    fn described(&self, term: &Term, name: Option<&str>, limit: Mass) -> RuleLimit {
        let uses_density = matches!(term.kind, RuleKind::Density(_));
        let of_density = name.filter(|_| uses_density);
        let source = of_density.and_then(|name| self.densities.source_of(name));
        RuleLimit {
            rule_id: term.rule_id.clone(),
            refrigerant: name.map(str::to_owned),
            limit,
            text: term.text.clone(),
            source: term.source.clone(),
            read_at_source: term.read_at_source,
            density_source: source.map(str::to_owned),
        }
    }
}

fn hundredth(percent: Decimal) -> Fraction {
    let fraction = percent.fraction();
    Fraction::new(fraction.numerator(), fraction.denominator() * 100)
}

/// Whole steps of mass, not more than the product in grams; below them where the rule is strict.
pub(super) fn cut(grams: &[Fraction], strict: bool) -> Option<Mass> {
    let mut factors = grams.to_vec();
    factors.push(Fraction::new(i128::from(Mass::GRAM), 1));
    let (whole, is_exact) = exact::floor_of_product(&factors)?;
    let whole = i64::try_from(whole - i128::from(strict && is_exact)).ok()?;
    (whole >= 0).then(|| Mass::from_steps(whole))
}
