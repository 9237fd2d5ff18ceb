//! Tells the year: posts each request in its turn, by the person it is from, at a made-up moment.
//!
//! A request may name an earlier entry, a visit or a leak as `@name`; the id is put in its place.
//! Where it says only what was weighed (`weighed: {net, scale}`), a simulated scale shows the two
//! readings that a person would have typed: the cylinder's tare and what the book says is in it.
//! So every cylinder balances the way a real one does.

use super::people::{self, Person};
use super::script::Job;
use crate::actions::post::post;
use crate::actions::{ActionError, Posted};
use crate::ledger::checkpoint::SigningKey;
use crate::ledger::id::Id;
use crate::store::columns::Sort;
use crate::store::open::Organisation;
use crate::store::tx::Tx;
use crate::store::writer::{Books, Clock, transact};
use crate::store::{Db, StoreError};
use reports::day::{Day, Zone, parse_clock};
use reports::mass::{Mass, Reading, Unit};
use reports::refrigerant::Table;
use serde_json::{Value, json};
use std::cell::Cell;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

thread_local! {
    static NOW: Cell<i64> = const { Cell::new(0) };
}

fn now() -> i64 {
    NOW.with(Cell::get)
}

/// The made-up clock; it stands where the last job put it.
pub const CLOCK: Clock = Clock::made_up(now);

/// Sets the made-up clock to a wall time of the firm.
pub fn set_clock(day: &str, time: &str) -> Result<(), StoryError> {
    let wall = || {
        let (second, _) = parse_clock(time)?;
        let zone = Zone::named(super::ZONE)?;
        Some(match zone.resolve(Day::parse(day)?, second) {
            reports::day::Wall::Once(instant) | reports::day::Wall::Twice(instant, _) => instant,
            reports::day::Wall::Skipped => return None,
        })
    };
    let instant =
        wall().ok_or_else(|| StoryError::Script(format!("no such time: {day} {time}")))?;
    NOW.with(|now| now.set(instant.as_microsecond()));
    Ok(())
}

/// Why the year could not be told to its end.
#[derive(Debug)]
pub enum StoryError {
    /// The script says something impossible.
    Script(String),
    /// A request was refused that the script expects to be booked.
    Refused {
        /// The request.
        request: String,
        /// Why.
        why: String,
    },
    /// The book failed.
    Failed(ActionError),
}

impl fmt::Display for StoryError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            StoryError::Script(why) => write!(f, "the script of the demo is wrong: {why}"),
            StoryError::Refused { request, why } => {
                write!(f, "the demo's own request was refused: {why}\n{request}")
            }
            StoryError::Failed(ActionError::Failed(error)) => write!(f, "{error}"),
            StoryError::Failed(ActionError::Refused(refusal)) => write!(f, "{refusal}"),
        }
    }
}

impl std::error::Error for StoryError {}

impl From<StoreError> for StoryError {
    fn from(error: StoreError) -> StoryError {
        StoryError::Failed(ActionError::Failed(error))
    }
}

impl From<ActionError> for StoryError {
    fn from(error: ActionError) -> StoryError {
        StoryError::Failed(error)
    }
}

/// The book while it is being written.
pub struct Teller<'a> {
    db: &'a mut Db,
    books: Books,
    of: &'a Organisation,
    key: &'a SigningKey,
    people: BTreeMap<Person, Id>,
    names: BTreeMap<String, Id>,
    signed_month: String,
    /// Every request as it was posted.
    pub requests: Vec<Value>,
    /// Number of each named entry.
    pub numbers: BTreeMap<String, u64>,
    /// Codes of the findings that were left.
    pub findings: BTreeSet<String>,
}

