#!/usr/bin/env bash
# Fetches the owner's record of a served demo as a PDF and reads it with the Python library `pypdf`.
#
#     tests/independent/owners_record.sh target/debug/tarebook
#
# The program must be built with the feature `pdf`, as it is unless it is left out. Needs pypdf (PYTHON
# names an interpreter that has it). Ends with "N passed, M failed".
set -eu
here="$(cd "$(dirname "$0")" && pwd)"
binary="$(realpath "$1")"
python="${PYTHON:-$here/../../target/python/bin/python}"
. "$here/../harness/demo.sh"
work="$(mktemp -d)"
trap 'stop_demo; rm -rf "$work"' EXIT
start_demo "$binary" "$work" || exit 1
export PYTHONDONTWRITEBYTECODE=1
"$python" "$here/owners_record.py" "$BASE" osric@tamarack.example "$(password_of osric@tamarack.example)"
