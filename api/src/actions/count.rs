//! count: a cylinder on the scale, and the difference to the book as unexplained.
//!
//! What is in it by the scale is gross less tare. The difference to the book moves between the
//! cylinder and *unexplained*, with a reason, so that every account still closes. It settles what was
//! found about the scale and about a balance below zero.

use super::moves::{Asked, Moves, Moving, named, parts, typed_mass};
use super::post::Intention;
use super::recover::word;
use super::refusal::{ActionError, Refusal};
use super::request::{MassRequest, read as read_members};
use crate::ledger::entry::{Body, Leaf, Moved, Words};
use crate::store::StoreError;
use crate::store::columns::{PlaceNumber, Sort};
use crate::store::tx::Tx;
use reports::mass::{Mass, lb_oz_text};
use serde::Deserialize;
use serde_json::Value;
use std::borrow::Cow;

/// Why scale and book differ.
pub const REASONS: &[&str] = &[
    "counted",
    "tare",
    "exchange",
    "unposted_transfer",
    "leaked",
    "other",
];

/// What a count settles.
const SETTLES: &[&str] = &[
    "scale_tare",
    "scale_exchange",
    "scale_unposted",
    "over_content",
];

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Members {
    cylinder: String,
    gross: MassRequest,
    #[serde(default)]
    refrigerant: Option<String>,
    #[serde(default)]
    scale: Option<String>,
    #[serde(default)]
    reason: Option<String>,
}

/// Reads a count; `booked`: the entry that a repeat repeats.
pub fn read(
    tx: &mut Tx<'_>,
    body: &Value,
    asked: Asked<'_>,
    booked: Option<u64>,
) -> Result<Intention, ActionError> {
    let members: Members = read_members(body, "/body")?;
    let reason = word(members.reason.as_deref(), REASONS, "/body/reason")?;
    let name = members.cylinder.strip_prefix("cylinder:");
    let name = name.unwrap_or(&members.cylinder);
    let place = named(tx, Sort::Cylinder, name, "/body/cylinder")?;
    let mut moves = Moves::default();
    let (text, unit) = parts(&members.gross, "/body/gross")?;
    let (gross, typed) = typed_mass(&text, unit, asked, "/body/gross", place, &mut moves)?;
    if let Some(scale) = &members.scale {
        named(tx, Sort::Scale, scale, "/body/scale")?;
    }
    let net = net(tx, place, gross)?;
    let code = refrigerant(tx, place, members.refrigerant.as_deref(), net)?;
    let moved = match booked {
        Some(seq) => moved_before(tx, seq)?,
        None => difference(tx, place, code, net)?,
    };
    let mut words = Words::new();
    let mut say =
        |name: &'static str, word: String| words.insert(Cow::Borrowed(name), Cow::Owned(word));
    say("gross", typed.text.to_string());
    say("gross_unit", typed.unit.to_string());
    say("net_g", net.to_string());
    if let Some(reason) = reason {
        say("reason", reason.to_string());
    }
    moves.list = moved;
    let settles = settled_by(tx, place)?;
    let subject = tx.place(place)?.to_string();
    let mut what = Intention::moving(
        Body {
            subject: Some(Cow::Owned(subject)),
            words: Some(words),
            ..Body::default()
        },
        moves,
    );
    what.settles = settles;
    Ok(what)
}

/// A count is not read anew in a correction: it means the book as it stood.
pub fn again() -> Result<Intention, ActionError> {
    Err(Refusal::InvalidValue {
        pointer: "/body/replace".to_string(),
        detail: "Expected a correction without replacement, got a count in its place. Take this \
                 count back, weigh again and post another."
            .to_string(),
    }
    .into())
}

fn net(tx: &mut Tx<'_>, place: PlaceNumber, gross: Mass) -> Result<Mass, ActionError> {
    let Some(tare) = tx.subject(place)?.brief.tare else {
        return Err(Refusal::InvalidValue {
            pointer: "/body/cylinder".to_string(),
            detail: "Expected a cylinder whose tare is known, got one without. Read TW off the \
                     collar, or weigh it empty, and record it with who did and when."
                .to_string(),
        }
        .into());
    };
    gross.checked_sub(tare).ok_or_else(|| {
        let steps = |mass: Mass| i128::from(mass.steps());
        let expected = format!("a mass not below the tare of {}", lb_oz_text(steps(tare)));
        let remedy = "Weigh again; check the unit and whether this is the right cylinder.";
        let came = lb_oz_text(steps(gross));
        Refusal::invalid("/body/gross", &expected, &came, remedy).into()
    })
}

