# A served demo for scripts: started on a free port, stopped when the script ends. Sourced, never run.
#
# start_demo BINARY FOLDER   books the invented year and serves it; sets BASE to its address. What
#                            the demo printed is FOLDER/demo.out: a line `role e-mail password` for
#                            each person. Options of the demo may follow.
# password_of EMAIL          the password that it printed.

demo=""
demo_folder=""
stop_demo() {
    [ -z "$demo" ] || kill "$demo" 2>/dev/null || true
    [ -z "$demo" ] || wait "$demo" 2>/dev/null || true
    demo=""
}

start_demo() {
    demo_folder="$2"
    # No setting of the caller may lead the demo elsewhere.
    for name in $(env | sed -n 's/^\(TAREBOOK_[A-Z_]*\)=.*/\1/p'); do unset "$name"; done
    "$1" demo --listen 127.0.0.1:0 "${@:3}" >"$demo_folder/demo.out" 2>"$demo_folder/demo.log" &
    demo=$!
    for _ in $(seq 600); do
        grep -q '^listening ' "$demo_folder/demo.out" && break
        kill -0 "$demo" 2>/dev/null || break
        sleep 0.1
    done
    BASE="$(sed -n 's/^listening //p' "$demo_folder/demo.out")"
    [ -n "$BASE" ] || { echo "The demo did not start:"; cat "$demo_folder/demo.log"; return 1; }
}

password_of() { awk -v email="$1" '$2 == email { print $3 }' "$demo_folder/demo.out"; }
