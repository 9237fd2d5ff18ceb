//! Answers of the service, and what a test expects of them.

use crate::firm::Who;
use serde_json::Value;

/// An answer.
#[derive(Debug)]
pub struct Reply {
    /// Its status.
    pub status: u16,
    /// Its headers, names in lower case.
    pub headers: Vec<(String, String)>,
    /// Its body.
    pub body: Vec<u8>,
}

impl Reply {
    /// The body as JSON.
    pub fn json(&self) -> Value {
        serde_json::from_slice(&self.body)
            .unwrap_or_else(|error| panic!("{error}: {}", self.text()))
    }

    /// The body as text.
    pub fn text(&self) -> String {
        String::from_utf8_lossy(&self.body).into_owned()
    }

    /// A header.
    pub fn header(&self, name: &str) -> Option<&str> {
        let found = self.headers.iter().find(|(known, _)| known == name);
        found.map(|(_, value)| value.as_str())
    }

    /// The cookies that the answer sets, as a browser sends them back.
    pub fn cookies(&self) -> Who {
        let set = self.headers.iter().filter(|(name, _)| name == "set-cookie");
        let pairs: Vec<&str> = set
            .filter_map(|(_, value)| value.split(';').next())
            .collect();
        Who::Cookie(pairs.join("; "))
    }

    /// The last part of the problem's type.
    pub fn problem(&self) -> String {
        let kind = self.json()["type"].as_str().unwrap_or_default().to_string();
        kind.trim_start_matches("/problems/").to_string()
    }

    /// Fails unless the status is this one.
    #[track_caller]
    pub fn expect(self, status: u16) -> Reply {
        assert_eq!(self.status, status, "{}", self.text());
        self
    }

    /// Fails unless it is this problem.
    #[track_caller]
    pub fn expect_problem(self, status: u16, slug: &str) -> Reply {
        let reply = self.expect(status);
        assert_eq!(reply.problem(), slug, "{}", reply.text());
        reply
    }
}
