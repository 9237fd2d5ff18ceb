//! The JSON interface: what all its requests have in common.
//!
//! Every route of [`routes`] goes through `answer::answer`: it finds out who asks and whether they
//! may, reads the body within its limits, runs the handler and turns whatever comes of it into an
//! answer with the same headers, one line of log and one measurement. Handlers are thin: they read
//! the request, call one action and shape the answer.

// A refusal is made at most once for a request; a box would only make it harder to read.
#![allow(clippy::result_large_err)]

pub mod access;
pub mod answer;
pub mod asker;
pub mod body;
pub mod calendar;
pub mod duties;
mod entries;
pub mod factor;
mod findings;
pub mod hashers;
pub mod health;
mod help;
mod listed;
mod log;
pub mod mail;
pub mod metrics;
mod openapi;
pub mod people;
mod physics;
pub mod problem;
pub mod query;
mod registers;
mod reports;
pub mod routes;
mod rule_sets;
pub mod second_step;
pub mod sessions;
pub mod shipments;
mod stream;
pub mod tokens;
pub mod told;

pub use answer::serve;
pub use problem::Problem;

use crate::actions::desk::Desk;
use crate::auth::Door;
use hashers::Hashers;
use metrics::Metrics;
use std::net::IpAddr;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize};
use tokio::sync::Semaphore;

/// Most bytes of a request's body (promise A3).
pub const LARGEST_BODY: usize = 256 * 1024;
/// Most bytes of bodies that wait for the book at once; one more is asked to come again.
pub const MOST_WAITING: usize = 64 * 1024 * 1024;
/// Reports that are made at once.
pub const REPORTS: usize = 4;

/// What is the same for all requests.
pub struct State {
    /// Where actions reach the book.
    pub desk: Desk,
    /// Limits of signing in, and who was seen when.
    pub door: Door,
    /// Where passwords are hashed.
    pub hashers: Hashers,
    /// Tells the time, microseconds since 1970.
    pub now: fn() -> i64,
    /// How the service is reached.
    pub reached: Reached,
    /// What is measured.
    pub metrics: Metrics,
    /// For how many days access records are kept.
    pub access_days: u32,
    /// Does mail go out?
    pub sends_mail: bool,
    /// Somebody chose mail just now: it need not wait for the next minute.
    pub mail_chosen: AtomicBool,
    /// Permits of reports.
    pub reports: Arc<Semaphore>,
    /// Bytes of bodies that wait for the book.
    pub waiting: AtomicUsize,
    /// Is the service about to stop?
    pub stopping: AtomicBool,
}

/// How the service is reached.
#[derive(Clone, Debug, Default)]
pub struct Reached {
    /// The origin that browsers see, `https://book.example`; none: that of the request's Host.
    pub origin: Option<String>,
    /// Does TLS end before us (or is this not a loopback address)? Then cookies are `__Host-`.
    pub secure: bool,
    /// Proxies whose word on the client's address is believed.
    pub proxies: Vec<IpAddr>,
}
