#!/usr/bin/env bash
# The program's duties against the slow evaluation, over random histories that rest on no open
# reading (tests/oracle/duties/readings.py names those).
#
#     tests/oracle/duties.sh BINARY [HISTORIES [SEED]]
set -eu
cd "$(dirname "$0")/../.."
binary="$1"
histories="${2:-300}"
seed="${3:-51}"
folder="$(mktemp -d)"
trap 'rm -rf "$folder"' EXIT
python3 tests/oracle/gen_duties.py --seed "$seed" --count "$histories" >"$folder/histories.json"
python3 tests/oracle/duties.py settled "$folder/histories.json" >"$folder/settled.json"
"$binary" rules try "$folder/settled.json"
# A comparison that cannot fail proves nothing: a due date moved by a day must be found.
python3 - "$folder/settled.json" "$folder/planted.json" <<'PLANT'
import json, sys
from datetime import date, timedelta
document = json.load(open(sys.argv[1], encoding="utf-8"))
for situation in document["situations"]:
    for outcome in situation["expect"].values():
        for duty in outcome.get("duties", ()):
            if len(duty.get("due") or "") == 10:
                moved = date.fromisoformat(duty["due"]) + timedelta(days=1)
                duty["due"] = moved.isoformat()
                json.dump(document, open(sys.argv[2], "w", encoding="utf-8"))
                raise SystemExit(0)
raise SystemExit("no dated duty among the settled histories")
PLANT
if "$binary" rules try "$folder/planted.json" >"$folder/said.txt"; then
    echo "A planted due date was not found."
    exit 1
fi
echo "A planted due date was found, as it must."
