//! A cylinder's life and the scale it stands on: the condition of what is in it travels with it, who has
//! it is said by whoever takes it, and known weights say how far a scale is off.

use api::actions::show::{Sees, cage, entries, lines, scales, standing};
use api::store::columns::Sort;
use harness::shop::Shop;
use serde_json::{Value, json};

fn shop() -> Shop {
    let mut shop = Shop::stocked();
    for tag in ["BURNT", "GOOD", "EMPTY"] {
        let facts = json!({"tag": tag, "use": "recovery", "water_capacity": "47.7 lb",
                           "tare": "27.5 lb", "retest_on": "2027-05-31"});
        shop.register("cylinder", facts);
    }
    shop
}

fn recover(to: &str, mass: &str, class: Option<&str>) -> Value {
    let mut request = json!({"kind": "recover", "body": {"from": "appliance:HG-RACK-A",
        "to": format!("cylinder:{to}"), "refrigerant": "R-448A", "mass": mass}});
    request["answers"] = json!({"balance_below_zero": "as_stated"});
    if let Some(class) = class {
        request["body"]["class"] = json!(class);
    }
    request
}

fn transfer(from: &str, to: &str, mass: &str) -> Value {
    json!({"kind": "transfer", "body": {"from": format!("cylinder:{from}"),
        "to": format!("cylinder:{to}"), "refrigerant": "R-448A", "mass": mass}})
}

fn answered(mut request: Value) -> Value {
    request["answers"]["content_class"] = json!("as_stated");
    request
}

fn class(shop: &mut Shop, tag: &str) -> Option<String> {
    let shown = cage::one(&mut shop.db, &shop.of, tag, None, Sees::Everything);
    shown.expect("a cylinder").class
}

/// What burnt goes on as burnt: it is asked about before it makes good refrigerant bad or goes into an
/// appliance, it travels with each transfer as the worse of both, and an empty cylinder forgets it.
#[test]
fn the_condition_travels_with_the_content() {
    let mut shop = shop();
    shop.ok(recover("BURNT", "5 lb", Some("burn_out")));
    shop.ok(recover("GOOD", "5.5 lb", Some("clean")));
    assert_eq!(class(&mut shop, "BURNT").as_deref(), Some("burn_out"));
    let spoils = transfer("BURNT", "GOOD", "1 lb");
    let refused = shop.refused(spoils.clone());
    assert_eq!(Shop::questions(&refused), ["content_class"]);
    assert!(refused.to_string().contains("from a burn-out"), "{refused}");
    assert_eq!(class(&mut shop, "GOOD").as_deref(), Some("clean"));
    let spoilt = shop.ok(answered(spoils));
    let found = shop.findings(spoilt.seq);
    assert!(found.contains(&("content_class".into(), "normal".into(), false)));
    assert_eq!(class(&mut shop, "GOOD").as_deref(), Some("burn_out"));
    // Into an empty cylinder nobody is asked: nothing is spoilt there.
    shop.ok(transfer("BURNT", "EMPTY", "4 lb"));
    assert_eq!(class(&mut shop, "EMPTY").as_deref(), Some("burn_out"));
    assert_eq!(class(&mut shop, "BURNT"), None, "an empty cylinder");
    let charge = json!({"kind": "charge", "body": {"from": "cylinder:EMPTY",
        "to": "appliance:HG-RACK-A", "refrigerant": "R-448A", "mass": "1 lb"}});
    let refused = shop.refused(charge.clone());
    assert_eq!(Shop::questions(&refused), ["content_class"]);
    assert!(refused.to_string().contains("reclaim"), "{refused}");
    shop.ok(answered(charge));
    shop.ok(recover("GOOD", "1 lb", Some("suspect")));
    assert_eq!(class(&mut shop, "GOOD").as_deref(), Some("burn_out"));
    shop.sound();
    shop.caches_agree();
}

