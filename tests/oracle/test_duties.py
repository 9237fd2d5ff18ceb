#!/usr/bin/env python3
"""Checks of the slow evaluation of duties itself.

It must agree with every situation and every example of the shipped sets, whose expectations were
worked out by hand from the clause text. Faults are planted to see that this can fail: a value row
changed by one, an expectation changed by a day, a duty too many. Dates are worked on a calendar.
"""
import copy
import json
import os
import subprocess
import sys
import unittest
from datetime import date
from zoneinfo import ZoneInfo

FOLDER = os.path.dirname(os.path.abspath(__file__))
sys.path.insert(0, FOLDER)
from duties import compare, expecting, outcome, readings, rulebook  # noqa: E402
from duties import tables, times  # noqa: E402

SITUATIONS = os.path.join(FOLDER, "..", "..", "reports", "tests", "data", "rule-situations.json")
UTC = ZoneInfo("UTC")

# Some rows, whose change by one a situation or an example must notice.
CHANGED = [
    ("us-federal-ods", "trigger", 2), ("us-federal-ods", "repair_time", 1),
    ("us-federal-ods", "repair_time_shutdown", 1), ("us-federal-ods", "follow_up_time", 0),
    ("us-federal-ods", "plan_time", 0), ("us-federal-ods", "plan_work_limit", 0),
    ("us-federal-ods", "quiet_quarters", 0), ("us-federal-ods", "relief_time", 0),
    ("us-federal-ods", "second_request", 0), ("us-federal-ods", "chronic", 0),
    ("us-federal-hfc", "trigger", 0), ("us-federal-hfc", "detection_new", 0),
    ("us-california", "repair_time", 0), ("us-california", "gap_large_out", 0),
    ("us-washington", "trigger", 1), ("us-washington", "large", 0),
    ("eu-2024-573", "gap", 0), ("eu-2024-573", "t_mid", 0), ("eu-2024-573", "recheck_from", 0),
    ("gb-517", "gap_detector", 1), ("ch-orrchem", "kg", 0),
    ("ca-halocarbon-2022", "longest_gap", 0), ("ca-halocarbon-2022", "first_report", 0),
    ("jp-yearly-co2e", "yearly_sum", 0), ("jp-yearly-co2e", "expert_gap_ac", 0),
    ("us-disposal-log", "above", 0),
]


def situations():
    with open(SITUATIONS, encoding="utf-8") as file:
        return json.load(file)["situations"]


def examples(table):
    for example in table["examples"]:
        yield {"sets": [table["id"]], **example, "expect": {table["id"]: example["expect"]}}


def failing(sets, wanted):
    """Ids of the situations and examples of one set that disagree."""
    of_set = [one for one in situations() if wanted in one["sets"]] + list(examples(sets[wanted]))
    return [one.get("id", one["about"]) for one in of_set if compare.check(one, sets)]


def shop(*events, on="2024-06-10", **more):
    """A shop's rack of 100 lb of R-22 in Colorado, with an addition a year before."""
    first = {"kind": "charge", "at": "2023-03-02", "mass": "1 lb"}
    return {"sets": ["us-federal-ods"], "on": on, "events": [first, *events], "facts": {
        "region": "US-CO", "category": "commercial_refrigeration", "refrigerant": "R-22",
        "full_charge": "100 lb", "installed": "2015-05-01"}, **more}


def event(kind, at, **words):
    return {"kind": kind, "at": at, **words}


def rows(situation, name, which="us-federal-ods"):
    """The rows of one duty."""
    found = outcome.evaluate(situation, which, rulebook.read_sets())["A"]
    return [row for row in found["duties"] if row["duty"] == name]


class Agreement(unittest.TestCase):
    def test_every_situation(self):
        sets, found = rulebook.read_sets(), situations()
        self.assertEqual(len(found), 197)
        for situation in found:
            with self.subTest(situation["id"]):
                self.assertEqual(compare.check(situation, sets), [])

    def test_every_example(self):
        sets = rulebook.read_sets()
        self.assertEqual(len(sets), 10)
        found = [one for table in sets.values() for one in examples(table)]
        self.assertEqual(len(found), 67)
        for situation in found:
            with self.subTest(situation["about"]):
                self.assertEqual(compare.check(situation, sets), [])


