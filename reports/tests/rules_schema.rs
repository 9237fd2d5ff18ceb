//! The JSON Schema of rule files says the same as the parser: every draft is valid, and what the
//! parser refuses for its words the schema refuses too.
//!
//! The validator below knows the keywords that the schema uses and refuses any other, so that a
//! keyword it does not understand cannot pass unseen (JSON Schema 2020-12, core and validation).

use reports::rules::schema::{overlay_schema, rule_set_schema, situations_schema};
use serde_json::Value;
use std::path::Path;

fn drafts() -> Vec<(String, Value)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut drafts = Vec::new();
    for folder in ["rules", "tests/data/rules"] {
        for entry in std::fs::read_dir(root.join(folder)).unwrap() {
            let path = entry.unwrap().path();
            if path
                .extension()
                .is_some_and(|extension| extension == "toml")
            {
                let text = std::fs::read_to_string(&path).unwrap();
                let value: toml::Value = toml::from_str(&text).unwrap();
                let name = path.file_name().unwrap().to_string_lossy().into_owned();
                drafts.push((name, serde_json::to_value(value).unwrap()));
            }
        }
    }
    assert_eq!(drafts.len(), 10);
    drafts
}

#[test]
fn every_draft_is_valid() {
    let schema = rule_set_schema();
    for (name, draft) in drafts() {
        assert_eq!(validate(&schema, &schema, &draft, ""), Ok(()), "{name}");
    }
    let situations: Value =
        serde_json::from_str(include_str!("data/rule-situations.json")).unwrap();
    let schema = situations_schema();
    assert_eq!(validate(&schema, &schema, &situations, ""), Ok(()));
}

#[test]
fn what_the_parser_refuses_is_not_valid() {
    let schema = rule_set_schema();
    let draft = |name: &str| {
        drafts()
            .into_iter()
            .find(|(draft, _)| draft == name)
            .unwrap()
            .1
    };
    type Spoil = fn(&mut Value);
    let spoilt: [(&str, Spoil); 6] = [
        ("/leak_rate", |set| {
            set["leak_rate"]["neting"] = "visit".into()
        }),
        ("/limits/0/measure", |set| {
            set["limits"][0]["measure"] = "leakrate".into()
        }),
        ("/values/size/unit", |set| {
            set["values"]["size"]["unit"] = "pounds".into()
        }),
        ("/values/size/rows/0/is", |set| {
            set["values"]["size"]["rows"][0]["is"] = 50.into()
        }),
        ("/covers/0/from", |set| {
            set["covers"][0]["from"] = "1995".into()
        }),
        ("", |set| {
            drop(set.as_object_mut().unwrap().remove("caution"))
        }),
    ];
    for (place, spoil) in spoilt {
        let mut set = draft("us-federal-ods.toml");
        spoil(&mut set);
        let wrong = validate(&schema, &schema, &set, "").unwrap_err();
        assert!(wrong.starts_with(&format!("{place}:")), "{wrong}");
    }
}

#[test]
fn a_layer_has_its_own_schema() {
    let schema = overlay_schema();
    let mut layer = serde_json::json!({
        "id": "county", "overlays": "us-federal-ods", "layer": "local",
        "title": "County (invented)", "reason": "ordinance (invented)",
        "where": { "region": { "is": ["US-CO-101"] } },
        "values": { "trigger": { "rows": [{ "from": "2024-06-01", "is": "15", "clause": "s. \
         3" }] } },
    });
    assert_eq!(validate(&schema, &schema, &layer, ""), Ok(()));
    layer["values"]["trigger"]["unit"] = "lb".into();
    assert!(validate(&schema, &schema, &layer, "").is_err());
}

/// Whether a value is valid; the error says where it is not and why.
fn validate(root: &Value, schema: &Value, value: &Value, at: &str) -> Result<(), String> {
    let Some(schema) = schema.as_object() else {
        return if schema == &Value::Bool(true) {
            Ok(())
        } else {
            Err(format!("{at}: refused"))
        };
    };
    for (keyword, rule) in schema {
        let fits = match keyword.as_str() {
            "$schema" | "$defs" | "title" | "description" | "default" | "format" => true,
            "$ref" => {
                let pointer = rule.as_str().unwrap().strip_prefix('#').unwrap();
                validate(root, root.pointer(pointer).unwrap(), value, at)?;
                true
            }
            "type" => is_of_type(rule, value),
            "enum" => rule.as_array().unwrap().contains(value),
            "const" => rule == value,
            "minimum" => value
                .as_i64()
                .is_none_or(|number| number >= rule.as_i64().unwrap()),
            "pattern" => {
                assert_eq!(rule, "^[0-9]{4}-[0-9]{2}-[0-9]{2}$");
                value
                    .as_str()
                    .is_some_and(|text| reports::day::Day::parse(text).is_some())
            }
            "anyOf" | "oneOf" => {
                let tried = rule.as_array().unwrap().iter();
                let results: Vec<_> = tried.map(|s| validate(root, s, value, at)).collect();
                let good = results.iter().filter(|result| result.is_ok()).count();
                if good == 0 && !value.is_null() {
                    // The deepest complaint is the one that helps.
                    let errors = results.into_iter().filter_map(Result::err);
                    return Err(errors.max_by_key(String::len).unwrap_or_default());
                }
                good == 1 || (good > 1 && keyword == "anyOf")
            }
            "items" => {
                for (nth, item) in value.as_array().into_iter().flatten().enumerate() {
                    validate(root, rule, item, &format!("{at}/{nth}"))?;
                }
                true
            }
            "required" => {
                let named = rule
                    .as_array()
                    .unwrap()
                    .iter()
                    .map(|name| name.as_str().unwrap());
                named.into_iter().all(|name| value.get(name).is_some())
            }
            "properties" => {
                for (name, rule) in rule.as_object().unwrap() {
                    if let Some(member) = value.get(name) {
                        validate(root, rule, member, &format!("{at}/{name}"))?;
                    }
                }
                true
            }
            "additionalProperties" => {
                let known = schema.get("properties").and_then(Value::as_object);
                let other = value.as_object().into_iter().flatten();
                for (name, member) in
                    other.filter(|(name, _)| known.is_none_or(|known| !known.contains_key(*name)))
                {
                    if rule == &Value::Bool(false) {
                        return Err(format!("{at}: unknown member {name}"));
                    }
                    validate(root, rule, member, &format!("{at}/{name}"))?;
                }
                true
            }
            other => panic!("the schema uses '{other}', which this test does not understand"),
        };
        if !fits {
            return Err(format!("{at}: {keyword} {rule} does not fit {value}"));
        }
    }
    Ok(())
}

fn is_of_type(rule: &Value, value: &Value) -> bool {
    let named: Vec<&str> = match rule {
        Value::Array(types) => types.iter().filter_map(Value::as_str).collect(),
        one => one.as_str().into_iter().collect(),
    };
    named.into_iter().any(|name| match name {
        "object" => value.is_object(),
        "array" => value.is_array(),
        "string" => value.is_string(),
        "boolean" => value.is_boolean(),
        "integer" => value.is_i64() || value.is_u64(),
        "null" => value.is_null(),
        other => panic!("the schema uses the type '{other}'"),
    })
}