/// An analysis ends it: whoever keeps the register says the class anew, or renames all of it with its
/// class; whose it is does not change with its name.
#[test]
fn an_analysis_says_the_condition_anew() {
    let mut shop = shop();
    shop.ok(recover("BURNT", "5 lb", Some("suspect")));
    shop.ok(
        json!({"kind": "cylinder", "answers": {"content_cleared": "analysed"},
        "body": {"subject": "BURNT", "facts": {"class": "clean"}}}),
    );
    assert_eq!(class(&mut shop, "BURNT").as_deref(), Some("clean"));
    shop.ok(answered(recover("BURNT", "1 lb", Some("unknown"))));
    assert_eq!(class(&mut shop, "BURNT").as_deref(), Some("unknown"));
    shop.ok(
        json!({"kind": "redesignate", "answers": {"content_renamed": "analysed"},
        "body": {"place": "cylinder:BURNT", "refrigerant": "R-448A",
        "becomes": "R-404A", "mass": "6 lb", "class": "suspect"}}),
    );
    assert_eq!(class(&mut shop, "BURNT").as_deref(), Some("suspect"));
    let to_another_owner = json!({"kind": "charge", "body": {"from": "cylinder:BURNT",
        "to": "appliance:QK-WIC-1", "refrigerant": "R-404A", "mass": "1 lb"}});
    let refused = shop.refused(to_another_owner);
    assert!(
        Shop::stops(&refused).contains(&"other_owner"),
        "another name, the same owner: {refused}"
    );
    // Two refrigerants that met are mixed, whatever was stated of each.
    shop.ok(
        json!({"kind": "recover", "answers": {"mixing": "already_happened"},
        "body": {"from": "unregistered", "number": 1, "to": "cylinder:BURNT",
                 "refrigerant": "R-22", "mass": "1 lb", "class": "clean"}}),
    );
    assert_eq!(class(&mut shop, "BURNT").as_deref(), Some("mixed"));
    // A correction of what filled an empty cylinder takes its class back with it.
    let wrong = shop.ok(recover("EMPTY", "2 lb", Some("burn_out")));
    let mut right = recover("EMPTY", "2 lb", Some("clean"));
    right = json!({"kind": "correction", "answers": right["answers"], "body": {
        "corrects": wrong.entry_id, "reason": "misread", "replace": {"body": right["body"]}}});
    shop.ok(right);
    assert_eq!(class(&mut shop, "EMPTY").as_deref(), Some("clean"));
    shop.sound();
    shop.caches_agree();
}

/// Worked by hand: S-2 shows steps of 0.25 oz. 10 lb shown as 10 lb 0.25 oz are one step too much and
/// within it; 10 lb 0.5 oz are not. 14 July and 31 days are 14 August.
#[test]
fn a_known_weight_says_how_far_a_scale_is_off() {
    let mut shop = shop();
    let technician = shop.technician;
    let weigh = |shown: &str| {
        json!({"kind": "scale", "body": {"subject": "S-2", "facts": {
            "check_weight": {"nominal": "10 lb", "shown": shown}}}})
    };
    let right = shop.post_as(&technician, weigh("10 lb 0.25 oz"));
    let right = right.expect("within its step");
    assert_eq!(right.findings, []);
    let scale = |shop: &mut Shop| scales::one(&mut shop.db, &shop.of, "S-2").expect("a scale");
    let shown = scale(&mut shop);
    assert_eq!(shown.check_due.as_deref(), Some("2026-08-14"));
    assert_eq!(shown.checks[0].off.g, "7.08738078125");
    assert_eq!(shown.checks[0].within_step, Some(true));
    let off = shop.post_as(&technician, weigh("10 lb 0.5 oz")).unwrap();
    assert_eq!(
        shop.findings(off.seq),
        [("scale_off".into(), "normal".into(), false)]
    );
    let shown = scale(&mut shop);
    assert_eq!(shown.checks.len(), 1, "of two on one day the later holds");
    assert_eq!(shown.checks[0].within_step, Some(false));
    let before = shop.size();
    for (facts, says) in [
        (json!({"check_weight": {"nominal": "10 lb"}}), "shown"),
        (
            json!({"check_weight": {"nominal": "0 lb", "shown": "1 lb"}}),
            "nothing",
        ),
        (
            json!({"check_weight": {"nominal": "-10 lb", "shown": "1 lb"}}),
            "nominal",
        ),
        (
            json!({"check_weight": {"nominal": "10", "shown": "1 lb"}}),
            "unit",
        ),
        (json!({"check_weight": "10 lb"}), "check_weight"),
    ] {
        let refused =
            shop.refused(json!({"kind": "scale", "body": {"subject": "S-2", "facts": facts}}));
        assert!(refused.to_string().contains(says), "{refused}");
    }
    let facts = json!({"check_weight": {"nominal": "10 lb", "shown": "10 lb"}});
    let of_a_cylinder = json!({"kind": "cylinder", "body": {"subject": "GOOD", "facts": facts}});
    assert!(shop.refused(of_a_cylinder).to_string().contains("a scale"));
    assert_eq!(shop.size(), before);
    shop.sound();
    shop.caches_agree();
}

