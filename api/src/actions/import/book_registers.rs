//! The second reading of appliances and cylinders: rows become register entries.

use super::Table;
use super::appliances::{ApplianceRow, FactCell, read_appliances};
use super::book_movements::register_tag;
use super::cylinders::{CylinderRow, read_cylinders};
use super::file::ImportFile;
use super::mass_cell::MassCell;
use super::problems::Problems;
use super::run::{CHUNK, Importing, changed, failed_at, now};
use super::table::{FileFacts, Flow};
use super::things::Things;
use crate::actions::ActionError;
use crate::actions::moves::Asked;
use crate::actions::post::{Posting, book};
use crate::actions::register;
use crate::ledger::actor::Actor;
use crate::ledger::entry::{EntryKind, ImportRow};
use crate::ledger::id::Id;
use crate::store::StoreError;
use crate::store::columns::Sort;
use crate::store::imports::ImportState;
use crate::store::tx::Tx;
use reports::day::Zone;
use reports::mass::Answer;
use reports::refrigerant::Table as Refrigerants;
use serde_json::{Map, Value, json};
use std::collections::BTreeMap;

/// A row, ready to be booked.
struct Ready {
    row: u64,
    kind: EntryKind,
    facts: Map<String, Value>,
    /// Tag and zone of the site.
    site: Option<(Box<str>, Zone)>,
    owner: Option<Box<str>>,
    /// A mass that could be pounds or ounces was taken as pounds.
    as_pounds: bool,
}

impl Importing<'_> {
    /// Books the rows after the last booked one; says how many findings they left.
    pub(super) fn book_registers(
        &mut self,
        table: Table,
        file: ImportFile<'_>,
        facts: &FileFacts,
        mut state: ImportState,
        things: &mut Things,
        progress: &mut dyn FnMut(u64),
    ) -> Result<u64, StoreError> {
        let mut ready: Vec<Ready> = Vec::with_capacity(CHUNK);
        let mut problems = Problems::default();
        let mut error = None;
        let mut take = |row: Ready, state: &mut ImportState| {
            if row.row <= state.done {
                return Flow::Go;
            }
            let number = row.row;
            ready.push(row);
            // The header is row 1, so that the last row is one more than there are rows.
            if ready.len() < CHUNK && number <= state.rows {
                return Flow::Go;
            }
            progress(number);
            match self.book_register_chunk(table, facts, state, &mut ready) {
                Ok(()) => Flow::Go,
                Err(failure) => {
                    error = Some(failure);
                    Flow::Stop
                }
            }
        };
        let again = match table {
            Table::Appliances => read_appliances(file, &mut problems, |row, _, _| {
                take(appliance(row, things), &mut state)
            }),
            _ => read_cylinders(file, &mut problems, |row, _, _| {
                take(cylinder(row), &mut state)
            }),
        };
        if let Some(error) = error {
            return Err(error);
        }
        if again.is_none_or(|again| again.sha256 != facts.sha256) || !problems.is_empty() {
            return Err(changed(facts, "another"));
        }
        Ok(0)
    }

    fn book_register_chunk(
        &mut self,
        table: Table,
        facts: &FileFacts,
        state: &mut ImportState,
        ready: &mut Vec<Ready>,
    ) -> Result<(), StoreError> {
        let mut rows = Some(std::mem::take(ready));
        let import = state.id;
        let done = self.transact(|tx| {
            let mut state = *state;
            for row in rows.take().unwrap_or_default() {
                state.done = row.row;
                book_row(tx, row, import)
                    .map_err(|error| failed_at(&facts.name, state.done, error))?;
            }
            tx.note_import(table.word(), &facts.key, &state);
            Ok(state.done)
        })?;
        state.done = done;
        Ok(())
    }
}

