# What the benchmarks share: arguments, the fleet, a place for the book. Sourced, never run.
#
# Each is called as: bench_X.sh BINARY [sqlite|postgres] [SIZE], SIZE being S, M or L of
# gen_fleet.py (M by default: 1.04 million movements). The fleet and the book lie in target/load and
# are made once; remove that folder to begin anew. On PostgreSQL the cluster lives as long as the
# script, with syncs on, so report and verify import first.

load="$(realpath "$(dirname "${BASH_SOURCE[0]}")")"
binary="$(realpath "$1")"
engine="${2:-sqlite}"
size="${3:-M}"
work="${LOAD_FOLDER:-$load/../../target/load}"
mkdir -p "$work"
work="$(realpath "$work")"
fleet="$work/fleet-$size"

if [ "$engine" = postgres ] && [ -z "${CLUSTER_URL:-}" ]; then
    exec python3 "$load/../harness/cluster.py" run --sync -- bash "$0" "$binary" postgres "$size"
fi
[ -f "$fleet/movements.csv" ] || python3 "$load/gen_fleet.py" --size "$size" --out "$fleet"

if [ "$engine" = sqlite ]; then
    place=(--data "$work/book-$size")
else
    place=(--database-url "${CLUSTER_URL}load" --keys "$work/keys")
fi

folder="$work"
. "$load/../oracle/book.sh"

measured() { python3 "$load/measure.py" "$@"; }

# verdict WHAT REACHED LIMIT UNIT
verdict() {
    awk -v what="$1" -v reached="$2" -v limit="$3" -v unit="$4" 'BEGIN {
        word = reached + 0 <= limit + 0 ? "within" : "OVER"
        printf "%-44s %10s %-4s limit %6s  %s\n", what, reached, unit, limit, word
        exit word == "OVER" }' || missed=1
}
missed=0

new_book() {
    if [ "$engine" = sqlite ]; then
        rm -rf "$work/book-$size"
        mkdir -p "$work/book-$size"
    else
        "$PG_BINDIR/psql" -X -q -d postgres -c "CREATE DATABASE load"
        "$binary" migrate "${place[@]}"
    fi
    begin_book Load
    for table in appliances cylinders; do
        import_table "$table" "$fleet" Load || { tail -n 20 "$folder/log"; exit 1; }
    done
}

import_movements() {
    measured "import movements ($engine, $size)" -- \
        "$binary" import movements "$fleet/movements.csv" --organisation Load "${place[@]}"
}

# The book of an earlier run on SQLite, else a new one.
need_book() {
    if [ "$engine" = sqlite ] && [ -f "$work/book-$size/.complete" ]; then
        return
    fi
    new_book
    import_movements >/dev/null
    [ "$engine" = postgres ] || touch "$work/book-$size/.complete"
}
