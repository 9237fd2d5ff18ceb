//! Correcting an entry: the form of a weighing with its old values, and why. Taking it back and what
//! stands instead are one entry; the old one stays readable, and both name each other.

mod bulk;

use super::field::page;
use super::form::{Deed, Fields, Weighed};
use super::message::MessagePage;
use super::post::{form_of, refused};
use super::posting::PostPage;
use super::service;
use super::way::{Visit, go_to};
use crate::actions::ActionError;
use crate::actions::show::lines::{Line, LineMoved, Named};
use crate::actions::show::things::{self, Sort};
use crate::actions::show::{entries, lines};
use crate::http::Problem;
use crate::http::answer::PATIENCE;
use crate::ledger::entry::EntryKind;
use crate::ledger::id::Id;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use serde_json::{Map, Value, json};

/// An entry that this page can correct.
struct Old {
    line: Line,
    deed: Deed,
    /// The appliance's id; empty: small ones that are not registered.
    appliance: String,
    cylinder: String,
    /// The first movement, as its leaf says it.
    moved: Value,
    /// What the entry says beside its movement.
    body: Value,
    /// Tag of the registered scale that it was weighed on; empty: none is named.
    scale: String,
}

/// What the page can do with an entry.
enum Found {
    /// A weighing, corrected here.
    Weighing(Box<Old>),
    /// A step of the service record, corrected with its own form.
    Step(Box<Line>, EntryKind),
    /// Why it cannot be corrected here.
    Not(MessagePage),
}

async fn read(visit: &Visit) -> Result<Found, Problem> {
    let by = visit.by()?;
    let (of, sees) = (by.signed_in.of.clone(), by.sees());
    let name = visit.asked.name("id").to_string();
    let read = visit.asked.read(move |state| {
        let line = state.desk.read(|db| lines::one(db, &of, &name, sees))?;
        let entry = state
            .desk
            .read(|db| entries::one(db, &of, &name, sees))?
            .value;
        let scale = match in_force(&entry)["movements"][0]["readings"]["scale"].as_str() {
            Some(id) => {
                let one = |db: &mut _| things::one(db, &of, Sort::Scale, id);
                state.desk.read(one)?.tag
            }
            None => String::new(),
        };
        Ok((line, entry, scale))
    });
    let (line, entry, scale) = read.await?;
    if let Some(by) = line.corrected_by {
        return Ok(Found::Not(MessagePage::corrected(line.seq, by)));
    }
    if let Some(kind) = EntryKind::named(&line.kind).filter(|kind| service::is_step(*kind)) {
        return Ok(Found::Step(Box::new(line), kind));
    }
    let body = in_force(&entry).clone();
    let moved = body["movements"][0].clone();
    let deed = match line.kind.as_str() {
        "charge" => Some(Deed::Charge),
        "recover" => Some(Deed::Recover),
        _ => None,
    };
    let ends = line
        .moved
        .first()
        .map(ends)
        .filter(|_| line.moved.len() == 1);
    let ends = ends.filter(|_| super::receipt::may::is_formed(&line));
    let (Some(deed), Some((appliance, cylinder))) = (deed, ends) else {
        return Ok(Found::Not(MessagePage::not_corrected_here(line.seq)));
    };
    let id = appliance.id.map(|id| id.to_string()).unwrap_or_default();
    Ok(Found::Weighing(Box::new(Old {
        deed,
        appliance: id,
        cylinder: cylinder.tag.clone(),
        moved,
        body,
        scale,
        line,
    })))
}

/// The body that stands: of a correction that of what it puts in place.
fn in_force(entry: &Value) -> &Value {
    match &entry["body"]["replace"] {
        Value::Null => &entry["body"],
        replaced => &replaced["body"],
    }
}

/// Appliance and the other end of a movement.
fn ends(moved: &LineMoved) -> (&Named, &Named) {
    match moved.to.word.as_str() {
        "appliance" => (&moved.to, &moved.from),
        _ => (&moved.from, &moved.to),
    }
}

