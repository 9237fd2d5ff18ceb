//! `tarebook mail`: what goes out, what failed, and sending it from the host.

use super::failure::{Exit, Failure};
use super::{Context, examples, open};
use crate::auth::mail;
use crate::ledger::id::Id;
use crate::service::Plan;
use crate::service::mail::{Carrier, round};
use crate::store::Purpose;
use crate::store::apply::instant_text;
use crate::store::outgoing::{Message, Stand};
use clap::{Args, Subcommand};
use std::io::Write;

/// Messages that are listed unless it is said otherwise.
const USUAL: u32 = 100;

/// Look after mail
///
/// People choose on the page By mail which lists and reminders come to them. `serve` makes them in the
/// morning and sends them, if the settings mail_transport, mail_from and origin are set. What no mail
/// server takes is tried again for a day and a half, then stands as failed.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook mail list --data book\n  \
       tarebook mail retry --all --data book\n  \
       tarebook mail send-due --config /etc/tarebook/tarebook.toml"
))]
pub struct Mail {
    /// Organisation whose mail it is (default: the setting `organisation`, else the only one)
    #[arg(long, global = true, value_name = "NAME")]
    organisation: Option<String>,

    #[command(subcommand)]
    deed: Deed,
}

#[derive(Debug, Subcommand)]
enum Deed {
    List(List),
    Retry(Retry),
    SendDue(SendDue),
}

/// List messages, newest first
///
/// One line each on standard output, columns apart by a tab: id, state (waiting, sent, failed,
/// dropped), when it was made, kind, attempts, id of its person, why the last attempt failed. Times
/// are those of UTC. What ended more than 90 days ago is forgotten.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook mail list --data book\n  \
       tarebook mail list --failed --organisation \"Halfmoon Grocers\" --data book"
))]
struct List {
    /// Only those that failed
    #[arg(long)]
    failed: bool,

    /// How many at most
    #[arg(long, value_name = "N", default_value_t = USUAL,
          value_parser = clap::value_parser!(u32).range(1..=10_000))]
    most: u32,
}

/// Try messages again that failed
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook mail retry 0b0a4a51-6f0e-4b1f-9c39-5f4f3a0f8d11 --data book\n  \
       tarebook mail retry --all --data book"
))]
struct Retry {
    /// The message, by its id
    #[arg(value_name = "ID", value_parser = id, required_unless_present = "all")]
    id: Option<Id>,

    /// All that failed
    #[arg(long, conflicts_with = "id")]
    all: bool,
}

/// Make the mail that is due and send what waits, once, for all organisations
///
/// Does what `serve` does every minute, beside it or instead of it: nothing is sent twice. Ends with 1
/// when an attempt failed.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook mail send-due --config /etc/tarebook/tarebook.toml\n  \
       TAREBOOK_MAIL_FOLDER=/tmp/mail tarebook mail send-due --data book"
))]
struct SendDue {}

fn id(text: &str) -> Result<Id, String> {
    Id::parse(text).ok_or_else(|| "expected an id (a UUID)".to_string())
}

impl Mail {
    pub(super) fn run(self, context: &Context) -> Result<Exit, Failure> {
        match self.deed {
            Deed::List(asked) => list(context, &self.organisation, &asked),
            Deed::Retry(asked) => retry(context, &self.organisation, &asked),
            Deed::SendDue(SendDue {}) => send_due(context),
        }
    }
}

fn list(context: &Context, of: &Option<String>, asked: &List) -> Result<Exit, Failure> {
    let (mut db, of) = open::book(context, of, Purpose::Read)?;
    let mut out = std::io::stdout().lock();
    writeln!(out, "id\tstate\tmade\tkind\tattempts\tperson\twhy")?;
    let most = if asked.failed {
        i64::MAX
    } else {
        i64::from(asked.most)
    };
    let fits = |message: &Message| !asked.failed || message.stand == Stand::Failed;
    let messages = mail::list(&mut db, &of, most)?.into_iter().filter(fits);
    for message in messages.take(asked.most as usize) {
        let (id, person, attempts, why) =
            (message.id, message.person, message.attempts, &message.why);
        let (state, kind) = (message.stand.word(), message.kind.word());
        let made = instant_text(message.made_at);
        writeln!(
            out,
            "{id}\t{state}\t{made}\t{kind}\t{attempts}\t{person}\t{why}"
        )?;
    }
    Ok(Exit::Good)
}

fn retry(context: &Context, of: &Option<String>, asked: &Retry) -> Result<Exit, Failure> {
    let (mut db, of) = open::book(context, of, Purpose::Write)?;
    let now = crate::clock::now();
    let ids = match asked.id {
        Some(id) => vec![id],
        None => (mail::list(&mut db, &of, i64::MAX)?.iter())
            .filter(|message| message.stand == Stand::Failed)
            .map(|message| message.id)
            .collect(),
    };
    let mut again = 0;
    for id in ids {
        again += u32::from(mail::again(&mut db, &of, id, now)?);
    }
    if let (Some(id), 0) = (asked.id, again) {
        return Err(Failure::failed(format!(
            "expected a message of {} that failed, came {id}. `tarebook mail list --failed` shows \
             them.",
            of.name
        )));
    }
    context.terminal.say(format!(
        "{again} will be tried again by the running service, or by `tarebook mail send-due`."
    ));
    Ok(Exit::Good)
}

fn send_due(context: &Context) -> Result<Exit, Failure> {
    let plan = Plan::of(&context.config)?;
    let Some(plan) = plan.mail else {
        return Err(Failure::usage(
            "expected the setting mail_transport (smtp or file), came none: no mail goes out. Set \
             it with mail_from and origin.",
        ));
    };
    let carrier = Carrier::of(&plan).map_err(Failure::failed)?;
    let mut db = open::database(context, Purpose::Write)?;
    let done = round(&mut db, &plan, &carrier, crate::clock::now, || true)?;
    context.terminal.say(format!(
        "{} made, {} sent, {} not sent.",
        done.made, done.sent, done.failed
    ));
    Ok(if done.failed == 0 {
        Exit::Good
    } else {
        Exit::Failed
    })
}