class PlantedFaults(unittest.TestCase):
    def test_a_value_changed_by_one_is_noticed(self):
        for name, value, number in CHANGED:
            with self.subTest(f"{name} {value} {number}"):
                sets = rulebook.read_sets()
                row = sets[name]["values"][value]["rows"][number]
                row["is"] = str(int(row["is"]) + 1)
                less = copy.deepcopy(sets)
                less[name]["values"][value]["rows"][number]["is"] = str(int(row["is"]) - 2)
                self.assertTrue(failing(sets, name) or failing(less, name))

    def test_a_wrong_expectation_is_noticed(self):
        sets = rulebook.read_sets()
        situation = shop(event("charge", "2024-05-31", mass="30 lb"))
        good = {"duties": [{"duty": "repair", "due": "2024-06-30"}]}
        for wrong in ({"duties": [{"duty": "repair", "due": "2024-07-01"}]},
                      {"duties": good["duties"] * 2}, {"absent": ["repair"]},
                      {"exceedances": []}, {"applies": "no"}, {"band": "industrial"},
                      {"missing": ["installed"]}, {"gaps": [{"event": 1, "missing": ["date"]}]}):
            outcome_of = {"us-federal-ods": wrong}
            self.assertTrue(compare.check(situation | {"expect": outcome_of}, sets), wrong)
        self.assertEqual(compare.check(situation | {"expect": {"us-federal-ods": good}}, sets), [])

    def test_an_expectation_that_was_written_holds(self):
        sets = rulebook.read_sets()
        for situation in situations():
            written = expecting.expectation(situation, sets)
            with self.subTest(situation["id"]):
                self.assertEqual(compare.check(situation | {"expect": written}, sets), [])

    def test_the_command_fails_on_a_difference(self):
        command = [sys.executable, os.path.join(FOLDER, "duties.py"), "situations", "/dev/stdin"]
        for due, code in (("2024-06-30", 0), ("2024-06-29", 1)):
            one = shop(event("charge", "2024-05-31", mass="30 lb")) | {"id": "x", "expect": {
                "us-federal-ods": {"duties": [{"duty": "repair", "due": due}]}}}
            text = json.dumps({"schema": "tarebook/rule-situations/1", "situations": [one]})
            done = subprocess.run(command, input=text, text=True, capture_output=True)
            self.assertEqual(done.returncode, code, done.stdout + done.stderr)


class Cases(unittest.TestCase):
    """Readings that no situation decides; each is named in the module that takes it."""

    def test_every_exceedance_opens_a_case_of_its_own(self):
        found = rows(shop(event("charge", "2024-05-01", mass="30 lb"),
                          event("charge", "2024-05-20", mass="30 lb"), on="2024-05-25"), "repair")
        self.assertEqual([row["since"] for row in found], ["2024-05-01", "2024-05-20"])
        self.assertEqual([row["due"] for row in found], ["2024-05-31", "2024-06-19"])

    def test_a_later_step_of_one_leak_opens_nothing_new(self):
        found = rows(shop(event("charge", "2024-05-01", mass="30 lb", leak="L"),
                          event("charge", "2024-05-20", mass="30 lb", leak="L")), "repair")
        self.assertEqual([row["since"] for row in found], ["2024-05-01"])

    def test_work_before_the_charge_of_the_same_day_counts(self):
        work = [event("repair", "2024-05-31T08:00"),
                event("verification_test", "2024-05-31T09:00", stage="initial", result="passed"),
                event("charge", "2024-05-31T10:00", mass="30 lb")]
        self.assertEqual(rows(shop(*work), "repair")[0]["state"], "done")
        self.assertEqual(rows(shop(*work), "follow_up_test")[0]["due"], "2024-06-10")

    def test_a_failed_test_leaves_a_closed_case_closed(self):
        def verified(day, follow):
            return [event("repair", day), event("verification_test", day, stage="initial",
                                                result="passed"),
                    event("verification_test", follow, stage="follow_up", result="passed")]
        found = rows(shop(event("charge", "2024-03-01", mass="30 lb"),
                          *verified("2024-03-02", "2024-03-05"),
                          event("charge", "2024-05-20", mass="30 lb"),
                          event("repair", "2024-05-21"),
                          event("verification_test", "2024-05-21", stage="initial",
                                result="passed"),
                          event("verification_test", "2024-05-25", stage="follow_up",
                                result="failed")), "repair")
        self.assertEqual([row["state"] for row in found], ["done", "open"])

    def test_a_missed_repair_is_done_late_and_its_plan_stays(self):
        history = shop(event("charge", "2024-03-01", mass="30 lb"), event("repair", "2024-04-02"))
        self.assertEqual(rows(history, "repair")[0]["state"], "done_late")
        self.assertEqual(rows(history, "plan")[0]["since"], "2024-03-31")

    def test_an_exceedance_on_the_last_quiet_day_goes_on(self):
        first = event("charge", "2024-03-01", mass="30 lb")
        again = event("charge", "2025-03-01", mass="30 lb")
        quiet = rows(shop(first, on="2025-03-02"), "leak_inspection")
        self.assertEqual((quiet[0]["state"], quiet[0]["on"]), ("ended", "2025-03-01"))
        loud = rows(shop(first, again, on="2025-03-02"), "leak_inspection")
        self.assertEqual([row["state"] for row in loud], ["overdue"])


