//! Passwords: Argon2id, 19 MiB, two passes, one lane (OWASP Password Storage Cheat Sheet), as a PHC
//! string with its own salt. Normalised NFC before hashing, and nothing else is changed.

use argon2::password_hash::PasswordHasher;
use argon2::password_hash::phc::{Output, PasswordHash};
use argon2::{Algorithm, Argon2, Block, Params, Version};
use base64::Engine;
use base64::engine::general_purpose::STANDARD_NO_PAD;
use std::cell::RefCell;
use unicode_normalization::UnicodeNormalization;

/// Shortest password where it is the only factor (NIST SP 800-63B-4, as reported).
pub const SHORTEST: usize = 15;
/// Longest that is hashed.
const LONGEST: usize = 256;

/// What a hash costs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Hashing {
    /// Memory in KiB.
    pub memory: u32,
    /// Passes.
    pub passes: u32,
    /// Lanes.
    pub lanes: u32,
}

impl Default for Hashing {
    fn default() -> Hashing {
        Hashing {
            memory: 19_456,
            passes: 2,
            lanes: 1,
        }
    }
}

impl Hashing {
    fn argon2(self) -> Result<Argon2<'static>, String> {
        let params = Params::new(self.memory, self.passes, self.lanes, None)
            .map_err(|error| format!("the parameters of the password hash are wrong: {error}"))?;
        Ok(Argon2::new(Algorithm::Argon2id, Version::V0x13, params))
    }

    /// The PHC string of a password that was looked at before. Takes tens of milliseconds of one
    /// core: never on a request worker, never while a connection is held.
    pub fn hash(self, password: &str) -> Result<String, String> {
        let failed = |error| format!("the password cannot be hashed: {error}");
        let password = normalised(password);
        let hash = self.argon2()?.hash_password(password.as_bytes());
        Ok(hash.map_err(failed)?.to_string())
    }

    /// A PHC string that no password fits, with these parameters: a name that nobody has costs as
    /// much as one that somebody has (promise A6).
    pub fn dummy(self) -> String {
        let (salt, tag) = ([0_u8; 16], [0_u8; 32]);
        format!(
            "$argon2id$v=19$m={},t={},p={}${}${}",
            self.memory,
            self.passes,
            self.lanes,
            STANDARD_NO_PAD.encode(salt),
            STANDARD_NO_PAD.encode(tag)
        )
    }

    /// Was this PHC string made more cheaply than today's are?
    pub fn is_dearer_than(self, phc: &str) -> bool {
        let Ok(hash) = PasswordHash::new(phc) else {
            return true;
        };
        let Ok(params) = Params::try_from(&hash) else {
            return true;
        };
        (params.m_cost(), params.t_cost()) != (self.memory, self.passes)
            && params.m_cost() <= self.memory
            && params.t_cost() <= self.passes
    }
}

/// What a PHC string cost to make, in words.
pub fn cost(phc: &str) -> String {
    let Ok(hash) = PasswordHash::new(phc) else {
        return "none".to_string();
    };
    Params::try_from(&hash).map_or("none".to_string(), |params| {
        let (m, t, p) = (params.m_cost(), params.t_cost(), params.p_cost());
        format!("{} m={m} t={t} p={p}", hash.algorithm)
    })
}

/// The form of a password that is hashed.
fn normalised(password: &str) -> String {
    password.nfc().collect()
}

/// Does a password fit a PHC string? Costs what the string's own parameters say.
pub fn fits(password: &str, phc: &str) -> bool {
    let password = normalised(password);
    // The work is done in any case, so that its time says nothing.
    let too_long = password.chars().count() > LONGEST;
    let password = if too_long { "" } else { &password[..] };
    let hash = PasswordHash::new(phc);
    let right = hash.is_ok_and(|hash| is_right(password.as_bytes(), &hash) == Some(true));
    right && !too_long
}

thread_local! {
    /// What hashes are worked out in. The allocator would keep as much for every hash anew.
    static MEMORY: RefCell<Vec<Block>> = const { RefCell::new(Vec::new()) };
}

/// Verifies as the library does, in memory that the thread keeps from one hash to the next.
fn is_right(password: &[u8], hash: &PasswordHash) -> Option<bool> {
    let (salt, expected) = (hash.salt.as_ref()?, hash.hash.as_ref()?);
    let algorithm = Algorithm::try_from(hash.algorithm.as_str()).ok()?;
    let version = Version::try_from(hash.version?).ok()?;
    let params = Params::try_from(hash).ok()?;
    let blocks = params.block_count();
    let argon2 = Argon2::new(algorithm, version, params);
    let mut worked_out = vec![0; expected.len()];
    MEMORY
        .with_borrow_mut(|memory| {
            memory.resize(blocks, Block::default());
            argon2.hash_password_into_with_memory(password, salt, &mut worked_out, &mut memory[..])
        })
        .ok()?;
    // Outputs are compared in a time that says nothing of where they differ.
    Some(Output::new(&worked_out).ok()? == *expected)
}

