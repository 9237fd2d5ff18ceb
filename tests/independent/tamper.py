#!/usr/bin/env python3
"""Spoils a bundle in five ways that an auditor must refuse, each for its own reason.

    tamper.py BUNDLE PRIVATE_KEYFILE OLD_CHECKPOINT FOLDER

Writes FOLDER/<name>.tar and prints a line `name word` for each: the words with which the audit in
Python may refuse it. Whoever tampers here is the owner of the server: where it helps, all tiles are
worked out anew, and where history is rewritten or cut, everything is signed anew with the real key.
"""

import json
import sys
from pathlib import Path

import rfc8785

from book import Key, Tree, checkpoint_text, entry_files, leaf_hash, read_checkpoint, read_entries
from book import read_members, write_members


def rebuilt(members, leaves, key=None, keep=lambda size: True):
    """The bundle with these entries and tiles that fit; with a key, its checkpoints signed anew."""
    made = {n: c for n, c in members.items() if not n.startswith(("tile/", "checkpoint"))}
    made.update(entry_files(leaves))
    tree, roots = Tree(), {}
    for leaf in leaves:
        tree.add(leaf_hash(leaf))
        roots[tree.size] = tree.root()
    made.update(tree.tiles())
    sizes = [int(name.split("/")[1]) for name in members if name.startswith("checkpoints/")]
    if key is None:
        made["checkpoint"] = members["checkpoint"]
        made.update({n: c for n, c in members.items() if n.startswith("checkpoints/")})
        return made
    for size in sorted({size for size in sizes if size <= len(leaves)} | {len(leaves)}):
        note = key.sign(checkpoint_text(key.name, size, roots[size])).encode()
        made[f"checkpoints/{size}"] = made["checkpoint"] = note
    return made


def without_disclosures_from(members, size):
    """Leaves out the texts of entries that are no longer there."""
    made = {}
    for name, content in members.items():
        if name.startswith("disclosures/"):
            lines = content.decode().splitlines(keepends=True)
            lines = [line for line in lines if json.loads(line)["seq"] < size]
            content = "".join(lines).encode()
        if content or not name.startswith("disclosures/"):
            made[name] = content
    return made


def pick(leaves, before):
    """An uncorrected movement with a typed or read mass, so that a forged one still fits itself."""
    entries = [json.loads(leaf) for leaf in leaves]
    corrected = {e["body"]["corrects"]["seq"] for e in entries if e["kind"] == "correction"}
    for number in range(before - 1, 0, -1):
        moved = entries[number]["body"].get("movements", [{}])
        if number not in corrected and len(moved) == 1 and {"typed", "readings"} & set(moved[0]):
            return number
    raise SystemExit("the book holds no uncorrected movement before the old checkpoint")


def forged(leaf):
    """Another mass, and the text that goes with it."""
    entry = json.loads(leaf)
    moved = entry["body"]["movements"][0]
    moved.pop("readings", None)
    moved["typed"] = {"text": "1 lb", "unit": "[lb_av]"}
    moved["g"] = "453.59237" if moved["g"] != "453.59237" else "907.18474"
    moved["typed"]["text"] = "1 lb" if moved["g"] == "453.59237" else "2 lb"
    return rfc8785.dumps(entry)


def tampered(members, key, old_note):
    """Name, files and the words of a right refusal."""
    leaves = read_entries(members)
    old_size, _ = read_checkpoint(old_note, key)
    at = pick(leaves, old_size)
    edited = leaves[:at] + [forged(leaves[at])] + leaves[at + 1 :]
    spoilt = dict(members)
    spoilt.update(entry_files(edited))
    yield "edited-entry", spoilt, "leaf-hash"
    yield "edited-entry-with-its-tiles", rebuilt(members, edited), "root old-checkpoint"
    yield "removed-entry", rebuilt(members, leaves[:at] + leaves[at + 1 :]), "size"
    swapped = list(leaves)
    swapped[at - 1], swapped[at] = swapped[at], swapped[at - 1]
    yield "swapped-entries", rebuilt(members, swapped), "root old-checkpoint"
    yield "swapped-entries-signed-anew", rebuilt(members, swapped, key), "seq old-checkpoint"
    yield "history-rewritten-and-signed-anew", rebuilt(members, edited, key), "old-checkpoint"
    cut = without_disclosures_from(members, old_size - 1)
    yield "truncated", rebuilt(cut, leaves[: old_size - 1], key), "old-checkpoint"


def main(bundle, key_file, old_checkpoint, folder):
    key = Key(Path(key_file).read_text())
    if key.private is None:
        raise SystemExit("history can be signed anew only with the private key: give its file")
    for name, members, words in tampered(read_members(bundle), key, Path(old_checkpoint).read_text()):
        write_members(Path(folder) / f"{name}.tar", members)
        print(name, words)


if __name__ == "__main__":
    if len(sys.argv) != 5:
        sys.exit(__doc__)
    main(*sys.argv[1:])
