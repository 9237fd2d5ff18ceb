"""What one set says of the appliances of a situation on the day asked, in the words of a situation.

It puts together coverage, band, what is missing, gaps in records, additions, exceedances and every
duty with its state. Whether a duty was due before anybody knew is found by evaluating the same
history as it was known after each day on which something was booked.
"""
from datetime import date

from . import additions as adding
from . import limits as limiting
from .covering import covered_duties
from .history import Appliance, appliances_of, booking_days, zone_of
from .judging import Judge
from .records import gaps_of
from .rulebook import RuleSet
from .times import whole_day
from .walk import Walk, needless

ANSWERS = {True: "yes", False: "no", None: "cannot_judge"}


class Situation:
    """One situation under one set, as known by a day."""

    def __init__(self, raw, rules, on, known_by):
        self.raw, self.rules, self.on = raw, rules, on
        self.zone = zone_of(raw)
        self.appliances = appliances_of(raw, on, known_by)
        self.judges = [Judge(rules, appliance) for appliance in self.appliances]
        self.steps, self.found, self.walks = {}, {}, {}
        for judge in self.judges:
            name = judge.appliance.name
            steps = adding.additions_of(judge, raw.get("netting"))
            self.steps[name] = steps
            self.found[name] = limiting.exceedances_of(judge, steps, self.method)
            self.walks[name] = Walk(judge, self.found[name].exceedances, self.zone, on)
            self.walks[name].run()
        self.organisation = self.walk_organisation()

    def method(self, day):
        method = self.raw.get("method", "annualising")
        if isinstance(method, str):
            return method
        begun = [row for row in method if row["from"] <= day.isoformat()]
        return max(begun, key=lambda row: row["from"])["is"] if begun else "annualising"

    def walk_organisation(self):
        """(found, walk) of sums over all appliances; None where the set has none."""
        limits = [one for one in self.rules.limits if one.get("subject") == "organisation"]
        if not limits:
            return None
        sites = [appliance.site for appliance in self.appliances]
        found = limiting.Found()
        for limit in limits:
            part = limiting.organisation_exceedances(self.judges, limit, sites, self.on)
            found.exceedances += part.exceedances
            found.missing |= part.missing
        events = sorted((event for one in self.appliances for event in one.events),
                        key=lambda event: event.order())
        judge = Judge(self.rules, Appliance("organisation", "", {}, events))
        walk = Walk(judge, found.exceedances, self.zone, self.on, "organisation")
        walk.run()
        return found, walk

    def all_owed(self):
        """(where, walk, duty) of everything that was opened."""
        walks = list(self.walks.items())
        if self.organisation:
            walks.append(("organisation", self.organisation[1]))
        return [(name, walk, owed) for name, walk in walks for owed in walk.owed]

    def touched(self):
        """The open readings on which this evaluation rests."""
        walks = list(self.walks.values()) + ([self.organisation[1]] if self.organisation else [])
        found = set().union(*(walk.touched for walk in walks))
        for judge in self.judges:
            found |= adding.open_readings(self.steps[judge.appliance.name],
                                          judge.appliance.events)
            if self.found[judge.appliance.name].missing - judge.covered(self.on)[1]:
                found.add("unknown-day")
            gaps = {gap["event"] for gap in gaps_of(judge)}
            if any(e.corrected and e.number in gaps for e in judge.appliance.events):
                found.add("gap-of-corrected")
            if any(isinstance(fact, list) for fact in judge.appliance.facts.values()):
                found.add("facts-of-start")
        return found


def rules_for(situation, name, tables):
    """The set with the situation's layers laid over it."""
    rules = RuleSet(tables[name])
    for layer in situation.get("overlays", ()):
        if layer["overlays"] == name:
            rules.lay_over(layer)
    return rules


def evaluate(raw, name, tables, touched=None):
    """Outcomes by appliance name, with `organisation` where the set sums over it.

    `touched` collects the names of the open readings on which they rest.
    """
    rules = rules_for(raw, name, tables)
    on = date.fromisoformat(raw["on"])
    situation = Situation(raw, rules, on, on)
    late = late_on_discovery(situation)
    result = {}
    for judge in situation.judges:
        result[judge.appliance.name] = outcome_of(situation, judge, late)
    if situation.organisation:
        found, walk = situation.organisation
        rows, _ = rows_of(walk, on, late)
        result["organisation"] = {
            "exceedances": [written(one) for one in found.exceedances],
            "duties": rows}
    if touched is not None:
        touched |= situation.touched() | ({"late"} if late else set())
        if any(row["state"] == "cannot_judge" for one in result.values() for row in one["duties"]):
            touched.add("unknown-duty")
    return result


