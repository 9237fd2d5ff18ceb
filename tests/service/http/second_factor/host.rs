//! A second factor seen to by whoever keeps the host.

use super::*;
use harness::people::arguments_of_service;
use harness::service::program;
use std::process::Command;

/// On the day on which no administrator can sign in, whoever keeps the host resets a factor, beside
/// the running service; it is recorded as done on the host.
#[test]
fn a_lost_factor_is_reset_on_the_host() {
    let service = Service::stocked();
    let held = set_up(&service, EMAIL, PASSWORD);
    let reset = || {
        let mut command = Command::new(program());
        command.args(["user", "reset-factor", EMAIL]);
        command.args(arguments_of_service(&service.database));
        command.args(["--organisation", "Tamarack Ridge Mechanical"]);
        command.output().expect("it runs")
    };
    let done = reset();
    let said = String::from_utf8_lossy(&done.stderr).into_owned();
    assert!(done.status.success(), "{said}");
    assert!(said.contains("may sign in."), "{said}");
    service
        .get(&held.who, "/api/v1/sessions/current")
        .expect_problem(401, "not-signed-in");
    password(&service, EMAIL, PASSWORD).expect(201);
    let records = service.get(&service.firm.manager, "/api/v1/access-records");
    let records = records.expect(200).json();
    let records = records["items"].as_array().expect("records").clone();
    let record = records.iter().find(|it| it["what"] == "factor_reset");
    assert_eq!(record.expect("a record")["source"], "host");
    let again = reset();
    assert!(!again.status.success(), "nothing is left to be reset");
}
