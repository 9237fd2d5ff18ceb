#!/usr/bin/env python3
"""Audits a book without the program that keeps it.

    audit.py BUNDLE KEYFILE [OLD_CHECKPOINT]...

KEYFILE holds the key to trust (`name+id+base64`, or the private key it belongs to), OLD_CHECKPOINT a
signed checkpoint kept from earlier. Everything a stranger can check is checked; the first thing that
does not agree ends the audit with status 1 and a line `REFUSED word: sentence`.

Outside the project: signatures by PyPI `cryptography`, the canonical form by PyPI `rfc8785`, the
consistency of older checkpoints once more by PyPI `pymerkle`; the rest is Python's own library.
"""

import base64
import hashlib
import json
import re
import sys
import tarfile
import unicodedata
from fractions import Fraction
from pathlib import Path

import pymerkle
import rfc8785

import mass
from book import Broken, Key, Tree, demand, grouped, leaf_hash, read_checkpoint, read_entries
from book import read_members, unbase64

# pymerkle keeps every node in memory and asks for them one by one.
MOST_FOR_PYMERKLE = 20000
UUID = r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}"
NOT_CORRECTABLE = {
    "genesis", "key", "epoch", "erasure", "engine", "grant", "period_close", "period_reopen",
    "issued", "rule_set", "setting", "import",
}  # fmt: skip


def check_signatures_and_tree(members, leaves, key, old_checkpoints):
    """Every checkpoint, every tile, every leaf."""
    wanted = {}
    for name, content in members.items():
        if name.startswith("checkpoints/"):
            size, root = read_checkpoint(content.decode(), key)
            demand(name == f"checkpoints/{size}", "checkpoint", f"{name} is of {size} entries")
            wanted.setdefault(size, []).append((name, root))
    demand(wanted, "checkpoint", "the bundle holds no checkpoint")
    newest = max(wanted)
    demand(newest == len(leaves), "size", f"{len(leaves)} entries, signed are {newest}")
    demand(
        members.get("checkpoint") == members[f"checkpoints/{newest}"],
        "checkpoint", "`checkpoint` is not the newest one",
    )  # fmt: skip
    for note in old_checkpoints:
        size, root = read_checkpoint(note, key)
        demand(
            size <= len(leaves), "old-checkpoint",
            f"{size} entries were signed, the book has {len(leaves)}",
        )  # fmt: skip
        wanted.setdefault(size, []).append(("old-checkpoint", root))
    tree = Tree()
    for number, leaf in enumerate(leaves):
        tile = f"tile/0/{grouped(number // 256)}"
        tile = members.get(tile) or members.get(f"{tile}.p/{len(leaves) % 256}") or b""
        place = number % 256 * 32
        kept = tile[place : place + 32]
        demand(kept == leaf_hash(leaf), "leaf-hash", f"no. {number} has not the hash in its tile")
        tree.add(kept)
        for name, root in wanted.get(tree.size, []):
            word = "old-checkpoint" if name == "old-checkpoint" else "root"
            demand(root == tree.root(), word, f"{name} was signed over another history")
    tiles = dict(tree.tiles())
    for name, content in tiles.items():
        demand(members.get(name) == content, "tile", f"{name} does not follow from the entries")
    for name in members:
        extra = name.startswith("tile/") and not name.startswith("tile/entries/")
        demand(not extra or name in tiles, "tile", f"{name} belongs to no tree of this size")
    return sorted(wanted)


def check_with_pymerkle(leaves, sizes, old_checkpoints, key):
    """The same once more by somebody else's Merkle tree: is each older tree a beginning of ours?"""
    if len(leaves) > MOST_FOR_PYMERKLE:
        return f"not repeated by pymerkle: more than {MOST_FOR_PYMERKLE} entries"
    other = pymerkle.InmemoryTree(algorithm="sha256")
    other.append_entries(leaves)
    for note in old_checkpoints:
        size, root = read_checkpoint(note, key)
        proof = other.prove_consistency(size, len(leaves))
        try:
            pymerkle.verify_consistency(root, other.get_root(), proof)
        except pymerkle.InvalidProof as error:
            raise Broken("old-checkpoint", f"pymerkle: {error}") from error
    tree = Tree()
    for leaf in leaves:
        tree.add(leaf_hash(leaf))
        if tree.size in sizes:
            demand(other.get_root(tree.size) == tree.root(), "root", f"pymerkle at {tree.size}")
    return f"repeated by pymerkle at {len(sizes)} sizes"


def no_duplicates(pairs):
    names = [name for name, _ in pairs]
    demand(len(set(names)) == len(names), "canonical", f"a name twice in {names}")
    return dict(pairs)


