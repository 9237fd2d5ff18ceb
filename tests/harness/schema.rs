//! Holds JSON against a schema (JSON Schema 2020-12), as an OpenAPI 3.1 document carries it.
//!
//! It knows the keywords that our document uses and refuses any other, so that a keyword it does
//! not understand cannot pass unseen.

use serde_json::Value;

/// Whether a value is valid; the error says where it is not and why. `root`: the document that
/// references point into.
pub fn validate(root: &Value, schema: &Value, value: &Value, at: &str) -> Result<(), String> {
    let Some(keywords) = schema.as_object() else {
        panic!("a schema is an object, not {schema}");
    };
    for (keyword, rule) in keywords {
        let fits = match keyword.as_str() {
            "title" | "description" | "default" => true,
            "$ref" => {
                let pointer = rule.as_str().and_then(|text| text.strip_prefix('#'));
                let target = root.pointer(pointer.expect("a reference into the document"));
                validate(root, target.expect("a shape of the document"), value, at)?;
                true
            }
            "type" => is_of_type(rule, value),
            "enum" => rule.as_array().expect("a list").contains(value),
            "format" => has_format(rule, value),
            "minimum" => value
                .as_i64()
                .is_none_or(|n| n >= rule.as_i64().expect("a number")),
            "maximum" => value
                .as_i64()
                .is_none_or(|n| n <= rule.as_i64().expect("a number")),
            "minLength" => length(value).is_none_or(|n| n >= rule.as_u64().expect("a number")),
            "maxLength" => length(value).is_none_or(|n| n <= rule.as_u64().expect("a number")),
            "minItems" => items(value).is_none_or(|n| n >= rule.as_u64().expect("a number")),
            "maxItems" => items(value).is_none_or(|n| n <= rule.as_u64().expect("a number")),
            "anyOf" => any_of(root, rule, value, at)?,
            "items" => {
                for (nth, item) in value.as_array().into_iter().flatten().enumerate() {
                    validate(root, rule, item, &format!("{at}/{nth}"))?;
                }
                true
            }
            "required" => {
                let mut names = rule
                    .as_array()
                    .expect("a list")
                    .iter()
                    .filter_map(Value::as_str);
                let missing = names.find(|name| value.is_object() && value.get(*name).is_none());
                if let Some(name) = missing {
                    return Err(format!("{at}: the member {name} is missing"));
                }
                true
            }
            "properties" => {
                for (name, rule) in rule.as_object().expect("an object") {
                    if let Some(member) = value.get(name) {
                        validate(root, rule, member, &format!("{at}/{name}"))?;
                    }
                }
                true
            }
            "additionalProperties" => others(root, schema, rule, value, at)?,
            other => panic!("the document uses '{other}', which this test does not understand"),
        };
        if !fits {
            return Err(format!("{at}: {keyword} {rule} does not fit {value}"));
        }
    }
    Ok(())
}

fn any_of(root: &Value, rule: &Value, value: &Value, at: &str) -> Result<bool, String> {
    let tried = rule.as_array().expect("a list").iter();
    let results: Vec<_> = tried
        .map(|schema| validate(root, schema, value, at))
        .collect();
    if results.iter().any(Result::is_ok) {
        return Ok(true);
    }
    // The deepest complaint is the one that helps.
    let errors = results.into_iter().filter_map(Result::err);
    Err(errors.max_by_key(String::len).unwrap_or_default())
}

fn others(
    root: &Value,
    schema: &Value,
    rule: &Value,
    value: &Value,
    at: &str,
) -> Result<bool, String> {
    let known = schema.get("properties").and_then(Value::as_object);
    let members = value.as_object().into_iter().flatten();
    let unknown = members.filter(|(name, _)| known.is_none_or(|known| !known.contains_key(*name)));
    for (name, member) in unknown {
        if rule == &Value::Bool(false) {
            return Err(format!("{at}: unknown member {name}"));
        }
        validate(root, rule, member, &format!("{at}/{name}"))?;
    }
    Ok(true)
}

fn length(value: &Value) -> Option<u64> {
    value.as_str().map(|text| text.chars().count() as u64)
}

fn items(value: &Value) -> Option<u64> {
    value.as_array().map(|list| list.len() as u64)
}

fn has_format(rule: &Value, value: &Value) -> bool {
    let Some(text) = value.as_str() else {
        return true;
    };
    let digits = |from: usize, to: usize| {
        text.get(from..to)
            .is_some_and(|part| part.bytes().all(|byte| byte.is_ascii_digit()))
    };
    let date = digits(0, 4) && digits(5, 7) && digits(8, 10) && &text[4..5] == "-";
    match rule.as_str().expect("a name") {
        "date" => text.len() == 10 && date,
        // RFC 3339, with milliseconds and Z, as the book writes moments.
        "date-time" => text.len() == 24 && date && &text[10..11] == "T" && text.ends_with('Z'),
        "uuid" => text.len() == 36 && text.matches('-').count() == 4,
        other => panic!("the document uses the format '{other}'"),
    }
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
        other => panic!("the document uses the type '{other}'"),
    })
}

#[cfg(test)]
mod tests {
    use super::validate;
    use serde_json::json;

    #[test]
    fn planted_faults_are_found() {
        let root = json!({"shapes": {"day": {"type": "string", "format": "date"}}});
        let schema = json!({"type": "object", "required": ["on"], "additionalProperties": false,
                            "properties": {"on": {"$ref": "#/shapes/day"},
                                           "n": {"type": ["integer", "null"], "maximum": 3}}});
        let valid = |value| validate(&root, &schema, &value, "");
        assert_eq!(valid(json!({"on": "2026-07-14", "n": null})), Ok(()));
        for bad in [
            json!({}),
            json!([]),
            json!({"on": "14.7.2026"}),
            json!({"on": "2026-07-14", "n": 4}),
            json!({"on": "2026-07-14", "n": "3"}),
            json!({"on": "2026-07-14", "colour": "red"}),
        ] {
            assert!(valid(bad.clone()).is_err(), "{bad}");
        }
    }
}
