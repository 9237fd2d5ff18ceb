#!/usr/bin/env python3
"""The year 2026 of a small invented fleet, worked out without the program under test.

    python3 halfmoon_year.py appliance-year > halfmoon_appliance_year.csv
    python3 halfmoon_year.py additions > halfmoon_additions.csv

Only the standard library, exact fractions, and the sentences of the definitions; nothing is fast
and nothing is shared with the Rust code. The fleet is written down a second time in `sheets.rs`.
Without visits a day is one addition; the one visit here (marked "V") lies on one day, so every
netting unit is one appliance and one local day. Masses are ounces.
"""
import csv, sys
from datetime import date
from fractions import Fraction as F

LB = 16
FLEET = [  # tag, site, category, full charge (oz), installed, limit in percent or None, events
    ("=COOLER, old", "QK", "commercial_refrigeration", 50 * LB, None, 20, [
        ("2024-06-01", "opening", "R-22", 40 * LB),
        ("2026-02-28", "redesignate_out", "R-22", 40 * LB),
        ("2026-02-28", "redesignate_in", "mixture", 40 * LB),
        ("2026-03-01", "charge", "mixture", F(1001 * LB, 100)),
        ("2026-12-31", "loss", "mixture", 3 * LB),
    ]),
    ("HG-RACK-A", "HG-ALDER", "commercial_refrigeration", 210 * LB, "2024-03-12", 20, [
        ("2025-01-02", "opening", "R-448A", 200 * LB),
        ("2025-06-01", "charge", "R-448A", 5 * LB),
        ("2026-04-09", "charge", "R-448A", 9 * LB + 4),
        ("2026-07-14", "charge", "R-448A", 14 * LB + 8),
        ("2026-08-01", "test", "", 0),
        ("2026-08-01", "charge", "R-448A", 1),
        ("2026-08-20", "outside", "R-448A", 6 * LB),
        ("2027-01-01", "charge", "R-448A", 99 * LB),
    ]),
    ("HG-RTU-07", "HG-ALDER", "comfort_cooling", 22 * LB, "2024-01-01", 10, [
        ("2025-12-31", "charge", "R-410A", 8),
        ("2026-01-31", "charge", "R-410A", 8),
        ("2026-06-20", "recover V", "R-410A", 20 * LB + 10),
        ("2026-06-20", "charge V", "R-410A", 22 * LB),
        ("2026-06-21", "recover", "R-410A", 2 * LB),
        ("2026-06-21", "charge", "R-410A", 2 * LB),
    ]),
    ("HG-SPARE", "", "", None, None, None, []),
    ("PINE-AHU-2", "PINE", "comfort_cooling", None, None, 10, [
        ("2026-05-05", "charge", "R-454B", 2 * LB),
    ]),
    ("QK-WIC-1", "QK", "commercial_refrigeration", 11 * LB + 14, "2020-05-01", 20, [
        ("2024-02-01", "opening", "R-404A", 11 * LB + 14),
        ("2026-03-01", "recover", "R-404A", 11 * LB),
        ("2026-03-01", "retrofit", "", 0),
        ("2026-03-01", "installation", "R-448A", 12 * LB),
        ("2026-09-01", "charge", "R-448A", 1 * LB + 2),
    ]),
]
IN = {"opening", "charge", "outside", "installation", "redesignate_in"}


