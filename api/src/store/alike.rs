//! Tags that look alike, letter by letter: the skeletons of Unicode Technical Standard 39, section 4, for
//! each sort of registered thing, read once a book and kept up with what is registered since.
//!
//! Capitals do not tell tags apart either: nobody says them, and the phone finds a tag without them.

use super::StoreError;
use super::columns::{PlaceNumber, Sort};
use super::sql;
use super::statement::Bind;
use super::tx::Tx;
use std::collections::HashMap;

/// Tags of one sort by what they look like.
pub type Alike = HashMap<String, Vec<(PlaceNumber, String)>>;

/// What a tag looks like.
fn look(tag: &str) -> String {
    let skeleton: String = unicode_security::skeleton(tag).collect();
    skeleton.to_lowercase()
}

fn put(alike: &mut Alike, place: PlaceNumber, tag: &str) {
    let tags = alike.entry(look(tag)).or_default();
    if !tags.iter().any(|(known, _)| *known == place) {
        tags.push((place, tag.to_string()));
    }
}

impl Tx<'_> {
    /// A tag of another thing of this sort that looks like `tag`.
    pub fn looks_like(
        &mut self,
        sort: Sort,
        own: Option<PlaceNumber>,
        tag: &str,
    ) -> Result<Option<String>, StoreError> {
        if !self.book.alike.contains_key(&sort) {
            let mut alike = Alike::new();
            let binds = [Bind::Int(self.book.org), Bind::Int(sort as i64)];
            let rows: Vec<(i64, String)> = self.db.rows(sql::TagsOfSort, &binds)?;
            for (place, tag) in rows {
                // What this batch changed is known better in memory.
                let place = PlaceNumber(place);
                if !self.book.pending.registers.contains_key(&place) {
                    put(&mut alike, place, &tag);
                }
            }
            let known = self.book.by_tag.iter();
            for ((_, tag), place) in known.filter(|((of, _), _)| *of == sort) {
                put(&mut alike, *place, tag);
            }
            self.book.alike.insert(sort, alike);
        }
        let tags = self
            .book
            .alike
            .get(&sort)
            .and_then(|all| all.get(&look(tag)));
        let other = tags
            .into_iter()
            .flatten()
            .find(|(place, _)| Some(*place) != own);
        Ok(other.map(|(_, tag)| tag.clone()))
    }

    /// A thing has another tag from now on, or the same.
    pub(super) fn tagged(&mut self, place: PlaceNumber, old: Option<String>, new: Option<String>) {
        if old == new {
            return;
        }
        let sort = place.sort();
        if let Some(alike) = self.book.alike.get_mut(&sort) {
            if let Some(tags) = old.as_deref().and_then(|old| alike.get_mut(&look(old))) {
                tags.retain(|(known, _)| *known != place);
            }
            if let Some(new) = &new {
                put(alike, place, new);
            }
        }
        old.and_then(|old| self.book.by_tag.remove(&(sort, old)));
        new.and_then(|new| self.book.by_tag.insert((sort, new), place));
    }
}
