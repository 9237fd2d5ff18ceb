//! What is registered: customers, sites, scales, appliances, cylinders; and what was in them when
//! the book began.

use super::people::Person;
use super::script::{Job, Row, rows};
use super::teller::StoryError;
use serde_json::{Value, json};

/// The day the book begins.
pub const BEGINS: &str = "2025-11-03";

/// Tag and what it is to the firm.
const COUNTERPARTIES: &[(&str, &str)] = &[
    ("Halfmoon Grocers", "owner"),
    ("Pinecroft Clinic", "owner"),
    ("Quillfeather Kitchen", "owner"),
    ("Saltbush Dairy", "owner"),
    ("Larkmoor Schools", "owner"),
    ("Dunmore Supply", "supplier"),
    ("Corvane Reclaim", "reclaimer"),
    ("Emberline Destruction", "destruction_facility"),
];

/// Tag, smallest step shown, where it is.
const SCALES: &[[&str; 3]] = &[
    ["S-1", "0.25 lb", "shop floor, platform for big cylinders"],
    ["S-2", "0.25 oz", "van 3, shows pounds and ounces"],
    ["S-3", "0.01 lb", "van 5, shows pounds with two decimals"],
];

/// All registering entries.
pub fn jobs() -> Result<Vec<Job>, StoryError> {
    let mut jobs = Vec::new();
    for (tag, sort) in COUNTERPARTIES {
        let facts = json!({"tag": tag, "name": tag, "type": sort});
        jobs.push(register(BEGINS, "08:00", "counterparty", facts));
    }
    for row in rows(include_str!("sites.csv"))? {
        let mut facts = json!({});
        for fact in ["tag", "owner", "owner_class", "zone", "region", "place"] {
            facts[fact] = json!(row.must(fact)?);
        }
        jobs.push(register(BEGINS, "08:10", "site", facts));
    }
    for [tag, resolution, place] in SCALES {
        let facts = json!({"tag": tag, "resolution": resolution, "place": place});
        jobs.push(register(BEGINS, "08:20", "scale", facts));
    }
    for row in rows(include_str!("appliances.csv"))? {
        jobs.extend(appliance(&row)?);
    }
    for row in rows(include_str!("cylinders.csv"))? {
        jobs.push(cylinder(&row)?);
    }
    for (tag, refrigerant, mass) in [
        ("TR-0417", "R-410A", "12.5 lb"),
        ("TR-0418", "R-22", "9.5 lb"),
        ("TR-0423", "R-22", "4 lb"),
        ("TR-0424", "R-404A", "8.25 lb"),
    ] {
        let body = json!({"to": format!("cylinder:{tag}"), "refrigerant": refrigerant,
                          "mass": mass});
        jobs.push(opening(
            body,
            "count in the cage on the first day of the book",
        ));
    }
    Ok(jobs)
}

fn register(day: &str, time: &str, kind: &str, facts: Value) -> Job {
    let request = json!({"kind": kind, "body": {"facts": facts}});
    Job::new(day, time, Person::Osric).request(request)
}

fn opening(body: Value, note: &str) -> Job {
    let request = json!({"kind": "opening", "note": note, "body": body});
    Job::new(BEGINS, "10:00", Person::Osric).request(request)
}

/// Registers an appliance and, where it was known, opens its account.
fn appliance(row: &Row) -> Result<Vec<Job>, StoryError> {
    let (tag, installed) = (row.must("tag")?, row.must("installed")?);
    let from_installed = |is: Value| json!([{"from": installed, "is": is}]);
    let facts = json!({
        "tag": tag, "site": row.must("site")?, "installed": installed,
        "category": from_installed(json!(row.must("category")?)),
        "owner": from_installed(json!(row.must("owner")?)),
        "refrigerant": from_installed(json!(row.must("refrigerant")?)),
        "full_charge": from_installed(full_charge(row)?),
        "place": row.must("place")?, "serial": row.must("serial")?,
    });
    let more = row.get("more").unwrap_or_default();
    let day = more.strip_prefix("registered ").unwrap_or(BEGINS);
    let register = register(day, "08:30", "appliance", facts).named(&format!("reg-{tag}"));
    let mass = match row.get("opening") {
        None => return Ok(vec![register]),
        Some("full") => full_mass(row)?,
        Some(mass) => mass,
    };
    let body = json!({"to": format!("appliance:{tag}"), "mass": mass});
    Ok(vec![
        register,
        opening(body, "taken as full when the book began"),
    ])
}

fn full_mass(row: &Row) -> Result<&str, StoryError> {
    // Of a range the midpoint counts; the only one here has it at 38 lb.
    row.must("full_charge")
}

fn full_charge(row: &Row) -> Result<Value, StoryError> {
    let mass = row.must("full_charge")?;
    if mass == "unknown" {
        return Ok(json!("unknown"));
    }
    let method = row.must("method")?;
    if let Some((low, high)) = method
        .strip_prefix("range ")
        .and_then(|r| r.split_once(" to "))
    {
        return Ok(json!({"low": low, "high": high, "method": "range"}));
    }
    let mut is = json!({"mass": mass, "method": method});
    if let Some(day) = row
        .get("more")
        .and_then(|more| more.strip_prefix("established "))
    {
        is["established_on"] = json!(day);
        is["established_by"] = json!("@ines");
    }
    Ok(is)
}

fn cylinder(row: &Row) -> Result<Job, StoryError> {
    let mut facts = json!({"tag": row.must("tag")?});
    for fact in [
        "use",
        "refrigerant",
        "capacity",
        "tare",
        "water_capacity",
        "retest_on",
        "serial",
    ] {
        if let Some(cell) = row.get(fact) {
            facts[fact] = json!(cell);
        }
    }
    let day = row.must("registered")?;
    let job = register(day, "08:40", "cylinder", facts);
    Ok(job)
}
