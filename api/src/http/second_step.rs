//! The second step of signing in over HTTP: a cookie stands for the right password until the code comes.

use super::answer::Asked;
use super::problem::Problem;
use super::{Reached, sessions};
use crate::actions::request;
use crate::auth::second_step::{self, CodeShown, WAITS};
use actix_web::HttpResponse;
use actix_web::cookie::Cookie;
use actix_web::cookie::time::Duration as Age;
use serde::Deserialize;
use serde_json::json;

/// Longest text of a code that is looked at, in bytes.
const LONGEST: usize = 100;

/// A code, or a recovery code.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct CodeRequest {
    /// As it was typed.
    code: String,
}

/// Reads the code of a body.
pub(super) fn code_in(asked: &mut Asked) -> Result<String, Problem> {
    let request: CodeRequest = request::read(&std::mem::take(&mut asked.body), "")?;
    read(request.code)
}

fn read(code: String) -> Result<String, Problem> {
    if code.len() > LONGEST {
        return Err(not_that("one that is too long"));
    }
    Ok(code)
}

/// The problem of a code that does not fit, of somebody who is signed in.
pub(super) fn not_that(came: &str) -> Problem {
    let detail = format!(
        "Expected the six digits that the app shows now, or a recovery code that was not used, came \
         {came}. Each code is taken once: wait for the next one, and look whether the clock of the \
         phone is right."
    );
    Problem::at("invalid-value", "/code", detail)
}

/// Name of the cookie that stands for a right password.
pub fn cookie(reached: &Reached) -> &'static str {
    if reached.secure {
        "__Host-tarebook-code"
    } else {
        "tarebook-code"
    }
}

/// The end of that cookie.
pub fn gone(reached: &Reached) -> Cookie<'static> {
    let mut gone = sessions::cookie(reached, cookie(reached), String::new(), Age::seconds(0));
    gone.make_removal();
    gone
}

fn question(detail: String) -> Problem {
    let problem = Problem::new("code-needed", detail).with_header("WWW-Authenticate", "Bearer");
    problem.with("asked", json!(["code", "recovery_code"]))
}

/// The password is right; a code is asked for.
pub fn asked(reached: &Reached, secret: &str) -> Problem {
    let age = Age::microseconds(WAITS);
    let cookie = sessions::cookie(reached, cookie(reached), secret.to_string(), age);
    let detail = "Expected a code besides the password, got none yet. Send it within ten minutes with \
                  POST /api/v1/sessions/code and the cookie of this answer.";
    question(detail.to_string()).with_header("Set-Cookie", cookie.to_string())
}

/// Not that code.
pub fn wrong(left: u32) -> Problem {
    let tries = reports::plural::counted(left, "tries");
    let detail = format!(
        "Expected the six digits that the app shows now, or a recovery code that was not used, got \
         another text or a code that was taken before. {tries} left; then begin again with the \
         password."
    );
    question(detail).with("left", json!(left))
}

/// Nothing waits for a code.
pub fn over(reached: &Reached) -> Problem {
    let detail = "Expected a code within ten minutes of the password and five tries, got one after \
                  that, or without its cookie. Begin again with POST /api/v1/sessions.";
    let problem = Problem::new("not-signed-in", detail).with_header("WWW-Authenticate", "Bearer");
    problem.with_header("Set-Cookie", gone(reached).to_string())
}

/// `POST /api/v1/sessions/code`.
pub async fn take(mut asked: Asked) -> Result<HttpResponse, Problem> {
    let code = code_in(&mut asked)?;
    taken(&asked, code).await
}

/// Takes a code; answers the cookies of a session.
pub async fn taken(asked: &Asked, code: String) -> Result<HttpResponse, Problem> {
    // What is too long is no code, and counts as one that is wrong.
    let code: String = code.chars().take(LONGEST).collect();
    let half = asked.request.cookie(cookie(&asked.state.reached));
    let half = half.map(|cookie| cookie.value().to_string());
    let half = half.ok_or_else(|| over(&asked.state.reached))?;
    let (source, device, now) = (asked.source(), sessions::device_of(asked), asked.now);
    let opened = sessions::of_door(asked, move |state, db| {
        let shown = CodeShown {
            half: &half,
            code: &code,
            source: &source,
            known_device: device.as_deref(),
        };
        second_step::take(&state.door, db, &shown, now)
    });
    sessions::welcome(asked, opened.await?).await
}
