"""Masses as typed, the refrigerant table and the substance lists.

Masses are exact fractions of a kilogram (the pound is 0.45359237 kg, NIST SP 811 appendix B). The
two tables are read from the repository, each once.
"""
import csv
import functools
import os
import re
from fractions import Fraction

TOP = os.path.normpath(os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", ".."))
POUND = Fraction("0.45359237")
KILOGRAMS = {"kg": Fraction(1), "g": Fraction(1, 1000), "lb": POUND, "oz": POUND / 16}
GWP_COLUMN = {"AR4": "gwp_ar4", "AR5": "gwp_ar5", "EU-2024/573": "gwp_eu_2024_573",
              "US-84.64": "gwp_us_84_64"}


@functools.lru_cache(maxsize=None)
def read_mass(text):
    """`100 lb`, `5 lb 1 oz`, `2.395 kg` as kilograms."""
    part = r"([0-9.]+)\s*(kg|g|lb|oz)"
    parts = re.findall(part, text)
    if not parts or re.sub(part + r"|\s", "", text):
        raise ValueError(f"not a mass: {text}")
    return sum(Fraction(number) * KILOGRAMS[unit] for number, unit in parts)


@functools.lru_cache(maxsize=None)
def refrigerants():
    path = os.path.join(TOP, "reports", "data", "refrigerants.csv")
    with open(path, encoding="utf-8", newline="") as file:
        return {row["number"]: row for row in csv.DictReader(file)}


@functools.lru_cache(maxsize=None)
def substance_lists():
    """(list, designation) -> rows."""
    path = os.path.join(TOP, "reports", "data", "substance-lists.csv")
    result = {}
    with open(path, encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            result.setdefault((row["list"], row["refrigerant"]), []).append(row)
    return result


def gwp(designation, basis):
    """The value of the basis, or None where the table has none."""
    text = refrigerants()[designation][GWP_COLUMN[basis]]
    return Fraction(text) if text else None


def on_list(name, designation, day, column):
    """Whether a list of that day says yes in the column `contains` or `only`."""
    if not any(known == name for known, _ in substance_lists()):
        raise ValueError(f"no substance list named {name}")
    for row in substance_lists().get((name, designation), ()):
        begun = not row["from"] or row["from"] <= day.isoformat()
        over = row["until"] and row["until"] < day.isoformat()
        if begun and not over and row[column] == "yes":
            return True
    return False
