//! The outbox: what is kept on this phone. The page is a frame; the script fills it from the phone,
//! because nobody else has these entries yet.

use super::{FieldFrame, page};
use crate::actions::permit::posts;
use crate::http::Problem;
use crate::ledger::actor::Role;
use crate::ledger::entry::EntryKind;
use crate::pages::service::STEPS;
use crate::pages::way::Visit;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;

/// The page.
#[derive(Clone, Debug, Default, Template)]
#[template(path = "field/outbox.html")]
pub struct OutboxPage {
    /// Around the page.
    pub field: FieldFrame,
}

/// `GET /field/outbox`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let shown = OutboxPage {
        field: FieldFrame::of(&visit)?,
    };
    Ok(page(StatusCode::OK, &shown))
}

/// The page that loads a file which a phone saved.
#[derive(Clone, Debug, Default, Template)]
#[template(path = "field/load.html")]
pub struct LoadPage {
    /// Around the page.
    pub field: FieldFrame,
    /// Words of the kinds that a file may hold.
    pub kinds: String,
}

/// What a phone posts besides the steps of the service record: each has a form among the field pages.
const FORMS: [EntryKind; 7] = [
    EntryKind::Charge,
    EntryKind::Recover,
    EntryKind::Correction,
    EntryKind::Appliance,
    EntryKind::Cylinder,
    EntryKind::Count,
    EntryKind::Observation,
];

/// The kinds that an outbox may hold: what a technician posts by a form of the field pages. Whoever
/// loads a file books in their own role, so that nothing else may slip in with it.
pub fn kinds() -> impl Iterator<Item = EntryKind> {
    let all = FORMS.into_iter().chain(STEPS.iter().copied());
    all.filter(|kind| posts(Role::Technician, *kind))
}

/// `GET /field/load`.
pub async fn load(visit: Visit) -> Result<HttpResponse, Problem> {
    let kinds: Vec<&str> = kinds().map(|kind| kind.word()).collect();
    let shown = LoadPage {
        field: FieldFrame::of(&visit)?,
        kinds: kinds.join(" "),
    };
    Ok(page(StatusCode::OK, &shown))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// All that has a form is a technician's to post, but for the manager's decisions; what moves stock
    /// or settles a finding is posted by no phone.
    #[test]
    fn a_file_holds_what_a_phone_posts_and_nothing_else() {
        let kinds: Vec<EntryKind> = kinds().collect();
        assert!(FORMS.iter().all(|kind| kinds.contains(kind)));
        for other in [
            EntryKind::Settle,
            EntryKind::Decision,
            EntryKind::Purchase,
            EntryKind::Person,
            EntryKind::RuleSet,
        ] {
            assert!(!kinds.contains(&other), "{}", other.word());
        }
        let html = LoadPage {
            kinds: kinds
                .iter()
                .map(|kind| kind.word())
                .collect::<Vec<_>>()
                .join(" "),
            ..LoadPage::default()
        };
        let html = html.render().expect("a page");
        assert!(html.contains("data-kinds=\"charge recover "), "{html}");
    }
}
