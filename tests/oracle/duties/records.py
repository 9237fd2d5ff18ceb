"""Gaps in records: fields that were not filled in, and work that should stand beside an entry.

Fields are judged where the situation says what was filled in; what must stand in the same visit or
on the same day is always judged. Nothing is refused for a gap.
"""
from .rulebook import in_force


def gaps_of(judge):
    """One item per entry with gaps, in order."""
    result = []
    for event in judge.appliance.events:
        if judge.covered(event.day)[0] is not True:
            continue
        missing = []
        for block in judge.rules.table.get("records", ()):
            if wanted(judge, block, event):
                missing += [one for one in lacking(judge, block, event) if one not in missing]
        if missing:
            result.append({"event": event.number, "missing": missing})
    return result


def wanted(judge, block, event):
    if event.kind not in block["on"] or not in_force(block, event.day):
        return False
    if "reason" in block and event.words.get("reason") not in block["reason"]:
        return False
    return judge.test(block.get("when", {}), event.day)[0] is True


def lacking(judge, block, event):
    beside = {other.kind for other in judge.appliance.events if other is not event
              and (other.day == event.day or (event.visit and other.visit == event.visit))}
    missing = ["with:" + kind for kind in block.get("with", ()) if kind not in beside]
    if "has" in event.words:
        missing += [name for name in block.get("fields", ()) if name not in event.words["has"]]
    return missing
