#!/usr/bin/env bash
# W1 over HTTP: postings of 64 connections to the running service, each a request of its own.
#
#     tests/load/bench_http_posts.sh TAREBOOK LOAD_HTTP [sqlite|postgres] [COUNT]
#
# TAREBOOK and LOAD_HTTP are the release builds. Three rounds on new books; ours and the reference
# run one after the other, the best ratio counts. The client shares the machine: its processor time
# is printed. Limits on SQLite: at least 0.35 of the bare loop (bare_rows.py), at least 4 times the
# service with a commit for each posting, and the slowest hundredth at most 8 times the middle. On
# PostgreSQL, 1 000 organisations: at least 2 times the loop with a round trip a row.
set -eu
load="$(realpath "$(dirname "$0")")"
tarebook="$(realpath "$1")"
client="$(realpath "$2")"
engine="${3:-sqlite}"
count="${4:-20000}"
if [ "$engine" = postgres ] && [ -z "${CLUSTER_URL:-}" ]; then
    exec python3 "$load/../harness/cluster.py" run --sync -- \
        bash "$0" "$tarebook" "$client" postgres "$count"
fi
. "$load/served.sh"
[ "$engine" = sqlite ] && books=1 || books=1000

# round COMMIT   posts COUNT charges to new books with so many postings a commit; sets `rate`.
round() {
    new_books "$books"
    TAREBOOK_POSTINGS_PER_COMMIT="$1" serve
    read -r seconds answers middle slowest client_cpu < <("$client" post "$base" "$folder/tokens" "$2" 64)
    stop
    rate=$(awk -v n="$answers" -v s="$seconds" 'BEGIN { printf "%.0f", n / s }')
}

best=0
best_slow=999
for number in 1 2 3; do
    round 256 "$count"
    bare=$(reference "$count")
    read -r ratio slow < <(awk -v n="$count" -v ours="$seconds" -v bare="$bare" -v p50="$middle" \
        -v p99="$slowest" 'BEGIN { printf "%.2f %.2f\n", bare / ours, p99 / p50 }')
    echo "round $number: $rate postings/s, ratio to the bare loop $ratio; middle $middle ms," \
        "slowest hundredth $slowest ms; client $client_cpu s of processor time in $seconds s"
    best=$(printf '%s\n%s\n' "$best" "$ratio" | sort -g | tail -n 1)
    best_slow=$(printf '%s\n%s\n' "$best_slow" "$slow" | sort -g | head -n 1)
done
missed=0
if [ "$engine" = postgres ]; then
    at_least "W1 over HTTP, PostgreSQL, row by row" "$best" 2
    exit "$missed"
fi
together="$rate"
round 1 $((count / 10))
times=$(awk -v many="$together" -v one="$rate" 'BEGIN { printf "%.2f", many / one }')
echo "a commit for each: $rate postings/s, middle $middle ms"
at_least "W1 over HTTP, SQLite, of the bare loop" "$best" 0.35
at_least "times a commit for each posting" "$times" 4
at_most "slowest hundredth over the middle" "$best_slow" 8
exit "$missed"
