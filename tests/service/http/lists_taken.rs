//! Lists of the office go out as they are shown, and that they did is known (promise S6).
//!
//! What a file must hold is what a person reads on the page; it is read back by the crate `csv`.

use super::reading::go_over_its_limit;
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

/// The masses of the list of cylinders: a pound is 0.45359237 kg (exact, NIST SP 811), a page writes pounds
/// and ounces.
#[allow(clippy::float_arithmetic)] // Two units are compared within what a float can tell.
fn masses_are_numbers(service: &Service, who: &Who, taken: &str) {
    let page = service.get(who, "/cylinders").expect(200).text();
    let text = taken.trim_start_matches('\u{feff}');
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let header = reader.headers().expect("a header").clone();
    let at = |name| (header.iter().position(|one| one == name)).expect("a column");
    let (lb, kg, room) = (at("net_lb"), at("net_kg"), at("room_lb"));
    let mut filled = 0;
    for row in reader.records() {
        let row = row.expect("a row");
        let number = |cell: usize| row[cell].parse::<f64>().expect("a decimal number");
        let ounces = number(lb) * 16.0;
        assert!(
            (number(lb) * 0.453_592_37 - number(kg)).abs() < 1e-6,
            "{row:?}"
        );
        if ounces > 0.0 && ounces.fract() == 0.0 {
            let shown = format!("{} lb {} oz", (ounces / 16.0).floor(), ounces % 16.0);
            assert!(
                page.contains(&shown),
                "{shown} of {row:?} stands on the page"
            );
            filled += 1;
        }
        assert!(row[room].is_empty() || number(room).is_finite(), "{row:?}");
    }
    assert!(filled > 0, "{taken}");
}

/// A day of a duty is a date as ISO 8601 writes it, so that a spreadsheet can sort by it.
#[test]
fn days_are_dates() {
    let service = Service::stocked();
    go_over_its_limit(&service);
    let nadia = sign_in(&service, "nadia@tamarack.example", PASSWORD);
    let text = service.get(&nadia, "/duties?as=file").expect(200).text();
    let text = text.trim_start_matches('\u{feff}').to_string();
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let header = reader.headers().expect("a header").clone();
    let day = (header.iter().position(|one| one == "Day")).expect("a column");
    let rows: Vec<csv::StringRecord> = reader.records().map(|row| row.expect("a row")).collect();
    assert!(!rows.is_empty(), "something is owed");
    let is_date = |text: &str| {
        let parts: Vec<&str> = text.split('-').collect();
        let lengths: Vec<usize> = parts.iter().map(|part| part.len()).collect();
        lengths == [4, 2, 2] && parts.iter().all(|part| part.parse::<u16>().is_ok())
    };
    let dates = rows.iter().filter(|row| is_date(&row[day])).count();
    let without = rows.iter().filter(|row| row[day].is_empty()).count();
    assert!(dates > 0 && dates + without == rows.len(), "{text}");
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
    masses_are_numbers(&service, &nadia, &taken);
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
