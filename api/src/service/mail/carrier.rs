//! What carries a message: a mail server, or a folder that another program empties.
//!
//! A message has a Message-ID of its own id, so that one that was sent twice, because the answer of
//! the mail server was lost, can be told to be the same. In the folder it has that id as its name and
//! appears whole or not at all.

use super::settings::{MailPlan, Secrecy, Server, Way};
use crate::auth::mail::{Held, MailKind};
use lettre::message::header::{ContentType, HeaderName, HeaderValue};
use lettre::message::{Mailbox, Message};
use lettre::transport::smtp::authentication::Credentials;
use lettre::transport::smtp::client::{Tls, TlsParameters};
use lettre::transport::smtp::extension::ClientId;
use lettre::{Address, SmtpTransport, Transport};
use std::error::Error;
use std::path::{Path, PathBuf};
use std::time::{Duration, UNIX_EPOCH};

/// A mail server answers each command within this time.
const PATIENCE: Duration = Duration::from_secs(20);

/// What carries messages.
pub enum Carrier {
    /// One file a message.
    Folder(PathBuf),
    /// A mail server.
    Server(Box<SmtpTransport>),
}

impl Carrier {
    /// The carrier of a plan. Nothing is connected to yet.
    pub fn of(plan: &MailPlan) -> Result<Carrier, String> {
        match &plan.way {
            Way::Folder(folder) => Ok(Carrier::Folder(folder.clone())),
            Way::Server(server) => Ok(Carrier::Server(Box::new(transport(plan, server)?))),
        }
    }

    /// Carries a message; on an error says why it was not taken.
    pub fn carry(&self, plan: &MailPlan, held: &Held) -> Result<(), String> {
        let message = written(plan, held)?;
        match self {
            Carrier::Folder(folder) => {
                let name = format!("{}.eml", held.message.id);
                put(folder, &name, &message.formatted()).map_err(|error| {
                    format!("the folder {} takes it not: {error}", folder.display())
                })
            }
            Carrier::Server(server) => server
                .send(&message)
                .map(drop)
                .map_err(|error| reason(&error)),
        }
    }
}

/// The words of an error with those of what caused it.
fn reason(error: &dyn Error) -> String {
    let mut words = error.to_string();
    let mut cause = error.source();
    while let Some(error) = cause {
        let more = error.to_string();
        if !words.contains(&more) {
            words.push_str(&format!(": {more}"));
        }
        cause = error.source();
    }
    words
}

fn put(folder: &Path, name: &str, bytes: &[u8]) -> std::io::Result<()> {
    let part = folder.join(format!("{name}.part"));
    std::fs::write(&part, bytes)?;
    std::fs::File::open(&part)?.sync_all()?;
    std::fs::rename(part, folder.join(name))
}

fn transport(plan: &MailPlan, server: &Server) -> Result<SmtpTransport, String> {
    let secret = || TlsParameters::new(server.host.clone()).map_err(|error| reason(&error));
    let tls = match server.secrecy {
        Secrecy::StartTls => Tls::Required(secret()?),
        Secrecy::Tls => Tls::Wrapper(secret()?),
        Secrecy::Nothing => Tls::None,
    };
    let mut builder = SmtpTransport::builder_dangerous(&server.host)
        .port(server.port)
        .tls(tls)
        .hello_name(ClientId::Domain(plan.host.clone()))
        .timeout(Some(PATIENCE));
    if let Some((user, password)) = &server.sign_in {
        builder = builder.credentials(Credentials::new(user.clone(), password.clone()));
    }
    Ok(builder.build())
}

/// The message as it goes out. Its person may stop all mail without signing in (RFC 8058 for mail
/// programs, the last line for people), and no machine shall answer it (RFC 3834).
pub fn written(plan: &MailPlan, held: &Held) -> Result<Message, String> {
    let address: Address = held.address.parse().map_err(|_| {
        "expected an e-mail address, came what is none; the administrator can add the person anew \
         under another"
            .to_string()
    })?;
    let made = held.message.made_at.unsigned_abs();
    let base = &plan.making.base;
    let stop = format!("{base}/mail/stop/{}", held.stop);
    let notice = held.message.kind == MailKind::Notice;
    let why = match notice {
        true => format!("You get this because it is about your own sign-in: {base}/me\n"),
        false => format!(
            "You get this because you chose it: {base}/mail\nNo more of it, without signing in: \
             {stop}\n"
        ),
    };
    let body = format!("{}\n-- \n{why}", held.message.body);
    let mut builder = Message::builder()
        .from(plan.from.clone())
        .to(Mailbox::new(None, address))
        .subject(held.message.subject.clone())
        .date(UNIX_EPOCH + Duration::from_micros(made))
        .message_id(Some(format!("<{}@{}>", held.message.id, plan.host)))
        .header(ContentType::TEXT_PLAIN)
        .raw_header(raw("Auto-Submitted", "auto-generated"));
    if !notice {
        builder = builder.raw_header(raw("List-Unsubscribe", &format!("<{stop}>")));
    }
    if !notice && base.starts_with("https://") {
        let one_click = raw("List-Unsubscribe-Post", "List-Unsubscribe=One-Click");
        builder = builder.raw_header(one_click);
    }
    builder.body(body).map_err(|error| error.to_string())
}

fn raw(name: &'static str, value: &str) -> HeaderValue {
    let name = HeaderName::new_from_ascii_str(name);
    HeaderValue::new(name, value.to_string())
}
