#!/usr/bin/env python3
"""Adds to a generated fleet what the sums need: stated losses, regions, unknown full charges.

    gen_losses.py --fleet DIR [--seed 7]

Rewrites appliances.csv (every ninth full charge unknown, a region for most sites) and
movements.csv (losses between the other movements, in the order of writing down). Same arguments,
same bytes.
"""
import argparse
import csv
import os
import random
import uuid

REGIONS = ["US-CO", "US-WA", "JP-13", ""]


def read(path):
    with open(path, encoding="utf-8", newline="") as file:
        reader = csv.DictReader(file)
        return reader.fieldnames, list(reader)


def write(path, header, rows):
    with open(path, "w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, header, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--fleet", required=True)
    parser.add_argument("--seed", type=int, default=7)
    asked = parser.parse_args()
    chance = random.Random(asked.seed)
    path = os.path.join(asked.fleet, "appliances.csv")
    header, appliances = read(path)
    charge = next(name for name in header if name.startswith("full_charge_"))
    for number, row in enumerate(appliances):
        row["region"] = REGIONS[sum(row["site"].encode()) % len(REGIONS)]
        if number % 9 == 4:
            row[charge] = ""
    write(path, header + ["region"], appliances)

    refrigerant = {row["appliance"]: row["refrigerant"] for row in appliances}
    path = os.path.join(asked.fleet, "movements.csv")
    header, movements = read(path)
    mass = next(name for name in header if name.startswith("mass_"))
    result = []
    for row in movements:
        result.append(row)
        if row["kind"] == "charge" and chance.random() < 0.15:
            lost = dict.fromkeys(header, "")
            lost.update({
                "movement_id": str(uuid.UUID(int=chance.getrandbits(128), version=4)),
                "occurred_at": row["occurred_at"], "kind": "loss", "from": row["to"],
                "refrigerant": refrigerant[row["to"]], "technician": row["technician"],
                mass: f"{chance.randrange(1, 1200) / 100:.2f}"})
            result.append(lost)
    write(path, header, result)
    print(f"losses {len(result) - len(movements)}")


if __name__ == "__main__":
    main()
