#!/usr/bin/env python3
"""Promises H1 and H4: rows that somebody edits are refused, and found if they are forced.

    edited_rows.py BINARY sqlite|postgres

Makes a book, then for each edit works on a copy of it: first the edit is tried as it is, which the
database must refuse where it touches history (H1); then the triggers are taken away, as the owner
of the machine can, the edit is made, and `verify` must end with exit code 3 and name the entry (H4).
Edits of caches must be named by `rebuild --check`. The untouched copy must verify, or the test would
show nothing. The edits are made with Python's sqlite3 and with psql.
"""
import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile

TESTS = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
sys.path.insert(0, os.path.join(TESTS, "harness"))
import cluster  # noqa: E402

# name, SQL ({seq}: a charge in the middle, {last}: the newest entry), history?, command, what it
# must say. `flip(x)` changes one byte in the middle of x.
EDITS = [
    ("one byte of a leaf", "UPDATE entries SET leaf = flip(leaf) WHERE seq = {seq}", True,
     "verify", "no. {seq}"),
    ("one byte of a leaf's hash", "UPDATE entries SET hash = flip(hash) WHERE seq = {seq}", True,
     "verify", "no. {seq}"),
    ("the mass of a movement", "UPDATE movements SET mass = mass + 1 WHERE seq = {seq}", True,
     "verify", "no. {seq}"),
    ("the day of a movement", "UPDATE movements SET day = day + 1 WHERE seq = {seq}", True,
     "verify", "no. {seq}"),
    ("the place of a movement", "UPDATE movements SET dst = dst + 1 WHERE seq = {seq}", True,
     "verify", "no. {seq}"),
    ("the source of a movement", "UPDATE movements SET src = src + 1 WHERE seq = {seq}", True,
     "verify", "no. {seq}"),
    ("the appliance of a movement",
     "UPDATE movements SET appliance = appliance + 1 WHERE seq = {seq}", True,
     "verify", "no. {seq}"),
    ("kind, reason, refrigerant or time of a movement",
     "UPDATE movements SET what = what + 1 WHERE seq = {seq}", True, "verify", "no. {seq}"),
    ("the key of order of a movement",
     "UPDATE movements SET id_high = id_high + 1 WHERE seq = {seq}", True, "verify", "no. {seq}"),
    ("the visit of a movement", "UPDATE movements SET ties = flip(ties) WHERE seq = {visited}", True,
     "verify", "no. {visited}"),
    ("the day of an entry", "UPDATE entries SET day = day + 1 WHERE seq = {seq}", True,
     "verify", "no. {seq}"),
    ("the id of an entry", "UPDATE entries SET entry_id = flip(entry_id) WHERE seq = {seq}", True,
     "verify", "no. {seq}"),
    ("when an entry was booked", "UPDATE entries SET booked_at = booked_at + 1 WHERE seq = {seq}",
     True, "verify", "no. {seq}"),
    ("a movement removed", "DELETE FROM movements WHERE seq = {seq}", True, "verify", "no. {seq}"),
    ("an entry removed from the middle", "DELETE FROM entries WHERE seq = {seq}", True,
     "verify", "no. {seq}"),
    ("the newest entry removed", "DELETE FROM entries WHERE seq = {last}", True, "verify", ""),
    ("the newest entry removed and the head set back",
     "DELETE FROM movements WHERE seq = {last}; DELETE FROM entries WHERE seq = {last}; "
     "UPDATE heads SET next_seq = next_seq - 1", True, "verify", ""),
    ("one byte of a tile", "UPDATE tiles SET hashes = flip(hashes) WHERE level = 0 AND idx = 0",
     False, "rebuild", ""),
    ("one letter of a checkpoint",
     "UPDATE checkpoints SET note = replace(note, 'tarebook', 'tarebooc')", True, "verify", ""),
    ("one byte of an attachment", "UPDATE attachments SET bytes = flip(bytes)", True, "verify", ""),
    ("a text that a commitment stands for", "UPDATE disclosures SET value = value || ' '", False,
     "verify", ""),
    ("a balance", "UPDATE balances SET mass = CAST(CAST(mass AS BIGINT) + 1 AS TEXT)", False,
     "rebuild", ""),
    ("a count of a place", "UPDATE subjects SET nth = nth + 1", False, "rebuild", ""),
]


def flip(data):
    middle = len(data) // 2
    return data[:middle] + bytes([data[middle] ^ 1]) + data[middle + 1:]


PG_FLIP = ("CREATE FUNCTION flip(data bytea) RETURNS bytea LANGUAGE sql AS $$ SELECT "
           "set_byte(data, length(data) / 2, get_byte(data, length(data) / 2) # 1) $$;")


