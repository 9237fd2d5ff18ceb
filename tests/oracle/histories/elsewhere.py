"""Random equipment in the European Union, Great Britain, Switzerland, Canada and Japan."""
from datetime import date, timedelta

from .story import SHORT, Story, dated, mass

GASES = {"eu-2024-573": ("R-404A", "R-404A", "R-410A", "R-1234yf", "R-448A", "R-513A", "R-22"),
         "gb-517": ("R-404A", "R-404A", "R-410A", "R-1234yf", "R-448A"),
         "ch-orrchem": ("R-404A", "R-134a", "R-32", "R-290", "R-22", "R-744"),
         "ca-halocarbon-2022": ("R-134a", "R-134a", "R-12", "R-404A", "R-717"),
         "jp-yearly-co2e": ("R-134a", "R-410A", "R-404A", "R-744")}
PLACES = {"eu-2024-573": (("EU-DE", "Europe/Berlin"), ("EU-IE", "Europe/Dublin"),
                          ("GB-NIR", "Europe/London"), ("EU-FI", "Europe/Helsinki")),
          "gb-517": (("GB-ENG", "Europe/London"), ("GB-SCT", "Europe/London"),
                     ("GB-NIR", "Europe/London")),
          "ch-orrchem": (("CH-ZH", "Europe/Zurich"),),
          "ca-halocarbon-2022": (("CA-ON", "America/Toronto"), ("CA-BC", "America/Vancouver")),
          "jp-yearly-co2e": (("JP-13", "Asia/Tokyo"), ("JP-27", "Asia/Tokyo"))}
KILOGRAMS = (0.9, 1, 1.274, 1.275, 1.3, 2.395, 2.549, 2.55, 3, 3.5, 5.9, 6.5, 9.9, 10, 10.001, 12,
             12.75, 20, 30, 100, 127.498, 127.5, 130, 200)


def equipment(chance, which):
    """Leak checks, repairs and detectors under the European kind of set."""
    region, zone = chance.choice(PLACES[which])
    start = date(chance.choice((2023, 2024, 2024, 2025, 2025)), chance.randint(1, 12),
                 chance.choice((1, 10, 15, 20, 28)))
    full = chance.choice(KILOGRAMS)
    facts = {"region": region, "refrigerant": chance.choice(GASES[which]),
             "full_charge": f"{full} kg", "category": "commercial_refrigeration",
             "installed": (start - timedelta(days=chance.choice((0, 30, 400)))).isoformat()}
    for name, share in (("hermetic", 0.12), ("residential", 0.08), ("mobile", 0.06)):
        if chance.random() < share:
            facts[name] = "yes"
    if chance.random() < 0.1:
        facts["equipment"] = chance.choice(("switchgear", "rankine"))
    if chance.random() < 0.35:
        facts["detector"] = chance.choice(("yes", dated(chance, "no", "yes", start, (40, 200)),
                                           dated(chance, "yes", "no", start, (40, 200))))
    if chance.random() < 0.12:
        facts["full_charge"] = dated(chance, f"{full} kg", f"{chance.choice(KILOGRAMS)} kg", start,
                                     (60, 200))
    if chance.random() < 0.03:
        del facts[chance.choice(("refrigerant", "full_charge", "installed"))]
    story = Story(chance, start, zone, start + timedelta(days=chance.choice((100, 400, 800))))
    while not story.wait().over():
        checks(story, full, which)
    return [which], zone, facts, story


def checks(story, full, which):
    if story.maybe(0.25):
        story.add("charge", mass=mass(story.chance, full, "kg"),
                  reason=story.pick(None, None, "installation"))
    if story.maybe(0.45):
        hours = str(story.pick(10, 23, 24, 25)) if story.maybe(0.3) else None
        story.wait(SHORT).add("inspection", of=story.pick("unit", "unit", "unit", "detector"),
                              certified=story.pick("yes", "yes", "no"), run_hours=hours,
                              result=story.pick("clean", "clean", "leak"))
    if story.maybe(0.4):
        story.wait(SHORT).add("leak_found")
    if story.maybe(0.4):
        story.wait((0, 0, 1, 5)).add("repair")
        if story.maybe(0.7):
            story.wait((0, 1, 1, 2, 27, 28, 30, 31, 32)).add(
                "inspection", of="unit", certified="yes", result="clean",
                run_hours=str(story.pick(20, 24, 30)) if story.maybe(0.4) else None)
    if story.maybe(0.04):
        story.wait().add("retire")
    if which == "ch-orrchem" and story.maybe(0.3):
        story.add("notice", what=story.pick("start", "end"))


