//! Saturation for other programs: answers the temperatures of standard input, one line each.
//!
//! A line is `R-410A,20`, a designation and degrees Celsius; the answer is the same with bubble and
//! dew pressure in kPa and the densities of liquid and vapour in kg/m³, or `refused` and why. Another
//! file with the same columns as the shipped table can be named as the only argument, in its place.
//! The comparison with CoolProp in `tests/independent/physics.sh` asks this program.

use reports::physics::{FLUIDS_BYTES, SATURATION_BYTES, SaturationTable, Temperature, saturation};
use std::io::{BufRead, Write};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let bytes = match std::env::args().nth(1) {
        Some(path) => std::fs::read(path)?,
        None => SATURATION_BYTES.to_vec(),
    };
    let table = SaturationTable::read(&bytes, FLUIDS_BYTES)?;
    let mut out = std::io::stdout().lock();
    for line in std::io::stdin().lock().lines() {
        let line = line?;
        let (refrigerant, celsius) = line.split_once(',').ok_or("a line is `R-410A,20`")?;
        let answer = Temperature::read("temperature", celsius, "Cel")
            .and_then(|temperature| saturation(&table, refrigerant, temperature));
        match answer {
            Ok(answer) => {
                let it = answer.saturated;
                let (liquid, vapour) = (it.liquid_density_kg_m3, it.vapour_density_kg_m3);
                let densities = liquid.zip(vapour).ok_or("the table has no densities")?;
                let (bubble, dew) = (it.bubble_kpa, it.dew_kpa);
                writeln!(out, "{line},{bubble},{dew},{},{}", densities.0, densities.1)?;
            }
            Err(problem) => writeln!(out, "{line},refused,{problem}")?,
        }
    }
    Ok(())
}
