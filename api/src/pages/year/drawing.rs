//! Draws the year of mass: three columns, bands between them as thick as the mass.
//!
//! The middle column is open boxes, a kind of cylinder each, wide enough for their own names, so that
//! no name lies on a band. What came in is as thick at the box as at its own bar, and so is what left;
//! where a box has another height at its right, refrigerant moved to cylinders of another kind.

use super::mass::{box_name, counted, is_shown, names};
use crate::pages::picture::{
    Anchor, Drawing, Fill, Ink, Pattern, Pen, Size, Stroke, Tenths, Words, along, number, units,
    width_of,
};
use reports::mass::lb_oz_text;
use reports::sheet::mass_balance::{Account, Balance, Figure, Part, Vessel};

/// What is drawn: the columns from left to right.
#[derive(Clone, Debug)]
pub struct Flow {
    left: Vec<Node>,
    boxes: Vec<Middle>,
    right: Vec<Node>,
    /// What the taller side comes to.
    whole: i128,
    came_in: i128,
    accounted: i128,
}

/// Where something came from or went.
#[derive(Clone, Debug)]
struct Node {
    /// Its name, wide and narrow.
    name: (&'static str, &'static str),
    mass: i128,
    /// What it has in common with each box; never below nothing.
    bands: Vec<i128>,
    is_unexplained: bool,
    /// Counts found it, and nobody has explained it.
    is_open: bool,
}

/// A kind of cylinder.
#[derive(Clone, Debug)]
struct Middle {
    part: Part,
    mass: i128,
}

/// A column that has its places: top and height of each bar.
struct Placed {
    bars: Vec<(Tenths, Tenths)>,
    end: Tenths,
}

const TOP: Tenths = units(44);
/// Height of the whole mass.
const TALL: Tenths = units(240);
/// Two lines of letters.
const LABEL: Tenths = units(34);

impl Flow {
    /// The flow of a balance.
    pub fn of(balance: &Balance) -> Flow {
        let bands = |of: &dyn Fn(&Account) -> i128| -> Vec<i128> {
            let parts = balance.parts.iter();
            parts.map(|(_, account)| of(account).max(0)).collect()
        };
        let node = |figure: Figure| Node {
            name: names(figure),
            mass: balance.whole.of(figure),
            bands: bands(&|account| account.of(figure)),
            is_unexplained: matches!(figure, Figure::Missing | Figure::Found),
            is_open: counted(balance, figure) != 0,
        };
        let drawn = |one: &&Figure| !one.is_inside() && is_shown(balance, **one);
        let left: Vec<Node> = (Figure::IN.iter().filter(drawn))
            .map(|figure| node(*figure))
            .collect();
        let closing = Node {
            name: ("closing stock", "closing stock"),
            mass: balance.whole.closing,
            bands: bands(&|account| account.closing),
            is_unexplained: false,
            is_open: false,
        };
        let last = |one: &&Figure| matches!(one, Figure::Lost | Figure::Missing);
        let out = || Figure::OUT.iter().filter(drawn);
        let mut right: Vec<Node> = (out().filter(|one| !last(one)))
            .map(|figure| node(*figure))
            .collect();
        right.push(closing);
        right.extend(out().filter(last).map(|figure| node(*figure)));
        let boxes = (balance.parts.iter())
            .map(|(part, account)| Middle {
                part: *part,
                mass: account.came_in(),
            })
            .collect();
        let sum = |nodes: &[Node]| -> i128 { nodes.iter().flat_map(|one| &one.bands).sum() };
        Flow {
            whole: sum(&left).max(sum(&right)).max(1),
            left,
            boxes,
            right,
            came_in: balance.whole.came_in(),
            accounted: balance.whole.accounted(),
        }
    }

    fn tall(&self, mass: i128) -> Tenths {
        along(mass, self.whole, TALL)
    }

