# How scripts begin a book and import into it. Sourced, never run; needs `binary`, `folder` (for
# the log) and `place`, the arguments that name the database.

begin_book() { # ORGANISATION
    printf 'nine cold racks hum behind Halfmoon\n' >"$folder/password"
    "$binary" init --organisation "$1" --administrator juno@example.org \
        --password-file "$folder/password" "${place[@]}" >"$folder/log" 2>&1 || {
        cat "$folder/log"
        exit 1
    }
}

import_table() { # TABLE FLEET ORGANISATION
    "$binary" import "$1" "$2/$1.csv" --organisation "$3" "${place[@]}" >"$folder/log" 2>&1
}
