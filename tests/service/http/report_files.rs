//! Reports over HTTP are those of the command line, each with its description and its evidence.

use harness::service::{Reply, Service, charge};
use std::process::Command;

/// The years of the book, and what was booked first.
fn stocked() -> (Service, String) {
    let service = Service::stocked();
    service.booked(&service.firm.technician, charge("7 lb 10 oz"));
    let first = service
        .get(&service.firm.manager, "/api/v1/entries/0")
        .expect(200)
        .json();
    let year = first["booked_at"].as_str().expect("a moment")[..4].to_string();
    (service, year)
}

/// What the command line writes.
fn written(service: &Service, name: &str, year: &str, more: &[&str]) -> String {
    let output = Command::new(harness::service::program())
        .args(["report", name, "--organisation", &service.firm.of.name])
        .args(["--year", year, "--quiet"])
        .args(more)
        .args(service.database.arguments())
        .output()
        .expect("the program runs");
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{said}");
    String::from_utf8_lossy(&output.stdout).into_owned()
}

/// The report over HTTP is the report of the command line, byte for byte.
#[test]
fn reports_are_those_of_the_command_line() {
    let (service, year) = stocked();
    let manager = service.firm.manager.clone();
    for name in ["appliance-year", "additions"] {
        for unit in ["lb", "kg"] {
            let query = format!("year={year}&unit={unit}");
            let reply = service.get(&manager, &format!("/api/v1/reports/{name}.csv?{query}"));
            let reply: Reply = reply.expect(200);
            let expected = written(&service, name, &year, &["--unit", unit]);
            assert_eq!(reply.text(), expected, "{name} in {unit}");
            assert!(reply.text().contains("HG-RACK-A"));
            let media = reply.header("content-type");
            assert_eq!(media, Some("text/csv; charset=utf-8; header=present"));
            let link = reply.header("link").expect("a description");
            let described = link.split(['<', '>']).nth(1).expect("an address");
            let metadata = service.get(&manager, described).expect(200).json();
            assert!(metadata.is_object());
            let evidence = format!("/api/v1/reports/{name}.evidence.csv?{query}");
            let evidence = service.get(&manager, &evidence).expect(200);
            assert!(evidence.text().contains("HG-RACK-A"));
        }
    }
    let records = service
        .get(&manager, "/api/v1/access-records")
        .expect(200)
        .text();
    let recorded = records.contains("\"report\"") && records.contains("additions");
    assert!(recorded, "{records}");
}

/// The reports of duties and sums; the description names the columns of the table.
#[test]
fn the_reports_of_duties_and_sums_have_three_files_each() {
    let (service, year) = stocked();
    let manager = service.firm.manager.clone();
    for name in [
        "follow-ups",
        "inspections-due",
        "yearly-loss",
        "disposals-by-month",
        "releases",
        "yearly-co2e",
        "mass-balance",
    ] {
        let address = |ending: &str| format!("/api/v1/reports/{name}{ending}?year={year}");
        let file = |ending: &str| service.get(&manager, &address(ending)).expect(200);
        let table = file(".csv").text();
        assert_eq!(table, written(&service, name, &year, &[]), "{name}");
        let metadata = file(".csv-metadata.json").json();
        let columns = metadata["tableSchema"]["columns"]
            .as_array()
            .expect("columns");
        let names = columns.iter().filter_map(|column| column["name"].as_str());
        let names: Vec<&str> = names.collect();
        assert_eq!(
            table.lines().next(),
            Some(names.join(",").as_str()),
            "{name}"
        );
        let evidence = file(".evidence.csv").text();
        assert!(evidence.starts_with("row,appliance,figure,entry,contribution\r\n"));
    }
}
