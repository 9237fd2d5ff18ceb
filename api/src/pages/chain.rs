//! The chain strip: a square for each block of entries, a tick where a seal closes within it. What is
//! worked out again in the reader's own browser (`assets/chain.mjs`) fills its squares; without script
//! they stay as they are drawn here, not checked.

use super::figures;
use super::picture::{
    Anchor, Drawing, Fill, Ink, Pen, Picture, Size, Stroke, Tenths, Words, units,
};
use crate::actions::show::instant;
use crate::actions::show::log::Chain;

/// Side of a square, and from one to the next.
const SIDE: Tenths = units(21);
const PITCH: Tenths = units(28);
/// Height of a row of squares with its numbers.
const ROW: Tenths = units(60);

/// The strip of a book with the rows of its table.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ChainStrip {
    /// The drawing, nothing checked.
    pub picture: Picture,
    /// Entries that the newest checkpoint covers.
    pub size: u64,
    /// Entries of a block.
    pub block: u64,
    /// The blocks in words.
    pub rows: Vec<BlockRow>,
}

/// A block.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BlockRow {
    /// Its entries: `0 to 99`.
    pub entries: String,
    /// The newest seal that closes within it; empty: none does.
    pub seal: String,
}

impl ChainStrip {
    /// The strip of what was read; `None`: nothing is sealed yet.
    pub fn of(chain: &Chain) -> Option<ChainStrip> {
        let last = chain.blocks.last()?;
        let sealed = chain.blocks.iter().filter(|block| block.sealed.is_some());
        let sentence = format!(
            "{} in {}; seals close within {}. Not checked in this browser yet.",
            figures::many(last.last + 1, "entries"),
            figures::many(chain.blocks.len() as u64, "blocks"),
            figures::many(sealed.count() as u64, "blocks"),
        );
        Some(ChainStrip {
            picture: Picture::of(sentence.clone(), |size| drawn(chain, size, &sentence)),
            size: last.last + 1,
            block: chain.block,
            rows: chain.blocks.iter().map(BlockRow::of).collect(),
        })
    }
}

impl BlockRow {
    fn of(block: &crate::actions::show::log::Block) -> BlockRow {
        BlockRow {
            entries: match block.first == block.last {
                true => figures::number(block.first),
                false => format!(
                    "{} to {}",
                    figures::number(block.first),
                    figures::number(block.last)
                ),
            },
            seal: block.sealed.map_or(String::new(), |(size, at)| {
                format!(
                    "of {}, {}",
                    figures::many(size, "entries"),
                    figures::instant(&instant(at))
                )
            }),
        }
    }
}

fn drawn(chain: &Chain, size: Size, sentence: &str) -> Drawing {
    let columns = size.pick(25_usize, 10);
    let mut pen = Pen::new("p7", size);
    let soft = |anchor| Words::of(Ink::Soft, anchor);
    let mut month = String::new();
    let mut free = 0;
    for (at, block) in chain.blocks.iter().enumerate() {
        let place = |count: usize| Tenths::try_from(count).unwrap_or_default();
        let (row, column) = (at / columns, at % columns);
        let (x, top) = (units(1) + place(column) * PITCH, place(row) * ROW);
        if column == 0 {
            let number = figures::number(block.first);
            pen.text(x, top + units(13), &number, soft(Anchor::Start));
            free = 0;
        }
        let y = top + units(18);
        let line = Some(Stroke::of(Ink::Ink, 15));
        pen.rect((x, y), (SIDE, SIDE), Fill::Ink(Ink::Paper), line);
        // Half: not checked. The script puts another path in its place.
        let half = [(x, y + SIDE), (x, y), (x + SIDE, y + SIDE)];
        pen.outline(&half, Fill::Ink(Ink::Ink), None);
        let Some((_, signed)) = block.sealed else {
            continue;
        };
        let tick = Stroke::of(Ink::Line, 10);
        for beside in [22, 44] {
            let x = x + SIDE + beside;
            pen.line((x, y - units(3)), (x, y + SIDE + units(8)), tick);
        }
        let of = instant(signed);
        let of = of.get(..7).unwrap_or_default();
        if of != month && column >= free {
            let middle = x + SIDE + 33;
            let (x, anchor) = match column {
                0 | 1 => (units(1), Anchor::Start),
                last if last + 3 > columns => (middle, Anchor::End),
                _ => (middle, Anchor::Middle),
            };
            pen.text(x, y + SIDE + units(20), &sealed_in(of), soft(anchor));
            month = of.to_string();
            free = column + 6;
        }
    }
    let rows = chain.blocks.len().div_ceil(columns).max(1);
    let height = Tenths::try_from(rows).unwrap_or(1) * ROW + units(4);
    let title = format!(
        "Chain strip: {}",
        figures::many(chain.blocks.len() as u64, "blocks")
    );
    pen.finish(height, &title, sentence)
}

/// `sealed Jun 2026`, of a month.
fn sealed_in(month: &str) -> String {
    let written = figures::day_text(&format!("{month}-01"));
    let mut words = written.split(' ').skip(1);
    let name = words.next().and_then(|name| name.get(..3));
    format!(
        "sealed {} {}",
        name.unwrap_or(month),
        words.next().unwrap_or_default()
    )
}

#[cfg(test)]
mod tests {
    use super::super::picture::read;
    use super::*;
    use crate::actions::show::log::Block;

    /// 250 entries in blocks of 100, sealed at 120 (on 30 June 2026, 1 782 777 600 s after 1970 by the
    /// calendar) and at 250.
    fn chain() -> Chain {
        let block = |first, last, sealed| Block {
            first,
            last,
            sealed,
        };
        let june = 1_782_777_600_000_000;
        Chain {
            block: 100,
            blocks: vec![
                block(0, 99, None),
                block(100, 199, Some((120, june))),
                block(200, 249, Some((250, june))),
            ],
        }
    }

    #[test]
    fn a_square_a_block_and_a_tick_where_a_seal_closes_the_table_says_the_same() {
        let strip = ChainStrip::of(&chain()).unwrap();
        assert_eq!((strip.size, strip.block), (250, 100));
        let said: Vec<&str> = strip.rows.iter().map(|row| row.entries.as_str()).collect();
        assert_eq!(said, ["0 to 99", "100 to 199", "200 to 249"]);
        assert_eq!(strip.rows[0].seal, "");
        assert!(
            strip.rows[1]
                .seal
                .starts_with("of 120 entries, 30 June 2026")
        );
        for drawing in [&strip.picture.wide, &strip.picture.narrow] {
            let svg = drawing.svg();
            assert_eq!(svg.matches("<rect").count(), 3, "a square each: {svg}");
            assert_eq!(svg.matches("class=\"ink-fill\"").count(), 3, "{svg}");
            assert_eq!(svg.matches("class=\"line-line\"").count(), 4, "two ticks");
            assert_eq!(read::drawing(drawing).texts, ["0", "sealed Jun 2026"]);
        }
        assert!(
            strip
                .picture
                .sentence
                .contains("Not checked in this browser")
        );
    }

    #[test]
    fn nothing_sealed_has_no_strip() {
        let nothing = Chain {
            block: 100,
            blocks: Vec::new(),
        };
        assert!(ChainStrip::of(&nothing).is_none());
    }
}
