//! What the book holds of an appliance: balance, content, what is presumed leaked.
//!
//! The balance is charged less recovered, never what is in the appliance. After an entry *returned
//! to full charge* the content is the full charge, and what the balance holds beyond it has leaked
//! at some time before; so has what is left on the books when an appliance is retired.

use crate::appliance::Facts;
use crate::event::{Event, Kind};

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
}
