#!/usr/bin/env python3
"""An independent, slow computation of the report `mass-balance`.

    balance.py --fleet DIR --year 2023 --unit lb|kg|g|ug     from the files that were imported
    balance.py --bundle FILE.tar --year 2026 --unit ug       from an exported book
    balance.py --add-up REPORT.csv                           only whether its own columns add up
    balance.py --prove REPORT.csv EVIDENCE.csv               whether every figure opens to its entries

Written from the definitions, never from the program: what was there and what came in is what went out
and what is there (opening + bought + recovered = charged + shipped + closing + unexplained, the
shop owner's yearly sum), kept for the cylinders alone, because only they are weighed. Every movement is
read as `from` and `to`; what a correction takes back is left out, as if it had never been.

How the definitions were read
* A cylinder's kind is its `use` as the register says it last. Between cylinders of two kinds a
  movement is `moved`, between two of one kind it is nothing; in the sum of a refrigerant neither.
* What happened before the year, and every `opening` entry of it, is opening stock.
* Out of a counterparty into something that is no cylinder, or the other way round, is what a statement
  says afterwards: it came in and went out again, in a line of its own.
* Presumed leaked: at a charge back to full, the balance of the appliance beyond its full charge, less
  what was presumed before; at a retirement all that is left on its books, by refrigerant.
* Lines without any figure are left out. Refrigerants stand by name, kinds of cylinder in the order
  supply, disposable, recovery, not stated, then statements, then the sum.
"""
import argparse
import csv
import json
import re
import sys
import tarfile
from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from leak_report import csv_line, mass_in, printed_mass, rows_of

IN = ["opening", "purchased", "recovered", "received", "stated_less", "redesignated_in", "found",
      "moved_in"]
OUT = ["charged", "to_reclaim", "to_destruction", "returned", "stated_more", "lost",
       "redesignated_out", "residue", "missing", "moved_out"]
APART = ["outside_charged", "lost_at_appliances", "presumed_leaked", "left_at_retirement"]
KINDS = ["supply", "disposable", "recovery", "", "statements"]


@dataclass
class Movement:
    """A mass of a refrigerant from a place to a place; `order` stands within one appliance."""
    day: date
    kind: str
    source: str
    target: str
    refrigerant: str
    mass: int
    full: bool
    order: tuple


# ---- reading ----------------------------------------------------------------------------------------


def place_of(kind, end, tag):
    """The word of a place of an import file, with its tag."""
    words = {"opening": ("opening", "?"), "purchase": ("counterparty", "cylinder"),
             "charge": ("cylinder", "appliance"), "recover": ("appliance", "cylinder"),
             "transfer": ("cylinder", "cylinder"), "loss": ("?", "atmosphere"),
             "send_to_reclaim": ("cylinder", "counterparty"),
             "send_to_destruction": ("cylinder", "counterparty")}[kind]
    return words[end], tag


def read_files(folder):
    uses = {row["cylinder"]: row["use"] for row in rows_of(folder, "cylinders.csv")}
    movements = []
    for row in rows_of(folder, "movements.csv"):
        ends = []
        for end, column in enumerate(("from", "to")):
            word, tag = place_of(row["kind"], end, row[column])
            if word == "?":
                word = "cylinder" if tag in uses else "appliance"
            ends.append(f"{word}:{tag}" if tag else word)
        day = date.fromisoformat(row["occurred_at"][:10])
        order = (day, row["occurred_at"][11:19], rank(row["kind"]), row["movement_id"])
        movements.append(Movement(day, row["kind"], *ends, row["refrigerant"],
                                  mass_in(row, "mass"), False, order))
    return movements, uses, {}, []


def leaves_of(path):
    """The entries of a bundle, in order: each file holds length (2 bytes) and bytes, again and again."""
    parts = {}
    with tarfile.open(path, "r:") as tar:
        for member in tar:
            match = re.fullmatch(r"tile/entries/((?:x\d{3}/)*\d{3})(?:\.p/\d+)?", member.name)
            if match:
                index = int(match[1].replace("x", "").replace("/", ""))
                parts[index] = tar.extractfile(member).read()
    for index in sorted(parts):
        content, at = parts[index], 0
        while at < len(content):
            end = at + 2 + int.from_bytes(content[at:at + 2], "big")
            yield json.loads(content[at + 2:end])
            at = end


def steps(grams):
    whole = Fraction(grams) * 10**11
    assert whole.denominator == 1, grams
    return int(whole)


# Entries of one time of day within an appliance, as the model orders them.
RANK = ["opening", "purchase", "recover", "retrofit", "back_in_operation", "transfer", "leak_found",
        "repair", "tests", "charge"]


def rank(kind):
    return RANK.index(kind) if kind in RANK else len(RANK) + (kind == "retire")