class Sqlite:
    """Books in folders."""

    def __init__(self, folder):
        self.folder = folder

    def arguments(self, name):
        return ["--data", os.path.join(self.folder, name)]

    def make(self, _):
        pass

    def copy(self, name):
        shutil.rmtree(os.path.join(self.folder, name), ignore_errors=True)
        shutil.copytree(os.path.join(self.folder, "book"), os.path.join(self.folder, name))

    def open(self, name):
        database = sqlite3.connect(os.path.join(self.folder, name, "tarebook.sqlite"))
        database.create_function("flip", 1, flip)
        return database

    def edit(self, name, text, force):
        database = self.open(name)
        if force:
            for (trigger,) in database.execute(
                    "SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
                database.execute(f"DROP TRIGGER {trigger}")
        try:
            database.executescript(f"BEGIN; {text}; COMMIT;")
        finally:
            database.close()

    def ask(self, name, text):
        database = self.open(name)
        value = database.execute(text).fetchone()[0]
        database.close()
        return value


class Postgres:
    """Books in databases of one cluster."""

    def __init__(self, folder, running):
        self.folder, self.running = folder, running

    def arguments(self, name):
        return ["--database-url", self.running.url + name, "--keys", self.folder + "/keys"]

    def make(self, binary):
        self.running.database("book")
        run([binary, "migrate", *self.arguments("book")])

    def copy(self, name):
        self.running.psql("postgres", f"DROP DATABASE IF EXISTS {name}")
        self.running.psql("postgres", f"CREATE DATABASE {name} TEMPLATE book")

    def edit(self, name, text, force):
        off = "SET session_replication_role = replica; " if force else ""
        try:
            self.running.psql(name, f"{off} {PG_FLIP} BEGIN; {text}; COMMIT;")
        except RuntimeError as error:
            raise sqlite3.IntegrityError(str(error)) from error

    def ask(self, name, text):
        return int(self.running.psql(name, text))


def run(command, status=0):
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode != status:
        sys.exit(f"FAILED: {command[1:3]} ended with {done.returncode}, not {status}:\n"
                 f"{done.stdout}{done.stderr}")
    return done.stdout + done.stderr


def make_book(binary, engine):
    engine.make(binary)
    fleet, password = os.path.join(engine.folder, "fleet"), os.path.join(engine.folder, "password")
    run([sys.executable, TESTS + "/oracle/gen_visits.py", "--appliances", "9", "--out", fleet])
    with open(password, "w", encoding="utf-8") as file:
        file.write("nine cold racks hum behind Halfmoon\n")
    of = ["--organisation", "Edited", *engine.arguments("book")]
    run([binary, "init", "--administrator", "juno@example.org", "--password-file", password, *of])
    for table in ("appliances", "cylinders", "movements"):
        run([binary, "import", table, f"{fleet}/{table}.csv", *of])


def try_edit(binary, engine, edit, numbers):
    """Gives what is wrong, or nothing."""
    name, text, history, command, said = edit
    text, said = text.format(**numbers), said.format(**numbers)
    engine.copy("copy")
    if history:
        try:
            engine.edit("copy", text, force=False)
            return f"{name}: the database did not refuse it"
        except sqlite3.Error:
            engine.copy("copy")
    engine.edit("copy", text, force=True)
    words = ["rebuild", "--check"] if command == "rebuild" else ["verify"]
    done = subprocess.run([binary, *words, "--organisation", "Edited", *engine.arguments("copy")],
                          capture_output=True, text=True, check=False)
    answer = done.stdout + done.stderr
    if done.returncode != 3:
        return f"{name}: {command} ended with {done.returncode}, not 3: {answer[-300:]}"
    if said not in answer:
        return f"{name}: {command} did not say '{said}': {answer[-300:]}"
    return ""


def test(binary, engine):
    make_book(binary, engine)
    of = ["--organisation", "Edited", *engine.arguments("copy")]
    engine.copy("copy")
    run([binary, "verify", *of])
    run([binary, "rebuild", "--check", *of])
    newest = engine.ask("book", "SELECT max(seq) FROM entries")
    middle = engine.ask("book", "SELECT min(seq) FROM movements WHERE appliance > 0 AND seq > "
                                f"{newest // 2}")
    visited = engine.ask("book", "SELECT max(seq) FROM movements WHERE ties IS NOT NULL")
    numbers = {"seq": middle, "last": newest, "visited": visited}
    wrong = [try_edit(binary, engine, edit, numbers) for edit in EDITS]
    for line in filter(None, wrong):
        print("FAILED:", line)
    failed = sum(map(bool, wrong))
    print(f"{len(EDITS) - failed + 1} passed, {failed} failed")
    return failed


def main():
    binary, engine = os.path.realpath(sys.argv[1]), sys.argv[2]
    with tempfile.TemporaryDirectory() as folder:
        if engine == "sqlite":
            sys.exit(bool(test(binary, Sqlite(folder))))
        with cluster.Cluster() as running:
            failed = test(binary, Postgres(folder, running))
    sys.exit(bool(failed))


if __name__ == "__main__":
    main()
