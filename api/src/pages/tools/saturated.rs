//! What the tool for saturation says: both pressures as the gauge of the question shows them, or both
//! temperatures, with how far the numbers are to be doubted.

use super::{Said, cautions};
use crate::actions::physics::{self, Given, Saturation};
use reports::physics::{GaugeKind, LocalAir, PressureUnit, fahrenheit_of};

/// Answers the form: pressures at a temperature, or temperatures at a pressure.
pub(super) fn say(given: &Given) -> Result<Said, reports::physics::Problem> {
    let mut said = Said::default();
    let (name, doubt, source) = match physics::saturation(given)? {
        Saturation::Pressures(answer) => {
            let values = answer.saturated;
            said.figures = vec![
                ("Bubble, over resting liquid", kpa(values.bubble_kpa, given)),
                ("Dew, in a vapour line", kpa(values.dew_kpa, given)),
            ];
            let density = |value: f64| format!("{value:.1} kg/m³");
            let liquid = values.liquid_density_kg_m3.map(density);
            let vapour = values.vapour_density_kg_m3.map(density);
            said.figures
                .extend(liquid.map(|text| ("Density of the liquid", text)));
            said.figures
                .extend(vapour.map(|text| ("Density of the vapour", text)));
            said.answer = Some(format!(
                "{} at {}",
                answer.refrigerant,
                degrees(answer.temperature_cel)
            ));
            (
                answer.refrigerant,
                values.model_doubt_percent,
                answer.source,
            )
        }
        Saturation::Temperatures(answer) => {
            said.figures = vec![
                (
                    "Bubble, liquid line or resting cylinder",
                    degrees(answer.bubble_cel),
                ),
                ("Dew, suction line", degrees(answer.dew_cel)),
            ];
            said.answer = Some(format!(
                "{} at {}",
                answer.refrigerant,
                kpa(answer.pressure_kpa, given)
            ));
            (
                answer.refrigerant,
                answer.model_doubt_percent,
                answer.source,
            )
        }
    };
    said.figures
        .push(("To be doubted by", format!("{doubt} % of the pressure")));
    said.source = source;
    said.cautions.extend(cautions::of_class(&name));
    Ok(said)
}

/// A pressure by vacuum and as the gauge of the question shows it; where none was named, one that is
/// set to sea level.
fn kpa(kpa: f64, given: &Given) -> String {
    let at_sea_level = (GaugeKind::Sealed, LocalAir::SEA_LEVEL);
    let (gauge, air) = (given.gauge_and_air(PressureUnit::PSIG)).unwrap_or(at_sea_level);
    let psi = PressureUnit::PSIG.from_absolute_kpa(kpa, gauge, air);
    let which = match gauge {
        GaugeKind::Sealed => "set to sea level",
        GaugeKind::Vented => "open to the air there",
    };
    format!("{kpa:.1} kPa absolute, {psi:.1} psi on a gauge {which}")
}

fn degrees(celsius: f64) -> String {
    format!("{celsius:.1} °C = {:.1} °F", fahrenheit_of(celsius))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// One atmosphere is 101.325 kPa (CGPM 1954), 14.696 psi (6.894 757 kPa each): nothing on a gauge
    /// set to sea level. -40 degrees are the same on both scales, water boils at 212 °F.
    #[test]
    fn figures_stand_as_the_instrument_shows_them() {
        let nothing = Given::of(std::iter::empty(), &[]).expect("no field");
        let text = kpa(101.325, &nothing);
        assert_eq!(
            text,
            "101.3 kPa absolute, 0.0 psi on a gauge set to sea level"
        );
        let text = kpa(925.4, &nothing);
        assert!(text.contains("119.5 psi on a gauge"), "{text}");
        assert_eq!(degrees(-40.0), "-40.0 °C = -40.0 °F");
        assert_eq!(degrees(100.0), "100.0 °C = 212.0 °F");
    }
}
