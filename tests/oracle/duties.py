#!/usr/bin/env python3
"""An independent, slow evaluation of duties, on the command line.

    duties.py situations FILE.json     evaluates every situation and compares its expectation
    duties.py examples                 the same for the examples inside the shipped sets
    duties.py expect FILE.json         writes the file again with the full outcome of every set;
                                       `checked` names the open readings on which it rests
    duties.py settled FILE.json        the same, only of what rests on no open reading
    duties.py readings                 what those readings are

Written from the description of the rule vocabulary, never from the program; see `duties/`.
"""
import json
import sys

from duties import compare, expecting, readings, rulebook


def read(path):
    with open(path, encoding="utf-8") as file:
        document = json.load(file)
    if document.get("schema") != "tarebook/rule-situations/1":
        raise SystemExit(f"{path}: expected the schema tarebook/rule-situations/1, "
                         f"found {document.get('schema')}")
    return document


def examples(tables):
    """The examples of every set as situations."""
    for name, table in tables.items():
        for number, example in enumerate(table.get("examples", ()), 1):
            yield {"sets": [name], "id": f"{name} example {number}", **example,
                   "expect": {name: example["expect"]}}


def report(situations, tables):
    good = total = 0
    for situation in situations:
        total += 1
        lines = compare.check(situation, tables)
        good += not lines
        for line in lines:
            print(f"{situation['id']}: {line}")
    print(f"{good} of {total} situations agree")
    return 0 if good == total and total else 1


def answer(situation, tables):
    """The situation with its full outcome, and the open readings on which that rests."""
    touched = set()
    expect = expecting.expectation(situation, tables, touched)
    checked = "slow evaluation; readings: " + (", ".join(sorted(touched)) or "none")
    return situation | {"expect": expect, "checked": checked}


def main(arguments):
    tables = rulebook.read_sets()
    if arguments == ["examples"]:
        return report(examples(tables), tables)
    if len(arguments) == 2 and arguments[0] == "situations":
        return report(read(arguments[1])["situations"], tables)
    if len(arguments) == 2 and arguments[0] in ("expect", "settled"):
        document = read(arguments[1])
        answered = [answer(situation, tables) for situation in document["situations"]]
        document["situations"] = [
            one for one in answered if arguments[0] == "expect" or one["checked"].endswith("none")]
        json.dump(document, sys.stdout, indent=1)
        print()
        return 0
    if arguments == ["readings"]:
        for name, text in readings.READINGS.items():
            print(f"{name}: {text}")
        return 0
    print(__doc__)
    return 2


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
