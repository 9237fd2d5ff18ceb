//! What is registered: customers, sites, scales, appliances, cylinders; and what was in them when
//! the book began.

use super::people::Person;
use super::script::{Job, Row, rows};
use super::teller::StoryError;
use serde_json::{Value, json};

/// The day the book begins.
pub const BEGINS: &str = "2025-11-03";

/// Tag and what it is.
const COUNTERPARTIES: &[(&str, &str)] = &[
    ("Halfmoon Grocers", "customer, three stores"),
    ("Pinecroft Clinic", "customer across the state line"),
    ("Quillfeather Kitchen", "customer"),
    ("Saltbush Dairy", "customer across the state line"),
    ("Larkmoor Schools", "customer"),
    ("Dunmore Supply", "supplier"),
    ("Corvane Reclaim", "reclaimer"),
    ("Emberline Destruction", "destruction facility"),
];

/// Tag, owner, zone, region, address.
const SITES: &[[&str; 5]] = &[
    [
        "Alder Street",
        "Halfmoon Grocers",
        "America/Denver",
        "US-CO",
        "1180 Alder Street",
    ],
    [
        "Birch Lane",
        "Halfmoon Grocers",
        "America/Denver",
        "US-CO",
        "44 Birch Lane",
    ],
    [
        "Cedar Point",
        "Halfmoon Grocers",
        "America/Denver",
        "US-CO",
        "9 Cedar Point Plaza",
    ],
    [
        "Pinecroft Clinic",
        "Pinecroft Clinic",
        "America/Phoenix",
        "US-AZ",
        "300 Mesa View",
    ],
    [
        "Quillfeather Kitchen",
        "Quillfeather Kitchen",
        "America/Denver",
        "US-CO",
        "27 Mill Row",
    ],
    [
        "Saltbush Dairy",
        "Saltbush Dairy",
        "America/Phoenix",
        "US-AZ",
        "Route 6 kilometre 12",
    ],
    [
        "Larkmoor Schools",
        "Larkmoor Schools",
        "America/Denver",
        "US-CO",
        "5 Larkmoor Avenue",
    ],
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
    for (tag, note) in COUNTERPARTIES {
        let facts = json!({"tag": tag, "name": tag});
        jobs.push(register(BEGINS, "08:00", "counterparty", facts, Some(note)));
    }
    for [tag, owner, zone, region, address] in SITES {
        let mut facts = json!({"tag": tag, "owner": owner, "zone": zone, "region": region,
                               "place": address});
        if *owner == "Halfmoon Grocers" {
            // The house rule of this customer asks for it.
            facts["owner_class"] = json!("grocer");
        }
        jobs.push(register(BEGINS, "08:10", "site", facts, None));
    }
    for [tag, resolution, place] in SCALES {
        let facts = json!({"tag": tag, "resolution": resolution, "place": place});
        jobs.push(register(BEGINS, "08:20", "scale", facts, None));
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

fn register(day: &str, time: &str, kind: &str, facts: Value, note: Option<&str>) -> Job {
    let mut request = json!({"kind": kind, "body": {"facts": facts}});
    if let Some(note) = note {
        request["note"] = json!(note);
    }
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
    let mut facts = json!({
        "tag": tag, "site": row.must("site")?, "installed": installed,
        "category": from_installed(json!(row.must("category")?)),
        "owner": from_installed(json!(row.must("owner")?)),
        "refrigerant": from_installed(json!(row.must("refrigerant")?)),
        "full_charge": from_installed(full_charge(row)?),
        "place": row.must("place")?, "serial": row.must("serial")?,
    });
    if let Some(equipment) = row.get("equipment") {
        facts["equipment"] = json!(equipment);
    }
    let more = row.get("more").unwrap_or_default();
    let day = more.strip_prefix("registered ").unwrap_or(BEGINS);
    let register = register(day, "08:30", "appliance", facts, None).named(&format!("reg-{tag}"));
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
    let job = register(day, "08:40", "cylinder", facts, None);
    Ok(job)
}
