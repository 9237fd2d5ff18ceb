#!/usr/bin/env python3
"""An independent, slow computation of the reports `yearly-loss`, `releases` and `yearly-co2e`.

    sum_report.py yearly-loss|releases|yearly-co2e --fleet DIR --year 2023 --unit lb|ug
                  --netting visit|gross [--on 2023-06-30]

Written from the definitions, never from the program: 40 CFR 82.157(j) for a loss in a calendar year
as a share of the full charge; SOR/2022-110, sections 24 and 25, for limits of single releases;
Japan's yearly report (Ministry of the Environment's page) for what was charged less what was
recovered at service, times GWP, from April to March. The numbers are the invented ones of
sums.toml. Additions are read as leak_report.py reads them.

How the definitions were read
* Lost in a year is what the steps of its additions add, each on its own day; the limit (25 %, itself
  too much) is judged at each step with all that came before in the year.
* The projection is a straight line: days count with both ends, from 1 January or the installation.
* A release is a stated loss. Sums of a site show beside it what was topped up, and never add them.
* Charged at service leaves first charges out, of an installation or after a retrofit; recovered at
  service what is recovered for disposal or a retrofit.
"""
import argparse
import csv
import os
import sys
from collections import defaultdict
from datetime import date, timedelta
from fractions import Fraction

from leak_report import (counted, csv_line, cut_visits, mass_in, printed_mass, printed_percent,
                         printed_text, read_fleet, rows_of, steps_of)

SHARE, RELEASE_LB, SUM_T, SITE_T = 25, 6, 1500, 100
POUND = 45359237 * 10**6
TABLE = os.path.join(os.path.dirname(os.path.abspath(__file__)),
                     "..", "..", "reports", "data", "refrigerants.csv")


def regions(folder):
    return {row["appliance"]: row.get("region", "") for row in rows_of(folder, "appliances.csv")}


def numbers_of_entries(folder):
    """What the report needs besides leak_report's reading: losses, in the order written down."""
    losses = defaultdict(list)
    for place, row in enumerate(rows_of(folder, "movements.csv")):
        if row["kind"] == "loss":
            losses[row["from"]].append(
                (date.fromisoformat(row["occurred_at"][:10]), place, mass_in(row, "mass")))
    return losses


def steps_in(appliance, last, netting):
    """(day, mass added) of every step of a year up to a day, in the order of judging."""
    steps = []
    known = [m for m in appliance.movements if m.day <= last]
    place = {id(movement): at for at, movement in enumerate(known)}
    for number, (sort, group) in enumerate(cut_visits(counted(known, True))):
        own = steps_of(number, sort, group, netting)
        if not any(step.figure > 0 for step in own):
            continue
        charges = [movement for movement, mass in group if movement.kind == "charge" and mass > 0]
        at = charges if sort == "visit" else charges[-1:]
        for step, movement in zip(own, at, strict=True):
            steps.append((step.day, place[id(movement)], step.adds))
    return [(day, adds) for day, _, adds in sorted(steps) if day.year == last.year]


