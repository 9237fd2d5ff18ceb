//! The books that the load programs post to: invented appliances, a cylinder each, flat thresholds.

use api::actions::ActionError;
use api::actions::begin::{Beginning, begin};
use api::actions::post::post;
use api::ledger::actor::{Actor, Role};
use api::ledger::checkpoint::SigningKey;
use api::ledger::id::Id;
use api::store::Db;
use api::store::open::Organisation;
use api::store::writer::{Books, Clock, transact};
use reports::refrigerant::Table;
use serde_json::{Value, json};

/// Appliances in all, spread over the books.
const APPLIANCES: usize = 400;
/// Facts of the things registered hold from here.
const FROM: &str = "2020-01-01";

/// How many appliances each of so many books has.
pub fn appliances_of(books: usize) -> usize {
    (APPLIANCES / books).max(1)
}

/// Who posts.
pub fn manager() -> Actor {
    Actor::person(Id::from_bits(7), Role::ComplianceManager, None)
}

/// Opens a book with rules, appliances, cylinders and what is in them; gives its signing key, too.
pub fn open(
    db: &mut Db,
    number: usize,
    appliances: usize,
) -> Result<(Organisation, SigningKey), ActionError> {
    let log = format!("tarebook/{}", Id::random());
    let key = || SigningKey::generate(&log).expect("random numbers");
    let (signing, recovery) = (key(), key());
    let organisation = format!("Tamarack Ridge Mechanical {number}");
    let what = Beginning {
        organisation: &organisation,
        zone: "UTC",
        log: &log,
        signing: &signing.verification_key(),
        recovery: &recovery.verification_key(),
        administrator: None,
    };
    let of = begin(db, Clock::real(), &what)?;
    stock(db, &of, appliances)?;
    Ok((of, signing))
}

fn stock(db: &mut Db, of: &Organisation, appliances: usize) -> Result<(), ActionError> {
    let mut requests = vec![json!({"kind": "rule_set", "body": {
        "toml": include_str!("flat-thresholds.toml"), "from": FROM}})];
    for number in 0..appliances {
        let fact = |is: &str| json!([{"from": FROM, "is": is}]);
        requests.push(json!({"kind": "appliance", "body": {"facts": {
            "tag": format!("A{number}"), "refrigerant": fact("R-410A"),
            "full_charge": fact("100 lb"), "category": fact("comfort_cooling"),
            "installed": FROM}}}));
        requests.push(json!({"kind": "cylinder", "body": {"facts": {
            "tag": format!("C{number}"), "use": "supply", "refrigerant": fact("R-410A"),
            "capacity": "1000 lb"}}}));
        requests.push(json!({"kind": "opening", "body": {
            "to": format!("cylinder:C{number}"), "refrigerant": "R-410A", "mass": "800 lb"}}));
    }
    let mut books = Books::new();
    for mut request in requests {
        request["entry_id"] = json!(Id::random());
        request["happened"] = json!({"day": today()});
        let book = |tx: &mut api::store::tx::Tx<'_>| match post(tx, &manager(), &request) {
            Err(ActionError::Failed(error)) => Err(error),
            outcome => Ok(outcome),
        };
        transact(
            db,
            &mut books,
            of,
            &[],
            Table::shipped(),
            Clock::real(),
            book,
        )??;
    }
    Ok(())
}

/// Never the same mass twice for one appliance: that would be asked about.
pub fn charge(number: usize, appliances: usize) -> Value {
    let (at, round) = (number % appliances, number / appliances);
    json!({"entry_id": Id::random(), "kind": "charge", "happened": {"day": today()},
        "body": {"from": format!("cylinder:C{at}"), "to": format!("appliance:A{at}"),
            "refrigerant": "R-410A", "mass": format!("0.{:06} lb", 600 + round),
            "reason": "leak_top_up", "returned_to_full_charge": true}})
}

/// The day by UTC, which is the zone of this book.
fn today() -> String {
    let since = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH);
    let days = since.expect("after 1970").as_secs() / 86_400;
    let day = reports::day::Day::from_count(i32::try_from(days).expect("few"));
    String::from_utf8(day.to_bytes().to_vec()).expect("digits")
}
