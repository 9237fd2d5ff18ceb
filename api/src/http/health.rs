//! Is the process there, and can it take postings?

use super::answer::Asked;
use super::problem::Problem;
use crate::actions::{StoreError, show};
use actix_web::HttpResponse;
use serde_json::json;
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::Duration;

/// Readiness is said within this time, whatever the database does.
const PATIENCE: Duration = Duration::from_millis(2_500);

/// `GET /livez`.
pub async fn live(_: Asked) -> Result<HttpResponse, Problem> {
    Ok(HttpResponse::Ok().json(json!({"status": "ok", "checks": {}})))
}

/// `GET /readyz`: the database answers and takes writes, the clock is right, the writers live, nothing stops.
pub async fn ready(asked: Asked) -> Result<HttpResponse, Problem> {
    let state = Arc::clone(&asked.state);
    let now = asked.now;
    let looked = actix_web::web::block(move || {
        let looked = state.desk.read(|db| show::ready::look(db, now))?;
        Ok::<_, StoreError>((looked, state.desk.takes_writes()?))
    });
    let looked = tokio::time::timeout(PATIENCE, looked).await;
    let looked = match looked {
        Ok(Ok(Ok(looked))) => Some(looked),
        _ => None,
    };
    let state = &asked.state;
    let word = |good: bool, bad: &'static str| if good { "ok" } else { bad };
    let database = match looked {
        None => "away",
        Some((_, false)) => "read only",
        Some((_, true)) => "ok",
    };
    let checks = [
        ("database", database),
        (
            "clock",
            word(looked.is_some_and(|(looked, _)| looked.clock), "wrong"),
        ),
        ("writer", word(state.desk.is_alive(), "gone")),
        (
            "service",
            word(!state.stopping.load(Ordering::Relaxed), "stopping"),
        ),
    ];
    let good = checks.iter().all(|(_, found)| *found == "ok");
    let checks: serde_json::Map<_, _> = checks
        .iter()
        .map(|(name, found)| ((*name).to_string(), json!(found)))
        .collect();
    let body = json!({"status": word(good, "not ready"), "checks": checks});
    let mut answer = if good {
        HttpResponse::Ok()
    } else {
        HttpResponse::ServiceUnavailable()
    };
    if !good {
        answer.insert_header(("Retry-After", "2"));
    }
    Ok(answer.json(body))
}
