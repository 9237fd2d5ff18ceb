//! Nitrogen in a fixed volume: what its pressure becomes when its temperature changes.
//!
//! p = ρ R T (1 + B ρ + C ρ² + D ρ³) with ρ in mol/m³, R = 8.31446261815324 J/(mol K); the
//! coefficients were fitted by `data/physics/fit_nitrogen.py` to the nitrogen of CoolProp 8.0.0 from 243
//! to 339 K. Against it a test errs by 0.0008 psi at 150 psig, 0.008 at 500 and 0.014 at 600 (0 to
//! 130 °F); the ideal gas by up to 13 psi.

/// Lowest and highest temperature of the fit in kelvin.
pub const NITROGEN_KELVIN: (f64, f64) = (243.0, 338.15);

/// Highest absolute pressure the fit was compared at, a little more than 600 psig, in kilopascal.
pub const NITROGEN_MOST_KPA: f64 = 4_300.0;

const GAS_CONSTANT: f64 = 8.314_462_618_153_24;

/// A fixed amount of nitrogen in a fixed volume.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Nitrogen {
    mol_per_m3: f64,
}

impl Nitrogen {
    /// The amount that has an absolute pressure in kilopascal at a temperature in kelvin.
    pub fn filled_to(kpa: f64, kelvin: f64) -> Nitrogen {
        let pascal = kpa * 1_000.0;
        let ideal = pascal / (GAS_CONSTANT * kelvin);
        let mut mol_per_m3 = ideal;
        // Each turn gains three digits at the pressures this is made for.
        for _ in 0..12 {
            mol_per_m3 = ideal / compressibility(mol_per_m3, kelvin);
        }
        Nitrogen { mol_per_m3 }
    }

    /// Its absolute pressure in kilopascal at another temperature.
    pub fn kpa_at(self, kelvin: f64) -> f64 {
        let ideal = self.mol_per_m3 * GAS_CONSTANT * kelvin;
        ideal * compressibility(self.mol_per_m3, kelvin) / 1_000.0
    }
}

/// p2 = p1 T2 / T1, absolute pressures and kelvin: what a chart of the trade would say.
pub fn ideal_kpa(kpa: f64, from_kelvin: f64, to_kelvin: f64) -> f64 {
    kpa * to_kelvin / from_kelvin
}

/// B in m³/mol: its terms with 1, 1/T, 1/T² and 1/T³.
const SECOND: [f64; 4] = [4.073_089e-5, -0.009_191_019, -1.528_102, 64.210_88];
/// C in m⁶/mol²: its terms with 1 and 1/T.
const THIRD: [f64; 2] = [6.586_291e-10, 2.047_481e-7];
/// D in m⁹/mol³.
const FOURTH: f64 = 3.222_302e-14;

fn compressibility(rho: f64, kelvin: f64) -> f64 {
    let [b0, b1, b2, b3] = SECOND;
    let second = b0 + (b1 + (b2 + b3 / kelvin) / kelvin) / kelvin;
    let third = THIRD[0] + THIRD[1] / kelvin;
    1.0 + rho * (second + rho * (third + rho * FOURTH))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_amount_gives_its_own_pressure_back() {
        for (kpa, kelvin) in [
            (101.0, 300.0),
            (1_135.5, 294.0),
            (4_238.0, 250.0),
            (4_238.0, 335.0),
        ] {
            let gas = Nitrogen::filled_to(kpa, kelvin);
            assert!(
                (gas.kpa_at(kelvin) / kpa - 1.0).abs() < 1e-13,
                "{kpa} {kelvin}"
            );
        }
    }
}
