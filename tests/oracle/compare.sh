#!/usr/bin/env bash
# Compares the program's reports with the independent computation, byte for byte.
#
#     tests/oracle/compare.sh BINARY sqlite|postgres
#
# For each fleet: a new book, the three imports, then both reports for both nettings, several units
# and years, each compared with `cmp`. Fleets of 40 and 1000 appliances without visits (several
# seeds) and of 40, 150 and 300 with visits; then the sums of one fleet, and the balance of
# the cylinders of each. It closes with "N passed, N failed".
set -eu
binary="$(realpath "$1")"
engine="$2"
shift 2
tests="$(realpath "$(dirname "$0")/..")"

if [ "$engine" = postgres ] && [ -z "${CLUSTER_URL:-}" ]; then
    exec python3 "$tests/harness/cluster.py" run -- "$0" "$binary" postgres "$@"
fi

folder="$(mktemp -d)"
trap 'rm -rf "$folder"' EXIT
passed=0
failed=0
books=0
place=()
. "$tests/oracle/book.sh"

# Sets `place` to the arguments that name a new, empty database.
new_place() {
    books=$((books + 1))
    if [ "$engine" = sqlite ]; then
        mkdir "$folder/book$books"
        place=(--data "$folder/book$books")
    else
        "$PG_BINDIR/psql" -X -q -d postgres -c "CREATE DATABASE book$books"
        place=(--database-url "${CLUSTER_URL}book$books" --keys "$folder/keys$books")
        "$binary" migrate "${place[@]}"
    fi
}

same() { # NAME EXPECTED FOUND
    if cmp -s "$2" "$3"; then
        passed=$((passed + 1))
    else
        failed=$((failed + 1))
        echo "DIFFERS: $1"
        diff "$2" "$3" | head -n 6
    fi
}

# A fleet with rows is no comparison of two headings.
enough() {
    [ "$(wc -l <"$1")" -gt 5 ] || { echo "The computation gave only $(wc -l <"$1") lines."; exit 1; }
}

compare_fleet() { # NAME FLEET THRESHOLDS YEARS
    new_place
    begin_book Oracle
    for table in appliances cylinders movements; do
        import_table "$table" "$2" Oracle || { tail -n 20 "$folder/log"; exit 1; }
    done
    rules="$tests/load/flat-thresholds.toml"
    if [ "$3" = flat-leaves-out ]; then
        rules="$folder/leaves-out.toml"
        sed 's/^first_days = .*/&\nleaves_out = ["installation", "after_retrofit", "seasonal"]/' \
            "$tests/load/flat-thresholds.toml" >"$rules"
    fi
    for report in appliance-year additions; do
        for netting in visit gross; do
            for year in $4; do
                for unit in lb kg g ug; do
                    # Every unit once; the other years in micrograms only.
                    [ "$year" = 2023 ] || [ "$unit" = ug ] || continue
                    one_report "$1" "$2" "$3"
                done
            done
        done
    done
    for year in $4; do
        for unit in ug lb; do one_balance "$1" "$2"; done
    done
    echo "$1 on $engine: $passed passed, $failed failed so far"
}

# The balance of the cylinders; the same columns are added up once more from what was printed.
one_balance() { # NAME FLEET, and year, unit of the caller
    python3 "$tests/oracle/balance.py" --fleet "$2" --year "$year" --unit "$unit" \
        >"$folder/expected.csv"
    "$binary" report mass-balance --organisation Oracle --year "$year" --unit "$unit" \
        "${place[@]}" >"$folder/found.csv" 2>"$folder/log" || cat "$folder/log"
    same "$1 mass-balance $year $unit" "$folder/expected.csv" "$folder/found.csv"
    # Pounds are printed to 14 decimals: their sums are looked at where they are exact.
    [ "$unit" = lb ] || python3 "$tests/oracle/balance.py" --add-up "$folder/found.csv" \
        >"$folder/log" || { failed=$((failed + 1)); cat "$folder/log"; }
}

