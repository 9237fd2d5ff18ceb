#!/usr/bin/env python3
"""Imports workbooks that software which is not ours has made.

    workbook_imports.py PROGRAM

The same rows are written as CSV by Python's `csv`, as XLSX by PyPI `openpyxl` (ISO/IEC 29500, both
epochs of days, texts within the cells) and by PyPI `XlsxWriter` (texts in a part of their own, formulas
with the value kept beside them), as ODS by PyPI `odfpy` (ISO/IEC 26300), each imported into a book of
its own, and the books are compared entry by entry: what a leaf says (ids by their order, commitments by
their names) and the texts behind it. Then workbooks that must be refused, each with the words that name place and remedy;
those that no library makes are zipped by hand after the two standards. Both engines, where CLUSTER_URL
names PostgreSQL. The firm is invented; that 15 digits are what a spreadsheet keeps is Excel's published
limit; the limits of size are those of `tarebook import --help`.
"""

import datetime
import json
import os
import re
import subprocess
import sys
import tarfile
import tempfile
from pathlib import Path

import openpyxl
from openpyxl.utils.datetime import CALENDAR_MAC_1904

from counting import check, closed
from workbook_files import DAY, MOMENT, as_csv, as_ods, as_shared_texts, as_xlsx, rezipped

TABLES = {
    "appliances": [
        ["appliance", "site", "category", "refrigerant", "full_charge_lb", "commissioned_on", "serial"],
        ["HG-RACK-A", "Alder Street", "commercial_refrigeration", "R-448A", 210, DAY(2019, 5, 20), "00123"],
        ["=HG-1", "Alder Street", "commercial_refrigeration", "R-404A", 4.5, DAY(2020, 2, 29), "MAR-1"],
        ["'=HG-2", "Mühle, Tor 2", "comfort_cooling", "R-410A", 0.1, DAY(1904, 1, 2), "5\" <pipe> & co"],
        ["1234", "Alder Street", "comfort_cooling", "R-410A", 16.812346, DAY(2021, 12, 31), None],
    ],
    "cylinders": [
        ["cylinder", "refrigerant", "use", "capacity_lb", "tare_lb", "retest_on"],
        ["SUP-88231", "R-448A", "supply", 25, 8.3, DAY(2028, 6, 1)],
        ["REC-7", "R-410A", "recovery", 30.05, None, None],
    ],
    "movements": [
        ["movement_id", "occurred_at", "kind", "from", "to", "refrigerant", "mass_lb", "technician"],
        ["m-1", DAY(2025, 1, 1), "opening", None, "SUP-88231", "R-448A", 24, "osric"],
        ["m-2", MOMENT(2025, 7, 14, 11, 52), "charge", "SUP-88231", "HG-RACK-A", "R-448A", 14.5, "ines"],
        ["m-3", MOMENT(2025, 7, 14, 13, 7, 59), "charge", "SUP-88231", "HG-RACK-A", "R-448A", 0.1, "ines"],
        ["m-4", DAY(2025, 8, 2), "recover", "1234", "REC-7", "R-410A", 1.234568, "ines"],
    ],
}  # fmt: skip


# ---- the program ---------------------------------------------------------------------------------


