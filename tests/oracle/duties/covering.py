"""Duties that follow from being covered, worked out for the day asked.

They begin with the first day of the unbroken coverage, with the installation or with the duty
itself, whichever is last; a cadence counts from the last good act since. Where the day of
installation is not known and nothing was done yet, the day cannot be told.
"""
from datetime import date

from .deadlines import Case, Owed
from .rulebook import in_force
from .times import Moment, is_after, is_before


def covered_duties(walk, on):
    """(duties owed, facts missing) of the duties that start by `covered`."""
    judge, result, missing = walk.judge, [], set()
    if judge.covered(on)[0] is not True:
        return result, missing
    for duty in walk.duties:
        if not any("covered" in start for start in duty["starts"]) or not in_force(duty, on):
            continue
        holds, lacking = judge.test(duty.get("when", {}), on)
        if holds is False:
            continue
        owed = begin(judge, duty, on, frozenset() if holds else lacking)
        if owed is None:
            continue
        acts(walk, owed)
        walk.touched |= open_readings(walk, owed, on)
        if judge.fact("installed", on) is None and owed.last is None and owed.closed is None:
            owed.unknown |= {"installed"}
        if owed.closed is None:
            due = walk.clock.due(owed, on)
            if due.applies or "no_number" in duty or due.missing - owed.unknown:
                missing |= due.missing
        result.append(owed)
    return result, missing


def open_readings(walk, owed, on):
    """Which open readings the duty rests on."""
    judge, since = walk.judge, owed.since.day
    found = {"installed-unknown"} if judge.fact("installed", on) is None else set()
    events = judge.appliance.events
    if any(event.kind == "retire" for event in events):
        found.add("retired")
    if judge.test(owed.duty.get("when", {}), since)[0] is not True:
        found.add("when-later")
    if any(event.day < since and walk.fits(owed, event, pattern)
           for event in events for pattern in owed.duty.get("done_by", ())):
        found.add("act-before")
    return found


def begin(judge, duty, on, unknown):
    """The duty with its first day, or None where that is still to come."""
    installed = judge.fact("installed", on)
    days = [judge.covered_since(on)]
    if installed is not None:
        days.append(date.fromisoformat(installed))
    if "from" in duty:
        days.append(date.fromisoformat(duty["from"]))
    since = Moment(max(days), None)
    if since.day > on:
        return None
    return Owed(duty, Case(since, None), since, unknown=unknown, asked=on)


def acts(walk, owed):
    """What was done since: the last good act of a cadence, the first of another duty."""
    for event in walk.judge.appliance.events:
        if event.day < owed.since.day or owed.closed is not None:
            continue
        if not any(walk.fits(owed, event, pattern) for pattern in owed.duty.get("done_by", ())):
            continue
        early = walk.clock.not_before(owed, event.day)
        if early is not None and is_before(event.moment, early, walk.zone):
            owed.too_early = event.day
        elif owed.repeats:
            owed.last = event.moment
        else:
            owed.due = walk.clock.due(owed, event.day)
            owed.late = owed.due.deadline is not None and is_after(event.moment, owed.due.deadline)
            owed.closed, owed.closed_on = "done", event.day
