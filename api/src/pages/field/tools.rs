//! Saturation and the pressure test for the machine room: worked out on the phone from a table that
//! it keeps. Without script the forms of `/tools` do the same with signal.

use super::{FieldFrame, page};
use crate::http::Problem;
use crate::pages::cautions;
use crate::pages::way::Visit;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;
use reports::physics::{
    PRESSURE_TEST_CAUTION, SATURATION_BYTES, SATURATION_CAUTION, SaturationTable,
};

/// The page.
#[derive(Clone, Debug, Default, Template)]
#[template(path = "field/tools.html")]
pub struct ToolsPage {
    /// Around the page.
    pub field: FieldFrame,
}

/// `GET /field/tools`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let shown = ToolsPage {
        field: FieldFrame::of(&visit)?,
    };
    Ok(page(StatusCode::OK, &shown))
}

/// The pressures of the shipped table as JSON, digit for digit: by refrigerant the first temperature
/// in degrees Celsius and the pressures every five degrees; a single substance has one pressure.
pub fn table() -> String {
    let text = String::from_utf8_lossy(SATURATION_BYTES);
    let rows: Vec<Vec<&str>> = text.lines().map(|line| line.split(',').collect()).collect();
    let fluids = SaturationTable::shipped().fluids().map(|fluid| {
        let own = rows.iter().filter(|row| row[0] == fluid.designation);
        let own: Vec<&Vec<&str>> = own.collect();
        let column = |at: usize| own.iter().map(|row| row[at]).collect::<Vec<&str>>();
        let (from, bubble, dew) = (column(1)[0], column(2).join(","), column(3).join(","));
        let dew = match dew == bubble {
            true => String::new(),
            false => format!(",\"dew\":[{dew}]"),
        };
        let doubt = fluid.model_doubt_percent;
        let name = serde_json::json!(fluid.designation);
        format!("{name}:{{\"doubt\":{doubt},\"from\":{from},\"bubble\":[{bubble}]{dew}}}")
    });
    format!("{{{}}}", fluids.collect::<Vec<String>>().join(","))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The phone counts in steps of five degrees from the first temperature; so does the table.
    #[test]
    fn the_table_of_the_phone_is_the_shipped_one() {
        let table: serde_json::Value = serde_json::from_str(&table()).expect("JSON");
        let text = String::from_utf8_lossy(SATURATION_BYTES);
        let mut rows = 0;
        for line in text.lines().filter(|line| line.starts_with("R-")) {
            let cells: Vec<&str> = line.split(',').collect();
            let fluid = &table[cells[0]];
            let from = fluid["from"].as_i64().expect("a whole temperature");
            let cel: i64 = cells[1].parse().expect("a whole temperature");
            assert_eq!((cel - from) % 5, 0, "{line}");
            let at = usize::try_from((cel - from) / 5).expect("not before the first");
            let bubble = &fluid["bubble"][at];
            let dew = fluid.get("dew").map_or(bubble, |dew| &dew[at]);
            assert_eq!(bubble.as_f64(), cells[2].parse().ok(), "{line}");
            assert_eq!(dew.as_f64(), cells[3].parse().ok(), "{line}");
            rows += 1;
        }
        assert!(rows > 1_000, "{rows} rows");
    }

    #[test]
    fn both_tools_carry_their_cautions() {
        let html = ToolsPage::default().render().expect("a page");
        for part in [
            "Not for safety-critical settings",
            "never oxygen",
            "Follow local codes",
        ] {
            assert!(html.contains(part), "{part}");
        }
    }
}
