//! What was shipped against what the receiver weighed.
//!
//! A reclaimer weighs by refrigerant and tells how much of it was oil, water or air. What follows for
//! the book is exact: what he found under another name changes its name, oil, water and air leave as
//! residue, and the rest is unexplained, so that he holds by the book what he says. Whether a difference
//! lies within what two scales make of one mass is told here, too; nothing is rounded.

use crate::mass::Mass;
use std::collections::BTreeMap;

/// Hundredths of the own weight within which two scales agree: half a hundredth for each of them
/// (common practice, no source).
const PERCENT: i128 = 1;

/// Readings behind one own mass: before and after.
const READINGS: i128 = 2;

/// What somebody who received shipments says of one refrigerant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct StatedWeight {
    /// Code of the refrigerant table.
    pub refrigerant: u16,
    /// Refrigerant, in steps.
    pub mass: i128,
    /// Oil, water and air beside it, in steps.
    pub residue: i128,
}

/// Where the receiver's mass comes from or goes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Way {
    /// Leaves the receiver as this name and comes back as another.
    RenamedFrom,
    /// Comes back under this name.
    RenamedTo,
    /// More than the book had.
    Found,
    /// Less than the book had, and nobody says why.
    Missing,
    /// Oil, water, air.
    Residue,
}

/// One mass that an accepted statement moves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Adjustment {
    /// Which way.
    pub way: Way,
    /// Code of the refrigerant table.
    pub refrigerant: u16,
    /// How much, in steps; never zero.
    pub mass: i128,
}

/// What brings the book to what is stated: `book` is what it has of the shipments, by refrigerant. A
/// refrigerant that is in the book and not stated is stated to be none.
pub fn adjustments(book: &BTreeMap<u16, i128>, stated: &[StatedWeight]) -> Vec<Adjustment> {
    let mut needs: BTreeMap<u16, i128> = book.iter().map(|(code, mass)| (*code, -mass)).collect();
    for line in stated {
        *needs.entry(line.refrigerant).or_default() += line.mass + line.residue;
    }
    let mut moved = renamed(book, stated, &mut needs);
    let way = |need: i128| match need > 0 {
        true => Way::Found,
        false => Way::Missing,
    };
    let rest = needs.iter().filter(|(_, need)| **need != 0);
    moved.extend(rest.map(|(code, need)| Adjustment {
        way: way(*need),
        refrigerant: *code,
        mass: need.abs(),
    }));
    let residue = stated.iter().filter(|line| line.residue != 0);
    moved.extend(residue.map(|line| Adjustment {
        way: Way::Residue,
        refrigerant: line.refrigerant,
        mass: line.residue,
    }));
    moved
}

/// What was stated under a name that nobody shipped is what lacks under the names that were: first
/// under those that are not stated at all.
fn renamed(
    book: &BTreeMap<u16, i128>,
    stated: &[StatedWeight],
    needs: &mut BTreeMap<u16, i128>,
) -> Vec<Adjustment> {
    let shipped = |code: u16| book.get(&code).is_some_and(|mass| *mass != 0);
    let named = |code: u16| stated.iter().any(|line| line.refrigerant == code);
    let mut lacking: Vec<u16> = book.keys().copied().collect();
    lacking.sort_by_key(|code| (named(*code), *code));
    let mut moved = Vec::new();
    for line in stated.iter().filter(|line| !shipped(line.refrigerant)) {
        let mut wanted = needs[&line.refrigerant];
        for from in &lacking {
            let mass = wanted.min(-needs[from]);
            if mass <= 0 {
                continue;
            }
            wanted -= mass;
            *needs.entry(*from).or_default() += mass;
            *needs.entry(line.refrigerant).or_default() -= mass;
            for (way, refrigerant) in [
                (Way::RenamedFrom, *from),
                (Way::RenamedTo, line.refrigerant),
            ] {
                moved.push(Adjustment {
                    way,
                    refrigerant,
                    mass,
                });
            }
        }
    }
    moved
}

/// How far two scales may be apart about one shipment: a hundredth of the own weight, and what the
/// steps of the own scales leave open; `steps`: the smallest step of each weighing.
pub fn tolerance(own: i128, steps: impl IntoIterator<Item = Mass>) -> i128 {
    let open: i128 = (steps.into_iter())
        .map(|step| READINGS * i128::from(step.steps()))
        .sum();
    own.max(0) * PERCENT / 100 + open
}

/// Does a weight look like the own one read in another unit? Factors between the units of trade scales,
/// within a twentieth; a difference as large is none of two scales.
pub fn other_unit(own: i128, stated: i128) -> bool {
    const POUND: i128 = 45_359_237;
    const KILOGRAM: i128 = 100_000_000;
    const FACTORS: [(i128, i128); 5] = [
        (KILOGRAM, POUND),
        (16, 1),
        (16 * KILOGRAM, POUND),
        (1_000, 1),
        (1_000 * POUND, KILOGRAM),
    ];
    let near = |large: i128, small: i128, (n, d): (i128, i128)| {
        let (is, would_be) = (large * d, small * n);
        (is - would_be).abs() * 20 <= would_be
    };
    let (large, small) = (own.max(stated), own.min(stated));
    small > 0 && FACTORS.into_iter().any(|factor| near(large, small, factor))
}

