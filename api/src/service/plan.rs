//! The plan of a service: its settings, read and checked before anything is started.

use super::mail::MailPlan;
use crate::auth::Limits;
use crate::auth::access::{LEAST_DAYS, USUAL_DAYS};
use crate::config::{Config, ConfigError, Place};
use crate::http::Reached;
use crate::store::Address;
use crate::store::writer::BATCH;
use reports::physics::ManufacturerTable;
use std::net::{IpAddr, SocketAddr};
use std::path::PathBuf;

/// Where the service listens unless it is said otherwise.
pub const USUAL_ADDRESS: &str = "127.0.0.1:8080";

/// Everything a service is built from.
#[derive(Clone, Debug)]
pub struct Plan {
    /// Where the books are.
    pub address: Address,
    /// The folder of the signing keys.
    pub keys: PathBuf,
    /// Where the interface listens.
    pub listen: SocketAddr,
    /// Where measurements are given; none: nowhere.
    pub metrics: Option<SocketAddr>,
    /// Threads that answer requests.
    pub workers: usize,
    /// Postings that share a commit at most.
    pub postings_per_commit: usize,
    /// Cores of the machine: so many passwords are hashed at once.
    pub cores: usize,
    /// Connections for reading.
    pub readers: usize,
    /// How the service is reached.
    pub reached: Reached,
    /// For how many days access records are kept.
    pub access_days: u32,
    /// How mail goes out; none: not at all.
    pub mail: Option<MailPlan>,
    /// How long sessions last.
    pub limits: Limits,
    /// What is logged.
    pub log_level: String,
    /// How.
    pub log_format: LogFormat,
    /// Saturation tables of manufacturers.
    pub tables: Vec<ManufacturerTable>,
}

/// How the log is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LogFormat {
    /// One JSON object a line.
    Json,
    /// For a terminal.
    Text,
}

impl Plan {
    /// Reads the settings; the first that is wrong is said.
    pub fn of(config: &Config) -> Result<Plan, ConfigError> {
        let place = config.place()?;
        let keys = config.keys(&place)?;
        let address = match place {
            Place::Folder(folder) => Address::Folder(folder),
            Place::Url(url) => {
                Address::from_url(&url).map_err(|error| ConfigError(error.to_string()))?
            }
        };
        Plan::at(address, keys, config)
    }

    /// The plan for books at another place than the settings name.
    pub fn at(address: Address, keys: PathBuf, config: &Config) -> Result<Plan, ConfigError> {
        let listen = socket(config, "listen")?.unwrap_or(([127, 0, 0, 1], 8080).into());
        let cores = std::thread::available_parallelism().map_or(1, usize::from);
        let count = |key: &str, usual: usize| match config.get(key) {
            None => Ok(usual),
            Some(text) => number(text, 1, 256).ok_or_else(|| {
                ConfigError(format!(
                    "expected {key} to be a number from 1 to 256, came '{text}'."
                ))
            }),
        };
        let reached = reached(config, listen)?;
        Ok(Plan {
            address,
            keys,
            listen,
            metrics: socket(config, "metrics_listen")?,
            workers: count("workers", cores)?,
            postings_per_commit: count("postings_per_commit", BATCH)?,
            cores,
            readers: (cores * 2).clamp(4, 16),
            access_days: access_days(config)?,
            mail: MailPlan::of(config, reached.origin.as_deref())?,
            reached,
            limits: Limits::default(),
            tables: super::tables::of(config)?,
            log_level: level(config)?,
            log_format: match config.get("log_format").unwrap_or("json") {
                "json" => LogFormat::Json,
                "text" => LogFormat::Text,
                other => {
                    let text = format!("expected log_format to be json or text, came '{other}'.");
                    return Err(ConfigError(text));
                }
            },
        })
    }
}

impl Plan {
    /// The same plan, listening elsewhere.
    pub fn listen_on(&mut self, listen: SocketAddr, config: &Config) -> Result<(), ConfigError> {
        self.listen = listen;
        self.reached = reached(config, listen)?;
        Ok(())
    }
}

/// For how many days access records are kept.
pub fn access_days(config: &Config) -> Result<u32, ConfigError> {
    let Some(text) = config.get("access_records_days") else {
        return Ok(USUAL_DAYS);
    };
    let read = text.parse().ok();
    read.filter(|days| (LEAST_DAYS..=36_500).contains(days))
        .ok_or_else(|| {
            ConfigError(format!(
                "expected access_records_days to be a number of days from {LEAST_DAYS} to 36500, came \
                 '{text}'."
            ))
        })
}

fn number(text: &str, least: usize, most: usize) -> Option<usize> {
    text.parse()
        .ok()
        .filter(|number| (least..=most).contains(number))
}

fn socket(config: &Config, key: &str) -> Result<Option<SocketAddr>, ConfigError> {
    let read = |text: &str| {
        text.parse().map_err(|_| {
            ConfigError(format!(
                "expected {key} to be an address with a port such as {USUAL_ADDRESS} or [::1]:8080, \
                 came '{text}'."
            ))
        })
    };
    config.get(key).map(read).transpose()
}

fn level(config: &Config) -> Result<String, ConfigError> {
    let level = config.get("log_level").unwrap_or("info");
    match ["error", "warn", "info", "debug", "trace"].contains(&level) {
        true => Ok(level.to_string()),
        false => Err(ConfigError(format!(
            "expected log_level to be one of error, warn, info, debug, trace, came '{level}'."
        ))),
    }
}

fn reached(config: &Config, listen: SocketAddr) -> Result<Reached, ConfigError> {
    let origin = config
        .get("origin")
        .map(|text| text.trim_end_matches('/').to_string());
    if let Some(origin) = &origin {
        let host = origin
            .strip_prefix("https://")
            .or(origin.strip_prefix("http://"));
        let good = host.is_some_and(|host| {
            !host.is_empty()
                && host
                    .bytes()
                    .all(|b| b.is_ascii_alphanumeric() || b"-.:[]".contains(&b))
        });
        if !good {
            return Err(ConfigError(format!(
                "expected origin to be what browsers show of the address, such as \
                 https://book.example, came '{origin}'."
            )));
        }
    }
    let mut proxies = Vec::new();
    for part in config
        .get("trusted_proxies")
        .unwrap_or_default()
        .split([',', ' '])
    {
        if !part.is_empty() {
            proxies.push(part.parse::<IpAddr>().map_err(|_| {
                ConfigError(format!(
                    "expected trusted_proxies to be IP addresses with commas between them, came \
                     '{part}'."
                ))
            })?);
        }
    }
    let secure = match &origin {
        Some(origin) => origin.starts_with("https://"),
        None => !listen.ip().is_loopback(),
    };
    Ok(Reached {
        origin,
        secure,
        proxies,
    })
}