class Place:
    """A database, with a book for each way the rows come."""

    def __init__(self, program, folder, engine):
        self.program, self.folder, self.engine = program, folder, engine
        self.where = ["--data", str(folder / "book")]
        if engine == "postgres":
            psql = str(Path(os.environ.get("PG_BINDIR", "")) / "psql")
            subprocess.run([psql, "-X", "-q", "-d", "postgres", "-c", "CREATE DATABASE workbook_imports"], check=True)
            address = os.environ["CLUSTER_URL"].rsplit("/", 1)[0] + "/workbook_imports"
            self.where = ["--database-url", address, "--keys", str(folder / "keys")]
            self.run("migrate", "--database-url", address, placed=False)
        (folder / "password").write_text("wobbling-thistle-kettle-94\n")

    def run(self, *arguments, placed=True):
        command = [self.program, *map(str, arguments), *(self.where if placed else [])]
        environment = {name: value for name, value in os.environ.items() if not name.startswith("TAREBOOK_")}
        return subprocess.run(command, capture_output=True, text=True, env=environment)

    def good(self, *arguments):
        done = self.run(*arguments)
        check(f"{self.engine}: {' '.join(map(str, arguments[:3]))}", done.returncode == 0, done.stderr)
        return done.stderr

    def book(self, name):
        self.good(
            "init", "--organisation", name, "--zone", "America/Denver",
            "--administrator", "juno@tamarack.example", "--password-file", self.folder / "password",
        )  # fmt: skip

    def entries(self, name):
        """What the leaves say, and the texts behind them, without what differs from book to book."""
        bundle = self.folder / f"{self.engine}-{name}.tar"
        self.good("export", "--out", bundle, "--organisation", name)
        ids, leaves, texts = {}, [], {}
        known = re.compile(r"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}")
        with tarfile.open(bundle) as tar:
            names = sorted(tar.getnames())
            for part in (name for name in names if name.startswith("tile/entries/")):
                rest = tar.extractfile(part).read()
                while rest:
                    size = int.from_bytes(rest[:2], "big")
                    leaf, rest = rest[2 : 2 + size].decode(), rest[2 + size :]
                    leaf = json.loads(known.sub(lambda found: ids.setdefault(found[0], f"id {len(ids)}"), leaf))
                    if leaf["via"] == "import" and leaf["kind"] != "import":
                        leaf["commit"] = sorted(leaf.get("commit", {}))
                        # Registers are booked when they are imported; a movement says its own time.
                        if "facts" in leaf["body"]:
                            del leaf["happened"]["time"]
                        leaves.append({key: leaf[key] for key in ("seq", "kind", "body", "happened", "commit")})
            for part in (name for name in names if name.startswith("disclosures/")):
                for line in tar.extractfile(part).read().decode().splitlines():
                    line = json.loads(line)
                    texts.setdefault(str(line), line)
        kept = {(leaf["seq"]) for leaf in leaves}
        said = sorted(
            (line["seq"], line["field"], line["value"]) for line in texts.values() if line["seq"] in kept
        )
        return leaves, said


# ---- what is good --------------------------------------------------------------------------------


def ways(folder):
    """How the same rows come: name, and file and options of each table."""
    csvs, semicolons, epochs, sheets = {}, {}, {}, {}
    for table, rows in TABLES.items():
        csvs[table] = (folder / f"{table}.csv", [])
        as_csv(csvs[table][0], rows)
        semicolons[table] = (folder / f"{table}-semicolons.csv", [])
        as_csv(semicolons[table][0], rows, ";")
        epochs[table] = (folder / f"{table}-1904.xlsx", [])
        as_xlsx(epochs[table][0], {table: rows}, CALENDAR_MAC_1904)
        sheets[table] = (folder / "all.xlsx", ["--sheet", table])
    as_xlsx(folder / "all.xlsx", {"Notes": [["Only words"]], **TABLES})
    as_ods(folder / "all.ods", {**TABLES, "Notes": [["Only words"]]})
    ods = {table: (folder / "all.ods", ["--sheet", table]) for table in TABLES}
    shared = {table: (folder / "shared.xlsx", ["--sheet", table]) for table in TABLES}
    as_shared_texts(folder / "shared.xlsx", TABLES)
    return {"csv": csvs, "xlsx": sheets, "xlsx 1904": epochs, "ods": ods, "semicolons": semicolons, "shared": shared}


def the_same_rows_give_the_same_entries(place):
    books = {}
    for name, files in ways(place.folder).items():
        place.book(name)
        for table, (path, options) in files.items():
            told = place.good("import", table, path, "--organisation", name, "--zone", "America/Denver", *options)
            count = len(TABLES[table]) - 1
            check(f"{place.engine}, {name}: {table}", f"{count} of {count} rows booked" in told, told)
            again = place.good("import", table, path, "--organisation", name, "--zone", "America/Denver", *options)
            check(f"{place.engine}, {name}: {table} again", "in the book already" in again, again)
        books[name] = place.entries(name)
    leaves, texts = books["csv"]
    # Four appliances at two sites, two cylinders, four movements by two people.
    check(f"{place.engine}: the CSV has its entries", len(leaves) == 14, len(leaves))
    tags = {text for _, field, text in texts if field == "facts.tag.0"}
    check(f"{place.engine}: and its texts", {"=HG-1", "'=HG-2", "1234", "SUP-88231", "ines"} <= tags, tags)
    for name, (other, said) in books.items():
        differ = [(a, b) for a, b in zip(leaves, other) if a != b]
        check(f"{place.engine}: {name} gives the entries of the CSV", other == leaves, differ[:1])
        differ = [(a, b) for a, b in zip(texts, said) if a != b]
        check(f"{place.engine}: {name} gives the texts of the CSV", said == texts, differ[:2])
    text_in_a_report_stays_a_text(place)


