//! The settings of mail, read and checked together before anything is started.
//!
//! Mail is off unless a way out is named. Half a setting is refused: a host without a sender, a
//! password without a user, or any of them without a way out would go unnoticed until the morning on
//! which no mail came.

use crate::actions::mail::Making;
use crate::config::{Config, ConfigError};
use lettre::message::Mailbox;
use std::path::PathBuf;

/// How mail goes out.
#[derive(Clone, Debug)]
pub struct MailPlan {
    /// When it is made, and where links in it lead.
    pub making: Making,
    /// The sender.
    pub from: Mailbox,
    /// The host of the service, for Message-IDs and greetings.
    pub host: String,
    /// The way out.
    pub way: Way,
}

/// A way out.
#[derive(Clone, Debug)]
pub enum Way {
    /// One file a message into a folder.
    Folder(PathBuf),
    /// A mail server.
    Server(Server),
}

/// A mail server.
#[derive(Clone)]
pub struct Server {
    /// Its name.
    pub host: String,
    /// Its port.
    pub port: u16,
    /// How what is said to it is kept secret.
    pub secrecy: Secrecy,
    /// Whom to sign in as, and the password.
    pub sign_in: Option<(String, String)>,
}

impl std::fmt::Debug for Server {
    /// Without the password: what is printed may end in a log (promise S5).
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}:{} ({:?})", self.host, self.port, self.secrecy)
    }
}

/// How what is said to a mail server is kept secret.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Secrecy {
    /// Begun in clear, and not one word more without TLS.
    StartTls,
    /// From the first byte.
    Tls,
    /// Not at all; only on this machine.
    Nothing,
}

const ALL: [&str; 8] = [
    "mail_from",
    "mail_folder",
    "mail_host",
    "mail_tls",
    "mail_port",
    "mail_user",
    "mail_password",
    "mail_hour",
];

fn wrong<T>(text: impl Into<String>) -> Result<T, ConfigError> {
    Err(ConfigError(text.into()))
}

impl MailPlan {
    /// Reads the settings; `None`: no mail goes out. `origin`: where people reach the service.
    pub fn of(config: &Config, origin: Option<&str>) -> Result<Option<MailPlan>, ConfigError> {
        let Some(transport) = config.get("mail_transport") else {
            return match ALL.iter().find(|key| config.get(key).is_some()) {
                None => Ok(None),
                Some(key) => wrong(format!(
                    "expected mail_transport (smtp or file) beside {key}, came none. Set it, or \
                     remove {key}: without it no mail goes out."
                )),
            };
        };
        let way = match transport {
            "file" => Way::Folder(folder(config)?),
            "smtp" => Way::Server(server(config)?),
            other => {
                return wrong(format!(
                    "expected mail_transport to be smtp or file, came '{other}'."
                ));
            }
        };
        let Some(origin) = origin else {
            return wrong(
                "expected the setting origin with mail_transport, came none. Set it to what \
                 browsers show of the address, such as https://book.example: messages link there.",
            );
        };
        let host = origin.split("://").nth(1).unwrap_or(origin);
        Ok(Some(MailPlan {
            making: Making {
                hour: hour(config)?,
                base: origin.to_string(),
            },
            from: from(config)?,
            host: host.split(':').next().unwrap_or(host).to_string(),
            way,
        }))
    }

    /// The plan in a line, without a password.
    pub fn shown(&self) -> String {
        match &self.way {
            Way::Folder(folder) => format!("into the folder {}", folder.display()),
            Way::Server(server) => format!("through {server:?}"),
        }
    }
}

/// Settings that have no meaning with this way out are refused: they were meant for the other.
fn without(config: &Config, transport: &str, keys: &[&str]) -> Result<(), ConfigError> {
    match keys.iter().find(|key| config.get(key).is_some()) {
        None => Ok(()),
        Some(key) => wrong(format!(
            "expected no {key} with mail_transport {transport}, came one. Remove it, or take the \
             other transport."
        )),
    }
}

fn folder(config: &Config) -> Result<PathBuf, ConfigError> {
    without(config, "file", &ALL[2..7])?;
    let Some(folder) = config.get("mail_folder") else {
        return wrong("expected mail_folder with mail_transport file, came none. Name a folder.");
    };
    let folder = PathBuf::from(folder);
    match folder.is_dir() {
        true => Ok(folder),
        false => wrong(format!(
            "expected mail_folder to be a folder, came '{}'. Make it first; the service must be \
             able to write there.",
            folder.display()
        )),
    }
}

fn server(config: &Config) -> Result<Server, ConfigError> {
    without(config, "smtp", &ALL[1..2])?;
    let Some(host) = config.get("mail_host") else {
        return wrong("expected mail_host with mail_transport smtp, came none. Name the server.");
    };
    let secrecy = match config.get("mail_tls").unwrap_or("starttls") {
        "starttls" => Secrecy::StartTls,
        "tls" => Secrecy::Tls,
        "none" if ["localhost", "127.0.0.1", "::1"].contains(&host) => Secrecy::Nothing,
        "none" => {
            return wrong(format!(
                "expected starttls or tls in mail_tls for the mail server {host}, came none, which \
                 is for a mail server on this machine only (localhost)."
            ));
        }
        other => {
            return wrong(format!(
                "expected mail_tls to be starttls, tls or none, came '{other}'."
            ));
        }
    };
    let usual = match secrecy {
        Secrecy::StartTls => 587,
        Secrecy::Tls => 465,
        Secrecy::Nothing => 25,
    };
    let port = match config.get("mail_port") {
        None => usual,
        Some(text) => match text.parse().ok().filter(|port| *port > 0) {
            Some(port) => port,
            None => {
                return wrong(format!(
                    "expected mail_port to be a number from 1 to 65535, came '{text}'."
                ));
            }
        },
    };
    let sign_in = match (config.get("mail_user"), config.get("mail_password")) {
        (None, None) => None,
        (Some(user), Some(password)) => Some((user.to_string(), password.to_string())),
        (Some(_), None) => {
            return wrong(
                "expected mail_password or mail_password_file beside mail_user, came none. Give \
                 the password, or remove mail_user.",
            );
        }
        (None, Some(_)) => {
            return wrong(
                "expected mail_user beside mail_password, came none. Say whose password it is, or \
                 remove it.",
            );
        }
    };
    let host = host.to_string();
    Ok(Server {
        host,
        port,
        secrecy,
        sign_in,
    })
}

fn from(config: &Config) -> Result<Mailbox, ConfigError> {
    let text = config.get("mail_from").unwrap_or_default();
    text.parse().or_else(|_| {
        wrong(format!(
            "expected mail_from to be an address such as book@tamarack.example or 'Book \
             <book@tamarack.example>', came '{text}'."
        ))
    })
}

fn hour(config: &Config) -> Result<u8, ConfigError> {
    let text = config.get("mail_hour").unwrap_or("6");
    match text.parse().ok().filter(|hour| *hour <= 23) {
        Some(hour) => Ok(hour),
        None => wrong(format!(
            "expected mail_hour to be a number from 0 to 23, came '{text}'."
        )),
    }
}
