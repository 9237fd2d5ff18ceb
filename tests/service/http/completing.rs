//! The form that completes the register of an appliance: what limits follow from is changed by who has seen
//! what stands there.

use harness::browsing::{hidden, send, sign_in};
use harness::service::{PASSWORD, Service};

/// Two managers open the form; the second is told what the first has written, and books only after that.
#[test]
fn a_form_that_was_overtaken_books_nothing() {
    let service = Service::stocked();
    let nadia = sign_in(&service, "nadia@tamarack.example", PASSWORD);
    let path = "/appliances/HG-RACK-A/register";
    let open = || service.get(&nadia, path).expect(200).text();
    let fill = |page: &str, charge: &str| {
        let (entry, version) = (hidden(page, "entry_id"), hidden(page, "version"));
        let boxes = [
            ("entry_id", entry.as_str()),
            ("version", version.as_str()),
            ("from", "2026-07-01"),
            ("full_charge", charge),
            ("method", "calculation"),
        ];
        send(&service, &nadia, page, path, &boxes)
    };
    let (first, second) = (open(), open());
    fill(&first, "200 lb").expect(303);
    fill(&first, "200 lb").expect(303);
    let told = fill(&second, "22 lb").expect(412).text();
    assert!(told.contains("wrote about this appliance"), "{told}");
    assert!(
        told.contains("200 lb 0 oz"),
        "what stands there now: {told}"
    );
    let card = service.get(&nadia, "/appliances/HG-RACK-A").expect(200);
    assert!(card.text().contains("200 lb 0 oz") && !open().contains("22 lb"));
    fill(&told, "22 lb").expect(303);
    assert!(open().contains("22 lb 0 oz"));
}
