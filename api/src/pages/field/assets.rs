//! Scripts and style of the field pages, inside the program and under an address that names them.
//!
//! The address changes with the contents, so that a phone keeps what it loaded for good and never
//! mixes parts of two versions. Nothing is built or joined: a file is served as it is written.

use crate::http::Problem;
use crate::ledger::tree::sha256;
use crate::pages::figures;
use crate::pages::way::Visit;
use actix_web::HttpResponse;
use actix_web::http::header::CACHE_CONTROL;
use std::sync::LazyLock;

const SCRIPT: &str = "text/javascript; charset=utf-8";
const STYLE: &str = "text/css; charset=utf-8";

/// Name, media type, contents.
static FILES: &[(&str, &str, &str)] = &[
    (
        "field.css",
        STYLE,
        include_str!("../../../assets/field/field.css"),
    ),
    (
        "boxes.mjs",
        SCRIPT,
        include_str!("../../../assets/field/boxes.mjs"),
    ),
    (
        "dom.mjs",
        SCRIPT,
        include_str!("../../../assets/field/dom.mjs"),
    ),
    (
        "field.mjs",
        SCRIPT,
        include_str!("../../../assets/field/field.mjs"),
    ),
    (
        "mass.mjs",
        SCRIPT,
        include_str!("../../../assets/field/mass.mjs"),
    ),
];

static VERSION: LazyLock<String> = LazyLock::new(|| {
    let mut all = include_bytes!("../../../assets/tarebook.css").to_vec();
    for (name, _, text) in FILES {
        all.extend_from_slice(format!("\n{name}\n{text}").as_bytes());
    }
    figures::print(&sha256(&all), 12)
});

/// Names the contents of all files together.
pub fn version() -> &'static str {
    &VERSION
}

/// `GET /assets/field/{version}/{name}`. A page of an older version gets what there is now, and
/// keeps it for this once.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let (asked, name) = (visit.asked.name("version"), visit.asked.name("name"));
    let file = FILES.iter().find(|(known, ..)| *known == name);
    let Some((_, kind, text)) = file else {
        let detail = "There is no such file among those of the field pages.";
        return Err(Problem::new("not-found", detail));
    };
    let keep = match asked == version() {
        true => "public, max-age=31536000, immutable",
        false => "no-store",
    };
    Ok(HttpResponse::Ok()
        .content_type(*kind)
        .insert_header((CACHE_CONTROL, keep))
        .body(*text))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Scripts name each other relative to themselves; a name that is no file stops all of them.
    #[test]
    fn every_file_that_a_script_names_is_served() {
        for (name, _, text) in FILES {
            for (at, _) in text.match_indices("\"./") {
                let rest = &text[at + 3..];
                let named = rest.split('"').next().unwrap_or_default();
                let known = FILES.iter().any(|(known, ..)| *known == named);
                assert!(known, "{name} names {named}");
            }
        }
        assert_eq!(version().len(), 12);
    }
}
