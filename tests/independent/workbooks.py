#!/usr/bin/env python3
"""Reads reports as workbooks with software that is not ours.

    workbooks.py FOLDER

FOLDER holds the files that report_files.sh took. What is compared with what:

* cells: PyPI `openpyxl` reads the workbook (ISO/IEC 29500), Python's `csv` the file for programs of the
  same report; what type a column has says its description (CSV on the Web)
* bytes: a second run of the program
* the other engine: the sheets with cells, whose bytes must be those of SQLite (the sheet that says what
  they are names the root of the book, and each book has one of its own)
"""

import csv
import datetime
import io
import json
import re
import sys
import zipfile
from pathlib import Path

import openpyxl
from counting import check, closed

REPORTS = (
    "appliance-year", "additions", "follow-ups", "inspections-due", "yearly-loss", "disposals-by-month",
    "releases", "yearly-co2e", "mass-balance",
)  # fmt: skip
NUMBERS = ("decimal", "integer")
EVIDENCE = ("integer", "string", "string", "integer", "decimal")


def plain(text):
    """A text without the guard of a CSV: one apostrophe before what a spreadsheet would execute."""
    return text[1:] if re.match(r"'+[=+\-@\t\r\n＝＋－＠﹦﹢﹣﹫−]", text) else text


def is_the_same(cell, kind, text):
    """Whether a cell holds what the CSV has, with its type and its decimals."""
    if text == "":
        return cell.value is None
    if kind in NUMBERS:
        decimals = len(text.partition(".")[2])
        shown = "0." + "0" * decimals if decimals else "0"
        return cell.data_type == "n" and float(cell.value) == float(text) and cell.number_format == shown
    if kind == "date":
        day = datetime.datetime.fromisoformat(text)
        return cell.is_date and cell.value == day and cell.number_format == "yyyy-mm-dd"
    return cell.data_type in ("s", "inlineStr") and cell.value == plain(text)


def sheet_is_the_file(what, sheet, path, kinds):
    table = list(csv.reader(io.StringIO(path.read_text(), newline=""), strict=True))
    cells = list(sheet.iter_rows())
    check(f"{what}: as many rows", len(cells) == len(table), f"{len(cells)} not {len(table)}")
    check(f"{what}: the same header", [cell.value for cell in cells[0]] == table[0])
    wrong = [
        f"{cell.coordinate} {cell.data_type} {cell.value!r} {cell.number_format} not {text!r}"
        for row, line in zip(cells[1:], table[1:])
        for cell, kind, text in zip(row, kinds, line)
        if not is_the_same(cell, kind, text)
    ]
    check(f"{what}: every cell", not wrong, wrong[:3])
    check(f"{what}: as wide", sheet.max_column == len(table[0]))
    check(f"{what}: the header stays in sight", sheet.freeze_panes == "A2")
    check(f"{what}: and is on every page", sheet.print_title_rows == "$1:$1")
    check(f"{what}: landscape", sheet.page_setup.orientation == "landscape")
    for number, name in enumerate(table[0], 1):
        # Neighbours of one width share a description.
        widths = [one.width for one in sheet.column_dimensions.values() if one.min <= number <= one.max]
        check(f"{what}: {name} is wide enough", len(widths) == 1 and widths[0] >= len(name), widths)
    return len(table) - 1


def said(book):
    return [cell for row in book["Read me"].iter_rows(values_only=True) for cell in row if cell is not None]


def report(folder, name, unit):
    what = f"{name}-{unit}.xlsx"
    path = folder / "sqlite" / what
    description = json.loads((folder / "sqlite" / f"{name}-{unit}.csv-metadata.json").read_text())
    note, columns = description["notes"][0], description["tableSchema"]["columns"]
    kinds = [kind["base"] if isinstance(kind := column["datatype"], dict) else kind for column in columns]
    book = openpyxl.load_workbook(path)
    check(f"{what}: its sheets", book.sheetnames == [name, "evidence", "Read me"], book.sheetnames)
    rows = sheet_is_the_file(what, book[name], folder / "sqlite" / f"{name}-{unit}.csv", kinds)
    evidence = folder / "sqlite" / f"{name}-{unit}.evidence.csv"
    rows += sheet_is_the_file(f"{what}, evidence", book["evidence"], evidence, EVIDENCE)
    texts = said(book)
    everything = "\n".join(texts)
    check(f"{what}: names the root", note["root_hash"] in everything and str(note["as_of"]) in everything)
    check(f"{what}: names the organisation", "Tamarack Ridge Mechanical" in texts)
    check(f"{what}: says the period", f"{note['year']}-01-01 to {note['judged_on']}" in texts, texts[:12])
    for rules in note["rule_sets"]:
        check(f"{what}: names {rules['id']}", f"{rules['id']} ({rules['version']})" in texts)
    for column in columns:
        check(f"{what}: says what {column['name']} is", column["name"] in texts and column["dc:description"] in texts)
        if "schema:unitText" in column:
            check(f"{what}: unit of {column['name']}", column["schema:unitText"] in texts)
    check(f"{what}: no clock in it", book.properties.created == datetime.datetime(1980, 1, 1))
    check(f"{what}: the same bytes again", path.read_bytes() == (folder / "sqlite" / f"again-{what}").read_bytes())
    there = folder / "postgres" / what
    for part in ("xl/worksheets/sheet1.xml", "xl/worksheets/sheet2.xml"):
        here = zipfile.ZipFile(path).read(part)
        check(f"{what}: no formula in {part}", b"<f" not in here)
        if there.exists():
            check(f"{what}: {part} on the other engine", zipfile.ZipFile(there).read(part) == here)
    return rows


def main(folder):
    folder = Path(folder)
    rows = sum(report(folder, name, unit) for name in REPORTS for unit in ("lb", "kg"))
    check("enough rows were compared", rows > 1000, rows)
    return closed()


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