    /// What a box shares with one side.
    fn shared(nodes: &[Node], at: usize) -> i128 {
        nodes.iter().map(|node| node.bands[at]).sum()
    }

    /// The bars of a side, one below the other.
    fn side(&self, nodes: &[Node], size: Size) -> Placed {
        let mut y = TOP;
        let mut bars = Vec::with_capacity(nodes.len());
        for node in nodes {
            let tall = self.tall(node.bands.iter().sum());
            match size {
                Size::Wide => {
                    let slot = tall.max(LABEL);
                    bars.push((y + (slot - tall) / 2, tall));
                    y += slot + units(10);
                }
                Size::Narrow => {
                    bars.push((y + LABEL, tall));
                    y += LABEL + tall.max(units(8)) + units(12);
                }
            }
        }
        Placed { bars, end: y }
    }

    /// The boxes; on a telephone each goes down until its name stands free of those at the sides.
    fn middle(&self, size: Size, taken: &[(Tenths, Tenths, Tenths)]) -> Placed {
        let mut y = TOP;
        let mut bars = Vec::with_capacity(self.boxes.len());
        for (at, one) in self.boxes.iter().enumerate() {
            let wide = width_of(&lb_oz_text(one.mass)).max(width_of(box_title(one.part, size)));
            let half = wide / 2 + units(4);
            let middle = units(size.pick(363, 140));
            let meets = |y: Tenths| {
                taken.iter().any(|(left, right, base)| {
                    let beside = *right <= middle - half || *left >= middle + half;
                    let lines = [y + units(14), y + units(29)];
                    !beside && lines.iter().any(|line| (line - base).abs() < units(14))
                })
            };
            while meets(y) {
                y += units(2);
            }
            let ends = [&self.left, &self.right].map(|side| self.tall(Flow::shared(side, at)));
            let tall = ends[0].max(ends[1]);
            bars.push((y + LABEL, tall));
            y += LABEL + tall.max(units(4)) + units(16);
        }
        Placed { bars, end: y }
    }
}

/// Left and right edges of the columns: bar, box, bar.
fn edges(size: Size) -> [(Tenths, Tenths); 3] {
    let of = |pairs: [(i32, i32); 3]| pairs.map(|(left, right)| (units(left), units(right)));
    match size {
        Size::Wide => of([(198, 208), (306, 420), (518, 528)]),
        Size::Narrow => of([(0, 9), (97, 183), (271, 280)]),
    }
}

fn box_title(part: Part, size: Size) -> &'static str {
    let (wide, narrow) = box_name(part);
    size.pick(wide, narrow)
}

fn ground(part: Part) -> Fill {
    match part {
        Part::Cylinders(Vessel::Supply) => Fill::Ink(Ink::Shade),
        Part::Cylinders(Vessel::Disposable) => Fill::Ink(Ink::Paper),
        Part::Cylinders(Vessel::Recovery) => Fill::Pattern(Pattern::Fine),
        Part::Cylinders(Vessel::NotStated) | Part::Statements => Fill::Pattern(Pattern::Dots),
    }
}