class Dates(unittest.TestCase):
    def add(self, unit, count, day, from_start=False, month_end="last_day"):
        moment = times.Moment(date.fromisoformat(day), None)
        return str(times.add(unit, count, moment, UTC, month_end, from_start))

    def test_months_end(self):
        self.assertEqual(self.add("months", 1, "2024-01-31"), "2024-02-29")
        self.assertEqual(self.add("months", 1, "2023-01-31"), "2023-02-28")
        self.assertEqual(self.add("months", 1, "2023-01-31", month_end="next_day"), "2023-03-01")
        self.assertEqual(self.add("years", 1, "2024-02-29"), "2025-02-28")
        self.assertEqual(self.add("months", 13, "2023-12-31"), "2025-01-31")

    def test_whole_periods(self):
        self.assertEqual(self.add("calendar_years", 1, "2024-03-01", True), "2024-12-31")
        self.assertEqual(self.add("calendar_years", 1, "2024-05-06"), "2025-12-31")
        self.assertEqual(self.add("calendar_quarters", 4, "2024-03-31"), "2025-03-31")
        self.assertEqual(str(times.end_of_period(date(2025, 3, 31), 12, 0, "04-01")), "2025-03-31")
        self.assertEqual(str(times.end_of_period(date(2025, 4, 1), 12, 0, "04-01")), "2026-03-31")
        self.assertEqual(str(times.start_of_period(date(2024, 8, 9), 6)), "2024-07-01")

    def test_days_of_the_year(self):
        self.assertEqual(str(times.next_month_day(date(2024, 12, 31), "03-01")), "2025-03-01")
        self.assertEqual(str(times.next_month_day(date(2024, 3, 1), "03-01")), "2025-03-01")

    def test_hours_pass_a_clock_change(self):
        zone = ZoneInfo("Europe/Berlin")
        moment = times.read_moment("2025-03-29T12:00", zone)
        found = times.add("hours", 24, moment, zone, "last_day")
        self.assertEqual(found.isoformat(), "2025-03-30T13:00:00+02:00")

    def test_masses_are_exact(self):
        self.assertEqual(tables.read_mass("5 lb 1 oz") * 16, tables.read_mass("81 lb"))
        self.assertEqual(tables.read_mass("1 kg"), tables.read_mass("1000 g"))
        with self.assertRaises(ValueError):
            tables.read_mass("5 stone")


class RandomHistories(unittest.TestCase):
    def generate(self, seed, count):
        command = [sys.executable, os.path.join(FOLDER, "gen_duties.py"), "--seed", str(seed),
                   "--count", str(count)]
        return subprocess.run(command, check=True, capture_output=True, text=True).stdout

    def test_a_seed_gives_the_same_file(self):
        self.assertEqual(self.generate(3, 20), self.generate(3, 20))
        self.assertNotEqual(self.generate(3, 20), self.generate(4, 20))

    def test_histories_reach_the_states(self):
        sets, seen, touched = rulebook.read_sets(), set(), set()
        for situation in json.loads(self.generate(7, 150))["situations"]:
            for name in situation["sets"]:
                for found in outcome.evaluate(situation, name, sets, touched).values():
                    seen |= {row["state"] for row in found["duties"]}
        self.assertEqual({"open", "overdue", "paused", "no_date", "not_needed", "done",
                          "done_late", "lifted", "ended"} - seen, set())
        self.assertGreater(len(touched), 12)
        self.assertEqual(touched - set(readings.READINGS), set())

    def test_the_order_of_the_list_changes_nothing(self):
        sets = rulebook.read_sets()
        for situation in json.loads(self.generate(11, 25))["situations"]:
            turned = copy.deepcopy(situation)
            for one in turned.get("appliances", [turned]):
                one["events"].reverse()
            with self.subTest(situation["id"]):
                self.assertEqual(expecting.expectation(situation, sets),
                                 expecting.expectation(turned, sets))

    def test_a_corrected_pair_changes_nothing(self):
        sets = rulebook.read_sets()
        for situation in json.loads(self.generate(12, 25))["situations"]:
            more = copy.deepcopy(situation)
            for one in more.get("appliances", [more]):
                if one["events"]:
                    first = copy.deepcopy(one["events"][0])
                    one["events"] += [first | {"kind": "charge", "mass": "5 kg", "n": 900},
                                      {"kind": "correction", "at": first.get("booked",
                                       first["at"][:10]), "reverses": 900, "n": 901}]
                    one["events"][-1]["booked"] = one["events"][-1]["at"]
            with self.subTest(situation["id"]):
                self.assertEqual(expecting.expectation(situation, sets),
                                 expecting.expectation(more, sets))


if __name__ == "__main__":
    unittest.main()
