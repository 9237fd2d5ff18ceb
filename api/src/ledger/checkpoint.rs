//! Checkpoints: signed statements "so many entries, this root".
//!
//! A [`Checkpoint`] is three lines (C2SP tlog-checkpoint); signed, it is a [`Note`] (C2SP
//! signed-note, the format of the Go checksum database). Keys are Ed25519. A verification key is
//! published as *vkey*, `name+id+base64`; a signing key is kept as one line
//! `PRIVATE+KEY+name+id+base64`, where the base64 holds the algorithm byte 0x01 and the 32-byte seed
//! (both forms are those of Go's `sumdb/note`). The origin of a book is also the name of its keys.

use super::tree::Hash;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use ed25519_dalek::Signer;
use sha2::{Digest, Sha256};
use std::fmt;

/// The signature type of plain Ed25519 (C2SP signed-note, "Signature types").
const ED25519: u8 = 0x01;
/// More signature lines than this are not read; the specification asks for at least 16.
const MOST_SIGNATURES: usize = 100;
/// Longer notes are not read.
const LONGEST_NOTE: usize = 1 << 20;

/// "So many entries, this root", of the book with this origin.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Checkpoint {
    /// The book: `tarebook/UUID`.
    pub origin: String,
    /// How many entries; it covers no. 0 to `size - 1`.
    pub size: u64,
    /// The root of their tree.
    pub root: Hash,
}

impl Checkpoint {
    /// The text that is signed.
    pub fn text(&self) -> String {
        format!(
            "{}\n{}\n{}\n",
            self.origin,
            self.size,
            STANDARD.encode(self.root)
        )
    }

    /// Reads a signed text. Extension lines, which we never write, are allowed and carry no meaning.
    pub fn from_text(text: &str) -> Result<Checkpoint, NoteError> {
        let bad = |what: &str| NoteError::Malformed(what.to_string());
        let lines: Vec<&str> = text
            .strip_suffix('\n')
            .ok_or_else(|| bad("no line end"))?
            .split('\n')
            .collect();
        let [origin, size, root, ..] = lines.as_slice() else {
            return Err(bad("a checkpoint has three lines: origin, size, root"));
        };
        if lines.iter().any(|line| line.is_empty()) {
            return Err(bad("a line of the checkpoint is empty"));
        }
        let number: u64 = size.parse().map_err(|_| bad("the size is not a number"))?;
        if number.to_string() != *size {
            return Err(bad("the size has a sign or leading zeros"));
        }
        let root = STANDARD
            .decode(root)
            .map_err(|_| bad("the root is not base64"))?;
        let root = root
            .try_into()
            .map_err(|_| bad("the root has not 32 bytes"))?;
        Ok(Checkpoint {
            origin: origin.to_string(),
            size: number,
            root,
        })
    }

    /// The note with the signatures of these keys.
    pub fn signed_by(&self, keys: &[&SigningKey]) -> Note {
        let mut note = Note {
            text: self.text(),
            signatures: Vec::new(),
        };
        for key in keys {
            note.sign(key);
        }
        note
    }
}

/// A text with signatures under it. The text means nothing until [`Note::verify`] has said so.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Note {
    /// What is signed, its last line end included.
    pub text: String,
    /// One for each signature line, in their order.
    pub signatures: Vec<Signature>,
}

/// One signature line: who claims to have signed, and the signature.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Signature {
    /// The name of the key.
    pub name: String,
    /// The id of the key.
    pub key_id: [u8; 4],
    /// What the key made of the text.
    pub bytes: Vec<u8>,
}

impl Note {
    /// Reads a note; nothing is verified yet.
    pub fn parse(note: &str) -> Result<Note, NoteError> {
        let bad = |what: &str| NoteError::Malformed(what.to_string());
        if note.len() > LONGEST_NOTE {
            return Err(bad("the note is longer than 1 MiB"));
        }
        if note.bytes().any(|b| b < 0x20 && b != b'\n') {
            return Err(bad("the note holds a control character"));
        }
        let split = note
            .rfind("\n\n")
            .ok_or_else(|| bad("no empty line before signatures"))?;
        let (text, lines) = (&note[..=split], &note[split + 2..]);
        let lines = lines
            .strip_suffix('\n')
            .ok_or_else(|| bad("no line end after signatures"))?;
        let signatures: Vec<Signature> = lines
            .split('\n')
            .map(Signature::parse)
            .collect::<Option<_>>()
            .ok_or_else(|| {
                bad("a signature line is not an em dash, a key name and base64, one blank between")
            })?;
        if signatures.len() > MOST_SIGNATURES {
            return Err(bad("the note has more than 100 signatures"));
        }
        Ok(Note {
            text: text.to_string(),
            signatures,
        })
    }

