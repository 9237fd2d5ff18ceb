"""Writing the full outcome of a situation as its expectation.

Everything that an expectation can assert is written: all additions, exceedances and duties, and as
`absent` every duty of the set that did not occur. A set that sums over the organisation, and a
situation of several appliances, is written by name.
"""
from .outcome import evaluate
from .rulebook import RuleError


def expectation(situation, tables, touched=None):
    """By set id; `touched` collects the open readings on which it rests."""
    result = {}
    for name in situation["sets"]:
        try:
            outcomes = evaluate(situation, name, tables, touched)
        except RuleError as error:
            return {"error": str(error)}
        for where, outcome in outcomes.items():
            outcome["absent"] = absent(tables[name], where, outcome)
            if "leak_rate" not in tables[name]:
                outcome.pop("additions", None)  # The set computes none: nothing is asserted.
        alone = len(outcomes) == 1 and "appliances" not in situation
        result[name] = outcomes["A"] if alone else outcomes
    return result


def absent(table, where, outcome):
    """Names of duties of this subject without a row."""
    subject = "organisation" if where == "organisation" else "appliance"
    present = {row["duty"] for row in outcome["duties"]}
    return sorted(duty["name"] for duty in table.get("duties", ())
                  if duty.get("subject", "appliance") == subject and duty["name"] not in present)
