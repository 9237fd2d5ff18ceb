#!/usr/bin/env bash
# Audits a book with software that is not ours, and shows that the same software refuses seven
# tampered copies of it, each for the right reason.
#
#     tests/independent/run.sh BUNDLE KEYFILE OLD_CHECKPOINT   a bundle that is there; KEYFILE holds
#                                  the private key, so that history can also be signed anew;
#                                  TAREBOOK=PROGRAM asks the program's `verify` as well
#     tests/independent/run.sh TAREBOOK          the program makes a book, exports it, and is asked
#                                  by `verify` to refuse the same copies
#     tests/independent/run.sh     a sample from the unit tests of the ledger
#
# It installs what is missing and says so: cryptography, rfc8785 and pymerkle from PyPI into
# target/python (PYTHON names another interpreter that has them); golang-go and
# golang-golang-x-mod-dev with apt-get, as root. Without Go the audit in Go is skipped loudly, and
# with CI=true that is a failure. Ends with "N passed, M failed".
set -eu
here="$(cd "$(dirname "$0")" && pwd)"
root="$(cd "$here/../.." && pwd)"
folder="$(mktemp -d)"
trap 'rm -rf "$folder"' EXIT
passed=0
failed=0

install_python() {
    python="${PYTHON:-$root/target/python/bin/python}"
    if ! "$python" -c 'import cryptography, rfc8785, pymerkle' 2>/dev/null; then
        python="$root/target/python/bin/python"
        echo "Installing into target/python: $(tr '\n' ' ' <"$here/requirements.txt")"
        python3 -m venv "$root/target/python"
        "$python" -m pip install -q --disable-pip-version-check -r "$here/requirements.txt"
    fi
    # Nothing is left behind beside the sources.
    export PYTHONDONTWRITEBYTECODE=1
}

install_go() {
    packages=/usr/share/gocode
    if ! command -v go >/dev/null || [ ! -d "$packages/src/golang.org/x/mod/sumdb/tlog" ]; then
        if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null; then
            echo "Installing with apt-get: golang-go golang-golang-x-mod-dev"
            apt-get install -q -y --no-install-recommends golang-go golang-golang-x-mod-dev \
                >"$folder/apt.log" 2>&1 || cat "$folder/apt.log"
        fi
    fi
    audit_in_go=""
    if GO111MODULE=off GOPATH="$packages" GOCACHE="$folder/go" \
        go build -o "$folder/audit" "$here/audit.go" 2>"$folder/go.log"; then
        audit_in_go="$folder/audit"
    else
        echo "!!!! The audit in Go did not run: Go or golang-golang-x-mod-dev is missing."
        cat "$folder/go.log"
        if [ "${CI:-}" = true ]; then
            echo "!!!! CI=true: a skipped audit counts as a failure."
            failed=$((failed + 1))
        fi
    fi
}

# expect NAME WANTED COMMAND...   WANTED is `accepted`, or the words of a right refusal.
expect() {
    local name="$1" wanted="$2" status=0 said last word right=no
    shift 2
    said="$("$@" 2>&1)" || status=$?
    last="$(printf '%s\n' "$said" | tail -n 1)"
    word="$(printf '%s\n' "$last" | sed -n 's/^REFUSED \([a-z_-]*\):.*/\1/p')"
    if [ "$wanted" = accepted ]; then
        case "$status $last" in "0 ACCEPTED "*) right=yes ;; esac
    elif [ $status = 1 ] && [ -n "$word" ]; then
        case " $wanted " in *" $word "*) right=yes ;; esac
    fi
    if [ $right = yes ]; then
        passed=$((passed + 1))
        echo "ok    $name: $last"
    else
        failed=$((failed + 1))
        printf 'FAIL  %s: wanted %s, got status %s and\n%s\n' "$name" "$wanted" "$status" "$said"
    fi
}

# expect_status NAME WANTED COMMAND...   for our own program: 0 good, 3 a break.
expect_status() {
    local name="$1" wanted="$2" status=0
    shift 2
    "$@" >"$folder/said" 2>&1 || status=$?
    if [ "$status" = "$wanted" ]; then
        passed=$((passed + 1))
        echo "ok    $name: status $status, $(grep -m 1 BREAK "$folder/said" || tail -n 1 "$folder/said")"
    else
        failed=$((failed + 1))
        echo "FAIL  $name: wanted status $wanted, got $status and"
        cat "$folder/said"
    fi
}

