"""Counts the checks of a program and says what failed as it happens."""

passed = failed = 0


def check(what, good, told=""):
    global passed, failed
    if good:
        passed += 1
    else:
        failed += 1
        print(f"FAILED: {what} {told}")


def closed():
    """Prints the closing line; its value says whether anything failed."""
    print(f"{passed} passed, {failed} failed")
    return failed > 0
