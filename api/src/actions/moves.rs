//! Reading movements: which mass of which refrigerant goes from where to where.
//!
//! Shared by every kind that moves refrigerant. Places and refrigerant are resolved here, the mass in
//! `moves/masses.rs`.

mod masses;

use super::refusal::{ActionError, Question, Refusal};
use super::request::{MovementRequest, read};
use crate::ledger::entry::Moved;
use crate::ledger::place::Place;
use crate::store::columns::{PlaceNumber, Sort};
use crate::store::tx::Tx;
use masses::mass_of;
use reports::mass::{Answer, Mass};
use serde_json::Value;
use std::borrow::Cow;
use std::collections::BTreeMap;

pub use masses::{parts, typed_mass};

/// Where a kind's movements may begin and end.
pub struct Shape {
    /// Words of places they may come from; one without an id may be left out of a request.
    pub from: &'static [&'static str],
    /// Words of places they may go to.
    pub to: &'static [&'static str],
}

/// One movement, resolved.
#[derive(Clone, Debug)]
pub struct Moving {
    /// Where it comes from.
    pub src: PlaceNumber,
    /// Where it goes.
    pub dst: PlaceNumber,
    /// Code of the refrigerant table.
    pub refrigerant: u16,
    /// The mass.
    pub mass: Mass,
    /// Smallest step of the registered scale it was weighed on.
    pub resolution: Option<Mass>,
    /// What the leaf will say.
    pub moved: Moved<'static>,
}

/// What reading the movements of a request brought.
#[derive(Default)]
pub struct Moves {
    /// The movements, in the order of the request.
    pub list: Vec<Moving>,
    /// Texts to commit to: path and value.
    pub secrets: Vec<(String, String)>,
    /// Questions about masses.
    pub questions: Vec<Question>,
    /// Codes of findings, with the place.
    pub findings: Vec<(&'static str, PlaceNumber)>,
    /// Answers the reading used without being asked (captured offline).
    pub presumed: BTreeMap<String, String>,
}

/// Answers given, and whether nobody can be asked any more.
#[derive(Clone, Copy)]
pub struct Asked<'a> {
    /// Code to choice.
    pub answers: &'a BTreeMap<String, String>,
    /// Captured offline: the literal reading is taken and leaves a finding.
    pub silent: bool,
}

impl Asked<'_> {
    fn answer(&self, code: &str) -> Option<Answer> {
        self.answers
            .get(code)
            .and_then(|word| Answer::from_word(word))
    }
}

/// Reads all movements of a request.
pub fn read_all(
    tx: &mut Tx<'_>,
    movements: &[Value],
    shape: &Shape,
    asked: Asked<'_>,
) -> Result<Moves, ActionError> {
    let mut moves = Moves::default();
    for (at, value) in movements.iter().enumerate() {
        let pointer = match movements.len() {
            1 => "/body".to_string(),
            _ => format!("/body/movements/{at}"),
        };
        let request: MovementRequest = read(value, &pointer)?;
        let moving = read_one(tx, request, shape, asked, &pointer, at, &mut moves)?;
        moves.list.push(moving);
    }
    Ok(moves)
}

fn read_one(
    tx: &mut Tx<'_>,
    request: MovementRequest,
    shape: &Shape,
    asked: Asked<'_>,
    pointer: &str,
    at: usize,
    moves: &mut Moves,
) -> Result<Moving, ActionError> {
    let (from, src) = place(
        tx,
        request.from.as_deref(),
        shape.from,
        &format!("{pointer}/from"),
    )?;
    let (to, dst) = place(
        tx,
        request.to.as_deref(),
        shape.to,
        &format!("{pointer}/to"),
    )?;
    if src == dst {
        let (pointer, came) = (format!("{pointer}/to"), to.to_string());
        let expected = "another place than the one it comes from";
        return Err(Refusal::invalid(&pointer, expected, &came, "Name both places.").into());
    }
    if let Some(number) = request
        .number
        .filter(|n| *n == 0 || src != PlaceNumber::UNREGISTERED)
    {
        let expected = "a number from 1, and only of small appliances (from unregistered)";
        let (pointer, came) = (format!("{pointer}/number"), number.to_string());
        return Err(Refusal::invalid(&pointer, expected, &came, "Leave it out.").into());
    }
    let refrigerant = refrigerant(tx, request.refrigerant.as_deref(), src, dst, pointer)?;
    let weighed = mass_of(tx, &request, src, asked, pointer, at, moves)?;
    if let Some(document) = request.document {
        moves
            .secrets
            .push((format!("movements.{at}.document"), document));
    }
    let designation = tx
        .table
        .designation(refrigerant)
        .unwrap_or_default()
        .to_string();
    let moved = Moved {
        from,
        g: weighed.mass,
        number: request.number,
        readings: weighed.readings,
        refrigerant: Cow::Owned(designation),
        to,
        typed: weighed.typed,
    };
    let (mass, resolution) = (weighed.mass, weighed.resolution);
    Ok(Moving {
        src,
        dst,
        refrigerant,
        mass,
        resolution,
        moved,
    })
}

