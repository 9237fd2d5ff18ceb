#!/usr/bin/env python3
"""The reference of W1: the rows of a book written once more, in a bare loop.

    bare_rows.py SOURCE.sqlite TARGET.sqlite FIRST

Reads every row that the entries from number FIRST on left in the book (entries, movements, the
balances, counts and standings they changed, the tiles), and writes them into a new database with
the same tables, indexes, triggers and settings, in transactions of 64 entries with the same syncs.
Nothing is judged, hashed or added up. Prints the seconds of the loop.
"""
import sqlite3
import sys
import time

BATCH = 64


def upsert(source, table, keys):
    """Writes a whole row of a table, whatever columns the book under test gave it."""
    columns = [name for _, name, *_ in source.execute(f"PRAGMA table_info({table})")]
    values = ", ".join("?" * len(columns))
    changes = ", ".join(f"{c} = excluded.{c}" for c in columns if c not in keys)
    return (f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({values}) "
            f"ON CONFLICT ({', '.join(keys)}) DO UPDATE SET {changes}")


def main():
    source_path, target_path, first = sys.argv[1], sys.argv[2], int(sys.argv[3])
    source = sqlite3.connect(f"file:{source_path}?mode=ro", uri=True)
    entries = source.execute("SELECT * FROM entries WHERE seq >= ? ORDER BY seq",
                             [first]).fetchall()
    movements = {}
    for row in source.execute("SELECT * FROM movements WHERE seq >= ? ORDER BY seq, n", [first]):
        movements.setdefault(row[1], []).append(row)
    # Per entry: what it changed. A later state stands for an earlier one; the row is as long.
    balances, subjects, standings = {}, {}, {}
    for row in source.execute("SELECT * FROM balances"):
        balances.setdefault(row[1], []).append(row)
    for row in source.execute("SELECT * FROM subjects"):
        subjects[row[1]] = row
    for row in source.execute("SELECT * FROM standings"):
        standings[row[1]] = row
    assert standings, "the book under test wrote no standings"
    head = source.execute("SELECT * FROM heads").fetchone()
    tile = source.execute("SELECT * FROM tiles ORDER BY length(hashes) DESC").fetchone()

    target = sqlite3.connect(target_path, isolation_level=None)
    for (text,) in source.execute("SELECT sql FROM sqlite_master WHERE sql IS NOT NULL "
                                  "AND name NOT LIKE 'sqlite_%' ORDER BY rootpage = 0, type DESC"):
        target.execute(text)
    for pragma in ("journal_mode = WAL", "synchronous = FULL", "cache_size = -65536",
                   "wal_autocheckpoint = 4000", "secure_delete = ON", "foreign_keys = ON"):
        target.execute("PRAGMA " + pragma).fetchall()
    target.execute(f"INSERT INTO heads VALUES ({', '.join('?' * len(head))})", head)

    balance = upsert(source, "balances", ["org", "place", "refrigerant"])
    subject = upsert(source, "subjects", ["org", "place"])
    standing = upsert(source, "standings", ["org", "place"])
    width = len(next(iter(movements.values()))[0])
    movement = f"INSERT INTO movements VALUES ({', '.join('?' * width)})"
    leaf = upsert(source, "tiles", ["org", "level", "idx"])
    began = time.perf_counter()
    for start in range(0, len(entries), BATCH):
        batch = entries[start:start + BATCH]
        moved = [row for entry in batch for row in movements.get(entry[1], ())]
        places = sorted({place for row in moved for place in (row[3], row[4])})
        target.execute("BEGIN IMMEDIATE")
        target.execute("SELECT next_seq FROM heads WHERE org = ?", [head[0]]).fetchone()
        target.executemany(f"INSERT INTO entries VALUES ({', '.join('?' * len(batch[0]))})", batch)
        target.executemany(movement, moved)
        target.executemany(balance,
                           [row for place in places for row in balances.get(place, ())])
        target.executemany(subject,
                           [subjects[place] for place in places if place in subjects])
        target.executemany(standing,
                           [standings[place] for place in places if place in standings])
        target.execute(leaf,
                       (tile[0], 0, batch[0][1] // 256, tile[3]))
        target.execute("UPDATE heads SET next_seq = ?, booked_at = ?, frontier = ? WHERE org = ?",
                       (batch[-1][1] + 1, batch[-1][5], head[6], head[0]))
        target.execute("COMMIT")
    seconds = time.perf_counter() - began
    print(f"{len(entries)} entries, {sum(map(len, movements.values()))} movements", file=sys.stderr)
    print(f"{seconds:.3f}")


if __name__ == "__main__":
    main()
