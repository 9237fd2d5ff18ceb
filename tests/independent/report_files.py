#!/usr/bin/env python3
"""Reads report files with software that is not ours.

    report_files.py FOLDER YEAR BASE TOKEN

FOLDER holds the files that report_files.sh took, BASE is a service of the same book. What is compared
with what:

* bytes: a second run, the other engine (RFC 4180 for their form, read by Python's `csv`)
* descriptions: PyPI `csvw`, an implementation of "Metadata Vocabulary for Tabular Data" and "Model for
  Tabular Data" (W3C Recommendations of 2015-12-17); it finds them by itself, beside a file (section 5.3)
  and by the header Link over HTTP (section 5.2), and must refuse files with planted faults
* evidence: contributions added up by Python's `decimal`
* files for spreadsheets: Python's `csv`, cell by cell against the file for programs
"""

import csv
import http.server
import io
import json
import shutil
import sys
import threading
import urllib.request
from decimal import Decimal
from pathlib import Path

from counting import check, closed
from csvw import CSVW

REPORTS = (
    "appliance-year", "additions", "follow-ups", "inspections-due", "yearly-loss", "disposals-by-month",
    "releases", "yearly-co2e", "mass-balance",
)  # fmt: skip
UNITS = ("lb", "kg")


def rows(text, **how):
    return list(csv.reader(io.StringIO(text, newline=""), strict=True, **how))


def is_valid(place):
    """What csvw says of a file or address; no description found is not valid."""
    try:
        table = CSVW(str(place), validate=True)
        if table.no_metadata:
            return False, "no description was found"
        good = table.is_valid
    except Exception as error:  # The library raises where it cannot even begin.
        return False, repr(error)
    return good, [str(warning.message) for warning in table.warnings][:3]


def datatype(column):
    kind = column["datatype"]
    return kind["base"] if isinstance(kind, dict) else kind


def bytes_are_the_same(folder, name, unit):
    file = f"{name}-{unit}"
    for ending in (".csv", ".evidence.csv", ".csv-metadata.json"):
        one, two = (folder / "sqlite" / f"{again}{file}{ending}" for again in ("", "again-"))
        here, again = one.read_bytes(), two.read_bytes()
        if ending.endswith("json"):
            # The one thing that names the file itself.
            again = again.replace(f"again-{file}.csv".encode(), f"{file}.csv".encode())
        check(f"{file}{ending}: the same bytes again", here == again)
        there = folder / "postgres" / f"{file}{ending}"
        if not there.exists():
            continue
        there = there.read_bytes()
        if ending.endswith("json"):
            # Each book has salts of its own, so each has a root of its own.
            here, there = json.loads(here), json.loads(there)
            roots = [note["notes"][0].pop("root_hash") for note in (here, there)]
            check(f"{file}: two books, two roots", roots[0] != roots[1])
        check(f"{file}{ending}: the same bytes on the other engine", here == there)


def form_is_that_of_rfc_4180(folder, name, unit):
    raw = (folder / "sqlite" / f"{name}-{unit}.csv").read_bytes()
    text = raw.decode("utf-8")
    table = rows(text)
    columns = description(folder, name, unit)["tableSchema"]["columns"]
    what = f"{name}-{unit}"
    check(f"{what}: no byte-order mark", not raw.startswith(b"\xef\xbb\xbf"))
    check(f"{what}: every line ends with CRLF", raw.count(b"\n") == raw.count(b"\r\n") and raw.endswith(b"\r\n"))
    check(f"{what}: the header is the one described", table[0] == [column["name"] for column in columns])
    check(f"{what}: rows as wide as the header", {len(row) for row in table} == {len(table[0])})
    check(f"{what}: the invented year has rows for it", len(table) > 1)
    return table, columns


def description(folder, name, unit):
    return json.loads((folder / "sqlite" / f"{name}-{unit}.csv-metadata.json").read_text())


def evidence_adds_up(folder, name, unit, table):
    """Of masses in kilograms exactly; pounds are printed with 14 decimals, so their sums may differ there."""
    sums = {}
    lines = rows((folder / "sqlite" / f"{name}-{unit}.evidence.csv").read_text())
    for row, _, figure, _, given in lines[1:]:
        sums[int(row), figure] = sums.get((int(row), figure), Decimal(0)) + Decimal(given)
    header, compared = table[0], 0
    for (row, figure), total in sums.items():
        if figure not in header:
            continue
        cell = table[row][header.index(figure)]
        slack = Decimal("1e-12") if unit == "lb" else Decimal(0)
        compared += 1
        if cell == "" or abs(Decimal(cell) - total) > slack:
            check(f"{name}-{unit}: row {row}, {figure}", False, f"{cell} is not {total}")
    check(f"{name}-{unit}: evidence of figures", compared > 0)


