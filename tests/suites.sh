# Counting of suites, shared by tests/run.sh and deploy/checks.sh. Sourced, never run.
#
# A suite is one command. It passes or fails by its exit status, and what it printed is shown as it
# comes. Each result is a line in a file, so that a script called by another adds to the same sum.
# `skip` is for a suite that should have run: it is loud, and it fails when CI=true.
# `absent` is for an optional tool: it is loud and never fails.

: "${CI:=}"
if [ -z "${SUITE_RESULTS:-}" ]; then
    SUITE_RESULTS="$(mktemp)"
    export SUITE_RESULTS
    SUITE_OWNER=$$
    trap 'rm -f "$SUITE_RESULTS"' EXIT
fi

headline() { printf '\n==== %s\n' "$*"; }

# suite NAME COMMAND...   runs the command; a failure is counted and the script goes on.
suite() {
    suite_name="$1"
    shift
    headline "$suite_name"
    suite_began=$(date +%s)
    suite_output="$(mktemp)"
    if { "$@" 2>&1; echo "suite-status $?" >"$suite_output.status"; } | tee "$suite_output" &&
        [ "$(cat "$suite_output.status")" = "suite-status 0" ]; then
        suite_result=pass
    else
        suite_result=fail
    fi
    # Test runners close with "N passed; M failed" (cargo) or "Ran N tests" (unittest).
    suite_passed=$(sum_of passed "$suite_output")
    suite_failed=$(sum_of failed "$suite_output")
    if [ "$suite_passed" = 0 ] && [ "$suite_failed" = 0 ]; then
        [ $suite_result = pass ] && suite_passed=1 || suite_failed=1
    fi
    [ "$suite_failed" = 0 ] || suite_result=fail
    # A command that failed without a counted failure (it did not compile, it crashed) is one.
    [ $suite_result = fail ] && [ "$suite_failed" = 0 ] && suite_failed=1
    printf '%s\t%s\t%s\t%s\t%s\n' "$suite_result" "$suite_passed" "$suite_failed" \
        "$(($(date +%s) - suite_began))" "$suite_name" >>"$SUITE_RESULTS"
    rm -f "$suite_output" "$suite_output.status"
    [ $suite_result = pass ]
}

# alongside COMMAND...   runs suites next to what follows; `joined` waits for them and shows what they
# printed. For what looks at no clock.
alongside() {
    alongside_output="$(mktemp)"
    "$@" >"$alongside_output" 2>&1 &
    alongside_job=$!
}

joined() {
    wait "$alongside_job" || true
    cat "$alongside_output"
    rm -f "$alongside_output"
}

# The closing lines we know: cargo's, the plain "N passed, N failed", and unittest's.
sum_of() {
    {
        sed -n -E "s/^test result: .* ([0-9]+) $1.*/\1/p; s/^([0-9]+ passed, )?([0-9]+) $1(,.*)?$/\2/p" "$2"
        [ "$1" = failed ] || sed -n -E 's/^Ran ([0-9]+) tests?.*/\1/p' "$2"
    } | awk '{ total += $1 } END { print total + 0 }'
}

# skip NAME REASON   a suite that could not run here.
skip() {
    headline "SKIPPED: $1"
    echo "!!!! $1 did not run: $2"
    if [ "$CI" = true ]; then
        echo "!!!! CI=true: a skipped suite counts as a failure."
        printf 'fail\t0\t1\t0\t%s (skipped: %s)\n' "$1" "$2" >>"$SUITE_RESULTS"
    else
        printf 'skip\t0\t0\t0\t%s (%s)\n' "$1" "$2" >>"$SUITE_RESULTS"
    fi
}

# absent NAME REASON   an optional tool that is not on this machine.
absent() {
    headline "NOT RUN: $1"
    echo "!!!! $1 did not run: $2"
    printf 'skip\t0\t0\t0\t%s (%s)\n' "$1" "$2" >>"$SUITE_RESULTS"
}

# summary   prints the table and the closing line; its status says whether everything passed.
# In a script that another script called, the sum belongs to the caller.
summary() {
    if [ "${SUITE_OWNER:-}" != $$ ]; then
        ! grep -q '^fail' "$SUITE_RESULTS"
        return
    fi
    headline "Summary"
    awk -F '\t' '{ printf "%-5s %5d passed %3d failed %5d s  %s\n", $1, $2, $3, $4, $5 }' \
        "$SUITE_RESULTS"
    awk -F '\t' '{ p += $2; f += $3; if ($1 == "skip") s++ }
        END { printf "\n%d passed, %d failed, %d skipped\n", p, f, s; exit f > 0 || p == 0 }' \
        "$SUITE_RESULTS"
}