/// A technician says what is in the van, and nothing else of what the office keeps.
#[test]
fn a_technician_takes_a_cylinder_and_changes_nothing_else_of_it() {
    let mut shop = shop();
    let technician = shop.technician;
    let said =
        |facts: Value| json!({"kind": "cylinder", "body": {"subject": "GOOD", "facts": facts}});
    let taken = shop.post_as(&technician, said(json!({"held_by": "Ines Vallory"})));
    let taken = taken.expect("custody");
    assert_eq!(taken.findings, []);
    let before = shop.size();
    for facts in [
        json!({"tare": "1 lb"}),
        json!({"held_by": "Ines Vallory", "retest_on": "2040-01-01"}),
        json!({"class": "clean"}),
    ] {
        let refused = shop.post_as(&technician, said(facts)).unwrap_err();
        assert!(refused.to_string().contains("held_by"), "{refused}");
    }
    let tare = json!({"kind": "correction", "body": {"corrects": taken.entry_id,
        "reason": "misread", "replace": {"body": {"subject": "GOOD", "facts": {"tare": "1 lb"}}}}});
    let refused = shop.post_as(&technician, tare).unwrap_err();
    assert!(refused.to_string().contains("held_by"), "{refused}");
    let step = json!({"kind": "scale", "body": {"subject": "S-2", "facts": {"resolution": "5 g"}}});
    let refused = shop.post_as(&technician, step).unwrap_err();
    assert!(refused.to_string().contains("check_weight"), "{refused}");
    assert_eq!(shop.size(), before);
    shop.sound();
    shop.caches_agree();
}

/// Worked by hand: 42 lb of 210 lb in 365 days are 20 %, the limit of 40 CFR 84.106(c) for commercial
/// refrigeration, and a quarter of an ounce more is over it: 42.015625 / 210 = 20.0074 % (cut). On a
/// scale of 5 lb steps that showed 10 lb as 12 lb, u² = (2267.96)² / 6 + (0.2 x 19 057.97 g)², so
/// U = 7 844.9 g and 8.24 points. It is over all the same, and a quarter of an ounce less is not.
#[test]
fn a_hair_over_the_limit_is_over_however_doubtful_the_scale() {
    let toml = reports::rules::shipped_texts()
        .iter()
        .find(|(name, _)| *name == "us-federal-hfc.toml")
        .expect("a shipped set")
        .1;
    for (after, over) in [("17 lb 15.75 oz", true), ("18 lb", false)] {
        let mut shop = shop();
        shop.ok(json!({"kind": "rule_set", "body": {"toml": toml, "from": "2026-01-01"}}));
        shop.register("scale", json!({"tag": "S-9", "resolution": "5 lb"}));
        let weight = json!({"check_weight": {"nominal": "10 lb", "shown": "12 lb"}});
        shop.register_as("S-9", "scale", weight);
        let posted = shop.ok(
            json!({"kind": "charge", "answers": {"over_content": "as_stated"},
            "body": {"from": "cylinder:SUP-88231", "to": "appliance:HG-RACK-A",
                     "refrigerant": "R-448A", "reason": "leak_top_up",
                     "readings": {"before": "60 lb", "after": after, "scale": "S-9"}}}),
        );
        let said = |over| match over {
            true => reports::standing::Over::Yes,
            false => reports::standing::Over::No,
        };
        assert_eq!(posted.standings[0].newest.over, said(over), "{after}");
        let now = harness::shop::now();
        let shown = standing::one(&mut shop.db, &shop.of, "HG-RACK-A", None, now);
        let shown = shown.expect("a standing").standing;
        let addition = shown.additions.last().expect("an addition");
        let rate = addition.counting().expect("a rate");
        assert_eq!(rate.over, Some(over));
        let known = addition.uncertainty.clone().expect("it was weighed");
        if over {
            assert_eq!(rate.percent, "20.0074");
            assert_eq!(known.added_g, "7844.9");
            let points = (known.annualising_points, known.rolling_points);
            assert_eq!(points, (Some("8.24".to_string()), Some("8.24".to_string())));
        }
        let name = posted.entry_id.to_string();
        let entry = entries::one(&mut shop.db, &shop.of, &name, Sees::Everything);
        let uncertain = entry.expect("an entry").value["uncertainty_g"].clone();
        assert_eq!(uncertain, json!([known.added_g]));
    }
}