/// The drawing of a flow.
pub fn draw(flow: &Flow, size: Size, title: &str, says: &str) -> Drawing {
    let mut pen = Pen::new("p3", size);
    let (left, right) = (flow.side(&flow.left, size), flow.side(&flow.right, size));
    let mut taken = Vec::new();
    if size == Size::Narrow {
        taken.extend(labels(&flow.left, &left, true));
        taken.extend(labels(&flow.right, &right, false));
    }
    let middle = flow.middle(size, &taken);
    let end = left.end.max(right.end).max(middle.end);
    bands(&mut pen, flow, (&left, &middle, &right));
    boxes(&mut pen, flow, &middle);
    side(&mut pen, flow, &flow.left, &left, true);
    side(&mut pen, flow, &flow.right, &right, false);
    heads(&mut pen);
    let width = size.width();
    let thin = Stroke::of(Ink::Ink, 10);
    for y in [end, end + units(3)] {
        pen.line((0, y), (width, y), thin);
    }
    let base = end + units(22);
    let bold = |anchor| Words::of(Ink::Ink, anchor).bold();
    let (came_in, accounted) = (lb_oz_text(flow.came_in), lb_oz_text(flow.accounted));
    match size {
        Size::Wide => {
            pen.text(0, base, &format!("came in {came_in}"), bold(Anchor::Start));
            let told = format!("accounted for {accounted}");
            pen.text(width, base, &told, bold(Anchor::End));
        }
        Size::Narrow if came_in == accounted => {
            pen.text(
                0,
                base,
                &format!("both sides {came_in}"),
                bold(Anchor::Start),
            );
        }
        Size::Narrow => {
            pen.text(0, base, &came_in, bold(Anchor::Start));
            pen.text(width, base, &accounted, bold(Anchor::End));
        }
    }
    pen.finish(end + units(30), title, says)
}

fn heads(pen: &mut Pen) {
    let size = pen.size();
    let [from, through, to] = edges(size);
    let soft = |anchor| Words::of(Ink::Soft, anchor);
    let y = units(15);
    match size {
        Size::Wide => {
            pen.text(from.1, y, "came in, or was there", soft(Anchor::End));
            pen.text(to.0, y, "went out, or stayed", soft(Anchor::Start));
        }
        Size::Narrow => {
            pen.text(0, y, "came in", soft(Anchor::Start));
            pen.text(to.1, y, "out, or stayed", soft(Anchor::End));
        }
    }
    let middle = (through.0 + through.1) / 2;
    let told = size.pick("stood in", "in");
    pen.text(middle, y, told, soft(Anchor::Middle));
}

/// Bands first, so that bars, boxes and names lie over them.
fn bands(pen: &mut Pen, flow: &Flow, (left, middle, right): (&Placed, &Placed, &Placed)) {
    let [from, through, to] = edges(pen.size());
    for (nodes, placed, is_left) in [(&flow.left, left, true), (&flow.right, right, false)] {
        let mut in_box = vec![0_i128; flow.boxes.len()];
        for (node, (top, _)) in nodes.iter().zip(&placed.bars) {
            let mut in_bar = 0_i128;
            for (at, mass) in node.bands.iter().enumerate() {
                if *mass == 0 {
                    continue;
                }
                let cut = |before: i128| {
                    let (begin, end) = (flow.tall(before), flow.tall(before + mass));
                    (begin, end.max(begin + 4))
                };
                let (bar, inner) = (cut(in_bar), cut(in_box[at]));
                let bar = (top + bar.0, top + bar.1);
                let inner = (middle.bars[at].0 + inner.0, middle.bars[at].0 + inner.1);
                let path = match is_left {
                    true => band((from.1, bar), (through.0, inner)),
                    false => band((through.1, inner), (to.0, bar)),
                };
                let line = Some(Stroke::of(Ink::Line, 8));
                pen.path(&path, ground(flow.boxes[at].part), line);
                in_bar += mass;
                in_box[at] += mass;
            }
        }
    }
}

/// A band from one upright edge to another.
fn band(
    (x0, (top0, end0)): (Tenths, (Tenths, Tenths)),
    (x1, (top1, end1)): (Tenths, (Tenths, Tenths)),
) -> String {
    let half = number((x0 + x1) / 2);
    let [left, right, top0, end0, top1, end1] = [x0, x1, top0, end0, top1, end1].map(number);
    format!(
        "M{left} {top0}C{half} {top0} {half} {top1} {right} {top1}V{end1}\
         C{half} {end1} {half} {end0} {left} {end0}Z"
    )
}

