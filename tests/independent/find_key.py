#!/usr/bin/env python3
"""Prints the key among KEYFILES that has signed CHECKPOINT.

    find_key.py [--verification] CHECKPOINT KEYFILE...

A key file may be private or public; `--verification` prints the public form in either case.
"""

import sys
from pathlib import Path

from book import Broken, Key, read_checkpoint


def main(arguments):
    public = arguments[0] == "--verification"
    checkpoint, *files = arguments[1:] if public else arguments
    note = Path(checkpoint).read_text()
    for file in files:
        text = Path(file).read_text()
        try:
            key = Key(text)
            read_checkpoint(note, key)
        except Broken:
            continue
        print(key.vkey if public else text.strip())
        return 0
    print(f"none of these keys has signed {checkpoint}: {files}", file=sys.stderr)
    return 1


if __name__ == "__main__":
    if len(sys.argv) < 3:
        sys.exit(__doc__)
    sys.exit(main(sys.argv[1:]))
