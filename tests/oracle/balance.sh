#!/usr/bin/env bash
# The balance of the demo's year, from its own history: the bundle of a served demo is read by
# balance.py, which works the report out from the leaves alone (counts, redesignations, corrections,
# retirements among them), and both must be the same to the byte. Then each line of the evidence is
# added up, and a planted fault must be found.
#
#     tests/oracle/balance.sh target/debug/tarebook
set -eu
here="$(cd "$(dirname "$0")" && pwd)"
binary="$(realpath "$1")"
. "$here/../harness/demo.sh"
work="$(mktemp -d)"
trap 'stop_demo; rm -rf "$work"' EXIT
start_demo "$binary" "$work" || exit 1
osric="$(password_of osric@tamarack.example)"
json="content-type: application/json"
curl -sS -f -o /dev/null -c "$work/cookies" -H "$json" \
    -d '{"email": "osric@tamarack.example", "password": "'"$osric"'"}' "$BASE/api/v1/sessions"
take() { curl -sS -f -b "$work/cookies" -o "$work/$1" "$BASE/api/v1/$2"; }
take book.tar log/bundle
passed=0
failed=0
good() { passed=$((passed + 1)); echo "ok      $1"; }
bad() { failed=$((failed + 1)); echo "FAILED  $1"; }
for year in 2026 2027; do
    for unit in ug lb; do
        take found.csv "reports/mass-balance.csv?year=$year&unit=$unit"
        python3 "$here/balance.py" --bundle "$work/book.tar" --year "$year" --unit "$unit" \
            >"$work/expected.csv"
        what="the demo's mass-balance of $year in $unit is that of its leaves"
        if cmp -s "$work/expected.csv" "$work/found.csv"; then good "$what"; else
            bad "$what"
            diff "$work/expected.csv" "$work/found.csv" | head -n 8
        fi
    done
done
take found.csv "reports/mass-balance.csv?year=2026&unit=ug"
take evidence.csv "reports/mass-balance.evidence.csv?year=2026&unit=ug"
python3 "$here/balance.py" --add-up "$work/found.csv" && good "both sides are the same" || bad "sides"
python3 "$here/balance.py" --prove "$work/found.csv" "$work/evidence.csv" && good "the evidence adds up" ||
    bad "the evidence"
# Checks that cannot fail prove nothing: a microgram more on one side, an entry without its evidence.
sed '3s/,\([0-9]\)\([0-9.]*\),/,\11\2,/' "$work/found.csv" >"$work/planted.csv"
if python3 "$here/balance.py" --add-up "$work/planted.csv"; then bad "a planted mass"; else
    good "a planted mass was found"
fi
sed 5d "$work/evidence.csv" >"$work/planted.csv"
if python3 "$here/balance.py" --prove "$work/found.csv" "$work/planted.csv"; then
    bad "a missing line of evidence"
else
    good "a missing line of evidence was found"
fi
echo "$passed passed, $failed failed"
[ "$failed" = 0 ]
