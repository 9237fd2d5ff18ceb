//! What is left in a cylinder that goes away.

use harness::shop::Shop;
use serde_json::json;

/// The heel is stock until it is measured: a cylinder with 1 lb 2 oz by the book is asked about when it
/// is retired, and an empty one is not (40 CFR 84.116, as reported: the heel goes out before the scrap).
#[test]
fn a_heel_is_asked_about_before_its_cylinder_goes_away() {
    let mut shop = Shop::stocked();
    let registered = json!({"tag": "SUP-90077", "use": "disposable", "refrigerant": "R-410A"});
    shop.register("cylinder", registered);
    let retire = json!({"kind": "cylinder", "body": {"subject": "SUP-90077",
        "facts": {"condition": "retired"}}});
    let heel = json!({"kind": "opening", "body": {"to": "cylinder:SUP-90077",
        "refrigerant": "R-410A", "mass": "1 lb 2 oz"}});
    shop.ok(heel);
    let size = shop.size();
    let refused = shop.refused(retire.clone());
    assert_eq!(Shop::questions(&refused), ["heel_left"]);
    assert!(refused.to_string().contains("1 lb 2 oz"), "{refused}");
    assert_eq!(shop.size(), size, "nothing is booked before the answer");
    let mut so = retire.clone();
    so["answers"] = json!({"heel_left": "as_stated"});
    let booked = shop.ok(so);
    // The answer stays in the book.
    let answers = shop.leaf(booked.seq)["answers"].clone();
    assert_eq!(answers, json!({"heel_left": "as_stated"}));
    let empty = json!({"tag": "SUP-90078", "use": "disposable", "refrigerant": "R-410A"});
    shop.register("cylinder", empty);
    let mut gone = retire;
    gone["body"]["subject"] = json!("SUP-90078");
    shop.ok(gone);
    shop.sound();
}