def text_in_a_report_stays_a_text(place):
    path = place.folder / f"{place.engine}-report.xlsx"
    place.good("report", "appliance-year", "--year", 2025, "--out", path, "--organisation", "xlsx")
    sheet = openpyxl.load_workbook(path)["appliance-year"]
    for tag in ("=HG-1", "'=HG-2", "1234"):
        cells = [cell for cell in sheet["A"] if cell.value == tag]
        check(f"{place.engine}: {tag} is a text", len(cells) == 1 and cells[0].data_type in ("s", "inlineStr"))
    typed_again = [cell.quotePrefix for cell in sheet["A"] if cell.value == "=HG-1"]
    check(f"{place.engine}: and stays one when it is typed again", typed_again == [True], typed_again)


# ---- what is refused -----------------------------------------------------------------------------

CYLINDERS = TABLES["cylinders"]
BOMB = 1 << 20


def changed(line, column, value):
    rows = [list(row) for row in CYLINDERS]
    rows[line][column] = value
    return rows


def refused(folder):
    """Name, options, a function that makes the file, and the words that must come."""

    def xlsx(rows=CYLINDERS, change=None, sheets=None):
        return lambda path: as_xlsx(path, sheets or {"cylinders": rows}, change=change)

    def with_parts(make, parts):
        return lambda path: (make(path), rezipped(path, parts))

    def ods(sheets=None, change=None):
        return lambda path: as_ods(path, sheets or {"cylinders": CYLINDERS}, change)

    def raw(content):
        return lambda path: path.write_bytes(content)

    two = {"one": CYLINDERS, "two": CYLINDERS}
    sheet, strings = "xl/worksheets/sheet1.xml", "xl/sharedStrings.xml"
    package = "EncryptedPackage".encode("utf-16-le")
    zeros = b"0" * BOMB
    repeated = b'<table:table-row table:number-rows-repeated="100000">'
    return [
        ("two.xlsx", [], xlsx(sheets=two), ["a workbook with 2: 'one', 'two'", "--sheet"]),
        ("two.ods", [], ods(two), ["a workbook with 2: 'one', 'two'", "--sheet"]),
        ("two.xlsx", ["--sheet", "three"], xlsx(sheets=two), ["one of the sheets 'one', 'two'", "'three'"]),
        ("text.csv", ["--sheet", "one"], lambda path: as_csv(path, CYLINDERS), ["a text file beside the sheet 'one'"]),
        ("cell.xlsx", [], xlsx(changed(2, 3, "much")), ["row 3, column capacity_lb (D3): expected a plain decimal", "'much'"]),
        ("cell.ods", [], ods({"c": changed(1, 5, "7/8/2025")}), ["row 2, column retest_on (F2)", "2025-07-08 (month first)"]),
        ("number.xlsx", [], xlsx(changed(1, 5, 45852)), ["row 2, column retest_on (F2)", "'45852'"]),
        ("time.xlsx", [], xlsx(changed(1, 5, datetime.time(11, 52))), ["row 2, column retest_on (F2)", "a time without a day"]),
        ("merged.xlsx", [], xlsx(change=lambda sheet: sheet.merge_cells("A2:A3")), ["row 2: expected single cells", "A2 to A3", "Unmerge"]),
        ("merged.ods", [], with_parts(ods(), {"content.xml": lambda xml: xml.replace(
            b"<table:table-cell office:value-type=\"string\">", b"<table:table-cell table:number-columns-spanned=\"2\" office:value-type=\"string\">", 1)}),
            ["expected single cells", "from A1"]),
        ("gap.xlsx", [], xlsx([*CYLINDERS[:2], [], CYLINDERS[2]]), ["row 3: expected a row of the table, came an empty row", "Delete it"]),
        ("gap.ods", [], ods({"c": [*CYLINDERS[:2], [], CYLINDERS[2]]}), ["row 3: expected a row of the table, came an empty row"]),
        ("title.xlsx", [], xlsx([[], *CYLINDERS]), ["row 1: expected a header in the first row", "an empty row 1"]),
        ("empty.xlsx", [], xlsx([]), ["an empty sheet"]),
        ("totals.xlsx", [], xlsx([*CYLINDERS, ["Total", None, None, 55.05]]), ["row 4", "a row of totals ('Total')"]),
        ("beyond.xlsx", [], xlsx([CYLINDERS[0], [*CYLINDERS[1], "note"]]), ["row 2, column G2: expected cells under the header only", "'note'"]),
        ("formula.xlsx", [], xlsx(changed(1, 3, "=20+5"), lambda sheet: setattr(sheet["D2"], "data_type", "f")),
            ["row 2, column capacity_lb (D2): expected a value, came a formula without one", "save it"]),
        ("error.xlsx", [], xlsx(changed(1, 3, "#N/A"), lambda sheet: setattr(sheet["D2"], "data_type", "e")),
            ["row 2, column capacity_lb (D2): expected a value, came '#N/A'"]),
        ("column.xlsx", [], xlsx(changed(0, 3, "capacity_lbs")), ["row 1, column capacity_lbs", "Did you mean 'capacity_lb'?"]),
        ("locked.xlsx", [], raw(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(1024) + package), ["a workbook without a password", "Save a copy without"]),
        ("locked.ods", [], with_parts(ods(), {"META-INF/manifest.xml": lambda xml: xml.replace(
            b"</manifest:manifest>", b"<manifest:encryption-data/></manifest:manifest>")}), ["a workbook without a password"]),
        ("old.xls", [], raw(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(1024)), ["one of the older format XLS"]),
        ("letter.odt", [], with_parts(ods(), {"mimetype": b"application/vnd.oasis.opendocument.text"}), ["another packed file"]),
        ("cut.xlsx", [], lambda path: (as_xlsx(path, {"c": CYLINDERS}), path.write_bytes(path.read_bytes()[:900])), ["one that cannot be read"]),
        ("large.xlsx", [], raw(b"PK\x03\x04" + bytes(11 * BOMB)), ["a workbook of at most 10 MiB"]),
        ("bomb.xlsx", [], with_parts(xlsx(), {sheet: lambda xml: xml.replace(b"</sheetData>", zeros * 200 + b"</sheetData>")}),
            ["unpack to at most 128 MiB", sheet]),
        ("bomb.ods", [], with_parts(ods(), {"content.xml": lambda xml: xml + zeros * 200}), ["unpack to at most 128 MiB"]),
        ("texts.xlsx", [], with_parts(xlsx(), {strings: lambda xml: xml + zeros * 20}), ["each other part to 16 MiB", strings]),
        ("count.xlsx", [], with_parts(lambda path: as_shared_texts(path, {"c": CYLINDERS}), {strings: lambda xml: re.sub(rb'uniqueCount="\d+"', b'uniqueCount="99999999999"', xml)}),
            ["more than 16 MiB in 'xl/sharedStrings.xml'"]),
        ("repeated.ods", [], with_parts(ods(), {"content.xml": lambda xml: repeated.join(xml.rsplit(b"<table:table-row>", 1))}),
            ["row 4, column cylinder (A4): expected a tag of its own", "and 99979 more"]),
        ("decimals.csv", [], lambda path: path.write_text("cylinder;refrigerant;use;capacity_lb\nREC-7;R-410A;recovery;30,05\n"),
            ["row 2, column capacity_lb: expected a plain decimal", "'30,05'", "point"]),
    ]  # fmt: skip


