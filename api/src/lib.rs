//! tarebook, the service: rooms with one kind of knowledge each.

pub mod actions;
pub mod auth;
pub mod cli;
pub mod clock;
pub mod config;
pub mod demo;
pub mod http;
pub mod ledger;
pub mod pages;
pub mod service;
pub mod store;
