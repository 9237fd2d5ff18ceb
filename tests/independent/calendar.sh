#!/usr/bin/env bash
# Fetches a calendar of a served demo and reads it back with the Python library `icalendar`.
#
#     tests/independent/calendar.sh target/debug/tarebook
#
# Needs icalendar (PYTHON names an interpreter that has it). Ends with "N passed, M failed".
set -eu
here="$(cd "$(dirname "$0")" && pwd)"
binary="$(realpath "$1")"
python="${PYTHON:-$here/../../target/python/bin/python}"
. "$here/../harness/demo.sh"
work="$(mktemp -d)"
trap 'stop_demo; rm -rf "$work"' EXIT
start_demo "$binary" "$work" || exit 1
export PYTHONDONTWRITEBYTECODE=1
"$python" "$here/calendar_feed.py" "$BASE" osric@tamarack.example "$(password_of osric@tamarack.example)"
