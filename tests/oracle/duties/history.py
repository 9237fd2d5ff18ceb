"""What happened to one appliance: entries seen on a day, corrections applied, in order.

The order is day, time of day, rank of the kind, number; booking order is never a key. A correction
names its chain and states what is different; without a replacement it annuls the chain.
"""
from dataclasses import dataclass, field
from datetime import date
from zoneinfo import ZoneInfo

from .tables import read_mass
from .times import Moment, read_moment

RANKS = {"opening": 1, "purchase": 2, "recover": 3, "retrofit": 4, "back_in_operation": 5,
         "transfer": 6, "leak_found": 7, "repair": 8, "inspection": 9, "verification_test": 9,
         "pressure_test": 9, "vacuum_test": 9, "run_check": 9, "charge": 10, "outside_charge": 10,
         "mothball": 12, "retire": 13}
CHARGES = ("charge", "outside_charge")


@dataclass(eq=False)
class Event:
    """One fact, as it stands after its corrections."""
    kind: str
    moment: Moment
    number: int
    words: dict
    place: int = 0  # In the order of the appliance.
    corrected: bool = False

    @property
    def day(self):
        return self.moment.day

    @property
    def visit(self):
        return self.words.get("visit")

    @property
    def mass(self):
        return read_mass(self.words["mass"])

    def order(self):
        time = self.moment.instant.strftime("%H:%M:%S.%f") if self.moment.instant else ""
        return (self.day, time or "00:00:00.000000", RANKS.get(self.kind, 11), self.number)


@dataclass
class Appliance:
    """One circuit: its facts and its events in order."""
    name: str
    site: str
    facts: dict
    events: list = field(default_factory=list)


def booked_on(raw, zone):
    if "booked" in raw:
        return date.fromisoformat(raw["booked"])
    return read_moment(raw["at"], zone).day


def events_of(raws, on, known_by, zone):
    """The events seen on a day with what was booked by another."""
    chains, chain_of = {}, {}
    numbered = [(raw.get("n", place), raw) for place, raw in enumerate(raws, 1)]
    seen = [(number, raw) for number, raw in numbered
            if booked_on(raw, zone) <= min(on, known_by)]
    for number, raw in seen:
        if raw["kind"] != "correction":
            chains[number] = (dict(raw), True)
            chain_of[number] = number
    corrections = [(booked_on(raw, zone), number, raw) for number, raw in seen
                   if raw["kind"] == "correction"]
    for _, number, raw in sorted(corrections, key=lambda one: one[:2]):
        root = chain_of.get(raw["reverses"])
        if root is None:
            continue  # The corrected entry is not seen on this day.
        chain_of[number] = root
        words = chains[root][0] | raw.get("replacement", {})
        chains[root] = (words, "replacement" in raw)
    result = []
    for number, (words, stands) in chains.items():
        if stands:
            event = Event(words["kind"], read_moment(words["at"], zone), number, words,
                          corrected=list(chain_of.values()).count(number) > 1)
            if event.day <= on:
                result.append(event)
    result.sort(key=Event.order)
    for place, event in enumerate(result):
        event.place = place
    return result


def zone_of(situation):
    return ZoneInfo(situation.get("zone", "UTC"))


def appliances_of(situation, on, known_by):
    """The appliances of a situation as known by a day."""
    zone = zone_of(situation)
    listed = situation.get("appliances") or [{
        "appliance": "A", "facts": situation["facts"], "events": situation.get("events", [])}]
    return [Appliance(one["appliance"], one.get("site", ""), one["facts"],
                      events_of(one.get("events", []), on, known_by, zone)) for one in listed]


def booking_days(situation, on):
    """Every day on which something was booked, up to a day; none where all was booked at once."""
    zone = zone_of(situation)
    listed = situation.get("appliances") or [situation]
    raws = [raw for one in listed for raw in one.get("events", [])]
    later = [raw for raw in raws if raw["kind"] == "correction"
             or booked_on(raw, zone) > read_moment(raw["at"], zone).day]
    if not later:
        return []
    return sorted({day for day in (booked_on(raw, zone) for raw in raws) if day <= on})


def matches(event, pattern):
    """Whether an event has the kind and the words of a pattern; `under` is asked elsewhere."""
    if event.kind != pattern["event"]:
        return False
    others = (word for word in pattern if word not in ("event", "under", "min_run_hours")
              and word not in ("while_open", "unless_open", "after_done", "when"))
    return all(event.words.get(word) == pattern[word] for word in others)
