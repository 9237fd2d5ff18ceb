//! Cells of OpenDocument (ISO/IEC 26300), read as they come.
//!
//! The elements are told by their usual names, as every program writes them. A cell or a row can be
//! repeated by a count alone, so that a small file may hold a million cells: nothing is kept of them.

use super::values::{Value, iso_moment, number};
use super::{Take, Wrong};
use crate::actions::import::table::{Flow, cell_name};
use quick_xml::escape::resolve_xml_entity;
use quick_xml::events::{BytesStart, Event};
use quick_xml::{Reader, XmlVersion};
use std::io::{BufReader, Cursor, Read};
use zip::ZipArchive;

/// Rows and columns of the largest sheet that programs make.
const ROWS: u64 = 1_048_576;
const COLUMNS: usize = 16_384;

/// A workbook.
pub struct Book<'b> {
    pub(super) bytes: &'b [u8],
    /// The names of its sheets.
    pub sheets: Vec<String>,
}

impl<'b> Book<'b> {
    pub fn open(bytes: &'b [u8]) -> Result<Book<'b>, Wrong> {
        let mut sheets = Vec::new();
        content(bytes, |xml| {
            while let Some(start) = xml.start()? {
                if start.name().as_ref() == "table:table" {
                    sheets.push(attribute(&start, "table:name")?.unwrap_or_default());
                    let end = start.to_end().into_owned();
                    xml.skip(&end)?;
                }
            }
            Ok(())
        })?;
        Ok(Book { bytes, sheets })
    }

    pub fn walk(&mut self, sheet: &str, take: &mut dyn Take) -> Result<(), Wrong> {
        content(self.bytes, |xml| {
            while let Some(start) = xml.start()? {
                if start.name().as_ref() != "table:table" {
                    continue;
                }
                if attribute(&start, "table:name")?.unwrap_or_default() == sheet {
                    return rows(xml, take);
                }
                let end = start.to_end().into_owned();
                xml.skip(&end)?;
            }
            Ok(())
        })
    }
}

/// Reads the part that holds the sheets.
fn content(
    bytes: &[u8],
    with: impl FnOnce(&mut Xml<&mut dyn Read>) -> Result<(), Wrong>,
) -> Result<(), Wrong> {
    let mut archive = ZipArchive::new(Cursor::new(bytes)).map_err(|why| Wrong::damaged(&why))?;
    let mut part = archive
        .by_name("content.xml")
        .map_err(|why| Wrong::damaged(&why))?;
    let mut reader = Reader::from_reader(BufReader::new(&mut part as &mut dyn Read));
    reader.config_mut().expand_empty_elements = true;
    with(&mut Xml {
        reader,
        buffer: Vec::new(),
    })
}

/// The elements of the part.
struct Xml<R: Read> {
    reader: Reader<BufReader<R>>,
    buffer: Vec<u8>,
}

impl<R: Read> Xml<R> {
    fn next(&mut self) -> Result<Event<'static>, Wrong> {
        self.buffer.clear();
        let event = self.reader.read_event_into(&mut self.buffer);
        event
            .map(Event::into_owned)
            .map_err(|why| Wrong::damaged(&why))
    }

    /// The next element that begins; `None`: the end of the part.
    fn start(&mut self) -> Result<Option<BytesStart<'static>>, Wrong> {
        loop {
            match self.next()? {
                Event::Start(start) => return Ok(Some(start)),
                Event::Eof => return Ok(None),
                _ => {}
            }
        }
    }

    /// Goes behind the end of an element that has begun.
    fn skip(&mut self, end: &quick_xml::events::BytesEnd<'_>) -> Result<(), Wrong> {
        self.buffer.clear();
        let skipped = self.reader.read_to_end_into(end.name(), &mut self.buffer);
        skipped.map(|_| ()).map_err(|why| Wrong::damaged(&why))
    }
}

/// An attribute of an element.
fn attribute(element: &BytesStart<'_>, name: &str) -> Result<Option<String>, Wrong> {
    for attribute in element.attributes() {
        let attribute = attribute.map_err(|why| Wrong::damaged(&why))?;
        if attribute.key.as_ref() == name {
            let value = attribute.normalized_value(XmlVersion::Implicit1_0);
            let value = value.map_err(|why| Wrong::damaged(&why))?;
            return Ok(Some(value.into_owned()));
        }
    }
    Ok(None)
}

/// A count in an attribute, 1 where it is not there.
fn count(element: &BytesStart<'_>, name: &str) -> Result<u64, Wrong> {
    let Some(text) = attribute(element, name)? else {
        return Ok(1);
    };
    text.parse()
        .map_err(|_| Wrong::damaged(&format!("{name}={text}")))
}

/// A cell of a row, with how often it is repeated.
struct Cell {
    column: usize,
    times: usize,
    value: Value<'static>,
}

/// Hands over the rows of a sheet, whose element has begun.
fn rows(xml: &mut Xml<&mut dyn Read>, take: &mut dyn Take) -> Result<(), Wrong> {
    let mut row = 1_u64;
    loop {
        match xml.next()? {
            Event::Start(start) if start.name().as_ref() == "table:table-row" => {
                let times = count(&start, "table:number-rows-repeated")?;
                let cells = cells(xml, row)?;
                // Below the last row stands one empty row, repeated to the end of the sheet.
                if !cells.is_empty() && row.saturating_add(times) > ROWS + 1 {
                    return Err(Wrong::damaged(&"more rows than a sheet has"));
                }
                for at in row..row + if cells.is_empty() { 0 } else { times } {
                    if hand_over(&cells, at, take)? == Flow::Stop {
                        return Ok(());
                    }
                }
                row = row.saturating_add(times);
            }
            Event::End(end) if end.name().as_ref() == "table:table" => return Ok(()),
            Event::Eof => return Err(Wrong::damaged(&"it ends within a sheet")),
            _ => {}
        }
    }
}

