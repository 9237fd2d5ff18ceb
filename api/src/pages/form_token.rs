//! The token of a form: it shows that the form was made for the session that sends it.
//!
//! It is worked out from the secret of the session and needs no memory: another site can make a
//! browser send the cookie along, but cannot read it and so cannot know the token.

use crate::ledger::tree::sha256;

/// The token of the forms of a session.
pub fn of(session_secret: &str) -> String {
    let hash = sha256(format!("tarebook/form/v1\n{session_secret}").as_bytes());
    super::figures::print(&hash, 64)
}

/// Is this the token? Both are hashed once more, so that the time of the comparison says nothing.
pub fn fits(token: &str, brought: &str) -> bool {
    !token.is_empty() && sha256(token.as_bytes()) == sha256(brought.as_bytes())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_token_fits_its_own_session_only() {
        let (mine, other) = (of("secret one"), of("secret two"));
        assert_eq!(mine.len(), 64);
        assert!(fits(&mine, &mine));
        assert!(!fits(&mine, &other));
        assert!(!fits(&mine, ""));
        assert!(!fits("", ""), "without a session nothing fits");
        assert!(!mine.contains("secret"));
    }
}
