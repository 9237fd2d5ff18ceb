//! S6: whoever reads names and addresses of people, takes the whole log or a report with what it rests on,
//! leaves a record of that before it is answered.

use harness::service::{Service, Who};
use serde_json::Value;

/// What and about, the newest first.
fn records(service: &Service) -> Vec<(String, String)> {
    let manager = &service.firm.manager;
    let read = service.get(manager, "/api/v1/access-records?limit=200");
    let page = read.expect(200).json();
    let text = |row: &Value, name: &str| row[name].as_str().unwrap_or_default().to_string();
    let rows = page["items"].as_array().expect("a list").iter();
    rows.map(|row| (text(row, "what"), text(row, "about")))
        .collect()
}

#[test]
fn s6_each_reading_leaves_its_own_record() {
    let service = Service::stocked();
    let (manager, auditor) = (service.firm.manager.clone(), service.firm.auditor.clone());
    let administrator = service.firm.administrator.clone();
    let technician = service.firm.technician.clone();
    let cases: [(&Who, &str, &str, &str); 5] = [
        (&administrator, "/api/v1/people", "people_read", "everybody"),
        (
            &manager,
            "/api/v1/reports/appliance-year.csv?year=2026",
            "report",
            "appliance-year",
        ),
        (
            &manager,
            "/api/v1/reports/appliance-year.evidence.csv?year=2026",
            "report_evidence",
            "appliance-year",
        ),
        (
            &manager,
            "/api/v1/reports/appliance-year.csv-metadata.json?year=2026",
            "report_metadata",
            "appliance-year",
        ),
        (&auditor, "/api/v1/log/bundle", "bundle", ""),
    ];
    for (who, path, what, about) in cases {
        let count = |all: &[(String, String)]| {
            let own = all.iter().filter(|it| it.0 == what);
            own.filter(|it| it.1.contains(about)).count()
        };
        let before = count(&records(&service));
        service.get(who, path).expect(200);
        assert_eq!(count(&records(&service)), before + 1, "{path}");
    }
    // Colleagues are read by their names alone, and nobody notes that.
    let before = records(&service);
    service.get(&technician, "/api/v1/people").expect(200);
    assert_eq!(records(&service), before);
}
