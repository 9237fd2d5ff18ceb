//! Bodies of what is measured at a unit or a cylinder, for tests to change.
//!
//! The numbers are those of tables that were worked out elsewhere: nitrogen at 150 psig cooling from 70
//! to 60 degF should show 146.805 psig (constant density, CoolProp 8.0.0); R-410A rests at 195.3 psig
//! at 20 degC (CoolProp 8.0.0).

use serde_json::{Value, json};

/// A pressure test that passes: 0.3 psi less than expected, with instruments that see 0.95 psi.
pub fn pressure_test() -> Value {
    json!({"stage": "initial", "start_pressure": "150", "end_pressure": "146.5",
           "pressure_unit": "psig", "start_temperature": "70", "end_temperature": "60",
           "temperature_unit": "[degF]", "pressure_accuracy": "0.5", "temperature_accuracy": "1",
           "design_pressure": "450", "minutes": "60", "criterion_minutes": "60",
           "gauge": "vented", "altitude": "0", "altitude_unit": "m"})
}

/// A vacuum test that holds below 500 micron for 20 minutes.
pub fn vacuum_test() -> Value {
    json!({"start_pressure": "320", "middle_minute": "10", "middle_pressure": "400",
           "end_pressure": "420", "pressure_unit": "um[Hg]", "minutes": "20",
           "criterion": "END_500_20"})
}

/// A rack that runs in cooling.
pub fn run_check() -> Value {
    json!({"mode": "cooling", "high_pressure": "250", "low_pressure": "60",
           "pressure_unit": "psig", "gauge": "vented", "altitude": "5280",
           "altitude_unit": "[ft_i]"})
}

/// A gauge reading of R-410A at 20 degC, or of what reads like it.
pub fn observation() -> Value {
    json!({"pressure": "195.3", "pressure_unit": "psig", "gauge": "vented", "altitude": "0",
           "altitude_unit": "m", "accuracy_percent": "1", "full_scale": "800",
           "wall_temperature": "68", "temperature_unit": "[degF]", "rested": "yes",
           "gross": "60 lb"})
}
