//! The name that a person meant, by its spelling.

/// The name that is spelt most like `word`, if one is spelt alike at all.
pub fn nearest<'a>(word: &str, names: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    let word = word.to_lowercase();
    let far = |name: &&str| strsim::damerau_levenshtein(&word, &name.to_lowercase());
    names
        .map(|name| (far(&name), name))
        .min_by_key(|(far, _)| *far)
        .filter(|(far, _)| far * 2 <= word.len().max(3))
        .map(|(_, name)| name)
}
