#!/usr/bin/env python3
"""Fits the virial coefficients of nitrogen that `reports/src/physics/nitrogen.rs` holds.

    python -m pip install CoolProp==8.0.0 numpy
    python reports/data/physics/fit_nitrogen.py

p = rho R T (1 + B rho + C rho^2 + D rho^3) with B = b0 + b1/T + b2/T^2 + b3/T^3, C = c0 + c1/T and a
constant D, by least squares to (Z - 1)/rho of CoolProp's nitrogen from 243 to 339 K and 0.1 to 6 MPa.
It prints the coefficients and the worst error of a pressure test, in psi, by start pressure.
"""

import CoolProp.CoolProp as CP
import numpy as np

GAS_CONSTANT = 8.31446261815324
PSI, AIR = 6894.757293168361, 101325.0


def density(pascal, kelvin):
    return CP.PropsSI("Dmolar", "P", pascal, "T", kelvin, "Nitrogen")


def fit():
    rows, right = [], []
    for kelvin in np.arange(243.0, 339.5, 2.0):
        for pascal in np.linspace(1e5, 6e6, 60):
            rho = density(pascal, kelvin)
            rows.append([1, 1 / kelvin, kelvin**-2, kelvin**-3, rho, rho / kelvin, rho**2])
            right.append((pascal / (rho * GAS_CONSTANT * kelvin) - 1) / rho)
    rows = np.array(rows)
    scale = np.abs(rows).max(axis=0)
    found, *_ = np.linalg.lstsq(rows / scale, np.array(right), rcond=None)
    return found / scale


def factor(found, rho, kelvin):
    b0, b1, b2, b3, c0, c1, d = found
    second = b0 + (b1 + (b2 + b3 / kelvin) / kelvin) / kelvin
    return 1 + rho * (second + rho * (c0 + c1 / kelvin + rho * d))


def after(found, pascal, start, end):
    ideal = pascal / (GAS_CONSTANT * start)
    rho = ideal
    for _ in range(40):
        rho = ideal / factor(found, rho, start)
    return rho * GAS_CONSTANT * end * factor(found, rho, end)


def main():
    found = [float(f"{value:.6e}") for value in fit()]
    print(dict(zip(("b0", "b1", "b2", "b3", "c0", "c1", "d"), found)))
    kelvin = [(degrees - 32) / 1.8 + 273.15 for degrees in range(0, 131, 10)]
    for psig in (150, 300, 500, 600):
        pascal = psig * PSI + AIR
        worst = max(
            abs(after(found, pascal, start, end) - CP.PropsSI("P", "T", end, "Dmolar", density(pascal, start), "Nitrogen"))
            for start in kelvin
            for end in kelvin
        )
        print(f"{psig} psig: {worst / PSI:.5f} psi")


if __name__ == "__main__":
    main()
