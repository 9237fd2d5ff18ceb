"""Random appliances in the United States: federal repair rules, California, Washington, the log."""
from datetime import date, timedelta

from .story import SHORT, Story, dated, mass

CATEGORIES = ("commercial_refrigeration", "commercial_refrigeration", "industrial_process",
              "comfort_cooling", "other_refrigeration")
CHARGES_LB = (49.9, 50, 50, 50.05, 50.5, 60, 80, 100, 100, 100, 150, 199, 200, 250, 300, 499, 500,
              500, 600, 1500, 1600, 1999, 2000, 2500)
ZONES = {"US-CO": "America/Denver", "US-CO-059": "America/Denver", "US-TX": "America/Chicago",
         "US-CA": "America/Los_Angeles", "US-WA": "America/Los_Angeles"}


def facts_of(chance, region, gases, start, charges=CHARGES_LB):
    full = chance.choice(charges)
    facts = {"region": region, "category": chance.choice(CATEGORIES),
             "refrigerant": chance.choice(gases), "full_charge": f"{full} lb",
             "installed": (start - timedelta(days=chance.choice((0, 30, 200, 900)))).isoformat()}
    if chance.random() < 0.03:
        del facts[chance.choice(("category", "full_charge", "installed"))]
    elif chance.random() < 0.1:
        facts["full_charge"] = dated(chance, f"{full} lb", f"{chance.choice(charges)} lb", start,
                                     (60, 200, 400))
    if chance.random() < 0.2:
        facts["detector"] = chance.choice(("yes", dated(chance, "no", "yes", start, (50, 250)),
                                           dated(chance, "yes", "no", start, (50, 250))))
    return facts, full


def federal(chance, which):
    """A commercial or industrial appliance under Part 82 or Part 84."""
    if which == "us-federal-ods":
        start = date(chance.choice((2017, 2018, 2019, 2021, 2023)), chance.randint(1, 12), 10)
        gases = ("R-22", "R-22", "R-22", "R-402A", "R-502") + (
            ("R-404A", "R-410A") if start.year in (2018, 2019) else ())
    else:
        start = date(chance.choice((2025, 2026, 2026, 2026, 2027)), chance.randint(1, 12), 10)
        gases = ("R-404A", "R-410A", "R-448A", "R-402A", "R-1234ze(E)")
    region = chance.choice(("US-CO", "US-CO", "US-CO-059", "US-TX", "US-CA", "US-WA"))
    facts, full = facts_of(chance, region, gases, start)
    last = start + timedelta(days=chance.choice((200, 500, 900)))
    story = Story(chance, start, ZONES[region], last)
    story.add("charge", mass=f"{full} lb", reason="installation") if story.maybe(0.2) else None
    while not story.wait().over():
        addition(story, full)
        if story.maybe(0.75):
            repair_work(story)
        other_work(story, full)
    sets = [which]
    if region == "US-CA":
        sets.append("us-california")
    if region == "US-WA":
        sets.append("us-washington")
    if facts["refrigerant"] == "R-402A":
        sets = sorted({*sets, "us-federal-ods", "us-federal-hfc"})
    return sets, ZONES[region], facts, story


def addition(story, full):
    """One charge, or a visit in which something was taken out first."""
    words = {"process_shutdown": "yes"} if story.maybe(0.06) else {}
    if story.maybe(0.1):
        words["leak"] = story.pick("L1", "L2")
    if story.maybe(0.12):
        story.in_visit().add("recover", mass=mass(story.chance, full, "lb"))
        story.add("charge", mass=mass(story.chance, full, "lb"), **words)
        if story.maybe(0.3):
            story.add("charge", mass=mass(story.chance, full, "lb"), **words)
        story.leave()
    elif story.maybe(0.05):
        story.add("outside_charge", mass=mass(story.chance, full, "lb"), **words)
    else:
        story.add("charge", mass=mass(story.chance, full, "lb"), **words)


def repair_work(story):
    """Repair and tests, in time or not, passed or not."""
    for _ in range(story.pick(1, 1, 1, 2)):
        story.wait(SHORT)
        if story.maybe(0.1):
            story.add("extension", ground=story.pick("parts", "radiological", "other_law"),
                      delivered_on=story.after(40) if story.maybe(0.5) else None,
                      until=story.after(story.pick(20, 100)))
            story.wait(SHORT)
        if story.maybe(0.06):
            story.add("decision", process_shutdown=story.pick("yes", "no"))
        story.add("repair", evacuated="yes" if story.maybe(0.12) else None,
                  all_leaks=story.pick("yes", None))
        story.wait((0, 0, 0, 1, 20))
        story.add("verification_test", stage="initial",
                  result=story.pick("passed", "passed", "passed", "failed"))
        if story.maybe(0.15):
            story.wait(SHORT).add("back_in_operation")
        if story.maybe(0.8):
            result = story.pick("passed", "passed", "passed", "failed")
            story.wait((1, 5, 9, 10, 11, 15)).add(
                "verification_test", stage="follow_up", result=result,
                all_leaks=story.pick("yes", "no") if result == "passed" else None)
            if result == "passed":
                return


