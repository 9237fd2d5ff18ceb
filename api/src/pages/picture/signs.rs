//! Signs in drawings: paths, never letters of a font, which come out as empty boxes.

use super::pen::{Fill, Pen, Stroke};
use super::{Ink, Tenths, units};

/// A sign, about 12 units wide and high, drawn around its middle.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sign {
    /// A repair: a triangle.
    Repair,
    /// A verification that passed: a tick in a circle.
    Passed,
    /// A verification that failed: a cross in a circle.
    Failed,
    /// A verification of which nobody can say: an empty circle.
    Undecided,
    /// Something is due: a flag.
    Flag,
    /// Closed to filling: a lock.
    Lock,
    /// Over a limit: a weight on a line.
    Weight,
}

impl Pen {
    /// Draws a sign around a middle.
    pub fn sign(&mut self, sign: Sign, ink: Ink, x: Tenths, y: Tenths) {
        let thin = Stroke::of(ink, 15);
        match sign {
            Sign::Repair => {
                let path = format!("M{} {}l6 -12l6 12Z", at(x - units(6)), at(y + units(6)));
                self.path(&path, Fill::Ink(ink), None);
            }
            Sign::Passed => {
                self.circle(x, y, units(6), Fill::Ink(Ink::Paper), Some(thin));
                let path = format!(
                    "M{} {}l2.2 2.6L{} {}",
                    at(x - units(3)),
                    at(y + 10),
                    at(x + 34),
                    at(y - 30)
                );
                self.path(&path, Fill::None, Some(thin));
            }
            Sign::Failed => {
                self.circle(x, y, units(6), Fill::Ink(Ink::Paper), Some(thin));
                let (left, top) = (at(x - 26), at(y - 26));
                let path = format!("M{left} {top}l5.2 5.2M{left} {}l5.2 -5.2", at(y + 26));
                self.path(&path, Fill::None, Some(thin));
            }
            Sign::Undecided => {
                self.circle(x, y, units(6), Fill::Ink(Ink::Paper), Some(thin));
            }
            Sign::Flag => {
                let path = format!("M{} {}v-12h9l-3 3l3 3h-9", at(x - 45), at(y + 60));
                self.path(&path, Fill::Ink(ink), Some(thin));
            }
            Sign::Lock => {
                self.rect((x - 60, y - 20), (120, 90), Fill::Ink(ink), None);
                let path = format!("M{} {}v-2a3.5 3.5 0 0 1 7 0v2", at(x - 35), at(y - 20));
                self.path(&path, Fill::None, Some(Stroke::of(ink, 18)));
            }
            Sign::Weight => {
                let path = format!("M{} {}h12l-2.6 -7h-6.8Z", at(x - 60), at(y + 50));
                self.path(&path, Fill::Ink(ink), None);
                self.circle(x, y - 40, 20, Fill::None, Some(thin));
            }
        }
    }
}

fn at(tenths: Tenths) -> String {
    super::pen::number(tenths)
}
