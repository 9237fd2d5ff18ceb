//! Attachments: each has the hash it is kept under, and each one a leaf names in clear is there.

use super::report::{Check, Report, base64};
use crate::ledger::entry::{Attachment, Leaf};
use crate::ledger::source::{BookSource, SourceError};
use crate::ledger::tree::Hash;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;

/// The attachments that leaves name in clear: by hash, with the first entry that names it and the
/// size it gives.
#[derive(Default)]
pub(super) struct Attachments {
    named: BTreeMap<Hash, (u64, u64)>,
}

impl Attachments {
    pub(super) fn learn(&mut self, seq: u64, leaf: &Leaf<'_>, report: &mut Report) {
        let body = &leaf.body;
        let replaced = leaf.body.replace.as_ref().map(|replace| &replace.body);
        for body in [Some(body), replaced].into_iter().flatten() {
            for named in [&body.lists, &body.refrigerants, &body.text]
                .into_iter()
                .flatten()
            {
                self.learn_one(seq, named, report);
            }
        }
    }

    fn learn_one(&mut self, seq: u64, named: &Attachment<'_>, report: &mut Report) {
        let hash = STANDARD
            .decode(&*named.sha256)
            .ok()
            .and_then(|hash| hash.try_into().ok());
        let Some(hash) = hash else {
            report.add(Check::Attachment, seq, "a SHA-256 in base64", &named.sha256);
            return;
        };
        let (first, bytes) = *self.named.entry(hash).or_insert((seq, named.bytes));
        if bytes != named.bytes {
            let expected = format!("{bytes} bytes, as no. {first} says");
            report.add(Check::Attachment, seq, expected, named.bytes);
        }
    }

    pub(super) fn finish(
        mut self,
        source: &mut dyn BookSource,
        report: &mut Report,
    ) -> Result<(), SourceError> {
        source.attachments(&mut |kept_under, bytes| {
            report.attachments += 1;
            let named = self.named.remove(&kept_under);
            let hash: Hash = Sha256::digest(bytes).into();
            if hash != kept_under {
                let expected = format!("the attachment with hash {}", base64(&kept_under));
                report.add(
                    Check::Attachment,
                    named.map(|n| n.0),
                    expected,
                    base64(&hash),
                );
            } else if let Some((seq, size)) = named.filter(|named| named.1 != bytes.len() as u64) {
                report.add(Check::Attachment, seq, format!("{size} bytes"), bytes.len());
            }
            Ok(())
        })?;
        for (hash, (seq, bytes)) in &self.named {
            let expected = format!("an attachment of {bytes} bytes with hash {}", base64(hash));
            report.add(Check::Attachment, *seq, expected, "none");
        }
        Ok(())
    }
}
