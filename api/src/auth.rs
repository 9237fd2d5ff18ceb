//! Who is asking, and in which roles.
//!
//! A person signs in with e-mail and password, and a one-time code where a second factor is set up,
//! and gets a session; a program carries a token. Both are secrets of 256 random bits of which the database keeps only the hash. Whatever was shown, a
//! request is asked by a [`SignedIn`]: one organisation, the roles held in it, and (where a person
//! stands behind it) who that is.

pub mod access;
pub mod calendar;
pub mod door;
pub mod factor;
pub mod mail;
mod opening;
pub mod password;
pub mod seal;
pub mod second_step;
pub mod secret;
pub mod session;
pub mod sign_in;
pub mod throttle;
pub mod token;
pub mod totp;

use crate::ledger::actor::{Actor, Role, Via};
use crate::ledger::id::Id;
use crate::store::open::Organisation;

pub use door::{Door, Limits};

/// What a request showed to say who asks.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Shown {
    /// The cookie of a session.
    Session,
    /// A bearer token.
    Token,
}

/// Who asks: always within one organisation.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SignedIn {
    /// Whose book.
    pub of: Organisation,
    /// The person; none for a token that belongs to the organisation.
    pub person: Option<Id>,
    /// The roles held, in the order of [`Role::ALL`].
    pub roles: Vec<Role>,
    /// The random id of the session or token; entries name it as `device`.
    pub key: Id,
    /// What was shown.
    pub shown: Shown,
    /// Last full sign-in, microseconds since 1970: what needs a fresh one asks this.
    pub signed_in_at: i64,
    /// Ends then, microseconds since 1970.
    pub expires_at: i64,
    /// A second factor is asked of this person and none is set up: until then nothing else is done.
    pub owes_factor: bool,
}

impl SignedIn {
    /// The actor of an action: the first held role that may do it, so that a manager who also
    /// works in the field posts weights as a technician. `None`: no role may.
    pub fn acting(&self, may: impl Fn(Role) -> bool) -> Option<Actor> {
        let role = self.roles.iter().copied().find(|role| may(*role))?;
        Some(Actor {
            person: self.person,
            role,
            via: match role {
                Role::Device => Via::Device,
                _ => Via::User,
            },
            device: Some(self.key),
        })
    }

    /// Does anybody of these ask?
    pub fn may(&self, may: impl Fn(Role) -> bool) -> bool {
        self.roles.iter().copied().any(may)
    }
}
