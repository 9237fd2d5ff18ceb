//! The values of facts: from a request to what a leaf says.

use super::{day, free_tag};
use crate::actions::judge::as_stated;
use crate::actions::moves::{Asked, Moves, named, parts, typed_mass};
use crate::actions::post::typed_text;
use crate::actions::refusal::{ActionError, Refusal};
use crate::actions::request::{MassRequest, read as read_members};
use crate::ledger::id::Id;
use crate::store::columns::{PlaceNumber, Sort};
use crate::store::dossier::FactType;
use crate::store::tx::Tx;
use reports::day::Zone;
use reports::mass::{Mass, kg_text, lb_oz_text};
use reports::number::Decimal;
use serde::Deserialize;
use serde_json::{Value, json};

/// A reading that is off by more than this part of the weight is a slip of unit or box, not the fault
/// of a scale (common practice, no source: a fifth).
const FAR_OFF: i128 = 5;

/// Reads values of facts of one thing.
pub struct Reader<'r, 'a> {
    /// The book.
    pub tx: &'r mut Tx<'a>,
    /// Answers given.
    pub asked: Asked<'r>,
    /// Where questions about masses are noted.
    pub moves: &'r mut Moves,
    /// Sort of the thing.
    pub sort: Sort,
    /// Its id.
    pub id: Id,
    /// The entry is booked already: its tag may have passed to another thing since.
    pub repeat: bool,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FullCharge {
    #[serde(default)]
    mass: Option<MassRequest>,
    #[serde(default)]
    low: Option<MassRequest>,
    #[serde(default)]
    high: Option<MassRequest>,
    #[serde(default)]
    method: Option<String>,
    #[serde(default)]
    established_on: Option<String>,
    #[serde(default)]
    established_by: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Checked {
    nominal: MassRequest,
    shown: MassRequest,
}

/// How a full charge is established (40 CFR 82.152, four methods).
const METHODS: &[&str] = &["maker_data", "calculation", "measurement", "range"];

/// Words of facts that have a closed list.
const WORDS: &[(&str, &[&str])] = &[
    (
        "category",
        &[
            "commercial_refrigeration",
            "industrial_process",
            "comfort_cooling",
            "refrigerated_transport",
            "other_refrigeration",
            "residential_light_commercial_ac",
            "other",
        ],
    ),
    (
        "certificate_class",
        &["type_1", "type_2", "type_3", "universal", "none"],
    ),
    ("class", super::super::recover::CLASSES),
    ("condition", &["in_service", "condemned", "retired"]),
    ("equipment", &["switchgear", "rankine", "other"]),
    ("land", &["federal", "aboriginal", "other"]),
    ("owner_class", &["federal", "private", "other"]),
    (
        "type",
        &[
            "supplier",
            "reclaimer",
            "destruction_facility",
            "owner",
            "other",
        ],
    ),
    ("use", &["supply", "recovery", "disposable"]),
];

/// Facts whose words are yes and no.
const YES_NO: &[&str] = &[
    "detector",
    "evacuated",
    "ghg_reporter",
    "hermetic",
    "indoors",
    "mobile",
    "process_shutdown",
    "residential",
    "year_round",
];

impl Reader<'_, '_> {
    /// The value of a fact as the leaf says it (a text stays a text and is committed later).
    pub fn value(
        &mut self,
        name: &str,
        sorted: FactType,
        value: &Value,
        pointer: &str,
    ) -> Result<Value, ActionError> {
        if name == "full_charge" {
            return self.full_charge(value, pointer);
        }
        if sorted == FactType::Mass {
            let mass: MassRequest = read_members(value, pointer)?;
            return self.mass(&mass, pointer).map(|(_, is)| is);
        }
        if sorted == FactType::Checked {
            return self.checked(value, pointer);
        }
        let Some(text) = value.as_str() else {
            let expected = "text in quotes";
            let remedy = "Write it as text.";
            return Err(Refusal::invalid(pointer, expected, &value.to_string(), remedy).into());
        };
        match sorted {
            FactType::Day => day(text, pointer).map(|day| json!(day.to_string())),
            FactType::Number => match Decimal::parse(text) {
                Some(number) => Ok(json!(number.to_string())),
                None => {
                    let remedy = "Write for example 7.5.";
                    Err(Refusal::invalid(pointer, "a decimal as text", text, remedy).into())
                }
            },
            FactType::Reference => self.reference(name, text, pointer),
            FactType::Text => {
                let text = typed_text(text, &pointer[1..])?;
                if name == "tag" && !self.repeat {
                    free_tag(self.tx, self.sort, self.id, &text, pointer)?;
                }
                Ok(json!(text))
            }
            FactType::Word | FactType::Mass | FactType::Checked => self.word(name, text, pointer),
        }
    }

    fn mass(&mut self, mass: &MassRequest, pointer: &str) -> Result<(Mass, Value), ActionError> {
        let (text, unit) = parts(mass, pointer)?;
        let nowhere = PlaceNumber::OTHER;
        let (mass, typed) = typed_mass(&text, unit, self.asked, pointer, nowhere, self.moves)?;
        let is = json!({"g": mass.to_string(), "typed": {"text": typed.text, "unit": typed.unit}});
        Ok((mass, is))
    }

    /// A known weight on a scale. What it showed beyond its step is a finding, never a refusal.
    fn checked(&mut self, value: &Value, pointer: &str) -> Result<Value, ActionError> {
        if self.sort != Sort::Scale {
            let came = format!("a {}", self.sort.word());
            let remedy = "Post it as an entry of the kind scale.";
            return Err(Refusal::invalid(pointer, "a scale to check", &came, remedy).into());
        }
        let given: Checked = read_members(value, pointer)?;
        let (nominal, nominal_is) = self.mass(&given.nominal, &format!("{pointer}/nominal"))?;
        let (shown, shown_is) = self.mass(&given.shown, &format!("{pointer}/shown"))?;
        let off = i128::from(shown.steps()) - i128::from(nominal.steps());
        let step = match self.tx.by_id(self.id)? {
            Some(scale) => self.tx.subject(scale)?.brief.resolution,
            None => None,
        };
        if let Some(step) = step.filter(|step| nominal < *step) {
            let text = |mass: Mass| lb_oz_text(i128::from(mass.steps()));
            let expected = format!("a known weight of at least one step, {}", text(step));
            let remedy = "Take a weight that this scale can show, best near what is weighed on it.";
            let pointer = format!("{pointer}/nominal");
            return Err(Refusal::invalid(&pointer, &expected, &text(nominal), remedy).into());
        }
        if off.abs() * FAR_OFF > i128::from(nominal.steps()) && !self.repeat {
            let text = |mass: Mass| {
                let steps = i128::from(mass.steps());
                format!("{} ({})", lb_oz_text(steps), kg_text(steps))
            };
            let asks = format!(
                "Is that the reading? {} for a weight of {}: a scale that is wrong is wrong by \
                 less. Look at the unit and at what else stands on it.",
                text(shown),
                text(nominal)
            );
            let books = "the reading as stated; the scale is off by it";
            let asked = as_stated("check_weight_far", asks, books);
            self.moves.questions.push(asked);
        }
        if step.is_none_or(|step| off.abs() > i128::from(step.steps())) && off != 0 {
            self.moves.findings.push(("scale_off", PlaceNumber::OTHER));
        }
        Ok(json!({"nominal": nominal_is, "shown": shown_is}))
    }

    fn full_charge(&mut self, value: &Value, pointer: &str) -> Result<Value, ActionError> {
        if value.as_str() == Some("unknown") {
            return Ok(json!("unknown"));
        }
        let given: FullCharge = match value {
            Value::Object(members)
                if !members.contains_key("text") && !members.contains_key("value") =>
            {
                read_members(value, pointer)?
            }
            _ => FullCharge {
                mass: Some(read_members(value, pointer)?),
                low: None,
                high: None,
                method: None,
                established_on: None,
                established_by: None,
            },
        };
        let mut is = match (&given.mass, &given.low, &given.high) {
            (Some(mass), None, None) => self.mass(mass, pointer)?.1,
            (None, Some(low), Some(high)) => self.range(low, high, pointer)?,
            _ => {
                let detail = "Expected a mass, or low and high of a range, or \"unknown\".";
                let (pointer, detail) = (pointer.to_string(), detail.to_string());
                return Err(Refusal::Malformed { pointer, detail }.into());
            }
        };
        let range = given.low.is_some();
        if let Some(method) = given.method.as_deref().or(range.then_some("range")) {
            if !METHODS.contains(&method) || (method == "range") != range {
                let expected = format!("one of {} (range with low and high)", METHODS.join(", "));
                return Err(Refusal::invalid(pointer, &expected, method, "Choose one.").into());
            }
            is["method"] = json!(method);
        }
        if let Some(on) = &given.established_on {
            is["established_on"] = json!(day(on, pointer)?.to_string());
        }
        if let Some(by) = &given.established_by {
            let person = named(self.tx, Sort::Person, by, pointer)?;
            is["established_by"] = json!(self.tx.subject(person)?.id);
        }
        Ok(is)
    }

    /// The full charge of a range is its midpoint (40 CFR 82.152, method 4).
    fn range(
        &mut self,
        low: &MassRequest,
        high: &MassRequest,
        pointer: &str,
    ) -> Result<Value, ActionError> {
        let (low, low_is) = self.mass(low, pointer)?;
        let (high, high_is) = self.mass(high, pointer)?;
        let sum = i128::from(low.steps()) + i128::from(high.steps());
        if low > high || sum % 2 != 0 {
            let detail = "Expected a low end below the high end, with a midpoint of whole steps.";
            let (pointer, detail) = (pointer.to_string(), detail.to_string());
            return Err(Refusal::InvalidValue { pointer, detail }.into());
        }
        let middle = reports::mass::grams_text(sum / 2);
        Ok(json!({"g": middle, "low": low_is, "high": high_is}))
    }

    fn reference(&mut self, name: &str, text: &str, pointer: &str) -> Result<Value, ActionError> {
        let sort = match name {
            "site" => Sort::Site,
            "owner" => Sort::Counterparty,
            _ => self.sort,
        };
        let place = named(self.tx, sort, text, pointer)?;
        Ok(json!(self.tx.subject(place)?.id))
    }

    fn word(&mut self, name: &str, text: &str, pointer: &str) -> Result<Value, ActionError> {
        let table = self.tx.table;
        let wrong = |expected: String| Refusal::invalid(pointer, &expected, text, "Put it right.");
        let listed = WORDS
            .iter()
            .find(|(known, _)| *known == name)
            .map(|(_, words)| *words);
        let words = listed.or(YES_NO.contains(&name).then_some(&["yes", "no"][..]));
        let known = match (name, words) {
            (_, Some(words)) if words.contains(&text) => text.to_string(),
            (_, Some(words)) => return Err(wrong(format!("one of {}", words.join(", "))).into()),
            ("refrigerant", _) => {
                let code = table
                    .understood(text)
                    .map(|row| row.code)
                    .or_else(|| table.code(text));
                let name = code.and_then(|code| table.designation(code));
                name.ok_or_else(|| wrong("a designation such as R-410A".to_string()))?
                    .to_string()
            }
            ("zone", _) => match Zone::named(text) {
                Some(zone) => zone.name().to_string(),
                None => return Err(wrong("an IANA time zone such as America/Denver".into()).into()),
            },
            ("region", _) if region(text) => text.to_string(),
            ("region", _) => {
                return Err(wrong("an ISO 3166 code such as US-CO or US-CO-101".into()).into());
            }
            _ => return Err(wrong(format!("a word that the fact {name} knows")).into()),
        };
        Ok(json!(known))
    }
}

/// ISO 3166-1 country, with an ISO 3166-2 part and a local one where there are any.
fn region(text: &str) -> bool {
    let mut parts = text.split('-');
    let country = parts.next().unwrap_or_default();
    let part = |part: &str| {
        (1..=3).contains(&part.len())
            && part
                .bytes()
                .all(|b| b.is_ascii_uppercase() || b.is_ascii_digit())
    };
    country.len() == 2
        && country.bytes().all(|b| b.is_ascii_uppercase())
        && parts.clone().count() <= 2
        && parts.all(part)
}