def outcome_of(situation, judge, late):
    on, name = situation.on, judge.appliance.name
    applies, missing = judge.covered(on)
    missing = set(missing) | situation.found[name].missing
    result = {"applies": ANSWERS[applies]}
    if applies is True and situation.rules.table.get("bands"):
        result["band"], lacking = judge.band(on)
        missing |= lacking
    rows, lacking = rows_of(situation.walks[name], on, late)
    missing |= lacking
    more, lacking = covered_duties(situation.walks[name], on)
    for owed in more:
        rows.append(row_of(situation.walks[name], owed, on, late))
    missing |= lacking
    result["missing"] = sorted(missing)
    result["gaps"] = gaps_of(judge)
    shown = situation.steps[name] if situation.rules.leak_rate else []
    result["additions"] = [addition(step) for step in shown]
    result["exceedances"] = [written(one) for one in situation.found[name].exceedances]
    result["duties"] = [row for row in rows if row is not None]
    return result


def addition(step):
    item = {"on": step.day.isoformat()}
    if step.days is not None:
        item["days"] = step.days
    if step.annualised is not None:
        item |= {"annualised": str(step.annualised), "rolling": str(step.rolling)}
    return item


def written(one):
    item = {"limit": one.limit, "on": one.day.isoformat(), "value": str(one.value)}
    return item if one.lists is None else item | {"lists": one.lists}


# ---------------------------------------------------------------------- duties as rows
def rows_of(walk, on, late):
    """Rows of what a walk opened, and the facts that were missing for them."""
    rows = [row_of(walk, owed, on, late) for owed in walk.owed]
    missing = set()
    for owed, row in zip(walk.owed, rows):
        if row is not None and row["state"] == "cannot_judge":
            missing |= walk.clock.due(owed, on).missing
    return [row for row in rows if row is not None], missing


def row_of(walk, owed, on, late):
    """One duty in words, or None where no line applies: not owed."""
    row = {"duty": owed.name}
    if owed.since.day != date.max:
        row["since"] = owed.since.day.isoformat()
    if owed.last is not None:
        row["last"] = owed.last.day.isoformat()
    if owed.closed is not None:
        return closed_row(walk, owed, row, late)
    due = walk.clock.due(owed, on)
    if due.missing:
        return row | {"state": "cannot_judge"}
    if not due.applies:
        return None
    if needless(walk.judge, owed, on):
        return row | {"state": "not_needed"}
    if "no_number" in owed.duty:
        return row | {"state": "no_date", "age": (on - owed.since.day).days}
    early = walk.clock.not_before(owed, on)
    if early is not None:
        row["not_before"] = early.isoformat()
    if owed.too_early is not None:
        row["too_early"] = owed.too_early.isoformat()
    if due.paused_left is not None:
        return row | {"state": "paused", "left": due.paused_left}
    if due.deadline is None:
        return row | {"state": "waiting", "for": due.waiting}
    state = "overdue" if whole_day(due.deadline) < on else "open"
    row |= {"due": due.deadline.isoformat(), "state": state}
    if not owed.repeats:
        row["late_on_discovery"] = owed in late
    return row


def closed_row(walk, owed, row, late):
    row["on"] = owed.closed_on.isoformat()
    if owed.closed != "done":
        return row | {"state": owed.closed}
    if "no_number" not in owed.duty and not owed.due.applies and not owed.due.missing:
        return None
    row["state"] = "done_late" if owed.late else "done"
    if owed.due.deadline is not None and owed.due.paused_left is None:
        row["due"] = owed.due.deadline.isoformat()
        row["late_on_discovery"] = owed in late
    return row


# ---------------------------------------------------------------------- what nobody knew in time
def late_on_discovery(situation):
    """The duties that were due before anybody knew of them, and what followed from those.

    What stands without any entry, or was known on the day it began, is not late.
    """
    raw, on = situation.raw, situation.on
    days = booking_days(raw, on)
    if not days:
        return set()
    days = [date.min] + days
    known = [(day, keys_of(Situation(raw, situation.rules, on, day))) for day in days]
    late = set()
    for name, walk, owed in situation.all_owed():
        if owed.repeats:
            continue
        key = key_of(name, walk, owed)
        since_known = None
        for day, keys in reversed(known):
            if key not in keys:
                break
            since_known = day
        due = owed.due if owed.closed == "done" else walk.clock.due(owed, on)
        before = due.deadline is not None and since_known is not None \
            and max(whole_day(due.deadline), owed.since.day) < since_known
        if before or (owed.follows and owed.before in late):
            late.add(owed)
    return late


def keys_of(situation):
    return {key_of(name, walk, owed) for name, walk, owed in situation.all_owed()}


def key_of(name, walk, owed):
    """The same duty of the same start, the how-manieth of its like."""
    same = [one for one in walk.owed if one.name == owed.name and one.since.day == owed.since.day]
    return (name, owed.name, owed.since.day, same.index(owed))

