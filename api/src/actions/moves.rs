//! Reading movements: which mass of which refrigerant goes from where to where.
//!
//! Shared by every kind that moves refrigerant. Two raw readings beat one net number; the net is
//! derived, and what was typed is kept beside it.

use super::refusal::{ActionError, Question, QuestionChoice, Refusal};
use super::request::{MassParts, MassRequest, MovementRequest, ReadingsRequest, read};
use crate::ledger::entry::{Moved, Readings, Typed};
use crate::ledger::place::Place;
use crate::store::columns::{PlaceNumber, Sort};
use crate::store::tx::Tx;
use reports::mass::{self, Answer, LeafText, Mass, Reading, Unit, Way};
use serde_json::Value;
use std::borrow::Cow;
use std::collections::BTreeMap;

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

struct Weighed {
    mass: Mass,
    resolution: Option<Mass>,
    readings: Option<Readings<'static>>,
    typed: Option<Typed<'static>>,
}

fn mass_of(
    tx: &mut Tx<'_>,
    request: &MovementRequest,
    src: PlaceNumber,
    asked: Asked<'_>,
    pointer: &str,
    at: usize,
    moves: &mut Moves,
) -> Result<Weighed, ActionError> {
    match (&request.mass, &request.readings) {
        (Some(mass), None) => {
            let pointer = format!("{pointer}/mass");
            let (text, unit) = parts(&read(mass, &pointer)?, &pointer)?;
            let (mass, typed) = typed_mass(&text, unit, asked, &pointer, src, moves)?;
            Ok(Weighed {
                mass,
                resolution: None,
                readings: None,
                typed: Some(typed),
            })
        }
        (None, Some(readings)) => {
            let pointer = format!("{pointer}/readings");
            let readings = read(readings, &pointer)?;
            weighed(tx, &readings, src, asked, &pointer, at, moves)
        }
        _ => Err(Refusal::Malformed {
            pointer: pointer.to_string(),
            detail: "Expected either mass or readings {before, after}; give one of them."
                .to_string(),
        }
        .into()),
    }
}

/// Text and unit of a mass as requested.
pub fn parts(mass: &MassRequest, pointer: &str) -> Result<(String, Option<Unit>), ActionError> {
    match mass {
        MassRequest::Text(text) => Ok((text.clone(), None)),
        MassRequest::Parts(MassParts {
            value, text, unit, ..
        }) => {
            let unit = unit
                .as_deref()
                .map(|unit| unit_named(unit, pointer))
                .transpose()?;
            match (value, text) {
                (Some(text), None) | (None, Some(text)) => Ok((text.clone(), unit)),
                _ => Err(Refusal::Malformed {
                    pointer: pointer.to_string(),
                    detail: "Expected either value with unit, or text; give one of them."
                        .to_string(),
                }
                .into()),
            }
        }
    }
}

/// Longest text of a mass; the grammar would read longer ones, a leaf shall not carry them.
const LONGEST_MASS: usize = 100;

/// Refuses a text that is far longer than any scale or person writes.
fn short(text: &str, pointer: &str) -> Result<(), ActionError> {
    if text.len() <= LONGEST_MASS {
        return Ok(());
    }
    let expected = "a mass of at most 100 characters";
    Err(Refusal::invalid(pointer, expected, text, "Write for example 7 lb 4 oz.").into())
}

fn unit_named(unit: &str, pointer: &str) -> Result<Unit, ActionError> {
    Unit::from_code(unit)
        .or_else(|| Unit::from_word(unit))
        .ok_or_else(|| {
            Refusal::invalid(
                &format!("{pointer}/unit"),
                "one of [lb_av], [oz_av], kg, g, mg, ug (or lb, oz, lb+oz)",
                unit,
                "Masses are weighed in these units.",
            )
            .into()
        })
}

/// Reads a typed mass; a question is noted and its literal reading goes on, so that all questions
/// of a request are asked at once.
pub fn typed_mass(
    text: &str,
    unit: Option<Unit>,
    asked: Asked<'_>,
    pointer: &str,
    place: PlaceNumber,
    moves: &mut Moves,
) -> Result<(Mass, Typed<'static>), ActionError> {
    short(text, pointer)?;
    let answer = asked
        .answer("pounds_or_ounces")
        .or(asked.answer("finer_than_a_step"));
    let reading = mass::read_with_answer(text, unit, answer);
    let (mass, answer) = settle(reading, answer, asked, pointer, place, moves)?;
    Ok((mass, kept(text, unit, answer)))
}

