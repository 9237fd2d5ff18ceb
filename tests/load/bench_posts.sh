#!/usr/bin/env bash
# W1 on SQLite: postings from 64 callers, as a share of a bare loop that writes the same rows.
#
#     tests/load/bench_posts.sh LOAD_POSTS [COUNT]
#
# LOAD_POSTS is target/release/load-posts (posts.rs). Three rounds, each on a new book, ours and the
# bare loop one after the other; the best ratio counts. Limit: at least 0.4.
set -eu
load="$(realpath "$(dirname "$0")")"
program="$(realpath "$1")"
count="${2:-60000}"
folder="$(mktemp -d)"
trap 'rm -rf "$folder"' EXIT

best=0
for round in 1 2 3; do
    rm -rf "$folder/book" "$folder"/bare.sqlite*
    mkdir "$folder/book"
    read -r first seconds < <("$program" "$folder/book" "$count")
    bare=$(python3 "$load/bare_rows.py" "$folder/book/tarebook.sqlite" "$folder/bare.sqlite" "$first")
    line=$(awk -v n="$count" -v ours="$seconds" -v bare="$bare" 'BEGIN {
        printf "%.0f %.0f %.2f", n / ours, n / bare, bare / ours }')
    read -r ours_rate bare_rate ratio <<<"$line"
    echo "round $round: $ours_rate postings/s, bare loop $bare_rate/s, ratio $ratio"
    best=$(printf '%s\n%s\n' "$best" "$ratio" | sort -g | tail -n 1)
done
echo "W1 SQLite: best ratio $best, limit at least 0.4"
awk -v best="$best" 'BEGIN { exit best < 0.4 }'
