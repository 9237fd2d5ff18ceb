#!/usr/bin/env bash
# W3: `report appliance-year` over a whole fleet: processor time, memory, first byte.
#
#     tests/load/bench_report.sh BINARY [sqlite|postgres] [S|M|L]
#
# Limits on the M fleet: 0.8 s of processor time, 100 MiB, first byte within 100 ms. Five runs; the
# best one counts, because anything else on the machine only ever adds.
set -eu
. "$(dirname "$0")/common.sh"

need_book
[ "$engine" = sqlite ] || "$PG_BINDIR/psql" -X -q -d load -c "VACUUM ANALYZE"
best="999 0 0"
for run in 1 2 3 4 5; do
    one=$(measured "report appliance-year, run $run" --out "$work/report.csv" -- \
        "$binary" report appliance-year --organisation Load --year 2023 --unit ug \
        --rules "$load/flat-thresholds.toml" "${place[@]}")
    best=$(printf '%s\n%s\n' "$best" "$one" | sort -g | head -n 1)
done
read -r cpu peak first <<<"$best"
echo "$(wc -l <"$work/report.csv") lines; best of five runs:"
verdict "W3 report appliance-year, processor time" "$cpu" 0.8 s
verdict "W3 report appliance-year, peak memory" "$peak" 100 MiB
verdict "W3 report appliance-year, first byte" "$first" 100 ms
exit "$missed"
