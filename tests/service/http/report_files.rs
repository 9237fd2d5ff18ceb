//! Reports over HTTP are those of the command line, each with its description and its evidence.

use harness::service::{Reply, Service, charge};
use std::process::Command;

/// The report over HTTP is the report of the command line, byte for byte.
#[test]
fn reports_are_those_of_the_command_line() {
    let service = Service::stocked();
    let manager = service.firm.manager.clone();
    service.booked(&service.firm.technician, charge("7 lb 10 oz"));
    let booked_at = service
        .get(&manager, "/api/v1/entries/0")
        .expect(200)
        .json()["booked_at"]
        .as_str()
        .expect("a moment")[..4]
        .to_string();
    for name in ["appliance-year", "additions"] {
        for unit in ["lb", "kg"] {
            let query = format!("year={booked_at}&unit={unit}");
            let reply = service.get(&manager, &format!("/api/v1/reports/{name}.csv?{query}"));
            let reply: Reply = reply.expect(200);
            let output = Command::new(harness::service::program())
                .args(["report", name, "--organisation", &service.firm.of.name])
                .args(["--year", &booked_at, "--unit", unit, "--quiet"])
                .args(service.database.arguments())
                .output()
                .expect("the program runs");
            assert!(
                output.status.success(),
                "{}",
                String::from_utf8_lossy(&output.stderr)
            );
            assert_eq!(
                reply.text(),
                String::from_utf8_lossy(&output.stdout),
                "{name} in {unit}"
            );
            assert!(reply.text().contains("HG-RACK-A"));
            let media = reply.header("content-type");
            assert_eq!(media, Some("text/csv; charset=utf-8; header=present"));
            let link = reply.header("link").expect("a description");
            let described = link.split(['<', '>']).nth(1).expect("an address");
            let metadata = service.get(&manager, described).expect(200).json();
            assert!(metadata.is_object());
            let evidence = format!("/api/v1/reports/{name}.evidence.csv?{query}");
            assert!(
                service
                    .get(&manager, &evidence)
                    .expect(200)
                    .text()
                    .contains("HG-RACK-A")
            );
        }
    }
    for name in [
        "follow-ups",
        "inspections-due",
        "yearly-loss",
        "disposals-by-month",
        "releases",
        "yearly-co2e",
    ] {
        let address = |ending: &str| format!("/api/v1/reports/{name}{ending}?year={booked_at}");
        let table = service.get(&manager, &address(".csv")).expect(200).text();
        let output = Command::new(harness::service::program())
            .args(["report", name, "--organisation", &service.firm.of.name])
            .args(["--year", &booked_at, "--quiet"])
            .args(service.database.arguments())
            .output()
            .expect("the program runs");
        assert_eq!(table, String::from_utf8_lossy(&output.stdout), "{name}");
        let metadata = service
            .get(&manager, &address(".csv-metadata.json"))
            .expect(200)
            .json();
        let named = metadata["tableSchema"]["columns"]
            .as_array()
            .expect("columns")
            .iter();
        let named: Vec<&str> = named.filter_map(|column| column["name"].as_str()).collect();
        assert_eq!(
            table.lines().next(),
            Some(named.join(",").as_str()),
            "{name}"
        );
        let evidence = service
            .get(&manager, &address(".evidence.csv"))
            .expect(200)
            .text();
        assert!(evidence.starts_with("row,appliance,figure,entry,contribution\r\n"));
    }
    let records = service
        .get(&manager, "/api/v1/access-records")
        .expect(200)
        .text();
    assert!(
        records.contains("\"report\"") && records.contains("additions"),
        "{records}"
    );
}
