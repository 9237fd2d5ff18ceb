//! `tarebook user`: who may sign in, in which roles, seen to by the operator on the host.

use super::failure::{Exit, Failure};
use super::{Context, examples, new_password, open};
use crate::actions::ActionError;
use crate::actions::manage_people::{self, By, HELD, PersonAsked};
use crate::ledger::actor::{Actor, Role};
use crate::store::open::Organisation;
use crate::store::sign_ins::Member;
use crate::store::tx::Tx;
use crate::store::writer::{Books, Clock, transact};
use crate::store::{Db, Purpose};
use clap::{Args, Subcommand};
use reports::refrigerant::Table;
use std::io::Write;
use std::path::PathBuf;

/// Add people and change how they sign in
///
/// What an administrator does from a page, for the first people and for the day on which no
/// administrator can sign in any more. Every change leaves an access record that names the host. A
/// password is read from the terminal, from a file or from standard input, never from an argument.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook user add ines@tamarack.example --role technician --name \"Ines Vallory\" \
       --data book\n  \
       tarebook user password juno@tamarack.example --password-file new-password --data book\n  \
       tarebook user list --organisation \"Halfmoon Grocers\" --data book"
))]
pub struct User {
    /// Organisation whose people they are (default: the setting `organisation`, else the only one)
    #[arg(long, global = true, value_name = "NAME")]
    organisation: Option<String>,

    #[command(subcommand)]
    deed: Deed,
}

#[derive(Debug, Subcommand)]
enum Deed {
    Add(Add),
    List(List),
    Roles(Roles),
    Disable(Disable),
    Enable(Enable),
    Password(Password),
    ResetFactor(ResetFactor),
}

/// Let somebody sign in
///
/// Registers the person by an entry, unless --person names somebody who is registered already.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook user add dov@tamarack.example --role technician --data book\n  \
       tarebook user add osric@tamarack.example --role compliance_manager --no-password --data book"
))]
struct Add {
    /// E-mail address they sign in with
    #[arg(value_name = "EMAIL")]
    email: String,

    /// Role they hold: technician, compliance_manager, auditor, administrator (may be repeated)
    #[arg(long = "role", value_name = "ROLE", required = true, value_parser = role)]
    roles: Vec<Role>,

    /// Full name
    #[arg(long, value_name = "NAME")]
    name: Option<String>,

    /// Somebody who is registered already, by id or tag
    #[arg(long, value_name = "PERSON", conflicts_with = "name")]
    person: Option<String>,

    /// File whose first line is their first password
    #[arg(long, value_name = "FILE")]
    password_file: Option<PathBuf>,

    /// Set no password yet; until one is set they cannot sign in
    #[arg(long, conflicts_with = "password_file")]
    no_password: bool,
}

/// List who may sign in
///
/// One line each on standard output, columns apart by a tab: address, roles, state, name, id.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook user list --data book\n  \
       tarebook user list --organisation \"Halfmoon Grocers\" --data book"
))]
struct List {}

/// Give somebody other roles
///
/// The roles named are those they hold from now on. What they had open ends.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook user roles ines@tamarack.example --role technician --role compliance_manager \
       --data book\n  \
       tarebook user roles juno@tamarack.example --role administrator --data book"
))]
struct Roles {
    /// Who: address, id or tag
    #[arg(value_name = "PERSON")]
    person: String,

    /// Role they hold from now on (may be repeated)
    #[arg(long = "role", value_name = "ROLE", required = true, value_parser = role)]
    roles: Vec<Role>,
}

/// Let somebody sign in no longer
///
/// Their sessions end and their tokens are revoked at once. What they booked stays.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook user disable dov@tamarack.example --data book\n  \
       tarebook user disable 0b0a4a51-6f0e-4b1f-9c39-5f4f3a0f8d11 --data book"
))]
struct Disable {
    /// Who: address, id or tag
    #[arg(value_name = "PERSON")]
    person: String,
}

/// Let somebody sign in again
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook user enable dov@tamarack.example --data book\n  \
       tarebook user enable dov@tamarack.example --organisation \"Halfmoon Grocers\" --data book"
))]
struct Enable {
    /// Who: address, id or tag
    #[arg(value_name = "PERSON")]
    person: String,
}

/// Give somebody another password
///
/// Their sessions end, and a hundred failed sign-ins no longer hold them up.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook user password juno@tamarack.example --data book\n  \
       tarebook user password juno@tamarack.example --password-file new-password --data book"
))]
struct Password {
    /// Who: address, id or tag
    #[arg(value_name = "PERSON")]
    person: String,

    /// File whose first line is the password
    #[arg(long, value_name = "FILE")]
    password_file: Option<PathBuf>,
}

/// Take somebody's second factor away
///
/// For a lost phone without a recovery code, on the day on which no administrator can sign in. Look who
/// asks: whoever has the password signs in with it alone afterwards. Their sessions end, and they are
/// told by mail where mail goes out. Where the organisation asks for a second factor, they set one up
/// at the next sign-in.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook user reset-factor juno@tamarack.example --data book\n  \
       tarebook user reset-factor JUNO --organisation \"Halfmoon Grocers\" --data book"
))]
struct ResetFactor {
    /// Who: address, id or tag
    #[arg(value_name = "PERSON")]
    person: String,
}

