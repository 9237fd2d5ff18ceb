//! Where words find room: each label takes the first of its places that is free.

use crate::pages::picture::{Anchor, Tenths, units, width_of};

/// A label that may stand in several places: lines of text, 16 units apart.
pub(super) struct Label<'t> {
    pub lines: &'t [&'t str],
    /// In heavy letters, which are wider?
    pub bold: bool,
    /// Where its first line may begin: x, base, which end stands at x.
    pub places: &'t [(Tenths, Tenths, Anchor)],
}

type Area = (Tenths, Tenths, Tenths, Tenths);

/// What is taken already.
pub(super) struct Room {
    /// Left, top, right, bottom of what may be written on.
    bounds: Area,
    taken: Vec<Area>,
    /// What words had better not cross: uprights.
    crossed: Vec<Area>,
}

/// From one line to the next.
pub(super) const LINE: Tenths = units(16);

impl Room {
    pub(super) fn new(bounds: Area) -> Room {
        Room {
            bounds,
            taken: Vec::new(),
            crossed: Vec::new(),
        }
    }

    /// Words had better not cross this.
    pub(super) fn avoid(&mut self, area: Area) {
        self.crossed.push(area);
    }

    /// Nothing may be written here.
    pub(super) fn take(&mut self, area: Area) {
        self.taken.push(area);
    }

    /// Takes the first free place; uprights are crossed only where nothing else is free.
    pub(super) fn place(&mut self, label: &Label) -> Option<(Tenths, Tenths, Anchor)> {
        let free = self.place_once(label, false);
        free.or_else(|| self.place_once(label, true))
    }

    /// The same, crossing uprights or not.
    pub(super) fn place_once(
        &mut self,
        label: &Label,
        crossing: bool,
    ) -> Option<(Tenths, Tenths, Anchor)> {
        let wide = label.lines.iter().map(|line| width_of(line)).max()?;
        let wide = if label.bold { wide * 9 / 8 } else { wide };
        let lines = Tenths::try_from(label.lines.len()).ok()?;
        for (x, base, anchor) in label.places.iter().copied() {
            let left = match anchor {
                Anchor::Start => x,
                Anchor::Middle => x - wide / 2,
                Anchor::End => x - wide,
            };
            let lower = base + LINE * (lines - 1) + units(3);
            let own = (left, base - units(11), left + wide, lower);
            let inside = own.0 >= self.bounds.0
                && own.1 >= self.bounds.1
                && own.2 <= self.bounds.2
                && own.3 <= self.bounds.3;
            let meets = |other: &Area| {
                own.0 < other.2 && other.0 < own.2 && own.1 < other.3 && other.1 < own.3
            };
            let free = !self.taken.iter().any(meets);
            if inside && free && (crossing || !self.crossed.iter().any(meets)) {
                self.taken.push(own);
                return Some((x, base, anchor));
            }
        }
        None
    }
}
