//! Tags as the book spells them, for who types one in small letters or in capitals. What is typed is
//! tried as it is, then in capitals, as tags mostly stand; only then every tag of the sort is read.

use super::columns::Sort;
use super::db::Db;
use super::labelled::escaped;
use super::statement::{Bind, statement};
use super::{StoreError, listing};

statement! {
    TagsFolded: "SELECT tag FROM registers WHERE org = ? AND sort = ? \
                 AND lower(tag) LIKE ? ESCAPE '!' ORDER BY tag LIMIT 2" => diesel::sql_types::Text;
}

/// Letters that no tag can hold, or more of them.
fn is_no_tag(typed: &str) -> bool {
    typed.is_empty() || typed.len() > 200 || typed.chars().any(char::is_control)
}

/// Up to two tags that are written so, or begin so, whatever the case of their ASCII letters.
fn folded(
    db: &mut Db,
    (org, sort): (i64, Sort),
    typed: &str,
    more: &str,
) -> Result<Vec<String>, StoreError> {
    let pattern = escaped(&typed.to_ascii_lowercase()) + more;
    let binds = [Bind::Int(org), Bind::Int(sort as i64), Bind::Text(&pattern)];
    Ok(db.rows(TagsFolded, &binds)?)
}

/// The tag that is meant by what was typed, whatever its case; `None` where there is none, or where
/// two differ by nothing else.
pub fn tag(db: &mut Db, org: i64, sort: Sort, typed: &str) -> Result<Option<String>, StoreError> {
    if is_no_tag(typed) {
        return Ok(None);
    }
    for spelt in [typed.to_string(), typed.to_uppercase()] {
        if let Some(found) = listing::thing(db, org, sort, &spelt)? {
            return Ok(Some(found.tag));
        }
    }
    let mut found = folded(db, (org, sort), typed, "")?;
    Ok(match found.len() {
        1 => found.pop(),
        _ => None,
    })
}

/// The beginning of a tag as the tags of this sort have it; as it was typed where none begins so.
pub fn beginning(db: &mut Db, org: i64, sort: Sort, typed: &str) -> Result<String, StoreError> {
    if is_no_tag(typed) {
        return Ok(typed.to_string());
    }
    for spelt in [typed.to_string(), typed.to_uppercase()] {
        let next = listing::things_after(db, org, sort, &spelt, 1)?;
        let begins = next.iter().any(|row| row.tag.starts_with(&spelt));
        if begins || listing::thing(db, org, sort, &spelt)?.is_some() {
            return Ok(spelt);
        }
    }
    let found = folded(db, (org, sort), typed, "%")?.into_iter().next();
    let spelt = found.and_then(|tag| Some(tag.get(..typed.len())?.to_string()));
    Ok(spelt.unwrap_or_else(|| typed.to_string()))
}
