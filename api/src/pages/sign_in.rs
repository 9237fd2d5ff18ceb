//! Sign in: name and password; where a second factor is set up, its code on the next page.
//!
//! A wrong name and a wrong password look the same. Somebody whose address belongs to several
//! organisations is asked which, after the password was right.

use super::factor;
use super::way::{Visit, go_to, page, with_cookies};
use crate::actions::permit::Deed;
use crate::http::{Problem as HttpProblem, sessions};
use crate::ledger::actor::Role;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;
use reports::plural;
use serde_json::{Map, Value};

/// The page.
#[derive(Clone, Debug, Default, Template)]
#[template(path = "sign-in.html")]
pub struct SignInPage {
    /// What did not go well.
    pub problem: Option<Problem>,
    /// What is said without being a problem.
    pub notice: Option<String>,
    /// Where to go afterwards, a path of ours.
    pub next: String,
    /// What was typed.
    pub email: String,
    /// The organisations to choose from.
    pub organisations: Vec<String>,
}

/// Why nobody was signed in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// The box it belongs to.
    pub field: &'static str,
    /// In the summary.
    pub summary: String,
    /// At the box.
    pub detail: String,
}

impl Problem {
    /// Name and password do not fit together, whichever of them it is.
    pub fn wrong() -> Problem {
        Problem {
            field: "password",
            summary: "Name and password do not fit together".to_string(),
            detail: "Check both and try again. Nothing is locked.".to_string(),
        }
    }

    /// Too many failures: again after so many seconds.
    pub fn later(seconds: u32) -> Problem {
        let wait = match seconds {
            0..=90 => plural::counted(seconds.max(1), "seconds"),
            seconds => plural::counted(seconds.div_ceil(60), "minutes"),
        };
        Problem {
            field: "password",
            summary: format!("Too many attempts; try again in {wait}"),
            detail: format!("Wait {wait}, then try again. Nothing is locked."),
        }
    }

    /// The password is right in several organisations.
    pub fn choose() -> Problem {
        Problem {
            field: "organisation",
            summary: "Choose the organisation and type the password again".to_string(),
            detail: String::new(),
        }
    }
}

/// A path to go to after signing in: one of ours, or the beginning.
pub fn path(asked: &str) -> String {
    let ours = asked.starts_with('/')
        && !asked.starts_with("//")
        && asked.len() <= 500
        && asked
            .bytes()
            .all(|byte| byte.is_ascii_graphic() && byte != b'\\');
    if ours {
        asked.to_string()
    } else {
        "/".to_string()
    }
}

/// `GET /`: the beginning, for technicians the pages of the field, for administrators who may sign
/// in, for everybody else what is to be looked at today.
pub async fn begin(visit: Visit) -> Result<HttpResponse, HttpProblem> {
    let by = visit.by()?;
    let in_the_field = |role: &Role| *role == Role::Technician;
    Ok(go_to(match by.signed_in.roles.iter().all(in_the_field) {
        true => "/field",
        false if by.may(Deed::ReadBook) => "/today",
        false => "/people",
    }))
}

/// `GET /sign-in`.
pub async fn show(visit: Visit) -> Result<HttpResponse, HttpProblem> {
    let query = &visit.asked.query;
    let notice = query.text("out").map(|_| "You are signed out.".to_string());
    let shown = SignInPage {
        notice,
        next: path(query.text("next").unwrap_or_default()),
        ..SignInPage::default()
    };
    Ok(page(StatusCode::OK, &shown))
}

/// `POST /sign-in`: the same sign-in as the interface's, answered with a page.
pub async fn take(mut visit: Visit) -> Result<HttpResponse, HttpProblem> {
    let email = visit.filled("email").to_string();
    let next = path(visit.filled("next"));
    let mut request = Map::new();
    for name in ["email", "password", "organisation"] {
        let text = visit.filled(name);
        if !text.is_empty() || name != "organisation" {
            request.insert(name.to_string(), text.into());
        }
    }
    visit.asked.body = Value::Object(request);
    let problem = match sessions::open(visit.asked).await {
        Ok(opened) => return Ok(with_cookies(go_to(&next), &opened)),
        Err(problem) => problem,
    };
    let (status, said) = match problem.kind.slug {
        "code-needed" => return Ok(factor::ask(&problem, &next)),
        "not-signed-in" => (StatusCode::UNAUTHORIZED, Problem::wrong()),
        "too-many" => (
            StatusCode::TOO_MANY_REQUESTS,
            Problem::later(seconds(&problem)),
        ),
        "invalid-value" if problem.members.contains_key("organisations") => {
            (StatusCode::UNPROCESSABLE_ENTITY, Problem::choose())
        }
        _ => return Err(problem),
    };
    let names = problem
        .members
        .get("organisations")
        .and_then(Value::as_array);
    let names = names.into_iter().flatten().filter_map(Value::as_str);
    let shown = SignInPage {
        problem: Some(said),
        notice: None,
        next,
        email,
        organisations: names.map(str::to_string).collect(),
    };
    Ok(page(status, &shown))
}

pub(super) fn seconds(problem: &HttpProblem) -> u32 {
    let wait = problem
        .headers
        .iter()
        .find(|(name, _)| *name == "Retry-After");
    wait.and_then(|(_, seconds)| seconds.parse().ok())
        .unwrap_or(60)
}

/// `POST /sign-out`.
pub async fn leave(visit: Visit) -> Result<HttpResponse, HttpProblem> {
    let ended = sessions::end_current(visit.asked).await?;
    Ok(with_cookies(go_to("/sign-in?out=1"), &ended))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_page_says_its_problem_in_title_summary_and_box() {
        let plain = SignInPage::default().render().unwrap();
        assert!(plain.contains("<title>Sign in – tarebook</title>"));
        assert!(!plain.contains("There is a problem"));
        let page = SignInPage {
            problem: Some(Problem::wrong()),
            email: "\"><script>alert(1)</script>".to_string(),
            ..SignInPage::default()
        };
        let shown = page.render().unwrap();
        assert!(shown.contains("<title>Error: Sign in – tarebook</title>"));
        assert!(shown.contains("href=\"#password\">Name and password do not fit together</a>"));
        assert!(shown.contains("aria-describedby=\"password-problem\""));
        assert!(!shown.contains("<script>"), "{shown}");
    }

    #[test]
    fn waiting_is_said_in_words() {
        assert!(Problem::later(30).summary.ends_with("in 30 seconds"));
        assert!(Problem::later(900).summary.ends_with("in 15 minutes"));
        assert!(Problem::later(0).summary.ends_with("in 1 second"));
    }

    #[test]
    fn only_paths_of_ours_are_gone_to() {
        for ours in ["/today", "/appliances/HG-RACK-A?before=12"] {
            assert_eq!(path(ours), ours);
        }
        for other in [
            "//evil.example",
            "https://evil.example",
            "",
            "/\\evil.example",
            "/a\nb",
        ] {
            assert_eq!(path(other), "/", "{other}");
        }
    }
}
