//! One refrigerant against one reading: how far apart, and what that can mean.

use super::inputs::Numbers;
use crate::physics::fluid::{Fluid, Saturated};
use crate::refrigerant;
use serde::Serialize;

/// Why a refrigerant is listed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Why {
    /// Its saturation pressure is near the reading.
    Pressure,
    /// There may be vapour alone, whose pressure can be anything up to saturation.
    LiquidNotProven,
    /// The cylinder may be full of its liquid, whose pressure can be anything above saturation.
    LiquidFull,
}

/// A refrigerant that fits the reading or is not excluded by it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Candidate {
    /// Its designation.
    pub refrigerant: String,
    /// Its pressure over resting liquid at this temperature, absolute, in kilopascal.
    pub bubble_kpa: f64,
    /// Its dew pressure at this temperature, absolute, in kilopascal.
    pub dew_kpa: f64,
    /// How far the reading is above the bubble or below (negative) the dew pressure; 0 in between.
    pub difference_kpa: f64,
    /// The same in pounds per square inch.
    pub difference_psi: f64,
    /// The same in units of its error: the gauge's, the temperature's and the model's together.
    pub difference_in_errors: f64,
    /// Why it is listed.
    pub why: Why,
    /// How far the model is to be doubted, in percent of the pressure.
    pub model_doubt_percent: f64,
    /// Whose table it was compared with, where that is a manufacturer's and not a shipped one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub makers_table: Option<String>,
    /// Whether the net mass is above the fill limit of this refrigerant.
    pub over_fill_limit: bool,
    /// Its safety group (ASHRAE Standard 34); absent where it is not known for certain.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub safety_group: Option<&'static str>,
    /// Whether it can burn; absent where that is not known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub flammable: Option<bool>,
    /// Whether it is of the higher toxicity; absent where that is not known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub toxic: Option<bool>,
}

/// A refrigerant whose pressure says nothing at this temperature.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct NotJudged {
    /// Its designation.
    pub refrigerant: String,
    /// Why.
    pub why: String,
}

/// One refrigerant against the reading, before it is known whether it is listed.
#[derive(Clone, Copy, Debug)]
pub struct Compared<'a> {
    pub fluid: &'a Fluid,
    pub saturated: Saturated,
    /// Kilopascal per kelvin at the bubble point.
    pub slope: f64,
    pub difference_kpa: f64,
    /// In units of its error; not negative.
    pub distance: f64,
}

/// Liquid is pressed together by less than this for the pressures a cylinder stands; more of it than
/// that does not go in.
const MOST_COMPRESSION: f64 = 1.1;

/// How far a reading is from a refrigerant; `None` where its table does not hold the temperature.
///
/// U = U_gauge + |dp/dT| U_T + m p, added for the worst case.
pub fn compare<'a>(fluid: &'a Fluid, numbers: &Numbers) -> Option<Compared<'a>> {
    let saturated = fluid.at_kelvin(numbers.kelvin).ok()?;
    let slope = fluid.bubble_slope(numbers.kelvin).ok()?;
    let model = saturated.model_doubt_percent / 100.0 * saturated.bubble_kpa;
    let error = numbers.gauge_error + slope.abs() * numbers.degrees + model;
    // An azeotrope's two pressures can be a hair apart the wrong way round.
    let low = saturated.dew_kpa.min(saturated.bubble_kpa);
    let high = saturated.bubble_kpa.max(saturated.dew_kpa);
    let difference_kpa = if numbers.kpa > high {
        numbers.kpa - high
    } else if numbers.kpa < low {
        numbers.kpa - low
    } else {
        0.0
    };
    Some(Compared {
        fluid,
        saturated,
        slope,
        difference_kpa,
        distance: difference_kpa.abs() / error,
    })
}

impl Compared<'_> {
    /// Why it is listed; `None` where the reading excludes it.
    pub fn why(&self, numbers: &Numbers) -> Option<Why> {
        if self.distance <= 2.0 {
            return Some(Why::Pressure);
        }
        if self.difference_kpa < 0.0 {
            return (!self.liquid_is_proven(numbers)).then_some(Why::LiquidNotProven);
        }
        let full = self.saturated.liquid_density_kg_m3;
        let is_full = full.zip(numbers.weighed).is_some_and(|(full, weighed)| {
            (full..=full * MOST_COMPRESSION).contains(&weighed.kg_m3)
        });
        is_full.then_some(Why::LiquidFull)
    }

    /// Whether so much mass cannot all be vapour.
    pub fn liquid_is_proven(&self, numbers: &Numbers) -> bool {
        let vapour = self.saturated.vapour_density_kg_m3;
        let both = vapour.zip(numbers.weighed);
        both.is_some_and(|(vapour, weighed)| weighed.kg_m3 > vapour)
    }

    /// For the list.
    pub fn candidate(&self, why: Why, over_fill_limit: bool) -> Candidate {
        let row = refrigerant::Table::shipped().named(&self.fluid.designation);
        Candidate {
            refrigerant: self.fluid.designation.clone(),
            bubble_kpa: self.saturated.bubble_kpa,
            dew_kpa: self.saturated.dew_kpa,
            difference_kpa: self.difference_kpa,
            difference_psi: self.difference_kpa / crate::physics::PressureUnit::PSI.kilopascal(),
            difference_in_errors: self.distance,
            why,
            model_doubt_percent: self.saturated.model_doubt_percent,
            makers_table: self.fluid.is_makers.then(|| self.fluid.source.clone()),
            over_fill_limit,
            safety_group: row
                .and_then(|row| row.safety.group)
                .map(|group| group.word()),
            flammable: row.and_then(refrigerant::Refrigerant::is_flammable),
            toxic: row.and_then(refrigerant::Refrigerant::is_toxic),
        }
    }
}
