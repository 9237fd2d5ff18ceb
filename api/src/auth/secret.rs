//! Secrets of sessions, tokens and known devices: 256 random bits, of which only the SHA-256 is
//! kept. They are random through and through, so a fast hash is enough.

use crate::ledger::tree::sha256;
use crate::store::StoreError;
use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;

/// Length of the text of a secret: 256 bits, six a character.
pub const LENGTH: usize = 43;

/// A new secret, as text that fits a cookie and a header.
pub fn fresh() -> Result<String, StoreError> {
    Ok(URL_SAFE_NO_PAD.encode(random::<32>()?))
}

/// Random bytes.
pub fn random<const N: usize>() -> Result<[u8; N], StoreError> {
    let mut bytes = [0; N];
    let failed = |error| StoreError::Unsafe(format!("the system gives no random numbers: {error}"));
    getrandom::fill(&mut bytes).map_err(failed)?;
    Ok(bytes)
}

/// Does a text look like a secret of ours? What does not is not even hashed.
pub fn looks_right(text: &str) -> bool {
    let fits = |b: u8| b.is_ascii_alphanumeric() || b == b'-' || b == b'_';
    text.len() == LENGTH && text.bytes().all(fits)
}

/// What is kept of a secret.
pub fn hashed(text: &str) -> [u8; 32] {
    sha256(text.as_bytes())
}
