#!/usr/bin/env bash
# Signs in to a served demo with one-time codes that Python's standard library works out.
#
#     tests/independent/second_factor.sh target/debug/tarebook
#
# Needs python3 and nothing else. Takes up to half a minute: it waits for a step of the clock to begin.
# Ends with "N passed, M failed".
set -eu
here="$(cd "$(dirname "$0")" && pwd)"
binary="$(realpath "$1")"
. "$here/../harness/demo.sh"
work="$(mktemp -d)"
trap 'stop_demo; rm -rf "$work"' EXIT
start_demo "$binary" "$work" || exit 1
export PYTHONDONTWRITEBYTECODE=1
python3 "$here/second_factor.py" "$BASE" osric@tamarack.example "$(password_of osric@tamarack.example)"