fn weighed(
    tx: &mut Tx<'_>,
    request: &ReadingsRequest,
    src: PlaceNumber,
    asked: Asked<'_>,
    pointer: &str,
    at: usize,
    moves: &mut Moves,
) -> Result<Weighed, ActionError> {
    let unit = request
        .unit
        .as_deref()
        .map(|unit| unit_named(unit, pointer))
        .transpose()?;
    let way = if src.sort() == Sort::Cylinder {
        Way::Leaving
    } else {
        Way::Entering
    };
    let answer = asked
        .answer("pounds_or_ounces")
        .or(asked.answer("finer_than_a_step"));
    short(&request.before, &format!("{pointer}/before"))?;
    short(&request.after, &format!("{pointer}/after"))?;
    let (mut before, mut after) = (&request.before, &request.after);
    let mut reading = mass::weighing(before, after, unit, way, answer);
    let swapped = matches!(&reading, Reading::Question { code, .. } if code.word() == "swapped");
    if swapped && (asked.silent || asked.answer("swapped") == Some(Answer::Exchange)) {
        (before, after) = (after, before);
        moves.findings.push(("swapped", src));
        moves
            .presumed
            .insert("swapped".to_string(), "exchange".to_string());
        reading = mass::weighing(before, after, unit, way, answer);
    }
    let (mass, answer) = settle(reading, answer, asked, pointer, src, moves)?;
    let (before, after) = (kept(before, unit, answer), kept(after, unit, answer));
    let mut resolution = None;
    let mut scale = None;
    if let Some(name) = &request.scale {
        match tx.find(Sort::Scale, name)? {
            Some(number) => {
                let subject = tx.subject(number)?;
                (resolution, scale) = (subject.brief.resolution, subject.id);
            }
            None => {
                moves
                    .secrets
                    .push((format!("movements.{at}.readings.scale"), name.clone()));
                moves.findings.push(("unregistered_scale", src));
            }
        }
    }
    let unit = before.unit;
    let readings = Readings {
        after: after.text,
        before: before.text,
        scale,
        unit,
    };
    Ok(Weighed {
        mass,
        resolution,
        readings: Some(readings),
        typed: None,
    })
}

/// Takes a mass, notes a question, or refuses.
fn settle(
    reading: Reading,
    answer: Option<Answer>,
    asked: Asked<'_>,
    pointer: &str,
    place: PlaceNumber,
    moves: &mut Moves,
) -> Result<(Mass, Option<Answer>), ActionError> {
    match reading {
        Reading::Mass(mass) => Ok((mass, answer)),
        Reading::Refused { why, .. } => Err(Refusal::InvalidValue {
            pointer: pointer.to_string(),
            detail: why,
        }
        .into()),
        Reading::Question { code, choices, why } => {
            let Some(literal) = choices.first().copied() else {
                let detail = why;
                return Err(Refusal::InvalidValue {
                    pointer: pointer.to_string(),
                    detail,
                }
                .into());
            };
            if asked.silent {
                moves.findings.push((code.word(), place));
                let (code, word) = (code.word().to_string(), literal.answer.word().to_string());
                moves.presumed.insert(code, word);
            } else {
                let choices = choices.iter().map(|choice| QuestionChoice {
                    choice: choice.answer.word(),
                    text: choice.answer.word().replace('_', " "),
                    books: mass::echo(i128::from(choice.mass.steps())),
                });
                let choices = choices.collect();
                moves.questions.push(Question {
                    code: code.word(),
                    text: why,
                    choices,
                });
            }
            Ok((literal.mass, Some(literal.answer)))
        }
    }
}

/// Text and unit as the leaf keeps them.
fn kept(text: &str, unit: Option<Unit>, answer: Option<Answer>) -> Typed<'static> {
    let kept = mass::leaf_text(text, unit, answer);
    let fallback = || LeafText {
        text: text.trim().to_string(),
        unit: unit.unwrap_or(Unit::Pound),
    };
    let LeafText { text, unit } = kept.unwrap_or_else(fallback);
    Typed {
        text: Cow::Owned(text),
        unit: Cow::Borrowed(unit.code()),
    }
}
