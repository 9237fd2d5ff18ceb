#!/usr/bin/env python3
"""Checks of the independent computation itself, with lines worked out by hand.

The vectors A1 to R6 follow from the formulas of 40 CFR 82.152 (derived, not published examples);
the two named appliances are those of the invented scenario, their figures worked on paper:
14.5/210 x 365/96 = 26.25 %, 23.75/210 = 11.31 %, 1.375/22 x 365/140 = 16.29 %.
"""
import os
import subprocess
import sys
import tempfile
import unittest
from datetime import date, timedelta

FOLDER = os.path.dirname(os.path.abspath(__file__))
sys.path.insert(0, FOLDER)
import leak_report as oracle  # noqa: E402

APPLIANCE_HEADER = "appliance,site,category,refrigerant,full_charge_lb,commissioned_on\n"
MOVEMENT_HEADER = ("movement_id,occurred_at,kind,from,to,refrigerant,mass_lb,technician,visit,"
                   "reason\n")


def fleet_of(folder, appliances, movements):
    """Writes a fleet of one refrigerant; movements are (when, kind, tag, pounds, visit, reason)."""
    with open(os.path.join(folder, "appliances.csv"), "w", encoding="utf-8") as file:
        file.write(APPLIANCE_HEADER)
        for tag, category, full, installed in appliances:
            file.write(f"{tag},S1,{category},R-410A,{full},{installed}\n")
    with open(os.path.join(folder, "movements.csv"), "w", encoding="utf-8") as file:
        file.write(MOVEMENT_HEADER)
        for number, (when, kind, tag, pounds, visit, reason) in enumerate(movements):
            places = f"{tag},C1" if kind == "recover" else f"C1,{tag}"
            at = when if "T" in when else when + "T12:00:00"
            file.write(f"{number:04d},{at}Z,{kind},{places},R-410A,{pounds},T1,{visit},{reason}\n")


def report(name, appliances, movements, year=2023, unit="lb", netting="visit", thresholds="flat"):
    with tempfile.TemporaryDirectory() as folder:
        fleet_of(folder, appliances, movements)
        command = [sys.executable, os.path.join(FOLDER, "leak_report.py"), name, "--fleet", folder,
                   "--year", str(year), "--unit", unit, "--netting", netting,
                   "--thresholds", thresholds]
        output = subprocess.run(command, check=True, capture_output=True).stdout.decode("utf-8")
    assert output.endswith("\r\n") and output.count("\n") == output.count("\r\n")
    return output.split("\r\n")[1:-1]


def additions(*arguments, **options):
    return report("additions", *arguments, **options)


def charge(when, pounds, tag="A", visit="", reason=""):
    return (when, "charge", tag, pounds, visit, reason)


def recover(when, pounds, tag="A", visit="", reason=""):
    return (when, "recover", tag, pounds, visit, reason)


class Printing(unittest.TestCase):
    def test_masses_are_exact_and_trimmed(self):
        pound = 45_359_237_000_000
        self.assertEqual(oracle.printed_mass(pound, "lb"), "1")
        self.assertEqual(oracle.printed_mass(pound, "g"), "453.59237")
        self.assertEqual(oracle.printed_mass(pound, "kg"), "0.45359237")
        self.assertEqual(oracle.printed_mass(pound, "ug"), "453592370")
        self.assertEqual(oracle.printed_mass(1, "ug"), "0.00001")
        self.assertEqual(oracle.printed_mass(1, "kg"), "0.00000000000001")
        self.assertEqual(oracle.printed_mass(0, "lb"), "0")
        self.assertEqual(oracle.printed_mass(-pound * 2, "lb"), "-2")
        # 10^-11 g = 2.2046...e-14 lb: 14 decimals bring the step back; 0.5 goes away from zero.
        self.assertEqual(oracle.printed_mass(1, "lb"), "0.00000000000002")

    def test_percents_are_cut(self):
        self.assertEqual(oracle.printed_percent(oracle.Fraction(182500, 9000)), "20.2777")
        self.assertEqual(oracle.printed_percent(oracle.Fraction(20)), "20.0000")
        self.assertEqual(oracle.printed_percent(oracle.Fraction(1, 3)), "0.3333")

    def test_texts_are_guarded_and_quoted_only_where_needed(self):
        self.assertEqual(oracle.printed_text("=1+1"), "'=1+1")
        self.assertEqual(oracle.csv_line(["a", "b,c", 'd"e', ""]), 'a,"b,c","d""e",\r\n')


