//! The leaf: the exact bytes of an entry that are hashed.
//!
//! A leaf is narrowed RFC 8785 JSON. The types below declare their members in the order of their
//! names, and every name is ASCII, so serialising one writes the canonical form straight; a test
//! compares it with a canonicaliser that sorts. A member that says nothing is absent, never null
//! and never empty. Nothing that a person typed stands here in clear, except masses: every other
//! string is a commitment in `commit`, and its text lies beside the leaf in `disclosures`.
//!
//! Frame and members are fixed for ever: members are only added, optional, under new names.

mod imported;
mod weighed;

use super::id::Id;
use super::place::Place;
use super::text::{day_text, mass_text};
use reports::day::Day;
use reports::mass::Mass;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::borrow::Cow;
use std::collections::BTreeMap;

pub use super::kind::EntryKind;
pub use imported::{FileSize, ImportRow};
pub use weighed::{Readings, Stated, Typed, Weight};

/// The largest leaf; larger content is an attachment.
pub const LARGEST_LEAF: usize = 16 * 1024;

/// Words and commitments by the name of the member they belong to.
pub type Words<'a> = BTreeMap<Cow<'a, str>, Cow<'a, str>>;

/// One entry as it is hashed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Leaf<'a> {
    /// Answers to questions, code to choice; lifted or already happened stops stand here too.
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    pub answers: Option<Words<'a>>,
    /// What the kind carries.
    #[serde(borrow)]
    pub body: Body<'a>,
    /// When the book took it, UTC, RFC 3339 with milliseconds.
    #[serde(borrow)]
    pub booked_at: Cow<'a, str>,
    /// Who booked it; absent when no person acted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<Id>,
    /// Captured on a device without signal.
    #[serde(default, skip_serializing_if = "is_false")]
    pub captured_offline: bool,
    /// Commitments: path of the member inside `body` (or `note`, `reason_text`) to base64.
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    pub commit: Option<Words<'a>>,
    /// The sign-in or token through which it came.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub device: Option<Id>,
    /// Who did the work, when that is not `by`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub did: Option<Id>,
    /// When it happened, as stated.
    #[serde(borrow)]
    pub happened: Happened<'a>,
    /// Made by the client, unique for ever in the book.
    pub id: Id,
    /// What kind of entry it is.
    #[serde(borrow)]
    pub kind: Cow<'a, str>,
    /// Older than the late setting allows, or inside a closed period.
    #[serde(default, skip_serializing_if = "is_false")]
    pub late: bool,
    /// The origin of the book: `tarebook/UUID`.
    #[serde(borrow)]
    pub log: Cow<'a, str>,
    /// For each appliance and cylinder it is about: its own count, dense from 1.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub nth: Option<BTreeMap<Place, u64>>,
    /// The role that acted.
    #[serde(borrow)]
    pub role: Cow<'a, str>,
    /// Number in the book, dense from 0.
    pub seq: u64,
    /// Version of the frame.
    pub v: u32,
    /// The door: `user`, `device`, `import`, `system`.
    #[serde(borrow)]
    pub via: Cow<'a, str>,
    /// The job of one technician at one appliance or site.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub visit: Option<Id>,
}

/// When something happened: `day` is the fact, the rest says how it was stated and resolved.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Happened<'a> {
    /// The local day at the site.
    #[serde(with = "day_text")]
    pub day: Day,
    /// `+hh:mm` or `-hh:mm`; only together with `time`.
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    pub offset: Option<Cow<'a, str>>,
    /// `HH:MM`, or `HH:MM:SS` where seconds were stated.
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    pub time: Option<Cow<'a, str>>,
    /// Release of the time-zone data that resolved it.
    #[serde(borrow)]
    pub tzdb: Cow<'a, str>,
    /// IANA name of the zone.
    #[serde(borrow)]
    pub zone: Cow<'a, str>,
}

