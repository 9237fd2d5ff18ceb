//! What the law wants written down of a job: told with the answer and of the appliance, never a
//! reason to refuse.
//!
//! Which fields a record has is read in the law, by hand:
//! - 40 CFR 84.106(l)(2), as 82.157(l)(2): the part worked on and the work done on it, beside
//!   appliance, place, day, person, amount, refrigerant, full charge and leak rate.
//! - ORRChem (SR 814.81) Annex 2.10, 3.4(1): a leak check at every service of a plant that is
//!   checked; 3.5: a log above 3 kg with firm, day, result, amount and signature.
//! - Regulation (EU) 2024/573, Art. 7(1)(e): the person and the number of the certificate.

use api::actions::Posted;
use api::actions::recorded::RecordLacks;
use api::actions::standings::Standings;
use harness::shop::{Shop, now};
use reports::rules::shipped_texts;
use serde_json::{Value, json};

fn shop() -> Shop {
    let mut shop = Shop::stocked();
    for id in ["us-federal-hfc", "ch-orrchem", "eu-2024-573"] {
        let file = format!("{id}.toml");
        let (_, toml) = (shipped_texts().iter())
            .find(|(name, _)| *name == file)
            .expect("a shipped set");
        shop.ok(json!({"kind": "rule_set", "body": {"toml": toml, "from": "2026-01-01"}}));
    }
    for (tag, region, full_charge) in [
        ("HG-RACK-C", "CH", "20 kg"),
        ("HG-CASE-C", "CH", "2 kg"),
        ("HG-RACK-E", "EU-DE", "95 kg"),
    ] {
        let site = format!("Site of {tag}");
        shop.register(
            "site",
            json!({"tag": site, "zone": "Europe/Zurich", "region": region}),
        );
        shop.register(
            "appliance",
            json!({"tag": tag, "site": site, "refrigerant": "R-448A", "hermetic": "no",
                   "category": "commercial_refrigeration", "owner": "Halfmoon Grocers",
                   "installed": "2019-05-20", "residential": "no", "full_charge": full_charge}),
        );
    }
    shop
}

fn charge(shop: &mut Shop, tag: &str) -> Posted {
    shop.ok(json!({"kind": "charge",
        "answers": {"rate_jump": "as_stated", "same_mass": "as_stated"},
        "body": {"from": "cylinder:SUP-88231", "to": format!("appliance:{tag}"),
                 "refrigerant": "R-448A", "mass": "8 oz", "reason": "leak_top_up"}}))
}

/// What the answer of a posting says of its record.
fn told(posted: &Posted) -> Vec<RecordLacks> {
    let all = posted.standings.iter().flat_map(|it| it.records.clone());
    all.collect()
}

/// What the appliance's page says of the records of its last year.
fn of_appliance(shop: &mut Shop, tag: &str) -> Vec<RecordLacks> {
    let sort = api::store::columns::Sort::Appliance;
    let row = api::store::listing::thing(&mut shop.db, shop.of.org, sort, tag);
    let row = row.expect("a register").expect("an appliance of that tag");
    let standings = Standings::open(&mut shop.db, &shop.of, now()).expect("standings");
    let records = standings.records(&mut shop.db, row.place, None);
    records.expect("the records")
}

fn fields<'l>(lacks: &'l [RecordLacks], entry: &Posted) -> Vec<&'l str> {
    let own = lacks.iter().filter(|it| it.entry == entry.seq);
    own.flat_map(|it| it.lacks.iter().map(String::as_str))
        .collect()
}

/// A charge without the part worked on is booked and told what its record lacks; the repair of the
/// same day says it for the whole job.
#[test]
fn a_record_lacks_the_part_until_a_step_of_the_same_job_says_it() {
    let mut shop = shop();
    let charged = charge(&mut shop, "HG-RACK-A");
    let lacks = told(&charged);
    assert_eq!(fields(&lacks, &charged), ["parts"]);
    assert_eq!(lacks[0].rule_set, "us-federal-hfc");
    assert_eq!(
        lacks[0].sentence,
        "The record lacks: parts [40 CFR 84.106(l)(2)]."
    );
    assert_eq!(of_appliance(&mut shop, "HG-RACK-A"), lacks);
    let secret = "flare nut 7 of circuit B";
    let repair = json!({"kind": "repair", "body": {"appliance": "HG-RACK-A", "place": "Case line",
        "parts": secret, "work_done": "Tightened and leak tested"}});
    let repaired = shop.ok(repair);
    assert_eq!(told(&repaired), [], "the repair says its part");
    let now = of_appliance(&mut shop, "HG-RACK-A");
    assert_eq!(now, [], "and the charge of the same day is part of the job");

    shop.wait_minutes(40 * 24 * 60);
    let another = charge(&mut shop, "HG-RACK-A");
    let lacks = of_appliance(&mut shop, "HG-RACK-A");
    assert_eq!(
        fields(&lacks, &another),
        ["parts"],
        "another day, another job"
    );
    assert!(
        !format!("{lacks:?}").contains(secret),
        "only whether it was said"
    );
}

/// A record is asked for where its `when` holds, and a step that should stand beside it is named.
#[test]
fn a_record_has_its_when_and_wants_a_leak_check_beside_it() {
    let mut shop = shop();
    let small = charge(&mut shop, "HG-CASE-C");
    assert_eq!(told(&small), [], "2 kg: no log and no check");
    let charged = charge(&mut shop, "HG-RACK-C");
    let lacks = told(&charged);
    assert_eq!(fields(&lacks, &charged), ["with:inspection"]);
    assert_eq!(lacks[0].not_kept, ["signature"]);
    assert_eq!(lacks[0].clauses, ["3.4(1)", "3.5"]);
    assert!(
        lacks[0].sentence.contains("a step inspection beside it"),
        "{lacks:?}"
    );
    let check = json!({"kind": "inspection", "body": {"appliance": "HG-RACK-C",
        "result": "clean", "of": "unit", "method": "electronic"}});
    shop.ok(check);
    let lacks = of_appliance(&mut shop, "HG-RACK-C");
    assert_eq!(fields(&lacks, &charged), Vec::<&str>::new());
}

/// The certificate is registered with the person; a correction is judged by what stands now.
#[test]
fn a_certificate_fills_the_record_of_the_day_it_holds() {
    let mut shop = shop();
    let technician = |tag: &str, until: &str| {
        json!({"tag": tag, "certificate_class": "universal",
               "certificate_from": "2020-01-01", "certificate_until": until})
    };
    shop.register("person", technician("Ines Vallory", "2030-12-31"));
    shop.register("person", technician("Odd Marne", "2025-12-31"));
    let check = |did: &str| {
        json!({"kind": "inspection", "did": did, "body": {"appliance": "HG-RACK-E",
               "result": "clean", "of": "unit"}})
    };
    let good = shop.ok(check("Ines Vallory"));
    assert_eq!(told(&good), []);
    let run_out = shop.ok(check("Odd Marne"));
    assert_eq!(fields(&told(&run_out), &run_out), ["certificate"]);
    let corrected = shop.ok(json!({"kind": "correction", "body": {
        "corrects": run_out.entry_id.to_string(), "reason": "other",
        "replace": {"kind": "inspection", "did": "Ines Vallory",
                    "body": {"appliance": "HG-RACK-E", "result": "clean", "of": "unit"}}}}));
    assert_eq!(told(&corrected), [], "the correction names another person");
    let lacks: Value = json!(of_appliance(&mut shop, "HG-RACK-E"));
    assert_eq!(lacks, json!([]));
}
