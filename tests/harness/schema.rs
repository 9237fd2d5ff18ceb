//! Holds JSON against a schema (JSON Schema 2020-12), as an OpenAPI 3.1 document carries it.

use jsonschema::Draft;
use serde_json::Value;

/// Whether a value is valid; the error says where it is not and why. `document`: the one whose
/// `components` references point into.
pub fn validate(document: &Value, schema: &Value, value: &Value) -> Result<(), String> {
    let mut schema = schema.clone();
    schema["components"] = document["components"].clone();
    let options = jsonschema::options().with_draft(Draft::Draft202012);
    let validator = options.should_validate_formats(true).build(&schema);
    let validator = validator.map_err(|error| format!("the schema itself: {error}"))?;
    let wrong: Vec<String> = validator
        .iter_errors(value)
        .map(|error| format!("{}: {error}", error.instance_path()))
        .collect();
    match wrong.is_empty() {
        true => Ok(()),
        false => Err(wrong.join("; ")),
    }
}

#[cfg(test)]
mod tests {
    use super::validate;
    use serde_json::json;

    #[test]
    fn planted_faults_are_found() {
        let day = json!({"type": "string", "format": "date"});
        let document = json!({"components": {"schemas": {"Day": day}}});
        let schema = json!({"type": "object", "required": ["on"], "additionalProperties": false,
                            "properties": {"on": {"$ref": "#/components/schemas/Day"},
                                           "n": {"type": ["integer", "null"], "maximum": 3}}});
        let valid = |value| validate(&document, &schema, &value);
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
        let nowhere = json!({"$ref": "#/components/schemas/Nowhere"});
        assert!(validate(&document, &nowhere, &json!(1)).is_err());
    }
}