fn boxes(pen: &mut Pen, flow: &Flow, placed: &Placed) {
    let size = pen.size();
    let [_, (x0, x1), _] = edges(size);
    let heavy = Stroke::of(Ink::Ink, 20);
    for (at, (one, (top, _))) in flow.boxes.iter().zip(&placed.bars).enumerate() {
        let ends = [&flow.left, &flow.right];
        let [left, right] = ends.map(|side| flow.tall(Flow::shared(side, at)).max(4));
        let corners = [(x0, *top), (x1, *top), (x1, top + right), (x0, top + left)];
        pen.outline(&corners, ground(one.part), Some(Stroke::of(Ink::Line, 8)));
        pen.line((x0, *top), (x0, top + left), heavy);
        pen.line((x1, *top), (x1, top + right), heavy);
        let middle = (x0 + x1) / 2;
        let words = Words::of(Ink::Ink, Anchor::Middle).halo();
        pen.text(middle, top - units(20), box_title(one.part, size), words);
        pen.text(middle, top - units(5), &lb_oz_text(one.mass), words.bold());
    }
}

/// Where the two lines beside a bar have their bases.
fn lines_at(size: Size, (top, tall): (Tenths, Tenths)) -> [Tenths; 2] {
    match size {
        Size::Wide => [top + tall / 2 - units(3), top + tall / 2 + units(12)],
        Size::Narrow => [top - units(20), top - units(5)],
    }
}

/// Where the names of a side stand on a telephone: left end, right end, base.
fn labels(nodes: &[Node], placed: &Placed, is_left: bool) -> Vec<(Tenths, Tenths, Tenths)> {
    let mut taken = Vec::new();
    for (node, bar) in nodes.iter().zip(&placed.bars) {
        let texts = [node.name.1.to_string(), lb_oz_text(node.mass)];
        for (text, base) in texts.iter().zip(lines_at(Size::Narrow, *bar)) {
            let wide = width_of(text);
            taken.push(match is_left {
                true => (0, wide, base),
                false => (Size::Narrow.width() - wide, Size::Narrow.width(), base),
            });
        }
    }
    taken
}

fn side(pen: &mut Pen, flow: &Flow, nodes: &[Node], placed: &Placed, is_left: bool) {
    let size = pen.size();
    let [from, _, to] = edges(size);
    let (x0, x1) = if is_left { from } else { to };
    let (x, anchor) = match (size, is_left) {
        (Size::Wide, true) => (x0 - units(8), Anchor::End),
        (Size::Wide, false) => (x1 + units(8), Anchor::Start),
        (Size::Narrow, true) => (0, Anchor::Start),
        (Size::Narrow, false) => (size.width(), Anchor::End),
    };
    for (node, bar) in nodes.iter().zip(&placed.bars) {
        let (top, tall) = *bar;
        let is_odd = (node.is_unexplained && node.is_open) || node.mass < 0;
        let ink = if is_odd { Ink::Over } else { Ink::Ink };
        if node.is_unexplained {
            // Always drawn: that nothing is unexplained is said, too.
            let high = tall.max(units(8));
            let corner = match size {
                Size::Wide => (x0, top + (tall - high) / 2),
                Size::Narrow => (x0, top),
            };
            let frame = Stroke::of(if is_odd { ink } else { Ink::Line }, 20).dashed("3 2");
            pen.rect(corner, (x1 - x0, high), Fill::Ink(Ink::Paper), Some(frame));
        } else if flow.tall(node.bands.iter().sum()) > 0 {
            pen.rect(
                (x0, top),
                (x1 - x0, tall.max(10)),
                Fill::Ink(Ink::Ink),
                None,
            );
        } else {
            let line = if is_odd { Ink::Over } else { Ink::Line };
            pen.line((x0, top), (x1, top), Stroke::of(line, 15));
        }
        let [name, mass] = lines_at(size, *bar);
        let words = Words::of(ink, anchor).halo();
        pen.text(x, name, size.pick(node.name.0, node.name.1), words);
        pen.text(x, mass, &lb_oz_text(node.mass), words.bold());
    }
}
