//! Duties of being covered: what such a duty cannot say.

use super::Found;
use crate::rules::file::{Duty, RuleSet};

/// A duty of being covered is worked out for the day asked: it has no case whose clock could
/// wait, stand or be moved, and nothing can follow from it.
pub(super) fn of_cover(set: &RuleSet, duty: &Duty, place: &str, found: &mut Found) {
    let covered = |duty: &Duty| duty.starts.iter().any(|start| start.covered);
    if covered(duty) {
        let members = [
            ("not_before", !duty.not_before.is_empty()),
            ("paused_by", !duty.paused_by.is_empty()),
            ("extensions", !duty.extensions.is_empty()),
            ("extensions_of", duty.extensions_of.is_some()),
        ];
        for (member, _) in members.into_iter().filter(|(_, given)| *given) {
            let message = format!(
                "a duty of being covered has no '{member}': it has no case whose clock could \
                 wait or be moved; start it by an event or a limit, or leave '{member}' out"
            );
            found.say(format!("{place}.{member}"), message);
        }
    }
    let named = (duty.starts.iter()).flat_map(|start| [&start.done, &start.missed]);
    for name in named.flatten() {
        let of_cover = set.duties.iter().find(|other| other.name == *name);
        if of_cover.is_some_and(covered) {
            let message = format!(
                "'{name}' is a duty of being covered, and nothing starts by it; expected a \
                 duty that an event or a limit starts"
            );
            found.say(format!("{place}.starts"), message);
        }
    }
}