def bad_files_are_refused(place):
    place.book("refusals")
    folder = place.folder / "refused"
    folder.mkdir()
    size = len(place.entries("refusals")[0])
    for name, options, make, words in refused(folder):
        path = folder / name
        make(path)
        done = place.run("import", "cylinders", path, "--organisation", "refusals", *options)
        what = f"{place.engine}: {name} {' '.join(options)}"
        check(f"{what} is refused", done.returncode == 1, (done.returncode, done.stderr))
        for word in words:
            check(f"{what} says {word}", word in done.stderr, done.stderr)
    (place.folder / f"{place.engine}-refusals.tar").unlink()
    check(f"{place.engine}: nothing of it was booked", len(place.entries("refusals")[0]) == size == 0)


def memory_stays_small(place):
    """Files that unpack to hundreds of megabytes, and one that repeats a row 100 000 times, once more: by
    a small process, because a child is said to have had what its parent had."""
    count = "import resource, subprocess, sys; subprocess.run(sys.argv[1:], capture_output=True); " \
        "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss // 1024)"
    for name in ("large.xlsx", "bomb.xlsx", "bomb.ods", "texts.xlsx", "count.xlsx", "repeated.ods"):
        command = [place.program, "import", "cylinders", str(place.folder / "refused" / name), *place.where]
        command += ["--organisation", "refusals"]
        done = subprocess.run([sys.executable, "-c", count, *command], capture_output=True, text=True)
        most = int(done.stdout)
        # Without a file the program takes about 50; a workbook of 10 MiB stands in memory once.
        check(f"{place.engine}: {name} takes little memory", 20 < most < 128, f"{most} MiB")


def main(program):
    program = str(Path(program).resolve())
    for engine in ("sqlite", "postgres"):
        if engine == "postgres" and not os.environ.get("CLUSTER_URL"):
            print("!!!! Not on PostgreSQL: CLUSTER_URL is not set.")
            continue
        with tempfile.TemporaryDirectory() as folder:
            place = Place(program, Path(folder), engine)
            the_same_rows_give_the_same_entries(place)
            bad_files_are_refused(place)
            memory_stays_small(place)
    return closed()


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
