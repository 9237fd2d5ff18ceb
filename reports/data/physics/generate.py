#!/usr/bin/env python3
"""Makes the tables of this folder with the equations of state of CoolProp.

    python -m pip install CoolProp==8.0.0
    python reports/data/physics/generate.py FOLDER

It writes `saturation.csv` (bubble and dew pressure, liquid and vapour density from -40 to 65 degC in
steps of 5 K), `fluids.csv` (what was computed, how, and how far it is to be trusted) and
`fill-densities.csv` (liquid densities at the temperatures of the fill rules, cut to 0.01 kg/m3, never
rounded up). Single substances use their reference equation, blends the mixture model at the nominal
mass composition of ASHRAE Standard 34. The solver for blends fails at isolated temperatures, so every
point is solved from the solution of its neighbour. The computed columns are the same on every machine
to the digits that are written; the check in `tests/independent/physics.sh` compares them again.
"""

import math
import sys
from pathlib import Path

import CoolProp
import CoolProp.CoolProp as CP
from CoolProp import AbstractState

VERSION = "8.0.0"
FIRST, LAST, STEP = -40, 65, 5
FILL_TEMPERATURES = {"25": 25.0, "50": 50.0, "54_44": (130 - 32) / 1.8, "55": 55.0, "60": 60.0}

# Designation, CoolProp's name.
PURE = [line.split() for line in """\
R-11 R11
R-12 R12
R-13 R13
R-22 R22
R-23 R23
R-32 R32
R-113 R113
R-114 R114
R-123 R123
R-124 R124
R-125 R125
R-134a R134a
R-141b R141b
R-142b R142b
R-143a R143a
R-152a R152A
R-227ea R227EA
R-236fa R236FA
R-245fa R245fa
R-290 n-Propane
R-600 n-Butane
R-600a IsoButane
R-717 Ammonia
R-744 CarbonDioxide
R-170 Ethane
R-1270 Propylene
R-1233zd(E) R1233zd(E)
R-1234yf R1234yf
R-1234ze(E) R1234ze(E)
R-1336mzz(Z) R1336mzz(Z)
R-1224yd(Z) R1224YDZ""".splitlines()]

# Designation, then the parts: CoolProp's name and percent of the mass.
BLENDS = [line.split(" ", 1) for line in """\
R-404A R125 44/R143a 52/R134a 4
R-407A R32 20/R125 40/R134a 40
R-407C R32 23/R125 25/R134a 52
R-407F R32 30/R125 30/R134a 40
R-407H R32 32.5/R125 15/R134a 52.5
R-410A R32 50/R125 50
R-417A R125 46.6/R134a 50/n-Butane 3.4
R-421A R125 58/R134a 42
R-422B R125 55/R134a 42/IsoButane 3
R-422D R125 65.1/R134a 31.5/IsoButane 3.4
R-427A R32 15/R125 25/R143a 10/R134a 50
R-442A R32 31/R125 31/R134a 30/R152A 3/R227EA 5
R-448A R32 26/R125 26/R1234yf 20/R134a 21/R1234ze(E) 7
R-449A R32 24.3/R125 24.7/R1234yf 25.3/R134a 25.7
R-450A R134a 42/R1234ze(E) 58
R-452A R32 11/R125 59/R1234yf 30
R-452B R32 67/R125 7/R1234yf 26
R-454A R32 35/R1234yf 65
R-454B R32 68.9/R1234yf 31.1
R-454C R32 21.5/R1234yf 78.5
R-455A CarbonDioxide 3/R32 21.5/R1234yf 75.5
R-466A R32 49/R125 11.5/R13I1 39.5
R-500 R12 73.8/R152A 26.2
R-502 R22 48.8/R115 51.2
R-507A R125 50/R143a 50
R-513A R1234yf 56/R134a 44""".splitlines()]

# Those of which only the fill densities are wanted: the law lists them, nobody meets them any more.
FILL_ONLY = [("R-115", "R115")]

