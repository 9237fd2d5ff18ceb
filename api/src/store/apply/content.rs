//! What moves with a mass: the balance of its refrigerant, whose it is, and in what condition.
//!
//! Owners and condition travel with what was recovered until the cylinder is empty. Nothing is read
//! anew: a book in memory and one that is rebuilt come to the same by this one piece of code.

use crate::ledger::entry::Body;
use crate::store::columns::{Class, PlaceNumber, Sort, Ties, What};
use crate::store::dossier::Dossier;
use crate::store::flush::MovementRow;
use crate::store::tx::Tx;
use reports::day::Day;
use serde_json::Value;

impl Tx<'_> {
    /// Moves the masses of rows from place to place, and with them owners and condition of what was
    /// recovered; `class`: what the entry says of it.
    pub(in crate::store) fn move_masses(&mut self, rows: &[MovementRow], class: Class) {
        for row in rows {
            let Some(what) = What::unpack(row.what) else {
                continue;
            };
            let code = what.refrigerant;
            self.count_moved(row);
            if !what.kind.is_service() {
                self.change(row.src, code, -i128::from(row.mass));
                self.change(row.dst, code, i128::from(row.mass));
            }
            match row.dst.sort() == Sort::Cylinder {
                true if what.reversal => self.take_back(row),
                true => {
                    self.inherit_owners(row.src, row.dst, Day::from_count(row.day));
                    self.inherit_class(row, class);
                }
                false => {}
            }
            // What only changes its name stays whose it is.
            if row.src.sort() == Sort::Cylinder && row.dst != PlaceNumber::REDESIGNATION {
                self.forget_when_empty(row.src, row.seq);
            }
            if let Some(place) = row.appliance
                && let Some(history) = self.book.histories.get_mut(&place)
                && !crate::store::history::extend(history, row)
            {
                self.book.histories.remove(&place);
            }
        }
    }

    fn change(&mut self, place: PlaceNumber, code: u16, by: i128) {
        if let Some(subject) = self.book.subjects.get_mut(&place) {
            match subject
                .balances
                .iter_mut()
                .find(|(known, _)| *known == code)
            {
                Some((_, mass)) => *mass += by,
                None => subject.balances.push((code, by)),
            }
            self.book.pending.balances.insert((place, code));
        }
    }

    /// Counts the entry for each cylinder at its ends, once however many rows it has. One that was
    /// registered before there was a count is counted by a rebuild.
    fn count_moved(&mut self, row: &MovementRow) {
        for place in [row.src, row.dst] {
            if place.sort() == Sort::Cylinder
                && let Some(cylinder) = self.book.subjects.get_mut(&place)
                && cylinder.newest.is_some_and(|newest| newest != row.seq)
            {
                cylinder.newest = Some(row.seq);
                cylinder.moved += 1;
                self.book.pending.subjects.insert(place);
            }
        }
    }

    /// What a correction brings back comes as it left: in the condition and of the owners that the
    /// cylinder had when it was emptied since.
    fn take_back(&mut self, row: &MovementRow) {
        let ties = Ties::unpack(row.ties.as_deref());
        let reversed = ties.and_then(|ties| ties.reverses);
        if let Some(entry) = reversed
            && let Some(cylinder) = self.book.subjects.get_mut(&row.dst)
            && cylinder.take_back(entry)
        {
            self.book.pending.subjects.insert(row.dst);
        }
    }

    /// An empty cylinder holds nobody's refrigerant, in no condition.
    fn forget_when_empty(&mut self, cylinder: PlaceNumber, seq: u64) {
        let subject = self.book.subjects.get_mut(&cylinder);
        let Some(subject) = subject.filter(|subject| subject.total() <= 0) else {
            return;
        };
        if !subject.owners.is_empty() || subject.class != Class::NotStated {
            subject.remember(seq);
            subject.owners.clear();
            subject.class = Class::NotStated;
            self.book.pending.subjects.insert(cylinder);
        }
    }

    /// What goes in makes all of it as doubtful as the worst part. Where the whole content changes its
    /// name, somebody has found out what it is: then the class that is stated beside it counts alone.
    fn inherit_class(&mut self, row: &MovementRow, stated: Class) {
        let from = match (row.src.sort(), self.book.subjects.get(&row.src)) {
            (Sort::Cylinder, Some(cylinder)) => cylinder.class,
            _ => Class::NotStated,
        };
        let Some(cylinder) = self.book.subjects.get_mut(&row.dst) else {
            return;
        };
        let renamed = row.src == PlaceNumber::REDESIGNATION
            && cylinder.total() <= i128::from(row.mass)
            && stated != Class::NotStated;
        let class = match renamed {
            true => stated,
            false => cylinder.class.max(from).max(stated),
        };
        if class != cylinder.class {
            if class < cylinder.class {
                cylinder.remember(row.seq);
            }
            cylinder.class = class;
            self.book.pending.subjects.insert(row.dst);
        }
    }

    fn inherit_owners(&mut self, from: PlaceNumber, to: PlaceNumber, day: Day) {
        let owners = match (from.sort(), self.book.subjects.get(&from)) {
            (Sort::Appliance, Some(appliance)) => {
                appliance.brief.owner_on(day).into_iter().collect()
            }
            (Sort::Cylinder, Some(cylinder)) => cylinder.owners.clone(),
            _ => Vec::new(),
        };
        let Some(cylinder) = self.book.subjects.get_mut(&to) else {
            return;
        };
        for owner in owners {
            if !cylinder.owners.contains(&owner) {
                cylinder.owners.push(owner);
                self.book.pending.subjects.insert(to);
            }
        }
    }
}

/// The condition that was last stated of a cylinder's content by whoever keeps its register.
pub(super) fn class_said(dossier: &Dossier) -> Class {
    let word = dossier.newest("class").and_then(Value::as_str);
    word.and_then(Class::named).unwrap_or_default()
}

/// The condition an entry states of what it moves, or of what stands instead.
pub fn class_stated(body: &Body<'_>) -> Class {
    let replaced = body.replace.as_ref().map(|new| &new.body);
    let word = replaced.unwrap_or(body).class.as_deref();
    word.and_then(Class::named).unwrap_or_default()
}
