//! Finding a registered thing by what is not its tag: all ids of a sort (codes of labels follow
//! from ids), and things of which some fact holds a text (serial and customer's numbers).

use super::StoreError;
use super::columns::Sort;
use super::db::Db;
use super::statement::{Bind, statement};
use crate::ledger::id::Id;
use diesel::sql_types::Binary;

statement! {
    IdsOfSort: "SELECT uuid FROM registers WHERE org = ? AND sort = ?" => Binary;
    IdsHolding: "SELECT uuid FROM registers WHERE org = ? AND sort = ? \
                 AND (facts LIKE ? ESCAPE '!' OR lower(facts) LIKE ? ESCAPE '!') \
                 ORDER BY place LIMIT ?" => Binary;
}

/// A text in which no letter is a wildcard.
pub(super) fn escaped(text: &str) -> String {
    let mut escaped = String::new();
    for letter in text.chars() {
        if matches!(letter, '%' | '_' | '!') {
            escaped.push('!');
        }
        escaped.push(letter);
    }
    escaped
}

/// The ids of all things of a sort.
pub fn ids(db: &mut Db, org: i64, sort: Sort) -> Result<Vec<Id>, StoreError> {
    let rows: Vec<Vec<u8>> = db.rows(IdsOfSort, &[Bind::Int(org), Bind::Int(sort as i64)])?;
    Ok(rows
        .iter()
        .filter_map(|uuid| Id::from_bytes(uuid))
        .collect())
}

/// At most `most` things of a sort whose facts hold a text somewhere, whatever the case of its ASCII
/// letters; the caller looks where.
pub fn holding(
    db: &mut Db,
    org: i64,
    sort: Sort,
    text: &str,
    most: i64,
) -> Result<Vec<Id>, StoreError> {
    // As it stands in the stored JSON, without the marks around it.
    let quoted = serde_json::to_string(text).unwrap_or_default();
    let inner = quoted.trim_start_matches('"').trim_end_matches('"');
    // Other letters are folded otherwise by each engine: as typed they are always found.
    let pattern = format!("%\"{}\"%", escaped(inner));
    let folded = pattern.to_ascii_lowercase();
    let binds = [
        Bind::Int(org),
        Bind::Int(sort as i64),
        Bind::Text(&pattern),
        Bind::Text(&folded),
        Bind::Int(most),
    ];
    let rows: Vec<Vec<u8>> = db.rows(IdsHolding, &binds)?;
    Ok(rows
        .iter()
        .filter_map(|uuid| Id::from_bytes(uuid))
        .collect())
}