# A book made by the program: machines and cylinders, an export whose checkpoint is kept, a year of
# movements, and the export to audit.
make_book() {
    local data="$folder/data"
    local name="Tamarack Ridge Mechanical"
    printf 'nine cold racks hum behind Halfmoon\n' >"$folder/password"
    cat >"$folder/appliances.csv" <<'CSV'
appliance,site,category,refrigerant,full_charge_lb,commissioned_on
HG-RACK-A,Halfmoon Grocers,commercial_refrigeration,R-448A,210,2019-05-20
HG-RTU-3,Halfmoon Grocers,comfort_cooling,R-410A,24.5,2020-06-01
CSV
    cat >"$folder/cylinders.csv" <<'CSV'
cylinder,refrigerant,use,capacity_lb
SUP-88231,R-448A,supply,100
SUP-11904,R-410A,supply,25
REC-17,R-448A,recovery,50
CSV
    cat >"$folder/movements.csv" <<'CSV'
movement_id,occurred_at,kind,from,to,refrigerant,mass_lb,technician
job-2025-1,2025-01-06T08:00:00Z,purchase,Pinyon Supply,SUP-88231,R-448A,100,IV
job-2025-2,2025-01-06T08:05:00Z,purchase,Pinyon Supply,SUP-11904,R-410A,25,IV
job-2025-3,2025-02-11T11:52:00Z,charge,SUP-88231,HG-RACK-A,R-448A,14.5,IV
job-2025-4,2025-03-03T09:10:00Z,charge,SUP-11904,HG-RTU-3,R-410A,7.12,IV
job-2025-5,2025-04-18T15:40:00Z,charge,SUP-88231,HG-RACK-A,R-448A,12.25,IV
job-2025-6,2025-06-02T10:00:00Z,recover,HG-RACK-A,REC-17,R-448A,4.5,IV
job-2025-7,2025-06-02T12:30:00Z,charge,SUP-88231,HG-RACK-A,R-448A,4.5,IV
CSV
    run() { "$tarebook" "$@" >"$folder/log" 2>&1 || { cat "$folder/log"; return 1; }; }
    run init --data "$data" --organisation "$name" --administrator juno@example.org \
        --password-file "$folder/password"
    run import appliances "$folder/appliances.csv" --data "$data" --organisation "$name"
    run import cylinders "$folder/cylinders.csv" --data "$data" --organisation "$name"
    run import movements "$folder/movements.csv" --data "$data" --organisation "$name"
    run export --data "$data" --organisation "$name" --out "$folder/early.tar"
    tar -xOf "$folder/early.tar" checkpoint >"$folder/old-checkpoint"
    sed 's/2025-/2026-/g' "$folder/movements.csv" >"$folder/later.csv"
    run import movements "$folder/later.csv" --data "$data" --organisation "$name"
    run export --data "$data" --organisation "$name" --out "$folder/book.tar"
    run verify --data "$data" --organisation "$name" --checkpoint "$folder/old-checkpoint"
    bundle="$folder/book.tar" old="$folder/old-checkpoint" key="$folder/signing.key"
    # The signing key is the one among the key files that has signed the checkpoint.
    grep -rlZ 'PRIVATE+KEY+' "$data" | xargs -0 "$python" "$here/find_key.py" "$old" >"$key"
}

install_python
install_go
tarebook="${TAREBOOK:-}"
case $# in
    3) bundle="$1" key="$2" old="$3" ;;
    1) tarebook="$(realpath "$1")" && make_book ;;
    0)
        (cd "$root" && TAREBOOK_SAMPLE="$folder" cargo test -q --workspace --lib a_sample_for_other_software)
        bundle="$folder/sample.tar" key="$folder/sample.key" old="$folder/old-checkpoint"
        ;;
    *) sed -n '2,18p' "$0" && exit 2 ;;
esac
"$python" "$here/find_key.py" --verification "$old" "$key" >"$folder/vkey"
in_python() { "$python" "$here/audit.py" "$@"; }

expect "Python: the book" accepted in_python "$bundle" "$folder/vkey" "$old"
[ -z "$audit_in_go" ] || expect "Go: the book" accepted "$audit_in_go" "$bundle" "$folder/vkey" "$old"
[ -z "$tarebook" ] || expect_status "tarebook: the book" 0 \
    "$tarebook" verify --bundle "$bundle" --checkpoint "$old"

if [ "$failed" != 0 ]; then
    echo "The book itself is not accepted: nothing can be shown with copies of it."
    printf '\n%s passed, %s failed\n' "$passed" "$failed"
    exit 1
fi

mkdir "$folder/tampered"
"$python" "$here/tamper.py" "$bundle" "$key" "$old" "$folder/tampered" >"$folder/words"
while read -r name words; do
    copy="$folder/tampered/$name.tar"
    expect "Python: $name" "$words" in_python "$copy" "$folder/vkey" "$old"
    # The packages in Go meet a tile that does not fit the root before they meet the entry.
    [ -z "$audit_in_go" ] ||
        expect "Go: $name" "$words tile" "$audit_in_go" "$copy" "$folder/vkey" "$old"
    [ -z "$tarebook" ] || expect_status "tarebook: $name" 3 \
        "$tarebook" verify --bundle "$copy" --checkpoint "$old"
    case "$name" in
        history-rewritten-and-signed-anew | truncated)
            # By itself such a copy is a good book: only the older checkpoint gives it away.
            expect "Python: $name, without an older checkpoint" accepted \
                in_python "$copy" "$folder/vkey"
            ;;
    esac
done <"$folder/words"

printf '\n%s passed, %s failed\n' "$passed" "$failed"
[ "$failed" = 0 ] && [ "$passed" -gt 0 ]
