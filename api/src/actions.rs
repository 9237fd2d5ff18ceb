//! What a person can do.
//!
//! One action books all of it or nothing. It reads what was asked ([`request`]), resolves names
//! and masses, judges what must be stopped or asked ([`judge`]), and appends one entry. A fact that
//! has happened is never refused: only malformed values, unknown ids and missing permission are.
//! Each kind of entry has a file of its own, named after the trade's word for it.

pub mod adopt;
pub mod answer;
pub mod assign;
pub mod begin;
pub mod calendar;
pub mod code;
pub mod correct;
pub mod decide;
pub mod desk;
pub mod device;
pub mod foreseen;
pub mod import;
pub mod judge;
pub mod link;
pub mod mail;
pub mod manage_people;
pub mod moves;
pub mod permit;
pub mod physics;
pub mod post;
pub mod preview_rules;
pub mod recorded;
pub mod refusal;
pub mod register;
pub mod report;
pub mod request;
pub mod rules_in_force;
pub mod settle;
pub mod show;
pub mod standings;
pub mod what_if;
pub mod when;

mod candidate;
mod charge;
pub mod count;
mod loss;
pub mod measured;
mod observation;
mod opening;
mod outside_charge;
mod purchase;
mod recover;
mod redesignate;
mod send;
pub mod service;
pub mod statement;
mod transfer;

pub use crate::store::StoreError;
pub use charge::REASONS as CHARGE_REASONS;
pub use recover::{CLASSES, REASONS as RECOVER_REASONS};

pub use answer::{FindingLeft, Posted};
pub use refusal::{ActionError, Question, Refusal};
