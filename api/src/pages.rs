//! The pages: what people see in a browser.
//!
//! Every page is plain HTML that works without any script, on a telephone and on a desk, and prints.
//! A page reads through the same actions as the JSON interface and posts through the same door; it
//! knows nothing of refrigerant itself. Templates lie in `api/templates`, styles in `api/assets`.

// A refusal is made at most once for a request; a box would only make it harder to read.
#![allow(clippy::result_large_err)]

pub mod appliance;
pub mod appliances;
mod assets;
pub mod assign;
pub mod book;
pub mod cage;
pub mod calendar;
pub mod cautions;
pub mod chain;
pub mod changed;
pub mod complete;
pub mod correct;
pub mod cylinder;
pub mod duties;
pub mod duty;
pub mod escape;
pub mod factor;
pub mod field;
pub mod figures;
pub mod finding;
pub mod findings;
pub mod fleet;
pub mod form;
pub mod form_token;
pub mod frame;
mod known;
pub mod label;
pub mod labels;
pub mod lines;
pub mod loss;
pub mod mail;
pub mod message;
mod nowhere;
pub mod people;
pub mod picture;
pub mod post;
pub mod posting;
pub mod qr;
pub mod receipt;
pub mod record;
pub mod rules;
pub mod service;
pub mod shipment;
pub mod shipments;
pub mod sign_in;
pub mod spark;
pub mod standing;
pub mod table;
mod taken;
pub mod today;
pub mod tools;
pub mod way;
pub mod weeks;
pub mod words;
pub mod worked;
pub mod year;

pub use nowhere::nowhere;
pub use way::serve;

#[cfg(test)]
mod sample;

/// The address of an appliance: its tag where an address can carry it as it is, else its id.
pub fn appliance_path(tag: &str, id: &str) -> String {
    let plain = |byte: u8| byte.is_ascii_alphanumeric() || b"-_.~".contains(&byte);
    let name = if !tag.is_empty() && tag.bytes().all(plain) && !tag.starts_with('.') {
        tag
    } else {
        id
    };
    format!("/appliances/{name}")
}

/// The address of a cylinder, likewise.
pub fn cylinder_path(tag: &str, id: &str) -> String {
    appliance_path(tag, id).replacen("/appliances/", "/cylinders/", 1)
}

/// A text as a value in the query of an address.
pub fn encoded(text: &str) -> String {
    percent_encoding::utf8_percent_encode(text, percent_encoding::NON_ALPHANUMERIC).to_string()
}
