"""When a duty is due: its lines, extensions and pauses, worked out anew each time it is asked.

A duty uses the rows of the day on which it started; a cadence, and what follows from being covered,
the facts of the day asked. Words of the case (a process shut down, an appliance emptied) count from
the newest event that says them. Of the lines that apply the earliest binds; an extension can only
move that later, and a pause moves it by its days.
"""
from dataclasses import dataclass, field
from datetime import date

from .times import (Moment, add, earliest, end_of_period, latest, next_month_day, whole_day)

CASE_WORDS = ("process_shutdown", "evacuated", "ghg_reporter")
YEAR_PARTS = {"quarter_end": 3, "half_year_end": 6, "year_end": 12}


@dataclass
class Pause:
    """From being mothballed until refrigerant is put back; open while `over` is None."""
    begun: date
    over: date | None = None
    place: float = float("inf")     # Of the charge that ended it.


@dataclass(eq=False)
class Case:
    """What one start opened, and all that followed from it."""
    root: Moment
    visit: str | None
    period_end: date | None = None
    duties: list = field(default_factory=list)


@dataclass(eq=False)
class Owed:
    """One duty owed: when it began, what was done, how it ended."""
    duty: dict
    case: Case
    since: Moment
    before: object = None           # The duty that this one followed from.
    follows: bool = False           # Began by another being done or missed.
    visit: str | None = None
    closed: str | None = None       # done, lifted, ended, lapsed
    closed_on: date | None = None
    late: bool = False
    due: object = None              # As it stood when the duty was done.
    last: Moment | None = None
    too_early: date | None = None
    taken: list = field(default_factory=list)   # Extensions: (block, event).
    reopened_on: date | None = None
    missed_as: object = None
    unknown: frozenset = frozenset()
    asked: date | None = None       # Set where a duty follows from being covered on that day.

    @property
    def name(self):
        return self.duty["name"]

    @property
    def repeats(self):
        return bool(self.duty.get("repeats"))


@dataclass
class Due:
    """An answer: a deadline, or why there is none."""
    deadline: object = None
    reference: date | None = None   # From where pauses count.
    waiting: str | None = None
    applies: bool = False
    missing: frozenset = frozenset()
    paused_left: int | None = None


