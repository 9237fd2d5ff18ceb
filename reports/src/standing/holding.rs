//! What the book holds of an appliance: balance, content, what is presumed leaked.
//!
//! The balance is charged less recovered, never what is in the appliance. After an entry *returned
//! to full charge* the content is the full charge, and what the balance holds beyond it has leaked
//! at some time before; so has what is left on the books when an appliance is retired.

use crate::appliance::Facts;
use crate::event::{Event, Kind};
use std::collections::{BTreeMap, BTreeSet};

/// Balance, content and presumed leak, in steps of 10⁻¹¹ g.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Held {
    pub balance: i128,
    pub content: Option<i128>,
    pub presumed_leaked: i128,
}

/// Reads the events of one appliance in their order.
pub(super) fn held(events: &[Event], facts: &Facts) -> Held {
    let mut held = Held::default();
    for event in events {
        let change = event.balance_change();
        held.balance += change;
        let returned = event.kind == Kind::Charge && event.returned_to_full;
        match facts
            .full_charge(event.day)
            .map(|mass| i128::from(mass.steps()))
        {
            Some(full) if returned => {
                held.content = Some(full);
                held.presumed_leaked = (held.balance - full).max(0);
            }
            _ if event.kind == Kind::Retire => {
                held.content = Some(0);
                held.presumed_leaked = held.balance.max(0);
            }
            _ if change != 0 => held.content = None,
            _ => {}
        }
    }
    held
}

/// What the book presumes since an event to have leaked of a refrigerant, and did not before; below
/// nothing where it presumes less.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Presumed {
    /// Index of the event: a charge back to full, or the retirement.
    pub at: usize,
    pub refrigerant: u16,
    pub mass: i128,
}

/// How [`Held::presumed_leaked`] came about, event by event, by refrigerant.
///
/// At a charge the whole change counts for what was charged; at a retirement what is left of each
/// refrigerant, less what had been presumed of it before.
pub(crate) fn presumed(events: &[Event], facts: &Facts) -> Vec<Presumed> {
    let mut changes = Vec::new();
    let mut balances: BTreeMap<u16, i128> = BTreeMap::new();
    let mut so_far: BTreeMap<u16, i128> = BTreeMap::new();
    for (at, event) in events.iter().enumerate() {
        *balances.entry(event.refrigerant).or_default() += event.balance_change();
        let full = match event.kind {
            Kind::Charge if event.returned_to_full => facts.full_charge(event.day),
            _ => None,
        };
        if full.is_none() && event.kind != Kind::Retire {
            continue;
        }
        let (total, before): (i128, i128) = (balances.values().sum(), so_far.values().sum());
        let mut now = so_far.clone();
        match full {
            Some(full) => {
                let leaked = (total - i128::from(full.steps())).max(0);
                *now.entry(event.refrigerant).or_default() += leaked - before;
            }
            None if total > 0 => now.clone_from(&balances),
            None => now.clear(),
        }
        let codes: BTreeSet<u16> = now.keys().chain(so_far.keys()).copied().collect();
        for refrigerant in codes {
            let of = |map: &BTreeMap<u16, i128>| map.get(&refrigerant).copied().unwrap_or(0);
            let mass = of(&now) - of(&so_far);
            if mass != 0 {
                changes.push(Presumed {
                    at,
                    refrigerant,
                    mass,
                });
            }
        }
        so_far = now;
    }
    changes
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::appliance::FactValue;
    use crate::day::Day;
    use crate::mass::Mass;

    const POUND: i64 = Mass::POUND;

    fn event(kind: Kind, day: i32, pounds: i64) -> Event {
        Event::new(kind, Day::from_count(day), Mass::from_steps(pounds * POUND))
    }

    fn returned(mut event: Event) -> Event {
        event.returned_to_full = true;
        event
    }

    /// By hand: 100 lb in at first, 12 lb topped up to full in year two. The book holds 112 lb, the
    /// appliance 100, so 12 lb have leaked. A recovery of 30 lb makes the content unknown again.
    #[test]
    fn what_the_balance_holds_beyond_the_full_charge_has_leaked() {
        let mut facts = Facts::default();
        let full = FactValue::Mass(Mass::from_steps(100 * POUND));
        facts.set("full_charge", Facts::ALWAYS, full);
        let mut events = vec![
            event(Kind::Opening, 0, 100),
            returned(event(Kind::Charge, 400, 12)),
        ];
        let pounds = |n: i64| i128::from(n * POUND);
        let topped_up = held(&events, &facts);
        assert_eq!(topped_up.balance, pounds(112));
        assert_eq!(topped_up.content, Some(pounds(100)));
        assert_eq!(topped_up.presumed_leaked, pounds(12));
        events.push(event(Kind::Recover, 500, 30));
        let opened = held(&events, &facts);
        assert_eq!((opened.balance, opened.content), (pounds(82), None));
        assert_eq!(opened.presumed_leaked, pounds(12));
        events.push(event(Kind::Retire, 600, 0));
        let retired = held(&events, &facts);
        assert_eq!(
            (retired.content, retired.presumed_leaked),
            (Some(0), pounds(82))
        );
    }

    /// By hand: 12 lb of R leaked by the charge, 70 lb more were never recovered: together the 82 lb
    /// that the standing presumes. 5 lb of another refrigerant that were left after a retrofit are
    /// named as that one at the retirement.
    #[test]
    fn what_is_presumed_has_an_entry_and_a_refrigerant() {
        let mut facts = Facts::default();
        let full = FactValue::Mass(Mass::from_steps(100 * POUND));
        facts.set("full_charge", Facts::ALWAYS, full);
        let mut old = event(Kind::Opening, 0, 5);
        old.refrigerant = 9;
        let events = [
            event(Kind::Opening, 0, 95),
            old,
            returned(event(Kind::Charge, 400, 12)),
            event(Kind::Recover, 500, 30),
            event(Kind::Retire, 600, 0),
        ];
        let pounds = |n: i64| i128::from(n * POUND);
        let found = presumed(&events, &facts);
        let told: Vec<_> = found
            .iter()
            .map(|one| (one.at, one.refrigerant, one.mass))
            .collect();
        assert_eq!(
            told,
            [(2, 0, pounds(12)), (4, 0, pounds(65)), (4, 9, pounds(5))]
        );
        let sum: i128 = found.iter().map(|one| one.mass).sum();
        assert_eq!(sum, held(&events, &facts).presumed_leaked);
    }
}
