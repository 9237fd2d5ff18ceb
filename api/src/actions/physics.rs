//! Physics as it is asked: what was typed, field by field, becomes a question to `reports::physics`.
//!
//! The interface, the tool page and the door for facts ask the same questions with the same names of
//! fields, so that one reader serves all three. Nothing here touches a book. What cannot be answered
//! is a [`Problem`](reports::physics::Problem) that names the field, what was expected, what came and
//! what to do.

mod content;
mod fill;
mod given;
mod pressure_test;
mod saturation;
mod vacuum_test;

pub use content::content_check;
pub use fill::{FillAnswer, content_named, fill_limit};
pub use given::Given;
pub use pressure_test::{pressure_test, read as read_pressure_test};
pub use saturation::{Saturation, saturation};
pub use vacuum_test::{read as read_vacuum_test, vacuum_test};

/// Fields of a question about saturation.
pub const SATURATION: &[&str] = &[
    "refrigerant",
    "temperature",
    "temperature_unit",
    "pressure",
    "pressure_unit",
    "unit",
    "gauge",
    "altitude",
    "altitude_unit",
    "barometer",
    "barometer_unit",
];
/// Fields of a question about a fill limit.
pub const FILL_LIMIT: &[&str] = &[
    "refrigerant",
    "not_excluded",
    "water_capacity",
    "water_capacity_unit",
    "water_capacity_confirmed",
    "tare",
    "tare_unit",
    "marking",
    "marking_unit",
    "shop_rules",
    "gross",
    "gross_unit",
    "adding",
    "adding_unit",
];
/// Fields of a content check.
pub const CONTENT_CHECK: &[&str] = &[
    "pressure",
    "pressure_unit",
    "gauge",
    "accuracy_percent",
    "full_scale",
    "full_scale_unit",
    "of_reading",
    "wall_temperature",
    "temperature_unit",
    "temperature_accuracy",
    "altitude",
    "altitude_unit",
    "barometer",
    "barometer_unit",
    "rested",
    "gross",
    "gross_unit",
    "tare",
    "tare_unit",
    "water_capacity",
    "water_capacity_unit",
];
/// Fields of a pressure test.
pub const PRESSURE_TEST: &[&str] = &[
    "start_pressure",
    "start_temperature",
    "end_pressure",
    "end_temperature",
    "pressure_unit",
    "temperature_unit",
    "pressure_accuracy",
    "temperature_accuracy",
    "resolution",
    "minutes",
    "design_pressure",
    "gauge",
    "altitude",
    "altitude_unit",
    "barometer",
    "barometer_unit",
    "criterion",
    "criterion_source",
    "criterion_minutes",
    "acceptance",
    "in_shade",
    "on_tested_part",
    "same_place",
    "settled_after_filling",
];
/// Fields of a vacuum test.
pub const VACUUM_TEST: &[&str] = &[
    "start_pressure",
    "middle_minute",
    "middle_pressure",
    "end_pressure",
    "pressure_unit",
    "minutes",
    "criterion",
    "volume",
    "volume_unit",
];
