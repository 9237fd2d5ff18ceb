//! A filled-in form: from the boxes of a page to the request that the one door for facts takes.
//!
//! Boxes that were left empty are left out of the request; nothing is guessed here. What the door
//! refuses comes back with a JSON pointer, and the pointer says which box it belongs to.

use crate::actions::refusal::Refusal;
use crate::ledger::id::Id;
use reports::mass::{self, Answer, Mass, Reading, Unit, Way};
use serde_json::{Map, Value, json};
use std::collections::BTreeMap;

/// What is posted: the two deeds a page has.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Deed {
    /// Refrigerant from a cylinder into the appliance.
    Charge,
    /// Refrigerant from the appliance into a cylinder.
    Recover,
}

/// The boxes of the form, as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Fields {
    /// Made when the form was served, so that a second press books nothing twice.
    pub entry_id: String,
    /// The token that came with the form.
    pub form: String,
    /// Grams of the mass that was shown for checking.
    pub checked: String,
    /// The visit.
    pub visit: String,
    /// How many small appliances were emptied; of the form for these alone.
    pub number: String,
    /// The cylinder's tag.
    pub cylinder: String,
    /// What the appliance runs on, where the book does not know it, or what came out of small ones.
    pub refrigerant: String,
    /// What the scale shows.
    pub unit: String,
    /// Reading before.
    pub before: String,
    /// Reading after.
    pub after: String,
    /// The net weight, where only that is known.
    pub mass: String,
    /// Back to full charge: yes, no, or empty.
    pub full: String,
    /// Why.
    pub reason: String,
    /// Condition of what was recovered.
    pub class: String,
    /// What was recovered: `all`, or empty.
    pub what: String,
    /// Does the repair need an industrial process to stop: yes, no, or empty.
    pub process_shutdown: String,
    /// The day.
    pub day: String,
    /// The time.
    pub time: String,
    /// The scale.
    pub scale: String,
    /// A note.
    pub note: String,
    /// Why a stop is lifted.
    pub reason_text: String,
    /// Why an entry is corrected.
    pub why: String,
    /// What stands instead of a corrected entry: empty, or `nothing`.
    pub instead: String,
    /// Answers to questions and stops, by code.
    pub answers: BTreeMap<String, String>,
}

/// What the boxes say about the mass.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Weighed {
    /// A mass that was not shown yet: show it before it is booked.
    Show {
        /// The mass.
        mass: Mass,
        /// `29 lb 4 oz − 14 lb 12 oz =`, empty for a net weight.
        sum: String,
    },
    /// The mass that was shown and found right, or one that the door will ask about or refuse.
    GoOn,
}

impl Fields {
    /// Reads the pairs of a form; an unknown name is refused.
    pub fn read(pairs: Vec<(String, String)>) -> Result<Fields, String> {
        let mut fields = Fields::default();
        for (name, value) in pairs {
            let value = value.trim().replace("\r\n", "\n");
            if let Some(code) = name.strip_prefix("answer.") {
                // No answer is what "something above is not right" sends.
                if !value.is_empty() {
                    fields.answers.insert(code.to_string(), value);
                }
                continue;
            }
            match fields.named(&name) {
                Some(field) => *field = value,
                None => return Err(name),
            }
        }
        Ok(fields)
    }

    fn named(&mut self, name: &str) -> Option<&mut String> {
        Some(match name {
            "entry_id" => &mut self.entry_id,
            "form" => &mut self.form,
            "checked" => &mut self.checked,
            "visit" => &mut self.visit,
            "number" => &mut self.number,
            "cylinder" => &mut self.cylinder,
            "refrigerant" => &mut self.refrigerant,
            "unit" => &mut self.unit,
            "before" => &mut self.before,
            "after" => &mut self.after,
            "mass" => &mut self.mass,
            "full" => &mut self.full,
            "reason" => &mut self.reason,
            "class" => &mut self.class,
            "what" => &mut self.what,
            "process_shutdown" => &mut self.process_shutdown,
            "day" => &mut self.day,
            "time" => &mut self.time,
            "scale" => &mut self.scale,
            "note" => &mut self.note,
            "reason_text" => &mut self.reason_text,
            "why" => &mut self.why,
            "instead" => &mut self.instead,
            _ => return None,
        })
    }

    /// What the boxes say about the mass; a mass is shown once before it is booked.
    pub fn weighed(&self, deed: Deed) -> Weighed {
        let answered = ["pounds_or_ounces", "finer_than_a_step", "swapped"];
        let asked = answered.iter().any(|code| self.answers.contains_key(*code));
        if asked || (self.has_readings() && !self.mass.is_empty()) {
            // The question showed what its answer would book; two weights are one too many.
            return Weighed::GoOn;
        }
        let unit = Unit::from_word(&self.unit);
        let (reading, sum) = if self.mass.is_empty() {
            let way = match deed {
                Deed::Charge => Way::Leaving,
                Deed::Recover => Way::Entering,
            };
            let (before, after) = (self.before.as_str(), self.after.as_str());
            (
                mass::weighing(before, after, unit, way, None),
                self.sum(unit, way),
            )
        } else {
            let answer: Option<Answer> = None;
            (
                mass::read_with_answer(&self.mass, unit, answer),
                String::new(),
            )
        };
        match reading {
            Reading::Mass(mass) if mass.to_string() != self.checked => Weighed::Show { mass, sum },
            _ => Weighed::GoOn,
        }
    }

    fn has_readings(&self) -> bool {
        !self.before.is_empty() || !self.after.is_empty()
    }

