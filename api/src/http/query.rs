//! Members of the query: known names only, each once, each within its range.

use super::problem::Problem;
use reports::day::Day;
use std::collections::BTreeMap;

/// Items of a page unless it is said otherwise.
pub const USUAL_PAGE: usize = 100;
/// Most items of a page (promise A3).
pub const LARGEST_PAGE: usize = 500;

/// Largest whole number that every JSON reader keeps exactly: 2^53 - 1, as in a leaf.
const LARGEST_NUMBER: u64 = 9_007_199_254_740_991;

/// The members of a query.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Query(BTreeMap<String, String>);

impl Query {
    /// Reads a query; `known`: the names it may hold.
    pub fn read(text: &str, known: &[&str]) -> Result<Query, Problem> {
        let mut members = BTreeMap::new();
        for part in text.split('&').filter(|part| !part.is_empty()) {
            let (name, value) = part.split_once('=').unwrap_or((part, ""));
            let (Some(name), Some(value)) = (decoded(name), decoded(value)) else {
                let detail = "Expected a query in UTF-8, percent-encoded, got other bytes.";
                return Err(Problem::new("malformed", detail));
            };
            let shown = crate::actions::refusal::shown(&name);
            if !known.contains(&name.as_str()) {
                let known = match known.is_empty() {
                    true => "none".to_string(),
                    false => known.join(", "),
                };
                let detail = format!("There is no member {shown} of this query. Known: {known}.");
                return Err(Problem::at("unknown-field", &format!("?{name}"), detail));
            }
            if value.len() > 1_000 || value.contains('\0') {
                return Err(invalid(&name, "at most 1000 characters of text", &value));
            }
            let pointer = format!("?{name}");
            if members.insert(name, value).is_some() {
                let detail = format!("Expected the member {shown} once, got it twice.");
                return Err(Problem::at("invalid-value", &pointer, detail));
            }
        }
        Ok(Query(members))
    }

    /// The text of a member.
    pub fn text(&self, name: &str) -> Option<&str> {
        self.0.get(name).map(String::as_str)
    }

    /// All members, by name.
    pub fn members(&self) -> impl Iterator<Item = (&str, &str)> {
        self.0
            .iter()
            .map(|(name, value)| (name.as_str(), value.as_str()))
    }

    /// A whole number.
    pub fn number(&self, name: &str) -> Result<Option<u64>, Problem> {
        let read = |text: &str| {
            let number = text.parse::<u64>().ok().filter(|n| *n <= LARGEST_NUMBER);
            number.ok_or_else(|| invalid(name, "a whole number", text))
        };
        self.text(name).map(read).transpose()
    }

    /// A day.
    pub fn day(&self, name: &str) -> Result<Option<Day>, Problem> {
        let read = |text: &str| {
            Day::parse(text).ok_or_else(|| invalid(name, "a day written YYYY-MM-DD", text))
        };
        self.text(name).map(read).transpose()
    }

    /// One of some words; the first is meant when there is none.
    pub fn word<'w>(&self, name: &str, words: &[&'w str]) -> Result<&'w str, Problem> {
        let Some(text) = self.text(name) else {
            return Ok(words[0]);
        };
        let known = words.iter().find(|word| **word == text);
        known
            .copied()
            .ok_or_else(|| invalid(name, &format!("one of {}", words.join(", ")), text))
    }

    /// How many items a page shall have.
    pub fn limit(&self) -> Result<usize, Problem> {
        let Some(text) = self.text("limit") else {
            return Ok(USUAL_PAGE);
        };
        let number = text.parse::<usize>().ok();
        number
            .filter(|n| (1..=LARGEST_PAGE).contains(n))
            .ok_or_else(|| invalid("limit", &format!("a number from 1 to {LARGEST_PAGE}"), text))
    }

    /// The same query with another member, as text for a link.
    pub fn with(&self, name: &str, value: &str) -> String {
        let mut members = self.0.clone();
        members.insert(name.to_string(), value.to_string());
        let member =
            |(name, value): (&String, &String)| format!("{}={}", encoded(name), encoded(value));
        members.iter().map(member).collect::<Vec<_>>().join("&")
    }
}

/// A member whose value does not fit.
pub fn invalid(name: &str, expected: &str, came: &str) -> Problem {
    let came = crate::actions::refusal::shown(came);
    let detail = format!("Expected {expected}, got {came}.");
    Problem::at("invalid-value", &format!("?{name}"), detail)
}

/// Undoes the encoding of a member: a plus is a blank, as forms send it.
fn decoded(text: &str) -> Option<String> {
    percent_decoded(&text.replace('+', " "))
}

/// Undoes percent-encoding (RFC 3986, section 2.1).
pub fn percent_decoded(text: &str) -> Option<String> {
    let mut bytes = Vec::with_capacity(text.len());
    let mut rest = text.bytes();
    while let Some(byte) = rest.next() {
        match byte {
            b'%' => {
                let mut digit = || char::from(rest.next()?).to_digit(16);
                bytes.push(u8::try_from(digit()? * 16 + digit()?).ok()?);
            }
            byte => bytes.push(byte),
        }
    }
    String::from_utf8(bytes).ok()
}

/// Percent-encodes everything but the unreserved characters (RFC 3986, section 2.3).
pub fn encoded(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for byte in text.bytes() {
        if byte.is_ascii_alphanumeric() || b"-._~".contains(&byte) {
            out.push(char::from(byte));
        } else {
            out.push_str(&format!("%{byte:02X}"));
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_known_members_each_once() {
        let query = Query::read("after=HG%20RACK+A&limit=7", &["after", "limit"]).expect("a query");
        assert_eq!(query.text("after"), Some("HG RACK A"));
        assert_eq!(query.limit().expect("a number"), 7);
        assert_eq!(query.with("after", "ü/1"), "after=%C3%BC%2F1&limit=7");
        for (text, slug) in [
            ("colour=red", "unknown-field"),
            ("after=1&after=2", "invalid-value"),
            ("after=%zz", "malformed"),
            ("after=%ff", "malformed"),
            ("after=%00", "invalid-value"),
        ] {
            assert_eq!(
                Query::read(text, &["after"]).expect_err(text).kind.slug,
                slug
            );
        }
        for bad in ["0", "501", "-1", "1.0", "", "99999999999999999999"] {
            let query = Query::read(&format!("limit={bad}"), &["limit"]).expect("a query");
            assert!(query.limit().is_err(), "{bad}");
        }
    }
}
