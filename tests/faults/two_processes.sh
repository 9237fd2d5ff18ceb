#!/usr/bin/env bash
# Two processes write one book at the same time and never fork it.
#
#     tests/faults/two_processes.sh sqlite|postgres [SECONDS] [WRITER]
#
# Two writers (writer.rs, eight threads each) post into the same book for a few seconds. Then every
# number from 0 on must hold exactly one entry (`list` reads them all and re-adds the balance),
# everything that either was told is stored must be there, and the entries of both must alternate:
# otherwise one had only waited for the other.
#
# SQLite's lock is not fair: one process may take it again and again while the other sleeps. A run in
# which they hardly alternated is correct and shows nothing, so it is made again, at most eight times.
set -eu
engine="$1"
seconds="${2:-5}"
faults="$(realpath "$(dirname "$0")")"
writer="${3:-$faults/../../target/debug/fault-writer}"

if [ "$engine" = postgres ] && [ -z "${CLUSTER_URL:-}" ]; then
    exec python3 "$faults/../harness/cluster.py" run --sync -- bash "$0" postgres "$seconds" "$writer"
fi
folder="$(mktemp -d)"
trap 'rm -rf "$folder"' EXIT
if [ "$engine" = sqlite ]; then
    place=(--data "$folder/book")
else
    "$PG_BINDIR/psql" -X -q -d postgres -c "CREATE DATABASE faults"
    place=(--database-url "${CLUSTER_URL}faults")
fi
"$writer" "${place[@]}" list >/dev/null # Makes the book, so that both find it.

round() {
    for one in a b; do
        timeout -s KILL "$seconds" "$writer" "${place[@]}" write >"$folder/$one" 2>"$folder/$one.errors" &
    done
    wait || true
    "$writer" "${place[@]}" list >"$folder/listed" || { echo "FAILED: the book is broken"; return 1; }

    python3 - "$folder" <<'PYTHON'
import sys
folder = sys.argv[1]
told = {}
for one in "ab":
    with open(f"{folder}/{one}", encoding="utf-8") as file:
        lines = file.read().split("\n")[:-1]
    for line in lines[1:]:
        told[line.removeprefix("acknowledged ")] = one
    errors = open(f"{folder}/{one}.errors", encoding="utf-8").read()
    if errors or lines[:1] not in ([], ["ready"]):
        sys.exit(f"FAILED: writer {one} said: {errors!r}")
with open(f"{folder}/listed", encoding="utf-8") as file:
    stored = file.read().split()
if len(stored) != len(set(stored)):
    sys.exit("FAILED: an entry is stored twice")
missing = set(told).difference(stored)
if missing:
    sys.exit(f"FAILED: {len(missing)} acknowledged entries are missing")
order = [told[identity] for identity in stored if identity in told]
turns = sum(left != right for left, right in zip(order, order[1:]))
counts = [order.count(one) for one in "ab"]
if min(counts) < 20 or turns < 4:
    print(f"Correct, but too little beside each other to show anything: {counts}, {turns} turns")
    sys.exit(75)
print(f"{counts[0]} and {counts[1]} entries in one book, {turns} turns, none missing")
PYTHON
}

for attempt in 1 2 3 4 5 6 7 8; do
    status=0
    round || status=$?
    if [ "$status" = 0 ]; then
        echo "1 passed, 0 failed"
        exit 0
    fi
    [ "$status" = 75 ] || exit 1
done
echo "FAILED: the two never wrote beside each other in $attempt runs"
exit 1
