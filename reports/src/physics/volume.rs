//! Volumes, densities, and the water capacity that is stamped on a cylinder.
//!
//! A collar says how much water fills the cylinder. One pound of water is taken as 27.737 cubic
//! inches (49 CFR, the text on cylinders for liquefied gases), one inch as 2.54 cm exactly; gallon
//! (231 cubic inches), cubic foot and pound are exact as well (NIST Special Publication 811).

// A water capacity is behind the stop of a fill.
#![deny(clippy::float_arithmetic)]

use super::exact;
use super::quantity::{Quantity, Unit};
use crate::mass::Mass;
use crate::number::Fraction;

/// A unit of volume.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum VolumeUnit {
    /// Litres, `L`.
    Litre,
    /// Gallons of the United States, `[gal_us]`.
    Gallon,
    /// Cubic feet, `[cft_i]`.
    CubicFoot,
    /// Cubic metres, `m3`.
    CubicMetre,
}

impl VolumeUnit {
    /// Exactly how many litres one of it is.
    pub fn litres(self) -> Fraction {
        match self {
            VolumeUnit::Litre => Fraction::new(1, 1),
            VolumeUnit::Gallon => Fraction::new(3_785_411_784, 1_000_000_000),
            VolumeUnit::CubicFoot => Fraction::new(28_316_846_592, 1_000_000_000),
            VolumeUnit::CubicMetre => Fraction::new(1_000, 1),
        }
    }
}

impl Unit for VolumeUnit {
    const QUANTITY: &'static str = "volume";

    fn all() -> Vec<VolumeUnit> {
        vec![
            VolumeUnit::Litre,
            VolumeUnit::Gallon,
            VolumeUnit::CubicFoot,
            VolumeUnit::CubicMetre,
        ]
    }

    fn code(self) -> &'static str {
        match self {
            VolumeUnit::Litre => "L",
            VolumeUnit::Gallon => "[gal_us]",
            VolumeUnit::CubicFoot => "[cft_i]",
            VolumeUnit::CubicMetre => "m3",
        }
    }

    fn from_code(code: &str) -> Option<VolumeUnit> {
        match code {
            "l" => Some(VolumeUnit::Litre),
            _ => VolumeUnit::all().into_iter().find(|u| u.code() == code),
        }
    }
}

/// A unit of density.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum DensityUnit {
    /// Kilograms per cubic metre, `kg/m3`.
    KilogramPerCubicMetre,
    /// Kilograms per litre, `kg/L`.
    KilogramPerLitre,
    /// Pounds per cubic foot, `[lb_av]/[cft_i]`.
    PoundPerCubicFoot,
}

impl DensityUnit {
    /// Exactly how many kilograms per cubic metre one of it is.
    pub fn kilogram_per_cubic_metre(self) -> Fraction {
        match self {
            DensityUnit::KilogramPerCubicMetre => Fraction::new(1, 1),
            DensityUnit::KilogramPerLitre => Fraction::new(1_000, 1),
            // 0.45359237 kg in 0.028316846592 m³.
            DensityUnit::PoundPerCubicFoot => Fraction::new(453_592_370_000, 28_316_846_592),
        }
    }
}

impl Unit for DensityUnit {
    const QUANTITY: &'static str = "density";

    fn all() -> Vec<DensityUnit> {
        vec![
            DensityUnit::KilogramPerCubicMetre,
            DensityUnit::KilogramPerLitre,
            DensityUnit::PoundPerCubicFoot,
        ]
    }

    fn code(self) -> &'static str {
        match self {
            DensityUnit::KilogramPerCubicMetre => "kg/m3",
            DensityUnit::KilogramPerLitre => "kg/L",
            DensityUnit::PoundPerCubicFoot => "[lb_av]/[cft_i]",
        }
    }

    fn from_code(code: &str) -> Option<DensityUnit> {
        DensityUnit::all().into_iter().find(|u| u.code() == code)
    }
}

/// How a water capacity is stamped: as a mass of water or as a volume.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum WaterUnit {
    /// Pounds of water, `[lb_av]`.
    Pound,
    /// Kilograms of water, `kg`.
    Kilogram,
    /// Litres, `L`.
    Litre,
}

impl Unit for WaterUnit {
    const QUANTITY: &'static str = "water capacity";

    fn all() -> Vec<WaterUnit> {
        vec![WaterUnit::Pound, WaterUnit::Kilogram, WaterUnit::Litre]
    }

    fn code(self) -> &'static str {
        match self {
            WaterUnit::Pound => "[lb_av]",
            WaterUnit::Kilogram => "kg",
            WaterUnit::Litre => "L",
        }
    }

    fn from_code(code: &str) -> Option<WaterUnit> {
        match code {
            "l" => Some(WaterUnit::Litre),
            _ => WaterUnit::all().into_iter().find(|u| u.code() == code),
        }
    }
}

/// The water capacity as it is stamped on the collar.
pub type WaterCapacity = Quantity<WaterUnit>;

/// Litres that one pound of water is taken to fill: 27.737 in³ × 16.387064 cm³/in³.
fn litres_per_pound() -> Fraction {
    Fraction::new(27_737 * 16_387_064, 1_000_000_000_000)
}

impl WaterCapacity {
    /// The inner volume in litres, exactly; `None` when it is not above zero or beyond 128 bits.
    pub fn litres(self) -> Option<Fraction> {
        let per_unit = match self.unit {
            WaterUnit::Litre => Fraction::new(1, 1),
            WaterUnit::Pound => litres_per_pound(),
            WaterUnit::Kilogram => exact::times(
                litres_per_pound(),
                Fraction::new(i128::from(1_000 * Mass::GRAM), i128::from(Mass::POUND)),
            )?,
        };
        positive(exact::times(self.value.fraction(), per_unit)?)
    }

    /// The mass of water it holds, in grams, exactly; `None` as for [`WaterCapacity::litres`].
    pub fn water_grams(self) -> Option<Fraction> {
        let pound = Fraction::new(i128::from(Mass::POUND), i128::from(Mass::GRAM));
        let per_unit = match self.unit {
            WaterUnit::Pound => pound,
            WaterUnit::Kilogram => Fraction::new(1_000, 1),
            WaterUnit::Litre => {
                let litres = litres_per_pound();
                exact::times(
                    pound,
                    Fraction::new(litres.denominator(), litres.numerator()),
                )?
            }
        };
        positive(exact::times(self.value.fraction(), per_unit)?)
    }
}

fn positive(value: Fraction) -> Option<Fraction> {
    (value > Fraction::new(0, 1)).then_some(value)
}