fn book_row(tx: &mut Tx<'_>, mut ready: Ready, import: Id) -> Result<(), ActionError> {
    if let Some((tag, zone)) = &ready.site {
        let site = register_tag(tx, Sort::Site, tag, Some(zone))?;
        ready
            .facts
            .insert("site".to_string(), dated(&ready.facts, json!(site.id)));
    }
    if let Some(owner) = &ready.owner {
        let owner = register_tag(tx, Sort::Counterparty, owner, None)?;
        ready
            .facts
            .insert("owner".to_string(), dated(&ready.facts, json!(owner.id)));
    }
    let mut answers = BTreeMap::new();
    if ready.as_pounds {
        answers.insert(
            "pounds_or_ounces".to_string(),
            Answer::AsPounds.word().to_string(),
        );
    }
    let asked = Asked {
        answers: &answers,
        silent: false,
    };
    let body = json!({ "facts": ready.facts });
    let id = Id::at(tx.now.unsigned_abs() / 1000);
    let mut what = register::read(tx, ready.kind, &body, asked, id, false)?;
    what.body.import = Some(ImportRow {
        entry: import,
        row: ready.row,
    });
    let happened = now(tx)?;
    register::complete(&mut what.body, &mut what.secrets, happened.day)?;
    let posting = Posting {
        id,
        kind: ready.kind,
        happened,
        time_question: None,
        did: None,
        visit: None,
        answers,
        captured_offline: false,
        what,
    };
    book(tx, &Actor::IMPORT, posting).map(|_| ())
}

/// A fact that holds since the appliance was installed; a cylinder's from the day it is imported.
fn dated(facts: &Map<String, Value>, is: Value) -> Value {
    match facts
        .get("installed")
        .and_then(|installed| installed.get("from"))
    {
        Some(from) => json!({"from": from, "is": is}),
        None => is,
    }
}

fn appliance(row: &ApplianceRow<'_>, things: &Things) -> Ready {
    let since = row.installed.to_string();
    let from = |is: Value| json!({"from": since, "is": is});
    let mut facts = Map::new();
    let mut say = |name: &str, is: Value| facts.insert(name.to_string(), is);
    say("tag", json!(row.tag));
    say("category", from(json!(row.category)));
    say(
        "refrigerant",
        from(json!(Refrigerants::shipped().designation(row.refrigerant))),
    );
    say("installed", from(json!(since)));
    let mut as_pounds = false;
    let full_charge = match &row.full_charge {
        None => json!("unknown"),
        Some(cell) => {
            as_pounds = cell.answer.is_some();
            let mut charge = json!({ "mass": mass(cell) });
            if let Some(method) = row.full_charge_method {
                charge["method"] = json!(method);
            }
            charge
        }
    };
    say("full_charge", from(full_charge));
    for (name, text) in [
        ("equipment_tag", row.machine),
        ("region", row.region),
        ("place", row.place),
        ("serial", row.serial),
    ] {
        if let Some(text) = text {
            say(name, from(json!(text)));
        }
    }
    for (name, fact) in &row.facts {
        match fact {
            FactCell::Word(word) => say(name, from(json!(word))),
            FactCell::Number(number) => say(name, from(json!(number.to_string()))),
        };
    }
    let zone = row
        .zone
        .and_then(Zone::named)
        .unwrap_or_else(|| things.zones[0].clone());
    Ready {
        row: row.row,
        kind: EntryKind::Appliance,
        facts,
        site: Some((row.site.into(), zone)),
        owner: row.owner.map(Into::into),
        as_pounds,
    }
}

fn cylinder(row: &CylinderRow<'_>) -> Ready {
    let mut facts = Map::new();
    let mut say = |name: &str, is: Value| facts.insert(name.to_string(), is);
    say("tag", json!(row.tag));
    say("use", json!(row.use_.word()));
    if let Some(code) = row.refrigerant {
        say(
            "refrigerant",
            json!(Refrigerants::shipped().designation(code)),
        );
    }
    let masses = [
        ("capacity", Some(&row.capacity)),
        ("tare", row.tare.as_ref()),
    ];
    let water = [("water_capacity", row.water_capacity.as_ref())];
    let mut as_pounds = false;
    for (name, cell) in masses.into_iter().chain(water) {
        if let Some(cell) = cell {
            as_pounds |= cell.answer.is_some();
            say(name, mass(cell));
        }
    }
    if let Some(day) = row.retest_on {
        say("retest_on", json!(day.to_string()));
    }
    Ready {
        row: row.row,
        kind: EntryKind::Cylinder,
        facts,
        site: None,
        owner: row.owner.map(Into::into),
        as_pounds,
    }
}

fn mass(cell: &MassCell<'_>) -> Value {
    json!({"text": cell.text, "unit": cell.unit.word()})
}
