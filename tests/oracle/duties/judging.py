"""Answering tests with yes, no or *cannot judge*, and from them coverage and bands.

An answer is (True | False | None, names of the facts that would decide). One *no* decides a block,
otherwise one unknown makes it unknown. Claims of relief count as *no* until recorded.
"""
from datetime import date, timedelta
from fractions import Fraction

from . import tables
from .rulebook import Gap, in_force, row_in_force
from .tables import read_mass

DEFAULTS = dict.fromkeys(("hermetic", "residential", "detector", "mobile", "process_shutdown",
                          "evacuated", "ghg_reporter"), "no") | {
    "equipment": "other", "year_round": "yes", "indoors": "yes"}
QUANTITIES = ("full_charge", "co2e", "gwp", "motor_kw")
WORDS = ("category", "owner_class", "land", "equipment", "band")
YES_NO = ("hermetic", "residential", "detector", "mobile", "process_shutdown", "evacuated",
          "ghg_reporter", "year_round", "indoors")
FACTS = QUANTITIES + WORDS + YES_NO + ("region", "refrigerant", "installed")
COMPARE = {"over": lambda a, b: a > b, "at_least": lambda a, b: a >= b,
           "below": lambda a, b: a < b, "at_most": lambda a, b: a <= b}
YES, NO = (True, frozenset()), (False, frozenset())


def unknown(*names):
    return (None, frozenset(names))


def all_of(answers):
    """A block: every line must hold."""
    answers = list(answers)
    if any(answer is False for answer, _ in answers):
        return NO
    missing = frozenset().union(*(names for answer, names in answers if answer is None))
    return (None, missing) if any(answer is None for answer, _ in answers) else YES


def any_of(answers):
    """Blocks: one that holds is enough."""
    answers = list(answers)
    if any(answer is True for answer, _ in answers):
        return YES
    missing = frozenset().union(*(names for answer, names in answers if answer is None))
    return (None, missing) if any(answer is None for answer, _ in answers) else NO


