#!/usr/bin/env python3
"""Reads the measurements of a running service with software that is not ours, and lints their names.

    metrics.py METRICS BASE

METRICS is the address of the measurements, BASE that of the service, which is asked a few things first.
The text is parsed by the OpenMetrics parser of PyPI `prometheus_client`, which refuses what breaks the
format; the rules of naming are those of prometheus.io, "Metric and label naming" and "Writing
exporters", and of the OpenMetrics specification 1.0 (units, suffixes, reserved labels).
"""

import re
import sys
import urllib.error
import urllib.request

from prometheus_client.openmetrics.parser import text_string_to_metric_families

# Base units only: no milliseconds, kilobytes or percent.
BASE_UNITS = ("seconds", "bytes", "ratio")
OTHER_UNITS = (
    "milliseconds", "microseconds", "minutes", "hours", "days", "ms", "kilobytes", "megabytes", "kb", "mb",
    "percent",
)  # fmt: skip
RESERVED_LABELS = ("le", "quantile", "job", "instance")


def faults(text):
    """What is wrong with an exposition, each in a sentence."""
    try:
        families = list(text_string_to_metric_families(text))
    except ValueError as error:
        return [f"no OpenMetrics: {error}"]
    told = [] if families else ["there are no measurements"]
    for family in families:
        name, words = family.name, family.name.split("_")
        say = lambda sentence, name=name: told.append(f"{name} {sentence}")
        if not re.fullmatch(r"tarebook(_[a-z]+)+", name):
            say("is not the prefix tarebook and words in small letters")
        if not family.documentation:
            say("has no HELP")
        if family.type in ("unknown", "untyped"):
            say("has no TYPE")
        if any(word in OTHER_UNITS for word in words):
            say("is in a unit that is no base unit")
        if any(unit in words[:-1] for unit in BASE_UNITS if family.type != "counter"):
            say("has its unit elsewhere than at the end")
        if words[-1] in BASE_UNITS and family.unit != words[-1]:
            say("has no line UNIT for its unit")
        if family.type == "histogram" and not family.unit:
            say("is a histogram without a unit")
        if name.endswith(("_total", "_count", "_sum", "_bucket", "_info")):
            say("ends with a suffix that the format gives to samples")
        if family.type in words or "gauge" in words or "counter" in words:
            say("repeats its type in its name")
        for sample in family.samples:
            wanted = {"counter": (name + "_total",), "gauge": (name,)}.get(family.type)
            if wanted and sample.name not in wanted:
                say(f"is a {family.type} with the sample {sample.name}")
            for label, value in sample.labels.items():
                if label in RESERVED_LABELS and not (label == "le" and sample.name.endswith("_bucket")):
                    say(f"uses the reserved label {label}")
                if re.search(r"[0-9a-f]{8}-[0-9a-f]{4}-|@", value):
                    say(f"has an id in the label {label}: {value}")
    return told


def planted():
    """Expositions with one fault each: the lint must see every one of them."""
    good = (
        "# HELP tarebook_answer_seconds Time.\n# TYPE tarebook_answer_seconds gauge\n"
        "# UNIT tarebook_answer_seconds seconds\ntarebook_answer_seconds 0.5\n"
        "# HELP tarebook_requests Requests.\n# TYPE tarebook_requests counter\n"
        'tarebook_requests_total{route="/livez"} 1\n# EOF\n'
    )
    yield "nothing", good, False
    for what, old, new in (
        ("a counter without _total", "tarebook_requests_total", "tarebook_requests"),
        ("milliseconds", "answer_seconds", "answer_milliseconds"),
        ("no HELP", "# HELP tarebook_requests Requests.\n", ""),
        ("no TYPE", "# TYPE tarebook_answer_seconds gauge\n", ""),
        ("another prefix", "tarebook_requests", "http_requests"),
        ("no end", "# EOF\n", ""),
        ("a number that is none", "0.5", "half"),
        ("a reserved label", "route=", "instance="),
        ("an id in a label", "/livez", "/entries/019b76da-a800-7000-8000-000000000001"),
        ("a type in a name", "tarebook_requests", "tarebook_counter_requests"),
    ):
        assert old in good
        yield what, good.replace(old, new), True


def main(metrics, base):
    passed = failed = 0
    for what, text, is_fault in planted():
        if bool(faults(text)) == is_fault:
            passed += 1
        else:
            failed += 1
            print(f"FAILED: planted {what}: {faults(text)}")
    for path in ("/livez", "/readyz", "/api/v1/entries", "/no-such-page"):
        try:
            urllib.request.urlopen(base + path).read()
        except urllib.error.HTTPError:
            pass
    with urllib.request.urlopen(metrics) as answer:
        media, text = answer.headers["Content-Type"], answer.read().decode()
    found = faults(text)
    families = {family.name: family for family in text_string_to_metric_families(text)} if not found else {}
    requests = families["tarebook_requests"].samples if "tarebook_requests" in families else []
    for what, good in (
        ("the measurements keep the rules", not found),
        ("the media type is that of OpenMetrics", media.startswith("application/openmetrics-text; version=1.0.0")),
        ("requests are counted by route", any(sample.labels["route"] == "/livez" for sample in requests)),
        ("answers are timed in seconds", "tarebook_answer_seconds" in families),
    ):
        if good:
            passed += 1
        else:
            failed += 1
            print(f"FAILED: {what}: {found or media}")
    print(f"{passed} passed, {failed} failed")
    return failed > 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
