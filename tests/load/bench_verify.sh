#!/usr/bin/env bash
# `verify` over a whole book: every leaf hashed, the tree, the checkpoints.
#
#     tests/load/bench_verify.sh BINARY [sqlite|postgres] [S|M|L]
#
# Limit on the M fleet: 6 s of processor time. The best of three runs counts.
set -eu
. "$(dirname "$0")/common.sh"

need_book
best="999 0 0"
for run in 1 2 3; do
    one=$(measured "verify, run $run" -- "$binary" verify --organisation Load "${place[@]}")
    best=$(printf '%s\n%s\n' "$best" "$one" | sort -g | head -n 1)
done
read -r cpu peak _ <<<"$best"
verdict "verify, processor time" "$cpu" 6 s
echo "verify, peak memory: $peak MiB (no limit set)"
exit "$missed"
