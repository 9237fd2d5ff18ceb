"""Reads a mass as an entry keeps it, by exact fractions, without the program's own reader.

One pound is 453.59237 g exactly and an ounce a sixteenth of it (NIST SP 811, appendix B). Codes of
units are those of UCUM.
"""

import re
from fractions import Fraction

POUND = Fraction(45359237, 100000)
CODES = {
    "[lb_av]": POUND,
    "[oz_av]": POUND / 16,
    "kg": Fraction(1000),
    "g": Fraction(1),
    "mg": Fraction(1, 1000),
    "ug": Fraction(1, 1000000),
}
WORDS = {
    "[lb_av]": "lb|lbs|pound|pounds|#",
    "[oz_av]": "oz|ounce|ounces",
    "kg": "kg|kgs|kilos?|kilograms?|kilogrammes?",
    "g": "g|grams?|grammes?",
}
SMALL = {"mg": "mg|milligrams?", "ug": "ug|\u00b5g|\u03bcg|micrograms?"}
# A comma with three digits after it could be a thousand: such a text is never kept.
NUMBER = r"(\d+ \d+/[1-9]\d*|\d+/[1-9]\d*|\d+|\d*\.\d+|\d*,(?!\d{3}(?!\d))\d+)"
VULGAR = {"\u00bd": " 1/2", "\u00bc": " 1/4", "\u00be": " 3/4"}


def grams(text, unit, answer=None):
    """Exact grams, or None when the text cannot be read; `answer` is that to pounds_or_ounces."""
    for sign, digits in VULGAR.items():
        text = text.replace(sign, digits)
    text = re.sub(r"[\s\u00a0\u202f\u2009]+", " ", text).strip()
    pounds, ounces = WORDS["[lb_av]"], WORDS["[oz_av]"]
    both = re.fullmatch(
        rf"(\d+) ?(?:{pounds}),?(?: and)? ?{NUMBER} ?(?:{ounces})", text, re.IGNORECASE | re.ASCII
    )
    if both:
        rest = number(both[2])
        return (int(both[1]) + rest / 16) * POUND if rest < 16 else None
    one = re.fullmatch(rf"{NUMBER} ?([^\d.,/ ]*)", text, re.ASCII)
    if not one:
        return None
    code = unit if not one[2] else code_of(one[2])
    if code not in CODES:
        return None
    if code == "[lb_av]" and re.fullmatch(r"\d*[.,]1[0-5]", one[1]) and answer != "as_pounds":
        # 7.12 may be decimal pounds or 7 lb 12 oz; the entry has to say which.
        if answer != "as_pounds_and_ounces":
            return None
        whole, ounces = re.split("[.,]", one[1])
        return (int(whole or 0) + Fraction(int(ounces), 16)) * POUND
    return number(one[1]) * CODES[code]


def number(text):
    whole, _, rest = text.rpartition(" ")
    return Fraction(whole or 0) + Fraction(rest.replace(",", "."))


def code_of(word):
    for code, words in SMALL.items():
        if re.fullmatch(words, word):
            return code
    for code, words in WORDS.items():
        if re.fullmatch(words, word, re.IGNORECASE):
            return code
    return None
