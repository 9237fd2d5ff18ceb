#!/usr/bin/env bash
# Takes every report of the invented year from books on both engines and reads the files with software
# that is not ours: the Python libraries `csvw` (CSV on the Web, W3C) and `openpyxl` (workbooks), Python's
# own `csv`, and `prometheus_client` for the measurements of the service; then the manual and the
# completions. Workbooks made by `openpyxl`, `XlsxWriter` and `odfpy` are imported on both engines.
#
#     tests/independent/report_files.sh target/debug/tarebook
#
# Needs csvw, odfpy, openpyxl, prometheus_client and XlsxWriter (PYTHON names an interpreter that has them) and, for the comparison
# of the engines, PostgreSQL; without it that part is skipped loudly. Ends with "N passed, M failed".
set -eu
here="$(cd "$(dirname "$0")" && pwd)"
binary="$(realpath "$1")"
python="${PYTHON:-$here/../../target/python/bin/python}"
cluster="$here/../harness/cluster.py"
if [ -z "${CLUSTER_URL:-}" ] && python3 "$cluster" where >/dev/null 2>&1; then
    exec python3 "$cluster" run -- "$0" "$binary"
fi
# No setting of the caller may lead the program elsewhere.
for name in $(env | sed -n 's/^\(TAREBOOK_[A-Z_]*\)=.*/\1/p'); do unset "$name"; done
work="$(mktemp -d)"
service=""
trap '[ -z "$service" ] || kill "$service" 2>/dev/null || true; rm -rf "$work"' EXIT
year=2026

# take PLACE FOLDER   every report in two units, twice: the second time by another process.
take() {
    for name in appliance-year additions follow-ups inspections-due yearly-loss disposals-by-month \
        releases yearly-co2e mass-balance; do
        for unit in lb kg; do
            for again in "" again-; do
                # shellcheck disable=SC2086 # Several words on purpose.
                "$binary" report "$name" $1 --year $year --unit $unit --quiet \
                    --out "$2/$again$name-$unit.csv"
                # shellcheck disable=SC2086
                "$binary" report "$name" $1 --year $year --unit $unit --quiet \
                    --out "$2/$again$name-$unit.xlsx"
            done
            # shellcheck disable=SC2086
            "$binary" report "$name" $1 --year $year --unit $unit --quiet --for spreadsheet \
                --decimal comma >"$2/$name-$unit.semicolons"
        done
    done
}

mkdir "$work/sqlite" "$work/postgres"
"$binary" demo --report --data "$work/book" --quiet >/dev/null
take "--data $work/book" "$work/sqlite"
if [ -n "${CLUSTER_URL:-}" ]; then
    "${PG_BINDIR:+$PG_BINDIR/}psql" -X -q -d postgres -c "CREATE DATABASE report_files"
    place="--database-url ${CLUSTER_URL%/*}/report_files --keys $work/keys"
    # shellcheck disable=SC2086
    "$binary" demo --report $place --quiet >/dev/null
    take "$place" "$work/postgres"
else
    echo "!!!! The engines are not compared: no initdb found (install postgresql or set PG_BINDIR)."
    [ "${CI:-}" != true ] || exit 1
fi

token="$("$binary" token issue --data "$work/book" --role compliance_manager --quiet)"
TAREBOOK_METRICS_LISTEN=127.0.0.1:0 "$binary" serve --data "$work/book" --listen 127.0.0.1:0 \
    >"$work/listening" 2>"$work/log" &
service=$!
for _ in $(seq 300); do
    [ -s "$work/listening" ] && break
    kill -0 "$service" 2>/dev/null || { echo "the service ended before it listened"; cat "$work/log"; exit 1; }
    sleep 0.1
done
base="$(sed -n 's/^listening //p' "$work/listening")"
metrics="$(sed -n 's/.*measurements at \(http:[^ "]*\).*/\1/p' "$work/log")"
export PYTHONDONTWRITEBYTECODE=1
status=0
"$python" "$here/report_files.py" "$work" "$year" "$base" "$token" || status=1
"$python" "$here/workbooks.py" "$work" || status=1
"$python" "$here/workbook_imports.py" "$binary" || status=1
"$python" "$here/metrics.py" "$metrics" "$base" || status=1
bash "$here/manual.sh" "$binary" || status=1
exit $status
