//! The service over HTTP, as phones, pages and programs meet it.

mod lists;
mod once;
mod refusals;
mod separation;
