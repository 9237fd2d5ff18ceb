#!/usr/bin/env bash
# Promise D1 at the level of the process: kill -9 under load, on one engine.
#
#     tests/faults/kill_loop.sh sqlite|postgres [KILLS] [WRITER]
#
# WRITER (writer.rs) runs eight threads through the same writer as the service. PostgreSQL syncs
# here, as in operation. First the loop shows on a toy that it finds a writer that lies.
set -eu
engine="$1"
kills="${2:-300}"
faults="$(realpath "$(dirname "$0")")"
writer="${3:-$faults/../../target/debug/fault-writer}"

if [ "$engine" = postgres ] && [ -z "${CLUSTER_URL:-}" ]; then
    exec python3 "$faults/../harness/cluster.py" run --sync -- bash "$0" postgres "$kills" "$writer"
fi
if [ "$engine" = sqlite ]; then
    folder="$(mktemp -d)"
    trap 'rm -rf "$folder"' EXIT
    place=(--data "$folder/book")
else
    "$PG_BINDIR/psql" -X -q -d postgres -c "CREATE DATABASE faults"
    place=(--database-url "${CLUSTER_URL}faults")
fi
python3 "$faults/kill_loop.py" --self-test
python3 "$faults/kill_loop.py" --kills "$kills" --writers 8 -- "$writer" "${place[@]}"
