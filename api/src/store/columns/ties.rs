//! The packed rest of a row: visit, leak event, reversed entry, and the words of a service event.

use crate::ledger::id::Id;
use std::collections::BTreeMap;

/// What binds a movement or a service event to others, and what the event says.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Ties {
    /// The visit.
    pub visit: Option<Id>,
    /// The leak event.
    pub leak: Option<Id>,
    /// The entry whose movements this row takes back.
    pub reverses: Option<u64>,
    /// Words of a service event: `name=word`, sorted, with `;` between.
    pub words: Option<String>,
}

impl Ties {
    /// The stored bytes; nothing where nothing is tied.
    pub fn pack(&self) -> Option<Vec<u8>> {
        if *self == Ties::default() {
            return None;
        }
        let has = |yes: bool, bit: u8| if yes { bit } else { 0 };
        let mut bytes = vec![
            has(self.visit.is_some(), 1)
                | has(self.leak.is_some(), 2)
                | has(self.reverses.is_some(), 4)
                | has(self.words.is_some(), 8),
        ];
        bytes.extend(self.visit.iter().flat_map(|id| id.bytes()));
        bytes.extend(self.leak.iter().flat_map(|id| id.bytes()));
        bytes.extend(self.reverses.iter().flat_map(|seq| seq.to_be_bytes()));
        bytes.extend(self.words.iter().flat_map(|words| words.bytes()));
        Some(bytes)
    }

    /// What the stored bytes say.
    pub fn unpack(bytes: Option<&[u8]>) -> Option<Ties> {
        let Some(bytes) = bytes else {
            return Some(Ties::default());
        };
        let (flags, mut rest) = bytes.split_first()?;
        let mut id = |bit: u8| -> Option<Option<Id>> {
            if flags & bit == 0 {
                return Some(None);
            }
            let (head, tail) = rest.split_at_checked(16)?;
            rest = tail;
            Some(Id::from_bytes(head))
        };
        let (visit, leak) = (id(1)?, id(2)?);
        let reverses = match flags & 4 {
            0 => None,
            _ => {
                let (head, tail) = rest.split_at_checked(8)?;
                rest = tail;
                Some(u64::from_be_bytes(head.try_into().ok()?))
            }
        };
        let words = match flags & 8 {
            0 if rest.is_empty() => None,
            0 => return None,
            _ => Some(String::from_utf8(rest.to_vec()).ok()?),
        };
        Some(Ties {
            visit,
            leak,
            reverses,
            words,
        })
    }
}

/// Words of a service event as they are stored.
pub fn words_text<'w>(words: impl IntoIterator<Item = (&'w str, &'w str)>) -> Option<String> {
    let pairs: Vec<String> = (words.into_iter())
        .map(|(name, word)| format!("{name}={word}"))
        .collect();
    (!pairs.is_empty()).then(|| pairs.join(";"))
}

/// The words a stored text says.
pub fn words_of(text: &str) -> BTreeMap<String, String> {
    let pairs = text.split(';').filter_map(|pair| pair.split_once('='));
    pairs
        .map(|(name, word)| (name.to_string(), word.to_string()))
        .collect()
}
