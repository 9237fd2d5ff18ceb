#!/usr/bin/env bash
# Everything continuous integration checks with Cargo, runnable on a laptop:
#
#     deploy/checks.sh
#
# Formatting; clippy and documentation with warnings as errors; all tests on SQLite; all tests on
# PostgreSQL (a throw-away cluster that the tests start themselves); migrations up, down and up
# again on both; `reports` built alone, its dependency tree free of database, web and runtime
# crates; unused dependencies; licences and advisories; coverage of `reports` and `ledger`.
# It installs nothing: what is missing is skipped loudly. tests/run.sh installs and runs more.
set -eu
cd "$(dirname "$0")/.."
. tests/suites.sh
export CARGO_TERM_COLOR=never

documentation() {
    RUSTDOCFLAGS="-D warnings" cargo doc --locked --workspace --no-deps --document-private-items
}

# What would let arithmetic reach for a disk, a network, a clock or a die.
reports_is_pure() {
    cargo tree --locked -p reports -e normal --prefix none --format '{p}' | sort -u >"$1"
    if grep -E '^(diesel|libsqlite3-sys|rusqlite|pq-sys|r2d2|actix|tokio|hyper|mio|socket2|rand|getrandom|fastrand|tempfile|chrono|time) ' "$1" ||
        grep -E '^(diesel|actix|tokio|rand)[-_]' "$1"; then
        echo "reports must not depend on the crates above: it is pure (layout of the repository)."
        return 1
    fi
    if cargo tree --locked -p reports -e features,no-dev,no-build --prefix none | grep -E '^jiff feature "(std|tz-system|default)"'; then
        echo "reports must take the date crate without its clock."
        return 1
    fi
    echo "reports depends on $(($(wc -l <"$1") - 1)) crates, none of them impure."
}

suite "formatting" cargo fmt --all --check || true
suite "clippy, warnings are errors" \
    cargo clippy --locked --workspace --all-targets -- -D warnings || true
suite "documentation, warnings are errors" documentation || true

suite "tests on SQLite" \
    env TEST_ENGINE=sqlite cargo test --locked --workspace --no-fail-fast || true
if python3 tests/harness/cluster.py where >/dev/null 2>&1; then
    # The whole workspace is named, so that nothing is compiled again with other features; only this
    # target reads the engine.
    suite "tests on PostgreSQL" \
        env TEST_ENGINE=postgres cargo test --locked --workspace --test service --no-fail-fast || true
    suite "migrations up, down, up on both" python3 tests/tidy/migrations.py sqlite postgres || true
else
    skip "tests on PostgreSQL" "no initdb found (install postgresql or set PG_BINDIR)"
    suite "migrations up, down, up on SQLite" python3 tests/tidy/migrations.py sqlite || true
    skip "migrations up, down, up on PostgreSQL" "no initdb found"
fi

suite "reports builds alone" cargo check --locked -p reports || true
suite "reports is pure" reports_is_pure "$(mktemp)" || true

# tests/tidy compares the licences and the named dependencies by itself; these tools know more.
if command -v cargo-machete >/dev/null; then
    suite "unused dependencies" cargo machete || true
else
    absent "cargo-machete" "not installed; tests/tidy looks for unused dependencies by name only"
fi
if command -v cargo-deny >/dev/null; then
    suite "licences and advisories" cargo deny --config deploy/deny.toml check || true
else
    absent "cargo-deny" "not installed; tests/tidy checks licences, nobody checked advisories"
fi
if command -v cargo-llvm-cov >/dev/null; then
    suite "coverage of reports and ledger (printed, no limit)" \
        cargo llvm-cov --locked -p reports -p api --summary-only || true
else
    absent "cargo-llvm-cov" "not installed; coverage was not measured"
fi

summary
