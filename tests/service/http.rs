//! The service over HTTP, as phones, pages and programs meet it.

mod once;