    /// Adds the signature of this key.
    pub fn sign(&mut self, key: &SigningKey) {
        self.signatures.push(Signature {
            name: key.name.clone(),
            key_id: key.verification_key().id(),
            bytes: key.key.sign(self.text.as_bytes()).to_bytes().to_vec(),
        });
    }

    /// Which of the known keys signed the text. Lines of other keys are skipped; a line of a known
    /// key that does not verify makes the whole note bad, and so does none at all.
    pub fn verify<'k>(
        &self,
        known: &'k [VerificationKey],
    ) -> Result<Vec<&'k VerificationKey>, NoteError> {
        let mut signed_by: Vec<&VerificationKey> = Vec::new();
        for signature in &self.signatures {
            let is_its =
                |k: &&VerificationKey| k.name == signature.name && k.id() == signature.key_id;
            let Some(key) = known.iter().find(is_its) else {
                continue;
            };
            if !key.verifies(self.text.as_bytes(), &signature.bytes) {
                return Err(NoteError::BadSignature {
                    key: key.to_string(),
                });
            }
            if !signed_by.contains(&key) {
                signed_by.push(key);
            }
        }
        if signed_by.is_empty() {
            Err(NoteError::NoKnownSignature)
        } else {
            Ok(signed_by)
        }
    }
}

impl fmt::Display for Note {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "{}", self.text)?;
        for signature in &self.signatures {
            let bytes = [signature.key_id.as_slice(), &signature.bytes].concat();
            writeln!(f, "\u{2014} {} {}", signature.name, STANDARD.encode(bytes))?;
        }
        Ok(())
    }
}

impl Signature {
    fn parse(line: &str) -> Option<Signature> {
        let (name, base64) = line.strip_prefix("\u{2014} ")?.split_once(' ')?;
        let bytes = STANDARD.decode(base64).ok()?;
        let (key_id, bytes) = bytes.split_first_chunk::<4>()?;
        let fits = is_key_name(name) && !bytes.is_empty();
        fits.then(|| Signature {
            name: name.to_string(),
            key_id: *key_id,
            bytes: bytes.to_vec(),
        })
    }
}

/// A public key under its name, read from and written as a vkey.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct VerificationKey {
    name: String,
    key: ed25519_dalek::VerifyingKey,
}

impl VerificationKey {
    /// Reads `name+id+base64`.
    pub fn parse(vkey: &str) -> Result<VerificationKey, NoteError> {
        let bad = |what: &str| NoteError::Malformed(format!("the verification key {what}"));
        let (name, id, bytes) = key_parts(vkey).ok_or_else(|| bad("is not name+id+base64"))?;
        let key = ed25519_dalek::VerifyingKey::from_bytes(&bytes)
            .map_err(|_| bad("is no point of the curve"))?;
        let key = VerificationKey { name, key };
        if key.id() == id {
            Ok(key)
        } else {
            Err(bad("does not match its id"))
        }
    }

    /// The name, for our keys the origin of the book.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The first four bytes of SHA-256 over name, line feed, 0x01 and the public key.
    pub fn id(&self) -> [u8; 4] {
        let hash = Sha256::new_with_prefix(&self.name)
            .chain_update([b'\n', ED25519])
            .chain_update(self.key.as_bytes())
            .finalize();
        [hash[0], hash[1], hash[2], hash[3]]
    }

    fn verifies(&self, text: &[u8], signature: &[u8]) -> bool {
        ed25519_dalek::Signature::from_slice(signature)
            .is_ok_and(|signature| self.key.verify_strict(text, &signature).is_ok())
    }
}

impl fmt::Display for VerificationKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&key_text(&self.name, self.id(), self.key.as_bytes()))
    }
}

/// A private key under its name. Its `Debug` form shows the name alone.
#[derive(Clone)]
pub struct SigningKey {
    name: String,
    key: ed25519_dalek::SigningKey,
}

impl SigningKey {
    /// A new key, from the operating system's randomness.
    pub fn generate(name: &str) -> Result<SigningKey, NoteError> {
        let mut seed = [0; 32];
        getrandom::fill(&mut seed)
            .map_err(|e| NoteError::Malformed(format!("no randomness for a new key: {e}")))?;
        SigningKey::from_seed(name, &seed)
    }

