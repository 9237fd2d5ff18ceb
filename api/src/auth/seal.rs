//! The seal over the seeds of second factors: ChaCha20-Poly1305 (RFC 8439) with a key that follows
//! from the signing key of the book, which never lies in the database. Whoever copies the database
//! cannot make codes.

use crate::ledger::id::Id;
use crate::store::StoreError;
use ring::aead::{Aad, CHACHA20_POLY1305, LessSafeKey, NONCE_LEN, Nonce, UnboundKey};
use std::sync::Arc;

/// What the key is derived for.
pub const SEAL: &str = "tarebook/factor/v1";

type Find = dyn Fn(&str) -> Option<[u8; 32]> + Send + Sync;

/// Finds the key for a book by the name of its log.
#[derive(Clone)]
pub struct Seals(Arc<Find>);

impl Default for Seals {
    /// Without any key: nothing is sealed or opened.
    fn default() -> Seals {
        Seals::new(|_| None)
    }
}

impl std::fmt::Debug for Seals {
    /// Without a key (promise S5).
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Seals")
    }
}

impl Seals {
    /// Keys as this finds them.
    pub fn new(find: impl Fn(&str) -> Option<[u8; 32]> + Send + Sync + 'static) -> Seals {
        Seals(Arc::new(find))
    }

    fn key(&self, log: &str) -> Option<LessSafeKey> {
        let key = UnboundKey::new(&CHACHA20_POLY1305, &(self.0)(log)?).ok()?;
        Some(LessSafeKey::new(key))
    }

    /// Seals a seed for a person: nonce, text, tag. `None`: the key is not here.
    pub fn seal(&self, log: &str, person: Id, seed: &[u8]) -> Result<Option<Vec<u8>>, StoreError> {
        let Some(key) = self.key(log) else {
            return Ok(None);
        };
        // Random nonces of 96 bits: a book seals a few thousand seeds in its life.
        let nonce = super::secret::random::<NONCE_LEN>()?;
        let mut text = seed.to_vec();
        let (once, about) = (Nonce::assume_unique_for_key(nonce), about(log, person));
        let sealed = key.seal_in_place_append_tag(once, Aad::from(about), &mut text);
        let failed = |_| StoreError::Unsafe("a seed cannot be sealed".to_string());
        sealed.map_err(failed)?;
        Ok(Some([&nonce[..], &text].concat()))
    }

    /// The seed again; `None`: the key is not here, or this is not what it sealed for that person.
    pub fn open(&self, log: &str, person: Id, sealed: &[u8]) -> Option<Vec<u8>> {
        let (nonce, text) = sealed.split_first_chunk::<NONCE_LEN>()?;
        let (mut text, about) = (text.to_vec(), about(log, person));
        let once = Nonce::assume_unique_for_key(*nonce);
        let opened = self.key(log)?;
        let opened = opened.open_in_place(once, Aad::from(about), &mut text);
        opened.ok().map(|seed| seed.to_vec())
    }
}

/// What a seal holds for: a row copied to another person opens nothing.
fn about(log: &str, person: Id) -> Vec<u8> {
    format!("{SEAL}\n{log}\n{person}").into_bytes()
}

#[cfg(test)]
mod tests {
    use super::*;

    const LOG: &str = "tarebook/7f3c";

    #[test]
    fn a_seal_opens_for_its_person_its_book_and_its_key_only() {
        let seals = Seals::new(|_| Some([7; 32]));
        let (ines, osric) = (Id::from_bits(1), Id::from_bits(2));
        let sealed = seals.seal(LOG, ines, b"twenty bytes of seed").unwrap();
        let mut sealed = sealed.unwrap();
        let other = seals.seal(LOG, ines, b"twenty bytes of seed").unwrap();
        assert_ne!(Some(&sealed), other.as_ref(), "each has its own nonce");
        let seed = Some(b"twenty bytes of seed".to_vec());
        assert_eq!(seals.open(LOG, ines, &sealed), seed);
        assert_eq!(seals.open(LOG, osric, &sealed), None);
        assert_eq!(seals.open("tarebook/other", ines, &sealed), None);
        assert_eq!(Seals::new(|_| Some([8; 32])).open(LOG, ines, &sealed), None);
        assert_eq!(Seals::default().open(LOG, ines, &sealed), None);
        assert_eq!(Seals::default().seal(LOG, ines, b"seed").unwrap(), None);
        let last = sealed.len() - 1;
        sealed[last] ^= 1;
        assert_eq!(seals.open(LOG, ines, &sealed), None, "a bit was turned");
        assert_eq!(seals.open(LOG, ines, b"short"), None);
        let plain = sealed.windows(5).any(|it| it == b"bytes");
        assert!(!plain, "the seed lies in clear");
        assert_eq!(format!("{seals:?}"), "Seals");
    }
}