/// What is in it: as stated, or the one refrigerant of the book.
fn refrigerant(
    tx: &mut Tx<'_>,
    place: PlaceNumber,
    stated: Option<&str>,
    net: Mass,
) -> Result<u16, ActionError> {
    let table = tx.table;
    let cylinder = tx.subject(place)?;
    let held: Vec<u16> = (cylinder.balances.iter())
        .filter(|(_, mass)| *mass != 0)
        .map(|(code, _)| *code)
        .collect();
    if let Some(name) = stated {
        let code = table.understood(name).map(|row| row.code);
        let code = code.or_else(|| table.code(name));
        let remedy = "Name it as the table does.";
        let pointer = "/body/refrigerant";
        return Ok(code.ok_or_else(|| {
            Refusal::invalid(pointer, "a designation, unknown or mixture", name, remedy)
        })?);
    }
    match held[..] {
        [one] => Ok(one),
        [] => {
            // An empty cylinder that weighs its tare holds nothing of any name.
            let usual = cylinder.brief.refrigerant.last().map(|(_, code)| *code);
            let unknown = table.code("unknown").filter(|_| net == Mass::ZERO);
            usual.or(unknown).ok_or_else(missing_refrigerant)
        }
        // A scale does not tell a mixture apart: the difference is booked on its largest part.
        _ => {
            let largest = held.iter().max_by_key(|code| cylinder.balance(**code));
            largest.copied().ok_or_else(missing_refrigerant)
        }
    }
}

fn missing_refrigerant() -> ActionError {
    let remedy = "Say refrigerant, or unknown.";
    let expected = "what is in the cylinder, because the book holds nothing there";
    Refusal::invalid("/body/refrigerant", expected, "none", remedy).into()
}

fn difference(
    tx: &mut Tx<'_>,
    place: PlaceNumber,
    code: u16,
    net: Mass,
) -> Result<Vec<Moving>, ActionError> {
    let cylinder = tx.subject(place)?;
    let book = match cylinder.holds().count() {
        // All that is in it stands on the scale, of whatever name.
        2.. => cylinder.total(),
        _ => cylinder.balance(code),
    };
    let difference = i128::from(net.steps()) - book;
    if difference == 0 {
        return Ok(Vec::new());
    }
    let (src, dst) = match difference > 0 {
        true => (PlaceNumber::UNEXPLAINED, place),
        false => (place, PlaceNumber::UNEXPLAINED),
    };
    let steps = i64::try_from(difference.abs()).map_err(|_| {
        let remedy = "Book it by its circuits.";
        Refusal::invalid("/body/gross", "a difference below 92 t", "more", remedy)
    })?;
    let mass = Mass::from_steps(steps);
    let refrigerant = tx.table.designation(code).unwrap_or_default().to_string();
    let moved = Moved {
        from: tx.place(src)?,
        g: mass,
        number: None,
        readings: None,
        refrigerant: Cow::Owned(refrigerant),
        to: tx.place(dst)?,
        typed: None,
    };
    Ok(vec![Moving {
        src,
        dst,
        refrigerant: code,
        mass,
        resolution: None,
        moved,
    }])
}

/// What the first booking moved: the book has changed by it, so that asking anew finds no difference.
fn moved_before(tx: &mut Tx<'_>, seq: u64) -> Result<Vec<Moving>, ActionError> {
    let missing = || StoreError::Broken(format!("entry {seq} has an id but no leaf"));
    let (bytes, _) = tx.leaf(seq)?.ok_or_else(missing)?;
    let broken = |error| StoreError::Broken(format!("entry {seq} is unreadable: {error}"));
    let leaf = Leaf::parse(&bytes).map_err(broken)?;
    let mut moves = Vec::new();
    for moved in leaf.body.movements.iter().flatten() {
        let (src, dst) = (tx.place_number(moved.from)?, tx.place_number(moved.to)?);
        let code = tx.table.code(&moved.refrigerant);
        let (Some(src), Some(dst), Some(refrigerant)) = (src, dst, code) else {
            continue;
        };
        moves.push(Moving {
            src,
            dst,
            refrigerant,
            mass: moved.g,
            resolution: None,
            moved: Moved {
                refrigerant: Cow::Owned(moved.refrigerant.to_string()),
                readings: None,
                typed: None,
                ..*moved
            },
        });
    }
    Ok(moves)
}

/// Open findings about the cylinder that weighing it settles.
fn settled_by(tx: &mut Tx<'_>, place: PlaceNumber) -> Result<Vec<(u64, String)>, ActionError> {
    let open = tx.open_findings_of(place)?;
    let settled = open
        .into_iter()
        .filter(|(_, code)| SETTLES.contains(&code.as_str()));
    Ok(settled.collect())
}
