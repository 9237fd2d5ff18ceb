//! The JSON Schema of rule files, derived from the types that read them.

use super::file::{Overlay, RuleSet};
use super::situation::SituationFile;
use schemars::schema_for;
use serde_json::Value;

/// The schema of a rule set, for editors and for programs that write one.
pub fn rule_set_schema() -> Value {
    titled(schema_for!(RuleSet), "Rule set")
}

/// The schema of a local layer over a rule set.
pub fn overlay_schema() -> Value {
    titled(schema_for!(Overlay), "Local layer over a rule set")
}

/// The schema of a file of situations.
pub fn situations_schema() -> Value {
    titled(
        schema_for!(SituationFile),
        "Situations that rule sets must answer",
    )
}

fn titled(schema: schemars::Schema, title: &str) -> Value {
    let mut schema = schema.to_value();
    schema["title"] = Value::from(title);
    schema
}
