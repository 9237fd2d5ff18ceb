//! A page that only says something: not there, not allowed, not now.

use askama::Template;

/// The page.
#[derive(Clone, Debug, Default, Template)]
#[template(path = "message.html")]
pub struct MessagePage {
    /// What it is, in few words.
    pub title: String,
    /// What to do.
    pub detail: String,
    /// The number of the request, for the operator.
    pub request_id: Option<String>,
    /// Where it leads on, with the words of the button; none: to the book.
    pub to: Option<(&'static str, &'static str)>,
}

impl MessagePage {
    /// Nothing is there under this address, or it belongs to somebody else: both the same.
    pub fn not_here(detail: &str) -> MessagePage {
        MessagePage {
            title: "Not in this book".to_string(),
            detail: detail.to_string(),
            ..MessagePage::default()
        }
    }

    /// No page has this address.
    pub fn nothing_here() -> MessagePage {
        MessagePage {
            title: "Nothing stands at this address".to_string(),
            detail: "Look for a letter too many or too few in it, or begin anew with Today."
                .to_string(),
            to: Some(("/", "To Today")),
            ..MessagePage::default()
        }
    }

    /// The role lacks it.
    pub fn not_yours(detail: &str) -> MessagePage {
        MessagePage {
            title: "Not for your role".to_string(),
            detail: detail.to_string(),
            ..MessagePage::default()
        }
    }

    /// Somebody corrected it already.
    pub fn corrected(entry: u64, by: u64) -> MessagePage {
        MessagePage {
            title: format!("No. {entry} is corrected already"),
            detail: format!("No. {by} stands in its place. Open that one and correct it there."),
            ..MessagePage::default()
        }
    }

    /// It has no form here.
    pub fn not_corrected_here(entry: u64) -> MessagePage {
        MessagePage {
            title: format!("No. {entry} has no form here"),
            detail:
                "Charges and recoveries of one mass and steps of the service record are corrected \
                     on pages. This one is corrected by a compliance manager through the interface \
                     for programs (/api/v1/docs)."
                    .to_string(),
            ..MessagePage::default()
        }
    }

    /// The book cannot be reached.
    pub fn not_now() -> MessagePage {
        MessagePage {
            title: "The book cannot be reached".to_string(),
            detail: "Nothing was booked by this page. Wait a moment, go back and press again: the \
                     same form never books twice."
                .to_string(),
            ..MessagePage::default()
        }
    }

    /// The form was not one of ours, or too old.
    pub fn stale_form() -> MessagePage {
        MessagePage {
            title: "This form is too old".to_string(),
            detail: "It was made for another sign-in or came from another place. Nothing was \
                     booked. Open the page again and fill it in anew."
                .to_string(),
            ..MessagePage::default()
        }
    }
}
