//! A smooth curve through the points of a table that never swings between them.
//!
//! Piecewise cubic Hermite interpolation with the slopes of Fritsch and Butland (1984), as it is
//! usual under the name PCHIP: where the points rise, the curve rises, so that a pressure has one
//! temperature. Outside the points there is no value.

/// A monotone curve.
#[derive(Clone, Debug)]
pub struct Curve {
    x: Vec<f64>,
    y: Vec<f64>,
    slope: Vec<f64>,
}

impl Curve {
    /// Through points with rising `x`; two at least.
    pub fn through(x: Vec<f64>, y: Vec<f64>) -> Curve {
        let width: Vec<f64> = x.windows(2).map(|pair| pair[1] - pair[0]).collect();
        let rise = y.windows(2).map(|pair| pair[1] - pair[0]);
        let secant: Vec<f64> = rise.zip(&width).map(|(rise, width)| rise / width).collect();
        let mut slope = vec![0.0; x.len()];
        for at in 1..secant.len() {
            slope[at] = inner_slope(width[at - 1], width[at], secant[at - 1], secant[at]);
        }
        let last = secant.len() - 1;
        if last == 0 {
            slope = vec![secant[0]; 2];
        } else {
            slope[0] = end_slope(width[0], width[1], secant[0], secant[1]);
            slope[last + 1] =
                end_slope(width[last], width[last - 1], secant[last], secant[last - 1]);
        }
        Curve { x, y, slope }
    }

    /// The value at a place between the first and the last point.
    pub fn at(&self, x: f64) -> f64 {
        self.piece(self.segment(&self.x, x), x)
    }

    /// The slope there.
    pub fn slope_at(&self, x: f64) -> f64 {
        let i = self.segment(&self.x, x);
        let width = self.x[i + 1] - self.x[i];
        let t = (x - self.x[i]) / width;
        let step = (self.y[i + 1] - self.y[i]) / width;
        6.0 * t * (1.0 - t) * step
            + (1.0 - t) * (1.0 - 3.0 * t) * self.slope[i]
            + t * (3.0 * t - 2.0) * self.slope[i + 1]
    }

    /// The place of a value of a rising curve, by bisection; `None` outside the points.
    pub fn place_of(&self, y: f64) -> Option<f64> {
        let (first, last) = (*self.y.first()?, *self.y.last()?);
        if !(first..=last).contains(&y) {
            return None;
        }
        let i = self.segment(&self.y, y);
        let (mut low, mut high) = (self.x[i], self.x[i + 1]);
        loop {
            let middle = 0.5 * (low + high);
            // Nothing is left to halve once the middle is one of the ends.
            if middle <= low || middle >= high {
                return Some(middle);
            }
            if self.piece(i, middle) < y {
                low = middle;
            } else {
                high = middle;
            }
            if high - low <= 1e-13 * high.abs().max(low.abs()) {
                return Some(0.5 * (low + high));
            }
        }
    }

    /// The segment of rising `points` that holds a value.
    fn segment(&self, points: &[f64], value: f64) -> usize {
        let after = points.partition_point(|point| *point <= value);
        after.saturating_sub(1).min(points.len() - 2)
    }

    fn piece(&self, i: usize, x: f64) -> f64 {
        let width = self.x[i + 1] - self.x[i];
        let t = (x - self.x[i]) / width;
        let rest = 1.0 - t;
        let left = self.y[i] * (1.0 + 2.0 * t) + width * self.slope[i] * t;
        let right = self.y[i + 1] * (1.0 + 2.0 * rest) - width * self.slope[i + 1] * rest;
        left * rest * rest + right * t * t
    }
}

/// A weighted harmonic mean of the secants on both sides; level where they disagree in direction.
fn inner_slope(left: f64, right: f64, before: f64, after: f64) -> f64 {
    if before * after <= 0.0 {
        return 0.0;
    }
    let (first, second) = (2.0 * right + left, right + 2.0 * left);
    (first + second) / (first / before + second / after)
}

/// The slope of the parabola through the three outermost points, kept from overshooting.
fn end_slope(near: f64, far: f64, secant: f64, next: f64) -> f64 {
    let slope = ((2.0 * near + far) * secant - near * next) / (near + far);
    if slope * secant <= 0.0 {
        0.0
    } else if secant * next <= 0.0 && slope.abs() > (3.0 * secant).abs() {
        3.0 * secant
    } else {
        slope
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked by hand: points (0,0), (1,1), (2,4). Secants 1 and 3; the inner slope is
    /// 6 / (3/1 + 3/3) = 1.5, the ends are 0 (the parabola's slope) and 4. At 1.5 the cubic is
    /// (1 + 4) / 2 + (1.5 - 4) / 8 = 2.1875.
    #[test]
    fn a_curve_worked_by_hand() {
        let curve = Curve::through(vec![0.0, 1.0, 2.0], vec![0.0, 1.0, 4.0]);
        assert_eq!(curve.slope, [0.0, 1.5, 4.0]);
        assert_eq!(curve.at(1.0), 1.0);
        assert!((curve.at(1.5) - 2.1875).abs() < 1e-15);
        assert!((curve.slope_at(1.0) - 1.5).abs() < 1e-15);
        assert!((curve.place_of(2.1875).unwrap() - 1.5).abs() < 1e-12);
        assert_eq!(curve.place_of(4.1), None);
        assert_eq!(curve.place_of(f64::NAN), None);
    }

    #[test]
    fn a_level_stretch_stays_level() {
        let curve = Curve::through(vec![0.0, 1.0, 2.0, 3.0], vec![0.0, 1.0, 1.0, 5.0]);
        assert_eq!(curve.at(1.5), 1.0);
    }
}
