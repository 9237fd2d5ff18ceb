#!/usr/bin/env bash
# The one test command: installs what is missing, says what, then runs everything.
#
#     tests/run.sh
#
# It needs Rust and Debian 12 (or a like system with apt), nothing else. As root it installs
# directly; as another user through sudo, if there is one; otherwise it goes on with what is there
# and the suites that lack something are skipped loudly (with CI=true that is a failure).
# Suites: formatting, lints, documentation, tests on SQLite and on PostgreSQL, the migrations, the
# map of the repository, the independent computation of the reports, the independent audit of the
# history, kills and full disks. Speed is measured apart from this: see tests/load/README.md.
set -eu
cd "$(dirname "$0")/.."
. tests/suites.sh

install_packages() {
    missing=""
    command -v cc >/dev/null || missing="$missing gcc libc6-dev"
    command -v make >/dev/null || missing="$missing make"
    command -v curl >/dev/null || missing="$missing curl"
    command -v python3 >/dev/null || missing="$missing python3"
    python3 -c 'import venv, ensurepip' 2>/dev/null || missing="$missing python3-venv"
    python3 tests/harness/cluster.py where >/dev/null 2>&1 || missing="$missing postgresql"
    command -v node >/dev/null || missing="$missing nodejs"
    command -v npm >/dev/null || missing="$missing npm"
    command -v chromium >/dev/null || missing="$missing chromium"
    if [ -z "$missing" ]; then
        echo "Nothing to install: C compiler, make, curl, Python, PostgreSQL, node and Chromium are here."
        return 0
    fi
    as_root=""
    if [ "$(id -u)" != 0 ]; then
        command -v sudo >/dev/null && as_root="sudo"
        [ -n "$as_root" ] || { echo "Missing and not installable without root:$missing"; return 0; }
    fi
    command -v apt-get >/dev/null || { echo "Missing, and there is no apt-get:$missing"; return 0; }
    echo "Installing with apt-get:$missing"
    $as_root apt-get update -q || echo "apt-get update failed; trying to install all the same."
    # shellcheck disable=SC2086 # Several words on purpose.
    $as_root env DEBIAN_FRONTEND=noninteractive apt-get install -q -y --no-install-recommends \
        $missing || echo "apt-get could not install:$missing"
}

install_python_packages() {
    # An own environment in target/, so that nothing of the system is touched.
    environment="$PWD/target/python"
    if ! "$environment/bin/python" -c 'import cryptography, csvw, icalendar, odf, openpyxl, prometheus_client, rfc8785, pymerkle, schemathesis, xlsxwriter' 2>/dev/null; then
        echo "Installing into target/python: cryptography, csvw, icalendar, odfpy, openpyxl, prometheus_client, rfc8785, pymerkle, schemathesis, xlsxwriter"
        python3 -m venv "$environment" &&
            "$environment/bin/python" -m pip install -q --disable-pip-version-check \
                -r tests/independent/requirements.txt ||
            echo "The Python packages could not be installed; the audit suite will be skipped."
    fi
    if "$environment/bin/python" -c 'import cryptography, csvw, icalendar, odf, openpyxl, prometheus_client, rfc8785, pymerkle, schemathesis, xlsxwriter' 2>/dev/null; then
        PYTHON_AUDIT="$environment/bin/python"
    else
        PYTHON_AUDIT=""
    fi
}

headline "What has to be installed"
install_packages
install_python_packages
if ! command -v cargo >/dev/null; then
    echo "Rust is missing. Install it (see README.md), then run this again."
    echo "0 passed, 1 failed"
    exit 1
fi

# Cargo suites: the same that a developer runs by hand.
bash deploy/checks.sh || true

BINARY="$PWD/target/debug/tarebook"
WRITER="$PWD/target/debug/fault-writer"
# Most is built already: the programs that fail on purpose came with the tests, and this is the build
# that the README's first command makes.
suite "build the programs" cargo build --locked || true

# The README's first command as cargo runs it (here without --release, which is built already, and
# with --report, so that it ends; the walk-through serves it).
readme_command() {
    readme_csv="$(mktemp)"
    cargo run --locked -- demo --report >"$readme_csv" && grep -q '^HG-RACK-A,' "$readme_csv"
    readme_status=$?
    rm -f "$readme_csv"
    return $readme_status
}
suite "the README's first command" readme_command || true

# The slow computation of the reports takes one core for minutes; what asks for no time runs beside it.
oracle_reports() {
    suite "oracle: reports on SQLite" bash tests/oracle/compare.sh "$BINARY" sqlite || true
    if python3 tests/harness/cluster.py where >/dev/null 2>&1; then
        suite "oracle: reports on PostgreSQL" bash tests/oracle/compare.sh "$BINARY" postgres || true
    else
        skip "oracle: reports on PostgreSQL" "no initdb found (install postgresql or set PG_BINDIR)"
    fi
}

