#!/usr/bin/env python3
"""Runs one command and says what it cost.

    measure.py LABEL [--out FILE] -- COMMAND...

Prints `LABEL: cpu 1.23 s (user 1.00, system 0.23), wall 2.34 s, peak 56 MiB, first byte 7 ms` on
standard error and `cpu peak_mib first_byte_ms` on standard output, for scripts. Processor time and
peak memory are the kernel's (wait4) and include the command's own children; the first byte is the
time from the start of the process to the first byte on its standard output. The command's output
goes to FILE, or nowhere. Its exit status is passed on.
"""
import os
import subprocess
import sys
import time


def main():
    arguments = sys.argv[1:]
    split = arguments.index("--")
    label, options, command = arguments[0], arguments[1:split], arguments[split + 1:]
    target = options[options.index("--out") + 1] if "--out" in options else os.devnull
    began = time.monotonic()
    first = None
    process = subprocess.Popen(command, stdout=subprocess.PIPE)
    with open(target, "wb") as out:
        while chunk := os.read(process.stdout.fileno(), 1 << 16):
            first = first or time.monotonic() - began
            out.write(chunk)
    _, status, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    wall = time.monotonic() - began
    cpu = usage.ru_utime + usage.ru_stime
    peak = usage.ru_maxrss / 1024
    first_text = f"{first * 1000:.0f}" if first is not None else "-"
    print(f"{label}: cpu {cpu:.2f} s (user {usage.ru_utime:.2f}, system {usage.ru_stime:.2f}), "
          f"wall {wall:.2f} s, peak {peak:.0f} MiB, first byte {first_text} ms", file=sys.stderr)
    print(f"{cpu:.3f} {peak:.1f} {first_text}")
    sys.exit(process.returncode)


if __name__ == "__main__":
    main()