def read_bundle(path):
    entries = list(leaves_of(path))
    gone = {entry["body"]["corrects"]["seq"] for entry in entries if entry["kind"] == "correction"}
    chain = {}
    movements, facts, retired = [], defaultdict(list), []
    for entry in entries:
        seq, body, kind, happened = entry["seq"], entry["body"], entry["kind"], entry["happened"]
        first = entry["id"]
        if kind == "correction":
            first = chain.get(body["corrects"]["seq"], body["corrects"]["id"])
            if "replace" not in body:
                chain[seq] = first
                continue
            new = body["replace"]
            body, kind, happened = new["body"], new["kind"], new["happened"]
        chain[seq] = first
        if seq in gone:
            continue
        day = date.fromisoformat(happened["day"])
        time = ((happened.get("time") or "00:00") + ":00")[:8]
        order = (day, time, rank(kind), first)
        for name, values in body.get("facts", {}).items():
            facts[body["subject"], name] += [(value["from"], seq, value.get("is")) for value in values]
        if kind == "retire":
            about = body.get("subject") or body.get("appliance")
            retired.append((about, order, day))
        for moved in body.get("movements", []):
            movements.append(Movement(
                day, kind, moved["from"], moved["to"], moved["refrigerant"], steps(moved["g"]),
                bool(body.get("returned_to_full_charge")) and kind == "charge", order))
    uses, charges = {}, defaultdict(list)
    for (subject, name), values in facts.items():
        if name == "use":
            uses[subject.partition(":")[2]] = max(values, key=lambda value: value[:2])[2]
        if name == "full_charge":
            for since, seq, value in sorted(values, key=lambda value: value[:2]):
                grams = value.get("g") if isinstance(value, dict) else None
                charges[subject].append((since, steps(grams) if grams else None))
    return movements, uses, charges, retired


# ---- the account ------------------------------------------------------------------------------------


def came_from(word, kind):
    if word == "counterparty":
        return "purchased" if kind == "purchase" else "received"
    return {"cylinder": "moved_in", "appliance": "recovered", "unregistered": "recovered",
            "opening": "opening", "redesignation": "redesignated_in", "unexplained": "found",
            }.get(word, "received")


def went_to(word, kind):
    if word == "counterparty":
        return {"send_to_reclaim": "to_reclaim", "send_to_destruction": "to_destruction",
                }.get(kind, "returned")
    return {"cylinder": "moved_out", "appliance": "charged", "atmosphere": "lost",
            "redesignation": "redesignated_out", "unexplained": "missing", "residue": "residue",
            }.get(word, "returned")


def accounts(movements, uses, year):
    """(refrigerant, kind of cylinder) -> figure -> steps, and what is in the cylinders at the end."""
    figures, closing = defaultdict(lambda: defaultdict(int)), defaultdict(int)
    for moved in movements:
        if moved.day.year > year:
            continue
        words = [end.partition(":")[0] for end in (moved.source, moved.target)]
        kinds = [uses.get(end.partition(":")[2], "") if word == "cylinder" else None
                 for end, word in zip((moved.source, moved.target), words)]
        name, mass = moved.refrigerant, moved.mass
        if kinds[0] is not None:
            closing[name, kinds[0]] -= mass
        if kinds[1] is not None:
            closing[name, kinds[1]] += mass
        if kinds[0] == kinds[1] and kinds[0] is not None:
            continue
        if kinds == [None, None]:
            is_statement = words.count("counterparty") == 1 and "appliance" not in words
            if is_statement and moved.day.year == year:
                own = figures[name, "statements"]
                back = words[0] == "counterparty"
                own["stated_less" if back else came_from(words[0], moved.kind)] += mass
                own[went_to(words[1], moved.kind) if back else "stated_more"] += mass
        elif moved.day.year < year:
            for kind, sign in zip(kinds, (-1, 1)):
                if kind is not None:
                    figures[name, kind]["opening"] += sign * mass
        else:
            if kinds[0] is not None:
                figures[name, kinds[0]][went_to(words[1], moved.kind)] += mass
            if kinds[1] is not None:
                figures[name, kinds[1]][came_from(words[0], moved.kind)] += mass
    return figures, closing


def apart(movements, charges, retired, year):
    """What stands beside the account, by refrigerant."""
    sums = defaultdict(lambda: defaultdict(int))
    events = defaultdict(list)
    for moved in movements:
        ends = (moved.source, moved.target)
        for end, sign in zip(ends, (-1, 1)):
            if end.startswith("appliance:"):
                events[end].append((moved.order, sign * moved.mass, moved))
        if moved.day.year == year:
            if moved.kind == "outside_charge":
                sums[moved.refrigerant]["outside_charged"] += moved.mass
            if moved.kind == "loss" and moved.source.startswith("appliance:"):
                sums[moved.refrigerant]["lost_at_appliances"] += moved.mass
    for about, order, _ in retired:
        events[about].append((order, 0, None))
    for about, own in events.items():
        own.sort(key=lambda event: event[0])
        balance, presumed = defaultdict(int), defaultdict(int)
        for order, change, moved in own:
            if moved is not None:
                balance[moved.refrigerant] += change
            total, before = sum(balance.values()), dict(presumed)
            figure = "presumed_leaked"
            if moved is None:
                figure = "left_at_retirement"
                presumed = defaultdict(int, balance if total > 0 else {})
            elif moved.full:
                known = [mass for since, mass in charges[about]
                         if date.fromisoformat(since) <= moved.day]
                if not known or known[-1] is None:
                    continue
                leaked = max(0, total - known[-1])
                presumed[moved.refrigerant] += leaked - sum(before.values())
            if order[0].year == year:
                for name in {*presumed, *before}:
                    sums[name][figure] += presumed[name] - before.get(name, 0)
    return sums


