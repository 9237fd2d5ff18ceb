#!/usr/bin/env bash
# W5: `rules preview` of a lower threshold and another method over a whole fleet.
#
#     tests/load/bench_rules.sh BINARY [sqlite|postgres] [S|M|L]
#
# Limits on the M fleet: 0.6 s of processor time and 150 MiB, and no more processor time than the
# yearly report over the same book in the same minute takes, times a limit below: it reads the same
# index once, and judges every appliance twice. Five runs of each in turn; the best ones count,
# because anything else on the machine only ever adds.
set -eu
. "$(dirname "$0")/common.sh"

need_book
[ "$engine" = sqlite ] || "$PG_BINDIR/psql" -X -q -d load -c "VACUUM ANALYZE"
# Adopted once: a book that is kept has it already, and a second adoption changes nothing.
"$binary" rules adopt "$load/flat-thresholds.toml" --from 1990-01-01 \
    --reason "the rules of this measurement" --organisation Load \
    "${place[@]}" >"$work/adopt.log" 2>&1 || { tail -n 5 "$work/adopt.log"; exit 1; }
cat >"$work/lower.toml" <<'TOML'
id       = "bench-lower"
overlays = "bench-flat"
layer    = "local"
title    = "A lower threshold for benchmarks (invented)"
reason   = "none"

[values.trigger]
rows = [{ from = "2020-01-01", for = ["commercial"], is = "15", clause = "none" }]
TOML
best="999 0 0"
reference="999 0 0"
for run in 1 2 3 4 5; do
    one=$(measured "report appliance-year, run $run" -- \
        "$binary" report appliance-year --organisation Load --year 2023 --unit ug "${place[@]}")
    reference=$(printf '%s\n%s\n' "$reference" "$one" | sort -g | head -n 1)
    one=$(measured "rules preview, run $run" --out "$work/preview.txt" -- \
        "$binary" rules preview "$work/lower.toml" --method rolling --from 2020-01-01 --most 100 \
        --organisation Load "${place[@]}")
    best=$(printf '%s\n%s\n' "$best" "$one" | sort -g | head -n 1)
done
read -r cpu peak _ <<<"$best"
read -r report _ _ <<<"$reference"
ratio=$(awk -v preview="$cpu" -v report="$report" 'BEGIN { printf "%.2f", preview / report }')
echo "$(wc -l <"$work/preview.txt") lines of the first 100 appliances; best of five runs:"
verdict "W5 rules preview, processor time" "$cpu" 0.6 s
verdict "W5 rules preview, peak memory" "$peak" 150 MiB
verdict "W5 rules preview, times the yearly report" "$ratio" 1.5 x
exit "$missed"
