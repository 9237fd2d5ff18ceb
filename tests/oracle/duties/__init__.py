"""An independent, slow evaluation of duties, written from the description of the rule vocabulary.

It never shares a line with the program: it reads the same rule files and the same tables, and works
everything out anew for the day asked, with exact fractions and the dates of the standard library.
`times` counts days, `tables` reads masses and refrigerants, `rulebook` reads rule sets and layers,
`history` puts events in order, `judging` answers tests, `additions` and `limits` find what is too
much, `deadlines` and `walk` find what is owed, `outcome` puts it in words, `compare` holds it
against an expectation.
"""
