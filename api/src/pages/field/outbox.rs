//! The outbox: what is kept on this phone. The page is a frame; the script fills it from the phone,
//! because nobody else has these entries yet.

use super::{FieldFrame, page};
use crate::http::Problem;
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
}

/// `GET /field/load`.
pub async fn load(visit: Visit) -> Result<HttpResponse, Problem> {
    let shown = LoadPage {
        field: FieldFrame::of(&visit)?,
    };
    Ok(page(StatusCode::OK, &shown))
}
