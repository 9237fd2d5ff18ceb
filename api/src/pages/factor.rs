//! The reader's second factor: set up, shown once, given up; and the page of the code when signing in.
//!
//! These pages stand alone, without the parts of the book: whoever must set a factor up first sees
//! nothing else. Nothing of them needs a script.

use super::people::refused;
use super::qr::{Square, square};
use super::sign_in::{self, path};
use super::way::{Visit, go_to, page, with_cookies};
use super::{encoded, figures};
use crate::actions::show::instant;
use crate::auth::factor::{Begun, Deed, Required, Standing};
use crate::auth::totp;
use crate::http::{Problem, factor, second_step, sessions};
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::http::header::SET_COOKIE;
use askama::Template;

/// The page.
#[derive(Clone, Debug, Template)]
#[template(path = "factor.html")]
pub struct FactorPage {
    /// The token of its forms.
    pub form: String,
    /// The organisation.
    pub organisation: String,
    /// It asks the reader for a factor, and there is none: nothing else can be done.
    pub owed: bool,
    /// The organisation asks the reader for one.
    pub asked: bool,
    /// Where the reader is.
    pub step: Step,
    /// Why nothing was done.
    pub problem: Option<String>,
}

/// Where somebody is who sets a factor up or changes it.
#[derive(Clone, Debug)]
pub enum Step {
    /// The password is too old: once more.
    Again,
    /// There is none.
    Off,
    /// A seed, shown once.
    Seed {
        /// As a square; none: the address is too long for any.
        square: Option<Square>,
        /// To be typed.
        seed: String,
        /// For an app on the same phone.
        address: String,
    },
    /// The first code once more; the seed is not shown again.
    FirstCode,
    /// It holds.
    On {
        /// Since then.
        since: String,
        /// Recovery codes that are left.
        left: i64,
    },
    /// Recovery codes, shown once.
    Codes(Vec<String>),
}

/// Of whom an organisation can ask a factor: its word, and in words.
pub fn choices(now: Required) -> Vec<(&'static str, &'static str, bool)> {
    let choice = |(it, word): &(Required, &'static str)| (*word, means(*it), *it == now);
    Required::ALL.iter().map(choice).collect()
}

fn means(required: Required) -> &'static str {
    match required {
        Required::Nobody => "Nobody: whoever likes sets one up",
        Required::Office => "Managers and administrators",
        Required::Everyone => "Everyone",
    }
}

/// How a factor stands, in words.
pub fn said(standing: &Standing) -> String {
    match standing.since {
        None => "There is none: the password alone opens the book.".to_string(),
        Some(since) => {
            let left = u64::try_from(standing.recovery_codes).unwrap_or(0);
            let left = reports::plural::counted(left, "recovery codes");
            let since = figures::instant(&instant(since));
            format!("Set up since {since}. {left} left.")
        }
    }
}

async fn at(
    visit: &Visit,
    step: Option<Step>,
    problem: Option<String>,
) -> Result<HttpResponse, Problem> {
    let standing = factor::standing(&visit.asked).await?;
    let step = match step {
        Some(step) => step,
        None if !factor::is_fresh(&visit.asked)? => Step::Again,
        None => match standing.since {
            None => Step::Off,
            Some(since) => Step::On {
                since: figures::instant(&instant(since)),
                left: standing.recovery_codes,
            },
        },
    };
    let status = match problem {
        None => StatusCode::OK,
        Some(_) => StatusCode::UNPROCESSABLE_ENTITY,
    };
    let shown = FactorPage {
        form: visit.token.clone(),
        organisation: visit.by()?.signed_in.of.name.clone(),
        owed: standing.asked && standing.since.is_none(),
        asked: standing.asked,
        step,
        problem,
    };
    Ok(page(status, &shown))
}