fn hand_over(cells: &[Cell], row: u64, take: &mut dyn Take) -> Result<Flow, Wrong> {
    for cell in cells {
        for at in cell.column..cell.column + cell.times {
            if take.cell(row, at, cell.value.clone())? == Flow::Stop {
                return Ok(Flow::Stop);
            }
        }
    }
    Ok(Flow::Go)
}

/// The cells of a row that are not empty.
fn cells(xml: &mut Xml<&mut dyn Read>, row: u64) -> Result<Vec<Cell>, Wrong> {
    let (mut cells, mut column) = (Vec::new(), 0_usize);
    loop {
        match xml.next()? {
            Event::Start(start) if start.name().as_ref() == "table:table-cell" => {
                let times = count(&start, "table:number-columns-repeated")?;
                let times = usize::try_from(times).unwrap_or(usize::MAX);
                for name in ["table:number-columns-spanned", "table:number-rows-spanned"] {
                    if count(&start, name)? > 1 {
                        let place = format!("from {}", cell_name(column, row));
                        return Err(Wrong::merged(row, &place));
                    }
                }
                if let Some(value) = value(xml, &start)? {
                    if column.saturating_add(times) > COLUMNS {
                        return Err(Wrong::damaged(&"more columns than a sheet has"));
                    }
                    cells.push(Cell {
                        column,
                        times,
                        value,
                    });
                }
                column = column.saturating_add(times);
            }
            Event::Start(start) if start.name().as_ref() == "table:covered-table-cell" => {
                return Err(Wrong::merged(row, &cell_name(column, row)));
            }
            Event::End(end) if end.name().as_ref() == "table:table-row" => return Ok(cells),
            Event::Eof => return Err(Wrong::damaged(&"it ends within a row")),
            _ => {}
        }
    }
}

/// What stands in a cell, up to its end; `None`: nothing.
fn value(
    xml: &mut Xml<&mut dyn Read>,
    cell: &BytesStart<'_>,
) -> Result<Option<Value<'static>>, Wrong> {
    let shown = paragraphs(xml)?;
    if attribute(cell, "calcext:value-type")?.as_deref() == Some("error") {
        return Ok(Some(Value::error(&shown)));
    }
    let of = |name: &str| attribute(cell, name);
    let value = match of("office:value-type")?.as_deref() {
        Some("float" | "percentage" | "currency") => {
            let written = of("office:value")?.unwrap_or_default();
            let float = written
                .parse::<f64>()
                .ok()
                .filter(|float| float.is_finite());
            let float = float.ok_or_else(|| Wrong::damaged(&format!("the number '{written}'")))?;
            Value::Text(number(float).into())
        }
        Some("date") => {
            let written = of("office:date-value")?.unwrap_or_default();
            Value::Text(iso_moment(&written).into())
        }
        Some("time") => Value::length_of_time(),
        Some("boolean") => Value::truth(of("office:boolean-value")?.as_deref() == Some("true")),
        Some("string") => Value::Text(of("office:string-value")?.unwrap_or(shown).into()),
        // A type of a later edition: what is shown is all that can be known of it.
        Some(_) => Value::Text(shown.into()),
        None if of("table:formula")?.is_some() => Value::without_value(),
        None if !shown.is_empty() => Value::Text(shown.into()),
        None => return Ok(None),
    };
    Ok(Some(value).filter(|value| *value != Value::Text("".into())))
}

/// The paragraphs of a cell as a text, up to the end of the cell. Notes beside it are no part of it.
fn paragraphs(xml: &mut Xml<&mut dyn Read>) -> Result<String, Wrong> {
    let (mut text, mut depth, mut first) = (String::new(), 0_u32, true);
    loop {
        match xml.next()? {
            Event::Start(start) => match start.name().as_ref() {
                "office:annotation" | "draw:frame" | "draw:custom-shape" => {
                    let end = start.to_end().into_owned();
                    xml.skip(&end)?;
                }
                name => {
                    depth += 1;
                    match name {
                        "text:p" if !std::mem::take(&mut first) => text.push('\n'),
                        "text:line-break" => text.push('\n'),
                        "text:tab" => text.push('\t'),
                        "text:s" => {
                            let blanks = count(&start, "text:c")?.min(1_000) as usize;
                            text.push_str(&" ".repeat(blanks));
                        }
                        _ => {}
                    }
                }
            },
            // Between paragraphs there is nothing but indents.
            Event::Text(piece) if depth > 0 => text.push_str(&piece.xml10_content()),
            Event::CData(piece) if depth > 0 => text.push_str(&piece.xml10_content()),
            Event::GeneralRef(entity) => match resolve_xml_entity(entity.as_ref()) {
                Some(known) => text.push_str(known),
                None => {
                    let letter = entity.resolve_char_ref().ok().flatten();
                    let shown = entity.as_ref();
                    text.push(letter.ok_or_else(|| Wrong::damaged(&format!("&{shown};")))?);
                }
            },
            Event::End(_) if depth == 0 => return Ok(text),
            Event::End(_) => depth -= 1,
            Event::Eof => return Err(Wrong::damaged(&"it ends within a cell")),
            _ => {}
        }
    }
}
