#!/usr/bin/env python3
"""An independent, slow computation of the reports `appliance-year` and `additions`.

    leak_report.py appliance-year|additions --fleet DIR --year 2023 --unit lb|kg|g|ug
                   --netting visit|gross [--thresholds flat|flat-leaves-out]

Written from the definitions (40 CFR 82.152 for the two methods; the project's own words for
netting, order and printing), never from the program. It keeps whole histories in memory, uses
exact fractions and dates of the standard library, and works every sum out anew each time.

How the definitions were read
* An addition belongs to one visit, or, without a visit, to one day. A day without visit is judged
  once, with everything charged that day less (netting `visit`) everything recovered that day.
* A visit is judged at each of its charges ("step"): charged so far less recovered so far, dated
  that day. A later step supersedes the figure, never the start: a visit that ends without a figure
  is no addition and resets no days, and has a row (of mass 0) only if a step had been over. Where
  entries of a visit lie more than 7 days apart, the visit is split.
* Additions that share a day are one addition: the days are counted from before its first step.
* Annualised: figure so far / full charge x 365 / days, days from the last step of an earlier
  addition, at most 365; without one, from the day of installation; 0 days are 365.
* Rolling: what was added in (d - 365, d] / full charge; each step counts with what it adds, on
  its own day. What a later step takes back comes off the newest steps of the same visit before it
  (never the start): no window holds less than nothing of a visit, or less than a shorter one.
* A row shows the figures of the last step, dated by the first step over the limit by either
  method, else by the last; it is over when one of its steps was.
* A year is judged on its 31 December. A visit that goes on into the next year has a row in both,
  each with the mass that its steps of that year added.
* `first_over_on` is the first day over by either method.
* Reasons that a rule leaves out (thresholds `flat-leaves-out`): installation and after_retrofit
  wholly; seasonal up to what was recovered as seasonal in the 365 days before and not yet put
  back.
"""
import argparse
import csv
import os
import re
import sys
from collections import defaultdict
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from fractions import Fraction
from itertools import accumulate

# One step is 10^-11 g. The pound is exactly 453.59237 g (NIST SP 811, appendix B).
STEPS = {"g": Fraction(10**11)}
STEPS["kg"] = STEPS["g"] * 1000
STEPS["mg"] = STEPS["g"] / 1000
STEPS["ug"] = STEPS["g"] / 10**6
STEPS["lb"] = STEPS["g"] * Fraction("453.59237")
STEPS["oz"] = STEPS["lb"] / 16

# The invented thresholds of tests/load/flat-thresholds.toml, percent.
FLAT = {"commercial_refrigeration": 20, "industrial_process": 30, "comfort_cooling": 10}

# Entries of one instant: what was taken out counts before what was put in.
RANK = {"opening": 0, "recover": 1, "charge": 2}


@dataclass
class Movement:
    """Refrigerant into (+) or out of (-) one appliance."""
    day: date
    time: str
    kind: str
    refrigerant: str
    mass: int
    visit: str
    reason: str
    identity: str

    def order(self):
        return (self.day, self.time, RANK[self.kind], self.identity)


@dataclass
class Appliance:
    """What the register says, and the movements in order."""
    tag: str
    site: str
    category: str
    refrigerant: str
    full_charge: int | None
    installed: date | None
    movements: list = field(default_factory=list)


@dataclass(eq=False)  # Two steps of one day may look alike and are still two.
class Step:
    """One judgement: the figure of its addition so far, and what this step adds."""
    day: date
    figure: int
    adds: int
    visit: int  # Number of its visit, or day without, among those of the appliance.
    days: int = 0
    rolling: int = 0
    annualised: Fraction | None = None
    rolled: Fraction | None = None
    over: tuple = (None, None)  # by annualising, by rolling


@dataclass
class Row:
    """One row of the report `additions`."""
    on: date
    added: int
    last: Step
    annualised_over: bool | None
    rolling_over: bool | None