/// The members a body may have. Which kind uses which is said in `api/src/actions/`, one file a
/// kind; a member outside this list makes an entry *not understood* to this program.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Body<'a> {
    /// loss: `weighed`, `estimated` or `stated`.
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    pub basis: Option<Cow<'a, str>>,
    /// Condition of what was recovered: clean, suspect, burn_out, mixed, unknown.
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    pub class: Option<Cow<'a, str>>,
    /// settle: code of the finding.
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    pub code: Option<Cow<'a, str>>,
    /// correction: the newest entry of the chain.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub corrects: Option<EntryRef>,
    /// engine: raised whenever a committed reference result changes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub engine: Option<u32>,
    /// link, settle, statement: the entries it speaks of.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub entries: Option<Vec<EntryRef>>,
    /// recover: evacuation level reached.
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    pub evacuation: Option<Measured<'a>>,
    /// Register entries: dated facts by name.
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    pub facts: Option<BTreeMap<Cow<'a, str>, Vec<Fact>>>,
    /// import: the file.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub file: Option<FileSize>,
    /// rule_set, method, setting: in force from this day.
    #[serde(
        with = "day_text::option",
        default,
        skip_serializing_if = "Option::is_none"
    )]
    pub from: Option<Day>,
    /// Which row of which import this was.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub import: Option<ImportRow>,
    /// genesis: verification keys.
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    pub keys: Option<Keys<'a>>,
    /// Leak event key.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub leak: Option<Id>,
    /// engine: the substance lists.
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    pub lists: Option<Attachment<'a>>,
    /// method: `annualising` or `rolling`.
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    pub method: Option<Cow<'a, str>>,
    /// What moved.
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    pub movements: Option<Vec<Moved<'a>>>,
    /// setting: its name.
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    pub name: Option<Cow<'a, str>>,
    /// statement: `accepted` or `disputed`.
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    pub outcome: Option<Cow<'a, str>>,
    /// redesignate: the known parts of a mixture.
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    pub parts: Option<Vec<Cow<'a, str>>>,
    /// engine: version of the program.
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    pub program: Option<Cow<'a, str>>,
    /// Why, a word of a closed list.
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<Cow<'a, str>>,
    /// engine: the refrigerant table.
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    pub refrigerants: Option<Attachment<'a>>,
    /// link: same_visit, not_the_same, same_leak, same_job, two_jobs.
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    pub relation: Option<Cow<'a, str>>,
    /// correction: what stands instead; absent when annulled.
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    pub replace: Option<Box<Replacement<'a>>>,
    /// charge: was the appliance brought back to its full charge?
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub returned_to_full_charge: Option<bool>,
    /// correction: the movements in force in the chain, ends exchanged.
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    pub reverse: Option<Vec<Moved<'a>>>,
    /// import: rows of the file.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rows: Option<u64>,
    /// rule_set: its id.
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    pub rule_set: Option<Cow<'a, str>>,
    /// method: the facility.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub site: Option<Id>,
    /// opening: where it stood in another book.
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    pub source: Option<Source<'a>>,
    /// purchase: `new` or `reclaimed`.
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    pub state: Option<Cow<'a, str>>,
    /// statement: what the counterparty weighed, by refrigerant.
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    pub stated: Option<Vec<Stated<'a>>>,
    /// Register entries: the thing, `word:UUID`; service events: the appliance; statement: the
    /// counterparty.
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    pub subject: Option<Cow<'a, str>>,
    /// import: appliances, cylinders or movements.
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    pub table: Option<Cow<'a, str>>,
    /// rule_set: canonical JSON of the set; `none` is a set that ends (absent).
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    pub text: Option<Attachment<'a>>,
    /// engine: release of the time-zone table.
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    pub tzdb: Option<Cow<'a, str>>,
    /// setting: its value, a word, a decimal, a day or a zone name.
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    pub value: Option<Cow<'a, str>>,
    /// Service events: words of closed lists, decimals, days.
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    pub words: Option<Words<'a>>,
}

/// One mass of one refrigerant from one place to another.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Moved<'a> {
    /// Where it was.
    pub from: Place,
    /// Exact grams.
    #[serde(with = "mass_text")]
    pub g: Mass,
    /// How many small appliances were emptied, where `from` is `unregistered`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub number: Option<u32>,
    /// Two readings of a scale, where the mass was weighed.
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    pub readings: Option<Readings<'a>>,
    /// Designation.
    #[serde(borrow)]
    pub refrigerant: Cow<'a, str>,
    /// Where it went.
    pub to: Place,
    /// The mass as typed, where it was not weighed here.
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    pub typed: Option<Typed<'a>>,
}

/// A measured value: decimal text and UCUM code.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Measured<'a> {
    /// `gauge` or `absolute`, for pressures.
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    pub reference: Option<Cow<'a, str>>,
    /// UCUM code.
    #[serde(borrow)]
    pub unit: Cow<'a, str>,
    /// Decimal text.
    #[serde(borrow)]
    pub value: Cow<'a, str>,
}

/// A dated value of a fact. A committed one has no `is`.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Fact {
    /// First day it holds.
    #[serde(with = "day_text")]
    pub from: Day,
    /// The value in clear.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub is: Option<Value>,
}

/// An earlier entry of the same book.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EntryRef {
    /// Its id.
    pub id: Id,
    /// Its number.
    pub seq: u64,
}

/// C2SP verification keys of the book.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Keys<'a> {
    /// Kept elsewhere, for the day the signing key is lost.
    #[serde(borrow)]
    pub recovery: Cow<'a, str>,
    /// Signs the checkpoints.
    #[serde(borrow)]
    pub signing: Cow<'a, str>,
}

/// Larger content beside the leaf, by its hash.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Attachment<'a> {
    /// Its size.
    pub bytes: u64,
    /// SHA-256, base64 with padding.
    #[serde(borrow)]
    pub sha256: Cow<'a, str>,
}

/// Where an opening stood in another book.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Source<'a> {
    /// Leaf hash there, base64.
    #[serde(borrow)]
    pub leaf_hash: Cow<'a, str>,
    /// Origin of the other book.
    #[serde(borrow)]
    pub origin: Cow<'a, str>,
    /// Number there.
    pub seq: u64,
}

/// What a correction puts in place of the chain, stated whole.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Replacement<'a> {
    /// The new body.
    #[serde(borrow)]
    pub body: Body<'a>,
    /// Who did the work, when that is not who booked it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub did: Option<Id>,
    /// When it happened, always written out.
    #[serde(borrow)]
    pub happened: Happened<'a>,
    /// Its kind, always written out.
    #[serde(borrow)]
    pub kind: Cow<'a, str>,
    /// The visit, when there is one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub visit: Option<Id>,
}

impl Leaf<'_> {
    /// The bytes that are hashed.
    pub fn bytes(&self) -> Vec<u8> {
        let mut bytes = Vec::with_capacity(768);
        self.write(&mut bytes);
        bytes
    }

    /// Appends the bytes that are hashed.
    pub fn write(&self, bytes: &mut Vec<u8>) {
        serde_json::to_writer(bytes, self).expect("a leaf is plain JSON written to memory");
    }

    /// Reads a leaf; an error means that this program does not understand it (or that it is none).
    pub fn parse(bytes: &[u8]) -> Result<Leaf<'_>, serde_json::Error> {
        // One look over the whole is cheaper than one at every text in it.
        std::str::from_utf8(bytes)
            .map_or_else(|_| serde_json::from_slice(bytes), serde_json::from_str)
    }
}

#[allow(clippy::trivially_copy_pass_by_ref)]
fn is_false(value: &bool) -> bool {
    !*value
}
