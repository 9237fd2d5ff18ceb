"""Reading rule sets and the local layers over them; the dated rows of a value.

A set is read from its TOML file, a layer from the JSON of a situation. A layer may only tighten; a
row that is looser needs `loosens` and a reason. Which row is in force is asked with a band and a
day, and the highest layer whose `where` holds goes first.
"""
import functools
import glob
import os
import tomllib
from fractions import Fraction

from .tables import TOP, POUND

FOLDERS = ("reports/rules",)
LAYERS = {"national": 0, "state": 1, "local": 2, "site": 3}
WORDS = ("month_day", "date")


class RuleError(Exception):
    """What is wrong with a rule file or a layer, in words."""


class Gap(RuleError):
    """A value is asked for on a day for which it has no row."""


class Value:
    """One named number of the law: its unit, its direction, its dated rows."""

    def __init__(self, name, table):
        self.name, self.unit = name, table["unit"]
        self.stricter = table.get("stricter", "lower")
        self.rows = table["rows"]

    def number(self, text):
        return read_number(self.unit, text)


@functools.lru_cache(maxsize=None)
def read_number(unit, text):
    """As the unit reads it: text for days of the year, kilograms for masses."""
    if unit in WORDS:
        return text
    return Fraction(text) * POUND if unit == "lb" else Fraction(text)


def row_in_force(rows, band, day):
    """The newest row of the band that has begun, or None."""
    found = None
    for row in rows:
        fits = "for" not in row or band in row["for"]
        if fits and row["from"] <= day.isoformat() and (not found or row["from"] > found["from"]):
            found = row
    return found


class RuleSet:
    """One act, and the layers laid over it."""

    def __init__(self, table):
        self.table, self.id = table, table["id"]
        self.values = {name: Value(name, value) for name, value in table["values"].items()}
        self.month_end = table.get("month_end", "last_day")
        self.gwp_basis, self.year_starts = table.get("gwp_basis"), table.get("year_starts")
        self.duties = table.get("duties", [])
        self.limits = table.get("limits", [])
        self.leak_rate = table.get("leak_rate")
        self.layers = []

    def duty(self, name):
        return next(duty for duty in self.duties if duty["name"] == name)

    def lay_over(self, layer):
        """Adds a layer, or says why it cannot be."""
        for name, value in layer["values"].items():
            if name not in self.values:
                raise RuleError(f"no value named '{name}'; there are: "
                                + ", ".join(sorted(self.values)))
            for row in value["rows"]:
                self.must_tighten(layer, self.values[name], row, value["rows"])
        self.layers.append(layer)
        self.layers.sort(key=lambda known: -LAYERS[known["layer"]])

    def must_tighten(self, layer, value, row, rows):
        if row["is"] == "none" or (row.get("loosens") and row.get("reason")):
            return
        for base in value.rows:
            if base["is"] == "none" or not shares_band(row, base):
                continue
            if not together(row, rows, base, value.rows):
                continue
            ours, theirs = value.number(row["is"]), value.number(base["is"])
            if ours > theirs if value.stricter == "lower" else ours < theirs:
                raise RuleError(
                    f"overlay {layer['id']}: values.{value.name}: {row['is']} from "
                    f"{row['from']} is looser than {base['is']} of {self.id}; a layer may only "
                    "tighten (or say loosens = true with a reason)")


def shares_band(row, base):
    return "for" not in row or "for" not in base or set(row["for"]) & set(base["for"])


def together(row, rows, base, base_rows):
    """Whether both rows are in force on some day."""
    start = max(row["from"], base["from"])
    return all(start < end_of_row(one, others)
               for one, others in ((row, rows), (base, base_rows)))


def end_of_row(row, rows):
    later = [other["from"] for other in rows
             if other["from"] > row["from"] and shares_band(row, other)]
    return min(later, default="9999-12-31")


def read_sets():
    """Every shipped set by its id, as tables."""
    result = {}
    for folder in FOLDERS:
        for path in sorted(glob.glob(os.path.join(TOP, folder, "*.toml"))):
            with open(path, "rb") as file:
                table = tomllib.load(file)
            result[table["id"]] = table
    return result


def in_force(block, day):
    """Whether a block with `from` and `until` holds on a day."""
    return (block.get("from", "0001-01-01") <= day.isoformat()
            <= block.get("until", "9999-12-31"))
