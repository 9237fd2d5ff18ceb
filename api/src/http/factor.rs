//! One's own second factor, and of whom the organisation asks one.

use super::State;
use super::answer::Asked;
use super::asker;
use super::problem::Problem;
use super::second_step::{code_in, not_that};
use super::sessions::not_fresh;
use crate::actions::desk::Db;
use crate::actions::permit::Deed;
use crate::actions::{Refusal, request, show};
use crate::auth::access::Asker as Who;
use crate::auth::factor::{self, Begun, FactorRefused, Required, Standing};
use crate::auth::session;
use actix_web::HttpResponse;
use serde::Deserialize;
use serde_json::{Value, json};

/// Asks about a factor on a thread that may wait.
async fn of_factor<T: Send + 'static>(
    asked: &Asked,
    question: impl FnOnce(&State, &mut Db) -> Result<T, FactorRefused> + Send + 'static,
) -> Result<T, Problem> {
    let answered = asked.read(move |state| {
        Ok(state.desk.read(|db| match question(state, db) {
            Ok(value) => Ok(Ok(value)),
            Err(FactorRefused::Failed(error)) => Err(error),
            Err(refused) => Ok(Err(refused)),
        })?)
    });
    answered.await?.map_err(refusal)
}

fn refusal(refused: FactorRefused) -> Problem {
    match refused {
        FactorRefused::NotFresh => not_fresh(),
        FactorRefused::There => {
            let detail = "Expected a person without a second factor, came one who has one. Give it \
                          up first, with a code, then set the other up.";
            Problem::new("invalid-value", detail)
        }
        FactorRefused::NotThere => {
            let detail =
                "Expected a person with a second factor, came one who has none. Set one up.";
            Problem::new("invalid-value", detail)
        }
        FactorRefused::NothingBegun => {
            let detail = "Expected the first code within 15 minutes of its seed, came one after that. \
                          Begin again; the app gets another seed.";
            Problem::new("invalid-value", detail)
        }
        FactorRefused::Wrong => not_that("another text, or a code that was taken before"),
        FactorRefused::Later(seconds) => {
            let wait = reports::plural::counted(seconds, "seconds");
            let detail = format!("Too many attempts. Try again in {wait}.");
            let problem = Problem::new("too-many", detail);
            problem.with_header("Retry-After", seconds.to_string())
        }
        FactorRefused::NoKey => Problem::unavailable("the key that seals seeds is not here"),
        FactorRefused::Failed(error) => Problem::from(error),
    }
}

/// How the factor of whoever asks stands.
pub async fn standing(asked: &Asked) -> Result<Standing, Problem> {
    let by = asked.by()?.signed_in.clone();
    asked
        .read(move |state| Ok(state.desk.read(|db| factor::standing(db, &by))?))
        .await
}

fn shown(standing: &Standing) -> Value {
    json!({
        "since": standing.since.map(show::instant),
        "recovery_codes_left": standing.recovery_codes,
        "required_of": standing.required.word(),
        "owed": standing.asked && standing.since.is_none(),
    })
}

/// `GET /api/v1/second-factor`.
pub async fn show(asked: Asked) -> Result<HttpResponse, Problem> {
    Ok(HttpResponse::Ok().json(shown(&standing(&asked).await?)))
}

/// `POST /api/v1/second-factor`.
pub async fn begin(asked: Asked) -> Result<HttpResponse, Problem> {
    let begun = begun(&asked).await?;
    let shown = json!({"seed": begun.seed, "address": begun.address});
    Ok(HttpResponse::Created().json(shown))
}

/// Makes a seed, to be shown once.
pub async fn begun(asked: &Asked) -> Result<Begun, Problem> {
    let (by, now) = (asked.by()?.signed_in.clone(), asked.now);
    of_factor(asked, move |state, db| {
        factor::begin(&state.door, db, &by, now)
    })
    .await
}

/// `POST /api/v1/second-factor/confirm`.
pub async fn confirm(mut asked: Asked) -> Result<HttpResponse, Problem> {
    let code = code_in(&mut asked)?;
    let codes = confirmed(&asked, code).await?;
    Ok(HttpResponse::Ok().json(json!({"recovery_codes": codes})))
}

/// Takes the first code; gives the recovery codes, to be shown once.
pub async fn confirmed(asked: &Asked, code: String) -> Result<Vec<String>, Problem> {
    let (by, source, now) = (asked.by()?.signed_in.clone(), asked.source(), asked.now);
    of_factor(asked, move |state, db| {
        factor::confirm(&state.door, db, &by, &code, &source, now)
    })
    .await
}

/// `POST /api/v1/second-factor/recovery-codes`.
pub async fn other_codes(mut asked: Asked) -> Result<HttpResponse, Problem> {
    let code = code_in(&mut asked)?;
    let codes = changed(&asked, factor::Deed::OtherCodes, code).await?;
    Ok(HttpResponse::Ok().json(json!({"recovery_codes": codes})))
}

/// `POST /api/v1/second-factor/off`.
pub async fn off(mut asked: Asked) -> Result<HttpResponse, Problem> {
    let code = code_in(&mut asked)?;
    changed(&asked, factor::Deed::Off, code).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// Gives the factor up, or makes other recovery codes.
pub async fn changed(
    asked: &Asked,
    deed: factor::Deed,
    code: String,
) -> Result<Vec<String>, Problem> {
    let (by, source, now) = (asked.by()?.signed_in.clone(), asked.source(), asked.now);
    of_factor(asked, move |state, db| {
        factor::change(&state.door, db, &by, deed, &code, &source, now)
    })
    .await
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RequiredRequest {
    required_of: String,
}

/// `POST /api/v1/second-factor/required`.
pub async fn require(mut asked: Asked) -> Result<HttpResponse, Problem> {
    let request: RequiredRequest = request::read(&std::mem::take(&mut asked.body), "")?;
    required(&asked, &request.required_of).await?;
    Ok(HttpResponse::Ok().json(shown(&standing(&asked).await?)))
}

/// Says of whom the organisation asks a factor.
pub async fn required(asked: &Asked, word: &str) -> Result<(), Problem> {
    let by = asked.by()?;
    let role = by.acting(Deed::ManagePeople)?.role;
    let required = Required::named(word).ok_or_else(|| {
        let known: Vec<&str> = Required::ALL.iter().map(|(_, word)| *word).collect();
        let expected = format!("one of {}", known.join(", "));
        let remedy = "Choose one.";
        Problem::from(Refusal::invalid("/required_of", &expected, word, remedy))
    })?;
    if !session::is_fresh(&by.signed_in, asked.now) {
        return Err(not_fresh());
    }
    let (by, source, now) = (by.signed_in.clone(), asked.source(), asked.now);
    asked
        .read(move |state| {
            let who = Who::new(&by, role, &source);
            let of = &by.of;
            Ok(state
                .desk
                .read(|db| factor::require(db, of, &who, required, now))?)
        })
        .await
}

/// Refuses whoever did not show their password within five minutes.
pub fn only_fresh(asked: &Asked) -> Result<(), Problem> {
    match session::is_fresh(&asked.by()?.signed_in, asked.now) {
        true => Ok(()),
        false => Err(not_fresh()),
    }
}

/// Was the password of whoever asks shown within five minutes?
pub fn is_fresh(asked: &Asked) -> Result<bool, Problem> {
    let by: &asker::Asker = asked.by()?;
    Ok(session::is_fresh(&by.signed_in, asked.now))
}
