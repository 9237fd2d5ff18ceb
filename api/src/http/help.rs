//! Help pages: what a type of problem, a question or a stop means and what to do. Plain HTML that
//! needs no script; the address of each is what answers name.

use super::answer::Asked;
use super::problem::Problem;
use super::problem::kinds::KINDS;
use crate::actions::decide::{is_stop, known_codes};
use crate::actions::show;
use crate::actions::show::findings::says;
use actix_web::HttpResponse;

/// Text as HTML shows it.
pub fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            letter => out.push(letter),
        }
    }
    out
}

/// A page of our own.
pub fn page(title: &str, body: &str) -> HttpResponse {
    let title = escaped(title);
    let html = format!(
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <title>{title} - tarebook</title>\n</head>\n<body>\n<main>\n<h1>{title}</h1>\n{body}\n\
         </main>\n</body>\n</html>\n"
    );
    HttpResponse::Ok()
        .content_type("text/html; charset=utf-8")
        .body(html)
}

/// `GET /problems/{slug}`.
pub async fn problem(asked: Asked) -> Result<HttpResponse, Problem> {
    let slug = &asked.name("slug");
    let kind = KINDS.iter().find(|kind| kind.slug == slug);
    let kind = kind.ok_or_else(|| show::unknown("type of problem", slug))?;
    let body = format!(
        "<p>{}</p>\n<p>Status {}, type <code>{}</code>. <a href=\"/api/v1/docs\">All there is to \
         ask</a>.</p>",
        escaped(kind.help),
        kind.status,
        kind.path()
    );
    Ok(page(kind.title, &body))
}

/// `GET /questions/{code}`.
pub async fn question(asked: Asked) -> Result<HttpResponse, Problem> {
    let code = &asked.name("code");
    let known = known_codes().into_iter().find(|(known, _)| *known == code);
    let (code, choices) = known.ok_or_else(|| show::unknown("question", code))?;
    let what = if is_stop(code) {
        "A stop before pouring. If it has happened already, answer <code>already_happened</code>: it \
         is booked, the cylinder is put under quarantine and the manager is told. \
         <code>lifted</code> is for a compliance manager, with <code>reason_text</code>, where the \
         stop may be lifted at all."
    } else {
        "A question about something that looks like a slip. Send the same request again with the \
         answer; it is kept with the entry and may leave a finding."
    };
    let items: String = choices
        .iter()
        .map(|choice| format!("<li><code>{choice}</code></li>\n"))
        .collect();
    let body = format!(
        "<p>{}.</p>\n<p>{what}</p>\n<p>Answers:</p>\n<ul>\n{items}</ul>\n\
         <p>Example: <code>\"answers\": {{\"{code}\": \"{}\"}}</code></p>",
        escaped(says(code)),
        choices.first().copied().unwrap_or_default()
    );
    Ok(page(&code.replace('_', " "), &body))
}
