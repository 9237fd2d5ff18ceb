//! Which tests the adopted rule sets take as the second test after a repair.
//!
//! The second test is made in normal operation; a part under nitrogen or vacuum is not. So it is
//! offered for a pressure or a vacuum test only where a rule set names it.

use super::reading;
use crate::actions::refusal::ActionError;
use crate::actions::rules_in_force::file_of;
use crate::ledger::entry::EntryKind;
use crate::ledger::tree::Hash;
use crate::store::Db;
use crate::store::open::{Organisation, size};
use crate::store::scan::attachment;
use crate::store::tx::read_adopted;
use reports::rules::RuleFile;
use serde_json::Value;

/// The kinds among pressure and vacuum tests that a set of this book takes as the second test.
pub fn kinds(db: &mut Db, of: &Organisation) -> Result<Vec<EntryKind>, ActionError> {
    reading(db, of, |db| {
        let cut = size(db, of.org)?.saturating_sub(1);
        let mut known = Vec::new();
        for one in read_adopted(db, of.org, cut)?.rule_sets {
            if one.sha256.is_empty() {
                continue;
            }
            let mut bytes = |hash: &Hash| attachment(db, of.org, hash);
            if let RuleFile::Set(set) = file_of(&mut bytes, one.seq, &one.sha256)? {
                let said = serde_json::to_value(&set).unwrap_or_default();
                let measured = [EntryKind::PressureTest, EntryKind::VacuumTest];
                known.extend(measured.into_iter().filter(|kind| names(&said, *kind)));
            }
        }
        Ok(known)
    })
}

/// Does any part of a set name an event of this kind as a second test, or whichever test it is?
fn names(said: &Value, kind: EntryKind) -> bool {
    match said {
        Value::Object(members) => {
            let stage = members.get("stage").and_then(Value::as_str);
            let is_it = members.get("event").is_some_and(|it| it == kind.word());
            (is_it && stage.is_none_or(|stage| stage == "follow_up"))
                || members.values().any(|value| names(value, kind))
        }
        Value::Array(list) => list.iter().any(|value| names(value, kind)),
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn a_second_test_is_one_that_a_set_names() {
        let done = |event: &str, stage: &str| json!({"duties": [{"done_by": [{"event": event, "stage": stage, "result": "passed"}]}]});
        let second = done("pressure_test", "follow_up");
        assert!(names(&second, EntryKind::PressureTest));
        assert!(!names(&second, EntryKind::VacuumTest));
        let first = done("pressure_test", "initial");
        assert!(!names(&first, EntryKind::PressureTest));
        let operating = done("verification_test", "follow_up");
        assert!(!names(&operating, EntryKind::PressureTest));
    }
}
