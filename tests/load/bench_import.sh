#!/usr/bin/env bash
# W2: importing a fleet's movements, in processor time and memory, beside a plain load.
#
#     tests/load/bench_import.sh BINARY [sqlite|postgres] [S|M|L]
#
# Limits: at most 4.5 times the processor time of bare_sqlite.py in the same run (the limit is for
# SQLite; on PostgreSQL only our client is measured), peak memory at most 200 MiB.
set -eu
. "$(dirname "$0")/common.sh"

rm -f "$work"/bare.db*
read -r bare_cpu _ _ < <(measured "plain sqlite3 load" -- \
    python3 "$load/bare_sqlite.py" "$fleet/movements.csv" "$work/bare.db")
new_book
read -r cpu peak _ < <(import_movements)
[ "$engine" = postgres ] || touch "$work/book-$size/.complete"
rm -f "$work"/bare.db*

ratio=$(awk -v a="$cpu" -v b="$bare_cpu" 'BEGIN { printf "%.2f", a / b }')
echo "import: $cpu s; plain load: $bare_cpu s"
verdict "W2 import / plain load, processor time" "$ratio" 4.5 x
verdict "W2 import, peak memory" "$peak" 200 MiB
exit "$missed"
