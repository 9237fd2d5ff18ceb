#!/usr/bin/env bash
# The pages in a real Chromium: without script, on a telephone and a desk, measured for access.
#
#     tests/browser/run.sh target/debug/tarebook [sqlite|postgres]
#
# Books the invented year into a temporary place, lets four people sign in, serves it on a free
# port of this machine, and runs walk.mjs against it. Needs node, npm and chromium (tests/run.sh
# installs them); `tests/browser/run.sh --can-run` says by its status whether they are here.
# With SHOTS=DIR every page is kept as a picture there, to be looked at.
set -eu
here="$(cd "$(dirname "$0")" && pwd)"

chromium_path() { command -v chromium || command -v chromium-browser || command -v google-chrome; }

if [ "${1:-}" = --can-run ]; then
    command -v node >/dev/null && command -v npm >/dev/null && chromium_path >/dev/null
    exit
fi

binary="$(realpath "$1")"
engine="${2:-sqlite}"
if [ ! -d "$here/node_modules/playwright-core" ] || [ ! -d "$here/node_modules/axe-core" ]; then
    (cd "$here" && npm ci --ignore-scripts --no-audit --no-fund)
fi

if [ "$engine" = postgres ] && [ -z "${CLUSTER_URL:-}" ]; then
    exec python3 "$here/../harness/cluster.py" run -- bash "$0" "$binary" postgres
fi

work="$(mktemp -d)"
server=""
tidy_up() {
    [ -z "$server" ] || kill "$server" 2>/dev/null || true
    [ -z "$server" ] || wait "$server" 2>/dev/null || true
    rm -rf "$work"
}
trap tidy_up EXIT

export TAREBOOK_KEYS="$work/keys"
if [ "$engine" = postgres ]; then
    "$PG_BINDIR/psql" -X -q -d postgres -c "CREATE DATABASE pages"
    export TAREBOOK_DATABASE_URL="${CLUSTER_URL}pages"
    "$binary" migrate
else
    export TAREBOOK_DATA="$work/book"
fi
export TAREBOOK_ORGANISATION="Tamarack Ridge Mechanical"
"$binary" demo --report >"$work/year.csv" 2>"$work/demo.log" || { cat "$work/demo.log"; exit 1; }

password="Hoarfrost on the condenser at dawn"
printf '%s\n' "$password" >"$work/password"
may_sign_in() {
    "$binary" user add "$1@$2" --person "$1@$2" --role "$3" --password-file "$work/password"
}
may_sign_in ines tamarack.example technician
may_sign_in osric tamarack.example compliance_manager
may_sign_in signe aldworth.example auditor
may_sign_in juno tamarack.example administrator

"$binary" serve --listen 127.0.0.1:0 >"$work/serve.out" 2>"$work/serve.log" &
server=$!
for _ in $(seq 100); do
    grep -q '^listening ' "$work/serve.out" && break
    sleep 0.1
done
base="$(sed -n 's/^listening //p' "$work/serve.out")"
[ -n "$base" ] || { echo "The service did not start:"; cat "$work/serve.log"; exit 1; }

BASE="$base" PASSWORD="$password" CHROMIUM="$(chromium_path)" node "$here/walk.mjs" || {
    status=$?
    echo "The last lines of the service's log:"
    tail -n 5 "$work/serve.log"
    kill -0 "$server" 2>/dev/null || echo "The service is not running any more."
    exit $status
}
