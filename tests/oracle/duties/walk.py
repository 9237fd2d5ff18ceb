"""Walking the days of one appliance: what opens, is done, is missed, opens again, ends.

Each day begins with what was missed before it and what has ended; then come its events, each with
what passed a limit at its place: duties start, then are fulfilled, opened again, lifted, extended.
Ends of periods come last.
"""
from datetime import date, datetime, timedelta
from fractions import Fraction

from .deadlines import CASE_WORDS, Case, Clock, Owed, Pause
from .history import CHARGES, matches
from .rulebook import in_force
from .times import SINGLE, Moment, add, end_of_period, is_after, is_before, whole_day

DAY = timedelta(days=1)


class Walk:
    """The follow-ups of one appliance (or of the organisation) under one set."""

    def __init__(self, judge, exceedances, zone, on, subject="appliance"):
        self.judge, self.zone, self.on = judge, zone, on
        self.exceedances = exceedances
        self.clock = Clock(judge, zone)
        self.duties = [duty for duty in judge.rules.duties
                       if duty.get("subject", "appliance") == subject]
        self.period_words = {start["period_end"] for duty in self.duties
                             for start in duty["starts"] if "period_end" in start}
        self.owed, self.passed, self.touched = [], {}, self.clock.touched

    def run(self):
        events = self.judge.appliance.events
        days = [event.day for event in events] + [one.day for one in self.exceedances]
        of_day = {}
        for event in events:
            of_day.setdefault(event.day, []).append(event)
        start = min(days + self.first_period_day(), default=self.on)
        day = start
        while day <= self.on:
            self.morning(day)
            for event in of_day.get(day, ()):
                self.happens(event)
                for one in [one for one in self.exceedances if one.place == event.place]:
                    self.exceeds(one)
            for one in [one for one in self.exceedances if one.place == -1 and one.day == day]:
                self.exceeds(one)
            self.period_ends(day)
            day += DAY
        self.morning(self.on)
        return self.owed

    def first_period_day(self):
        """Where to begin when duties start with the ends of periods."""
        if not self.period_words:
            return []
        if self.judge.covered(self.on)[0] is not True:
            return self.judge.changes()[:1]
        installed = self.judge.fact("installed", self.on)
        first = min(self.judge.changes()[0], self.on)
        return [max(first, date.fromisoformat(installed)) if installed else first]

    # ------------------------------------------------------------------ mornings
    def morning(self, day):
        found = True
        while found:
            found = False
            for owed in [one for one in self.owed if one.closed is None and not one.repeats]:
                found = self.miss(owed, day) or found
        for owed in [one for one in self.owed if one.closed is None and one.repeats]:
            self.end_if_quiet(owed, day)
        if any(one.closed is None for one in self.owed) and self.judge.lapses(day):
            self.touched.add("lapse")
            for owed in [one for one in self.owed if one.closed is None]:
                owed.closed, owed.closed_on = "lapsed", day

    def miss(self, owed, day):
        due = self.clock.due(owed, day)
        if due.deadline is None or due.missing or due.paused_left is not None:
            return False
        due_day = whole_day(due.deadline)
        if due_day >= day or owed.missed_as == (due_day, owed.reopened_on):
            return False
        if owed.missed_as is not None:
            self.touched.add("missed-again")
        owed.missed_as = (due_day, owed.reopened_on)
        moment = Moment(max(due_day, owed.reopened_on or due_day), None)
        self.follow("missed", owed, moment, None)
        return True

    def end_if_quiet(self, owed, day):
        for block in owed.duty.get("ends_after", ()):
            name = block["within"]
            value, _ = self.judge.value(name, day)
            last = self.passed.get(block["quiet"], owed.since)
            end = add(self.judge.rules.values[name].unit, int(value), last, self.zone,
                      self.judge.rules.month_end)
            if whole_day(end) >= day:
                continue
            if any(pause.begun <= whole_day(end) and (pause.over or day) > last.day
                   for pause in self.clock.pauses):
                self.touched.add("quiet-in-pause")
            said = self.clock.said(owed.case)
            if self.judge.test(block.get("when", {}), day, said)[0] is True:
                owed.closed, owed.closed_on = "ended", whole_day(end)
                return

    # ------------------------------------------------------------------ events
    def happens(self, event):
        self.clock.happened.append(event)
        self.note(event)
        pauses = self.clock.pauses
        if event.kind == "mothball" and not (pauses and pauses[-1].over is None):
            pauses.append(Pause(event.day))
        if event.kind in CHARGES and pauses and pauses[-1].over is None:
            pauses[-1].over, pauses[-1].place = event.day, event.place
        self.start_by(lambda start: "event" in start and matches(event, start),
                      event.moment, event.visit, None, True)
        for owed in self.answered(event):
            self.fulfil(owed, event)
        self.reopen(event)
        for owed in [one for one in self.owed if one.closed is None]:
            if any(matches(event, pattern) for pattern in owed.duty.get("lifted_by", ())):
                owed.closed, owed.closed_on = "lifted", event.day
        if event.kind == "extension":
            for owed in [one for one in self.owed if one.closed is None]:
                self.extend(owed, event)

    def answered(self, event):
        """Open duties an event may fulfil: of a notice, those of each name that are due first."""
        still_open = [one for one in self.owed if one.closed is None]
        if event.kind != "notice":
            return still_open
        due = {id(one): self.clock.due(one, event.day).deadline for one in still_open}
        days = {key: whole_day(deadline) for key, deadline in due.items() if deadline is not None}
        first = {}
        for one in still_open:
            if id(one) in days:
                first[one.name] = min(days[id(one)], first.get(one.name, days[id(one)]))
        return [one for one in still_open
                if id(one) not in days or days[id(one)] == first[one.name]]

    def note(self, event):
        """Which open readings an event may rest on."""
        still_open = [one for one in self.owed if one.closed is None]
        if any(word in event.words for word in CASE_WORDS) and \
                any(one.missed_as for one in still_open):
            self.touched.add("words-after-miss")
        if any(word in event.words for word in CASE_WORDS) and \
                any(one.closed == "done" for one in self.owed):
            self.touched.add("words-after-done")
        if event.kind == "back_in_operation" and self.clock.pauses and \
                self.clock.pauses[-1].over is None:
            self.touched.add("pause-ends")
        for word in ("done_by", "lifted_by"):
            cases = {id(one.case) for one in still_open if any(
                matches(event, pattern) for pattern in one.duty.get(word, ()))}
            if len(cases) > 1:
                self.touched.add("all-cases")

    def exceeds(self, one):
        if not one.begins and one.period_end is None:
            self.touched.add("later-step")
        if one.begins:
            self.start_by(lambda start: start.get("limit") == one.limit,
                          one.moment, one.visit, one.period_end, False)
        self.passed[one.limit] = one.moment

    def period_ends(self, day):
        for word in self.period_words:
            starts = self.judge.rules.year_starts if word == "fiscal_year" else None
            if day != end_of_period(day, SINGLE[word], 0, starts):
                continue
            installed = self.judge.fact("installed", day)
            if installed is not None and installed > day.isoformat():
                continue
            self.start_by(lambda start, word=word: start.get("period_end") == word,
                          Moment(day, None), None, day, True)

    # ------------------------------------------------------------------ starts
    def start_by(self, wanted, moment, visit, period_end, needs_cover):
        """Starts what an event, a limit or a period starts, judged on what stood before it."""
        new_case, planned = Case(moment, visit, period_end), []
        for duty in self.duties:
            for start in duty["starts"]:
                if wanted(start):
                    cases = self.cases_of(start, new_case, moment.day, needs_cover)
                    planned += [(duty, start, case) for case in cases]
        for duty, start, case in planned:
            self.start(duty, start, case, moment, visit, None, False)

    def cases_of(self, start, new_case, day, needs_cover):
        """The new case, or every open case that a start with `while_open` joins."""
        if "unless_open" in start and self.open_named(start["unless_open"]):
            return []
        if "while_open" in start:
            joined = self.open_named(start["while_open"])
            cases = [owed.case for owed in joined]
            if "limit" in start and cases:
                self.touched.add("joined-by-limit")
            if any(needless(self.judge, owed, day) for owed in joined):
                self.touched.add("not-needed-open")
        elif needs_cover and self.judge.covered(day)[0] is not True:
            return []
        else:
            cases = [new_case]
        if "after_done" in start:
            verified = [one.case for one in self.owed
                        if one.name == start["after_done"] and one.closed == "done"]
            if verified and any(case not in verified for case in cases):
                self.touched.add("after-done-scope")
            cases = [case for case in cases if case in verified]
        return cases

    def open_named(self, name):
        return [one for one in self.owed if one.name == name and one.closed is None]

    def follow(self, word, owed, moment, visit):
        """What starts because a duty was done or missed; it belongs to the same case."""
        for duty in self.duties:
            for start in duty["starts"]:
                if start.get(word) == owed.name and \
                        self.cases_of(start, owed.case, moment.day, False):
                    self.start(duty, start, owed.case, moment, visit, owed, True)

    def start(self, duty, start, case, moment, visit, before, follows):
        if not in_force(duty, moment.day) or self.already(duty, case):
            return
        said = self.clock.said(case)
        answers = [self.judge.test(block.get("when", {}), moment.day, said)
                   for block in (duty, start)]
        if any(answer is False for answer, _ in answers):
            return
        missing = frozenset().union(*(names for answer, names in answers if answer is None))
        if self.open_named(duty["name"]):
            self.touched.add("second-case")
        if any(one.name == duty["name"] and one.since.day == moment.day for one in self.owed):
            self.touched.add("starts-of-one-day")
        owed = Owed(duty, case, moment, before, follows, visit, unknown=missing)
        case.duties.append(owed)
        self.owed.append(owed)
        for event in list(self.clock.happened):
            if event.day == moment.day or (visit is not None and event.visit == visit):
                self.fulfil(owed, event)
                if any(matches(event, pattern) for pattern in duty.get("lifted_by", ())):
                    self.touched.add("lifted-before")
                if (owed.closed or owed.too_early) and "limit" not in start:
                    self.touched.add("work-before")
                if owed.closed and event.day != moment.day:
                    self.touched.add("visit-on-another-day")

    def already(self, duty, case):
        same = [one for one in self.owed if one.name == duty["name"]]
        if duty.get("once") and same:
            return True
        if duty.get("repeats") and any(one.closed is None for one in same):
            return True
        return any(one.case is case and one.closed in (None, "done") for one in same)

    # ------------------------------------------------------------------ what ends and reopens
    def fulfil(self, owed, event):
        if owed.closed is not None:
            return
        if not any(self.fits(owed, event, pattern) for pattern in owed.duty.get("done_by", ())):
            return
        early = self.clock.not_before(owed, event.day)
        if early is not None and is_before(event.moment, early, self.zone):
            owed.too_early = event.day
            if event.moment.instant is None and event.day == whole_day(early):
                self.touched.add("date-only")
            return
        if owed.repeats:
            owed.last = event.moment
            return
        owed.due = self.clock.due(owed, event.day)
        owed.late = owed.due.deadline is not None and owed.due.paused_left is None \
            and is_after(event.moment, owed.due.deadline)
        if isinstance(owed.due.deadline, datetime) and event.day == whole_day(owed.due.deadline):
            self.touched.add("hours-of-day")
        owed.closed, owed.closed_on = "done", event.day
        self.follow("done", owed, event.moment, event.visit)

    def fits(self, owed, event, pattern):
        """Kind and words, the extension it needs, the running hours it must reach."""
        if not matches(event, pattern):
            return False
        if "under" in pattern and not any(block["ground"] == pattern["under"]
                                          for block, _ in owed.taken):
            return False
        if "min_run_hours" in pattern and "run_hours" in event.words:
            least, _ = self.judge.value(pattern["min_run_hours"], owed.since.day)
            return Fraction(event.words["run_hours"]) >= least
        return True

    def reopen(self, event):
        """Only in a case in which the event means something to a duty that is open."""
        cases = [one.case for one in self.owed if one.closed is None and any(
            matches(event, pattern) for word in ("done_by", "lifted_by", "reopened_by")
            for pattern in one.duty.get(word, ()))]
        for owed in [one for one in self.owed if one.closed == "done"]:
            if any(matches(event, pattern) for pattern in owed.duty.get("reopened_by", ())):
                if owed.case not in cases:
                    self.touched.add("reopen-scope")
                    continue
                owed.closed, owed.closed_on, owed.late = None, None, False
                owed.reopened_on = event.day

    def extend(self, owed, event):
        source = owed.duty
        if "extensions_of" in source:
            source = self.judge.rules.duty(source["extensions_of"])
        for block in source.get("extensions", ()):
            if block["ground"] == event.words.get("ground") and in_force(block, owed.since.day) \
                    and self.clock.takes(owed, block, event):
                if owed.missed_as:
                    self.touched.add("extended-after-miss")
                if any(known["ground"] == block["ground"] for known, _ in owed.taken):
                    self.touched.add("extended-twice")
                owed.taken.append((block, event))


def needless(judge, owed, day):
    """Whether something stands in for the duty meanwhile."""
    return any(judge.test(block, day)[0] is True for block in owed.duty.get("not_while", ()))

