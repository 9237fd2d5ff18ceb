//! Passwords: Argon2id, 19 MiB, two passes, one lane (OWASP Password Storage Cheat Sheet), as a PHC
//! string with its own salt. Normalised NFC before hashing, and nothing else is changed.

use argon2::Argon2;
use argon2::password_hash::PasswordHasher;
use unicode_normalization::UnicodeNormalization;

/// Shortest password where it is the only factor (NIST SP 800-63B-4, as reported).
const SHORTEST: usize = 15;
/// Longest that is hashed.
const LONGEST: usize = 256;

/// The PHC string of a password, or why it is none.
pub fn hash(password: &str) -> Result<String, String> {
    let password: String = password.nfc().collect();
    let length = password.chars().count();
    if !(SHORTEST..=LONGEST).contains(&length) {
        return Err(format!(
            "expected a password of {SHORTEST} to {LONGEST} characters, came one of {length}. A \
             sentence that only you would write is a good one."
        ));
    }
    let hash = Argon2::default()
        .hash_password(password.as_bytes())
        .map_err(|error| format!("the password cannot be hashed: {error}"))?;
    Ok(hash.to_string())
}