def yearly_loss(fleet, folder, last, unit, netting):
    yield csv_line((
        "appliance,site,category,refrigerant,set,version,limit,clause,confidence,from,until,"
        f"full_charge_{unit},days_added,lost_{unit},lost_percent,limit_percent,reached,reached_on,"
        f"report_due,report_state,left_{unit},days,days_in_period,projected_{unit},"
        "projected_percent,projected_on").split(","))
    year, first, end = last.year, date(last.year, 1, 1), date(last.year, 12, 31)
    for appliance in sorted(fleet.values(), key=lambda a: a.tag.encode()):
        if appliance.installed and appliance.installed > last:
            continue
        steps, full = steps_in(appliance, last, netting), appliance.full_charge
        lost, reached_on, so_far = sum(adds for _, adds in steps), None, 0
        for day, adds in steps:
            so_far += adds
            if full and not reached_on and Fraction(so_far * 100, full) >= SHARE:
                reached_on = day
        begins = max(first, appliance.installed or first)
        days, in_all = (last - begins).days + 1, (end - begins).days + 1
        percent, line = (
            [printed_percent(max(Fraction(mass * 100, full), Fraction(0))) if full else ""
             for mass in (lost, Fraction(lost * in_all, days))])
        left = 0 if reached_on else max(0, SHARE * full // 100 - lost) if full else None
        yield csv_line([
            printed_text(appliance.tag), printed_text(appliance.site), appliance.category,
            appliance.refrigerant, "oracle-sums", "", "chronic", "none 1", "",
            first.isoformat(), end.isoformat(), printed_mass(full, unit) if full else "",
            str(days_added(steps)), printed_mass(lost, unit), percent,
            str(SHARE), ("yes" if reached_on else "no") if full else "",
            reached_on.isoformat() if reached_on else "",
            f"{year + 1}-03-01" if reached_on else "", "open" if reached_on else "",
            "" if left is None else printed_mass(left, unit), str(days), str(in_all),
            printed_mass(lost * in_all // days, unit), line,
            "" if reached_on or not full else passing(lost, full, days, begins, last, end)])


def days_added(steps):
    """Days on which more was put in than taken out again."""
    sums = defaultdict(int)
    for day, adds in steps:
        sums[day] += adds
    return sum(total > 0 for total in sums.values())


def passing(lost, full, days, begins, last, end):
    """The first day after the last looked at on which the straight line has passed the limit."""
    day = last + timedelta(days=1)
    while day <= end:
        if Fraction(lost * ((day - begins).days + 1) * 100, days * full) >= SHARE:
            return day.isoformat()
        day += timedelta(days=1)
    return ""


def releases(fleet, folder, last, unit, netting):
    yield csv_line((
        f"line,jurisdiction,site,appliance,cylinder,category,refrigerant,full_charge_{unit},on,entry,"
        f"releases,released_{unit},topped_up_{unit},set,version,limit,clause,over,next_due,reports"
    ).split(","))
    region, losses = regions(folder), numbers_of_entries(folder)
    places = defaultdict(lambda: ([], 0))
    for appliance in fleet.values():
        place = (region[appliance.tag], appliance.site, appliance.refrigerant)
        own = [(day, entry, mass, appliance) for day, entry, mass in losses[appliance.tag]
               if day.year == last.year and day <= last]
        steps = steps_in(appliance, last, netting)
        if own or steps:
            lines, topped_up = places[place]
            places[place] = (lines + own, topped_up + sum(adds for _, adds in steps))
    order = sorted(places, key=lambda place: [part.encode() for part in place])
    for at, place in enumerate(order):
        lines, topped_up = places[place]
        for day, _, mass, appliance in sorted(lines, key=lambda line: line[:2]):
            over = mass > RELEASE_LB * POUND
            due = (day + timedelta(days=30)).isoformat()
            state = "overdue" if due < last.isoformat() else "open"
            yield csv_line([
                "release", place[0], printed_text(place[1]), printed_text(appliance.tag), "",
                appliance.category, place[2],
                printed_mass(appliance.full_charge, unit) if appliance.full_charge else "",
                day.isoformat(), "ENTRY", "1", printed_mass(mass, unit), "", "oracle-sums", "",
                "big_release" if over else "", "none 3" if over else "", "yes" if over else "no",
                due if over else "", f"release_report {due} {state}" if over else ""])
        yield total("site", place, lines, topped_up, unit)
        if at + 1 == len(order) or order[at + 1][0] != place[0]:
            of_region = defaultdict(lambda: ([], 0))
            for other in order:
                if other[0] == place[0]:
                    whole = of_region[other[2]]
                    of_region[other[2]] = (whole[0] + places[other][0], whole[1] + places[other][1])
            for refrigerant in sorted(of_region, key=str.encode):
                yield total("jurisdiction", (place[0], "", refrigerant), *of_region[refrigerant],
                            unit)


def total(word, place, lines, topped_up, unit):
    released = sum(line[2] for line in lines)
    return csv_line([word, place[0], printed_text(place[1]), "", "", "", place[2], "", "", "",
                     str(len(lines)), printed_mass(released, unit), printed_mass(topped_up, unit),
                     "", "", "", "", "", "", ""])


def printed_exact(value):
    """A decimal of at most 21 places, trailing zeros trimmed."""
    scaled = abs(value) * 10**21
    if scaled.denominator != 1:
        raise ValueError("tonnes are exact")
    whole, decimals = divmod(int(scaled), 10**21)
    text = f"{whole}.{decimals:021d}".rstrip("0").rstrip(".")
    return "-" + text if value < 0 else text


def yearly_co2e(fleet, folder, last, unit, netting):
    yield csv_line((
        f"line,set,version,gwp_basis,from,until,site,refrigerant,charged_{unit},recovered_{unit},"
        f"lost_{unit},gwp,co2e_t,without_gwp_{unit},limit_t,clause,over,report_due").split(","))
    with open(TABLE, encoding="utf-8", newline="") as file:
        gwp = {row["number"]: row["gwp_ar4"] for row in csv.DictReader(file)}
    year = last.year
    first, last = date(year, 4, 1), date(year + 1, 3, 31)
    sites = defaultdict(lambda: defaultdict(lambda: [0, 0]))
    for appliance in fleet.values():
        for movement in appliance.movements:
            if not first <= movement.day <= last:
                continue
            if movement.kind == "charge" and movement.reason not in (
                    "installation", "after_retrofit"):
                sites[appliance.site][movement.refrigerant][0] += movement.mass
            if movement.kind == "recover" and movement.reason not in ("disposal", "retrofit"):
                sites[appliance.site][movement.refrigerant][1] += movement.mass
    head = ["oracle-sums", "", "AR4", first.isoformat(), last.isoformat()]
    whole = [0, 0, Fraction(0)]
    for site in sorted(sites, key=str.encode):
        of_site = [0, 0, Fraction(0)]
        for name in sorted(sites[site], key=str.encode):
            charged, recovered = sites[site][name]
            # A step is 10^-17 t.
            tonnes = Fraction(charged - recovered, 10**17) * Fraction(gwp[name])
            yield csv_line(["refrigerant", *head, printed_text(site), name,
                            *masses(charged, recovered, unit), gwp[name], printed_exact(tonnes),
                            "0", "", "", "", ""])
            of_site = [of_site[0] + charged, of_site[1] + recovered, of_site[2] + tonnes]
        whole = [one + other for one, other in zip(whole, of_site)]
        yield sum_line("site", head, printed_text(site), of_site, unit, SITE_T, "")
    yield sum_line("organisation", head, "", whole, unit, SUM_T, f"{year + 1}-07-31")


def masses(charged, recovered, unit):
    return [printed_mass(mass, unit) for mass in (charged, recovered, charged - recovered)]


def sum_line(word, head, site, of, unit, limit, due):
    over = of[2] >= limit
    return csv_line([word, *head, site, "", *masses(of[0], of[1], unit), "", printed_exact(of[2]),
                     "0", str(limit), "none 5", "yes" if over else "no", due if over else ""])


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    reports = {"yearly-loss": yearly_loss, "releases": releases, "yearly-co2e": yearly_co2e}
    parser.add_argument("report", choices=list(reports))
    parser.add_argument("--fleet", required=True)
    parser.add_argument("--year", type=int, required=True)
    parser.add_argument("--unit", choices=["lb", "ug"], default="lb")
    parser.add_argument("--netting", choices=["visit", "gross"], default="visit")
    parser.add_argument("--on", type=date.fromisoformat)
    asked = parser.parse_args()
    last = asked.on or date(asked.year, 12, 31)
    fleet = read_fleet(asked.fleet)
    for line in reports[asked.report](fleet, asked.fleet, last, asked.unit, asked.netting):
        sys.stdout.buffer.write(line.encode("utf-8"))


if __name__ == "__main__":
    main()