/// A refusal in the place of the page.
async fn instead(
    visit: &Visit,
    step: Option<Step>,
    problem: Problem,
) -> Result<HttpResponse, Problem> {
    let said = match problem.kind.slug {
        "too-many" => problem.detail,
        // Somebody was too slow: the page asks for the password again.
        "forbidden" => "Type the password again first; it was shown a while ago.".to_string(),
        _ => refused(problem)?,
    };
    at(visit, step, Some(said)).await
}

/// `GET /me/factor`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    at(&visit, None, None).await
}

/// `POST /me/factor/again`: the password once more.
pub async fn again(visit: Visit) -> Result<HttpResponse, Problem> {
    let password = visit.filled("password").to_string();
    match sessions::shown_again(&visit.asked, password).await {
        Ok(opened) => Ok(with_cookies(go_to("/me/factor"), &opened)),
        Err(problem) if problem.kind.slug == "not-signed-in" => {
            let said = "This is not your password. Check it and try again.".to_string();
            at(&visit, Some(Step::Again), Some(said)).await
        }
        Err(problem) => instead(&visit, Some(Step::Again), problem).await,
    }
}

/// `POST /me/factor/begin`: the seed, shown once.
pub async fn begin(visit: Visit) -> Result<HttpResponse, Problem> {
    match factor::begun(&visit.asked).await {
        Ok(Begun { seed, address }) => {
            let step = Step::Seed {
                square: square(&address),
                seed: totp::grouped(&seed),
                address,
            };
            at(&visit, Some(step), None).await
        }
        Err(problem) => instead(&visit, None, problem).await,
    }
}

/// `POST /me/factor/confirm`: the first code.
pub async fn confirm(visit: Visit) -> Result<HttpResponse, Problem> {
    let code = visit.filled("code").to_string();
    match factor::confirmed(&visit.asked, code).await {
        Ok(codes) => at(&visit, Some(Step::Codes(codes)), None).await,
        Err(problem) => {
            if problem.errors.iter().any(|it| it.pointer == "/code") {
                let said = "This is not what the app shows now. Wait for its next code, and look \
                            whether the clock of the phone is right.";
                return at(&visit, Some(Step::FirstCode), Some(said.to_string())).await;
            }
            instead(&visit, None, problem).await
        }
    }
}

/// `POST /me/factor/codes`: other recovery codes.
pub async fn codes(visit: Visit) -> Result<HttpResponse, Problem> {
    let code = visit.filled("code").to_string();
    match factor::changed(&visit.asked, Deed::OtherCodes, code).await {
        Ok(codes) => at(&visit, Some(Step::Codes(codes)), None).await,
        Err(problem) => instead(&visit, None, problem).await,
    }
}

/// `POST /me/factor/off`.
pub async fn off(visit: Visit) -> Result<HttpResponse, Problem> {
    let code = visit.filled("code").to_string();
    match factor::changed(&visit.asked, Deed::Off, code).await {
        // Where the organisation asks for one, this leads back here.
        Ok(_) => Ok(go_to("/me?done=factor-off")),
        Err(problem) => instead(&visit, None, problem).await,
    }
}

/// The page of the code when signing in.
#[derive(Clone, Debug, Default, Template)]
#[template(path = "sign-in-code.html")]
pub struct CodePage {
    /// Where to go afterwards, a path of ours.
    pub next: String,
    /// What did not go well.
    pub problem: Option<String>,
}

/// The password was right: on to the page of the code, with the cookie that says so.
pub fn ask(problem: &Problem, next: &str) -> HttpResponse {
    let mut answer = go_to(&format!("/sign-in/code?next={}", encoded(next)));
    for (name, value) in &problem.headers {
        if let ("Set-Cookie", Ok(value)) = (*name, value.parse()) {
            answer.headers_mut().append(SET_COOKIE, value);
        }
    }
    answer
}

