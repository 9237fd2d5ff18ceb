//! What a row of the table of the interface says: address and method, who may, who answers, what it
//! takes and gives. The OpenAPI document and the tests of every role read the same rows.

use super::super::answer::{Answer, Asked};
use crate::actions::permit::Deed;

/// A method.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum Verb {
    Get,
    Post,
    Patch,
    Delete,
}

impl Verb {
    /// As HTTP writes it.
    pub const fn word(self) -> &'static str {
        match self {
            Verb::Get => "GET",
            Verb::Post => "POST",
            Verb::Patch => "PATCH",
            Verb::Delete => "DELETE",
        }
    }
}

/// Who may ask.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Access {
    /// Everybody, signed in or not; nobody is looked up.
    Open,
    /// Everybody; who is signed in is known to the handler.
    Maybe,
    /// Whoever is signed in.
    SignedIn,
    /// Roles that post entries of any kind; the kind's own limits are looked at by the door.
    Posting,
    /// Roles that may do this.
    To(Deed),
}

/// One row: an address with a method.
pub struct Route {
    /// Its method.
    pub method: Verb,
    /// Its address, with names in braces.
    pub path: &'static str,
    /// Who may ask.
    pub access: Access,
    /// Who answers.
    pub answer: fn(Asked) -> Answer,
    /// What it is for, in a line.
    pub summary: &'static str,
    /// Members its query may hold.
    pub query: &'static [Parameter],
    /// Schema of its body.
    pub takes: Option<&'static str>,
    /// What it answers when all is well.
    pub gives: &'static [Gives],
    /// Types of problems of its own, besides those of every route.
    pub problems: &'static [&'static str],
}

/// A member of a query.
pub struct Parameter {
    /// Its name.
    pub name: &'static str,
    /// Its schema, as JSON.
    pub schema: &'static str,
    /// What it does.
    pub about: &'static str,
}

/// An answer when all is well.
pub struct Gives {
    /// Its status.
    pub status: u16,
    /// Its media type.
    pub media: &'static str,
    /// Its schema; none: no body, or one that is no JSON.
    pub schema: Option<&'static str>,
}

impl Route {
    /// Names its query may hold.
    pub fn query_names(&self) -> Vec<&'static str> {
        self.query.iter().map(|parameter| parameter.name).collect()
    }

    /// Is it open to whoever must set up a second factor first?
    pub fn before_factor(&self) -> bool {
        let own = |path: &str| self.path.starts_with(path);
        matches!(self.access, Access::Open | Access::Maybe)
            || self.path == "/api/v1/sessions/current"
            || (own("/api/v1/second-factor") && self.access == Access::SignedIn)
    }

    /// Does it read a body?
    pub const fn reads_body(&self) -> bool {
        self.takes.is_some()
    }
}

pub(super) const fn json(status: u16, schema: &'static str) -> Gives {
    let (media, schema) = ("application/json", Some(schema));
    Gives {
        status,
        media,
        schema,
    }
}

pub(super) const fn other(status: u16, media: &'static str) -> Gives {
    Gives {
        status,
        media,
        schema: None,
    }
}
