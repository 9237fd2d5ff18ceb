//! The JSON Schema of a rule file, made from the same types that read it.

use super::file::{Overlay, RuleSet};
use schemars::SchemaGenerator;
use serde_json::{Value, json};

/// The schema of a rule set or an overlay, as both travel as JSON (JSON Schema 2020-12). TOML files
/// have the same shape.
pub fn schema() -> Value {
    let mut generator = SchemaGenerator::default();
    let any = [
        generator.subschema_for::<RuleSet>(),
        generator.subschema_for::<Overlay>(),
    ];
    let definitions = generator.take_definitions(true);
    json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "tarebook rule file: a rule set, or an overlay over one",
        "anyOf": any,
        "$defs": definitions,
    })
}

#[cfg(test)]
mod tests {
    use super::schema;
    use serde_json::Value;

    /// Every reference leads somewhere, and what the reader requires the schema requires.
    #[test]
    fn the_schema_is_closed_and_says_what_is_required() {
        let schema = schema();
        let text = schema.to_string();
        for reference in text.split("\"#/$defs/").skip(1) {
            let name = reference.split('"').next().unwrap_or_default();
            assert!(schema["$defs"][name].is_object(), "{name} is not defined");
        }
        let set = &schema["$defs"]["RuleSet"];
        let required: Vec<&str> = set["required"]
            .as_array()
            .into_iter()
            .flatten()
            .filter_map(Value::as_str)
            .collect();
        assert!(
            required.contains(&"id") && required.contains(&"caution"),
            "{required:?}"
        );
        assert_eq!(set["additionalProperties"], Value::Bool(false));
    }
}