# How far the model may be from nature, in percent of the pressure.
CHECKED_BLENDS = {"R-404A", "R-407C", "R-410A", "R-507A"}
WORSE = {
    "R-454C": (3, "2.9 % off in pressure at the normal boiling point of ASHRAE 34 (from memory)"),
    "R-455A": (3, "2.6 % off in pressure at the normal boiling point of ASHRAE 34 (from memory)"),
    "R-502": (3, "2.4 to 4.6 % off in pressure at the normal boiling point of ASHRAE 34 (from memory)"),
    "R-417A": (5, "5.2 to 5.7 % off in pressure at the normal boiling point of ASHRAE 34 (from memory)"),
    "R-422B": (5, "1.4 to 4.6 % off in pressure at the normal boiling point of ASHRAE 34 (from memory)"),
}


def doubt(designation, is_blend):
    """How far the model is to be doubted, and why."""
    if designation in WORSE:
        return WORSE[designation]
    if not is_blend:
        return "0.5", "reference equation; independent correlations of the checked fluids agree"
    if designation in CHECKED_BLENDS:
        return "0.5", "pseudo-pure equation of Lemmon (2003), declared to 0.5 %, agrees to 0.023 %"
    return "1.5", "mixture model without an independent table; boiling points of ASHRAE 34"


class Fluid:
    """One refrigerant and its solver, which remembers its last solution for the next one."""

    def __init__(self, designation, composition, is_blend):
        self.designation, self.composition, self.is_blend = designation, composition, is_blend
        if not is_blend:
            self.state = AbstractState("HEOS", composition)
            self.critical_k = self.state.T_critical()
            self.lowest_k = self.state.Tmin()
            return
        parts = [part.rsplit(" ", 1) for part in composition.split("/")]
        self.state = AbstractState("HEOS", "&".join(name for name, _ in parts))
        self.state.set_mass_fractions([float(percent) / 100 for _, percent in parts])
        self.fractions = list(self.state.get_mole_fractions())
        self.critical_k = None
        self.lowest_k = 0.0
        self.known = {}

    def covers(self, celsius):
        """Whether the equation has a liquid and its vapour at this temperature."""
        kelvin = celsius + 273.15
        return self.lowest_k < kelvin and (self.critical_k is None or kelvin < self.critical_k)

    def saturated(self, quality, celsius):
        """Pressure in kPa and density in kg/m3 at the bubble (0) or dew point (1)."""
        kelvin = celsius + 273.15
        if not self.is_blend:
            self.state.update(CP.QT_INPUTS, quality, kelvin)
        else:
            self.solve_blend(quality, kelvin)
        return self.state.p() / 1000, self.state.rhomass()

    def solve_blend(self, quality, kelvin):
        """From the nearest solution there is, in steps of at most half a kelvin."""
        known = self.known.setdefault(quality, {})
        if not known:
            self.begin(quality, known)
        at = min(known, key=lambda other: abs(other - kelvin))
        while at != kelvin or at not in known:
            step = max(-0.5, min(0.5, kelvin - at))
            at, guesses = at + step, known[at]
            if abs(at - kelvin) < 1e-9:
                at = kelvin
            self.state.update_with_guesses(CP.QT_INPUTS, quality, at, guesses)
            self.remember(known, at)
        self.state.update_with_guesses(CP.QT_INPUTS, quality, kelvin, known[kelvin])
        self.remember(known, kelvin)

    def begin(self, quality, known):
        """The first solution: near 0 degC, wherever the solver finds one by itself."""
        for kelvin in (273.15, 272.4, 274.1, 270.3, 276.2, 268.7):
            try:
                self.state.update(CP.QT_INPUTS, quality, kelvin)
            except ValueError:
                continue
            return self.remember(known, kelvin)
        raise SystemExit(f"{self.designation}: no first solution near 0 degC")

    def remember(self, known, kelvin):
        guesses = CoolProp.CoolProp.PyGuessesStructure()
        guesses.T, guesses.p = kelvin, self.state.p()
        liquid, vapour = self.state.saturated_liquid_keyed_output, self.state.saturated_vapor_keyed_output
        guesses.rhomolar_liq, guesses.rhomolar_vap = liquid(CP.iDmolar), vapour(CP.iDmolar)
        guesses.x = list(self.state.mole_fractions_liquid())
        guesses.y = list(self.state.mole_fractions_vapor())
        known[kelvin] = guesses