class Formulas(unittest.TestCase):
    def rates(self, full, pounds, days):
        """One earlier addition of one pound, then the vector's."""
        then = date(2023, 12, 20)
        first = then - timedelta(days=days)
        lines = additions([("A", "comfort_cooling", full, "2015-01-01")],
                          [charge(first.isoformat(), "1"), charge(then.isoformat(), pounds)])
        return lines[-1].split(",")

    def test_the_annualising_vectors(self):
        for full, pounds, days, percent in [
                (100, "10", 180, "20.2777"), (100, "5", 30, "60.8333"), (100, "20", 365, "20.0000"),
                (100, "20", 400, "20.0000"), (100, "20.01", 365, "20.0100"),
                (100, "10", 1, "3650.0000"), (15, "2", 60, "81.1111"), (500, "12", 219, "4.0000"),
                (50, "7.5", 146, "37.5000"), (150, "15", 366, "10.0000"),
                (250, "25", 182, "20.0549")]:
            self.assertEqual(self.rates(full, pounds, days)[6], percent, (full, pounds, days))

    def test_exactly_at_the_limit_is_not_over(self):
        self.assertEqual(self.rates(150, "15", 366)[7:], ["no", "no"])
        self.assertEqual(self.rates(150, "15.001", 366)[7:], ["yes", "yes"])

    def test_the_rolling_vectors(self):
        lines = additions([("A", "comfort_cooling", 100, "2015-01-01")],
                          [charge("2023-02-01", "10"), charge("2023-05-01", "5"),
                           charge("2023-08-01", "6")])
        self.assertEqual([line.split(",")[5] for line in lines], ["10.0000", "15.0000", "21.0000"])
        lines = additions([("A", "comfort_cooling", 600, "2015-01-01")],
                          [charge("2023-02-01", "30"), charge("2023-05-01", "20"),
                           charge("2023-08-01", "25")])
        self.assertEqual(lines[-1].split(",")[5], "12.5000")

    def test_the_rolling_window_is_half_open(self):
        for day, percent in [("2023-06-01", "3.0000"), ("2023-05-31", "3.0000"),
                             ("2023-06-02", "3.0000")]:
            before = (date.fromisoformat(day) - timedelta(days=365)).isoformat()
            movements = [charge(before, "5"), charge(day, "3")]
            lines = additions([("A", "comfort_cooling", 100, "2015-01-01")], movements)
            self.assertEqual(lines[-1].split(",")[5], percent)
        movements = [charge("2022-06-02", "5"), charge("2023-06-01", "3")]
        lines = additions([("A", "comfort_cooling", 100, "2015-01-01")], movements)
        self.assertEqual(lines[-1].split(",")[5], "8.0000")

    def test_without_an_earlier_addition_the_days_run_from_installation(self):
        for installed, days in [("2023-05-31", "1"), ("2023-06-01", "365"), ("2022-06-02", "364"),
                                ("2022-06-01", "365"), ("2010-01-01", "365"), ("", "365")]:
            lines = additions([("A", "comfort_cooling", 100, installed)],
                              [charge("2023-06-01", "3")])
            self.assertEqual(lines[0].split(",")[3], days, installed)


