# What the benchmarks over HTTP share: books, a running service, verdicts. Sourced, never run.
#
# The caller sets load, tarebook, client, engine. `folder` is temporary; the service's log lies in it.

folder="$(mktemp -d)"
server=""
stop() {
    [ -z "$server" ] || kill "$server" 2>/dev/null || true
    [ -z "$server" ] || wait "$server" 2>/dev/null || true
    server=""
}
trap 'stop; rm -rf "$folder"' EXIT
for name in $(env | sed -n 's/^\(TAREBOOK_[A-Z_]*\)=.*/\1/p'); do unset "$name"; done
export TAREBOOK_KEYS="$folder/keys" TAREBOOK_LOG_LEVEL=warn

fresh_database() {
    "$PG_BINDIR/psql" -X -q -d postgres -c "DROP DATABASE IF EXISTS $1" -c "CREATE DATABASE $1" 2>/dev/null
    "$tarebook" migrate --database-url "${CLUSTER_URL}$1" 2>/dev/null
}

# new_books N   so many books with appliances and cylinders; their tokens in $folder/tokens.
new_books() {
    rm -rf "$folder/book" "$folder/keys" "$folder"/bare*
    if [ "$engine" = sqlite ]; then
        mkdir "$folder/book"
        place=(--data "$folder/book")
        where="$folder/book"
    else
        fresh_database book
        place=(--database-url "${CLUSTER_URL}book")
        where="${CLUSTER_URL}book"
    fi
    "$client" prepare "$where" "$folder/keys" "$1" >"$folder/prepared"
    first="$(head -n 1 "$folder/prepared")"
    tail -n +2 "$folder/prepared" >"$folder/tokens"
}

# serve   serves `place` on a free port; sets `base` and `server`.
serve() {
    "$tarebook" serve "${place[@]}" --listen 127.0.0.1:0 >"$folder/serve.out" 2>"$folder/serve.log" &
    server=$!
    for _ in $(seq 100); do
        grep -q '^listening ' "$folder/serve.out" && break
        sleep 0.1
    done
    base="$(sed -n 's/^listening //p' "$folder/serve.out")"
    [ -n "$base" ] || { echo "The service did not start:"; cat "$folder/serve.log"; exit 1; }
}

# reference COUNT   seconds of a bare loop that writes the rows of the newest book again.
reference() {
    if [ "$engine" = sqlite ]; then
        python3 "$load/bare_rows.py" "$folder/book/tarebook.sqlite" "$folder/bare.sqlite" "$first"
        return
    fi
    python="$load/../../target/python/bin/python"
    "$python" -c 'import asyncpg' 2>/dev/null || {
        echo "Installing asyncpg into target/python" >&2
        [ -x "$python" ] || python3 -m venv "$load/../../target/python"
        "$python" -m pip install -q --disable-pip-version-check asyncpg==0.30.0 >&2
    }
    fresh_database rows
    fresh_database pipelined
    "$python" "$load/bare_rows_postgres.py" "${CLUSTER_URL}book" "${CLUSTER_URL}rows" \
        "${CLUSTER_URL}pipelined" "$first" | cut -d ' ' -f 1
}

# peak   the most memory the service held so far, in MiB.
peak() { awk '/^VmHWM/ { printf "%.0f", $2 / 1024 }' "/proc/$server/status"; }

# verdict WHAT REACHED LIMIT GOOD   GOOD is 1 or 0.
verdict() {
    [ "$4" = 1 ] && word=kept || { word=MISSED; missed=1; }
    printf '%-48s %10s  limit %s  %s\n' "$1" "$2" "$3" "$word"
}
at_least() { verdict "$1" "$2" "at least $3" "$(awk -v a="$2" -v b="$3" 'BEGIN { print (a + 0 >= b + 0) }')"; }
at_most() { verdict "$1" "$2" "at most $3" "$(awk -v a="$2" -v b="$3" 'BEGIN { print (a + 0 <= b + 0) }')"; }