/// A net weight that was typed has no scale, and nothing is said of how far it is known.
#[test]
fn what_was_not_weighed_has_no_uncertainty() {
    let mut shop = shop();
    let posted = shop.ok(
        json!({"kind": "charge", "body": {"from": "cylinder:SUP-88231",
        "to": "appliance:HG-RACK-A", "refrigerant": "R-448A", "mass": "5 lb"}}),
    );
    let now = harness::shop::now();
    let shown = standing::one(&mut shop.db, &shop.of, "HG-RACK-A", None, now);
    let shown = shown.expect("a standing").standing;
    assert_eq!(shown.additions.last().expect("one").uncertainty, None);
    let name = posted.entry_id.to_string();
    let entry = entries::one(&mut shop.db, &shop.of, &name, Sees::Everything);
    assert_eq!(entry.expect("an entry").value.get("uncertainty_g"), None);
}

/// The row of a cylinder says where its entries end and how many there are, so that a page about it
/// stops where they begin; the walk over the whole book finds the same.
#[test]
fn the_entries_of_a_cylinder_are_found_from_its_row() {
    let mut shop = shop();
    shop.ok(recover("BURNT", "5 lb", None));
    let first = shop.ok(recover("GOOD", "5.5 lb", None));
    shop.ok(transfer("BURNT", "GOOD", "1 lb"));
    let wrong = shop.ok(transfer("GOOD", "EMPTY", "2 lb"));
    shop.ok(
        json!({"kind": "correction", "body": {"corrects": wrong.entry_id, "reason": "misread",
        "replace": {"body": {"from": "cylinder:GOOD", "to": "cylinder:EMPTY",
                             "refrigerant": "R-448A", "mass": "1.5 lb"}}}}),
    );
    for _ in 0..3 {
        let tag = format!("site {}", shop.size());
        shop.register("site", json!({"tag": tag}));
    }
    for (tag, expected) in [("BURNT", 2), ("GOOD", 4), ("EMPTY", 2), ("TR-0417", 0)] {
        let of = (Sort::Cylinder, tag);
        let everything = Sees::Everything;
        let page = |shop: &mut Shop, before, most| {
            let page = lines::of_thing(&mut shop.db, &shop.of, of, before, most, everything);
            let page = page.expect("lines");
            let numbers: Vec<u64> = page.items.iter().map(|line| line.seq).collect();
            (numbers, page.next)
        };
        let (all, next) = page(&mut shop, None, 50);
        assert_eq!((all.len(), next), (expected, None), "{tag}: {all:?}");
        assert!(all.is_sorted_by(|a, b| a > b), "the newest first: {all:?}");
        // The same from a row that was never counted: by the whole book.
        let row = format!(
            "UPDATE subjects SET newest = -1 - newest WHERE place IN \
             (SELECT place FROM registers WHERE tag = '{tag}' AND sort = 2)"
        );
        shop.db.batch(&row).expect("uncounted");
        assert_eq!(page(&mut shop, None, 50).0, all, "{tag}");
        shop.db.batch(&row).expect("counted again");
    }
    let of = (Sort::Cylinder, "GOOD");
    let two = lines::of_thing(&mut shop.db, &shop.of, of, None, 2, Sees::Everything);
    let two = two.expect("lines");
    let before = two.next.expect("older ones").parse().ok();
    let rest = lines::of_thing(&mut shop.db, &shop.of, of, before, 2, Sees::Everything);
    let rest = rest.expect("lines");
    assert_eq!(rest.items.last().expect("the first").seq, first.seq);
    shop.sound();
    shop.caches_agree();
}

