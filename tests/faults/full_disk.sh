#!/usr/bin/env bash
# Promise D4: no success is answered when the storage reported an error. Here: a full disk.
#
#     tests/faults/full_disk.sh BINARY WRITER
#     tests/faults/full_disk.sh --can-mount      says whether this user may mount a small disk
#
# A small file system in memory stands for the disk (a full one is full whatever it is made of).
# 1. WRITER (see writer.rs) posts until the disk is full. It must end with an error, and after
#    space was made every entry that it had acknowledged must be there.
# 2. An import runs into the same wall: exit code 1 and a sentence about the disk. After space was
#    made the book verifies, the same command goes on to the end, the book verifies again, and the
#    yearly report equals the independent computation to the byte: nothing lost, nothing twice.
# 3. Not a block is left: even a reader needs a little, and every command must say what is wrong
#    (SQLite itself says "disk I/O error"). After space was made the book verifies.
set -eu
tests="$(realpath "$(dirname "$0")/..")"

mount_small() { mount -t tmpfs -o "size=$2" tarebook-test "$1"; }

if [ "$1" = --can-mount ]; then
    trial="$(mktemp -d)"
    mount_small "$trial" 1m 2>/dev/null && umount "$trial" && rmdir "$trial" && exit 0
    rmdir "$trial"
    exit 1
fi

binary="$(realpath "$1")"
writer="$(realpath "$2")"
folder="$(mktemp -d)"
disk="$folder/disk"
mkdir "$disk"
trap 'umount "$disk" 2>/dev/null || true; rm -rf "$folder"' EXIT
passed=0

fail() {
    echo "FAILED: $*"
    echo "$passed passed, 1 failed"
    exit 1
}
pass() {
    passed=$((passed + 1))
    echo "good: $*"
}

# --- 1. Single postings -----------------------------------------------------------------------
mount_small "$disk" 40m
status=0
timeout 300 "$writer" --data "$disk/book" write >"$folder/told" 2>"$folder/errors" || status=$?
[ "$status" != 124 ] || fail "the writer was still answering after 300 s on a full disk"
[ "$status" != 0 ] || fail "the writer ended with success on a full disk"
grep -qi -E 'full|space' "$folder/errors" || fail "no word about the disk: $(tail -n 3 "$folder/errors")"
sed -n 's/^acknowledged //p' "$folder/told" | sort >"$folder/acknowledged"
count=$(wc -l <"$folder/acknowledged")
[ "$count" -gt 50 ] || fail "only $count entries before the disk was full: too few to show much"
pass "the disk was full after $count acknowledged entries; the writer said: $(tail -n 1 "$folder/errors")"

mount -o remount,size=200m "$disk"
"$writer" --data "$disk/book" list >"$folder/listed" 2>"$folder/errors" ||
    fail "the book did not open after space was made: $(tail -n 3 "$folder/errors")"
missing=$(sort "$folder/listed" | comm -23 "$folder/acknowledged" - | wc -l)
[ "$missing" = 0 ] || fail "$missing acknowledged entries are missing"
pass "all $count acknowledged entries are there"
umount "$disk"

# --- 2. An import -----------------------------------------------------------------------------
python3 "$tests/load/gen_fleet.py" --appliances 400 --out "$folder/fleet" >/dev/null
mount_small "$disk" 9m
place=(--data "$disk/book")
. "$tests/oracle/book.sh"
begin_book Disk
for table in appliances cylinders; do
    import_table "$table" "$folder/fleet" Disk || fail "$table do not fit: $(tail -n 3 "$folder/log")"
done
status=0
import_table movements "$folder/fleet" Disk || status=$?
[ "$status" = 1 ] || fail "expected exit code 1 from an import into a full disk, got $status"
grep -q -E 'is unfinished: row [0-9 ]+ of' "$folder/log" ||
    fail "no word about how far the import came: $(tail -n 3 "$folder/log")"
grep -qi -E 'full|space' "$folder/log" || fail "no word about the disk: $(tail -n 3 "$folder/log")"
pass "the import ended with exit code 1 and: $(tail -n 1 "$folder/log")"

mount -o remount,size=400m "$disk"
"$binary" verify --organisation Disk "${place[@]}" >"$folder/log" 2>&1 ||
    fail "the book does not verify after the disk was full: $(tail -n 3 "$folder/log")"
# Stopped half-way, or it would show little: some chunks of rows in, some not.
booked=$("$binary" verify --organisation Disk "${place[@]}" 2>/dev/null |
    sed -n -E 's/^([0-9]+) movements,.*/\1/p')
total=$(($(wc -l <"$folder/fleet/movements.csv") - 1))
if [ -z "$booked" ] || [ "$booked" -lt 1000 ] || [ "$booked" -ge "$total" ]; then
    fail "the disk was full after '$booked' of $total rows: choose another size of disk"
fi
pass "the book verifies after space was made, with $booked of $total rows"
import_table movements "$folder/fleet" Disk || fail "the import does not go on: $(tail -n 3 "$folder/log")"
"$binary" verify --organisation Disk "${place[@]}" >"$folder/log" 2>&1 ||
    fail "the finished book does not verify: $(tail -n 3 "$folder/log")"
pass "the same import went on to its end and the book verifies"

python3 "$tests/oracle/leak_report.py" appliance-year --fleet "$folder/fleet" --year 2023 --unit ug \
    --netting gross >"$folder/expected.csv"
"$binary" report appliance-year --organisation Disk --year 2023 --unit ug --netting gross \
    --rules "$tests/load/flat-thresholds.toml" "${place[@]}" >"$folder/found.csv" 2>"$folder/log"
cmp "$folder/expected.csv" "$folder/found.csv" || fail "the report differs from the computation"
pass "nothing lost, nothing twice: the report equals the independent computation"
umount "$disk"

# --- 3. Opening -------------------------------------------------------------------------------
mount_small "$disk" 3m
"$binary" init --organisation Disk "${place[@]}" >"$folder/log" 2>&1 ||
    fail "no book on an empty disk: $(tail -n 3 "$folder/log")"
dd if=/dev/zero of="$disk/fill" bs=4k 2>/dev/null || true
for command in "report additions --year 2023 --organisation Disk" "verify --organisation Disk" \
    "rules adopt us-federal-ods --from 2023-01-01 --organisation Disk" \
    "init --organisation Other --data $disk/other"; do
    case "$command" in init*) where=() ;; *) where=("${place[@]}") ;; esac
    status=0
    # shellcheck disable=SC2086 # Several words on purpose.
    "$binary" $command "${where[@]}" >"$folder/log" 2>&1 || status=$?
    { [ "$status" = 1 ] && grep -q 'disk is full' "$folder/log"; } ||
        fail "no word about the disk from $command ($status): $(tail -n 3 "$folder/log")"
done
pass "without a block left every command says so: $(tail -n 1 "$folder/log")"
rm "$disk/fill"
"$binary" verify --organisation Disk "${place[@]}" >"$folder/log" 2>&1 ||
    fail "the book does not verify after space was made: $(tail -n 3 "$folder/log")"
pass "the book verifies after space was made"
echo "$passed passed, 0 failed"