/// Reads a role.
pub fn role(text: &str) -> Result<Role, String> {
    let known = || HELD.map(Role::word).join(", ");
    let role = Role::named(text).filter(|role| HELD.contains(role));
    role.ok_or_else(|| format!("expected one of {}", known()))
}

/// Everything these commands do, they do as the operator on the host.
pub const HOST: By<'_> = By {
    actor: &Actor::OPERATOR,
    source: "host",
};

impl User {
    pub(super) fn run(self, context: &Context) -> Result<Exit, Failure> {
        let (mut db, of) = open::book(context, &self.organisation, Purpose::Write)?;
        match self.deed {
            Deed::Add(asked) => add(context, &mut db, &of, asked),
            Deed::List(List {}) => list(&mut db, &of),
            Deed::Roles(Roles { person, roles }) => change(context, &mut db, &of, |tx| {
                let person = manage_people::named(tx, &person)?.person;
                manage_people::set_roles(tx, HOST, person, &roles)
            }),
            Deed::Disable(Disable { person }) => change(context, &mut db, &of, |tx| {
                let person = manage_people::named(tx, &person)?.person;
                manage_people::disable(tx, HOST, person, true)
            }),
            Deed::Enable(Enable { person }) => change(context, &mut db, &of, |tx| {
                let person = manage_people::named(tx, &person)?.person;
                manage_people::disable(tx, HOST, person, false)
            }),
            Deed::Password(asked) => password(context, &mut db, &of, &asked),
            Deed::ResetFactor(ResetFactor { person }) => {
                let tell = context.config.get("mail_transport").is_some();
                change(context, &mut db, &of, |tx| {
                    let person = manage_people::named(tx, &person)?.person;
                    manage_people::reset_factor(tx, HOST, person, tell)
                })
            }
        }
    }
}

/// Runs an action in a transaction of its own.
pub fn managing<T>(
    db: &mut Db,
    of: &Organisation,
    mut action: impl FnMut(&mut Tx<'_>) -> Result<T, ActionError>,
) -> Result<T, Failure> {
    let (mut books, table, clock) = (Books::new(), Table::shipped(), Clock::real());
    let done = transact(db, &mut books, of, &[], table, clock, |tx| {
        match action(tx) {
            Err(ActionError::Failed(error)) => Err(error),
            outcome => Ok(outcome),
        }
    })?;
    Ok(done?)
}

fn change(
    context: &Context,
    db: &mut Db,
    of: &Organisation,
    action: impl FnMut(&mut Tx<'_>) -> Result<Member, ActionError>,
) -> Result<Exit, Failure> {
    let member = managing(db, of, action)?;
    said(context, of, &member);
    Ok(Exit::Good)
}

fn said(context: &Context, of: &Organisation, member: &Member) {
    context.terminal.say(format!(
        "{}: {} is {}, {}.",
        of.name,
        member.email,
        words(member),
        state(member)
    ));
}

fn words(member: &Member) -> String {
    let words: Vec<&str> = member.roles.iter().map(|role| role.word()).collect();
    words.join(" ")
}

fn state(member: &Member) -> &'static str {
    match (member.disabled_at, member.has_password, member.has_factor) {
        (Some(_), ..) => "disabled",
        (None, false, _) => "without a password",
        (None, true, false) => "may sign in",
        (None, true, true) => "may sign in with a second factor",
    }
}

fn add(context: &Context, db: &mut Db, of: &Organisation, asked: Add) -> Result<Exit, Failure> {
    let password_hash = if asked.no_password {
        None
    } else {
        let (file, about) = (asked.password_file.as_deref(), [&of.name[..], &asked.email]);
        Some(new_password::hash(file, &asked.email, &about)?)
    };
    let new = PersonAsked {
        person: asked.person,
        email: asked.email,
        name: asked.name,
        roles: asked.roles,
        password_hash,
        ..PersonAsked::default()
    };
    let member = managing(db, of, |tx| manage_people::add(tx, HOST, &new))?;
    open::sign(context, db, of)?;
    said(context, of, &member);
    Ok(Exit::Good)
}

fn list(db: &mut Db, of: &Organisation) -> Result<Exit, Failure> {
    let mut out = std::io::stdout().lock();
    writeln!(out, "email\troles\tstate\tname\tperson")?;
    for member in manage_people::list(db, of.org)? {
        let name = member.name.as_deref().unwrap_or_default();
        let (words, state, person) = (words(&member), state(&member), member.person);
        writeln!(out, "{}\t{words}\t{state}\t{name}\t{person}", member.email)?;
    }
    Ok(Exit::Good)
}

fn password(
    context: &Context,
    db: &mut Db,
    of: &Organisation,
    asked: &Password,
) -> Result<Exit, Failure> {
    // Looked up first, so that nobody types a password for a name that is none.
    let member = managing(db, of, |tx| manage_people::named(tx, &asked.person))?;
    let about = [&of.name[..], &member.email];
    let hash = new_password::hash(asked.password_file.as_deref(), &member.email, &about)?;
    change(context, db, of, |tx| {
        manage_people::set_password(tx, HOST, member.person, &hash)
    })
}
