//! What of a register entry looks like a slip and is asked about: a tag of several alphabets or one that
//! looks like another, a water capacity below the tare, a cylinder that goes away with refrigerant in it,
//! a condition of content that is better than before.

use crate::actions::judge::{analysed, as_stated, class_in, class_words};
use crate::actions::refusal::{ActionError, Question, shown};
use crate::ledger::entry::Fact;
use crate::ledger::id::Id;
use crate::store::book::Brief;
use crate::store::columns::{Class, Sort};
use crate::store::dossier::mass_of;
use crate::store::tx::Tx;
use reports::mass::{self, Mass};
use std::borrow::Cow;
use std::collections::BTreeMap;

/// What of the facts looks like a slip.
pub(super) fn asked_about(
    tx: &mut Tx<'_>,
    (sort, id): (Sort, Id),
    facts: &BTreeMap<Cow<'static, str>, Vec<Fact>>,
    secrets: &[(String, String)],
) -> Result<Vec<Question>, ActionError> {
    let tags = secrets
        .iter()
        .filter(|(path, _)| path.starts_with("facts.tag."));
    let mut questions = Vec::new();
    for (_, tag) in tags {
        questions.extend(of_several_alphabets(tag));
        questions.extend(like_another(tx, (sort, id), tag)?);
    }
    if sort == Sort::Cylinder {
        questions.extend(better_than_before(tx, id, facts)?);
        questions.extend(read_the_wrong_way_round(tx, id, facts)?);
        questions.extend(heel_left(tx, id, facts)?);
    }
    Ok(questions)
}

/// What stays in a cylinder that is called empty is stock, and leaves with it. The heel of a disposable
/// cylinder is removed before it is scrapped (40 CFR 84.116, as reported; unconfirmed).
fn heel_left(
    tx: &mut Tx<'_>,
    id: Id,
    facts: &BTreeMap<Cow<'static, str>, Vec<Fact>>,
) -> Result<Option<Question>, ActionError> {
    let condition = facts.get("condition").and_then(|series| series.last());
    let condition = condition.and_then(|fact| fact.is.as_ref()?.as_str());
    let place = match condition {
        Some("retired") => tx.by_id(id)?,
        _ => None,
    };
    let Some(place) = place else {
        return Ok(None);
    };
    let left: i128 = (tx.subject(place)?.balances.iter())
        .map(|(_, steps)| *steps)
        .sum();
    if left <= 0 {
        return Ok(None);
    }
    let text = format!(
        "By the book {} are still in it. Was the heel recovered before it goes away? If it was, book \
         the transfer or count the cylinder first.",
        mass::lb_oz_text(left)
    );
    Ok(Some(as_stated(
        "heel_left",
        text,
        "the cylinder as retired",
    )))
}

/// A cylinder that would hold less water than it weighs was read the wrong way round, or in another
/// unit (common practice, no source); its limits would follow from the slip.
fn read_the_wrong_way_round(
    tx: &mut Tx<'_>,
    id: Id,
    facts: &BTreeMap<Cow<'static, str>, Vec<Fact>>,
) -> Result<Option<Question>, ActionError> {
    let newest = |name: &str| mass_of(facts.get(name)?.last()?.is.as_ref()?);
    let (tare, water) = (newest("tare"), newest("water_capacity"));
    if tare.is_none() && water.is_none() {
        return Ok(None);
    }
    let known = match tx.by_id(id)? {
        Some(place) => tx.subject(place)?.brief.clone(),
        None => Brief::default(),
    };
    let (tare, water) = (tare.or(known.tare), water.or(known.water_capacity));
    let Some((tare, water)) = tare.zip(water).filter(|(tare, water)| water < tare) else {
        return Ok(None);
    };
    let text = |mass: Mass| mass::lb_oz_text(i128::from(mass.steps()));
    let text = format!(
        "It weighs {} empty and would hold {} of water. WC and TW stand on the collar, each with its \
         unit: were they read the wrong way round?",
        text(tare),
        text(water)
    );
    let books = "tare and water capacity as stated";
    Ok(Some(as_stated("water_capacity_below_tare", text, books)))
}

/// What was burnt or suspect becomes clean by an analysis only; asked of whoever keeps the register, too.
fn better_than_before(
    tx: &mut Tx<'_>,
    id: Id,
    facts: &BTreeMap<Cow<'static, str>, Vec<Fact>>,
) -> Result<Option<Question>, ActionError> {
    let said = facts.get("class").and_then(|series| series.last());
    let said = said.and_then(|fact| Class::named(fact.is.as_ref()?.as_str()?));
    let (Some(said), Some(place)) = (said, tx.by_id(id)?) else {
        return Ok(None);
    };
    let table = tx.table;
    let cylinder = tx.subject(place)?;
    let before = class_in(cylinder, table);
    let names: Vec<&str> = (cylinder.holds())
        .filter_map(|code| table.designation(code))
        .collect();
    if names.is_empty() || said.with_content(&names) >= before {
        return Ok(None);
    }
    let text = format!(
        "What is in it is {} by the book; it would be {} from now on. Was it analysed?",
        class_words(before),
        class_words(said)
    );
    let books = [
        "the condition as stated; the office looks at the analysis",
        "the condition as stated; the office has it analysed",
    ];
    Ok(Some(analysed("content_cleared", text, books)))
}

/// A tag that looks like that of another thing is taken for it: Cyrillic letters for Latin ones, O for 0,
/// l for 1, small letters for capitals (Unicode Technical Standard 39, section 4).
fn like_another(
    tx: &mut Tx<'_>,
    (sort, id): (Sort, Id),
    tag: &str,
) -> Result<Option<Question>, ActionError> {
    let own = tx.by_id(id)?;
    let Some(other) = tx.looks_like(sort, own, tag)? else {
        return Ok(None);
    };
    let text = format!(
        "The tag {} looks like that of another {}, {}: only letters that look alike tell them apart. \
         Is it another one, and is its tag written so on the label?",
        shown(tag),
        sort.word(),
        shown(&other)
    );
    let books = "the tag as stated, beside the other";
    Ok(Some(as_stated("tag_looks_alike", text, books)))
}

/// Are its letters of one alphabet, or of a mixture that is usual for its language: Latin beside Han,
/// Kana or Hangul (*highly restrictive*, Unicode Technical Standard 39, section 5.2)?
fn looks_of_one(tag: &str) -> bool {
    use unicode_security::{MixedScript, RestrictionLevel, RestrictionLevelDetection};
    // Marks between words are no letters, and a tag need be no identifier.
    let letters: String = tag
        .chars()
        .filter(|letter| letter.is_alphanumeric())
        .collect();
    tag.is_single_script() || letters.check_restriction_level(RestrictionLevel::HighlyRestrictive)
}

/// A tag with letters of several alphabets can look like another one, letter by letter (Unicode
/// Technical Standard 39, section 5.1): a Cyrillic letter in HG-RACK-A is found by nobody who types it.
fn of_several_alphabets(tag: &str) -> Option<Question> {
    if looks_of_one(tag) {
        return None;
    }
    let foreign: String = tag.chars().filter(|letter| !letter.is_ascii()).collect();
    let text = format!(
        "The tag {} has letters of several alphabets ({foreign} among them), which can look like \
         those of another tag. Is it written so on the label?",
        shown(tag)
    );
    Some(as_stated(
        "tag_of_several_alphabets",
        text,
        "the tag as stated",
    ))
}
