#!/usr/bin/env bash
# Sets the manual with groff and completes half a command with bash, as their users would.
#
#     tests/independent/manual.sh target/debug/tarebook
#
# groff and man are common on Debian; where they are missing the pages are not set, loudly. Ends with
# "N passed, M failed".
set -eu
binary="$(realpath "$1")"
work="$(mktemp -d)"
trap 'rm -rf "$work"' EXIT
passed=0
failed=0
check() { # WHAT COMMAND...
    what="$1"
    shift
    if "$@"; then passed=$((passed + 1)); else failed=$((failed + 1)); echo "FAILED: $what"; fi
}

"$binary" man --folder "$work/man" --quiet
# One page for each command that the program itself lists, and the settings.
listed=$("$binary" --help | sed -n '/^Commands:/,/^$/s/^  \([a-z-]*\) .*/\1/p' | grep -v '^help$')
[ "$(echo "$listed" | wc -l)" -gt 10 ] || { echo "FAILED: only these commands are listed: $listed"; exit 1; }
for command in $listed; do
    check "page of $command" test -s "$work/man/man1/tarebook-$command.1"
done
check "page of the settings" test -s "$work/man/man5/tarebook.toml.5"
for setting in $(sed -n 's/^#\([a-z_]*\) = .*/\1/p' "$(dirname "$0")/../../deploy/tarebook.toml.example"); do
    check "setting $setting in its page" grep -q -- "$setting" "$work/man/man5/tarebook.toml.5"
done

# A page that is set without a warning and says what the help says.
sets() { # PAGE WORDS
    groff -man -Tutf8 -P-cbou -ww -rLL=100n "$1" >"$work/set" 2>"$work/warned" || return 1
    [ ! -s "$work/warned" ] || { cat "$work/warned"; return 1; }
    grep -q -- "$2" "$work/set"
}
fails_to_set() { ! sets "$1" NAME >/dev/null; }
if command -v groff >/dev/null && [ -e /usr/share/groff/current/tmac/an.tmac ]; then
    for page in "$work"/man/man1/*.1; do
        check "$page is set" sets "$page" "SYNOPSIS"
    done
    check "the settings are set" sets "$work/man/man5/tarebook.toml.5" "metrics_listen"
    check "options keep their hyphens" sets "$work/man/man1/tarebook-report.1" "[-]-gwp-basis"
    printf '.TH X 1\n.SH NAME\n.nosuchrequest\nx\n' >"$work/broken.1"
    check "a planted fault is seen" fails_to_set "$work/broken.1"
else
    echo "!!!! The pages were not set: groff with its man macros is missing."
fi

# What bash offers for half a command.
"$binary" completions bash >"$work/complete.bash"
offered() { # WORDS... : the last one is half
    bash --norc -c '
        . "$1"; shift
        COMP_WORDS=(tarebook "$@"); COMP_CWORD=$#; COMP_LINE="tarebook $*"; COMP_POINT=${#COMP_LINE}
        _tarebook tarebook "${COMP_WORDS[COMP_CWORD]}" "${COMP_WORDS[COMP_CWORD-1]}"
        printf "%s\n" "${COMPREPLY[@]}"' - "$work/complete.bash" "$@"
}
offers() { # WANTED WORDS...
    wanted="$1"
    shift
    offered "$@" | grep -qx -- "$wanted"
}
check "a command" offers report rep
check "an option" offers --gwp-basis report --gw
check "a value" offers spreadsheet report --for spr
check "a report" offers appliance-year report appl
check "nothing for what does not exist" test -z "$(offered report --zzz)"
for shell in zsh fish elvish powershell; do
    "$binary" completions $shell >"$work/complete.$shell"
    check "completions of $shell know the options" grep -q gwp-basis "$work/complete.$shell"
done
check "another shell is refused" bash -c "! '$binary' completions abacus 2>/dev/null"
echo "$passed passed, $failed failed"
[ $failed = 0 ]
