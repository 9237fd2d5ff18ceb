#!/usr/bin/env python3
"""The reference of the import benchmark: a plain load of the same rows, nothing worked out.

    bare_sqlite.py movements.csv FILE.db

Python's csv and sqlite3, one transaction, a unique id and two indexes; write-ahead log, full syncs and
64 MiB of page cache as our book has them. No check, no hash, no balance, no tree: this is what just
keeping the rows costs on the machine at hand.
"""
import csv
import sqlite3
import sys


def main():
    source, target = sys.argv[1:]
    database = sqlite3.connect(target)
    database.executescript("""
        PRAGMA journal_mode = WAL;
        PRAGMA synchronous = FULL;
        PRAGMA cache_size = -65536;
        CREATE TABLE movements (
            seq INTEGER PRIMARY KEY, movement_id TEXT NOT NULL UNIQUE, occurred_at TEXT NOT NULL,
            kind TEXT NOT NULL, source TEXT NOT NULL, target TEXT NOT NULL,
            refrigerant TEXT NOT NULL, mass_mg INTEGER NOT NULL, technician TEXT NOT NULL);
        CREATE INDEX movements_by_source ON movements (source, occurred_at);
        CREATE INDEX movements_by_target ON movements (target, occurred_at);
    """)
    with open(source, encoding="utf-8", newline="") as file:
        rows = csv.reader(file)
        header = next(rows)
        assert header == ["seq", "movement_id", "occurred_at", "kind", "from", "to", "refrigerant",
                          "mass_mg", "technician"], header
        with database:
            database.executemany("INSERT INTO movements VALUES (?,?,?,?,?,?,?,?,?)", rows)
    count = database.execute("SELECT count(*) FROM movements").fetchone()[0]
    database.close()
    print(f"{count} rows")


if __name__ == "__main__":
    main()