/// The boxes filled with what the entry says.
fn filled(old: &Old, entry_id: String) -> Fields {
    let (readings, typed) = (&old.moved["readings"], &old.moved["typed"]);
    let boxed = |value: &Value| value.as_str().unwrap_or_default().to_string();
    let texts = [&readings["before"], &readings["after"], &typed["text"]].map(boxed);
    let code = boxed(&readings["unit"]) + &boxed(&typed["unit"]);
    // The book knows pounds, not whether the scale shows ounces beside them; how it was typed tells.
    let bare = |text: &String| !text.contains(|c: char| c.is_alphabetic() || c == ' ' || c == '#');
    let unit = match code.as_str() {
        "kg" => "kg",
        _ if texts.iter().all(bare) => "lb",
        _ => "lb+oz",
    };
    let [before, after, mass] = texts;
    Fields {
        entry_id,
        unit: unit.to_string(),
        cylinder: old.cylinder.clone(),
        refrigerant: boxed(&old.moved["refrigerant"]),
        before,
        after,
        mass,
        scale: old.scale.clone(),
        full: match old.body["returned_to_full_charge"].as_bool() {
            Some(true) => "yes".to_string(),
            Some(false) => "no".to_string(),
            None => String::new(),
        },
        // What is not changed stands: a condition that fell away would make a cylinder look cleaner.
        class: boxed(&old.body["class"]),
        what: boxed(&old.body["words"]["what"]),
        process_shutdown: boxed(&old.body["words"]["process_shutdown"]),
        reason: old.line.reason.clone().unwrap_or_default(),
        number: match &old.moved["number"] {
            Value::Null => String::new(),
            number => number.to_string(),
        },
        day: old.line.day.clone(),
        time: old.line.time.clone().unwrap_or_default(),
        visit: old.line.visit.map(|id| id.to_string()).unwrap_or_default(),
        ..Fields::default()
    }
}

async fn form(visit: &Visit, old: &Old, fields: Fields) -> Result<(PostPage, Id), Problem> {
    let (mut form, id) = match old.appliance.is_empty() {
        true => (bulk::form(visit, fields).await?, Id::from_bits(0)),
        false => form_of(visit, old.deed, fields, old.appliance.clone()).await?,
    };
    form.action = format!("/entries/{}/correct", old.line.entry_id);
    form.corrects = Some(old.line.seq);
    Ok((form, id))
}

/// `GET /entries/{id}/correct`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let old = match read(&visit).await? {
        Found::Weighing(old) => old,
        Found::Step(line, kind) => return service::show_correction(visit, *line, kind).await,
        Found::Not(message) => return Ok(page(StatusCode::OK, &message)),
    };
    let milliseconds = u64::try_from(visit.asked.now / 1_000).unwrap_or_default();
    let fields = filled(&old, Id::at(milliseconds).to_string());
    let (form, _) = form(&visit, &old, fields).await?;
    Ok(page(StatusCode::OK, &form))
}

/// `POST /entries/{id}/correct`.
pub async fn take(mut visit: Visit) -> Result<HttpResponse, Problem> {
    let found = read(&visit).await?;
    if let Found::Step(line, _) = found {
        return service::take_correction(visit, *line).await;
    }
    let entry_id = visit.filled("entry_id").to_string();
    let fields = match Fields::read(std::mem::take(&mut visit.form)) {
        Ok(fields) => fields,
        Err(_) if matches!(found, Found::Weighing(_)) => {
            return Ok(page(StatusCode::BAD_REQUEST, &MessagePage::stale_form()));
        }
        Err(_) => Fields::default(),
    };
    let old = match found {
        Found::Weighing(old) => old,
        // The same press again: the entry it became is shown as a second press is.
        Found::Not(message) => return sent_again(&visit, &entry_id, message).await,
        Found::Step(..) => return Ok(page(StatusCode::BAD_REQUEST, &MessagePage::stale_form())),
    };
    let (form, appliance) = form(&visit, &old, fields).await?;
    let nothing = form.fields.instead == "nothing";
    if nothing && form.fields.checked != "nothing" {
        let mut form = form;
        form.fields.checked = "nothing".to_string();
        return Ok(page(StatusCode::OK, &form));
    }
    if let Some(problem) = bulk::problem(&form.fields).filter(|_| !nothing) {
        let mut form = form;
        form.problems.push(problem);
        return Ok(page(StatusCode::UNPROCESSABLE_ENTITY, &form));
    }
    if !nothing && let Weighed::Show { mass, sum } = form.fields.weighed(old.deed) {
        return Ok(page(StatusCode::OK, &form.show(mass, sum)));
    }
    let request = correction(&form.fields, &old, appliance);
    let by = visit.by()?.poster();
    let posted = visit.asked.state.desk.post(&by, request);
    let posted = tokio::time::timeout(PATIENCE, posted).await;
    let posted = posted.map_err(|_| Problem::unavailable("no answer of the book in time"))?;
    match posted {
        Ok(receipt) => Ok(go_to(&format!("/entries/{}?posted=now", receipt.entry_id))),
        Err(ActionError::Refused(refusal)) => {
            let at_refrigerant = bulk::at_refrigerant(&form, &refusal);
            match at_refrigerant {
                Some(problem) => {
                    let mut form = form;
                    form.problems.push(problem);
                    Ok(page(StatusCode::UNPROCESSABLE_ENTITY, &form))
                }
                None => refused(form, refusal),
            }
        }
        Err(failed) => Err(failed.into()),
    }
}