def refuse_number(text):
    raise Broken("canonical", f"the number {text}")


def check_value(value):
    if isinstance(value, dict):
        for name, member in value.items():
            check_value(name)
            check_value(member)
    elif isinstance(value, list):
        for member in value:
            check_value(member)
    elif isinstance(value, str):
        demand(unicodedata.is_normalized("NFC", value), "canonical", f"not NFC: {value!r}")
        control = any(unicodedata.category(c) == "Cc" for c in value)
        demand(not control, "canonical", f"a control character: {value!r}")
    else:
        demand(value is not None, "canonical", "null")
        demand(abs(value) <= 2**53 - 1, "canonical", f"the number {value}")


def read_leaf(number, leaf):
    demand(len(leaf) <= 16384, "canonical", f"no. {number} has {len(leaf)} bytes")
    value = json.loads(
        leaf, object_pairs_hook=no_duplicates, parse_float=refuse_number,
        parse_constant=refuse_number,
    )  # fmt: skip
    check_value(value)
    demand(rfc8785.dumps(value) == leaf, "canonical", f"no. {number} is not canonical JSON")
    return value


def check_order(entries, key):
    """What must hold from one entry to the next."""
    ids, counts, booked_at = {}, {}, ""
    for number, entry in enumerate(entries):
        demand(entry["seq"] == number, "seq", f"no. {number} says seq {entry['seq']}")
        demand(entry["log"] == key.name, "log", f"no. {number} is of {entry['log']}")
        demand(re.fullmatch(UUID, entry["id"]), "id", f"no. {number} has id {entry['id']}")
        other = ids.setdefault(entry["id"], number)
        demand(other == number, "id", f"no. {number} has the id of no. {other}")
        form = r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z"
        demand(re.fullmatch(form, entry["booked_at"]), "booked_at", f"no. {number}")
        demand(entry["booked_at"] >= booked_at, "booked_at", f"no. {number} goes back in time")
        booked_at = entry["booked_at"]
        for place, nth in entry.get("nth", {}).items():
            expected = counts.get(place, 0) + 1
            demand(nth == expected, "nth", f"no. {number}: {place} is {nth}, not {expected}")
            counts[place] = nth
        genesis = entry["kind"] == "genesis"
        demand(genesis == (number == 0), "genesis", f"no. {number} is {entry['kind']}")
    keys = entries[0]["body"]["keys"].values()
    demand(key.vkey in keys, "genesis", "the first entry does not name the key to trust")


def stated_grams(moved, answers):
    """What was typed or weighed, as a list of possible exact grams; None when neither stands there."""
    answer = answers.get("pounds_or_ounces")
    if "readings" in moved:
        said = moved["readings"]
        before, after = (mass.grams(said[end], said["unit"], answer) for end in ("before", "after"))
        if before is None or after is None:
            return []
        into = moved["to"].startswith("cylinder:")
        out_of = moved["from"].startswith("cylinder:")
        if into and out_of:
            return [abs(before - after)]
        return [after - before if into else before - after]
    if "typed" in moved:
        typed = mass.grams(moved["typed"]["text"], moved["typed"]["unit"], answer)
        return [] if typed is None else [typed]
    return None


def check_movements(number, entry, movements):
    worked_out = 0
    for moved in movements:
        grams = moved["g"]
        form = r"(0|[1-9][0-9]*)(\.[0-9]{0,10}[1-9])?"
        demand(re.fullmatch(form, grams), "mass", f"no. {number}: {grams} g")
        demand(moved["from"] != moved["to"], "movement", f"no. {number} stays where it is")
        for end in (moved["from"], moved["to"]):
            if end.startswith(("appliance:", "cylinder:")):
                demand(end in entry.get("nth", {}), "nth", f"no. {number} does not count {end}")
        stated = stated_grams(moved, entry.get("answers", {}))
        if stated is None:
            continue
        if "finer_than_a_step" in entry.get("answers", {}):
            stated = [round_to_step(value, sign) for value in stated for sign in (0, 1)]
        exact = Fraction(grams)
        demand(exact in stated, "mass", f"no. {number}: {grams} g, stated {moved}")
        worked_out += 1
    return worked_out


