//! The log for an outsider's software: checkpoint, tiles, keys, proofs, bundle.

use super::answer::Asked;
use super::problem::Problem;
use super::{State, asker, stream};
use crate::actions::desk::{Db, Organisation};
use crate::actions::permit::{Deed, Reach};
use crate::actions::show::log;
use crate::actions::{ActionError, StoreError};
use actix_web::HttpResponse;

const TEXT: &str = "text/plain; charset=utf-8";

/// `GET /api/v1/log/checkpoint`: signed at once.
pub async fn checkpoint(asked: Asked) -> Result<HttpResponse, Problem> {
    let of = asked.by()?.signed_in.of.clone();
    let note = asked
        .read(move |state| match state.desk.signer().sign_now(&of) {
            Ok(note) => Ok(note),
            // Without its key a book is read all the same.
            Err(_) => state.desk.read(|db| log::checkpoint(db, &of)),
        })
        .await?;
    Ok(HttpResponse::Ok().content_type(TEXT).body(note))
}

/// `GET /api/v1/log/vkeys`.
pub async fn keys(asked: Asked) -> Result<HttpResponse, Problem> {
    let of = asked.by()?.signed_in.of.clone();
    let keys = asked
        .read(move |state| state.desk.read(|db| log::verification_keys(db, &of)))
        .await?;
    Ok(HttpResponse::Ok().content_type(TEXT).body(keys))
}

/// Asks the log; what was booked within the last second is signed first.
fn signed<T>(
    state: &State,
    of: &Organisation,
    question: impl Fn(&mut Db) -> Result<T, ActionError>,
) -> Result<T, ActionError> {
    match state.desk.read(&question) {
        Err(ActionError::Failed(StoreError::Busy)) => {
            state.desk.signer().sign_now(of)?;
            state.desk.read(&question)
        }
        answered => answered,
    }
}

/// Refuses whom only their own receipts are for.
fn whole(asked: &Asked) -> Result<(), Problem> {
    match asked.by()?.reach(Deed::ReadLog) {
        Reach::Whole => Ok(()),
        _ => Err(asker::forbidden(Deed::ReadLog)),
    }
}

/// `GET /api/v1/log/tile/...`.
pub async fn tile(asked: Asked) -> Result<HttpResponse, Problem> {
    whole(&asked)?;
    let of = asked.by()?.signed_in.of.clone();
    let path = format!("tile/{}", asked.name("tile"));
    let bytes = asked
        .read(move |state| signed(state, &of, |db| log::tile(db, &of, &path)))
        .await?;
    let mut answer = HttpResponse::Ok();
    // What a checkpoint covers never changes.
    answer.insert_header(("Cache-Control", "private, max-age=31536000, immutable"));
    Ok(answer.content_type("application/octet-stream").body(bytes))
}

/// `GET /api/v1/entries/{id}/proof`.
pub async fn proof(asked: Asked) -> Result<HttpResponse, Problem> {
    let by = asked.by()?.clone();
    let name = asked.name("id");
    let own = (by.reach(Deed::ReadLog) != Reach::Whole).then(|| by.own());
    let text = asked
        .read(move |state| {
            let of = &by.signed_in.of;
            signed(state, of, |db| log::proof(db, of, &name, own))
        })
        .await?;
    Ok(HttpResponse::Ok().content_type(TEXT).body(text))
}

/// `GET /api/v1/log/consistency`.
pub async fn consistency(asked: Asked) -> Result<HttpResponse, Problem> {
    whole(&asked)?;
    let of = asked.by()?.signed_in.of.clone();
    let from = asked.query.number("from")?;
    let from = from.ok_or_else(|| super::query::invalid("from", "the size of a tree", ""))?;
    let to = asked.query.number("to")?;
    let proof = asked
        .read(move |state| signed(state, &of, |db| log::consistency(db, &of, from, to)))
        .await?;
    Ok(HttpResponse::Ok().json(proof))
}

/// `GET /api/v1/log/bundle`.
pub async fn bundle(asked: Asked) -> Result<HttpResponse, Problem> {
    whole(&asked)?;
    let of = asked.by()?.signed_in.of.clone();
    asked.record(Deed::ReadLog, "bundle", String::new()).await?;
    let signed = of.clone();
    asked
        .read(move |state| {
            // Without its key the book is given up to its newest checkpoint.
            let _ = state.desk.signer().sign_now(&signed);
            Ok(())
        })
        .await?;
    let mut answer = HttpResponse::Ok();
    answer.content_type("application/x-tar");
    answer.insert_header(("Content-Disposition", "attachment; filename=\"book.tar\""));
    stream::answer(&asked, answer, move |db, out| log::bundle(db, &of, out)).await
}