def fluids():
    """All refrigerants, single substances first."""
    return [Fluid(name, key, False) for name, key in PURE] + [Fluid(*row, True) for row in BLENDS]


def digits(value):
    """Seven significant digits, without an exponent and without padding."""
    places = max(0, 6 - math.floor(math.log10(value)))
    text = f"{value:.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def settings(what):
    """The opening of a table: what it holds and how it was made."""
    return (
        f"# {what}\n"
        f"# Made by generate.py of this folder with CoolProp {VERSION} (MIT licence): single substances by\n"
        "# their reference Helmholtz equation, blends by the multi-fluid Helmholtz model (HEOS) at the\n"
        "# nominal mass composition of ASHRAE Standard 34. Absolute pressures.\n"
    )


def saturation_rows(fluid):
    """The rows of one refrigerant, one per step inside what its equation covers."""
    for celsius in range(FIRST, LAST + 1, STEP):
        if fluid.covers(celsius):
            bubble, liquid = fluid.saturated(0, celsius)
            dew, vapour = fluid.saturated(1, celsius)
            values = ",".join(map(digits, (bubble, dew, liquid, vapour)))
            yield f"{fluid.designation},{celsius},{values}\n"


def fill_row(fluid):
    """Liquid densities for the fill rules; empty above the critical temperature."""
    cells = []
    for celsius in FILL_TEMPERATURES.values():
        cell = ""
        if fluid.covers(celsius):
            cell = f"{math.floor(fluid.saturated(0, celsius)[1] * 100) / 100:.2f}"
        cells.append(cell)
    return f"{fluid.designation},{','.join(cells)}\n"


def fluid_row(fluid):
    """What was computed, and how far it is to be trusted."""
    percent, why = doubt(fluid.designation, fluid.is_blend)
    critical = "" if fluid.critical_k is None else digits(fluid.critical_k)
    kind = "blend" if fluid.is_blend else "single"
    return f'{fluid.designation},{kind},{fluid.composition},{critical},{percent},"{why}"\n'


def main():
    if CoolProp.__version__ != VERSION:
        raise SystemExit(f"expected CoolProp {VERSION}, came {CoolProp.__version__}: install that one")
    if len(sys.argv) != 2:
        raise SystemExit(f"usage: {sys.argv[0]} FOLDER")
    folder, all_fluids = Path(sys.argv[1]), fluids()
    with open(folder / "saturation.csv", "w", encoding="utf-8") as out:
        out.write(settings("Saturation: kPa at bubble and dew point, kg/m3 of saturated liquid and vapour."))
        out.write("refrigerant,cel,bubble_kpa,dew_kpa,liquid_kg_m3,vapour_kg_m3\n")
        for fluid in all_fluids:
            out.writelines(saturation_rows(fluid))
    with open(folder / "fluids.csv", "w", encoding="utf-8") as out:
        out.write(settings("What was computed: composition in CoolProp's names, kelvin, percent of doubt."))
        out.write("refrigerant,kind,composition,critical_k,model_doubt_percent,doubt_source\n")
        out.writelines(map(fluid_row, all_fluids))
    with open(folder / "fill-densities.csv", "w", encoding="utf-8") as out:
        out.write(settings("Saturated liquid, kg/m3, cut to 0.01 (never rounded up), at so many degC."))
        out.write("refrigerant," + ",".join(f"kg_m3_{name}" for name in FILL_TEMPERATURES) + "\n")
        only = [Fluid(name, key, False) for name, key in FILL_ONLY]
        out.writelines(map(fill_row, all_fluids + only))


if __name__ == "__main__":
    main()