def other_work(story, full):
    """What a manager decides, inspections, mothballing, the end."""
    if story.maybe(0.18):
        story.wait(SHORT).add("decision", choice=story.pick("replace", "replace", "fresh_leak"))
    if story.maybe(0.25):
        story.wait(SHORT).add("plan")
        if story.maybe(0.5):
            ground = story.pick("relief", "exempt_replacement", "more_than_a_year", "second_year")
            story.wait((1, 30, 100, 180, 181, 210, 215)).add(
                "extension", ground=ground, until=story.after(story.pick(200, 500)))
    if story.maybe(0.3):
        story.wait().add("inspection", certified=story.pick("yes", "yes", "no"), of="unit",
                         result=story.pick("clean", "clean", "leak"))
    if story.maybe(0.1):
        if story.maybe(0.6):
            addition(story, full)
        story.wait(SHORT).add("mothball")
        if story.maybe(0.2):
            story.wait(SHORT).add("back_in_operation")
        story.wait((5, 20, 50, 100, 200)).add(
            "charge", mass=mass(story.chance, full, "lb", (1, 5, 30)))
    if story.maybe(0.12):
        story.wait(SHORT).add("leak_found", found_by=story.pick("detector", "technician"))
    if story.maybe(0.08):
        story.add("notice", what=story.pick("chronic_report", "purge_exclusion", "registration"))
    if story.maybe(0.04):
        story.add("purge_destroyed")
    if story.maybe(0.05):
        story.add("retrofit")
        story.wait((0, 1, 2)).add("charge", mass=f"{full} lb", reason="after_retrofit")
    if story.maybe(0.04):
        story.wait(SHORT).add("retire")
        story.last = story.day


def state(chance, which):
    """A system in California or Washington: leaks, inspections, registration."""
    region = "US-CA" if which == "us-california" else "US-WA"
    start = date(chance.choice((2019, 2023, 2024, 2025)), chance.randint(1, 12), 20)
    facts, full = facts_of(chance, region, ("R-404A", "R-22", "R-448A", "R-744"), start,
                           (50, 50.5, 60, 100, 199, 200, 300, 700, 1499, 1500, 1999, 2000, 2500))
    for name, share in (("year_round", 0.05), ("indoors", 0.15), ("residential", 0.03)):
        if chance.random() < share:
            facts[name] = chance.choice(("yes", "no"))
    if chance.random() < 0.3:
        facts["ghg_reporter"] = chance.choice(("yes", "no"))
    story = Story(chance, start, ZONES[region], start + timedelta(days=chance.choice((200, 600))))
    while not story.wait().over():
        state_work(story, full)
    return [which], ZONES[region], facts, story


def state_work(story, full):
    if story.maybe(0.4):
        story.add("charge", mass=mass(story.chance, full, "lb", (0.5, 0.99, 1, 1.01, 2, 5, 16, 25)))
    if story.maybe(0.4):
        story.wait(SHORT).add("leak_found")
        if story.maybe(0.35):
            grounds = ("no_technician", "no_parts", "shutdown", "process_shutdown", "longer_term")
            story.wait((1, 5, 13)).add("extension", ground=story.pick(*grounds),
                                       until=story.after(30))
        if story.maybe(0.7):
            story.wait((0, 1, 13, 14, 15, 44, 45, 46, 119)).add("repair")
    if story.maybe(0.5):
        story.wait(SHORT).add("inspection", result=story.pick("clean", "clean", "leak"))
    if story.maybe(0.15):
        story.wait().add("plan")
    if story.maybe(0.2):
        story.wait().add("notice", what=story.pick("registration", "yearly_report"))
    if story.maybe(0.04):
        story.wait(SHORT).add(story.pick("retire", "retrofit"))


def disposal(chance):
    """A small appliance that is emptied for good."""
    start = date(2024, chance.randint(1, 12), 4)
    full = chance.choice(("5 lb", "5 lb 1 oz", "12 lb", "49 lb 15 oz", "50 lb", "4.99 lb"))
    facts = {"region": "US-OH", "refrigerant": chance.choice(("R-22", "R-410A", "R-744")),
             "full_charge": full}
    story = Story(chance, start, "America/New_York", start + timedelta(days=60))
    while not story.wait((3, 20)).over():
        fields = [word for word in ("company", "location", "date", "refrigerant", "amount")
                  if story.maybe(0.8)]
        story.add("recover", mass="4.5 lb", reason=story.pick("disposal", "disposal", None),
                  has=fields)
    return ["us-disposal-log"], "America/New_York", facts, story
