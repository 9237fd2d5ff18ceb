//! With which engine and which tables the book goes on.
//!
//! Entry no. 1, and again one before the first entry of a program with other tables or another
//! engine number, says what figures were worked out with. The tables are attachments, so that an
//! auditor can work the same figures out in twenty years.

use super::StoreError;
use super::apply::Draft;
use super::tx::Tx;
use crate::ledger::actor::Actor;
use crate::ledger::entry::{Attachment, Body, EntryKind, Happened};
use crate::ledger::id::Id;
use crate::ledger::tree::sha256;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use reports::day::{TZDB, Zone, clock_text};
use reports::refrigerant::{LISTS_BYTES, TABLE_BYTES};
use std::borrow::Cow;
use std::sync::LazyLock;

impl Tx<'_> {
    /// Books an `engine` entry when the book does not yet say what this program works with.
    pub fn keep_engine(&mut self) -> Result<(), StoreError> {
        if self.book.engine_said.is_none() {
            let engine = self.adopted()?.engine.clone();
            self.book.engine_said = Some(engine);
        }
        if self.book.engine_said.as_deref() == Some(engine_words()) {
            return Ok(());
        }
        let attached = |bytes: &[u8]| Attachment {
            bytes: bytes.len() as u64,
            sha256: Cow::Owned(STANDARD.encode(sha256(bytes))),
        };
        let body = Body {
            engine: Some(reports::ENGINE),
            lists: Some(attached(LISTS_BYTES)),
            program: Some(Cow::Borrowed(env!("CARGO_PKG_VERSION"))),
            refrigerants: Some(attached(TABLE_BYTES)),
            tzdb: Some(Cow::Borrowed(TZDB)),
            ..Body::default()
        };
        let id = Id::at(self.now.unsigned_abs() / 1000);
        let mut draft = Draft::new(id, EntryKind::Engine, in_utc(self.now), body);
        draft.attachments = vec![TABLE_BYTES.to_vec(), LISTS_BYTES.to_vec()];
        self.book.engine_said = Some(engine_words().to_string());
        self.book(&Actor::SYSTEM, draft).map(|_| ())
    }
}

/// What an engine entry is compared by.
fn engine_words() -> &'static str {
    static WORDS: LazyLock<String> = LazyLock::new(|| {
        let hash = |bytes: &[u8]| STANDARD.encode(sha256(bytes));
        said(
            reports::ENGINE,
            &hash(TABLE_BYTES),
            &hash(LISTS_BYTES),
            TZDB,
        )
    });
    &WORDS
}

/// The words of an engine entry by which it is compared with another.
pub(super) fn said(engine: u32, refrigerants: &str, lists: &str, tzdb: &str) -> String {
    format!("{engine} {refrigerants} {lists} {tzdb}")
}

/// A moment as `happened` in UTC.
pub fn in_utc(microseconds: i64) -> Happened<'static> {
    let instant = jiff::Timestamp::from_microsecond(microseconds).unwrap_or_default();
    let local = Zone::named("UTC").map(|zone| zone.local(instant));
    let (day, second) = local.map_or((reports::day::Day::from_count(0), 0), |local| {
        (local.day, local.second)
    });
    Happened {
        day,
        offset: Some(Cow::Borrowed("+00:00")),
        time: Some(Cow::Owned(clock_text(second, false))),
        tzdb: Cow::Borrowed(TZDB),
        zone: Cow::Borrowed("UTC"),
    }
}
