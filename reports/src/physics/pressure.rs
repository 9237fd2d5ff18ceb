//! Pressures in what gauges show, and absolute in kilopascal for the formulas.
//!
//! A gauge reads against the air around it (or, sealed, against the air at sea level); a vacuum gauge
//! and a formula read against nothing. Both look alike on paper, so the code of the unit says which:
//! `[psi]` is absolute, `psig` or `[psi]{gauge}` is not. Factors are exact (NIST Special Publication
//! 811, appendix B): 1 psi is 0.45359237 kg × 9.80665 m/s² on (0.0254 m)²; 1 micron of a vacuum
//! gauge is 0.001 torr = 101.325 / 760 Pa; the inch of mercury is the conventional one.

use super::air::{GaugeKind, LocalAir, STANDARD_AIR_KPA};
use super::exact;
use super::problem::{Problem, ProblemCode};
use super::quantity::{Quantity, Unit};
use crate::number::Fraction;

/// A pressure as it was typed.
pub type Pressure = Quantity<PressureUnit>;

/// What a pressure is counted from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Against {
    /// Nothing: an absolute pressure.
    Vacuum,
    /// The air: what a gauge shows.
    Air,
}

/// A unit of pressure and what it is counted from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct PressureUnit {
    size: Size,
    /// What it is counted from.
    pub against: Against,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
enum Size {
    Pascal,
    Hectopascal,
    Kilopascal,
    Megapascal,
    Bar,
    Millibar,
    Psi,
    Atmosphere,
    KilogramForce,
    Torr,
    InchMercury,
    Micron,
}

/// Size, absolute code, gauge code, words of the trade for the one and the other.
type Row = (
    Size,
    &'static str,
    &'static str,
    &'static [&'static str],
    &'static [&'static str],
);

/// Microns and torr are read by vacuum gauges alone, which are absolute.
#[rustfmt::skip]
const ROWS: [Row; 12] = [
    (Size::Psi, "[psi]", "psig", &["psia", "psi"], &["[psi]{gauge}"]),
    (Size::Kilopascal, "kPa", "kPa{gauge}", &["kPa{abs}"], &["kPag"]),
    (Size::Bar, "bar", "bar{gauge}", &["bara"], &["barg"]),
    (Size::Megapascal, "MPa", "MPa{gauge}", &[], &["MPag"]),
    (Size::Hectopascal, "hPa", "hPa{gauge}", &[], &[]),
    (Size::Millibar, "mbar", "mbar{gauge}", &[], &[]),
    (Size::Pascal, "Pa", "Pa{gauge}", &[], &[]),
    (Size::Atmosphere, "atm", "atm{gauge}", &[], &[]),
    (Size::KilogramForce, "kgf/cm2", "kgf/cm2{gauge}", &["att"], &[]),
    (Size::InchMercury, "[in_i'Hg]", "[in_i'Hg]{gauge}", &["inHg"], &[]),
    (Size::Torr, "mm[Hg]", "", &["torr"], &[]),
    (Size::Micron, "um[Hg]", "", &["micron", "microns"], &[]),
];

impl PressureUnit {
    /// Kilopascal, absolute.
    pub const KPA: PressureUnit = PressureUnit::of(Size::Kilopascal, Against::Vacuum);
    /// Bar, absolute.
    pub const BAR: PressureUnit = PressureUnit::of(Size::Bar, Against::Vacuum);
    /// Pounds per square inch, absolute.
    pub const PSI: PressureUnit = PressureUnit::of(Size::Psi, Against::Vacuum);
    /// Pounds per square inch as a gauge shows them.
    pub const PSIG: PressureUnit = PressureUnit::of(Size::Psi, Against::Air);
    /// Microns of a vacuum gauge: thousandths of a torr.
    pub const MICRON: PressureUnit = PressureUnit::of(Size::Micron, Against::Vacuum);

    const fn of(size: Size, against: Against) -> PressureUnit {
        PressureUnit { size, against }
    }