def round_to_step(value, up):
    return Fraction(value.numerator * 10**11 // value.denominator + up, 10**11)


def check_bodies(entries):
    """Masses, and corrections that reverse exactly what is in force."""
    in_force, corrected, masses = {}, {}, 0
    for number, entry in enumerate(entries):
        body = entry["body"]
        if entry["kind"] != "correction":
            in_force[number] = body.get("movements", [])
            masses += check_movements(number, entry, in_force[number])
            continue
        target = body["corrects"]["seq"]
        demand(target < number, "correction", f"no. {number} corrects no. {target}")
        other = entries[target]
        demand(other["id"] == body["corrects"]["id"], "correction", f"no. {number}: id of {target}")
        demand(other["kind"] not in NOT_CORRECTABLE, "correction", f"no. {number}: {other['kind']}")
        first = corrected.setdefault(target, number)
        demand(first == number, "correction", f"no. {target} is corrected by {first} and {number}")
        reverse = sorted(map(movement_key, body.get("reverse", [])))
        expected = sorted(map(exchanged_key, in_force[target]))
        demand(reverse == expected, "correction", f"no. {number} reverses {reverse}")
        replace = body.get("replace", {"body": {}, "kind": "charge"})
        demand(replace["kind"] not in NOT_CORRECTABLE, "correction", f"no. {number}")
        in_force[number] = replace["body"].get("movements", [])
        masses += check_movements(number, entry, in_force[number])
        check_movements(number, entry, body.get("reverse", []))
    return masses, len(corrected)


def movement_key(moved):
    return (moved["from"], moved["to"], moved["refrigerant"], moved["g"])


def exchanged_key(moved):
    return (moved["to"], moved["from"], moved["refrigerant"], moved["g"])


def check_disclosures(members, entries):
    opened = 0
    for name, content in members.items():
        if not name.startswith("disclosures/"):
            continue
        for line in content.decode().splitlines():
            shown = json.loads(line)
            number, field = shown["seq"], shown["field"]
            demand(name == f"disclosures/{grouped(number // 256)}.jsonl", "commitment", name)
            entry, salt = entries[number], unbase64(shown["salt"])
            demand(len(salt) == 32, "commitment", f"no. {number}: salt of {len(salt)} bytes")
            text = f"tarebook/commit/v1\n{entry['id']}\n{field}\n".encode()
            hash_ = hashlib.sha256(text + salt + shown["value"].encode()).digest()
            committed = entry.get("commit", {}).get(field)
            fits = committed == base64.b64encode(hash_).decode()
            demand(fits, "commitment", f"no. {number}: {field} is not what was committed to")
            opened += 1
    return opened


def named_attachments(value):
    if isinstance(value, dict):
        if set(value) == {"bytes", "sha256"}:
            yield value["sha256"], value["bytes"]
        for member in value.values():
            yield from named_attachments(member)
    elif isinstance(value, list):
        for member in value:
            yield from named_attachments(member)


def check_attachments(members, entries):
    there = {}
    for name, content in members.items():
        if name.startswith("attachments/"):
            hash_ = hashlib.sha256(content).digest()
            demand(name == f"attachments/{hash_.hex()}", "attachment", f"{name} has another hash")
            there[base64.b64encode(hash_).decode()] = len(content)
    for number, entry in enumerate(entries):
        for hash_, size in named_attachments(entry["body"]):
            demand(there.get(hash_) == size, "attachment", f"no. {number} names {hash_}")
    return len(there)


def audit(bundle, key, old_checkpoints):
    members = read_members(bundle)
    leaves = read_entries(members)
    sizes = check_signatures_and_tree(members, leaves, key, old_checkpoints)
    pymerkle_says = check_with_pymerkle(leaves, set(sizes), old_checkpoints, key)
    entries = [read_leaf(number, leaf) for number, leaf in enumerate(leaves)]
    check_order(entries, key)
    masses, corrections = check_bodies(entries)
    opened = check_disclosures(members, entries)
    attachments = check_attachments(members, entries)
    return (
        f"ACCEPTED {len(entries)} entries, {len(sizes)} checkpoints ({pymerkle_says}), {masses} masses, "
        f"{corrections} corrections, {opened} opened commitments, {attachments} attachments"
    )


def main(arguments):
    bundle, key_file, *old = arguments
    try:
        key = Key(Path(key_file).read_text())
        print(audit(bundle, key, [Path(path).read_text() for path in old]))
    except Broken as broken:
        print(f"REFUSED {broken}")
        return 1
    except (ArithmeticError, LookupError, TypeError, ValueError, tarfile.TarError) as error:
        # What is not even of the right form: no JSON, no text, a member that is not there.
        print(f"REFUSED malformed: {type(error).__name__} {error}")
        return 1
    return 0


if __name__ == "__main__":
    if len(sys.argv) < 3:
        sys.exit(__doc__)
    sys.exit(main(sys.argv[1:]))