#[cfg(test)]
mod tests {
    use super::*;

    const LB: i128 = Mass::POUND as i128;
    const OZ: i128 = Mass::OUNCE as i128;
    const UNKNOWN: u16 = 1;
    const A: u16 = 7;
    const B: u16 = 9;

    fn line(refrigerant: u16, mass: i128, residue: i128) -> StatedWeight {
        StatedWeight {
            refrigerant,
            mass,
            residue,
        }
    }

    /// What the receiver holds by the book afterwards.
    fn after(book: &[(u16, i128)], stated: &[StatedWeight]) -> BTreeMap<u16, i128> {
        let book: BTreeMap<u16, i128> = book.iter().copied().collect();
        let mut held = book.clone();
        for moved in adjustments(&book, stated) {
            assert!(moved.mass > 0, "{moved:?}");
            let sign = match moved.way {
                Way::RenamedFrom | Way::Missing | Way::Residue => -1,
                Way::RenamedTo | Way::Found => 1,
            };
            *held.entry(moved.refrigerant).or_default() += sign * moved.mass;
        }
        held.retain(|_, mass| *mass != 0);
        held
    }

    fn of(way: Way, refrigerant: u16, mass: i128) -> Adjustment {
        Adjustment {
            way,
            refrigerant,
            mass,
        }
    }

    /// The invented case of the scenario: 61.2 lb are stated of 63.0 lb; with 20 oz of oil told, 8.8 oz
    /// stay open (63 - 61.2 = 1.8 lb = 28.8 oz, worked by hand).
    #[test]
    fn what_is_missing_is_residue_as_far_as_it_is_told_and_else_unexplained() {
        let book = BTreeMap::from([(A, 63 * LB)]);
        let stated = 61 * LB + LB / 5;
        assert_eq!(
            adjustments(&book, &[line(A, stated, 0)]),
            [of(Way::Missing, A, 288 * OZ / 10)]
        );
        assert_eq!(
            adjustments(&book, &[line(A, stated, 20 * OZ)]),
            [
                of(Way::Missing, A, 88 * OZ / 10),
                of(Way::Residue, A, 20 * OZ)
            ]
        );
        assert_eq!(
            adjustments(&book, &[line(A, stated, 2 * LB)]),
            [of(Way::Found, A, LB / 5), of(Way::Residue, A, 2 * LB)]
        );
        assert_eq!(adjustments(&book, &[line(A, 63 * LB, 0)]), []);
    }

    #[test]
    fn what_was_not_identified_gets_its_name() {
        let stated = [line(A, 28 * LB, LB)];
        let book = BTreeMap::from([(UNKNOWN, 30 * LB)]);
        assert_eq!(
            adjustments(&book, &stated),
            [
                of(Way::RenamedFrom, UNKNOWN, 29 * LB),
                of(Way::RenamedTo, A, 29 * LB),
                of(Way::Missing, UNKNOWN, LB),
                of(Way::Residue, A, LB),
            ]
        );
        // A slip between two names that were both shipped is none of the names.
        let book = BTreeMap::from([(A, 10 * LB), (B, 5 * LB)]);
        assert_eq!(
            adjustments(&book, &[line(A, 9 * LB, 0), line(B, 6 * LB, 0)]),
            [of(Way::Missing, A, LB), of(Way::Found, B, LB)]
        );
    }

    /// Whatever is stated of whatever was sent, the receiver holds it afterwards, to the last step.
    #[test]
    fn afterwards_the_receiver_holds_what_he_says() {
        let weights = [0, 1, 7 * OZ, 10 * LB + 3, 63 * LB];
        for (one, two) in weights.iter().flat_map(|a| weights.map(|b| (*a, b))) {
            for (mass, residue) in weights.iter().flat_map(|a| weights.map(|b| (*a, b))) {
                let stated = [line(A, mass, residue), line(UNKNOWN, two, 0)];
                let held = after(&[(A, one), (B, two)], &stated);
                let said = [(A, mass), (UNKNOWN, two)];
                let said: BTreeMap<u16, i128> = said.into_iter().filter(|it| it.1 != 0).collect();
                assert_eq!(held, said, "{one} {two} {mass} {residue}");
            }
        }
    }

    #[test]
    fn two_scales_agree_within_a_hundredth_and_their_steps() {
        assert_eq!(tolerance(63 * LB, []), 63 * LB / 100);
        let quarter = Mass::from_steps(Mass::OUNCE / 4);
        assert_eq!(tolerance(63 * LB, [quarter, quarter]), 63 * LB / 100 + OZ);
        assert_eq!(tolerance(-LB, []), 0);
    }

    /// 63 lb read as kilograms, 63 lb written as ounces; 61.2 lb of 63 lb are no other unit.
    #[test]
    fn another_unit_is_recognised() {
        let kilogram = i128::from(Mass::GRAM) * 1000;
        assert!(other_unit(63 * LB, 62 * kilogram));
        assert!(other_unit(63 * LB, 63 * LB / 16));
        assert!(other_unit(63 * LB, 61 * LB * 45_359_237 / 100_000_000));
        assert!(!other_unit(63 * LB, 61 * LB + LB / 5));
        assert!(!other_unit(63 * LB, 40 * LB));
        assert!(!other_unit(63 * LB, 0) && !other_unit(0, 63 * LB));
    }
}