async fn sent_again(
    visit: &Visit,
    entry_id: &str,
    message: MessagePage,
) -> Result<HttpResponse, Problem> {
    let by = visit.by()?;
    let (of, sees, name) = (by.signed_in.of.clone(), by.sees(), entry_id.to_string());
    let read = visit
        .asked
        .read(move |state| Ok(state.desk.read(|db| lines::one(db, &of, &name, sees)).ok()));
    Ok(match read.await? {
        Some(line) => go_to(&format!("/entries/{}?posted=again", line.entry_id)),
        None => page(StatusCode::OK, &message),
    })
}

/// The request: what is taken back, why, and what stands instead.
fn correction(fields: &Fields, old: &Old, appliance: Id) -> Value {
    let mut entry = fields.request(old.deed, appliance);
    if old.appliance.is_empty() {
        bulk::put(&mut entry["body"], fields);
    }
    // No form asks for the evacuation level.
    if !old.body["evacuation"].is_null() {
        entry["body"]["evacuation"] = old.body["evacuation"].clone();
    }
    let mut take = |name: &str| match entry.get_mut(name) {
        Some(value) => value.take(),
        None => Value::Null,
    };
    let mut body = Map::new();
    body.insert("corrects".to_string(), json!(old.line.entry_id.to_string()));
    body.insert("reason".to_string(), json!(fields.why));
    if fields.instead != "nothing" {
        let mut replace = Map::new();
        for name in ["kind", "happened", "visit", "body"] {
            match take(name) {
                Value::Null => {}
                value => drop(replace.insert(name.to_string(), value)),
            }
        }
        body.insert("replace".to_string(), replace.into());
    }
    let mut request = Map::new();
    request.insert("kind".to_string(), json!("correction"));
    request.insert("body".to_string(), body.into());
    for name in ["entry_id", "note", "reason_text", "answers"] {
        match take(name) {
            Value::Null => {}
            value => drop(request.insert(name.to_string(), value)),
        }
    }
    request.into()
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;

    fn old() -> Old {
        let line = sample::line("HG-RACK-A");
        Old {
            deed: Deed::Charge,
            appliance: Id::from_bits(7).to_string(),
            cylinder: "SUP-88231".to_string(),
            moved: json!({"readings": {"before": "29 lb 4 oz", "after": "14 lb 12 oz",
                                       "unit": "[lb_av]"}}),
            body: json!({"returned_to_full_charge": true, "class": "suspect",
                         "words": {"what": "all"}}),
            scale: "SC-12".to_string(),
            line,
        }
    }

    #[test]
    fn the_form_opens_with_what_the_entry_says() {
        let fields = filled(&old(), "id".to_string());
        assert_eq!(
            (fields.before.as_str(), fields.after.as_str()),
            ("29 lb 4 oz", "14 lb 12 oz")
        );
        assert_eq!(
            (fields.full.as_str(), fields.day.as_str()),
            ("yes", "2026-07-14")
        );
        assert_eq!(
            (fields.class.as_str(), fields.what.as_str()),
            ("suspect", "all"),
            "what is not changed stands"
        );
        assert_eq!(
            (fields.cylinder.as_str(), fields.mass.as_str()),
            ("SUP-88231", "")
        );
        // A correction that changed a reading only once lost the scale, and what is known of the weight.
        let request = correction(&fields, &old(), Id::from_bits(7));
        let instead = &request["body"]["replace"]["body"];
        assert_eq!(instead["readings"]["scale"], "SC-12");
    }

    #[test]
    fn a_correction_says_what_it_takes_back_and_what_stands_instead() {
        let mut fields = filled(&old(), "019b0c6e-0000-7000-8000-000000000001".to_string());
        fields.why = "misread".to_string();
        fields.note = "read again".to_string();
        let request = correction(&fields, &old(), Id::from_bits(7));
        assert_eq!(request["kind"], "correction");
        assert_eq!(request["entry_id"], "019b0c6e-0000-7000-8000-000000000001");
        assert_eq!(request["note"], "read again");
        assert_eq!(request["body"]["corrects"], Id::from_bits(9).to_string());
        assert_eq!(request["body"]["reason"], "misread");
        let instead = &request["body"]["replace"];
        assert_eq!(instead["kind"], "charge");
        assert_eq!(
            instead["happened"],
            json!({"day": "2026-07-14", "time": "11:52"})
        );
        assert_eq!(instead["body"]["readings"]["after"], "14 lb 12 oz");
        fields.instead = "nothing".to_string();
        let request = correction(&fields, &old(), Id::from_bits(7));
        assert_eq!(request["body"].get("replace"), None);
        assert_eq!(request.get("happened"), None);
    }
}