/// Why a password is none, if it is none; `about`: the organisation's name and the person's
/// address, which whoever guesses knows, too.
pub fn refuse(password: &str, about: &[&str]) -> Option<String> {
    let password = normalised(password);
    let length = password.chars().count();
    if !(SHORTEST..=LONGEST).contains(&length) {
        return Some(format!(
            "expected a password of {SHORTEST} to {LONGEST} characters, came one of {length}. A \
             sentence that only you would write is a good one."
        ));
    }
    let bare = folded(&password);
    let names = about
        .iter()
        .map(|name| folded(name.split('@').next().unwrap_or(name)));
    let mut names = names.chain(["tarebook".to_string()]);
    if names.any(|name| name.chars().count() > 2 && bare.contains(&name)) {
        return Some(
            "expected a password without the name of the organisation, of the person or of this \
             program, came one with it. It is the first thing to be tried; choose another."
                .to_string(),
        );
    }
    (own_part(&bare) < OWN_PART).then(|| {
        "expected a password that is not among the first to be tried, came one of common words, \
         rows of keys or repetitions. A sentence that only you would write is a good one."
            .to_string()
    })
}

/// So many characters must be left when everything that is tried first is taken away.
const OWN_PART: usize = 8;

/// Words that most lists of leaked passwords begin with (from memory; no list is copied). With 15
/// characters at least, what is common are these, joined, repeated and followed by digits.
const COMMON: &[&str] = &[
    "password",
    "passwort",
    "passw0rd",
    "p4ssword",
    "pass",
    "letmein",
    "welcome",
    "iloveyou",
    "administrator",
    "admin",
    "secret",
    "changeme",
    "default",
    "monkey",
    "dragon",
    "sunshine",
    "princess",
    "football",
    "baseball",
    "superman",
    "batman",
    "master",
    "shadow",
    "trustno",
    "whatever",
    "starwars",
    "computer",
    "internet",
    "login",
    "access",
    "hello",
    "summer",
    "winter",
    "spring",
    "autumn",
    "correcthorsebatterystaple",
    "refrigerant",
    "cooling",
];

/// Rows of keys and series; any four neighbours of them, in either direction, count as common.
const ROWS: &[&str] = &[
    "abcdefghijklmnopqrstuvwxyz",
    "01234567890",
    "qwertyuiop",
    "qwertzuiop",
    "azertyuiop",
    "asdfghjkl",
    "zxcvbnm",
    "yxcvbnm",
    "1qaz2wsx3edc4rfv5tgb",
];

/// Lower case, letters and digits only.
fn folded(text: &str) -> String {
    let lower = text.chars().flat_map(char::to_lowercase);
    lower.filter(|c| c.is_alphanumeric()).collect()
}

/// How many characters of a folded password are no common word, row of keys or repetition.
fn own_part(bare: &str) -> usize {
    let mut rest = bare.to_string();
    for word in COMMON {
        rest = rest.replace(word, "\0");
    }
    let text: Vec<char> = rest.chars().collect();
    let mut common = vec![false; text.len()];
    for (at, four) in text.windows(4).enumerate() {
        let run: String = four.iter().collect();
        let back: String = four.iter().rev().collect();
        let row = ROWS
            .iter()
            .any(|row| row.contains(&run) || row.contains(&back));
        if row {
            common[at..at + 4].fill(true);
        }
    }
    // What repeats the one to eight characters before it adds nothing.
    for at in 0..text.len() {
        let repeats = |unit: usize| {
            unit <= at
                && text[at - unit..]
                    .iter()
                    .zip(&text[at..])
                    .take(unit.max(3))
                    .all(|(a, b)| a == b)
                && at + unit.max(3) <= text.len()
        };
        if let Some(unit) = (1..=8).find(|unit| repeats(*unit)) {
            common[at..at + unit.max(3)].fill(true);
        }
    }
    let kept = text
        .iter()
        .zip(common)
        .filter(|(c, common)| **c != '\0' && !common);
    let kept: Vec<char> = kept.map(|(c, _)| *c).collect();
    let different: std::collections::BTreeSet<&char> = kept.iter().collect();
    // Many characters of few kinds are few.
    kept.len().min(different.len() * 2)
}

/// The PHC string of a password, or why it is none.
pub fn hash(password: &str, about: &[&str]) -> Result<String, String> {
    match refuse(password, about) {
        Some(why) => Err(why),
        None => Hashing::default().hash(password),
    }
}

#[cfg(test)]
mod tests;
