//! Lists of the office go out as they are shown, and that they did is known (promise S6).
//!
//! What a file must hold is what a person reads on the page; it is read back by the crate `csv`.

use harness::browsing::sign_in;
use harness::service::{PASSWORD, Service, Who, charge};

/// The things of the rows of a table, in the order of the page.
fn tags(page: &str, table: &str) -> Vec<String> {
    let (_, table) = page
        .split_once(&format!("aria-label=\"{table}\" tabindex"))
        .expect("the table");
    let table = table.split("</table>").next().expect("its end");
    let rows = table.split("<th scope=\"row\"><a href=\"").skip(1);
    let tag = |row: &str| {
        let (_, rest) = row.split_once('>').expect("a link");
        rest.split('<').next().expect("a tag").to_string()
    };
    rows.map(tag).collect()
}

#[test]
fn a_list_is_taken_as_it_is_shown() {
    let service = Service::stocked();
    service.booked(&service.firm.technician, charge("7 lb 10 oz"));
    let nadia = sign_in(&service, "nadia@tamarack.example", PASSWORD);
    for (path, title) in [("/appliances", "Appliance"), ("/cylinders", "Cylinder")] {
        let page = service.get(&nadia, path).expect(200).text();
        let link = format!("href=\"{path}?as=file\"");
        assert!(page.contains(&link), "{page}");
        let file = service.get(&nadia, &format!("{path}?as=file")).expect(200);
        let media = file.header("content-type");
        assert_eq!(media, Some("text/csv; charset=utf-8; header=present"));
        let named = file.header("content-disposition").unwrap_or_default();
        assert!(named.starts_with("attachment; "), "{named}");
        let text = file.text();
        let text = text.strip_prefix('\u{feff}').expect("a byte-order mark");
        let mut reader = csv::Reader::from_reader(text.as_bytes());
        assert_eq!(reader.headers().expect("a header").get(0), Some(title));
        let first = |row: Result<csv::StringRecord, csv::Error>| row.expect("a row")[0].to_string();
        let found: Vec<String> = reader.records().map(first).collect();
        assert!(!found.is_empty());
        assert_eq!(found, tags(&page, &format!("{title}s")), "{path}");
    }
    let taken = service.get(&nadia, "/cylinders?as=file").expect(200).text();
    assert!(taken.contains("R-448A"), "{taken}");
    // The filter of the address holds for the file, too.
    let none = service
        .get(&nadia, "/appliances?find=ZZ&as=file")
        .expect(200);
    assert_eq!(none.text().lines().count(), 1, "the heading alone");
    let page = service
        .get(&nadia, "/appliances?find=ZZ")
        .expect(200)
        .text();
    assert!(!page.contains("as=file"), "nothing to take, no link");
    service.get(&nadia, "/appliances?as=picture").expect(422);
    for path in ["/duties?as=file", "/findings?as=file"] {
        let text = service.get(&nadia, path).expect(200).text();
        assert!(
            text.starts_with('\u{feff}') && text.contains("Site"),
            "{text}"
        );
    }
    let records = service
        .get(&nadia, "/api/v1/access-records")
        .expect(200)
        .text();
    for name in ["appliances", "cylinders", "duties", "findings"] {
        assert!(
            records.contains(&format!("\"about\":\"{name}\"")),
            "{name}: {records}"
        );
    }
    service.get(&Who::Nobody, "/appliances?as=file").expect(303);
}
