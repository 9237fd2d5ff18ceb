#!/usr/bin/env python3
"""Generates an invented fleet with visits, for the comparison of the reports.

    gen_visits.py --appliances 40 [--seed 7] --out DIR

The large generator (tests/load/gen_fleet.py) knows no visits and no reasons; this one is small and
mean: visits of several steps, visits that have to be split, several visits on one day, days with
and without visits, seasonal charges (less, equal and more than what was taken out), gaps of
exactly 364 to 366 days, unknown full charges, tags that a spreadsheet would take for a formula and
tags with commas and quotes. Rows come partly late and masses are in pounds and ounces of a scale.
Same arguments, same bytes.

In every visit what is recovered comes before what is charged afterwards, and a visit ends with a
charge: the definitions leave open what a recovery after the last charge of a visit would mean.
Nor does a visit recover anything after New Year when it began before.
"""
import argparse
import csv
import os
import random
import uuid
from datetime import date, datetime, timedelta

FIRST, LAST = date(2021, 1, 1), date(2024, 12, 31)
CATEGORIES = ["comfort_cooling", "commercial_refrigeration", "industrial_process"]
ODD_TAGS = ["=SUM(A1)", "+1", "-12", "@home", "Rack, left", 'Rack "B"', "00123", "1E5"]


class Fleet:
    """What is being written."""

    def __init__(self, seed, count):
        self.rng = random.Random(seed * 1_000_003 + count)
        self.appliances, self.cylinders, self.movements = [], [], []

    def identity(self):
        return str(uuid.UUID(int=self.rng.getrandbits(128), version=4))

    def move(self, moment, kind, source, target, pounds, visit="", reason=""):
        self.movements.append([self.identity(), moment, kind, source, target, "R-410A",
                               f"{pounds:.2f}", "T001", visit, reason])


class Unit:
    """One appliance with its two cylinders and a pen that moves on through the years."""

    def __init__(self, fleet, number, tag):
        self.fleet, self.rng, self.tag = fleet, fleet.rng, tag
        self.full = self.rng.choice([15, 22, 50, 120, 300])
        installed = FIRST - timedelta(days=self.rng.choice([0, 1, 30, 400, 2000]))
        known = "" if self.rng.random() < 0.08 else str(self.full)
        fleet.appliances.append([tag, f"S{number // 7:03d}", self.rng.choice(CATEGORIES), "R-410A",
                                 known, installed.isoformat()])
        self.supply, self.recovery = f"SUP{number:05d}", f"REC{number:05d}"
        fleet.cylinders.append([self.supply, "R-410A", "supply", "4000"])
        fleet.cylinders.append([self.recovery, "R-410A", "recovery", "4000"])
        start = datetime.combine(FIRST, datetime.min.time())
        fleet.move(start, "opening", "", tag, self.full)
        fleet.move(start, "purchase", "Supplier", self.supply, 4000)
        self.day = FIRST + timedelta(days=self.rng.randrange(1, 200))
        self.second = 0

    def now(self):
        self.second += self.rng.randrange(0, 3000)
        return datetime.combine(self.day, datetime.min.time()) + timedelta(
            seconds=min(self.second, 86399))

    def pass_days(self, days):
        self.day += timedelta(days=days)
        self.second = 0

    def amount(self, share):
        return max(0.01, round(self.full * share * self.rng.random(), 2))

    def charge(self, share=0.15, visit="", reason="", pounds=None):
        self.fleet.move(self.now(), "charge", self.supply, self.tag, pounds or self.amount(share),
                        visit, reason)

    def recover(self, share=0.12, visit="", reason="", pounds=None):
        self.fleet.move(self.now(), "recover", self.tag, self.recovery,
                        pounds or self.amount(share), visit, reason)

    def plain_day(self):
        for _ in range(self.rng.choice([1, 1, 2, 3])):
            self.charge()
            if self.rng.random() < 0.3:
                self.recover()

    def visit(self):
        visit, year = self.fleet.identity(), self.day.year
        for step in range(self.rng.choice([1, 1, 2, 3])):
            if step:
                self.pass_days(self.rng.choice([0, 1, 2, 7]))
            if self.rng.random() < 0.5 and self.day.year == year:
                self.recover(visit=visit)
            self.charge(visit=visit, reason=self.rng.choice(["", "leak_top_up", "after_repair"]))

    def visit_to_split(self):
        visit, year = self.fleet.identity(), self.day.year
        self.charge(visit=visit)
        self.pass_days(self.rng.choice([7, 8, 9, 20]))
        if self.day.year == year:
            self.recover(visit=visit)
        self.charge(visit=visit)

    def busy_day(self):
        for _ in range(self.rng.choice([2, 3])):
            visit = self.fleet.identity() if self.rng.random() < 0.8 else ""
            if self.rng.random() < 0.3:
                self.recover(share=0.05, visit=visit)
            self.charge(visit=visit)

    def season(self):
        taken = self.amount(0.4)
        self.recover(visit=self.fleet.identity(), reason="seasonal", pounds=taken)
        self.pass_days(self.rng.choice([100, 150, 200, 400]))
        back = max(0.01, round(taken * self.rng.choice([0.5, 1, 1, 1.5]), 2))
        self.charge(visit=self.fleet.identity(), reason="seasonal", pounds=back)

    def live(self):
        while self.day < LAST - timedelta(days=25):
            self.rng.choice([self.plain_day, self.visit, self.visit, self.visit_to_split,
                             self.busy_day, self.season])()
            self.pass_days(self.rng.choice([1, 2, 8, 30, 60, 90, 120, 364, 365, 366]))


def late(rng, movements):
    """About one row in twenty is written down later than it happened."""
    placed = []
    for movement in movements:
        behind = timedelta(days=rng.randrange(1, 9)) if rng.random() < 0.05 else timedelta()
        opening = movement[2] in ("opening", "purchase")
        placed.append((movement[1] + (timedelta() if opening else behind), movement))
    return [movement for _, movement in sorted(placed, key=lambda pair: pair[0])]


def write(folder, name, header, rows):
    with open(os.path.join(folder, name), "w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(header.split(","))
        writer.writerows(rows)


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--appliances", type=int, required=True)
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--out", required=True)
    asked = parser.parse_args()
    fleet = Fleet(asked.seed, asked.appliances)
    for number in range(asked.appliances):
        tag = ODD_TAGS[number] if number < len(ODD_TAGS) else f"B{number:05d}"
        Unit(fleet, number, tag).live()
    os.makedirs(asked.out, exist_ok=True)
    write(asked.out, "appliances.csv",
          "appliance,site,category,refrigerant,full_charge_lb,commissioned_on", fleet.appliances)
    write(asked.out, "cylinders.csv", "cylinder,refrigerant,use,capacity_lb", fleet.cylinders)
    rows = [[row[0], row[1].strftime("%Y-%m-%dT%H:%M:%SZ"), *row[2:]]
            for row in late(fleet.rng, fleet.movements)]
    write(asked.out, "movements.csv", "movement_id,occurred_at,kind,from,to,refrigerant,mass_lb,"
          "technician,visit,reason", rows)
    print(f"appliances {len(fleet.appliances)}  cylinders {len(fleet.cylinders)}  "
          f"movements {len(rows)}")


if __name__ == "__main__":
    main()