def mass_in(row, name):
    """The column `name_unit` in steps; None where it is empty."""
    for column, text in row.items():
        head, _, unit = column.rpartition("_")
        if head == name and unit in STEPS:
            if text == "":
                return None
            steps = Fraction(text) * STEPS[unit]
            if steps.denominator != 1:
                raise ValueError(f"{text} {unit} is finer than a step")
            return int(steps)
    raise ValueError(f"no column {name}_*")


def rows_of(folder, name):
    with open(os.path.join(folder, name), encoding="utf-8", newline="") as file:
        yield from csv.DictReader(file)


def read_fleet(folder):
    fleet = {}
    for row in rows_of(folder, "appliances.csv"):
        installed = row["commissioned_on"]
        fleet[row["appliance"]] = Appliance(
            row["appliance"], row["site"], row["category"], row["refrigerant"],
            mass_in(row, "full_charge"), date.fromisoformat(installed) if installed else None)
    for row in rows_of(folder, "movements.csv"):
        if row["kind"] not in RANK:
            continue
        tag = row["from"] if row["kind"] == "recover" else row["to"]
        if tag not in fleet:
            continue  # An opening of a cylinder.
        if not re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", row["occurred_at"]):
            raise ValueError("this computation reads UTC only: " + row["occurred_at"])
        fleet[tag].movements.append(Movement(
            date.fromisoformat(row["occurred_at"][:10]), row["occurred_at"][11:19], row["kind"],
            row["refrigerant"], mass_in(row, "mass"), row.get("visit") or "",
            row.get("reason") or "", row["movement_id"]))
    for appliance in fleet.values():
        appliance.movements.sort(key=Movement.order)
    return fleet


def counted(movements, leaves_out):
    """(movement, mass that counts as charged) of charges, with what a rule leaves out gone."""
    result, seasonal = [], []  # Seasonal: [day, mass still to be put back].
    for movement in movements:
        mass = movement.mass
        if leaves_out and movement.kind == "recover" and movement.reason == "seasonal":
            seasonal.append([movement.day, mass])
        if leaves_out and movement.kind == "charge":
            if movement.reason in ("installation", "after_retrofit"):
                mass = 0
            elif movement.reason == "seasonal":
                for taken in seasonal:
                    if movement.day - taken[0] <= timedelta(days=365):
                        back = min(mass, taken[1])
                        taken[1] -= back
                        mass -= back
        result.append((movement, mass))
    return result


def cut_visits(pairs):
    """Lists of (movement, mass), one per visit or day without visit; visits split at 7 days."""
    groups = defaultdict(list)
    for movement, mass in pairs:
        if movement.kind != "opening":
            key = ("visit", movement.visit) if movement.visit else ("day", movement.day)
            groups[key].append((movement, mass))
    result = []
    for key, group in groups.items():
        piece = []
        for movement, mass in group:
            if piece and movement.day - piece[-1][0].day > timedelta(days=7):
                result.append((key[0], piece))
                piece = []
            piece.append((movement, mass))
        result.append((key[0], piece))
    return result


def steps_of(number, sort, group, netting):
    """The judgements of one visit, or the one judgement of a day without visit."""
    charged = recovered = before = 0
    steps = []
    for movement, mass in group:
        if movement.kind == "recover":
            recovered += mass if netting == "visit" else 0
            continue
        charged += mass
        figure = max(0, charged - recovered)
        if mass > 0:
            steps.append(Step(movement.day, figure, figure - before, number))
            before = figure
    if sort == "day":
        total = max(0, charged - recovered)
        return [Step(group[0][0].day, total, total, number)] if total > 0 else []
    return steps


def join_shared_days(groups):
    """Additions that share a day become one, with their figures added up step by step."""
    joined, result = [], []
    for steps in sorted(groups, key=lambda steps: (steps[0].day, steps[-1].day)):
        if joined and steps[0].day <= joined[-1][-1].day:
            joined[-1] = sorted(joined[-1] + steps, key=lambda step: step.day)
        else:
            joined.append(list(steps))
    for steps in joined:
        sums = accumulate(step.adds for step in steps)
        result.append([replace(step, figure=figure) for step, figure in zip(steps, sums)])
    return result