class Days(unittest.TestCase):
    def test_a_day_without_visit_is_one_addition(self):
        movements = [charge("2023-03-01T08:00:00", "4"), recover("2023-03-01T20:00:00", "1"),
                     charge("2023-03-01T23:59:59", "2"), charge("2023-03-02T00:00:00", "3")]
        appliances = [("A", "comfort_cooling", 100, "2022-03-01")]
        self.assertEqual(additions(appliances, movements),
                         ["A,2023-03-01,5,365,5,5.0000,5.0000,no,no",
                          "A,2023-03-02,3,1,8,8.0000,1095.0000,no,yes"])
        self.assertEqual(additions(appliances, movements, netting="gross")[0],
                         "A,2023-03-01,6,365,6,6.0000,6.0000,no,no")

    def test_a_day_that_ends_below_zero_is_no_addition_and_resets_nothing(self):
        movements = [charge("2023-01-10", "1"), recover("2023-02-01", "9"),
                     charge("2023-02-01", "4"), charge("2023-03-01", "2")]
        lines = additions([("A", "comfort_cooling", 100, "2022-01-10")], movements)
        self.assertEqual(lines[1], "A,2023-03-01,2,50,3,3.0000,14.6000,no,yes")


class Visits(unittest.TestCase):
    def test_the_rack_of_the_scenario(self):
        lines = additions([("HG-RACK-A", "commercial_refrigeration", 210, "2019-01-01")],
                          [charge("2023-04-09", "9.25", "HG-RACK-A"),
                           charge("2023-07-14", "14.5", "HG-RACK-A")])
        self.assertEqual(lines[1], "HG-RACK-A,2023-07-14,14.5,96,23.75,11.3095,26.2524,no,yes")

    def test_the_rooftop_unit_of_the_scenario(self):
        movements = [charge("2023-02-24", "0.5", "RTU"), recover("2023-07-14", "20.625", "RTU", "V1"),
                     charge("2023-07-14", "22", "RTU", "V1")]
        appliances = [("RTU", "comfort_cooling", 22, "2019-01-01")]
        self.assertEqual(additions(appliances, movements)[1],
                         "RTU,2023-07-14,1.375,140,1.875,8.5227,16.2946,no,yes")
        self.assertEqual(additions(appliances, movements, netting="gross")[1].split(",")[6],
                         "260.7142")

    def test_a_visit_is_dated_by_its_first_step_over_else_by_its_last(self):
        # 4 of 100 lb after 365 days, then 8 more two days later: over 10 % only at the second.
        movements = [charge("2023-03-01", "4", visit="V"), charge("2023-03-03", "8", visit="V")]
        appliances = [("A", "comfort_cooling", 100, "2015-01-01")]
        self.assertEqual(additions(appliances, movements),
                         ["A,2023-03-03,12,365,12,12.0000,12.0000,yes,yes"])
        # 11 first: over at once; the figures are those of the last step.
        movements = [charge("2023-03-01", "11", visit="V"), charge("2023-03-03", "1", visit="V")]
        self.assertEqual(additions(appliances, movements),
                         ["A,2023-03-01,12,365,12,12.0000,12.0000,yes,yes"])
        # Never over: dated by the last.
        movements = [charge("2023-03-01", "1", visit="V"), charge("2023-03-03", "2", visit="V")]
        self.assertEqual(additions(appliances, movements),
                         ["A,2023-03-03,3,365,3,3.0000,3.0000,no,no"])

    def test_a_visit_more_than_seven_days_apart_is_split(self):
        appliances = [("A", "comfort_cooling", 100, "2015-01-01")]
        movements = [charge("2023-03-01", "1", visit="V"), charge("2023-03-08", "2", visit="V")]
        self.assertEqual(len(additions(appliances, movements)), 1)
        movements[1] = charge("2023-03-09", "2", visit="V")
        self.assertEqual(additions(appliances, movements),
                         ["A,2023-03-01,1,365,1,1.0000,1.0000,no,no",
                          "A,2023-03-09,2,8,3,3.0000,91.2500,no,yes"])

    def test_a_visit_that_ends_without_a_figure_resets_nothing(self):
        appliances = [("A", "comfort_cooling", 100, "2015-01-01")]
        # 1 in, then 2 out and 1 in: nothing was lost. The next counts its days from before.
        movements = [charge("2023-01-01", "1"), charge("2023-03-01", "1", visit="V"),
                     recover("2023-03-02", "2", visit="V"), charge("2023-03-02", "1", visit="V"),
                     charge("2023-04-11", "2")]
        self.assertEqual(additions(appliances, movements),
                         ["A,2023-01-01,1,365,1,1.0000,1.0000,no,no",
                          "A,2023-04-11,2,100,3,3.0000,7.3000,no,no"])
        # Had it been over at its first step, that start stands, with the figure that stands.
        movements[1] = charge("2023-03-01", "14", visit="V")
        movements[2] = recover("2023-03-02", "15", visit="V")
        self.assertEqual(additions(appliances, movements)[1:],
                         ["A,2023-03-01,0,59,1,1.0000,0.0000,yes,yes",
                          "A,2023-04-11,2,100,3,3.0000,7.3000,no,no"])

    def test_what_is_taken_back_does_not_stand_in_a_window_by_itself(self):
        # 5 on 1 March; the day after 3 come out again and 1 goes in: 3 stand, all of 1 March.
        # 365 days after 1 March they are outside; the 2 of that day are all that was added.
        movements = [charge("2022-03-01", "5", visit="V"), recover("2022-03-02", "3", visit="V"),
                     charge("2022-03-02", "1", visit="V"), charge("2023-03-01", "2")]
        lines = additions([("A", "comfort_cooling", 100, "2015-01-01")], movements)
        self.assertEqual(lines, ["A,2023-03-01,2,364,2,2.0000,2.0054,no,no"])

    def test_a_window_that_cuts_visits_holds_what_stands_of_their_later_days(self):
        # Each puts in 5 on 1 March. The day after: 3 out, 1 in (figures 5, 3: nothing of that day
        # stands); 3 out, 4 in (5, 6: 1 stands); 4 out, 1 in, 3 in (5, 2, 5: 3 stand).
        movements = []
        for visit, parts in (("V", "-3 1"), ("W", "-3 4"), ("X", "-4 1 3")):
            movements.append(charge("2022-03-01", "5", visit=visit))
            for hour, part in enumerate(parts.split()):
                move = recover if part.startswith("-") else charge
                movements.append(move(f"2022-03-02T{hour:02}:00:00", part.strip("-"), visit=visit))
        for on, window in (("2023-02-28", 16), ("2023-03-01", 6), ("2023-03-02", 2)):
            lines = additions([("A", "comfort_cooling", 100, "2015-01-01")],
                              movements + [charge(on, "2")])
            self.assertEqual(lines[0].split(",")[4], str(window), on)

    def test_what_a_visit_takes_back_comes_off_itself_and_no_other(self):
        # 5 on 1 March, 1 more on the 2nd, when another visit puts in 3. On the 3rd the first takes
        # out 4 and puts in 1: 3 of its 6 stand, of 1 March. A year later the other's 3 are left.
        movements = [charge("2022-03-01", "5", visit="V"), charge("2022-03-02", "1", visit="V"),
                     charge("2022-03-02T13:00:00", "3", visit="W"),
                     recover("2022-03-03", "4", visit="V"), charge("2022-03-03", "1", visit="V"),
                     charge("2023-03-01", "2")]
        lines = additions([("A", "comfort_cooling", 100, "2015-01-01")], movements)
        self.assertEqual(lines[0].split(",")[4], "5")

    def test_a_row_that_nothing_is_left_of_shows_the_window_of_its_last_step(self):
        # 5 + 14 of 100 on 1 March are over 10 %. On the 6th 15 come out, 1 goes in: nothing stands,
        # and the 5 of last year have left the window.
        movements = [charge("2022-03-05", "5"), charge("2023-03-01", "14", visit="V"),
                     recover("2023-03-06", "15", visit="V"), charge("2023-03-06", "1", visit="V")]
        self.assertEqual(additions([("A", "comfort_cooling", 100, "2015-01-01")], movements),
                         ["A,2023-03-01,0,361,0,0.0000,0.0000,yes,yes"])

    def test_a_visit_over_new_year_has_a_row_in_both_years(self):
        appliances = [("A", "comfort_cooling", 100, "2015-01-01")]
        movements = [charge("2022-12-30", "2", visit="V"), charge("2023-01-02", "3", visit="V")]
        self.assertEqual(additions(appliances, movements, year=2022),
                         ["A,2022-12-30,2,365,2,2.0000,2.0000,no,no"])
        self.assertEqual(additions(appliances, movements, year=2023),
                         ["A,2023-01-02,3,365,5,5.0000,5.0000,no,no"])

    def test_two_visits_of_one_day_are_one_addition(self):
        movements = [charge("2023-02-01", "1"), charge("2023-03-01T08:00:00", "2", visit="V"),
                     charge("2023-03-01T16:00:00", "3", visit="W")]
        lines = additions([("A", "comfort_cooling", 100, "2015-01-01")], movements)
        # 5/100 x 365/28 = 65.1785...
        self.assertEqual(lines[1], "A,2023-03-01,5,28,6,6.0000,65.1785,no,yes")


