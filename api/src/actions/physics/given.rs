//! What was given, field by field, as texts: from a query, a form or JSON.
//!
//! A quantity is a number under its name and a unit under the name with `_unit`; JSON may write both
//! as `{"value": "5", "unit": "Cel"}`. An empty field counts as one that was not given.

use reports::mass::{self, Mass, Reading};
use reports::number::Decimal;
use reports::physics::{
    GaugeKind, LengthUnit, LocalAir, Pressure, PressureUnit, Problem, ProblemCode, Quantity, Unit,
};
use serde_json::{Map, Value};
use std::collections::BTreeMap;

/// Longest text of a field.
const LONGEST: usize = 200;

/// Fields by name.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Given(BTreeMap<String, String>);

impl Given {
    /// Of names and texts; `known`: the names there may be.
    ///
    /// # Errors
    /// The first name that is not known, or a text that is too long.
    pub fn of<'t>(
        pairs: impl IntoIterator<Item = (&'t str, &'t str)>,
        known: &[&str],
    ) -> Result<Given, Problem> {
        let mut given = Given::default();
        for (name, text) in pairs {
            given.put(name, text, known)?;
        }
        Ok(given)
    }

    /// Of the members of a JSON object.
    ///
    /// # Errors
    /// A member that is not known, or no text, number, yes or no, list of texts or quantity.
    pub fn of_json(members: &Map<String, Value>, known: &[&str]) -> Result<Given, Problem> {
        let mut given = Given::default();
        for (name, value) in members {
            match value {
                Value::Null => {}
                Value::Object(parts) => {
                    for (part, value) in parts {
                        let (to, value) = match (part.as_str(), value) {
                            ("value", Value::Number(number)) => (name.clone(), number.to_string()),
                            ("value" | "text", Value::String(text)) => (name.clone(), text.clone()),
                            ("unit", Value::String(text)) => (unit_of(name), text.clone()),
                            _ => return Err(wrong_shape(name, part)),
                        };
                        let known = match known.contains(&name.as_str()) {
                            true => &[to.as_str()][..],
                            false => known,
                        };
                        given.put(&to, &value, known)?;
                    }
                }
                Value::Array(list) => {
                    let texts: Result<Vec<String>, Problem> =
                        list.iter().map(|value| in_list(name, value)).collect();
                    given.put(name, &texts?.join(","), known)?;
                }
                value => given.put(name, &plain(name, value)?, known)?,
            }
        }
        Ok(given)
    }

    fn put(&mut self, name: &str, text: &str, known: &[&str]) -> Result<(), Problem> {
        if !known.contains(&name) {
            return Err(Problem::new(
                ProblemCode::Missing,
                name,
                format!("one of {}", known.join(", ")),
                "a field that is not known here",
                "Leave it out, or spell it as the list does.",
            ));
        }
        let text = text.trim();
        if text.chars().count() > LONGEST || text.chars().any(char::is_control) {
            return Err(Problem::new(
                ProblemCode::OutOfRange,
                name,
                format!("at most {LONGEST} characters without control characters"),
                "another text",
                "Shorten or retype it.",
            ));
        }
        if text.is_empty() {
            return Ok(());
        }
        let before = self.0.insert(name.to_string(), text.to_string());
        match before.filter(|before| before != text) {
            Some(before) => Err(contradiction(name, &before, text)),
            None => Ok(()),
        }
    }

    /// The text of a field.
    pub fn text(&self, name: &str) -> Option<&str> {
        self.0.get(name).map(String::as_str)
    }

    /// The text of a field that is needed.
    ///
    /// # Errors
    /// [`ProblemCode::Missing`].
    pub fn needed<'g>(&'g self, name: &str, expected: &str) -> Result<&'g str, Problem> {
        let missing = || Problem::missing(name, expected, "Say it.");
        self.text(name).ok_or_else(missing)
    }

    /// A decimal.
    ///
    /// # Errors
    /// [`ProblemCode::NotANumber`].
    pub fn decimal(&self, name: &str) -> Result<Option<Decimal>, Problem> {
        let read = |text: &str| {
            Decimal::parse(text).ok_or_else(|| {
                Problem::new(
                    ProblemCode::NotANumber,
                    name,
                    "a decimal number such as 60 or 0.5",
                    format!("\"{text}\""),
                    "Write digits and a point; no comma, no exponent.",
                )
            })
        };
        self.text(name).map(read).transpose()
    }

    /// A decimal that is needed.
    ///
    /// # Errors
    /// [`ProblemCode::NotANumber`], [`ProblemCode::Missing`].
    pub fn needed_decimal(&self, name: &str, expected: &str) -> Result<Decimal, Problem> {
        let missing = || Problem::missing(name, expected, "Say it.");
        self.decimal(name)?.ok_or_else(missing)
    }

    /// A number with its own unit, or with the one that the field `shared` names.
    ///
    /// # Errors
    /// [`ProblemCode::NotANumber`], [`ProblemCode::UnknownUnit`].
    pub fn quantity<U: Unit>(
        &self,
        name: &str,
        shared: &str,
    ) -> Result<Option<Quantity<U>>, Problem> {
        let Some(number) = self.text(name) else {
            return Ok(None);
        };
        let own = self.text(&unit_of(name));
        if let (Some(own), Some(shared)) = (own, self.text(shared))
            && own != shared
        {
            return Err(contradiction(name, own, shared));
        }
        let unit = own.or_else(|| self.text(shared)).unwrap_or_default();
        Quantity::read(name, number, unit).map(Some)
    }

    /// A number with a unit that is needed.
    ///
    /// # Errors
    /// [`ProblemCode::NotANumber`], [`ProblemCode::UnknownUnit`], [`ProblemCode::Missing`].
    pub fn needed_quantity<U: Unit>(
        &self,
        name: &str,
        shared: &str,
        expected: &str,
    ) -> Result<Quantity<U>, Problem> {
        let to_do = "Give it with the unit that stands on the instrument.";
        let missing = || Problem::missing(name, expected, to_do);
        self.quantity(name, shared)?.ok_or_else(missing)
    }

    /// A mass as people type it: `25 lb 8 oz`, `11.6 kg`, or a number with a unit.
    ///
    /// # Errors
    /// [`ProblemCode::NotANumber`] for what is no mass or can be read in two ways.
    pub fn mass(&self, name: &str) -> Result<Option<Mass>, Problem> {
        let Some(text) = self.text(name) else {
            return Ok(None);
        };
        let wrong = |came: &str, to_do: &str| {
            let expected = "a mass such as 25 lb 8 oz or 11.6 kg";
            Problem::new(ProblemCode::NotANumber, name, expected, came, to_do)
        };
        let unit = self.text(&unit_of(name)).map(|code| {
            let unit = mass::Unit::from_code(code).or_else(|| mass::Unit::from_word(code));
            let to_do = "Masses are in [lb_av], [oz_av], kg or g.";
            unit.ok_or_else(|| wrong(&format!("the unit \"{code}\""), to_do))
        });
        let came = format!("\"{text}\"");
        // A scale may show nothing, and an empty cylinder nothing but its tare.
        match mass::read_scale(text, unit.transpose()?, None) {
            Reading::Mass(mass) => Ok(Some(mass)),
            Reading::Question { why, .. } | Reading::Refused { why, .. } => Err(wrong(&came, &why)),
        }
    }

    /// Yes or no.
    ///
    /// # Errors
    /// [`ProblemCode::OutOfRange`] for any other word.
    pub fn yes_no(&self, name: &str) -> Result<Option<bool>, Problem> {
        match self.text(name) {
            None => Ok(None),
            Some("yes" | "true") => Ok(Some(true)),
            Some("no" | "false") => Ok(Some(false)),
            Some(other) => Err(Problem::new(
                ProblemCode::OutOfRange,
                name,
                "yes or no",
                format!("\"{other}\""),
                "Answer with one of the two, or leave it out.",
            )),
        }
    }

    /// What the gauge compares with.
    ///
    /// # Errors
    /// [`ProblemCode::OutOfRange`] for any other word.
    pub fn gauge(&self) -> Result<Option<GaugeKind>, Problem> {
        match self.text("gauge") {
            None => Ok(None),
            Some("vented") => Ok(Some(GaugeKind::Vented)),
            Some("sealed") => Ok(Some(GaugeKind::Sealed)),
            Some(other) => Err(Problem::new(
                ProblemCode::OutOfRange,
                "gauge",
                "vented or sealed",
                format!("\"{other}\""),
                "A manifold gauge is vented; a digital one that corrects for sea level is sealed.",
            )),
        }
    }

    /// The altitude of the place.
    ///
    /// # Errors
    /// Those of reading a quantity.
    pub fn altitude(&self) -> Result<Option<Quantity<LengthUnit>>, Problem> {
        self.quantity("altitude", "altitude_unit")
    }

    /// A barometer at the place.
    ///
    /// # Errors
    /// Those of reading a quantity.
    pub fn barometer(&self) -> Result<Option<Pressure>, Problem> {
        self.quantity("barometer", "barometer_unit")
    }

    /// Gauge and air of pressures in a unit: what is absolute needs neither.
    ///
    /// # Errors
    /// Those of [`LocalAir::from_either`]; [`ProblemCode::Missing`] for the gauge.
    pub fn gauge_and_air(&self, unit: PressureUnit) -> Result<(GaugeKind, LocalAir), Problem> {
        let gauge = self.gauge()?;
        let (altitude, barometer) = (self.altitude()?, self.barometer()?);
        if unit.against == reports::physics::Against::Vacuum {
            return Ok((GaugeKind::Vented, LocalAir::SEA_LEVEL));
        }
        let gauge = gauge.ok_or_else(|| {
            Problem::missing(
                "gauge",
                "vented or sealed",
                "A manifold gauge is vented; a digital one that corrects for sea level is sealed.",
            )
        })?;
        if gauge == GaugeKind::Sealed && altitude.is_none() && barometer.is_none() {
            return Ok((gauge, LocalAir::SEA_LEVEL));
        }
        Ok((gauge, LocalAir::from_either(altitude, barometer)?))
    }
}

