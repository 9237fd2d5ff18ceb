//! Reports over HTTP are those of the command line, each with its description and its evidence; each
//! can be had for a spreadsheet.

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
            // Seen from the description the table lies where it was asked for (RFC 3986, 5.2).
            assert_eq!(metadata["url"], format!("{name}.csv?{query}"));
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

/// E19: a file for a spreadsheet is asked for apart, holds the same figures and says how its numbers
/// are written; two signs that cannot go together are refused.
#[test]
fn e19_a_spreadsheet_gets_a_file_of_its_own() {
    let (service, year) = stocked();
    let manager = service.firm.manager.clone();
    let of = |ending: &str, more: &str| {
        let address = format!("/api/v1/reports/appliance-year{ending}?year={year}&unit=kg{more}");
        service.get(&manager, &address)
    };
    let plain = of(".csv", "").expect(200);
    let plain_text = plain.text();
    assert!(!plain_text.starts_with('\u{feff}') && plain.header("link").is_some());
    let reply = of(".csv", "&for=spreadsheet&decimal=comma").expect(200);
    assert_eq!(
        reply.header("link"),
        None,
        "the description is of the other file"
    );
    let named = reply.header("content-disposition").expect("a name");
    assert!(
        named.contains(&format!("appliance-year-{year}.spreadsheet.csv")),
        "{named}"
    );
    let text = reply.text();
    let rows = text.strip_prefix('\u{feff}').expect("a byte-order mark");
    // 7 lb 10 oz = 122 x 28.349523125 g = 3.45864182125 kg (NIST SP 811 appendix B).
    assert!(rows.contains(";3,45864182125;") && plain_text.contains(",3.45864182125,"));
    let cells = |text: &str, end: u8| {
        let mut reader = csv::ReaderBuilder::new()
            .delimiter(end)
            .from_reader(text.as_bytes());
        let read = reader.records().map(|row| row.expect("a row").len());
        read.collect::<Vec<usize>>()
    };
    assert_eq!(cells(rows, b';'), cells(&plain_text, b','));
    let arguments = ["--unit", "kg", "--for", "spreadsheet", "--decimal", "comma"];
    assert_eq!(text, written(&service, "appliance-year", &year, &arguments));
}

/// A workbook over HTTP is that of the command line, byte for byte; nothing of a CSV is asked beside it.
#[test]
fn a_workbook_is_that_of_the_command_line() {
    let (service, year) = stocked();
    let manager = service.firm.manager.clone();
    let address = format!("/api/v1/reports/additions.xlsx?year={year}&unit=kg");
    let reply = service.get(&manager, &address).expect(200);
    // As IANA has the type registered; a workbook is a ZIP file (ISO/IEC 29500-2), which begins so.
    let media = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";
    assert_eq!(reply.header("content-type"), Some(media));
    assert!(reply.body.starts_with(b"PK\x03\x04"));
    let named = reply.header("content-disposition").expect("a name");
    assert!(named.contains(&format!("additions-{year}.xlsx")), "{named}");
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("of-the-command.XLSX");
    let out = path.to_str().expect("a path");
    let printed = written(
        &service,
        "additions",
        &year,
        &["--unit", "kg", "--out", out],
    );
    assert_eq!(printed, "", "the workbook goes to its file");
    let file = std::fs::read(&path).expect("the workbook");
    assert!(file == reply.body, "other bytes over HTTP");
    let beside = std::fs::read_dir(folder.path())
        .expect("the folder")
        .count();
    assert_eq!(beside, 1, "nothing stands beside it");
    let refused = service.get(&manager, &format!("{address}&for=spreadsheet"));
    refused.expect_problem(422, "unknown-field");
    let pounds = service
        .get(&manager, &address.replace("kg", "lb"))
        .expect(200);
    assert!(pounds.body != reply.body, "the unit is none of its bytes");
    let records = service.get(&manager, "/api/v1/access-records").expect(200);
    assert!(records.text().contains("\"report_workbook\""));
}

/// What cannot go together is refused, and a description says what it describes.
#[test]
fn e19_separators_signs_and_names_are_told_apart() {
    let (service, year) = stocked();
    let manager = service.firm.manager.clone();
    let of = |ending: &str, more: &str| {
        let address = format!("/api/v1/reports/appliance-year{ending}?year={year}&unit=kg{more}");
        service.get(&manager, &address)
    };
    let evidence = of(".evidence.csv", "&for=spreadsheet&separator=semicolon").expect(200);
    assert!(
        evidence
            .text()
            .starts_with("\u{feff}row;appliance;figure;entry;contribution\r\n")
    );
    for (more, pointer) in [
        (
            "&for=spreadsheet&separator=comma&decimal=comma",
            "?separator",
        ),
        ("&decimal=comma", "?decimal"),
        ("&separator=semicolon", "?separator"),
        ("&for=people", "?for"),
        ("&for=spreadsheet&separator=tab", "?separator"),
    ] {
        let problem = of(".csv", more).expect(422).json();
        assert_eq!(
            problem["errors"][0]["pointer"], pointer,
            "{more}: {problem}"
        );
    }
    of(".csv-metadata.json", "&for=spreadsheet").expect(422);
    let described = of(".csv-metadata.json", "&describes=file").expect(200);
    let named = described
        .header("content-disposition")
        .expect("a name")
        .to_string();
    let url = described.json()["url"]
        .as_str()
        .expect("a name")
        .to_string();
    assert_eq!(url, format!("appliance-year-{year}.csv"));
    // CSV on the Web, section 5.3: the description of a file is looked for under its name.
    assert!(named.contains(&format!("{url}-metadata.json")), "{named}");
}

/// Files that were handed in stay: a report is written beside what is there or not at all.
#[test]
fn a_report_writes_over_nothing() {
    let (service, year) = stocked();
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("handed in.csv");
    let shown = file.to_str().expect("UTF-8").to_string();
    let files = || {
        let entries = std::fs::read_dir(folder.path()).expect("a folder");
        let names = entries.map(|entry| entry.expect("a file").file_name());
        let mut names: Vec<String> = names.map(|name| name.to_string_lossy().into()).collect();
        names.sort();
        names
    };
    let run = |more: &[&str]| {
        Command::new(harness::service::program())
            .args(["report", "additions", "--year", &year, "--out", &shown])
            .args(["--organisation", &service.firm.of.name])
            .args(more)
            .args(service.database.arguments())
            .output()
            .expect("the program runs")
    };
    // A report that fails leaves nothing behind.
    let output = run(&["--as-of", "999999"]);
    assert_eq!(output.status.code(), Some(1));
    assert_eq!(files(), [""; 0]);
    assert_eq!(run(&["--quiet"]).status.code(), Some(0));
    let three = [
        "handed in.csv",
        "handed in.csv-metadata.json",
        "handed in.evidence.csv",
    ];
    assert_eq!(files(), three);
    let metadata = folder.path().join(three[1]);
    let metadata = std::fs::read_to_string(metadata).expect("a description");
    assert!(
        metadata.contains("\"url\": \"handed%20in.csv\""),
        "{metadata}"
    );
    std::fs::write(&file, "signed").expect("a file");
    let output = run(&["--quiet"]);
    assert_eq!(output.status.code(), Some(1));
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(said.contains("not to be there yet, came a file"), "{said}");
    assert_eq!(std::fs::read_to_string(&file).expect("the file"), "signed");
    assert_eq!(files(), three);
}