/// `GET /sign-in/code`.
pub async fn ask_code(visit: Visit) -> Result<HttpResponse, Problem> {
    let next = path(visit.asked.query.text("next").unwrap_or_default());
    let name = second_step::cookie(&visit.asked.state.reached);
    if visit.asked.request.cookie(name).is_none() {
        return Ok(go_to(&format!("/sign-in?next={}", encoded(&next))));
    }
    let problem = None;
    Ok(page(StatusCode::OK, &CodePage { next, problem }))
}

/// `POST /sign-in/code`.
pub async fn take_code(visit: Visit) -> Result<HttpResponse, Problem> {
    let next = path(visit.filled("next"));
    let code = visit.filled("code").to_string();
    let problem = match second_step::taken(&visit.asked, code).await {
        Ok(opened) => return Ok(with_cookies(go_to(&next), &opened)),
        Err(problem) => problem,
    };
    match problem.kind.slug {
        "code-needed" => {
            let left = problem.members.get("left").and_then(|left| left.as_u64());
            let tries = reports::plural::counted(left.unwrap_or(0), "tries");
            let said = format!(
                "That code does not fit, or it was taken before. Wait until the app shows the next \
                 one. {tries} left, then the password again."
            );
            let problem = Some(said);
            Ok(page(StatusCode::UNAUTHORIZED, &CodePage { next, problem }))
        }
        "too-many" => {
            let wait = sign_in::Problem::later(sign_in::seconds(&problem));
            let problem = Some(format!("{}. Nothing is locked.", wait.summary));
            let shown = CodePage { next, problem };
            Ok(page(StatusCode::TOO_MANY_REQUESTS, &shown))
        }
        "not-signed-in" => {
            let notice = "The code came too late, or five did not fit. Begin again with the password; \
                          nothing is locked.";
            let shown = sign_in::SignInPage {
                notice: Some(notice.to_string()),
                next,
                ..sign_in::SignInPage::default()
            };
            Ok(page(StatusCode::UNAUTHORIZED, &shown))
        }
        _ => Err(problem),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(step: Step, problem: Option<String>) -> String {
        let page = FactorPage {
            form: "token".to_string(),
            organisation: "Tamarack Ridge Mechanical".to_string(),
            owed: true,
            asked: true,
            step,
            problem,
        };
        page.render().unwrap()
    }

    #[test]
    fn whoever_owes_a_factor_is_told_why_and_can_sign_out() {
        let page = shown(Step::Off, None);
        assert!(page.contains("Tamarack Ridge Mechanical asks for a second factor"));
        assert!(page.contains("action=\"/sign-out\""));
        assert!(!page.contains("href=\"/me\""), "nothing else is open");
        let page = shown(Step::FirstCode, Some("<b>no</b>".to_string()));
        assert!(page.contains("<title>Error: "), "{page}");
        assert!(!page.contains("<b>no</b>"), "{page}");
    }

    #[test]
    fn the_seed_is_a_square_a_link_and_letters() {
        let address = "otpauth://totp/Tamarack:ines@tamarack.example?secret=GEZDGNBV".to_string();
        let step = Step::Seed {
            square: square(&address),
            seed: "GEZD GNBV".to_string(),
            address,
        };
        let page = shown(step, None);
        for part in [
            "GEZD GNBV",
            "href=\"otpauth://totp/",
            "role=\"img\"",
            "autocomplete=\"one-time-code\"",
            "inputmode=\"numeric\"",
        ] {
            assert!(page.contains(part), "{part} in {page}");
        }
    }

    #[test]
    fn the_page_of_the_code_takes_both_sorts() {
        let plain = CodePage::default().render().unwrap();
        assert!(plain.contains("autocomplete=\"one-time-code\""));
        assert!(plain.contains("A recovery code"));
        assert!(!plain.contains("role=\"alert\""));
        let page = CodePage {
            next: "/today".to_string(),
            problem: Some("2 tries left".to_string()),
        };
        let page = page.render().unwrap();
        assert!(page.contains("aria-describedby=\"code-problem\""));
        assert!(page.contains("value=\"/today\""));
    }
}