class LeavingOut(unittest.TestCase):
    def test_installation_retrofit_and_season(self):
        movements = [charge("2022-10-01", "100", reason="installation"),
                     recover("2022-11-01", "6", visit="V1", reason="seasonal"),
                     charge("2023-04-01", "8", visit="V2", reason="seasonal"),
                     charge("2023-05-01", "5", visit="V3", reason="after_retrofit")]
        appliances = [("A", "comfort_cooling", 100, "2022-10-01")]
        self.assertEqual(additions(appliances, movements, thresholds="flat-leaves-out"),
                         ["A,2023-04-01,2,182,2,2.0000,4.0109,no,no"])
        self.assertEqual(len(additions(appliances, movements)), 2)


class WholeYear(unittest.TestCase):
    def test_one_line_by_hand(self):
        movements = [("2020-01-01T00:00:00", "opening", "A", "100", "", ""),
                     charge("2022-12-31", "3"), recover("2023-01-01T00:00:00", "2"),
                     charge("2023-05-01", "7"), charge("2023-10-30T23:59:59", "9"),
                     charge("2024-01-01T00:00:00", "50")]
        lines = report("appliance-year", [("A", "comfort_cooling", 100, "2020-01-01"),
                                          ("B", "comfort_cooling", "", "2020-01-01")],
                       movements + [charge("2023-05-01", "7", "B")])
        # May: 7 % x 365/121 = 21.1157, rolling 10; October: 9 % x 365/182 = 18.0494, rolling 19.
        self.assertEqual(lines, [
            "A,S1,comfort_cooling,R-410A,100,103,16,2,117,2,2,16,19.0000,2023-10-30,21.1157,"
            "2023-05-01,1,2,2023-05-01",
            "B,S1,comfort_cooling,R-410A,,0,7,0,7,1,1,7,,,,,,,"])

    def test_an_opening_inside_the_year_is_in_the_opening_balance(self):
        movements = [("2023-03-01", "opening", "A", "90", "", "")]
        lines = report("appliance-year", [("A", "comfort_cooling", 100, "2020-01-01")], movements)
        self.assertEqual(lines, ["A,S1,comfort_cooling,R-410A,100,90,0,0,90,0,0,0,,,,,0,0,"])


if __name__ == "__main__":
    unittest.main()