/// Two texts for one field: neither is taken.
fn contradiction(name: &str, one: &str, other: &str) -> Problem {
    Problem::new(
        ProblemCode::Contradiction,
        name,
        "one number with one unit",
        format!("\"{one}\" and \"{other}\""),
        "Leave one of them out.",
    )
}

fn unit_of(name: &str) -> String {
    format!("{name}_unit")
}

/// The text of a plain value.
fn in_list(name: &str, value: &Value) -> Result<String, Problem> {
    let text = value.as_str().map(str::to_string);
    text.ok_or_else(|| wrong_shape(name, "a list of something else than texts"))
}

fn plain(name: &str, value: &Value) -> Result<String, Problem> {
    match value {
        Value::String(text) => Ok(text.clone()),
        Value::Number(number) => Ok(number.to_string()),
        Value::Bool(true) => Ok("yes".to_string()),
        Value::Bool(false) => Ok("no".to_string()),
        _ => Err(wrong_shape(name, "a list or an object")),
    }
}

fn wrong_shape(name: &str, came: &str) -> Problem {
    Problem::new(
        ProblemCode::NotANumber,
        name,
        "a text, a number, or {\"value\", \"unit\"}",
        came,
        "Write for example {\"value\": \"5\", \"unit\": \"Cel\"}.",
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use reports::physics::TemperatureUnit;
    use serde_json::json;

    #[test]
    fn json_and_query_say_the_same() {
        let known = ["temperature", "temperature_unit", "rested", "gross"];
        let object = json!({"temperature": {"value": "5", "unit": "Cel"}, "rested": true,
                            "gross": null});
        let of_json = Given::of_json(object.as_object().unwrap(), &known).unwrap();
        let pairs = [
            ("temperature", "5 "),
            ("temperature_unit", "Cel"),
            ("rested", "yes"),
        ];
        assert_eq!(of_json, Given::of(pairs, &known).unwrap());
        let read: Quantity<TemperatureUnit> =
            of_json.needed_quantity("temperature", "unit", "").unwrap();
        assert_eq!(read.text(), "5 Cel");
        assert_eq!(of_json.yes_no("rested").unwrap(), Some(true));
    }

    #[test]
    fn what_is_not_known_is_named() {
        let problem = Given::of([("colour", "red")], &["gross"]).unwrap_err();
        assert_eq!(problem.field, "colour");
        let deep = json!({"gross": {"value": {"value": "1"}}});
        assert!(Given::of_json(deep.as_object().unwrap(), &["gross"]).is_err());
        let other = json!({"gross": {"weight": "1"}});
        assert!(Given::of_json(other.as_object().unwrap(), &["gross"]).is_err());
        let given = Given::of(
            [("gross", "7.12 lb"), ("rested", "maybe")],
            &["gross", "rested"],
        );
        let given = given.unwrap();
        assert_eq!(given.mass("gross").unwrap_err().field, "gross");
        assert_eq!(given.yes_no("rested").unwrap_err().field, "rested");
    }
}