if [ -x "$BINARY" ]; then
    ORACLE_KEPT="$(mktemp -d)"
    export ORACLE_KEPT
    alongside oracle_reports
fi

suite "saturation compared with CoolProp" bash tests/independent/physics.sh || true

if [ -x "$BINARY" ]; then
    suite "oracle: its own unit tests" python3 -m unittest discover -s tests/oracle -p 'test_*.py' || true
    suite "oracle: the demo's balance from its leaves" bash tests/oracle/balance.sh "$BINARY" || true
    suite "oracle: duties" bash tests/oracle/duties.sh "$BINARY" || true
    if [ -n "$PYTHON_AUDIT" ] && [ -f tests/independent/run.sh ]; then
        suite "audit by software that is not ours" \
            env PYTHON="$PYTHON_AUDIT" bash tests/independent/run.sh "$BINARY" || true
    else
        skip "audit by software that is not ours" "the Python packages or tests/independent are missing"
    fi
    if command -v node >/dev/null; then
        suite "the mass field's own reader" node tests/browser/field-mass.mjs "$BINARY" || true
    else
        skip "the mass field's own reader" "node is missing"
    fi
    suite "the README's walk-through" bash tests/independent/walk.sh "$BINARY" || true
    suite "one-time codes worked out by Python" bash tests/independent/second_factor.sh "$BINARY" || true
    if [ -n "$PYTHON_AUDIT" ]; then
        suite "calendar read back by software that is not ours" \
            env PYTHON="$PYTHON_AUDIT" bash tests/independent/calendar.sh "$BINARY" || true
        suite "report files and measurements, read by software that is not ours" \
            env PYTHON="$PYTHON_AUDIT" bash tests/independent/report_files.sh "$BINARY" || true
        suite "owner's record as PDF, read by software that is not ours" \
            env PYTHON="$PYTHON_AUDIT" bash tests/independent/owners_record.sh \
            "$BINARY" || true
        suite "interface by software that is not ours, SQLite" \
            env PYTHON="$PYTHON_AUDIT" bash tests/independent/interface.sh "$BINARY" sqlite || true
        if python3 tests/harness/cluster.py where >/dev/null 2>&1; then
            suite "interface by software that is not ours, PostgreSQL" \
                env PYTHON="$PYTHON_AUDIT" bash tests/independent/interface.sh "$BINARY" postgres || true
        else
            skip "interface by software that is not ours, PostgreSQL" "no initdb found"
        fi
    else
        skip "interface by software that is not ours" "the Python packages are missing"
    fi
    joined
    rm -rf "$ORACLE_KEPT"
    # From here on the clock is looked at.
    if bash tests/browser/run.sh --can-run; then
        suite "pages in a browser, SQLite" env PYTHON="$PYTHON_AUDIT" bash tests/browser/run.sh "$BINARY" sqlite || true
        if python3 tests/harness/cluster.py where >/dev/null 2>&1; then
            # How the pages look and read depends on no engine: that was measured on SQLite.
            suite "pages in a browser, PostgreSQL" env PARTS=deeds,findings,refusals \
                bash tests/browser/run.sh "$BINARY" postgres || true
        else
            skip "pages in a browser, PostgreSQL" "no initdb found"
        fi
    else
        skip "pages in a browser" "node, npm or chromium is missing"
    fi
    suite "faults: edited rows, SQLite" python3 tests/faults/edited_rows.py "$BINARY" sqlite || true
    suite "faults: kill -9 under load, SQLite" bash tests/faults/kill_loop.sh sqlite 100 || true
    suite "faults: kill -9 of the service, SQLite" \
        python3 tests/faults/kill_served.py "$BINARY" sqlite || true
    suite "faults: two processes, SQLite" bash tests/faults/two_processes.sh sqlite || true
    if python3 tests/harness/cluster.py where >/dev/null 2>&1; then
        suite "faults: edited rows, PostgreSQL" \
            python3 tests/faults/edited_rows.py "$BINARY" postgres || true
        suite "faults: kill -9 under load, PostgreSQL" bash tests/faults/kill_loop.sh postgres 100 || true
        suite "faults: kill -9 of the service, PostgreSQL" \
            python3 tests/faults/kill_served.py "$BINARY" postgres || true
        suite "faults: two processes, PostgreSQL" bash tests/faults/two_processes.sh postgres || true
    else
        skip "faults: edited rows, kill -9, two processes, PostgreSQL" "no initdb found"
    fi
    if bash tests/faults/full_disk.sh --can-mount; then
        suite "faults: full disk" bash tests/faults/full_disk.sh "$BINARY" "$WRITER" || true
    else
        skip "faults: full disk" "mounting a small file system needs root"
    fi
else
    skip "oracle, audit and faults" "the program did not build"
fi

summary
