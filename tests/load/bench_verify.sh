#!/usr/bin/env bash
# `verify` over a whole book: every leaf hashed, the tree, the checkpoints.
#
#     tests/load/bench_verify.sh BINARY [sqlite|postgres] [S|M|L]
#
# Limit on the M fleet: 0.88 times the processor time of bare_sqlite.py in the same run (6 s where
# that load takes 6.8 s). The best of three runs counts, of both.
set -eu
. "$(dirname "$0")/common.sh"

need_book
best="999 0 0"
bare=999
for run in 1 2 3; do
    rm -f "$work"/bare.db*
    read -r plain _ < <(measured "plain load, run $run" -- \
        python3 "$load/bare_sqlite.py" "$fleet/movements.csv" "$work/bare.db")
    bare=$(printf '%s\n%s\n' "$bare" "$plain" | sort -g | head -n 1)
    one=$(measured "verify, run $run" -- "$binary" verify --organisation Load "${place[@]}")
    best=$(printf '%s\n%s\n' "$best" "$one" | sort -g | head -n 1)
done
read -r cpu peak _ <<<"$best"
rm -f "$work"/bare.db*
echo "verify, processor time: $cpu s (plain load $bare s)"
verdict "verify over the plain load" "$(awk -v a="$cpu" -v b="$bare" 'BEGIN { printf "%.2f", a / b }')" 0.88 x
echo "verify, peak memory: $peak MiB (no limit set)"
exit "$missed"