def pounds(ounces):
    value = F(ounces) / LB
    text = "%d.%014d" % (value.numerator // value.denominator,
                         (value - value.numerator // value.denominator) * 10**14)
    return text.rstrip("0").rstrip(".")


def percent(rate):
    cut = rate * 10**4
    cut = cut.numerator // cut.denominator
    return "%d.%04d" % (cut // 10**4, cut % 10**4)


def kind(event):
    return event[1].split()[0]


def additions(appliance):
    tag, _, _, full, installed, limit, events = appliance
    found = []
    for day in sorted({event[0] for event in events}):
        today = [event for event in events if event[0] == day]
        net = sum(event[3] for event in today if kind(event) in ("charge", "outside"))
        retrofits = [event[0] for event in events if kind(event) == "retrofit" and event[0] <= day]
        if day not in retrofits:  # a retrofit parts the day; here nothing is charged before it
            net -= sum(event[3] for event in today if kind(event) == "recover")
        if net <= 0:
            continue
        on = date.fromisoformat(day)
        tests = [event[0] for event in events if kind(event) == "test" and event[0] <= day]
        before = [a for a in found if not retrofits or a["on"] > retrofits[-1]]
        start = before[-1]["on"] if before else (retrofits or [installed])[-1]
        days = min((on - date.fromisoformat(start)).days, 365) if start else 365
        window = before + [{"on": day, "net": net}]
        rolling = sum(a["net"] for a in window
                      if (on - date.fromisoformat(a["on"])).days < 365
                      and not (tests and a["on"] <= tests[-1]))
        rates = (F(rolling * 100, 1) / full, F(net * 36500, 1) / full / days) if full else None
        found.append({
            "tag": tag, "on": day, "net": net, "days": days, "rolling": rolling, "rates": rates,
            "over": None if rates is None else [rate > limit for rate in rates],
            "refrigerant": next(event[2] for event in today if kind(event) in ("charge", "outside")),
        })
    return [a for a in found if a["on"][:4] == "2026"]


def appliance_year(appliance):
    tag, site, category, full, _, _, events = appliance
    events = [event for event in events if event[0] < "2027"]
    held = []
    for event in events:
        if event[2] and event[2] not in held:
            held.append(event[2])
    for refrigerant in held or ["R-454B"]:
        own = [event for event in events if event[2] == refrigerant]
        signed = lambda event: event[3] if kind(event) in IN else -event[3]
        year = [event for event in own if event[0] >= "2026"]
        closing = sum(map(signed, own))
        charges = [e for e in year if kind(e) in ("charge", "outside", "installation")]
        charged = sum(event[3] for event in charges)
        recovered = sum(event[3] for event in year if kind(event) == "recover")
        rows = [a for a in additions(appliance) if a["refrigerant"] == refrigerant]
        cells = [tag, site, category, refrigerant, pounds(full) if full else "",
                 pounds(closing - charged + recovered), pounds(charged), pounds(recovered),
                 pounds(closing), len(charges), len(rows), pounds(sum(a["net"] for a in rows))]
        known = [a for a in rows if a["rates"]]
        for which in (0, 1):
            worst = max((a["rates"][which] for a in known), default=None)
            on = next((a["on"] for a in known if a["rates"][which] == worst), "")
            cells += ["" if worst is None else percent(worst), on]
        for which in (0, 1):
            cells.append("" if not full else sum(a["over"][which] for a in known))
        cells.append(next((a["on"] for a in known if any(a["over"])), ""))
        yield cells


def main():
    out = csv.writer(sys.stdout, lineterminator="\r\n")
    guard = lambda tag: "'" + tag if tag[0] in "=+-@" else tag
    if sys.argv[1] == "additions":
        out.writerow("appliance,on,added_lb,days,rolling_lb,rolling_percent,annualised_percent,"
                     "rolling_over,annualised_over".split(","))
        for appliance in FLEET:
            for a in additions(appliance):
                rates = [percent(rate) for rate in a["rates"]] if a["rates"] else ["", ""]
                over = ["yes" if o else "no" for o in a["over"]] if a["over"] else ["", ""]
                out.writerow([guard(a["tag"]), a["on"], pounds(a["net"]), a["days"],
                              pounds(a["rolling"])] + rates + over)
        return
    out.writerow("appliance,site,category,refrigerant,full_charge_lb,opening_lb,charged_lb,"
                 "recovered_lb,closing_lb,charges,additions,added_lb,worst_rolling_percent,"
                 "worst_rolling_on,worst_annualised_percent,worst_annualised_on,rolling_over,"
                 "annualised_over,first_over_on".split(","))
    for appliance in FLEET:
        for cells in appliance_year(appliance):
            out.writerow([guard(cells[0])] + cells[1:])


if __name__ == "__main__":
    main()