def report(movements, uses, charges, retired, year, unit):
    yield csv_line(["refrigerant", "line", "cylinders"] + [
        f"{name}_{unit}" for name in
        [*IN, "came_in", *OUT, "closing", "accounted", "unexplained", *APART]])
    figures, closing = accounts(movements, uses, year)
    beside = apart(movements, charges, retired, year)
    have_row = {name for name, own in beside.items() if any(own.values())}
    for key in {*figures, *closing}:
        if any(figures[key].values()) or closing[key]:
            have_row.add(key[0])
    for name in sorted(have_row, key=str.encode):
        whole = defaultdict(int)
        for kind in KINDS:
            own = dict(figures.get((name, kind), {}), closing=closing.get((name, kind), 0))
            if not any(own.values()):
                continue
            line = "statements" if kind == "statements" else "cylinders"
            yield row([name, line, "" if kind == "statements" else kind], own, [""] * 4, unit)
            for figure, mass in own.items():
                whole[figure] += 0 if figure.startswith("moved_") else mass
        yield row([name, "refrigerant", ""], whole,
                  [printed_mass(beside[name][figure], unit) for figure in APART], unit)


def row(head, own, tail, unit):
    masses = [own.get(figure, 0) for figure in IN]
    out = [own.get(figure, 0) for figure in OUT] + [own["closing"]]
    unexplained = own.get("missing", 0) - own.get("found", 0)
    cells = [*masses, sum(masses), *out, sum(out), unexplained]
    return csv_line(head + [printed_mass(mass, unit) for mass in cells] + tail)


def adds_up(path):
    """Both sides of every line of a report, as it is printed, in exact decimals; the sum of the parts."""
    lines = parts = 0
    with open(path, encoding="utf-8", newline="") as file:
        reader = csv.DictReader(file)
        unit = reader.fieldnames[3].rpartition("_")[2]
        so_far = defaultdict(Fraction)
        for line in reader:
            of = {name: Fraction(line[f"{name}_{unit}"]) for name in
                  [*IN, "came_in", *OUT, "closing", "accounted"]}
            sides = (sum(of[name] for name in IN), sum(of[name] for name in [*OUT, "closing"]))
            if not sides[0] == sides[1] == of["came_in"] == of["accounted"]:
                sys.exit(f"{path}: {line['refrigerant']} {line['line']} does not add up: {sides}")
            lines += 1
            for name in [*IN, *OUT, "closing"]:
                if line["line"] != "refrigerant":
                    so_far[name] += 0 if name.startswith("moved_") else of[name]
                elif so_far.pop(name, Fraction(0)) != of[name]:
                    sys.exit(f"{path}: {line['refrigerant']} {name} is not the sum of its lines")
            parts += line["line"] != "refrigerant"
    if lines < 3 or parts < 2:
        sys.exit(f"{path}: only {lines} lines: nothing was compared")
    print(f"{lines} lines add up")


# Sums of columns beside them; they have no lines of their own.
OF_COLUMNS = ["came_in", "accounted"]


def proves(path, evidence):
    """Every figure that is not 0 is the sum of its lines of evidence, and no line is left over."""
    sums = defaultdict(Fraction)
    with open(evidence, encoding="utf-8", newline="") as file:
        for line in csv.DictReader(file):
            sums[int(line["row"]), line["figure"]] += Fraction(line["contribution"])
    figures = 0
    with open(path, encoding="utf-8", newline="") as file:
        for number, line in enumerate(csv.DictReader(file), 1):
            for name in list(line)[3:]:
                if name.rpartition("_")[0] in OF_COLUMNS:
                    continue
                found, told = sums.pop((number, name), Fraction(0)), Fraction(line[name] or 0)
                if found != told:
                    sys.exit(f"row {number}: {name} is {line[name]}, its evidence {float(found)}")
                figures += told != 0
    if any(sums.values()) or figures < 10:
        sys.exit(f"evidence of no figure, or only {figures} figures: {list(sums)[:3]}")
    print(f"{figures} figures open to their entries")


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    what = parser.add_mutually_exclusive_group(required=True)
    what.add_argument("--fleet")
    what.add_argument("--bundle")
    what.add_argument("--add-up")
    what.add_argument("--prove", nargs=2)
    parser.add_argument("--year", type=int)
    parser.add_argument("--unit", choices=["lb", "kg", "g", "ug"], default="ug")
    asked = parser.parse_args()
    if asked.add_up:
        adds_up(asked.add_up)
        return
    if asked.prove:
        proves(*asked.prove)
        return
    read = read_files(asked.fleet) if asked.fleet else read_bundle(asked.bundle)
    for line in report(*read, asked.year, asked.unit):
        sys.stdout.buffer.write(line.encode("utf-8"))


if __name__ == "__main__":
    main()