class Clock:
    """Works out deadlines for one appliance from what has happened so far."""

    def __init__(self, judge, zone):
        self.judge, self.rules, self.zone = judge, judge.rules, zone
        self.happened, self.touched, self.worked_out = [], set(), {}
        self.pauses = []            # Of each: day mothballed, day and place of what ended it.

    def said(self, case):
        """Words that events of the case carry, the newest first."""
        words = {}
        for event in self.happened:
            if of_case(event, case):
                words.update({w: event.words[w] for w in CASE_WORDS if w in event.words})
        return words

    def lines(self, owed, lines, facts_on, rows_on, extension=None):
        """Due of the lines of which the earliest binds."""
        found, result = [], Due()
        said = self.said(owed.case)
        for line in lines:
            holds, missing = self.judge.test(line.get("when", {}), facts_on, said, rows_on)
            if holds is None:
                result.missing |= missing
            if holds is not True:
                continue
            result.applies = True
            day = self.one_line(owed, line, facts_on, rows_on, extension, result)
            if day is not None:
                found.append(day)
        if found:
            result.deadline = earliest([day for day, _ in found], self.zone)
            result.reference = next(ref for day, ref in found if day == result.deadline)
            result.waiting = None
        return result

    def one_line(self, owed, line, facts_on, rows_on, extension, result):
        """(deadline, day its anchor stands on), or None with the reason noted in `result`."""
        if "granted" in line:
            until = extension.words.get("until")
            if until is None:
                result.waiting = result.waiting or "granted"
                return None
            return date.fromisoformat(until), owed.since.day
        name = line.get("within") or line.get("by") or line.get("on")
        value, missing = self.judge.value(name, rows_on, facts_on)
        if value is None:
            result.missing |= missing
            return None
        if "on" in line:
            return date.fromisoformat(value), owed.since.day
        word = line.get("after", "start")
        anchor = self.anchor(owed, word, extension)
        if anchor is None:
            result.waiting = result.waiting or word
            return None
        if "by" in line:
            return next_month_day(anchor.day, value), max(anchor.day, owed.since.day)
        from_start = word == "start" or (word == "last" and owed.last is None)
        deadline = add(self.rules.values[name].unit, int(value), anchor, self.zone,
                       self.rules.month_end, from_start)
        return deadline, max(anchor.day, owed.since.day)

    def anchor(self, owed, word, extension):
        if word == "start":
            return owed.since
        if word == "root":
            return owed.case.root
        if word == "previous_start":
            return owed.before.since if owed.before else None
        if word == "last":
            return owed.last or owed.since
        if word == "delivered":
            text = extension.words.get("delivered_on") if extension else None
            return Moment(date.fromisoformat(text), None) if text else None
        if word == "last_extension":
            return max((event.moment for _, event in owed.taken if event is not extension),
                       key=lambda moment: moment.day, default=None)
        if word == "installed":
            text = self.judge.fact("installed", owed.since.day)
            return Moment(date.fromisoformat(text), None) if text else None
        if word == "period_end":
            end = owed.case.period_end or end_of_period(owed.since.day, 12)
            return Moment(end, None)
        if word in YEAR_PARTS:
            return Moment(end_of_period(owed.since.day, YEAR_PARTS[word]), None)
        events = [e for e in self.happened if e.kind == word and of_case(e, owed.case)]
        return events[-1].moment if events else None

    def days_of(self, owed, day):
        """(day whose facts count, day whose rows count)."""
        if owed.repeats:
            return (day, day)
        return (owed.asked or owed.since.day, owed.since.day)

    def due(self, owed, day):
        """The deadline as it stands on a day; only that of a cadence depends on the day."""
        if owed.repeats or owed.asked:
            return self.work_out(owed, day)
        key = (owed, len(self.happened), len(owed.taken))
        if key not in self.worked_out:
            self.worked_out[key] = self.work_out(owed, day)
        return self.worked_out[key]

    def work_out(self, owed, day):
        """The earliest line, then extensions and pauses."""
        if "no_number" in owed.duty:
            return Due(applies=True, missing=owed.unknown)
        facts_on, rows_on = self.days_of(owed, day)
        result = self.lines(owed, owed.duty.get("due", ()), facts_on, rows_on)
        result.missing |= owed.unknown
        if result.deadline is None:
            return result
        moves = [(event.place, self.extend, (block, event)) for block, event in owed.taken]
        if "mothball" in owed.duty.get("paused_by", ()):
            moves += [(pause.place, self.pause, (pause,)) for pause in self.pauses]
        for _, move, words in sorted(moves, key=lambda one: one[0]):
            move(result, owed, facts_on, rows_on, *words)
        return result

    def extend(self, result, owed, facts_on, rows_on, block, event):
        """An extension can only move the deadline that stands when it is taken to a later day."""
        moved = self.lines(owed, block["due"], facts_on, rows_on, event)
        if moved.deadline is not None:
            result.deadline = latest([result.deadline, moved.deadline], self.zone)

    def pause(self, result, owed, _facts_on, _rows_on, pause):
        """Moves the deadline by the days of a pause that began before it had passed."""
        begin = max(pause.begun, result.reference)
        if (pause.over is not None and pause.over <= begin) or \
                whole_day(result.deadline) < begin:
            return
        if owed.repeats:
            self.touched.add("pause-of-cadence")
        if pause.over is None:
            result.paused_left = (whole_day(result.deadline) - begin).days
        else:
            result.deadline = result.deadline + (pause.over - begin)

    def not_before(self, owed, day):
        """The earliest moment from which an act counts, or None."""
        facts_on, rows_on = self.days_of(owed, day)
        return self.lines(owed, owed.duty.get("not_before", ()), facts_on, rows_on).deadline

    def takes(self, owed, block, event):
        """Whether an extension was asked for in time."""
        asked = self.lines(owed, block.get("ask_by", ()), *self.days_of(owed, event.day), event)
        if "ask_by" not in block:
            due = self.due(owed, event.day)
            late = due.deadline is not None and event.day > whole_day(due.deadline)
            if late and due.paused_left is None:
                self.touched.add("asked-after-due")
                return False
            return True
        if asked.waiting:
            self.touched.add("no-first-extension")
        return asked.deadline is not None and event.day <= whole_day(asked.deadline)


def of_case(event, case):
    """Events from the day on which the case began, and of the visit that opened it."""
    return event.day >= case.root.day or (case.visit is not None and event.visit == case.visit)