    /// Exactly how many pascal one of it is.
    pub fn pascal(self) -> Fraction {
        let (numerator, denominator) = match self.size {
            Size::Pascal => (1, 1),
            Size::Hectopascal | Size::Millibar => (100, 1),
            Size::Kilopascal => (1_000, 1),
            Size::Megapascal => (1_000_000, 1),
            Size::Bar => (100_000, 1),
            // 45359237 * 980665 * 10^-13 N on 64516 * 10^-8 m².
            Size::Psi => (44_482_216_152_605, 6_451_600_000),
            Size::Atmosphere => (101_325, 1),
            Size::KilogramForce => (980_665, 10),
            Size::Torr => (101_325, 760),
            Size::InchMercury => (3_386_389, 1_000),
            Size::Micron => (101_325, 760_000),
        };
        Fraction::new(numerator, denominator)
    }

    /// How many kilopascal one of it is, whatever it is counted from.
    pub fn kilopascal(self) -> f64 {
        exact::float_of(self.pascal()) / 1_000.0
    }

    /// This unit's number for an absolute pressure.
    pub fn from_absolute_kpa(self, kpa: f64, gauge: GaugeKind, air: LocalAir) -> f64 {
        (kpa - self.zero_kpa(gauge, air)) / self.kilopascal()
    }

    /// The absolute pressure at which an instrument in this unit shows nothing.
    fn zero_kpa(self, gauge: GaugeKind, air: LocalAir) -> f64 {
        match (self.against, gauge) {
            (Against::Vacuum, _) => 0.0,
            (Against::Air, GaugeKind::Vented) => air.kpa,
            (Against::Air, GaugeKind::Sealed) => STANDARD_AIR_KPA,
        }
    }
}

impl Unit for PressureUnit {
    const QUANTITY: &'static str = "pressure";

    fn all() -> Vec<PressureUnit> {
        let gauge = ROWS.iter().filter(|row| !row.2.is_empty());
        let gauge = gauge.map(|row| PressureUnit::of(row.0, Against::Air));
        let absolute = ROWS
            .iter()
            .map(|row| PressureUnit::of(row.0, Against::Vacuum));
        gauge.chain(absolute).collect()
    }

    fn code(self) -> &'static str {
        let row = ROWS.iter().find(|row| row.0 == self.size);
        row.map_or("", |row| match self.against {
            Against::Vacuum => row.1,
            Against::Air => row.2,
        })
    }

    fn from_code(code: &str) -> Option<PressureUnit> {
        if code.is_empty() {
            return None;
        }
        ROWS.iter().find_map(|row| {
            if row.1 == code || row.3.contains(&code) {
                Some(PressureUnit::of(row.0, Against::Vacuum))
            } else if row.2 == code || row.4.contains(&code) {
                Some(PressureUnit::of(row.0, Against::Air))
            } else {
                None
            }
        })
    }
}

impl Pressure {
    /// The absolute pressure in kilopascal. A vented gauge reads against the local air, a sealed or
    /// corrected one against 101.325 kPa; what is already absolute needs neither.
    ///
    /// # Errors
    /// [`ProblemCode::BelowVacuum`] when it would be less than nothing.
    pub fn absolute_kpa(
        self,
        field: &str,
        gauge: GaugeKind,
        air: LocalAir,
    ) -> Result<f64, Problem> {
        let zero = self.unit.zero_kpa(gauge, air);
        let kpa = self.size_kpa() + zero;
        if kpa < 0.0 {
            return Err(Problem::new(
                ProblemCode::BelowVacuum,
                field,
                format!("a pressure not below vacuum ({zero:.1} kPa below the zero of the gauge)"),
                self.text(),
                "Check the sign and the unit; a compound gauge shows vacuum in inches of mercury.",
            ));
        }
        Ok(kpa)
    }

    /// The number in kilopascal without regard to what it is counted from: an accuracy, a full scale,
    /// a difference.
    pub fn size_kpa(self) -> f64 {
        self.number() * self.unit.kilopascal()
    }

    /// The same exactly, in pascal; `None` beyond 128 bits.
    pub fn size_pascal_exact(self) -> Option<Fraction> {
        exact::times(self.value.fraction(), self.unit.pascal())
    }
}
