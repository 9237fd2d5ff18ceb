"""Where the description leaves something open, and how it is read here.

No situation worked out by hand decides these. An outcome that rests on one of them says so, so that
a difference between two evaluations can be told apart from a mistake: either may be changed once a
person with the text of the law has decided.
"""

READINGS = {
    "second-case":
        "Every exceedance, leak or other start opens a case of its own, also while an older case "
        "is open: its duties are then owed twice, each with its own date.",
    "starts-of-one-day":
        "Two starts of one day open two cases, unless they are steps of one addition.",
    "all-cases":
        "One event fulfils or lifts the open duties of every case; of a notice those of its name "
        "that are due first, because the report of one year is not that of the next.",
    "later-step":
        "Each step of an addition that is over the limit is listed; only the first starts a case.",
    "joined-by-limit":
        "A limit that starts a duty with `while_open` joins the case in which that duty is open, "
        "with the root of that case.",
    "after-done-scope":
        "`after_done` asks the case that is joined, not the whole appliance.",
    "not-needed-open":
        "A duty that is not needed meanwhile counts as open for `while_open`.",
    "reopen-scope":
        "An event reopens only in a case in which it means something to a duty that is open: the "
        "failed test of this year's repair does not open last year's, which another test verified.",
    "work-before":
        "Work of the same day or visit counts for every duty that starts, not only for those that "
        "the charge started.",
    "lifted-before":
        "What would lift a duty and stands before its start on the same day does not lift it.",
    "missed-again":
        "A duty that is open again, or was extended, can be missed again and start what follows.",
    "visit-on-another-day":
        "Work of the same visit on an earlier day counts, and what follows counts from its day.",
    "asked-after-due":
        "An extension without a last day for asking is not taken after the due day.",
    "extended-after-miss":
        "One whose last day for asking is still to come is taken after the due day; the duty is "
        "open again and what its miss had started stays.",
    "extended-twice":
        "Each extension is judged alone and the latest date holds: a second one on the same "
        "ground never shortens the first.",
    "words-after-miss":
        "Words of the case move the date after it was missed too; what the miss started stays.",
    "words-after-done":
        "Words of the case no longer touch a duty that is done: its date is the one it had then.",
    "no-first-extension":
        "A second extension, counted from a first that was never taken, is not taken.",
    "gap-of-corrected":
        "A gap of a corrected entry names the entry, not its correction.",
    "pause-ends":
        "A pause ends with the next charge, not with being back in operation.",
    "pause-of-cadence":
        "A pause moves the date of a cadence by the days that lie after its last act.",
    "quiet-in-pause":
        "The time without an exceedance that ends a cadence runs on during a pause.",
    "installed-unknown":
        "A duty from being covered cannot be judged without the day of installation, unless an "
        "act is known.",
    "retired":
        "Retiring ends no coverage: what is owed for being covered stays owed.",
    "when-later":
        "A duty from being covered begins with the coverage, even where its `when` came true "
        "later.",
    "act-before":
        "An act before a duty from being covered began does not count as its last.",
    "facts-of-start":
        "Lines and bands of a duty read the facts of its first day; of one from being covered, "
        "those of the day asked.",
    "hours-of-day":
        "A deadline by the clock is overdue after its day; an act later on that day is late.",
    "date-only":
        "An act of which only the date is known stands at 00:00 before a `not_before`.",
    "steps-of-visit":
        "A visit with several charges has an addition for each of them, with the sum so far.",
    "recovered-after":
        "A visit is judged at its charges alone: what is recovered after the last of them changes "
        "no figure.",
    "test-later-that-day":
        "A follow-up test that showed every leak repaired begins the rolling window after its day, "
        "at whatever time of the day it was.",
    "visits-of-day":
        "Visits of one day are one addition, and days are counted from a day before it.",
    "new-life":
        "After a retrofit the days count from it as from an installation; its charge is left out "
        "by its reason alone.",
    "late":
        "A duty was known from the first day of booking from which it stays; being late on "
        "discovery is inherited, and said of a duty that was done in time too.",
    "unknown-day":
        "What cannot be judged on the day of an addition is missing, known later or not.",
    "unknown-duty":
        "A duty of which any line cannot be judged cannot be judged.",
    "lapse":
        "Duties lapse on the first day without coverage, what their miss started with them.",
}
