"""What counts as an addition of refrigerant, and its leak rate by both methods.

A visit is judged at each of its charges, a day without visit once. Parts of one leak, and all that
was added on one day, are one addition: each step carries the sum so far, and its days run back to
before the first of them. A retrofit begins a new life. Installation and the charge after a retrofit
are never additions; what else a rule leaves out stands in its `leaves_out`.
"""
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction

from .history import CHARGES
from .times import add_months

ALWAYS_LEFT_OUT = ("installation", "after_retrofit")
YEAR = timedelta(days=365)


@dataclass(eq=False)
class Step:
    """One judgement: what this step adds, and the sum of its addition so far."""
    event: object
    adds: Fraction
    key: str
    group: tuple
    life: int
    identity: object = None
    total: Fraction = Fraction(0)
    days: int | None = None
    annualised: Fraction | None = None
    rolling: Fraction | None = None

    @property
    def day(self):
        return self.event.day


def counted_masses(events, leaves_out, netting):
    """place -> kilograms that count as charged (+) or recovered (-)."""
    taken_out, result = [], {}
    for event in events:
        reason = event.words.get("reason")
        if event.kind == "retrofit":
            taken_out.clear()  # A new life: what came out of the old one is not put back.
        if event.kind == "recover":
            result[event.place] = -event.mass
            pooled = netting == "returned" or (reason == "seasonal" and "seasonal" in leaves_out)
            if pooled:
                taken_out.append([event.day, event.mass, reason == "seasonal"])
            if netting in ("returned", "gross"):
                result[event.place] = Fraction(0)
        elif event.kind in CHARGES:
            mass = event.mass
            if reason in ALWAYS_LEFT_OUT and reason in leaves_out:
                mass = Fraction(0)
            for one in taken_out:
                fits = netting == "returned" or (reason == "seasonal" and one[2])
                if fits and one[0] >= add_months(event.day, -12, "last_day"):
                    back = min(mass, one[1])
                    one[1] -= back
                    mass -= back
            result[event.place] = mass
    return result


def groups_of(events, masses):
    """Lists of events that are judged together: visits split at 7 days, or days without visit."""
    result, newest = [], {}
    for event in events:
        if event.place not in masses:
            continue
        key = ("visit", event.visit) if event.visit else ("day", event.day)
        group = newest.get(key)
        if group is None or event.day - group[1][-1].day > timedelta(days=7):
            group = newest[key] = (key + (event.place,), [])
            result.append(group)
        group[1].append(event)
    return result


def raw_steps(events, masses):
    """The steps of every group, in order."""
    lives = [event.place for event in events if event.kind == "retrofit"]
    steps = []
    for name, group in groups_of(events, masses):
        steps += steps_of_visit(name, group, masses) if name[0] == "visit" \
            else steps_of_day(name, group, masses)
    for step in steps:
        step.life = sum(place < step.event.place for place in lives)
    steps.sort(key=lambda step: step.event.place)
    return steps


def steps_of_visit(name, group, masses):
    steps, total, before = [], Fraction(0), Fraction(0)
    leak = next((e.words["leak"] for e in group if "leak" in e.words), None)
    for event in group:
        total += masses[event.place]
        if event.kind in CHARGES and masses[event.place] > 0:
            figure = max(Fraction(0), total)
            if figure > 0 or before > 0:
                steps.append(Step(event, figure - before, event.words.get("leak", leak), name, 0))
            before = figure
    return steps


def steps_of_day(name, group, masses):
    """One step for each leak of the day, at its last charge; what was recovered comes off first."""
    recovered = -sum(masses[e.place] for e in group if e.kind == "recover")
    steps = {}
    for event in group:
        if event.kind in CHARGES and masses[event.place] > 0:
            leak = event.words.get("leak")
            step = steps.setdefault(leak, Step(event, Fraction(0), leak, name, 0))
            step.event, step.adds = event, step.adds + masses[event.place]
    result = []
    for step in steps.values():
        off = min(recovered, step.adds)
        recovered, step.adds = recovered - off, step.adds - off
        if step.adds > 0:
            result.append(step)
    return result


def identify(steps, begins):
    """Which steps are one addition: the same leak, the same visit, the same day."""
    for index, step in enumerate(steps):
        earlier = [other for other in steps[:index]
                   if other.life == step.life and (other.day < begins) == (step.day < begins)]
        same = [o for o in earlier if o.key == step.key] if step.key else \
            [o for o in earlier if o.group == step.group or o.day == step.day]
        step.identity = same[0].identity if same else step
        step.total = step.adds + sum(o.adds for o in earlier if o.identity is step.identity)


def additions_of(judge, netting=None):
    """The judged steps of one appliance; without a leak rate in the set they carry no rate."""
    table = judge.rules.leak_rate or {"leaves_out": ALWAYS_LEFT_OUT}
    netting = netting or table.get("netting", "visit")
    masses = counted_masses(judge.appliance.events, table.get("leaves_out", ()), netting)
    steps = raw_steps(judge.appliance.events, masses)
    begins = date.fromisoformat(table.get("counts_from", "0001-01-01"))
    identify(steps, begins)
    for index, step in enumerate(steps):
        if step.day < begins:
            continue  # It neither counts nor resets the days: it has no figures under this set.
        first = step.identity
        until = first.day if step.key else step.day
        earlier = [o.day for o in steps[:index] if o.identity is not first and o.life == step.life
                   and begins <= o.day < first.day]
        if earlier:
            step.days = min(365, (until - max(earlier)).days)
        else:
            step.days = days_without_baseline(judge, step, until, table)
        full, _ = judge.quantity("full_charge", step.day)
        if full is not None and full > 0:
            step.annualised = step.total * 100 * 365 / (full * step.days)
            step.rolling = rolled(judge, steps[:index + 1], step, begins) * 100 / full
    return [step for step in steps if step.total > 0]


def days_without_baseline(judge, step, until, table):
    retrofits = [e.day for e in judge.appliance.events
                 if e.kind == "retrofit" and e.place < step.event.place]
    text = judge.fact("installed", step.day)
    if table.get("first_days") != "since_installed" or (not retrofits and text is None):
        return 365
    days = (until - (retrofits[-1] if retrofits else date.fromisoformat(text))).days
    return min(days, 365) if days > 0 else 365


def rolled(judge, so_far, step, begins):
    """Added in (day - 365, day], and after the last test that showed every leak repaired."""
    tests = [e.day for e in judge.appliance.events if e.kind == "verification_test"
             and e.words.get("stage") == "follow_up" and e.words.get("result") == "passed"
             and e.words.get("all_leaks") == "yes" and e.day <= step.day]
    after = max([step.day - YEAR] + tests)
    return sum((o.adds for o in so_far
                if o.life == step.life and o.day > after and o.day >= begins), Fraction(0))


def open_readings(steps, events):
    """Which open readings the steps rest on."""
    found = set()
    for event in events:
        if event.kind == "recover" and event.visit and any(
                o.visit == event.visit and o.kind in CHARGES and o.place < event.place
                for o in events):
            found.add("recovered-after")
        if event.kind == "verification_test" and event.words.get("all_leaks") == "yes" and any(
                step.day == event.day and step.event.place < event.place for step in steps):
            found.add("test-later-that-day")
    for index, step in enumerate(steps):
        earlier = steps[:index]
        if any(other.group == step.group for other in earlier):
            found.add("steps-of-visit")
        if any(other.group != step.group and other.day == step.day for other in earlier):
            found.add("visits-of-day")
        if step.life:
            found.add("new-life")
    return found
