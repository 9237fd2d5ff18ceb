//! A sheet of text from top to bottom, on as many pages as it needs, and its file.

use super::letters::{encoded, lines, width};
use crate::pages::qr::Square;
use pdf_writer::{Content, Finish, Name, Pdf, Rect, Ref, Str, TextStr};

/// Margin on every side, in points.
const MARGIN: i16 = 40;

/// How a line is set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Style {
    /// The headline.
    Title,
    /// A heading.
    Heading,
    /// What matters of a row.
    Bold,
    /// Everything else.
    Text,
    /// Notes and names of columns.
    Small,
}

impl Style {
    fn size(self) -> i16 {
        match self {
            Style::Title => 17,
            Style::Heading => 11,
            Style::Bold | Style::Text => 9,
            Style::Small => 8,
        }
    }

    /// From one line to the next.
    fn leading(self) -> i16 {
        self.size() + 3
    }

    fn font(self) -> Name<'static> {
        match self {
            Style::Text | Style::Small => Name(b"F1"),
            _ => Name(b"F2"),
        }
    }

    /// Points that a line may have; bold letters are up to a tenth wider than those measured.
    fn measure(self, points: i16) -> i32 {
        match self {
            Style::Text | Style::Small => i32::from(points),
            _ => i32::from(points) * 9 / 10,
        }
    }
}

/// Pages being written.
pub struct Sheet {
    size: (i16, i16),
    /// Where the next line stands, from the bottom.
    at: i16,
    pages: Vec<Content>,
    /// The same text as it is, in UTF-8.
    plain: String,
    lacks: bool,
}

impl Sheet {
    /// An empty sheet.
    pub fn new(size: (i16, i16)) -> Sheet {
        Sheet {
            size,
            at: size.1 - MARGIN,
            pages: vec![Content::new()],
            plain: String::new(),
            lacks: false,
        }
    }

    fn wide(&self) -> i16 {
        self.size.0 - 2 * MARGIN
    }

    fn page(&mut self) -> &mut Content {
        if self.pages.is_empty() {
            self.pages.push(Content::new());
        }
        let last = self.pages.len() - 1;
        &mut self.pages[last]
    }

    /// Goes down; a new page begins where the old one is full.
    fn down(&mut self, by: i16) {
        if self.at - by < MARGIN {
            self.pages.push(Content::new());
            self.at = self.size.1 - MARGIN;
        }
        self.at -= by;
    }

    fn bytes(&mut self, text: &str) -> Vec<u8> {
        let (bytes, lacks) = encoded(text);
        self.lacks |= lacks;
        bytes
    }

    fn put(&mut self, style: Style, x: i16, at: i16, bytes: &[u8]) {
        let newest = self.pages.len().saturating_sub(1);
        self.put_on(newest, style, x, at, bytes);
    }

    fn put_on(&mut self, page: usize, style: Style, x: i16, at: i16, bytes: &[u8]) {
        let Some(page) = self.pages.get_mut(page) else {
            return;
        };
        page.begin_text();
        page.set_font(style.font(), f32::from(style.size()));
        page.next_line(f32::from(x), f32::from(at));
        page.show(Str(bytes));
        page.end_text();
    }

    /// A paragraph over the whole width.
    pub fn line(&mut self, style: Style, text: &str) {
        self.plain.push_str(&format!("{text}\n"));
        if style == Style::Heading {
            self.down(4);
        }
        let bytes = self.bytes(text);
        let size = i32::from(style.size());
        for line in lines(&bytes, size, style.measure(self.wide())) {
            self.down(style.leading());
            self.put(style, MARGIN, self.at, &line);
        }
    }

    /// A line across.
    pub fn rule(&mut self) {
        self.down(5);
        let (left, right) = (f32::from(MARGIN), f32::from(self.size.0 - MARGIN));
        let at = f32::from(self.at);
        let page = self.page();
        page.set_line_width(1.0);
        page.move_to(left, at);
        page.line_to(right, at);
        page.stroke();
        self.down(2);
    }

    /// A name with its value.
    pub fn pair(&mut self, name: &str, value: &str, from: i16) {
        self.row(Style::Text, name, &[from], &[value], false);
    }

    /// Cells in columns that begin at `from`; each breaks within its own. `struck`: taken back.
    pub fn row(&mut self, style: Style, first: &str, from: &[i16], cells: &[&str], struck: bool) {
        let mark = if struck { " (taken back)" } else { "" };
        let all = cells.join("\t");
        self.plain.push_str(&format!("{first}\t{all}{mark}\n"));
        let starts: Vec<i16> = [0].iter().chain(from).copied().collect();
        let mut broken = Vec::new();
        for (at, text) in [first].iter().chain(cells).enumerate() {
            let end = starts.get(at + 1).copied().unwrap_or(self.wide() + 6);
            let bytes = self.bytes(text);
            let most = style.measure(end - starts[at] - 6);
            broken.push(lines(&bytes, i32::from(style.size()), most));
        }
        let rows = broken.iter().map(Vec::len).max().unwrap_or(1);
        for row in 0..rows {
            self.down(style.leading());
            for (start, cell) in starts.iter().zip(&broken) {
                let Some(line) = cell.get(row).filter(|line| !line.is_empty()) else {
                    continue;
                };
                let (x, at) = (MARGIN + start, self.at);
                self.put(style, x, at, line);
                if struck {
                    self.strike(style, x, at, line);
                }
            }
        }
    }

