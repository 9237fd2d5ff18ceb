//! What all tests share: how to get a database and how to run the real program.

pub mod book;
pub mod browsing;
pub mod busy;
pub mod database;
pub mod firm;
pub mod measured;
pub mod people;
pub mod reply;
pub mod schema;
pub mod service;
pub mod shop;
