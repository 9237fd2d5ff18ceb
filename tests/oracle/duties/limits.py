"""Finding exceedances: each limit at the place where the rules have it judged.

Of one addition every step over the limit is listed, and only the first begins anything. A sum over
a period is passed once in it. Sums of a whole organisation are judged at the ends of their periods.
"""
from dataclasses import dataclass, field
from datetime import date, timedelta
from fractions import Fraction

from .additions import groups_of
from .history import CHARGES
from .judging import COMPARE
from .rulebook import in_force
from .times import SINGLE, Moment, end_of_period, start_of_period


@dataclass(eq=False)
class Exceedance:
    """One limit passed."""
    limit: str
    moment: Moment
    place: int
    value: Fraction
    begins: bool = True
    visit: str | None = None
    period_end: date | None = None
    lists: list | None = None

    @property
    def day(self):
        return self.moment.day


@dataclass
class Found:
    """All exceedances of one appliance, in order, and the facts that were missing."""
    exceedances: list = field(default_factory=list)
    missing: set = field(default_factory=set)


def period_of(limit, rules):
    if limit.get("period") == "fiscal_year":
        return 12, rules.year_starts
    return (SINGLE[limit["period"]], None) if "period" in limit else None


def exceedances_of(judge, steps, method):
    """What one appliance passed. `method` gives the site's method of a day."""
    found, crossed = Found(), set()
    for event in judge.appliance.events:
        for limit in judge.rules.limits:
            for number, step in numbers_at(judge, limit, event, steps, method):
                consider(judge, limit, event, number, step, crossed, found)
    return found


def numbers_at(judge, limit, event, steps, method):
    """(number, step) of a limit at the place of an event; a number may be unknown."""
    measure = limit["measure"]
    if measure == "released" and event.kind == "loss":
        return [(event.mass, None)]
    if measure == "net_gain":
        return net_gain(judge, event)
    here = [step for step in steps if step.event is event]
    if measure == "added":
        return [(step.total, step) for step in here]
    if measure == "leak_rate":
        return [(step.annualised if method(step.day) == "annualising" else step.rolling, step)
                for step in here]
    if measure == "loss_of_period":
        return [(loss(judge, limit, step, steps), step) for step in here]
    return []


def loss(judge, limit, step, steps):
    months, starts = period_of(limit, judge.rules)
    full, _ = judge.quantity("full_charge", step.day)
    if full is None:
        return None
    begin = start_of_period(step.day, months, starts)
    table = judge.rules.leak_rate or {}
    begin = max(begin, date.fromisoformat(table.get("counts_from", "0001-01-01")))
    added = sum(o.adds for o in steps if begin <= o.day and o.event.place <= step.event.place)
    return added * 100 / full


def net_gain(judge, event):
    """At the last charge of a visit, or of a day without one: charged less recovered."""
    events = judge.appliance.events
    masses = {e.place: e.mass if e.kind in CHARGES else -e.mass
              for e in events if e.kind in CHARGES or e.kind == "recover"}
    for _, group in groups_of(events, masses):
        charges = [e for e in group if e.kind in CHARGES]
        if charges and charges[-1] is event:
            return [(sum(masses[e.place] for e in group), None)]
    return []


def consider(judge, limit, event, number, step, crossed, found):
    """Judges one number; notes the exceedance or what is missing."""
    if not in_force(limit, event.day):
        return
    covered, missing = judge.covered(event.day)
    if covered is not True:
        found.missing |= missing
        return
    applies, missing = judge.test(limit.get("when", {}), event.day)
    if applies is not True:
        found.missing |= missing
        return
    over, missing = passes(judge, limit, number, event.day)
    found.missing |= missing
    if over is not True:
        return
    period = period_of(limit, judge.rules)
    period_end = end_of_period(event.day, period[0], 0, period[1]) if period else None
    once = (limit["name"], period_end if period else step.identity if step else event)
    if period and once in crossed:
        return
    found.exceedances.append(Exceedance(limit["name"], event.moment, event.place, number,
                                        once not in crossed, event.visit, period_end))
    crossed.add(once)


def passes(judge, limit, number, day):
    """Whether a number passes every value of a limit."""
    missing, answers = set(), []
    for word, compare in COMPARE.items():
        names = limit.get(word, [])
        for name in [names] if isinstance(names, str) else names:
            value, lacking = judge.share_of_charge(name, day)
            missing |= lacking
            if number is not None and value is not None:
                answers.append(compare(number, value))
    if number is None:
        missing |= judge.quantity("full_charge", day)[1]
    if False in answers:
        return False, set()
    return (None, missing) if missing or not answers else (True, set())


def organisation_exceedances(judges, limit, sites, on):
    """Sums of the whole organisation at each end of the period, up to a day."""
    found = Found()
    rules = judges[0].rules
    months, starts = period_of(limit, rules)
    days = [event.day for judge in judges for event in judge.appliance.events]
    if not days:
        return found
    end = end_of_period(min(days), months, 0, starts)
    while end <= on:
        begin = start_of_period(end, months, starts)
        parts = {}
        for judge, site in zip(judges, sites):
            tonnes = tonnes_lost(judge, begin, end, found.missing)
            parts[site] = parts.get(site, Fraction(0)) + tonnes
        total = sum(parts.values())
        if in_force(limit, end) and passes(judges[0], limit, total, end)[0] is True:
            each = judges[0].value(limit["lists"]["at_least"], end)[0] if "lists" in limit else None
            lists = None if each is None else sorted(
                site for site, tonnes in parts.items() if tonnes >= each)
            found.exceedances.append(Exceedance(
                limit["name"], Moment(end, None), -1, total, True, None, end, lists))
        end = end_of_period(end + timedelta(days=1), months, 0, starts)
    return found


def tonnes_lost(judge, begin, end, missing):
    """Charged at service less recovered at service, in tonnes of CO2 equivalent."""
    total = Fraction(0)
    for event in judge.appliance.events:
        at_service = event.words.get("reason") not in (
            "installation", "after_retrofit", "disposal", "retrofit")
        moved = event.kind in CHARGES or event.kind == "recover"
        if not (moved and at_service and begin <= event.day <= end):
            continue
        covered, lacking = judge.covered(event.day)
        if covered is not True:
            missing |= lacking
            continue
        value, lacking = judge.quantity("gwp", event.day)
        missing |= lacking
        if value is not None:
            total += (event.mass if event.kind in CHARGES else -event.mass) * value / 1000
    return total
