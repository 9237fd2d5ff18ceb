//! Passwords: Argon2id, 19 MiB, two passes, one lane (OWASP Password Storage Cheat Sheet), as a PHC
//! string with its own salt. Normalised NFC before hashing, and nothing else is changed.

use argon2::password_hash::phc::PasswordHash;
use argon2::password_hash::{PasswordHasher, PasswordVerifier};
use argon2::{Algorithm, Argon2, Params, Version};
use base64::Engine;
use base64::engine::general_purpose::STANDARD_NO_PAD;
use unicode_normalization::UnicodeNormalization;

/// Shortest password where it is the only factor (NIST SP 800-63B-4, as reported).
const SHORTEST: usize = 15;
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
    let right = hash.is_ok_and(|hash| {
        let argon2 = Argon2::default();
        argon2.verify_password(password.as_bytes(), &hash).is_ok()
    });
    right && !too_long
}

/// The PHC string of a password, or why it is none.
pub fn hash(password: &str) -> Result<String, String> {
    let password = normalised(password);
    let length = password.chars().count();
    if !(SHORTEST..=LONGEST).contains(&length) {
        return Err(format!(
            "expected a password of {SHORTEST} to {LONGEST} characters, came one of {length}. A \
             sentence that only you would write is a good one."
        ));
    }
    Hashing::default().hash(&password)
}