def federal_canada(chance):
    """A halocarbon system: tests, leaks, releases, reports."""
    region, zone = chance.choice(PLACES["ca-halocarbon-2022"])
    start = date(chance.choice((2022, 2023, 2024)), chance.randint(1, 12), 12)
    full = chance.choice((9.9, 10, 10.001, 30, 200))
    facts = {"region": region, "owner_class": chance.choice(("federal", "federal", "private")),
             "land": chance.choice(("other", "federal", "aboriginal")),
             "refrigerant": chance.choice(GASES["ca-halocarbon-2022"]),
             "full_charge": f"{full} kg", "installed": "2020-01-01"}
    if chance.random() < 0.05:
        del facts[chance.choice(("owner_class", "land", "full_charge", "installed"))]
    story = Story(chance, start, zone, start + timedelta(days=chance.choice((200, 600))))
    while not story.wait().over():
        halocarbon_work(story)
    return ["ca-halocarbon-2022"], zone, facts, story


def halocarbon_work(story):
    if story.maybe(0.4):
        story.add("inspection", of=story.pick("unit", "unit", "container"),
                  result=story.pick("clean", "clean", "leak"))
    if story.maybe(0.3):
        story.add("loss", mass=story.pick("9.99 kg", "10 kg", "10.001 kg", "50 kg", "99.999 kg",
                                          "100 kg", "101 kg"), estimated=story.pick("yes", "no"))
        for what in ("first_report", "full_report", "half_year_report"):
            if story.maybe(0.4):
                story.wait((1, 2, 15, 30, 31)).add("notice", what=what)
    if story.maybe(0.35):
        story.add("leak_found")
        if story.maybe(0.7):
            kind = story.wait((0, 5, 7, 8)).pick("repair", "isolate", "recover")
            whole = kind == "recover"
            story.add(kind, what=story.pick("all", "part") if whole else None,
                      mass="4 kg" if whole else None)
    if story.maybe(0.3):
        story.in_visit()
        if story.maybe(0.6):
            story.add("recover", mass=story.pick("2 kg", "3 kg"))
        story.add("charge", mass=story.pick("2 kg", "3 kg"),
                  reason=story.pick(None, None, "immediate_danger"))
        story.leave()
        if story.maybe(0.3):
            story.wait((3, 7, 8)).add("notice", what="danger_report")


def business(chance):
    """Several units of one business in Japan, at two sites."""
    start = date(2024, chance.randint(1, 6), 3)
    listed = []
    for name in ("A", "B", "C")[:chance.choice((1, 2, 3))]:
        region, zone = chance.choice(PLACES["jp-yearly-co2e"])
        facts = {"region": region, "refrigerant": chance.choice(GASES["jp-yearly-co2e"]),
                 "full_charge": "900 kg", "motor_kw": chance.choice(("5", "7.5", "49.9", "50")),
                 "category": chance.choice(("comfort_cooling", "commercial_refrigeration")),
                 "installed": (start - timedelta(days=chance.choice((0, 400)))).isoformat()}
        if chance.random() < 0.08:
            del facts[chance.choice(("motor_kw", "category"))]
        story = Story(chance, start, zone, start + timedelta(days=chance.choice((300, 500))))
        while not story.wait().over():
            unit_work(story)
        listed.append((name, chance.choice(("S1", "S2")), facts, story))
    return ["jp-yearly-co2e"], "Asia/Tokyo", listed


def unit_work(story):
    if story.maybe(0.6):
        story.add("charge", mass=story.pick("100 kg", "349.65 kg", "400 kg", "699.301 kg"),
                  reason=story.pick(None, None, None, "emergency", "installation"))
    if story.maybe(0.2):
        story.wait(SHORT).add("recover", mass="50 kg", reason=story.pick(None, "disposal"))
    if story.maybe(0.4):
        story.wait(SHORT).add("inspection", type=story.pick("simple", "expert"))
    if story.maybe(0.3):
        story.wait(SHORT).add(story.pick("repair", "leak_found"))
    if story.maybe(0.15):
        story.wait().add("notice", what="yearly_report")