    /// The two readings as a sum that a person can check.
    fn sum(&self, unit: Option<Unit>, way: Way) -> String {
        let shown = |text: &str| match mass::read_scale(text, unit, None) {
            Reading::Mass(mass) => mass::lb_oz_text(i128::from(mass.steps())),
            _ => text.to_string(),
        };
        let (before, after) = (shown(&self.before), shown(&self.after));
        match way {
            Way::Leaving => format!("{before} − {after} ="),
            Way::Entering => format!("{after} − {before} ="),
        }
    }

    /// The request for the door.
    pub fn request(&self, deed: Deed, appliance: Id) -> Value {
        let mut body = Map::new();
        let (cylinder_end, appliance_end) = match deed {
            Deed::Charge => ("from", "to"),
            Deed::Recover => ("to", "from"),
        };
        put(&mut body, appliance_end, &format!("appliance:{appliance}"));
        put(
            &mut body,
            cylinder_end,
            &format!("cylinder:{}", self.cylinder),
        );
        put(&mut body, "refrigerant", &self.refrigerant);
        if self.has_readings() || self.mass.is_empty() {
            let mut readings = Map::new();
            readings.insert("before".to_string(), self.before.clone().into());
            readings.insert("after".to_string(), self.after.clone().into());
            put(&mut readings, "unit", &self.unit);
            put(&mut readings, "scale", &self.scale);
            body.insert("readings".to_string(), readings.into());
        }
        if !self.mass.is_empty() {
            // With readings beside it the door says that one of them is enough.
            let mass = json!({"text": self.mass, "unit": self.unit});
            body.insert("mass".to_string(), mass);
        }
        put(&mut body, "reason", &self.reason);
        match (deed, self.full.as_str()) {
            (Deed::Charge, "yes") => {
                body.insert("returned_to_full_charge".to_string(), true.into());
            }
            (Deed::Charge, "no") => {
                body.insert("returned_to_full_charge".to_string(), false.into());
            }
            (Deed::Charge, _) => {}
            (Deed::Recover, _) => {
                put(&mut body, "class", &self.class);
                put(&mut body, "what", &self.what);
            }
        }
        if deed == Deed::Charge {
            put(&mut body, "process_shutdown", &self.process_shutdown);
        }
        let mut happened = Map::new();
        put(&mut happened, "day", &self.day);
        put(&mut happened, "time", &self.time);
        let mut request = Map::new();
        put(&mut request, "entry_id", &self.entry_id);
        put(&mut request, "kind", deed.kind());
        request.insert("happened".to_string(), happened.into());
        put(&mut request, "visit", &self.visit);
        put(&mut request, "note", &self.note);
        put(&mut request, "reason_text", &self.reason_text);
        request.insert("answers".to_string(), json!(self.answers));
        request.insert("body".to_string(), body.into());
        request.into()
    }
}

fn put(into: &mut Map<String, Value>, name: &str, text: &str) {
    if !text.is_empty() {
        into.insert(name.to_string(), text.into());
    }
}

impl Deed {
    /// The kind of its entry.
    pub fn kind(self) -> &'static str {
        match self {
            Deed::Charge => "charge",
            Deed::Recover => "recover",
        }
    }
}

/// Something to be put right, and the box it belongs to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BoxProblem {
    /// The box.
    pub field: &'static str,
    /// What was expected, what came, what to do.
    pub text: String,
}

/// What a refusal means for the boxes; `None`: it is a question, a stop, or no matter of a box.
pub fn box_problem(refusal: &Refusal) -> Option<BoxProblem> {
    let (pointer, text) = match refusal {
        Refusal::Malformed { pointer, detail } | Refusal::InvalidValue { pointer, detail } => {
            (pointer.as_str(), detail.clone())
        }
        Refusal::UnknownField { pointer, .. } => (pointer.as_str(), refusal.to_string()),
        Refusal::Unknown {
            pointer,
            what,
            name,
        } => (
            pointer.as_str(),
            format!("No {what} \"{name}\" is registered in this book. Read the label again."),
        ),
        Refusal::IdReused { seq, .. } => (
            "",
            format!(
                "This form was booked already, as no. {seq}, with other content. For another job \
                 open the form again; to put no. {seq} right, correct it."
            ),
        ),
        Refusal::InProgress => (
            "",
            "This form is being booked at this moment. Press once more in a few seconds; it never \
             books twice."
                .to_string(),
        ),
        Refusal::TooLarge { .. } | Refusal::Forbidden { .. } | Refusal::Held { .. } => {
            ("", refusal.to_string())
        }
        _ => return None,
    };
    let field = field_of(pointer);
    Some(BoxProblem { field, text })
}

/// The place in the request that a refusal is about; empty: none.
pub fn pointer_of(refusal: &Refusal) -> &str {
    match refusal {
        Refusal::Malformed { pointer, .. }
        | Refusal::InvalidValue { pointer, .. }
        | Refusal::UnknownField { pointer, .. }
        | Refusal::Unknown { pointer, .. } => pointer,
        _ => "",
    }
}

/// The box that a pointer means.
fn field_of(pointer: &str) -> &'static str {
    // What stands in the place of a corrected entry has the boxes of an entry.
    let pointer = pointer.strip_prefix("/body/replace").unwrap_or(pointer);
    let known = [
        ("/body/readings/after", "after"),
        ("/body/readings/scale", "scale"),
        ("/body/readings", "before"),
        ("/body/mass", "mass"),
        ("/body/reason", "reason"),
        ("/body/class", "class"),
        ("/body/from", "cylinder"),
        ("/body/to", "cylinder"),
        ("/body/refrigerant", "refrigerant"),
        ("/body/number", "number"),
        ("/body", "before"),
        ("/happened/time", "time"),
        ("/happened", "day"),
        ("/reason_text", "reason_text"),
        ("/note", "note"),
    ];
    let found = known.iter().find(|(start, _)| pointer.starts_with(start));
    found.map_or("post", |(_, field)| field)
}

#[cfg(test)]
mod tests;
