//! The unit that was probably meant, where a number does not fit the one that was given.
//!
//! A temperature of 75 read in Celsius lies outside every table; in Fahrenheit it is a warm room. The
//! error then says so, because a wrong unit is the commonest reason for an impossible number.

use super::quantity::{Quantity, Unit};

/// `As [degF] it would fit: was that meant?`, or nothing when no other unit fits.
pub fn other_units<U: Unit>(
    typed: Quantity<U>,
    fits: impl Fn(Quantity<U>) -> bool,
) -> Option<String> {
    let others = U::all().into_iter().filter(|unit| *unit != typed.unit);
    let fitting: Vec<&str> = others
        .filter(|unit| {
            fits(Quantity {
                value: typed.value,
                unit: *unit,
            })
        })
        .map(U::code)
        .collect();
    (!fitting.is_empty()).then(|| {
        format!(
            "In {} it would fit: was that the unit?",
            fitting.join(" or ")
        )
    })
}
