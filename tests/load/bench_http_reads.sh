#!/usr/bin/env bash
# Reading over HTTP, on SQLite: one standing, reports beside postings, a storm of wrong passwords.
#
#     tests/load/bench_http_reads.sh TAREBOOK LOAD_HTTP [S|M|L]
#
# TAREBOOK and LOAD_HTTP are the release builds. Limits: the standing of an appliance with ten years
# of history in 1 ms (middle) and 5 ms (slowest hundredth) on an idle machine; the yearly report of
# the fleet begins within 100 ms (best of three) and keeps the service below 100 MiB; four reports
# at once at most double the slowest hundredth of postings and keep it below 400 MiB; while 64
# clients try wrong passwords, the slowest hundredth of other requests stays below 50 ms, and a
# second storm takes no more memory. One appliance among the fleet and a page of it in 10 ms, the flagged ones in
# 200 ms when they are asked for again. How long they and the duties of the fleet
# take after an import, and the second time, is printed without a limit.
set -eu -o pipefail
load="$(realpath "$(dirname "$0")")"
tarebook="$(realpath "$1")"
client="$(realpath "$2")"
size="${3:-M}"
engine=sqlite
# The fleet's book, made if need be; its commands close before the service opens a copy.
[ -f "${LOAD_FOLDER:-$load/../../target/load}/book-$size/.complete" ] ||
    bash "$load/bench_verify.sh" "$tarebook" sqlite "$size" >/dev/null 2>&1 || true
fleet="${LOAD_FOLDER:-$load/../../target/load}/book-$size"
[ -f "$fleet/.complete" ] || { echo "There is no book of the fleet; run bench_verify.sh first."; exit 1; }
. "$load/served.sh"
missed=0
place=(--data "$folder/book")
cp -r "$fleet" "$folder/book"

# An appliance with a charge a month for ten years, in a book of its own.
"$client" prepare "$folder/book" "$folder/keys" 1 >"$folder/prepared"
tail -n +2 "$folder/prepared" >"$folder/tokens"
of=(--organisation "Tamarack Ridge Mechanical 0" "${place[@]}")
printf '%s\n' appliance,site,category,refrigerant,full_charge_lb,commissioned_on \
    "TEN,Alder Street,commercial_refrigeration,R-448A,210,2014-01-01" >"$folder/appliances.csv"
printf '%s\n' cylinder,refrigerant,use,capacity_lb SUP-TEN,R-448A,supply,1000 >"$folder/cylinders.csv"
{
    echo movement_id,occurred_at,kind,from,to,refrigerant,mass_lb,technician
    echo o,2015-12-01,opening,,SUP-TEN,R-448A,900,t
    for year in $(seq 2016 2025); do
        for month in 01 02 03 04 05 06 07 08 09 10 11 12; do
            echo "$year-$month,$year-$month-15,charge,SUP-TEN,TEN,R-448A,1.5,t"
        done
    done
} >"$folder/movements.csv"
for table in appliances cylinders movements; do
    "$tarebook" import "$table" "$folder/$table.csv" "${of[@]}" >"$folder/import.log" 2>&1 ||
        { cat "$folder/import.log"; exit 1; }
done
fleet_token="$("$tarebook" token issue --role compliance_manager --days 1 --organisation Load "${place[@]}" 2>/dev/null)"
echo "$fleet_token" >"$folder/fleet-token"
serve

# timed PATH   milliseconds to the first byte and to the last, as curl measures them.
timed() {
    curl -sS -o "$folder/answer" -H "authorization: Bearer $fleet_token" \
        -w '%{http_code} %{time_starttransfer} %{time_total}\n' "$base$1" |
        awk '{ if ($1 != 200) { print "HTTP", $1 > "/dev/stderr"; exit 1 } printf "%.0f %.0f\n", $2 * 1000, $3 * 1000 }'
}
# posts FROM COUNT   posts so many charges after so many earlier ones.
posts() { "$client" post "$base" "$folder/tokens" "$2" 16 "$1"; }

"$client" get "$base" "$folder/tokens" 200 1 /api/v1/appliances/TEN/standing >/dev/null
read -r _ _ middle slowest _ < <("$client" get "$base" "$folder/tokens" 4000 1 /api/v1/appliances/TEN/standing)
at_most "W4 standing, middle, ms" "$middle" 1
at_most "W4 standing, slowest hundredth, ms" "$slowest" 5

report="/api/v1/reports/appliance-year.csv?year=2024"
read -r begins ends < <(for run in 1 2 3; do timed "$report"; done | sort -n | head -n 1)
at_most "report, first byte, best of three, ms" "$begins" 100
echo "report, whole: $ends ms, $(wc -c <"$folder/answer") bytes"
at_most "memory of the service with a report, MiB" "$(peak)" 100
posts 0 2000 >/dev/null
read -r _ _ alone_middle alone _ < <(posts 2000 8000)
reports=()
for number in 1 2 3 4; do
    while :; do timed "$report" >/dev/null; [ -f "$folder/enough" ] && break; done &
    reports+=($!)
done
read -r _ _ beside_middle beside _ < <(posts 10000 8000)
touch "$folder/enough"
# One by one: a wait for all tells the status of the last alone.
for number in "${reports[@]}"; do
    wait "$number" || { echo "A report beside the postings failed; this run shows nothing."; exit 1; }
done
echo "postings alone $alone_middle ms, $alone ms (slowest hundredth); beside four reports $beside_middle ms, $beside ms"
at_most "postings beside four reports, slowest hundredth" \
    "$(awk -v a="$beside" -v b="$alone" 'BEGIN { printf "%.2f", a / b }')" 2
at_most "memory of the service, four reports at once, MiB" "$(peak)" 400

for time in first second; do
    read -r begins ends < <(timed /api/v1/follow-ups)
    echo "flagged appliances of the fleet, $time time: first byte $begins ms, whole $ends ms"
done
at_most "flagged appliances, second time, ms" "$ends" 200
# One appliance among all of the fleet: nothing of it may depend on how large the book is.
one="$(sed -n 2p "$load/../../target/load/fleet-$size/appliances.csv" | cut -d, -f1)"
for path in "/api/v1/appliances/$one/standing" "/api/v1/appliances?limit=50"; do
    timed "$path" >/dev/null
    read -r begins ends < <(for run in 1 2 3 4 5; do timed "$path"; done | sort -n | head -n 1)
    at_most "$path, best of five, ms" "$ends" 10
done
for time in first second; do
    read -r begins ends < <(timed /api/v1/duties)
    echo "duties of the fleet, $time time: first byte $begins ms, whole $ends ms"
done

"$client" storm "$base" 10 64 >"$folder/storm" &
storm=$!
sleep 1
read -r _ _ middle slowest _ < <("$client" get "$base" "$folder/tokens" 2000 2 /api/v1/appliances/TEN/standing)
wait "$storm"
read -r seconds answers _ < "$folder/storm"
echo "wrong passwords: $answers answers in $seconds s; other requests meanwhile: middle $middle ms"
at_most "requests in a storm, slowest hundredth, ms" "$slowest" 50
before=$(peak)
"$client" storm "$base" 10 64 >/dev/null
at_most "memory of a second storm beyond $before MiB, MiB" "$(($(peak) - before))" 10
exit "$missed"
