#!/usr/bin/env python3
"""Writes random situations for the rule sets, without an expectation.

    gen_duties.py --seed 1 --count 200 [--only us-federal-ods] > FILE.json

The same seed gives the same file. `duties.py expect FILE.json` adds what the slow evaluation says.
"""
import argparse
import json
import random
import sys
from datetime import timedelta

from histories import american, elsewhere

MAKERS = {
    "us-federal-ods": lambda chance: american.federal(chance, "us-federal-ods"),
    "us-federal-hfc": lambda chance: american.federal(chance, "us-federal-hfc"),
    "us-california": lambda chance: american.state(chance, "us-california"),
    "us-washington": lambda chance: american.state(chance, "us-washington"),
    "us-disposal-log": american.disposal,
    "eu-2024-573": lambda chance: elsewhere.equipment(chance, "eu-2024-573"),
    "gb-517": lambda chance: elsewhere.equipment(chance, "gb-517"),
    "ch-orrchem": lambda chance: elsewhere.equipment(chance, "ch-orrchem"),
    "ca-halocarbon-2022": lambda chance: elsewhere.federal_canada(chance),
    "jp-yearly-co2e": elsewhere.business,
}
SHARES = {"us-federal-ods": 6, "us-federal-hfc": 4, "eu-2024-573": 3, "us-california": 2}
LATER = (0, 0, 1, 1, 9, 10, 11, 14, 15, 29, 30, 31, 45, 60, 91, 120, 200, 366)
COUNTY = {"id": "county", "overlays": "us-federal-ods", "layer": "local",
          "title": "Invented county", "where": {"region": {"is": ["US-CO-059"]}},
          "reason": "county ordinance (invented)", "values": {"trigger": {"rows": []}}}


def layer(chance, day):
    """An invented county that lowers the rate for shops from a day, perhaps for a time only."""
    rows = [{"from": day.isoformat(), "for": ["commercial"], "is": chance.choice(("15", "12.5")),
             "clause": "invented"}]
    if chance.random() < 0.4:
        rows.append({"from": (day + timedelta(days=150)).isoformat(), "for": ["commercial"],
                     "is": "none"})
    return COUNTY | {"values": {"trigger": {"rows": rows}}}


def day_asked(chance, stories):
    """Some time after one of the events, so that deadlines are about to pass or just have."""
    days = [day for story in stories for day, _ in story.events] or [stories[0].day]
    recent = sorted(days)[-6:]
    return chance.choice(recent + recent[-1:] * 3) + timedelta(days=chance.choice(LATER))


def situation(chance, seed, number, which):
    made = MAKERS[which](chance)
    sets, zone = made[:2]
    stories = [one[3] for one in made[2]] if which == "jp-yearly-co2e" else [made[3]]
    on = day_asked(chance, stories)
    result = {"id": f"random-{seed}-{number}", "about": f"a random history under {which}",
              "clause": "none: a random history", "checked": "not yet", "sets": sets,
              "zone": zone, "on": on.isoformat()}
    if chance.random() < 0.3:
        result["method"] = "rolling"
    elif chance.random() < 0.1:
        result["method"] = [{"from": "2000-01-01", "is": "annualising"},
                            {"from": (on - timedelta(days=150)).isoformat(), "is": "rolling"}]
    if which.startswith("us-federal") and chance.random() < 0.12:
        result["netting"] = chance.choice(("gross", "returned"))
    if which == "us-federal-ods" and chance.random() < 0.15:
        result["overlays"] = [layer(chance, on - timedelta(days=chance.choice((100, 300))))]
    if which == "jp-yearly-co2e":
        result["appliances"] = [
            {"appliance": name, "site": site, "facts": facts, "events": story.finish(on)}
            for name, site, facts, story in made[2]]
    else:
        result["facts"], result["events"] = made[2], made[3].finish(on)
    return result


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seed", type=int, required=True)
    parser.add_argument("--count", type=int, required=True)
    parser.add_argument("--only", choices=sorted(MAKERS))
    asked = parser.parse_args()
    chance = random.Random(asked.seed)
    names = [asked.only] if asked.only else [
        name for name in MAKERS for _ in range(SHARES.get(name, 1))]
    found = [situation(chance, asked.seed, number, chance.choice(names))
             for number in range(1, asked.count + 1)]
    json.dump({"schema": "tarebook/rule-situations/1",
               "note": "Invented appliances with random histories.", "situations": found},
              sys.stdout, indent=1)
    print()


if __name__ == "__main__":
    main()
