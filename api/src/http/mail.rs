//! What goes to a person by mail: they say it themselves, and nobody else does.

use super::answer::Asked;
use super::calendar::may_follow_everything;
use super::problem::Problem;
use crate::actions::permit::Deed;
use crate::actions::{Refusal, request};
use crate::auth::access::Asker as Recorder;
use crate::auth::mail;
use crate::ledger::id::Id;
use actix_web::HttpResponse;
use serde::Deserialize;
use serde_json::{Value, json};
use std::sync::atomic::Ordering;

pub use crate::auth::mail::{Choice, Digest};

/// What is asked for; what is not named is not chosen.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
struct MailRequest {
    digest: Option<String>,
    fortnight: bool,
    three_days: bool,
    on_the_day: bool,
    late: bool,
    everything: bool,
    names: bool,
}

fn person(asked: &Asked) -> Result<Id, Problem> {
    asked.by()?.signed_in.person.ok_or_else(|| {
        let detail = "Expected a person who is signed in, or a token that acts for one, got a token \
                      of the organisation. Mail goes to a person.";
        Problem::new("forbidden", detail)
    })
}

/// What who asks has chosen.
pub async fn chosen(asked: &Asked) -> Result<Choice, Problem> {
    let (person, of) = (person(asked)?, asked.by()?.signed_in.of.clone());
    asked
        .read(move |state| Ok(state.desk.read(|db| mail::chosen(db, &of, person))?))
        .await
}

/// Keeps what who asks chooses.
pub async fn choose(asked: &Asked, choice: Choice) -> Result<(), Problem> {
    let by = asked.by()?.clone();
    let person = person(asked)?;
    if choice.everything && !may_follow_everything(&by) {
        let detail = "Expected a role that follows what the whole organisation owes, got none. \
                      Choose what is assigned to you.";
        return Err(Problem::new("forbidden", detail));
    }
    let role = by.acting(Deed::OwnCalendars)?.role;
    let (now, source) = (asked.now, asked.source());
    asked
        .read(move |state| {
            let recorder = Recorder::new(&by.signed_in, role, &source);
            let of = &by.signed_in.of;
            let choose = |db: &mut _| mail::choose(db, of, &recorder, person, &choice, now);
            state.desk.read(choose)?;
            state.mail_chosen.store(true, Ordering::Relaxed);
            Ok(())
        })
        .await
}

fn shown(asked: &Asked, choice: &Choice) -> Value {
    json!({
        "digest": choice.digest.word(),
        "fortnight": choice.fortnight,
        "three_days": choice.three_days,
        "on_the_day": choice.on_the_day,
        "late": choice.late,
        "everything": choice.everything,
        "names": choice.names,
        "goes_out": asked.state.sends_mail,
    })
}

/// `GET /api/v1/mail`.
pub async fn own(asked: Asked) -> Result<HttpResponse, Problem> {
    let choice = chosen(&asked).await?;
    Ok(HttpResponse::Ok().json(shown(&asked, &choice)))
}

/// `POST /api/v1/mail`.
pub async fn set(mut asked: Asked) -> Result<HttpResponse, Problem> {
    let request: MailRequest = request::read(&std::mem::take(&mut asked.body), "")?;
    let word = request.digest.as_deref().unwrap_or("none");
    let digest = Digest::named(word).ok_or_else(|| {
        let words = Digest::ALL.map(|(_, word)| word).join(", ");
        Refusal::invalid("/digest", &format!("one of {words}"), word, "Choose one.")
    })?;
    let choice = Choice {
        digest,
        fortnight: request.fortnight,
        three_days: request.three_days,
        on_the_day: request.on_the_day,
        late: request.late,
        everything: request.everything,
        names: request.names,
    };
    choose(&asked, choice).await?;
    Ok(HttpResponse::Ok().json(shown(&asked, &choice)))
}

/// Of which organisation an address stops the mail, without stopping it.
pub async fn stopping(asked: &Asked) -> Result<String, Problem> {
    let secret = asked.name("secret");
    let read = asked.read(move |state| Ok(state.desk.read(|db| mail::stopping(db, &secret))?));
    let found = read.await?.ok_or_else(unknown)?;
    Ok(found.0.name)
}

/// Stops all mail to the person of an address; says of which organisation.
pub async fn stop(asked: &Asked) -> Result<String, Problem> {
    let (secret, source, now) = (asked.name("secret"), asked.source(), asked.now);
    let stop = asked.read(move |state| {
        let stop = |db: &mut _| mail::stop(db, &secret, &source, now);
        Ok(state.desk.read(stop)?)
    });
    Ok(stop.await?.ok_or_else(unknown)?.name)
}

fn unknown() -> Problem {
    let detail = "Expected the address of a message that stops mail, got another one. Sign in and \
                  choose on the page By mail.";
    Problem::new("not-found", detail)
}
