#!/usr/bin/env python3
"""The references of W1 on PostgreSQL: the rows of many books written once more, in bare loops.

    bare_rows_postgres.py SOURCE_URL ROWS_URL PIPELINED_URL FIRST

Reads every row that the entries from number FIRST on left in the books of SOURCE_URL, and writes
them into two databases with the same tables, in transactions of 64 entries, each entry first
locking the head of its book: in ROWS_URL one statement and one round trip a row, in PIPELINED_URL
all rows of one table sent without waiting between them. Nothing is judged, hashed or added up.
Prints the seconds of both loops. Uses asyncpg (Apache-2.0).
"""
import asyncio
import sys
import time

import asyncpg

BATCH = 64
KEYS = {"balances": ["org", "place", "refrigerant"], "subjects": ["org", "place"],
        "standings": ["org", "place"]}


def insert(table, columns):
    values = ", ".join(f"${n + 1}" for n in range(len(columns)))
    text = f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({values})"
    if table in KEYS:
        changes = ", ".join(f"{c} = excluded.{c}" for c in columns if c not in KEYS[table])
        text += f" ON CONFLICT ({', '.join(KEYS[table])}) DO UPDATE SET {changes}"
    return text


async def read(url, first):
    source = await asyncpg.connect(url)
    entries = await source.fetch("SELECT * FROM entries WHERE seq >= $1 ORDER BY booked_at, org, seq",
                                 first)
    moved = {}
    for row in await source.fetch("SELECT * FROM movements WHERE seq >= $1", first):
        moved.setdefault((row["org"], row["seq"]), []).append(row)
    caches = {}
    for table in KEYS:
        for row in await source.fetch(f"SELECT * FROM {table}"):
            caches.setdefault((table, row["org"], row["place"]), []).append(row)
    heads = await source.fetch("SELECT * FROM heads")
    await source.close()
    assert any(table == "standings" for table, *_ in caches), "no standings in the book under test"
    return entries, moved, caches, heads


def rows_of(batch, moved, caches):
    """What a batch of entries writes: table to rows."""
    found = {"entries": list(batch), "movements": [], **{table: [] for table in KEYS}}
    for entry in batch:
        for row in moved.get((entry["org"], entry["seq"]), ()):
            found["movements"].append(row)
            for place in (row["src"], row["dst"]):
                for table in KEYS:
                    found[table] += caches.get((table, row["org"], place), ())
    return found


async def write(url, data, pipelined):
    entries, moved, caches, heads = data
    target = await asyncpg.connect(url)
    await target.executemany(insert("heads", list(heads[0].keys())), [tuple(h) for h in heads])
    head = {h["org"]: h for h in heads}
    lock = await target.prepare("SELECT next_seq FROM heads WHERE org = $1 FOR UPDATE")
    update = "UPDATE heads SET next_seq = $2, booked_at = $3, frontier = $4 WHERE org = $1"
    statements = {}
    began = time.perf_counter()
    for start in range(0, len(entries), BATCH):
        batch = entries[start:start + BATCH]
        orgs = sorted({entry["org"] for entry in batch})
        new_heads = [(e["org"], e["seq"] + 1, e["booked_at"], head[e["org"]]["frontier"])
                     for e in batch]
        async with target.transaction():
            if pipelined:
                await target.fetch("SELECT next_seq FROM heads WHERE org = ANY($1) ORDER BY org "
                                   "FOR UPDATE", orgs)
            else:
                for org in orgs:
                    await lock.fetch(org)
            for table, rows in rows_of(batch, moved, caches).items():
                if not rows:
                    continue
                if table not in statements:
                    text = insert(table, list(rows[0].keys()))
                    statements[table] = text, await target.prepare(text)
                text, statement = statements[table]
                if pipelined:
                    await target.executemany(text, [tuple(row) for row in rows])
                else:
                    for row in rows:
                        await statement.fetch(*row)
            if pipelined:
                await target.executemany(update, new_heads)
            else:
                for values in new_heads:
                    await target.execute(update, *values)
    seconds = time.perf_counter() - began
    await target.close()
    return seconds


async def main():
    source, rows, pipelined, first = sys.argv[1:]
    data = await read(source, int(first))
    one_by_one = await write(rows, data, False)
    together = await write(pipelined, data, True)
    print(f"{len(data[0])} entries", file=sys.stderr)
    print(f"{one_by_one:.3f} {together:.3f}")


asyncio.run(main())
