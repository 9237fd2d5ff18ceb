#!/usr/bin/env python3
"""Promise D1: an acknowledged entry survives kill -9 of the program at any instant.

    kill_loop.py [--kills 300] [--writers 8] -- WRITER...
    kill_loop.py --self-test

WRITER is called with one more word. `write`: opens the book, prints `ready`, then lets several
threads post entries for ever and prints `acknowledged ID` for each answer, each line at once.
`list`: opens the book again, prints the id of every entry stored, and checks what it can.

The loop starts the writer, kills it after a random moment, and starts it again on the same book:
it must open it without help. What was acknowledged must be stored, all of it; what is stored
beside that can only be what was on its way, at most one entry a thread and kill.
The self test shows that the loop finds a writer that acknowledges before it has committed.
"""
import argparse
import os
import random
import signal
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time
import uuid

CHECK_EVERY = 25


def one_life(command, rng):
    """Runs the writer, kills it, and gives the ids that it acknowledged."""
    process = subprocess.Popen([*command, "write"], stdout=subprocess.PIPE)
    first = process.stdout.readline()
    if first != b"ready\n":
        process.kill()
        raise SystemExit(f"FAILED: the writer did not open the book; it printed {first!r}")
    # Mostly short lives, sometimes long ones; the moment falls anywhere in the writer's work.
    threading.Timer(min(rng.expovariate(1 / 0.06), 1.0), process.send_signal,
                    [signal.SIGKILL]).start()
    text = process.stdout.read()
    status = process.wait()
    if status != -signal.SIGKILL:
        raise SystemExit(f"FAILED: the writer ended by itself with {status} before it was killed")
    lines = text.decode().split("\n")[:-1]  # A line that was cut off is no acknowledgement.
    for line in lines:
        if not line.startswith("acknowledged "):
            raise SystemExit(f"FAILED: unexpected line {line!r}")
    return [line.removeprefix("acknowledged ") for line in lines]


def stored_by(command):
    done = subprocess.run([*command, "list"], capture_output=True, check=False)
    if done.returncode:
        raise SystemExit("FAILED: the book did not open or its check failed:\n"
                         + done.stderr.decode())
    return done.stdout.decode().split()


def kill_loop(command, kills, writers, seed):
    """Gives a sentence; raises SystemExit on the first broken promise."""
    rng = random.Random(seed)
    acknowledged, idle = set(), 0
    for number in range(1, kills + 1):
        ids = one_life(command, rng)
        idle += not ids
        if not acknowledged.isdisjoint(ids):
            raise SystemExit("FAILED: an id was acknowledged in two lives")
        acknowledged.update(ids)
        if number % CHECK_EVERY == 0 or number == kills:
            compare(acknowledged, stored_by(command), number * writers)
            print(f"{number} kills, {len(acknowledged)} acknowledged, none missing", flush=True)
    if idle > kills // 2 or len(acknowledged) < kills:
        raise SystemExit(f"FAILED: {idle} lives without an acknowledgement: too idle to show much")
    return f"{kills} kills, {len(acknowledged)} acknowledged entries, 0 missing"


def compare(acknowledged, stored, most_on_their_way):
    if len(stored) != len(set(stored)):
        raise SystemExit("FAILED: an entry is stored twice")
    missing = acknowledged.difference(stored)
    if missing:
        raise SystemExit(f"FAILED: {len(missing)} acknowledged entries are missing, "
                         f"for example {sorted(missing)[:3]}")
    extra = len(stored) - len(acknowledged)
    if extra > most_on_their_way:
        raise SystemExit(f"FAILED: {extra} entries stored that nobody was told of; at most "
                         f"{most_on_their_way} can have been on their way")


def toy(folder, sort, word):
    """A writer of ten lines for the self test: honest, or one that answers before it commits."""
    database = sqlite3.connect(os.path.join(folder, "toy.db"), isolation_level=None)
    database.execute("PRAGMA journal_mode = WAL")
    database.execute("CREATE TABLE IF NOT EXISTS entries (id TEXT PRIMARY KEY)")
    if word == "list":
        for (identity,) in database.execute("SELECT id FROM entries"):
            print(identity)
        return
    print("ready", flush=True)
    while True:
        ids = [str(uuid.uuid4()) for _ in range(4)]
        told = "".join(f"acknowledged {identity}\n" for identity in ids)
        database.execute("BEGIN IMMEDIATE")
        database.executemany("INSERT INTO entries VALUES (?)", [(identity,) for identity in ids])
        if sort == "lying":
            print(told, end="", flush=True)
            time.sleep(0.002)
        database.execute("COMMIT")
        if sort == "honest":
            print(told, end="", flush=True)


def self_test():
    for sort in ("honest", "lying"):
        with tempfile.TemporaryDirectory() as folder:
            command = [sys.executable, os.path.abspath(__file__), "--toy", folder, sort]
            try:
                sentence = kill_loop(command, 25, 4, seed=1)
            except SystemExit as failure:
                sentence = str(failure)
        caught = "acknowledged entries are missing" in sentence
        if caught != (sort == "lying"):
            raise SystemExit(f"FAILED: the {sort} toy writer gave: {sentence}")
        print(f"self test, {sort} writer: {sentence}")
    print("2 passed, 0 failed")


def main():
    if sys.argv[1:2] == ["--toy"]:
        return toy(*sys.argv[2:])
    if sys.argv[1:] == ["--self-test"]:
        return self_test()
    parser = argparse.ArgumentParser()
    parser.add_argument("--kills", type=int, default=300)
    parser.add_argument("--writers", type=int, default=8)
    parser.add_argument("--seed", type=int, default=None)
    parser.add_argument("command", nargs="+")
    asked = parser.parse_args()
    seed = asked.seed if asked.seed is not None else random.randrange(10**6)
    print(f"seed {seed}")
    began = time.monotonic()
    print(kill_loop(asked.command, asked.kills, asked.writers, seed)
          + f", {time.monotonic() - began:.0f} s")
    print("1 passed, 0 failed")
    return None


if __name__ == "__main__":
    main()