impl<'a> Teller<'a> {
    /// Opens the book for telling.
    pub fn new(db: &'a mut Db, of: &'a Organisation, key: &'a SigningKey) -> Teller<'a> {
        let ids = people::ALL
            .iter()
            .map(|member| (member.person, Id::random()));
        Teller {
            db,
            books: Books::new(),
            of,
            key,
            people: ids.collect(),
            names: BTreeMap::new(),
            signed_month: String::new(),
            requests: Vec::new(),
            numbers: BTreeMap::new(),
            findings: BTreeSet::new(),
        }
    }

    /// The id of a person.
    pub fn person(&self, person: Person) -> Id {
        self.people
            .get(&person)
            .copied()
            .unwrap_or(Id::from_bits(0))
    }

    /// Posts a job; the book must take it. A new month begins with a signed checkpoint of the old.
    pub fn tell(&mut self, job: &Job) -> Result<Posted, StoryError> {
        set_clock(&job.day, &job.time)?;
        let month = job.day.get(..7).unwrap_or_default();
        if self.signed_month != month && !self.signed_month.is_empty() {
            self.sign()?;
        }
        self.signed_month = month.to_string();
        let mut request = job.request.clone();
        let id = Id::at(now().unsigned_abs() / 1000);
        request["entry_id"] = json!(id);
        self.put_ids(&mut request);
        let actor = people::actor(job.by, self.person(job.by));
        let mut outcome = None;
        transact(
            self.db,
            &mut self.books,
            self.of,
            &[id],
            Table::shipped(),
            CLOCK,
            |tx| {
                let mut request = request.clone();
                let weighed = weigh(tx, &mut request);
                let booked = weighed.and_then(|()| Ok(post(tx, &actor, &request)?));
                match booked {
                    Err(StoryError::Failed(ActionError::Failed(error))) => return Err(error),
                    other => outcome = Some((other, request)),
                }
                Ok(())
            },
        )?;
        let (booked, request) = outcome.ok_or(StoreError::Busy)?;
        let posted = match booked {
            Err(StoryError::Failed(ActionError::Refused(refusal))) => {
                let (request, why) = (request.to_string(), refusal.to_string());
                return Err(StoryError::Refused { request, why });
            }
            other => other?,
        };
        if let Some(name) = &job.name {
            self.names.insert(name.clone(), id);
            self.numbers.insert(name.clone(), posted.seq);
        }
        let left = posted.findings.iter().map(|finding| finding.code.clone());
        self.findings.extend(left);
        self.requests.push(request);
        Ok(posted)
    }

    /// Signs the book as it stands.
    pub fn sign(&mut self) -> Result<(), StoryError> {
        crate::store::log::sign(self.db, self.of.org, self.key, &self.of.log)?;
        Ok(())
    }

    /// Puts ids in place of names: of entries told, of people, and of visits and leaks at first use.
    fn put_ids(&mut self, value: &mut Value) {
        match value {
            Value::String(text) => {
                if let Some(name) = text.strip_prefix('@') {
                    let person = people::named(name).map(|person| self.person(person));
                    let of_name = || {
                        *self
                            .names
                            .entry(name.to_string())
                            .or_insert_with(Id::random)
                    };
                    *text = person.unwrap_or_else(of_name).to_string();
                }
            }
            Value::Array(list) => list.iter_mut().for_each(|item| self.put_ids(item)),
            Value::Object(members) => members.values_mut().for_each(|item| self.put_ids(item)),
            _ => {}
        }
    }
}

/// Replaces every `weighed` by the readings of a scale.
fn weigh(tx: &mut Tx<'_>, request: &mut Value) -> Result<(), StoryError> {
    let body = &mut request["body"];
    if body.get("weighed").is_some() {
        return weigh_one(tx, body);
    }
    let movements = body.get_mut("movements").and_then(Value::as_array_mut);
    for movement in movements.into_iter().flatten() {
        if movement.get("weighed").is_some() {
            weigh_one(tx, movement)?;
        }
    }
    Ok(())
}

fn weigh_one(tx: &mut Tx<'_>, movement: &mut Value) -> Result<(), StoryError> {
    let Some(weighed) = movement.as_object_mut().and_then(|m| m.remove("weighed")) else {
        return Ok(());
    };
    let (net, scale) = (word(&weighed, "net")?, word(&weighed, "scale")?);
    let net = steps(&net)?;
    let (from, to) = (word(movement, "from")?, word(movement, "to")?);
    let leaving = from.strip_prefix("cylinder:");
    let cylinder = leaving.or(to.strip_prefix("cylinder:")).unwrap_or_default();
    let wrong = |why: &str| StoryError::Script(format!("{cylinder} on {scale}: {why}"));
    let place = tx
        .find(Sort::Cylinder, cylinder)?
        .ok_or_else(|| wrong("no such cylinder"))?;
    let tare = tx
        .dossier(place)?
        .newest("tare")
        .and_then(crate::store::dossier::mass_of);
    let tare = tare.ok_or_else(|| wrong("its tare is not known"))?;
    let before = i128::from(tare.steps()) + tx.subject(place)?.total();
    let after = if leaving.is_some() {
        before - net
    } else {
        before + net
    };
    let number = tx
        .find(Sort::Scale, &scale)?
        .ok_or_else(|| wrong("no such scale"))?;
    let step = tx.subject(number)?.brief.resolution.map_or(1, Mass::steps);
    for gross in [before, after] {
        if gross % i128::from(step) != 0 {
            let shown = reports::mass::echo(gross);
            return Err(wrong(&format!("it does not show {shown}")));
        }
    }
    let shown = |gross| show(gross, step);
    movement["readings"] = json!({"before": shown(before), "after": shown(after), "scale": scale});
    Ok(())
}

/// How a display writes a gross weight: ounces, hundredths of a pound, or kilograms.
fn show(gross: i128, step: i64) -> String {
    if step % (Mass::GRAM / 100) == 0 {
        format!("{} kg", reports::mass::in_unit(gross, Unit::Kilogram))
    } else if step % Mass::OUNCE == 0 || Mass::OUNCE % step == 0 {
        reports::mass::lb_oz_text(gross)
    } else {
        format!("{} lb", reports::mass::in_unit(gross, Unit::Pound))
    }
}

fn word(value: &Value, name: &str) -> Result<String, StoryError> {
    let text = value.get(name).and_then(Value::as_str);
    text.map(str::to_string)
        .ok_or_else(|| StoryError::Script(format!("{name} is missing in {value}")))
}

fn steps(text: &str) -> Result<i128, StoryError> {
    match reports::mass::read(text, None) {
        Reading::Mass(mass) => Ok(i128::from(mass.steps())),
        _ => Err(StoryError::Script(format!("'{text}' is no plain mass"))),
    }
}