/// Resolves `word:ID`, `word:TAG` or a bare word against what the kind allows.
pub fn place(
    tx: &mut Tx<'_>,
    text: Option<&str>,
    allowed: &[&'static str],
    pointer: &str,
) -> Result<(Place, PlaceNumber), ActionError> {
    let expected = || {
        let with_id = |word: &&'static str| match Place::parse(word) {
            Some(_) => (*word).to_string(),
            None => format!("{word}:ID or {word}:TAG"),
        };
        allowed.iter().map(with_id).collect::<Vec<_>>().join(" or ")
    };
    let bare = allowed.iter().find(|word| Place::parse(word).is_some());
    let text = match (text, bare) {
        (Some(text), _) => text,
        (None, Some(word)) => word,
        (None, None) => {
            return Err(Refusal::Malformed {
                pointer: pointer.to_string(),
                detail: format!("Expected {}, got nothing. Name the place.", expected()),
            }
            .into());
        }
    };
    let (word, name) = text
        .split_once(':')
        .map_or((text, None), |(w, n)| (w, Some(n)));
    let wrong = || Refusal::invalid(pointer, &expected(), text, "Name the place so.");
    if !allowed.contains(&word) {
        return Err(wrong().into());
    }
    let Some(sort) = Sort::named(word) else {
        let place = Place::parse(text)
            .filter(|_| name.is_none())
            .ok_or_else(wrong)?;
        let number = tx.place_number(place)?.ok_or_else(wrong)?;
        return Ok((place, number));
    };
    let name = name.filter(|name| !name.is_empty()).ok_or_else(wrong)?;
    let number = named(tx, sort, name, pointer)?;
    Ok((tx.place(number)?, number))
}

/// A registered thing by id or tag, or the refusal that it is not there.
pub fn named(
    tx: &mut Tx<'_>,
    sort: Sort,
    name: &str,
    pointer: &str,
) -> Result<PlaceNumber, ActionError> {
    let number = tx.find(sort, name)?;
    number.ok_or_else(|| {
        let (pointer, what) = (pointer.to_string(), sort.word().to_string());
        Refusal::Unknown {
            pointer,
            what,
            name: name.to_string(),
        }
        .into()
    })
}

/// The refrigerant stated; where none is, the only one the places can mean.
fn refrigerant(
    tx: &mut Tx<'_>,
    text: Option<&str>,
    src: PlaceNumber,
    dst: PlaceNumber,
    pointer: &str,
) -> Result<u16, ActionError> {
    if let Some(text) = text {
        let code = tx
            .table
            .understood(text)
            .map(|row| row.code)
            .or_else(|| tx.table.code(text));
        return code.ok_or_else(|| {
            Refusal::invalid(
                &format!("{pointer}/refrigerant"),
                "a designation of the refrigerant table, unknown or mixture",
                text,
                "Write for example R-410A.",
            )
            .into()
        });
    }
    for place in [src, dst] {
        let subject = tx.subject(place)?;
        let mut holds = subject.holds();
        if let (Sort::Cylinder, Some(code), None) = (place.sort(), holds.next(), holds.next()) {
            return Ok(code);
        }
        if let (Sort::Appliance, [(_, code)]) = (place.sort(), &subject.brief.refrigerant[..]) {
            return Ok(*code);
        }
    }
    Err(Refusal::Malformed {
        pointer: format!("{pointer}/refrigerant"),
        detail: "Expected a designation such as R-410A, got none, and the places do not tell. \
                 Write unknown where nobody knows."
            .to_string(),
    }
    .into())
}
