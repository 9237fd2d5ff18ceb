#!/usr/bin/env bash
# Holds the running service against its own description with software that is not ours: schemathesis
# reads /api/v1/openapi.json and sends thousands of requests, right and wrong ones.
#
#     tests/independent/interface.sh TAREBOOK sqlite|postgres
#
# No answer may be a fault of the service, every status, media type and body must be described, what
# breaks the description must be refused, and no route may be open without a sign-in. Left out is one
# check: that whatever fits the description is taken. The door also asks what stands in the book (is
# the thing registered, does the mass fit), which no description can say. One route is left out, too:
# the tool finds out how to revoke the token it comes with.
# Needs schemathesis (PYTHON names an interpreter that has it). Ends with "N passed, M failed".
set -eu
program="$1"
engine="$2"
here="$(cd "$(dirname "$0")" && pwd)"
root="$(cd "$here/../.." && pwd)"
python="${PYTHON:-$root/target/python/bin/python}"
folder="$(mktemp -d)"
service=""
end() {
    [ -z "$service" ] || kill "$service" 2>/dev/null || true
    rm -rf "$folder"
}
trap end EXIT

case "$engine" in
sqlite) place="--data $folder/book" ;;
postgres)
    if [ -z "${CLUSTER_URL:-}" ]; then
        rm -rf "$folder"
        exec python3 "$root/tests/harness/cluster.py" run -- "$0" "$program" postgres
    fi
    name="interface_$$"
    "${PG_BINDIR:+$PG_BINDIR/}psql" -X -q -U postgres -d postgres -c "CREATE DATABASE $name"
    place="--database-url ${CLUSTER_URL%/*}/$name"
    ;;
*) echo "the engine is sqlite or postgres, not $engine"; exit 2 ;;
esac

firm="Tamarack Ridge Mechanical"
echo "a sentence that only she would write" >"$folder/password"
# shellcheck disable=SC2086 # Two words on purpose, here and below.
{
    [ "$engine" = sqlite ] || "$program" migrate $place --quiet
    "$program" init $place --keys "$folder/keys" --organisation "$firm" --zone America/Denver \
        --administrator juno@tamarack.example --password-file "$folder/password" --quiet
    token="$("$program" token issue $place --organisation "$firm" --role compliance_manager --quiet)"
    TAREBOOK_LOG_LEVEL="${LOG:-error}" "$program" serve $place --keys "$folder/keys" --listen 127.0.0.1:0 \
        --quiet >"$folder/listening" &
    service=$!
}
for _ in $(seq 300); do
    [ -s "$folder/listening" ] && break
    kill -0 "$service" 2>/dev/null || { echo "the service ended before it listened"; exit 1; }
    sleep 0.1
done
address="$(sed -n 's/^listening //p' "$folder/listening")"

# Something to be found by tag, and a list long enough to have pages.
register() {
    curl -s -o /dev/null -H "Authorization: Bearer $token" -H 'Content-Type: application/json' \
        -d "{\"entry_id\": \"$("$python" -c 'import uuid; print(uuid.uuid4())')\", $1}" \
        "$address/api/v1/entries"
}
register '"kind": "appliance", "body": {"facts": {"tag": "0", "refrigerant": "R-448A"}}'
register '"kind": "cylinder", "body": {"facts": {"tag": "0", "use": "recovery"}}'

if "$python" -m schemathesis.cli --version >/dev/null 2>&1; then
    schemathesis="$python -m schemathesis.cli"
else
    schemathesis="$(dirname "$python")/schemathesis"
fi
# It keeps a cache where it runs: not in the repository.
cd "$folder"
# shellcheck disable=SC2086
if $schemathesis run "$address/api/v1/openapi.json" -H "Authorization: Bearer $token" \
    --checks all --exclude-checks positive_data_acceptance --max-examples "${EXAMPLES:-25}" \
    --exclude-operation-id delete_tokens_id --continue-on-failure --seed "${SEED:-1}"; then
    echo "1 passed, 0 failed"
else
    echo "0 passed, 1 failed"
    exit 1
fi
