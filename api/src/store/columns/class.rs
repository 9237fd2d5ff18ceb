//! The condition of what a cylinder holds, from the mildest to the strictest, as it is stored.
//!
//! It travels with the content: what goes into a cylinder makes all of it as doubtful as the worst part,
//! until the cylinder is empty or somebody who may says the class anew.

/// Condition of a content; the numbers are stored and never change.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
#[allow(missing_docs)]
pub enum Class {
    #[default]
    NotStated = 0,
    Clean = 1,
    Suspect = 2,
    Unknown = 3,
    BurnOut = 4,
    Mixed = 5,
}

impl Class {
    const WORDS: [(Class, &'static str); 5] = [
        (Class::Clean, "clean"),
        (Class::Suspect, "suspect"),
        (Class::Unknown, "unknown"),
        (Class::BurnOut, "burn_out"),
        (Class::Mixed, "mixed"),
    ];

    /// The class with this word.
    pub fn named(word: &str) -> Option<Class> {
        let found = Class::WORDS.iter().find(|(_, known)| *known == word);
        found.map(|(class, _)| *class)
    }

    /// Its word; none where nothing was stated.
    pub fn word(self) -> Option<&'static str> {
        let found = Class::WORDS.iter().find(|(class, _)| *class == self);
        found.map(|(_, word)| *word)
    }

    /// The class that is stored under a number.
    pub fn stored(number: i64) -> Class {
        let found = Class::WORDS
            .iter()
            .find(|(class, _)| *class as i64 == number);
        found.map_or(Class::NotStated, |(class, _)| *class)
    }

    /// May it go back into an appliance without a question?
    pub fn is_fit(self) -> bool {
        self <= Class::Clean
    }

    /// The stricter of it and what its designations alone say: more than one, `mixture`, `unknown`.
    pub fn with_content(self, names: &[&str]) -> Class {
        let by_name = match names {
            [] | [_] if names.contains(&"mixture") => Class::Mixed,
            [] | [_] if names.contains(&"unknown") => Class::Unknown,
            [] | [_] => Class::NotStated,
            _ => Class::Mixed,
        };
        self.max(by_name)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn classes_are_ordered_stored_and_read_back() {
        for (class, word) in Class::WORDS {
            assert_eq!(Class::stored(class as i64), class);
            assert_eq!(Class::named(word), Some(class));
            assert_eq!(class.word(), Some(word));
        }
        assert!(Class::WORDS.is_sorted_by_key(|(class, _)| *class));
        assert_eq!(Class::NotStated.word(), None);
        assert_eq!(Class::stored(99), Class::NotStated);
    }

    #[test]
    fn the_content_makes_it_stricter_and_never_milder() {
        let of = |class: Class, names: &[&str]| class.with_content(names);
        assert_eq!(of(Class::Clean, &["R-410A"]), Class::Clean);
        assert_eq!(of(Class::Clean, &["R-410A", "R-22"]), Class::Mixed);
        assert_eq!(of(Class::Suspect, &["unknown"]), Class::Unknown);
        assert_eq!(of(Class::BurnOut, &["unknown"]), Class::BurnOut);
        assert_eq!(of(Class::NotStated, &["mixture"]), Class::Mixed);
        assert_eq!(of(Class::NotStated, &[]), Class::NotStated);
    }
}
