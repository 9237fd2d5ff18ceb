//! `tarebook token`: bearer tokens for programs, issued by the operator on the host.

use super::failure::{Exit, Failure};
use super::user::managing;
use super::{Context, examples, open};
use crate::actions::manage_people;
use crate::auth::access::Asker;
use crate::auth::token::{self, MOST_DAYS, SCOPES, Scopes, TokenAsked, TokenRefused, TokenShown};
use crate::ledger::actor::Role;
use crate::ledger::id::Id;
use crate::store::Purpose;
use clap::{Args, Subcommand};
use std::io::Write;

/// Issue and revoke bearer tokens
///
/// A program shows its token with every request. It acts in one role for one organisation, ends by
/// itself and can be revoked; only its hash is kept. Every change leaves an access record.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook token issue --organisation \"Halfmoon Grocers\" --role auditor --days 30 --data book\n  \
       tarebook token list --data book\n  \
       tarebook token revoke tb_k7m2p9qx --data book"
))]
pub struct Token {
    /// Organisation whose tokens they are (default: the setting `organisation`, else the only one)
    #[arg(long, global = true, value_name = "NAME")]
    organisation: Option<String>,

    #[command(subcommand)]
    deed: Deed,
}

#[derive(Debug, Subcommand)]
enum Deed {
    Issue(Issue),
    List(List),
    Revoke(Revoke),
}

/// Issue a token
///
/// Standard output carries the token and nothing else. It is shown this once.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook token issue --role compliance_manager --name \"nightly export\" --data book > token\n  \
       tarebook token issue --role device --name \"scale at the dock\" --scope movements:write --data book"
))]
struct Issue {
    /// Role it acts in: technician, compliance_manager, auditor, administrator, device
    #[arg(long, value_name = "ROLE", value_parser = role)]
    role: Role,

    /// Days until it ends, at most 365
    #[arg(long, value_name = "N", default_value_t = token::USUAL_DAYS,
          value_parser = clap::value_parser!(u32).range(1..=i64::from(MOST_DAYS)))]
    days: u32,

    /// What it is for
    #[arg(long, value_name = "NAME", default_value = "issued on the host")]
    name: String,

    /// The person it acts for: address, id or tag (default: the organisation)
    #[arg(long, value_name = "PERSON")]
    person: Option<String>,

    /// What a device may do: movements:write (the default for a device), readings:write
    #[arg(long = "scope", value_name = "SCOPE")]
    scopes: Vec<String>,

    /// Appliance or cylinder a device may name, by id (may be repeated; default: any)
    #[arg(long = "place", value_name = "ID", value_parser = id)]
    places: Vec<Id>,

    /// Refrigerant a device may name (may be repeated; default: any)
    #[arg(long = "refrigerant", value_name = "R")]
    refrigerants: Vec<String>,
}

/// List the tokens of an organisation
///
/// One line each on standard output, columns apart by a tab: the part that may be shown, role,
/// state, the day it ends, the day it was used last, name, id. Days are those of UTC.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook token list --data book\n  \
       tarebook token list --organisation \"Halfmoon Grocers\" --data book"
))]
struct List {}

/// Revoke a token from the next request on
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook token revoke tb_k7m2p9qx --data book\n  \
       tarebook token revoke 0b0a4a51-6f0e-4b1f-9c39-5f4f3a0f8d11 --data book"
))]
struct Revoke {
    /// The token: its id or its beginning, tb_ and eight characters
    #[arg(value_name = "TOKEN")]
    token: String,
}

fn role(text: &str) -> Result<Role, String> {
    match Role::named(text) {
        Some(Role::Device) => Ok(Role::Device),
        _ => super::user::role(text).map_err(|known| format!("{known}, device")),
    }
}

fn id(text: &str) -> Result<Id, String> {
    Id::parse(text).ok_or_else(|| "expected an id (a UUID)".to_string())
}

