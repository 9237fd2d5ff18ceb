"""Random histories of appliances, as situations without an expectation.

`story` writes one history step by step, `american` and `elsewhere` know what happens to appliances
under which sets. The same seed gives the same file. Nothing here evaluates anything.
"""