def additions_of(appliance, year, netting, leaves_out):
    """The rows of one appliance and year, in order of time."""
    known = [m for m in appliance.movements if m.day.year <= year]
    groups = []
    for number, (sort, group) in enumerate(cut_visits(counted(known, leaves_out))):
        steps = steps_of(number, sort, group, netting)
        if any(step.figure > 0 for step in steps):
            groups.append(steps)
    baseline, before, rows = appliance.installed, [], []
    for steps in join_shared_days(groups):
        judged = [step for step in steps if step.figure > 0]
        for step in judged:
            days = (step.day - baseline).days if baseline else 365
            step.days = min(days, 365) if days > 0 else 365
            judge(step, appliance, before + steps[:steps.index(step) + 1])
        last = judged[-1]
        if steps[-1].figure == 0:
            # Superseded: the window of the last step; the days of the last that had a figure.
            last = Step(steps[-1].day, 0, 0, steps[-1].visit, last.days)
            judge(last, appliance, before + steps)
        else:
            baseline = last.day
        before += steps
        rows += row_of_year(year, steps, judged, last)
    return rows


def judge(step, appliance, so_far):
    step.rolling = sum(mass for earlier, mass in standing(so_far)
                       if earlier.day > step.day - timedelta(days=365))
    if appliance.full_charge is None:
        return
    step.annualised = Fraction(step.figure * 365 * 100, appliance.full_charge * step.days)
    step.rolled = Fraction(step.rolling * 100, appliance.full_charge)
    limit = FLAT.get(appliance.category)
    step.over = tuple(limit is not None and rate > limit for rate in (step.annualised, step.rolled))


def standing(steps):
    """(step, mass left), with what was taken back gone from the newest of the same visit before."""
    stands = []
    for step in steps:
        back = max(0, -step.adds)
        for entry in reversed(stands):
            if entry[0].visit == step.visit:
                taken = min(back, entry[1])
                entry[1] -= taken
                back -= taken
        stands.append([step, max(0, step.adds)])
    return stands


def row_of_year(year, steps, judged, last):
    """No row or one: of the steps of this year."""
    judged = [step for step in judged if step.day.year == year]
    over = [step for step in judged if any(step.over)]
    if not judged or (last.figure == 0 and not over):
        return []
    added = sum(step.adds for step in steps if step.day.year == year)
    on = over[0].day if over else last.day
    ways = [[step.over[way] for step in judged] for way in (0, 1)]
    return [Row(on, added, last, *(None if None in way else any(way) for way in ways))]


def printed_mass(steps, unit):
    """Exact; pounds to 14 decimals, half away from zero; trailing zeros trimmed."""
    value = Fraction(steps) / STEPS[unit]
    sign, value = ("-", -value) if value < 0 else ("", value)
    scaled = int(value * 10**14 + Fraction(1, 2))
    if unit != "lb" and Fraction(scaled, 10**14) != value:
        raise ValueError("kg, g and ug are exact")
    whole, decimals = divmod(scaled, 10**14)
    text = f"{whole}.{decimals:014d}".rstrip("0").rstrip(".")
    return text if text == "0" else sign + text


def printed_percent(value):
    """Four decimals, cut toward zero."""
    whole, decimals = divmod(int(value * 10**4), 10**4)
    return f"{whole}.{decimals:04d}"


def printed_text(text):
    """No spreadsheet may take a text for a formula."""
    guarded = text[:1] in ("=", "+", "-", "@", "\t", "\r", "\n", "\0", "＝", "＋", "－", "＠")
    return "'" + text if guarded else text


def csv_line(cells):
    quoted = ['"' + cell.replace('"', '""') + '"' if any(c in cell for c in ',"\r\n') else cell
              for cell in cells]
    return ",".join(quoted) + "\r\n"


