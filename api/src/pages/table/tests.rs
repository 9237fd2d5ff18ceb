//! What must hold of the table of the pages.

use super::*;
use crate::http::routes::ROUTES;

/// Every form needs a session but the two that open it; nothing changes by being looked at.
#[test]
fn whatever_changes_something_is_for_somebody() {
    for row in PAGES.iter().filter(|row| row.verb == Verb::Post) {
        let opens = ["/sign-in", "/sign-in/code"].contains(&row.path);
        assert!(row.entry != Open || opens, "{}", row.path);
        // What an address opens is found by the secret in it.
        let secret = row.path.contains("{secret}");
        assert_eq!(row.entry == Address, secret, "{}", row.path);
    }
}

#[test]
fn no_page_stands_where_the_interface_answers() {
    for row in PAGES {
        assert!(
            ROUTES.iter().all(|route| route.path != row.path),
            "{}",
            row.path
        );
    }
}
