//! What a cylinder held when it was emptied: condition and owners, so that a correction which brings the
//! mass back brings them back, too.
//!
//! They stand behind the owners of the content, in the same column: `left:ENTRY:CLASS:OWNER,OWNER`. The
//! newest few are kept apart; older ones are added up to the strictest of all, so that nothing is ever lost.

use super::book::Subject;
use super::columns::Class;
use crate::ledger::id::Id;

/// Emptyings that are kept apart. More of them between a deed and its correction are rare.
const KEPT: usize = 8;

/// What was in a cylinder until an entry emptied it, or gave it a milder condition.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Left {
    /// The entry.
    pub seq: u64,
    /// Condition of what was in it.
    pub class: Class,
    /// Whose it was.
    pub owners: Vec<Id>,
}

impl Subject {
    /// Remembers what is in it before that is forgotten.
    pub(super) fn remember(&mut self, seq: u64) {
        let (class, owners) = (self.class, self.owners.clone());
        self.left.push(Left { seq, class, owners });
        if self.left.len() > KEPT {
            let oldest = self.left.remove(0);
            let next = &mut self.left[0];
            next.class = next.class.max(oldest.class);
            join(&mut next.owners, &oldest.owners);
        }
    }

    /// Takes condition and owners back with a mass that an entry had taken out; says whether that
    /// changed anything. What left since is stricter than what was there, or the same.
    pub(super) fn take_back(&mut self, entry: u64) -> bool {
        let Some(left) = self.left.iter().find(|left| left.seq >= entry) else {
            return false;
        };
        let before = (self.class, self.owners.len());
        self.class = self.class.max(left.class);
        join(&mut self.owners, &left.owners);
        before != (self.class, self.owners.len())
    }

    /// Owners, and what left, as one text, for a column that is read far more rarely than it is written.
    pub(super) fn owners_text(&self) -> String {
        let ids = |owners: &[Id], between: &str| {
            let ids: Vec<String> = owners.iter().map(ToString::to_string).collect();
            ids.join(between)
        };
        let left = self.left.iter().map(|left| {
            let owners = ids(&left.owners, ",");
            format!("left:{}:{}:{owners}", left.seq, left.class as i64)
        });
        let now = (!self.owners.is_empty()).then(|| ids(&self.owners, " "));
        now.into_iter().chain(left).collect::<Vec<_>>().join(" ")
    }

    /// Reads that text.
    pub(super) fn read_owners(&mut self, text: &str) {
        self.owners = text.split_whitespace().filter_map(Id::parse).collect();
        self.left = text.split_whitespace().filter_map(left).collect();
    }
}

fn left(word: &str) -> Option<Left> {
    let mut parts = word.strip_prefix("left:")?.splitn(3, ':');
    Some(Left {
        seq: parts.next()?.parse().ok()?,
        class: Class::stored(parts.next()?.parse().ok()?),
        owners: parts.next()?.split(',').filter_map(Id::parse).collect(),
    })
}

fn join(owners: &mut Vec<Id>, more: &[Id]) {
    for owner in more {
        if !owners.contains(owner) {
            owners.push(*owner);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_left_is_written_read_back_and_never_lost() {
        let mut cylinder = Subject::default();
        assert_eq!(cylinder.owners_text(), "");
        (cylinder.class, cylinder.owners) = (Class::BurnOut, vec![Id::from_bits(5)]);
        cylinder.remember(3);
        (cylinder.class, cylinder.owners) = (Class::Clean, vec![Id::from_bits(6)]);
        (4..30).for_each(|seq| cylinder.remember(seq));
        assert_eq!(cylinder.left.len(), KEPT);
        let mut read = Subject::default();
        read.read_owners(&cylinder.owners_text());
        assert_eq!(
            (&read.owners, &read.left),
            (&cylinder.owners, &cylinder.left)
        );
        assert!(read.take_back(2), "older than all that is kept apart");
        assert_eq!(read.class, Class::BurnOut);
        assert!(read.owners.contains(&Id::from_bits(5)));
        assert!(!read.take_back(30), "nothing left it since");
    }
}
