//! Members that queries may hold: name, schema, and what each does.

use super::Parameter;

const fn parameter(name: &'static str, schema: &'static str, about: &'static str) -> Parameter {
    Parameter {
        name,
        schema,
        about,
    }
}

pub(super) const LIMIT: Parameter = parameter(
    "limit",
    r#"{"type": "integer", "minimum": 1, "maximum": 500, "default": 100}"#,
    "Most items of the page.",
);
pub(super) const AFTER_TAG: Parameter = parameter(
    "after",
    r#"{"type": "string", "maxLength": 1000}"#,
    "Items whose tags come after this one; take it from next.",
);
pub(super) const AFTER_SEQ: Parameter = parameter(
    "after",
    r#"{"type": "integer", "minimum": 0, "maximum": 9007199254740991}"#,
    "Entries after this number; take it from next.",
);
pub(super) const AFTER_FINDING: Parameter = parameter(
    "after",
    r#"{"type": "string", "pattern": "^[0-9]{1,15}\\.[0-9]{1,18}\\.[a-z_]{1,60}$"}"#,
    "Where the page before ended; take it from next.",
);
pub(super) const AFTER_RECORD: Parameter = parameter(
    "after",
    r#"{"type": "string", "pattern": "^[0-9]{1,16}\\.[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$"}"#,
    "Where the page before ended; take it from next.",
);
const DAY: &str = r#"{"type": "string", "format": "date"}"#;
const SIZE: &str = r#"{"type": "integer", "minimum": 1, "maximum": 9007199254740991}"#;

const YEAR: Parameter = parameter(
    "year",
    r#"{"type": "integer", "minimum": 1, "maximum": 9999}"#,
    "Calendar year.",
);
const UNIT: Parameter = parameter(
    "unit",
    r#"{"enum": ["lb", "kg", "g", "ug"], "default": "lb"}"#,
    "Unit of masses and of column names.",
);
const METHOD: Parameter = parameter(
    "method",
    r#"{"enum": ["annualising", "rolling"]}"#,
    "Judge every site by this method instead of its own.",
);
const NETTING: Parameter = parameter(
    "netting",
    r#"{"enum": ["visit", "gross", "returned"]}"#,
    "What is taken off an addition, instead of what the rule set says.",
);
const AS_OF: Parameter = parameter(
    "as_of",
    r#"{"type": "string", "maxLength": 40}"#,
    "The book as it was: up to and including this entry number, or booked by this instant.",
);
const LAST_DAY: Parameter = parameter(
    "on",
    DAY,
    "The last day looked at, a day of the year; by default 31 December, and for reports that \
     say how things stand no later than the day of the newest entry.",
);
const GWP_BASIS: Parameter = parameter(
    "gwp_basis",
    r#"{"enum": ["AR4", "AR5", "AR6", "EU-2024/573", "US-84.64"]}"#,
    "Global warming potentials by which yearly-co2e also sums the calendar year.",
);

/// What a report is asked with.
pub(super) const REPORT: &[Parameter] = &[
    YEAR,
    UNIT,
    METHOD,
    NETTING,
    AS_OF,
    LAST_DAY,
    GWP_BASIS,
    parameter(
        "for",
        r#"{"enum": ["programs", "spreadsheet"], "default": "programs"}"#,
        "programs: UTF-8, commas, decimal points, the same bytes for ever. spreadsheet: UTF-8 with a \
         byte-order mark, separator and decimal sign as asked for, an apostrophe before each text \
         that could be taken for a number or a day.",
    ),
    parameter(
        "separator",
        r#"{"enum": ["comma", "semicolon"]}"#,
        "For a spreadsheet: what stands between cells; by default a comma, beside decimal commas a \
         semicolon.",
    ),
    parameter(
        "decimal",
        r#"{"enum": ["point", "comma"], "default": "point"}"#,
        "For a spreadsheet: the decimal sign; a comma needs semicolons between cells.",
    ),
];

/// What a report as a workbook is asked with.
pub(super) const WORKBOOK: &[Parameter] =
    &[YEAR, UNIT, METHOD, NETTING, AS_OF, LAST_DAY, GWP_BASIS];

/// What the description of a report is asked with.
pub(super) const DESCRIPTION: &[Parameter] = &[
    YEAR,
    UNIT,
    METHOD,
    NETTING,
    AS_OF,
    LAST_DAY,
    GWP_BASIS,
    parameter(
        "describes",
        r#"{"enum": ["address", "file"], "default": "address"}"#,
        "What its member url names: the address of the report, or the name of its saved file, so \
         that both can lie in one folder.",
    ),
];

pub(super) const SINCE: Parameter = parameter(
    "since",
    DAY,
    "Limits passed from this day on; by default 365 days before today.",
);
pub(super) const SETTLED: Parameter = parameter(
    "settled",
    r#"{"enum": ["no", "yes"], "default": "no"}"#,
    "yes: also those that are settled.",
);
pub(super) const FROM: Parameter = parameter("from", SIZE, "Size of the older tree.");
pub(super) const TO: Parameter = parameter(
    "to",
    SIZE,
    "Size of the newer tree; by default the newest signed.",
);

pub(super) const ON: Parameter = parameter("on", DAY, "The day; today at the site by default.");

pub(super) const SHIPMENTS: &[Parameter] = &[
    parameter(
        "after",
        r#"{"type": "integer", "minimum": 0, "maximum": 9007199254740991}"#,
        "Shipments before this number; take it from next.",
    ),
    LIMIT,
    parameter(
        "state",
        r#"{"enum": ["disputed", "open_difference", "shipment_gone", "waiting", "accepted", "fits", "settled"]}"#,
        "How they stand; without it all of them.",
    ),
    parameter(
        "counterparty",
        r#"{"type": "string", "maxLength": 1000}"#,
        "Sent to this one, by its id or tag.",
    ),
];

pub(super) const DUTIES: &[Parameter] = &[
    parameter(
        "after",
        r#"{"type": "string", "maxLength": 1000}"#,
        "Where the page before ended; take it from next.",
    ),
    LIMIT,
    parameter(
        "site",
        r#"{"type": "string", "maxLength": 1000}"#,
        "Of the appliances of this site, by its id or tag.",
    ),
    parameter(
        "person",
        r#"{"type": "string", "maxLength": 1000}"#,
        "Assigned to this person, by id or tag; me: to who asks; nobody: to nobody.",
    ),
    parameter("from", DAY, "Due (or done, or ended) on this day or later."),
    parameter("to", DAY, "Due (or done, or ended) on this day or earlier."),
    parameter("since", DAY, "Started on this day or later."),
    parameter(
        "state",
        r#"{"enum": ["owed", "late", "due", "not_due", "done", "waived", "all"], "default": "owed"}"#,
        "How they stand: due is within seven days or without a day, waived is not needed any more.",
    ),
];