impl From<TokenRefused> for Failure {
    fn from(refused: TokenRefused) -> Failure {
        match refused {
            TokenRefused::Invalid(_, text) => Failure::failed(text),
            TokenRefused::Failed(error) => Failure::from(error),
        }
    }
}

impl Token {
    pub(super) fn run(self, context: &Context) -> Result<Exit, Failure> {
        match self.deed {
            Deed::Issue(asked) => issue(context, &self.organisation, asked),
            Deed::List(List {}) => list(context, &self.organisation),
            Deed::Revoke(asked) => revoke(context, &self.organisation, &asked.token),
        }
    }
}

fn issue(context: &Context, of: &Option<String>, asked: Issue) -> Result<Exit, Failure> {
    let (mut db, of) = open::book(context, of, Purpose::Write)?;
    let person = match &asked.person {
        None => None,
        Some(name) => Some(managing(&mut db, &of, |tx| manage_people::named(tx, name))?.person),
    };
    let mut may = asked.scopes;
    if asked.role == Role::Device && may.is_empty() {
        may.push(SCOPES[0].to_string());
    }
    let asked = TokenAsked {
        name: asked.name,
        person,
        role: asked.role,
        scopes: Scopes {
            may,
            places: asked.places,
            refrigerants: asked.refrigerants,
        },
        days: asked.days,
    };
    let now = crate::clock::now();
    let (secret, shown) = token::issue(&mut db, &of, &Asker::HOST, &asked, now)?;
    writeln!(std::io::stdout().lock(), "{secret}")?;
    context.terminal.say(format!(
        "{} acts as {} for {} until {}. It is shown this once; `tarebook token revoke {}` ends it.",
        shown.word,
        shown.role.word(),
        of.name,
        day(shown.expires_at),
        shown.word
    ));
    Ok(Exit::Good)
}

fn list(context: &Context, of: &Option<String>) -> Result<Exit, Failure> {
    let (mut db, of) = open::book(context, of, Purpose::Read)?;
    let now = crate::clock::now();
    let mut out = std::io::stdout().lock();
    writeln!(out, "token\trole\tstate\tends\tused\tname\tid")?;
    for shown in token::list(&mut db, &of)? {
        let (role, state, ends) = (shown.role.word(), state(&shown, now), day(shown.expires_at));
        let used = shown.used_at.map(day).unwrap_or_default();
        let (word, name, id) = (&shown.word, &shown.name, shown.id);
        writeln!(out, "{word}\t{role}\t{state}\t{ends}\t{used}\t{name}\t{id}")?;
    }
    Ok(Exit::Good)
}

fn revoke(context: &Context, of: &Option<String>, name: &str) -> Result<Exit, Failure> {
    let (mut db, of) = open::book(context, of, Purpose::Write)?;
    let id = Id::parse(name);
    let meant = |shown: &TokenShown| {
        // Whoever pastes the whole token means this one, too.
        Some(shown.id) == id || name.get(..shown.word.len()) == Some(&shown.word[..])
    };
    let found = token::list(&mut db, &of)?.into_iter().find(meant);
    let Some(shown) = found else {
        return Err(Failure::failed(format!(
            "expected a token of {}, came one that it has not. `tarebook token list` shows them.",
            of.name
        )));
    };
    let now = crate::clock::now();
    let held = token::revoke(&mut db, &of, &Asker::HOST, shown.id, now)?;
    let said = if held {
        "is revoked"
    } else {
        "was revoked before"
    };
    context.terminal.say(format!("{} {said}.", shown.word));
    Ok(Exit::Good)
}

fn state(shown: &TokenShown, now: i64) -> &'static str {
    match shown.revoked_at {
        Some(_) => "revoked",
        None if now >= shown.expires_at => "ended",
        None => "holds",
    }
}

/// The day of a moment, in UTC.
fn day(moment: i64) -> String {
    crate::store::engine::in_utc(moment).day.to_string()
}