    fn strike(&mut self, style: Style, x: i16, at: i16, line: &[u8]) {
        let long = width(line, i32::from(style.size())) / 1_000;
        let end = x + i16::try_from(long).unwrap_or_default();
        let at = f32::from(at + style.size() / 3);
        let page = self.page();
        page.set_line_width(1.0);
        page.move_to(f32::from(x), at);
        page.line_to(f32::from(end), at);
        page.stroke();
    }

    /// Places for a pen, beside each other; each says below its line who signs there.
    pub fn signed(&mut self, who: &[&str]) {
        self.down(34);
        let count = i16::try_from(who.len()).unwrap_or(1).max(1);
        let (gap, style) = (24, Style::Small);
        let wide = (self.wide() - gap * (count - 1)) / count;
        for (place, text) in (0..count).zip(who) {
            self.plain
                .push_str(&format!("{text}: ____________________\n"));
            let (left, at) = (MARGIN + place * (wide + gap), self.at);
            let bytes = self.bytes(text);
            let page = self.page();
            page.set_line_width(0.7);
            page.move_to(f32::from(left), f32::from(at + style.leading()));
            page.line_to(f32::from(left + wide), f32::from(at + style.leading()));
            page.stroke();
            self.put(style, left, at, &bytes);
        }
    }

    /// Below the margin of each page: which record it is, and which page of how many.
    fn number_pages(&mut self, title: &str) {
        let count = self.pages.len();
        let style = Style::Small;
        for nth in 1..=count {
            let text = format!("{title}, page {nth} of {count}");
            self.plain.push_str(&format!("{text}\n"));
            let bytes = self.bytes(&text);
            let long = width(&bytes, i32::from(style.size())) / 1_000;
            let left = self.size.0 - MARGIN - i16::try_from(long).unwrap_or_default();
            self.put_on(nth - 1, style, left.max(MARGIN), MARGIN - 18, &bytes);
        }
    }

    /// The square that opens the record, with a text beside it. A module is two points.
    pub fn beside_square(&mut self, square: &Square, text: &str) {
        self.plain.push_str(&format!("{text}\n"));
        let side = i16::try_from(square.side).unwrap_or_default() * 2;
        let bytes = self.bytes(text);
        let style = Style::Small;
        let most = style.measure(self.wide() - side - 10);
        let broken = lines(&bytes, i32::from(style.size()), most);
        // The prints of a very long visit take more room than the square.
        let rows = i16::try_from(broken.len()).unwrap_or_default();
        self.down(side.max(60).max(14 + rows.saturating_mul(style.leading())));
        let bottom = self.at;
        let top = bottom + side.max(14 + rows.saturating_mul(style.leading()));
        for (x, y, long) in &square.runs {
            let points = |modules: usize| i16::try_from(modules * 2).unwrap_or_default();
            let (x, y, long) = (points(*x), points(*y), points(*long));
            let page = self.page();
            page.rect(
                f32::from(MARGIN + x),
                f32::from(top - y - 2),
                f32::from(long),
                2.0,
            );
            page.fill_nonzero();
        }
        let mut at = top - 14;
        for line in broken {
            self.put(style, MARGIN + side + 10, at, &line);
            at -= style.leading();
        }
        self.at = bottom;
    }

    /// The file: its pages, and the text as it is beside them.
    pub fn finish(mut self, title: &str) -> Vec<u8> {
        if self.lacks {
            let said = "Letters that the fonts of this sheet lack stand as their numbers, such as \
                        [U+4E2D]; record.txt, which this file carries, has the text as it is.";
            self.line(Style::Small, said);
        }
        self.number_pages(title);
        let mut pdf = Pdf::new();
        let [catalog, tree, regular, bold, text, spec, info] = [1, 2, 3, 4, 5, 6, 7].map(Ref::new);
        let numbered = |first: i32, at: usize| {
            let at = i32::try_from(at).unwrap_or_default();
            Ref::new(first + 2 * at)
        };
        let count = self.pages.len();
        let mut root = pdf.catalog(catalog);
        root.pages(tree);
        root.lang(TextStr("en"));
        root.names()
            .embedded_files()
            .names()
            .insert(Str(b"record.txt"), spec);
        root.finish();
        pdf.document_info(info).title(TextStr(title));
        let kids = (0..count).map(|at| numbered(8, at));
        let pages = i32::try_from(count).unwrap_or_default();
        pdf.pages(tree).kids(kids).count(pages);
        let (wide, high) = (f32::from(self.size.0), f32::from(self.size.1));
        for (at, content) in self.pages.into_iter().enumerate() {
            let mut page = pdf.page(numbered(8, at));
            page.media_box(Rect::new(0.0, 0.0, wide, high));
            page.parent(tree).contents(numbered(9, at));
            let mut resources = page.resources();
            let mut fonts = resources.fonts();
            fonts.pair(Name(b"F1"), regular).pair(Name(b"F2"), bold);
            fonts.finish();
            resources.finish();
            page.finish();
            pdf.stream(numbered(9, at), &content.finish());
        }
        for (id, name) in [(regular, "Helvetica"), (bold, "Helvetica-Bold")] {
            let mut font = pdf.type1_font(id);
            font.base_font(Name(name.as_bytes()));
            font.encoding_predefined(Name(b"WinAnsiEncoding"));
        }
        pdf.embedded_file(text, self.plain.as_bytes())
            .subtype(Name(b"text/plain"));
        let mut file = pdf.file_spec(spec);
        file.path(Str(b"record.txt"));
        file.unic_file(TextStr("record.txt"));
        file.embedded_file_with_unicode(text);
        file.finish();
        pdf.finish()
    }
}
