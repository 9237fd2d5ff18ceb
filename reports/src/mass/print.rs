//! Masses as text: the echo beside a field, and the machine form of reports.
//!
//! The echo is for eyes and is rounded, half away from zero: ounces to four decimals, pounds to
//! six (a hundredth of an ounce is 0.000625 lb), kilograms to whole grams, and to whole milligrams
//! below one kilogram. A mass too small for these shows its exact kilograms instead of a zero.
//! The machine form is exact in metric units; in pounds and ounces it has at most 14 decimals,
//! fine enough that the nearest step is always the one that was printed.

use super::{Mass, Unit};

/// `7 lb 4 oz`; ounces rounded to four decimals, half away from zero.
pub fn lb_oz_text(steps: i128) -> String {
    lb_oz_rounded(steps, 4)
}

/// Pounds and ounces with at most so many decimals of an ounce; rounding may carry into the pounds.
pub(super) fn lb_oz_rounded(steps: i128, places: u32) -> String {
    let scale = 10_u128.pow(places);
    let ounce = u128::from(Mass::OUNCE.unsigned_abs());
    let ounces = rounded(steps.unsigned_abs(), scale, ounce);
    let (pounds, rest) = (ounces / (16 * scale), ounces % (16 * scale));
    let mut text = String::new();
    push_sign(&mut text, steps < 0 && ounces > 0);
    push_number(&mut text, pounds);
    text.push_str(" lb ");
    push_decimal(&mut text, rest / scale, rest % scale, places);
    text.push_str(" oz");
    text
}

/// `7.25 lb`; rounded to six decimals, half away from zero.
pub fn lb_text(steps: i128) -> String {
    rounded_text(steps, Unit::Pound, 6)
}

/// `3.289 kg`; rounded to whole grams, or to whole milligrams below one kilogram.
pub fn kg_text(steps: i128) -> String {
    let below_one = steps.unsigned_abs() < u128::from(Unit::Kilogram.steps().unsigned_abs());
    let text = rounded_text(steps, Unit::Kilogram, if below_one { 6 } else { 3 });
    if steps != 0 && text == "0 kg" {
        format!("{} kg", in_unit(steps, Unit::Kilogram))
    } else {
        text
    }
}

/// The echo beside the field: `7 lb 4 oz = 7.25 lb = 3.289 kg`.
pub fn echo(steps: i128) -> String {
    format!(
        "{} = {} = {}",
        lb_oz_text(steps),
        lb_text(steps),
        kg_text(steps)
    )
}

/// The machine form in a unit, without its name; pounds and ounces together count in pounds.
pub fn in_unit(steps: i128, unit: Unit) -> String {
    let mut text = String::with_capacity(24);
    push_in_unit(&mut text, steps, unit);
    text
}

/// Appends the machine form to a text, which spares a report an allocation per cell.
pub fn push_in_unit(text: &mut String, steps: i128, unit: Unit) {
    let size = unit.steps().unsigned_abs();
    let magnitude = steps.unsigned_abs();
    // Sums that fit 64 bits, which is all but the largest totals, spare the long divisions.
    let (whole, rest) = match u64::try_from(magnitude) {
        Ok(short) => (u128::from(short / size), short % size),
        Err(_) => {
            let size = u128::from(size);
            (magnitude / size, (magnitude % size) as u64)
        }
    };
    if let Some(places) = unit.exact_decimals() {
        push_sign(text, steps < 0);
        push_decimal(text, whole, u128::from(rest), places);
        return;
    }
    // 14 decimals as 5 + 5 + 4: a remainder below 4.6 * 10^13 times 10^5 fits 64 bits.
    let (high, rest) = (rest * 100_000 / size, rest * 100_000 % size);
    let (middle, rest) = (rest * 100_000 / size, rest * 100_000 % size);
    let (low, rest) = (rest * 10_000 / size, rest * 10_000 % size);
    let up = u64::from(2 * rest >= size);
    let decimals = (high * 100_000 + middle) * 10_000 + low + up;
    let (whole, decimals) = match decimals {
        100_000_000_000_000 => (whole + 1, 0),
        _ => (whole, decimals),
    };
    push_sign(text, steps < 0 && (whole, decimals) != (0, 0));
    push_decimal(text, whole, u128::from(decimals), 14);
}

fn rounded_text(steps: i128, unit: Unit, places: u32) -> String {
    let scale = 10_u128.pow(places);
    let number = rounded(
        steps.unsigned_abs(),
        scale,
        u128::from(unit.steps().unsigned_abs()),
    );
    let mut text = String::new();
    push_sign(&mut text, steps < 0 && number > 0);
    push_decimal(&mut text, number / scale, number % scale, places);
    text.push(' ');
    text.push_str(unit.word());
    text
}

/// `magnitude * scale / size`, half away from zero, without a product that could overflow.
fn rounded(magnitude: u128, scale: u128, size: u128) -> u128 {
    let (whole, rest) = (magnitude / size, magnitude % size);
    let product = rest * scale;
    whole.saturating_mul(scale) + product / size + u128::from(2 * (product % size) >= size)
}

fn push_sign(text: &mut String, negative: bool) {
    if negative {
        text.push('-');
    }
}

/// Appends `whole.part`, where `part` has so many decimals, without trailing zeros.
fn push_decimal(text: &mut String, whole: u128, part: u128, places: u32) {
    push_number(text, whole);
    if part == 0 {
        return;
    }
    let places = places as usize;
    let mut digits = [b'0'; 20];
    // No unit has more than 14 decimals, so that the part fits 64 bits.
    let mut rest = part as u64;
    for digit in digits[..places].iter_mut().rev() {
        *digit = b'0' + (rest % 10) as u8;
        rest /= 10;
    }
    let end = digits[..places]
        .iter()
        .rposition(|d| *d != b'0')
        .map_or(0, |at| at + 1);
    text.push('.');
    text.push_str(str::from_utf8(&digits[..end]).unwrap_or_default());
}

fn push_number(text: &mut String, number: u128) {
    let Ok(mut rest) = u64::try_from(number) else {
        return text.push_str(&number.to_string());
    };
    let mut digits = [b'0'; 20];
    let mut start = digits.len();
    loop {
        start -= 1;
        digits[start] = b'0' + (rest % 10) as u8;
        rest /= 10;
        if rest == 0 {
            break;
        }
    }
    text.push_str(str::from_utf8(&digits[start..]).unwrap_or_default());
}