# What the computation says depends on no engine: with ORACLE_KEPT=DIR it is kept there for the next
# engine's run.
expect() { # NAME FLEET THRESHOLDS
    kept="${ORACLE_KEPT:-$folder}/$1 $report $year $unit $netting.csv"
    [ -s "$kept" ] ||
        python3 "$tests/oracle/leak_report.py" "$report" --fleet "$2" --year "$year" \
            --unit "$unit" --netting "$netting" --thresholds "$3" >"$kept"
    cp "$kept" "$folder/expected.csv"
}

one_report() { # NAME FLEET THRESHOLDS, and report, netting, year, unit, rules of the caller
    expect "$1" "$2" "$3"
    "$binary" report "$report" --organisation Oracle --year "$year" --unit "$unit" \
        --netting "$netting" --rules "$rules" "${place[@]}" >"$folder/found.csv" \
        2>"$folder/log" || cat "$folder/log"
    enough "$folder/expected.csv"
    same "$1 $report $year $unit $netting" "$folder/expected.csv" "$folder/found.csv"
}

for case in "40 7" "40 8" "40 9" "1000 7" "1000 21"; do
    read -r count seed <<<"$case"
    python3 "$tests/load/gen_fleet.py" --appliances "$count" --seed "$seed" --out "$folder/fleet"
    compare_fleet "fleet of $count, seed $seed" "$folder/fleet" flat "2020 2023 2024"
done
for case in "40 7 flat" "40 8 flat-leaves-out" "300 9 flat" "300 10 flat-leaves-out" \
    "150 11 flat" "150 12 flat-leaves-out"; do
    read -r count seed thresholds <<<"$case"
    python3 "$tests/oracle/gen_visits.py" --appliances "$count" --seed "$seed" --out "$folder/fleet"
    compare_fleet "visits of $count, seed $seed, $thresholds" "$folder/fleet" "$thresholds" \
        "2021 2022 2023 2024"
done

# Sums of a fleet with stated losses, regions and unknown full charges, by invented limits.
one_sum() { # REPORT YEAR UNIT NETTING [ON]
    kept="${ORACLE_KEPT:-$folder}/sums $*.csv"
    [ -s "$kept" ] || python3 "$tests/oracle/sum_report.py" "$1" --fleet "$folder/fleet" \
        --year "$2" --unit "$3" --netting "$4" ${5:+--on "$5"} >"$kept"
    cp "$kept" "$folder/expected.csv"
    "$binary" report "$1" --organisation Oracle --year "$2" --unit "$3" --netting "$4" \
        ${5:+--on "$5"} --rules "$tests/oracle/sums.toml" "${place[@]}" 2>"$folder/log" |
        sed -E 's/^(release,.*,[0-9]{4}-[0-9]{2}-[0-9]{2},)[0-9]+(,1,)/\1ENTRY\2/' \
            >"$folder/found.csv"
    enough "$folder/expected.csv"
    same "sums $*" "$folder/expected.csv" "$folder/found.csv"
}

python3 "$tests/oracle/gen_visits.py" --appliances 60 --seed 13 --out "$folder/fleet"
python3 "$tests/oracle/gen_losses.py" --fleet "$folder/fleet"
new_place
begin_book Oracle
for table in appliances cylinders movements; do
    import_table "$table" "$folder/fleet" Oracle || { tail -n 20 "$folder/log"; exit 1; }
done
for netting in visit gross; do
    for report in yearly-loss releases; do
        one_sum "$report" 2022 ug "$netting"
        one_sum "$report" 2023 ug "$netting"
        one_sum "$report" 2023 lb "$netting" 2023-07-14
    done
done
for year in 2021 2022 2023; do
    one_sum yearly-co2e "$year" ug visit
    for unit in ug lb; do one_balance "sums" "$folder/fleet"; done
done

echo "$passed passed, $failed failed"
[ "$failed" = 0 ] && [ "$passed" -gt 0 ]