class Judge:
    """The facts of one appliance, read with one rule set."""

    def __init__(self, rules, appliance):
        self.rules, self.appliance = rules, appliance
        self.known = {}

    def fact(self, name, day, said=None):
        """The word in force on the day; `said` are words of the case that go before it."""
        if said and name in said:
            return said[name]
        fact = self.appliance.facts.get(name)
        if isinstance(fact, list):
            begun = [row for row in fact if row["from"] <= day.isoformat()]
            fact = max(begun, key=lambda row: row["from"])["is"] if begun else None
        return DEFAULTS.get(name) if fact is None else fact

    def quantity(self, name, day):
        """(number, names missing)."""
        if name == "motor_kw":
            text = self.fact(name, day)
            return (None, {name}) if text is None else (Fraction(text), set())
        if name == "full_charge":
            text = self.fact(name, day)
            return (None, {name}) if text is None else (read_mass(text), set())
        gas = self.fact("refrigerant", day)
        if gas is None or gas not in tables.refrigerants():
            value, missing = None, {"refrigerant"}
        else:
            value = tables.gwp(gas, self.rules.gwp_basis)
            missing = {"gwp"} if value is None else set()
        if name == "gwp":
            return value, missing
        charge, more = self.quantity("full_charge", day)
        missing = missing | more
        return (None, missing) if missing else (charge * value / 1000, set())

    def value(self, name, day, band_day=None):
        """(number, names missing) of a value on the day; its row may be for a band."""
        value, band, missing = self.rules.values[name], None, frozenset()
        layers = [layer for layer in self.rules.layers if name in layer["values"]
                  and self.test(layer.get("where", {}), day)[0] is True]
        rows = [layer["values"][name]["rows"] for layer in layers] + [value.rows]
        if any("for" in row for some in rows for row in some):
            band, missing = self.band(band_day or day)
            if band is None:
                return None, missing
        for some in rows:
            row = row_in_force(some, band, day)
            if row is not None and row["is"] != "none":
                return value.number(row["is"]), frozenset()
        raise Gap(f"{self.rules.id}: value '{name}' has no row on {day} for {band or 'all'}")

    def share_of_charge(self, name, day):
        """A value in kilograms, where it may be a share of the full charge."""
        number, missing = self.value(name, day)
        if number is not None and self.rules.values[name].unit == "percent_of_full_charge":
            charge, missing = self.quantity("full_charge", day)
            number = None if charge is None else charge * number / 100
        return number, missing

    def test(self, block, day, said=None, row_day=None):
        """A block of lines, each about one fact."""
        return all_of(self.line(name, line, day, said, row_day or day)
                      for name, line in block.items() if name in FACTS)

    def line(self, name, line, day, said, row_day):
        if name in QUANTITIES:
            return self.compare(name, line, day, row_day)
        if name == "refrigerant":
            return self.holds(line, day)
        if name == "band":
            fact, missing = self.band(day)
            if fact is None:
                return (None, missing)
        else:
            fact = self.fact(name, day, said)
        if fact is None:
            return unknown(name)
        if name in YES_NO:
            return YES if fact == line else NO
        if name == "installed":
            good = line.get("since", "") <= fact < line.get("before", "9999")
            return YES if good else NO
        same = inside if name == "region" else (lambda code, word: code == word)
        good = not line.get("is") or any(same(fact, word) for word in line["is"])
        bad = any(same(fact, word) for word in line.get("is_not", ()))
        return YES if good and not bad else NO

    def compare(self, name, line, day, row_day):
        number, missing = self.quantity(name, day)
        if number is None:
            return (None, frozenset(missing))
        answers = []
        for word, value in line.items():
            limit, missing = self.value(value, row_day)
            answers.append((None, frozenset(missing)) if limit is None
                           else (COMPARE[word](number, limit), frozenset()))
        return all_of(answers)

    def holds(self, line, day):
        gas = self.fact("refrigerant", day)
        if gas is None or gas not in tables.refrigerants():
            return unknown("refrigerant")
        for word, name in line.items():
            column = "only" if word == "only" else "contains"
            if tables.on_list(name, gas, day, column) == (word == "lacks"):
                return NO
        return YES

    def covered(self, day):
        """Whether one block covers and none exempts; an exemption must be shown."""
        if day not in self.known:
            self.known[day] = self.work_out_cover(day)
        return self.known[day]

    def work_out_cover(self, day):
        table = self.rules.table
        answer = any_of(self.test(block, day) for block in table.get("covers", ())
                        if in_force(block, day))
        if answer[0] is not False:
            exempt = any(self.test(block, day)[0] is True for block in table.get("exempt", ())
                         if in_force(block, day))
            answer = NO if exempt else answer
        return answer

    def lapses(self, day):
        """Whether a block that covered the day before ended with it, and nothing else covers."""
        before = day - timedelta(days=1)
        ended = any(block.get("until") == before.isoformat() and block.get("at_end") == "lapse"
                    and self.test(block, before)[0] is True
                    for block in self.rules.table.get("covers", ()))
        return ended and self.covered(day)[0] is False

    def band(self, day):
        """(name, names missing): the first that fits; an unknown one hides those after it."""
        for band in self.rules.table.get("bands", ()):
            answer, missing = self.test(band, day)
            if answer is None:
                return None, missing
            if answer:
                return band["name"], frozenset()
        return None, frozenset()

    def changes(self):
        """Every day on which coverage may change."""
        days = set()
        for block in self.rules.table.get("covers", []) + self.rules.table.get("exempt", []):
            days.add(block.get("from"))
            if "until" in block:
                days.add((date.fromisoformat(block["until"]) + timedelta(days=1)).isoformat())
        for fact in self.appliance.facts.values():
            if isinstance(fact, list):
                days.update(row["from"] for row in fact)
        tables_of_rows = [value.rows for value in self.rules.values.values()]
        for layer in self.rules.layers:
            tables_of_rows += [value["rows"] for value in layer["values"].values()]
        days.update(row["from"] for rows in tables_of_rows for row in rows)
        return sorted(date.fromisoformat(day) for day in days if day)

    def covered_since(self, on):
        """The first day of the unbroken coverage that holds on a day."""
        start = on
        for day in reversed([day for day in self.changes() if day <= on]):
            try:
                if self.covered(day)[0] is not True:
                    break
            except Gap:
                break
            start = day
        return start


# Member states of the European Union since 2020-02-01 (ISO 3166-1; from memory).
UNION = set("AT BE BG CY CZ DE DK EE ES FI FR GR HR HU IE IT LT LU LV MT NL PL PT RO SE SI SK".split())


def inside(code, region):
    """US-CO-101 lies in US-CO and in US; DE-BY lies in the EU, and EU-DE is another name of DE."""
    lists = [name.split("-") for name in (code, region)]
    ours, theirs = (parts[1:] if parts[0] == "EU" and len(parts) > 1 else parts for parts in lists)
    if theirs == ["EU"]:
        return ours[0] == "EU" or ours[0] in UNION
    return ours[: len(theirs)] == theirs