    /// The key with this secret seed.
    pub fn from_seed(name: &str, seed: &[u8; 32]) -> Result<SigningKey, NoteError> {
        if !is_key_name(name) {
            return Err(NoteError::Malformed(
                "a key name has no blank and no plus".to_string(),
            ));
        }
        let key = ed25519_dalek::SigningKey::from_bytes(seed);
        Ok(SigningKey {
            name: name.to_string(),
            key,
        })
    }

    /// Reads the one line of a key file, its line end allowed. Errors never show the key.
    pub fn parse(line: &str) -> Result<SigningKey, NoteError> {
        let bad = |what: &str| NoteError::Malformed(format!("the private key {what}"));
        let line = line.strip_suffix('\n').unwrap_or(line);
        let parts = line.strip_prefix("PRIVATE+KEY+").and_then(key_parts);
        let (name, id, seed) = parts.ok_or_else(|| bad("is not PRIVATE+KEY+name+id+base64"))?;
        let key = SigningKey::from_seed(&name, &seed)?;
        if key.verification_key().id() == id {
            Ok(key)
        } else {
            Err(bad("does not match its id"))
        }
    }

    /// The line to keep in a file that only the service may read.
    pub fn private_text(&self) -> String {
        let id = self.verification_key().id();
        format!(
            "PRIVATE+KEY+{}",
            key_text(&self.name, id, self.key.as_bytes())
        )
    }

    /// A secret for another purpose that follows from this key and says nothing of it (HKDF with
    /// SHA-256, RFC 5869). The label names the purpose.
    pub fn derived(&self, label: &str) -> Option<[u8; 32]> {
        use ring::hkdf::{HKDF_SHA256, Salt};
        let secret = Salt::new(HKDF_SHA256, &[]).extract(self.key.as_bytes());
        let mut bytes = [0; 32];
        let labels = [label.as_bytes()];
        let expanded = secret.expand(&labels, HKDF_SHA256).ok()?;
        expanded.fill(&mut bytes).ok().map(|()| bytes)
    }

    /// The public half.
    pub fn verification_key(&self) -> VerificationKey {
        VerificationKey {
            name: self.name.clone(),
            key: self.key.verifying_key(),
        }
    }
}

impl fmt::Debug for SigningKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("SigningKey")
            .field("name", &self.name)
            .finish_non_exhaustive()
    }
}

/// Why a key, a note or a checkpoint is not accepted.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NoteError {
    /// It is not spelt as the specification spells it.
    Malformed(String),
    /// A key we know is named, but its signature does not fit the text.
    BadSignature {
        /// The vkey.
        key: String,
    },
    /// No key we know signed it.
    NoKnownSignature,
}

impl fmt::Display for NoteError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            NoteError::Malformed(what) => f.write_str(what),
            NoteError::BadSignature { key } => {
                write!(
                    f,
                    "the signature in the name of {key} does not fit the text"
                )
            }
            NoteError::NoKnownSignature => f.write_str("no known key has signed it"),
        }
    }
}

impl std::error::Error for NoteError {}

/// Key names hold no Unicode space and no plus, and are not empty.
fn is_key_name(name: &str) -> bool {
    !name.is_empty() && !name.contains(|c: char| c.is_whitespace() || c.is_control() || c == '+')
}

fn key_text(name: &str, id: [u8; 4], bytes: &[u8; 32]) -> String {
    let data = [&[ED25519], bytes.as_slice()].concat();
    format!(
        "{name}+{:08x}+{}",
        u32::from_be_bytes(id),
        STANDARD.encode(data)
    )
}

/// Name, id and 32 bytes of `name+id+base64`; the base64 may itself hold a plus.
fn key_parts(text: &str) -> Option<(String, [u8; 4], [u8; 32])> {
    let mut parts = text.splitn(3, '+');
    let (name, id, data) = (parts.next()?, parts.next()?, parts.next()?);
    let is_hex = id.len() == 8 && id.bytes().all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f'));
    let id = u32::from_str_radix(id, 16)
        .ok()
        .filter(|_| is_hex && is_key_name(name))?;
    let data = STANDARD.decode(data).ok()?;
    let (ED25519, bytes) = data.split_first().map(|(kind, bytes)| (*kind, bytes))? else {
        return None;
    };
    Some((name.to_string(), id.to_be_bytes(), bytes.try_into().ok()?))
}

#[cfg(test)]
mod tests;
