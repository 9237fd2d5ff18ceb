#!/usr/bin/env bash
# The pages in a real Chromium: without script, on a telephone and a desk, measured for access.
#
#     tests/browser/run.sh target/debug/tarebook [sqlite|postgres]
#
# Serves the demo, the invented year, on a free port of this machine and runs walk.mjs against it.
# Needs node, npm and chromium (tests/run.sh installs them); `tests/browser/run.sh --can-run` says
# by its status whether they are here.
# With PARTS=looks,field only these parts of it run; with SHOTS=DIR every page is kept as a picture
# there, to be looked at.
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

. "$here/../harness/demo.sh"
work="$(mktemp -d)"
trap 'stop_demo; rm -rf "$work"' EXIT
place=()
if [ "$engine" = postgres ]; then
    "$PG_BINDIR/psql" -X -q -d postgres -c "CREATE DATABASE pages"
    place=(--database-url "${CLUSTER_URL}pages" --keys "$work/keys")
fi
start_demo "$binary" "$work" "${place[@]}" || exit 1

BASE="$BASE" SIGN_INS="$work/demo.out" CHROMIUM="$(chromium_path)" node "$here/walk.mjs" || {
    status=$?
    echo "The last lines of the service's log:"
    tail -n 5 "$work/demo.log"
    kill -0 "$demo" 2>/dev/null || echo "The service is not running any more."
    exit $status
}
