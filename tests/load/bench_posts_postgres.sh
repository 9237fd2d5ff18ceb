#!/usr/bin/env bash
# W1 on PostgreSQL: postings of 64 callers to many books, against bare loops writing the same rows.
#
#     tests/load/bench_posts_postgres.sh LOAD_POSTS TAREBOOK [COUNT] [ORGANISATIONS]
#
# LOAD_POSTS and TAREBOOK are the release builds. A throw-away cluster with syncs on; the reference
# needs asyncpg, which is installed into target/python. Limits: at least 2 x the loop with a round
# trip a row, and 0.4 x the pipelined one. Three rounds, the best ratio of each counts.
set -eu
load="$(realpath "$(dirname "$0")")"
posts="$(realpath "$1")"
tarebook="$(realpath "$2")"
count="${3:-30000}"
books="${4:-1000}"
if [ -z "${CLUSTER_URL:-}" ]; then
    exec python3 "$load/../harness/cluster.py" run --sync -- \
        bash "$0" "$posts" "$tarebook" "$count" "$books"
fi
environment="$load/../../target/python"
python="$environment/bin/python"
"$python" -c 'import asyncpg' 2>/dev/null || {
    echo "Installing asyncpg into target/python"
    [ -x "$python" ] || python3 -m venv "$environment"
    "$python" -m pip install -q --disable-pip-version-check asyncpg==0.30.0
}
best_rows=0
best_pipelined=0
for round in 1 2 3; do
    for name in book rows pipelined; do
        "$PG_BINDIR/psql" -X -q -d postgres -c "DROP DATABASE IF EXISTS $name"
        "$PG_BINDIR/psql" -X -q -d postgres -c "CREATE DATABASE $name"
        "$tarebook" migrate --database-url "${CLUSTER_URL}$name" 2>/dev/null
    done
    read -r first seconds < <("$posts" "${CLUSTER_URL}book" "$count" "$books")
    read -r rows pipelined < <("$python" "$load/bare_rows_postgres.py" \
        "${CLUSTER_URL}book" "${CLUSTER_URL}rows" "${CLUSTER_URL}pipelined" "$first")
    read -r ratio_rows ratio_pipelined < <(awk -v ours="$seconds" -v rows="$rows" \
        -v pipelined="$pipelined" 'BEGIN { printf "%.2f %.2f\n", rows / ours, pipelined / ours }')
    awk -v n="$count" -v s="$seconds" 'BEGIN { printf "%.0f postings/s; ", n / s }'
    echo "round $round: $ratio_rows x row by row, $ratio_pipelined x pipelined"
    best_rows=$(printf '%s\n%s\n' "$best_rows" "$ratio_rows" | sort -g | tail -n 1)
    best_pipelined=$(printf '%s\n%s\n' "$best_pipelined" "$ratio_pipelined" | sort -g | tail -n 1)
done
echo "W1 PostgreSQL, $books organisations: $best_rows x row by row (limit at least 2)," \
    "$best_pipelined x pipelined (limit at least 0.4)"
awk -v rows="$best_rows" -v pipelined="$best_pipelined" 'BEGIN { exit rows < 2 || pipelined < 0.4 }'
