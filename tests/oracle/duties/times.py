"""Counting time as the rules do: whole local days, months with an end, elapsed hours, periods.

A moment is a local day and, where one is known, the instant. A deadline is a whole day (a `date`)
or an instant (a `datetime` in the zone of the site). Nothing here reads a clock.
"""
from collections import namedtuple
from datetime import date, datetime, time, timedelta, timezone

Moment = namedtuple("Moment", "day instant")

PERIODS = {"calendar_months": 1, "calendar_quarters": 3, "calendar_half_years": 6,
           "calendar_years": 12}
SINGLE = {"calendar_month": 1, "calendar_quarter": 3, "calendar_half_year": 6,
          "calendar_year": 12, "fiscal_year": 12}


def read_moment(text, zone):
    """A date, a local time, or an instant with an offset (which alone is converted)."""
    if len(text) == 10:
        return Moment(date.fromisoformat(text), None)
    stamp = datetime.fromisoformat(text.replace("Z", "+00:00"))
    if stamp.tzinfo is None:
        stamp = stamp.replace(tzinfo=zone)
    else:
        stamp = stamp.astimezone(zone)
    return Moment(stamp.date(), stamp)


def midnight(day, zone):
    return datetime.combine(day, time(0), tzinfo=zone)


def whole_day(deadline):
    """The local day of a deadline."""
    return deadline.date() if isinstance(deadline, datetime) else deadline


def earliest(deadlines, zone):
    """The one that binds; a whole day ends after every instant in it."""
    def order(deadline):
        if isinstance(deadline, datetime):
            return (deadline.date(), 0, deadline.astimezone(timezone.utc))
        return (deadline, 1, midnight(deadline, zone).astimezone(timezone.utc))
    return min(deadlines, key=order)


def latest(deadlines, zone):
    return max(deadlines, key=lambda d: (whole_day(d), not isinstance(d, datetime), str(d)))


def is_after(moment, deadline):
    """Whether an act came too late: after the due day, or the instant where both are known."""
    if isinstance(deadline, datetime) and moment.instant is not None:
        return moment.instant > deadline
    return moment.day > whole_day(deadline)


def is_before(moment, deadline, zone):
    """Whether an act came too early; an act with a date only stands at 00:00 of it."""
    if isinstance(deadline, datetime):
        return (moment.instant or midnight(moment.day, zone)) < deadline
    return moment.day < deadline


def add_months(day, count, month_end):
    number = day.year * 12 + day.month - 1 + count
    year, month = divmod(number, 12)
    try:
        return date(year, month + 1, day.day)
    except ValueError:
        following = first_of_month(year, month + 2)
        return following if month_end == "next_day" else following - timedelta(days=1)


def first_of_month(year, month):
    extra, month = divmod(month - 1, 12)
    return date(year + extra, month + 1, 1)


def end_of_period(day, months, count=0, year_starts=None):
    """The last day of the period that holds the day, or of the count-th after it."""
    start_month, start_day = 1, 1
    if year_starts:
        start_month, start_day = (int(part) for part in year_starts.split("-"))
    shifted = day if day.day >= start_day else add_months(day.replace(day=1), -1, "last_day")
    number = shifted.year * 12 + shifted.month - start_month
    number = (number // months + 1 + count) * months + start_month - 1
    year, month = divmod(number, 12)
    return date(year, month + 1, start_day) - timedelta(days=1)


def start_of_period(day, months, year_starts=None):
    return end_of_period(day, months, -1, year_starts) + timedelta(days=1)


def next_month_day(day, text):
    """The first such day of the year after the day, itself not counted."""
    month, number = (int(part) for part in text.split("-"))
    found = date(day.year, month, number)
    return found if found > day else date(day.year + 1, month, number)


def add(unit, count, moment, zone, month_end, from_start=False):
    """So long after a moment. `from_start`: whole periods begin with the one that holds it."""
    if unit in ("days", "weeks"):
        return moment.day + timedelta(days=count * (7 if unit == "weeks" else 1))
    if unit in ("months", "years"):
        return add_months(moment.day, count * (12 if unit == "years" else 1), month_end)
    if unit in ("hours", "operating_hours"):
        begun = moment.instant or midnight(moment.day, zone)
        return (begun.astimezone(timezone.utc) + timedelta(hours=count)).astimezone(zone)
    if unit in PERIODS:
        return end_of_period(moment.day, PERIODS[unit], count - (1 if from_start else 0))
    raise ValueError(f"{unit} is no length of time")