def worst(rows, rate):
    """(percent, day) of the highest rate; the earliest day of a tie."""
    rows = [row for row in rows if rate(row.last) is not None]
    if not rows:
        return "", ""
    best = max(rows, key=lambda row: (rate(row.last), -row.on.toordinal()))
    return printed_percent(rate(best.last)), best.on.isoformat()


def appliance_year(fleet, year, unit, netting, leaves_out):
    u = unit
    yield csv_line(
        f"appliance,site,category,refrigerant,full_charge_{u},opening_{u},charged_{u},recovered_{u},"
        f"closing_{u},charges,additions,added_{u},worst_rolling_percent,worst_rolling_on,"
        "worst_annualised_percent,worst_annualised_on,rolling_over,annualised_over,first_over_on"
        .split(","))
    for appliance in sorted(fleet.values(), key=lambda a: a.tag.encode()):
        first, last = date(year, 1, 1), date(year, 12, 31)
        opening = charged = recovered = charges = 0
        for movement in appliance.movements:
            inside = first <= movement.day <= last
            signed = -movement.mass if movement.kind == "recover" else movement.mass
            if movement.day < first or (inside and movement.kind == "opening"):
                opening += signed
            elif inside and movement.kind == "charge":
                charged += movement.mass
                charges += 1
            elif inside:
                recovered += movement.mass
        additions = additions_of(appliance, year, netting, leaves_out)
        over = [a for a in additions if a.rolling_over or a.annualised_over]
        known = appliance.full_charge is not None
        yield csv_line([
            printed_text(appliance.tag), printed_text(appliance.site), appliance.category,
            appliance.refrigerant,
            printed_mass(appliance.full_charge, unit) if known else "",
            printed_mass(opening, unit), printed_mass(charged, unit), printed_mass(recovered, unit),
            printed_mass(opening + charged - recovered, unit), str(charges), str(len(additions)),
            printed_mass(sum(a.added for a in additions), unit),
            *worst(additions, lambda step: step.rolled),
            *worst(additions, lambda step: step.annualised),
            str(sum(bool(a.rolling_over) for a in additions)) if known else "",
            str(sum(bool(a.annualised_over) for a in additions)) if known else "",
            min(a.on for a in over).isoformat() if over else ""])


def additions_report(fleet, year, unit, netting, leaves_out):
    u = unit
    yield csv_line(f"appliance,on,added_{u},days,rolling_{u},rolling_percent,annualised_percent,"
                   "rolling_over,annualised_over".split(","))
    word = {True: "yes", False: "no", None: ""}
    for appliance in sorted(fleet.values(), key=lambda a: a.tag.encode()):
        for row in sorted(additions_of(appliance, year, netting, leaves_out), key=lambda r: r.on):
            last = row.last
            known = last.rolled is not None
            yield csv_line([
                printed_text(appliance.tag), row.on.isoformat(), printed_mass(row.added, unit),
                str(last.days), printed_mass(last.rolling, unit),
                printed_percent(last.rolled) if known else "",
                printed_percent(last.annualised) if known else "",
                word[row.rolling_over], word[row.annualised_over]])


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("report", choices=["appliance-year", "additions"])
    parser.add_argument("--fleet", required=True)
    parser.add_argument("--year", type=int, required=True)
    parser.add_argument("--unit", choices=["lb", "kg", "g", "ug"], default="lb")
    parser.add_argument("--netting", choices=["visit", "gross"], default="visit")
    parser.add_argument("--thresholds", choices=["flat", "flat-leaves-out"], default="flat")
    asked = parser.parse_args()
    make = appliance_year if asked.report == "appliance-year" else additions_report
    leaves_out = asked.thresholds == "flat-leaves-out"
    for line in make(read_fleet(asked.fleet), asked.year, asked.unit, asked.netting, leaves_out):
        sys.stdout.buffer.write(line.encode("utf-8"))


if __name__ == "__main__":
    main()
