"""One random history: a calendar that moves forward, events, late bookings, corrections.

Days between events are drawn near the numbers on which deadlines turn (0, 1, 9 to 11, 29 to 31 and
so on), masses in hundredths of a unit and near the limits. Times of day stay between 06:00 and
20:00, so that no clock change falls on them.
"""
from datetime import date, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

GAPS = (0, 0, 1, 1, 2, 3, 5, 7, 8, 9, 10, 11, 13, 14, 15, 20, 28, 29, 30, 31, 32, 40, 45, 46, 60,
        73, 90, 92, 119, 121, 150, 180, 182, 200, 240, 300, 364, 365, 366, 400)
SHORT = (0, 0, 1, 1, 2, 5, 8, 9, 10, 11, 12, 14, 20, 29, 30, 31)


class Story:
    """Collects the events of one appliance."""

    def __init__(self, chance, start, zone, last):
        self.chance, self.day, self.zone, self.last = chance, start, ZoneInfo(zone), last
        self.events, self.visit, self.visits = [], None, 0
        self.timed = chance.random() < 0.35

    def wait(self, gaps=GAPS):
        self.day += timedelta(days=self.chance.choice(gaps))
        return self

    def over(self):
        return self.day > self.last

    def maybe(self, share):
        return self.chance.random() < share

    def pick(self, *words):
        return self.chance.choice(words)

    def add(self, kind, **words):
        """One event on the day of the story; words that are None are left out."""
        event = {"kind": kind, "at": self.written_time()}
        event.update({word: value for word, value in words.items() if value is not None})
        if self.visit:
            event["visit"] = self.visit
        self.events.append((self.day, event))
        return event

    def written_time(self):
        if not self.timed or self.maybe(0.4):
            return self.day.isoformat()
        stamp = datetime(self.day.year, self.day.month, self.day.day, self.chance.randint(6, 19),
                         self.chance.choice((0, 15, 30, 45)))
        if self.maybe(0.3):
            there = stamp.replace(tzinfo=self.zone).astimezone(timezone.utc)
            return there.strftime("%Y-%m-%dT%H:%M:%SZ")
        return stamp.strftime("%Y-%m-%dT%H:%M")

    def in_visit(self):
        self.visits += 1
        self.visit = f"V{self.visits}"
        return self

    def leave(self):
        self.visit = None
        return self

    def after(self, days):
        """A day so many days from the story's."""
        return (self.day + timedelta(days=days)).isoformat()

    def finish(self, on):
        """The events with numbers in order of booking, some booked late, some corrected."""
        booked = []
        for day, event in self.events:
            late = self.chance.choice((1, 5, 12, 30, 45, 90)) if self.maybe(0.06) else 0
            when = day + timedelta(days=late)
            if late:
                event["booked"] = when.isoformat()
            booked.append((when, event))
        booked += self.corrections(booked, on)
        booked.sort(key=lambda one: one[0])
        known = {}
        for number, (_, event) in enumerate(booked, 1):
            event["n"] = number
            known[id(event)] = number
        for _, event in booked:
            if "reverses" in event:
                event["reverses"] = known[event["reverses"]]
        return [event for _, event in booked]

    def corrections(self, booked, on):
        result = []
        for when, event in booked:
            if not self.maybe(0.07):
                continue
            day = when + timedelta(days=self.chance.choice((0, 1, 3, 10, 30, 45, 70)))
            if day > on:
                continue
            correction = {"kind": "correction", "at": day.isoformat(), "booked": day.isoformat(),
                          "reverses": id(event)}
            if self.maybe(0.75):
                correction["replacement"] = self.replacement(event)
            result.append((day, correction))
        return result

    def replacement(self, event):
        if "mass" in event and self.maybe(0.8):
            number, unit = event["mass"].split()
            factor = self.chance.choice((0.1, 0.5, 2, 3))
            return {"mass": f"{plain(float(number) * factor + 0.01)} {unit}"}
        day = date.fromisoformat(event["at"][:10]) - timedelta(days=self.chance.choice((0, 1, 4)))
        return {"at": day.isoformat()}


def dated(chance, first, later, start, days):
    """A fact that changes once, so many days after the start."""
    day = start + timedelta(days=chance.choice(days))
    return [{"from": "2000-01-01", "is": first}, {"from": day.isoformat(), "is": later}]


def mass(chance, full, unit, shares=(0.1, 1, 3, 5, 8, 10, 10.01, 12, 15, 16, 19, 20, 20.01, 24, 25,
                                     30, 30.01, 35, 45, 60, 95, 125)):
    """A share of the full charge, in hundredths of a unit."""
    return f"{plain(full * chance.choice(shares) / 100)} {unit}"


def plain(number):
    """In hundredths; never `.10` to `.15`, which a reader may take for ounces."""
    hundredths = max(1, round(number * 100))
    if 10 < hundredths % 100 <= 15:
        hundredths += 6
    return f"{hundredths / 100:.2f}".rstrip("0").rstrip(".")
