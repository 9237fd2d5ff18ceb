"""Holding outcomes against the expectation of a situation.

An item names only what it asserts. Lists of additions and exceedances are complete and in order,
gaps and missing facts are exact, each expected duty must match an actual row of its own.
"""
from .outcome import evaluate
from .rulebook import RuleError

OUTCOME = {"applies", "band", "missing", "gaps", "additions", "exceedances", "duties", "absent"}


def check(situation, tables):
    """Every difference between a situation and its expectation, in words."""
    expect, differences = situation["expect"], []
    try:
        found = {name: evaluate(situation, name, tables) for name in situation["sets"]}
    except RuleError as error:
        if expect.get("error") and expect["error"] in str(error):
            return []
        return [f"error: {error}"]
    if "error" in expect:
        return [f"expected an error with '{expect['error']}', found none"]
    for name, outcomes in expect.items():
        by_appliance = {"A": outcomes} if set(outcomes) <= OUTCOME else outcomes
        for appliance, outcome in by_appliance.items():
            for line in differences_of(outcome, found[name][appliance]):
                differences.append(f"{name} {appliance}: {line}")
    return differences


def differences_of(expected, actual):
    for key in ("applies", "band", "missing", "gaps"):
        if key in expected and expected[key] != actual.get(key):
            yield f"{key}: expected {expected[key]}, found {actual.get(key)}"
    for key in ("additions", "exceedances"):
        if key in expected and not same_list(expected[key], actual[key]):
            yield f"{key}: expected {expected[key]}, found {actual[key]}"
    if "duties" in expected and not assign(expected["duties"], actual["duties"]):
        yield f"duties: expected {expected['duties']}, found {actual['duties']}"
    names = {row["duty"] for row in actual["duties"]}
    for name in expected.get("absent", ()):
        if name in names:
            yield f"absent: {name} was found"


def agrees(expected, actual):
    return all(actual.get(key) == value for key, value in expected.items())


def same_list(expected, actual):
    return len(expected) == len(actual) and all(map(agrees, expected, actual))


def assign(expected, actual):
    """Whether every expected row can have an actual row of its own."""
    if not expected:
        return True
    return any(agrees(expected[0], row) and assign(expected[1:], actual[:i] + actual[i + 1:])
               for i, row in enumerate(actual))