/// Days by hand from 14 July 2026: 12 October is 90 days away, 13 October 91; 13 July is over.
#[test]
fn tests_of_the_whole_cage_are_listed_from_ninety_days_on() {
    let mut shop = Shop::stocked();
    for (tag, due, more) in [
        ("IN-90", "2026-10-12", json!({})),
        ("IN-91", "2026-10-13", json!({})),
        ("OVER", "2026-07-13", json!({})),
        ("GONE", "2026-07-13", json!({"condition": "condemned"})),
        ("ONCE", "2026-07-13", json!({"use": "disposable"})),
    ] {
        let mut facts = json!({"tag": tag, "use": "recovery", "retest_on": due});
        for (name, value) in more.as_object().expect("an object") {
            facts[name] = value.clone();
        }
        shop.register("cylinder", facts);
    }
    let today = reports::day::Day::parse("2026-07-14").expect("a day");
    let due = cage::tests_due(&mut shop.db, &shop.of, today).expect("a list");
    let tags: Vec<&str> = due.iter().map(|due| due.tag.as_str()).collect();
    assert_eq!(tags, ["OVER", "IN-90"]);
}

/// WC and TW of one collar, read the wrong way round: 27.6 lb of water would fit into 47.7 lb of steel.
#[test]
fn a_water_capacity_below_the_tare_is_asked_about() {
    let mut shop = Shop::stocked();
    let facts = json!({"tag": "TR-0499", "tare": "47.7 lb", "water_capacity": "27.6 lb"});
    let request = json!({"kind": "cylinder", "body": {"facts": facts}});
    let refused = shop.refused(request.clone());
    assert_eq!(Shop::questions(&refused), ["water_capacity_below_tare"]);
    assert!(refused.to_string().contains("WC and TW"), "{refused}");
    // Said later of a cylinder whose tare is known, it is asked about as well.
    let later = json!({"kind": "cylinder", "body": {"subject": "TR-0417",
        "facts": {"water_capacity": "21 lb"}}});
    assert_eq!(
        Shop::questions(&shop.refused(later)),
        ["water_capacity_below_tare"]
    );
    let mut so = request;
    so["answers"] = json!({"water_capacity_below_tare": "as_stated"});
    shop.ok(so);
    shop.sound();
    shop.caches_agree();
}

/// R-744 rests at 5 728 kPa at 20 degC (CoolProp 8.0.0), where nothing else of the table is near: one
/// fits, and still nothing is named. What the book says stays unknown until a person says otherwise.
#[test]
fn one_that_fits_names_nothing() {
    let mut shop = shop();
    shop.ok(
        json!({"kind": "count", "answers": {"count_differs": "as_stated"},
        "body": {"cylinder": "GOOD", "gross": "40 lb",
        "refrigerant": "unknown"}}),
    );
    let checked = shop.ok(
        json!({"kind": "observation", "body": {"cylinder": "GOOD", "pressure": "5728",
        "pressure_unit": "kPa", "accuracy_percent": "1", "full_scale": "8000",
        "wall_temperature": "20", "temperature_unit": "Cel", "rested": "yes", "gross": "40 lb"}}),
    );
    let said = shop.leaf(checked.seq)["body"]["words"].clone();
    assert_eq!(
        (&said["verdict"], &said["compatible"]),
        (&json!("one_compatible"), &json!("R-744")),
        "{said}"
    );
    let shown = cage::one(&mut shop.db, &shop.of, "GOOD", None, Sees::Everything);
    let shown = shown.expect("a cylinder");
    let held = shown.thing.balances.expect("balances");
    assert_eq!(held.len(), 1);
    assert_eq!(held[0].refrigerant, "unknown");
    assert!(!shown.thing.facts.contains_key("refrigerant"));
    assert_eq!(shown.class.as_deref(), Some("unknown"));
    assert_eq!(shown.fill.closed, ["quarantined"]);
    shop.sound();
    shop.caches_agree();
}