def spreadsheet_holds_the_same(folder, name, unit, table, columns):
    raw = (folder / "sqlite" / f"{name}-{unit}.semicolons").read_bytes()
    what = f"{name}-{unit} for spreadsheets"
    check(f"{what}: begins with a byte-order mark", raw.startswith(b"\xef\xbb\xbf"))
    found = rows(raw.decode("utf-8-sig"), delimiter=";")
    check(f"{what}: as many rows", len(found) == len(table))
    numbers = [datatype(column) in ("decimal", "integer") for column in columns]
    for at, (one, other) in enumerate(zip(table[1:], found[1:]), 2):
        for column, number, cell, shown in zip(columns, numbers, one, other):
            good = shown == cell.replace(".", ",") if number else shown in (cell, "'" + cell)
            good = good and (number or not shown.startswith(("=", "+", "-", "@", "\t", "\r")))
            if not good:
                check(f"{what}: row {at}, {column['name']}", False, f"{cell!r} became {shown!r}")


def planted_faults_are_found(folder):
    """A check that cannot fail is none: csvw must refuse what was broken on purpose."""
    broken = folder / "broken"
    broken.mkdir()
    source = folder / "sqlite" / "appliance-year-kg.csv"
    meta = source.with_name(source.name + "-metadata.json")

    def plant(what, table=None, told=None):
        place = broken / source.name
        shutil.copy(source, place)
        shutil.copy(meta, broken / meta.name)
        if table:
            place.write_text(table(place.read_text()), newline="")
        if told:
            document = json.loads(meta.read_text())
            told(document)
            (broken / meta.name).write_text(json.dumps(document))
        check(f"planted and found: {what}", not is_valid(place)[0])

    def columns(document):
        return {column["name"]: column for column in document["tableSchema"]["columns"]}

    lines = source.read_text().split("\n")
    at = lines[0].split(",").index("charged_kg")
    row = next(row for row in csv.reader(lines[1:]) if row[at])
    check("the copy itself is good", is_valid(source)[0])
    plant("a text in a column of masses", lambda text: text.replace(row[at], "much", 1))
    plant("a row twice, against the primary key", lambda text: text + lines[1] + "\n")
    plant("a wrong datatype", told=lambda document: columns(document)["site"].update(datatype="integer"))
    plant("a description of another file", told=lambda document: document.update(url="other.csv"))
    plant("another name in the header", lambda text: text.replace("charged_kg", "poured_kg", 1))


class Signed(http.server.BaseHTTPRequestHandler):
    """Passes requests on with the token, which csvw knows nothing of."""

    base = token = ""

    def do_GET(self):
        request = urllib.request.Request(self.base + self.path)
        request.add_header("Authorization", f"Bearer {self.token}")
        try:
            answer = urllib.request.urlopen(request)
        except urllib.error.HTTPError as error:
            answer = error
        self.send_response(answer.status)
        for name in ("Content-Type", "Link"):
            if name in answer.headers:
                self.send_header(name, answer.headers[name])
        self.end_headers()
        if self.command == "GET":
            self.wfile.write(answer.read())

    do_HEAD = do_GET

    def log_message(self, *_):
        pass


def descriptions_are_found_over_http(base, token, year):
    Signed.base, Signed.token = base, token
    proxy = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Signed)
    threading.Thread(target=proxy.serve_forever, daemon=True).start()
    address = f"http://127.0.0.1:{proxy.server_port}/api/v1/reports"
    for name in REPORTS:
        url = f"{address}/{name}.csv?year={year}&unit=kg"
        good, told = is_valid(url)
        check(f"{name}: its description is found by the link and valid", good, told)
        with urllib.request.urlopen(url) as answer:
            media = answer.headers["Content-Type"]
            check(f"{name}: media type", media == "text/csv; charset=utf-8; header=present", media)
    proxy.shutdown()


def main(folder, year, base, token):
    folder = Path(folder)
    for name in REPORTS:
        for unit in UNITS:
            bytes_are_the_same(folder, name, unit)
            table, columns = form_is_that_of_rfc_4180(folder, name, unit)
            good, told = is_valid(folder / "sqlite" / f"{name}-{unit}.csv")
            check(f"{name}-{unit}: valid CSV on the Web", good, told)
            evidence_adds_up(folder, name, unit, table)
            spreadsheet_holds_the_same(folder, name, unit, table, columns)
    planted_faults_are_found(folder)
    descriptions_are_found_over_http(base, token, year)
    return closed()


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
