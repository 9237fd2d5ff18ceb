//! Where things stand along an axis, and where its ticks are.

use super::Tenths;

/// The place of a value on an axis of so many tenths that ends at `whole`, rounded half up. What is
/// below nothing stands at the beginning, what is beyond the whole at the end.
pub fn along(value: i128, whole: i128, length: Tenths) -> Tenths {
    let whole = whole.max(1);
    let value = value.clamp(0, whole);
    // Where the product would not fit, both lose the same digits.
    let shift = (128 - value.leading_zeros()).saturating_sub(90);
    let (value, whole) = (value >> shift, (whole >> shift).max(1));
    let placed = (value * i128::from(length) * 2 + whole) / (whole * 2);
    Tenths::try_from(placed).unwrap_or(length)
}

/// The smallest of 1, 2, 5, 10, 20, 50, ... of which at most `most` steps reach `whole`.
pub fn nice_step(whole: i128, most: usize) -> i128 {
    let most = i128::try_from(most.max(1)).unwrap_or(1);
    let mut decade: i128 = 1;
    loop {
        for step in [1, 2, 5].map(|digit| digit * decade) {
            if step * most >= whole {
                return step;
            }
        }
        let Some(next) = decade
            .checked_mul(10)
            .filter(|next| *next < i128::MAX / 1_000_000)
        else {
            return whole;
        };
        decade = next;
    }
}

/// The ticks of an axis from 0 on whose last is `whole` or the first beyond it.
pub fn ticks(whole: i128, most: usize) -> Vec<i128> {
    let step = nice_step(whole.max(1), most);
    let mut ticks = vec![0];
    while ticks.last().is_some_and(|last| *last < whole.max(1)) {
        ticks.push(ticks.len() as i128 * step);
    }
    ticks
}
