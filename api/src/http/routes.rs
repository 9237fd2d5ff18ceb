//! Everything that can be asked: one table of method, address, who may, and handler.
//!
//! The service is built from this table, the OpenAPI document is written from it, and a test tries
//! every role on every row. What is not here cannot be asked.

use super::answer::{Answer, Asked};
use super::{access, entries, findings, health, help, log, openapi, people, registers, reports};
use super::{rule_sets, sessions, tokens};
use crate::actions::permit::Deed;
use crate::actions::show::things::Sort;

/// A method.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum Verb {
    Get,
    Post,
    Patch,
    Delete,
}

impl Verb {
    /// As HTTP writes it.
    pub const fn word(self) -> &'static str {
        match self {
            Verb::Get => "GET",
            Verb::Post => "POST",
            Verb::Patch => "PATCH",
            Verb::Delete => "DELETE",
        }
    }
}

/// Who may ask.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Access {
    /// Everybody, signed in or not; nobody is looked up.
    Open,
    /// Everybody; who is signed in is known to the handler.
    Maybe,
    /// Whoever is signed in.
    SignedIn,
    /// Roles that post entries of any kind; the kind's own limits are looked at by the door.
    Posting,
    /// Roles that may do this.
    To(Deed),
}

/// One row: an address with a method.
pub struct Route {
    /// Its method.
    pub method: Verb,
    /// Its address, with names in braces.
    pub path: &'static str,
    /// Who may ask.
    pub access: Access,
    /// Who answers.
    pub answer: fn(Asked) -> Answer,
    /// What it is for, in a line.
    pub summary: &'static str,
    /// Members its query may hold.
    pub query: &'static [Parameter],
    /// Schema of its body.
    pub takes: Option<&'static str>,
    /// What it answers when all is well.
    pub gives: &'static [Gives],
    /// Types of problems of its own, besides those of every route.
    pub problems: &'static [&'static str],
}

/// A member of a query.
pub struct Parameter {
    /// Its name.
    pub name: &'static str,
    /// Its schema, as JSON.
    pub schema: &'static str,
    /// What it does.
    pub about: &'static str,
}

/// An answer when all is well.
pub struct Gives {
    /// Its status.
    pub status: u16,
    /// Its media type.
    pub media: &'static str,
    /// Its schema; none: no body, or one that is no JSON.
    pub schema: Option<&'static str>,
}

impl Route {
    /// Names its query may hold.
    pub fn query_names(&self) -> Vec<&'static str> {
        self.query.iter().map(|parameter| parameter.name).collect()
    }

    /// Does it read a body?
    pub const fn reads_body(&self) -> bool {
        self.takes.is_some()
    }

    const fn asks(mut self, query: &'static [Parameter]) -> Route {
        self.query = query;
        self
    }

    const fn takes(mut self, schema: &'static str) -> Route {
        self.takes = Some(schema);
        self
    }

    const fn fails(mut self, problems: &'static [&'static str]) -> Route {
        self.problems = problems;
        self
    }
}

const fn row(
    method: Verb,
    path: &'static str,
    access: Access,
    answer: fn(Asked) -> Answer,
    summary: &'static str,
    gives: &'static [Gives],
) -> Route {
    let (query, problems): (&[Parameter], &[&str]) = (&[], &[]);
    Route {
        method,
        path,
        access,
        answer,
        summary,
        query,
        takes: None,
        gives,
        problems,
    }
}

const fn json(status: u16, schema: &'static str) -> Gives {
    Gives {
        status,
        media: "application/json",
        schema: Some(schema),
    }
}

const fn other(status: u16, media: &'static str) -> Gives {
    Gives {
        status,
        media,
        schema: None,
    }
}

const fn parameter(name: &'static str, schema: &'static str, about: &'static str) -> Parameter {
    Parameter {
        name,
        schema,
        about,
    }
}

/// A row's handler: boxes the future of an `async fn`.
macro_rules! by {
    ($handler:path) => {
        |asked| Box::pin($handler(asked))
    };
    ($handler:path, $with:expr) => {
        |asked| Box::pin($handler(asked, $with))
    };
}

const LIMIT: Parameter = parameter(
    "limit",
    r#"{"type": "integer", "minimum": 1, "maximum": 500, "default": 100}"#,
    "Most items of the page.",
);
const AFTER_TAG: Parameter = parameter(
    "after",
    r#"{"type": "string", "maxLength": 1000}"#,
    "Items whose tags come after this one; take it from next.",
);
const AFTER_SEQ: Parameter = parameter(
    "after",
    r#"{"type": "integer", "minimum": 0, "maximum": 9007199254740991}"#,
    "Entries after this number; take it from next.",
);
const AFTER: Parameter = parameter(
    "after",
    r#"{"type": "string", "maxLength": 1000}"#,
    "Where the page before ended; take it from next.",
);
const DAY: &str = r#"{"type": "string", "format": "date"}"#;
const SIZE: &str = r#"{"type": "integer", "minimum": 1, "maximum": 9007199254740991}"#;

const REPORT: &[Parameter] = &[
    parameter(
        "year",
        r#"{"type": "integer", "minimum": 1, "maximum": 9999}"#,
        "Calendar year.",
    ),
    parameter(
        "unit",
        r#"{"enum": ["lb", "kg", "g", "ug"], "default": "lb"}"#,
        "Unit of masses and of column names.",
    ),
    parameter(
        "method",
        r#"{"enum": ["annualising", "rolling"]}"#,
        "Judge every site by this method instead of its own.",
    ),
    parameter(
        "netting",
        r#"{"enum": ["visit", "gross", "returned"]}"#,
        "What is taken off an addition, instead of what the rule set says.",
    ),
    parameter(
        "as_of",
        r#"{"type": "string", "maxLength": 40}"#,
        "The book as it was: up to and including this entry number, or booked by this instant.",
    ),
];

use Access::{Maybe, Open, Posting, SignedIn, To};
use Verb::{Delete, Get, Patch, Post};

const CSV: &str = "text/csv; charset=utf-8; header=present";
const TEXT: &str = "text/plain; charset=utf-8";
const HTML: &str = "text/html; charset=utf-8";
const BYTES: &str = "application/octet-stream";

/// The table.
pub static ROUTES: &[Route] = &[
    row(
        Post,
        "/api/v1/entries",
        Posting,
        by!(entries::post),
        "Book one entry, or a list of at most 500. Repeating an entry_id books nothing twice.",
        &[
            json(201, "Posted"),
            json(200, "Posted"),
            json(207, "ListAnswer"),
        ],
    )
    .takes("Posting")
    .fails(&[
        "missing-id",
        "in-progress",
        "id-reused",
        "already-corrected",
        "needs-answer",
        "hard-stop",
        "held",
        "clock",
        "not-found",
    ]),
    row(
        Get,
        "/api/v1/entries",
        To(Deed::ReadBook),
        by!(entries::page),
        "Entries by number.",
        &[json(200, "EntryPage")],
    )
    .asks(&[AFTER_SEQ, LIMIT]),
    row(
        Get,
        "/api/v1/entries/{id}",
        To(Deed::ReadBook),
        by!(entries::one),
        "One entry by its id or number, with its leaf bytes.",
        &[json(200, "Entry"), other(304, "")],
    )
    .fails(&["not-found"]),
    row(
        Get,
        "/api/v1/entries/{id}/proof",
        To(Deed::ReadLog),
        by!(log::proof),
        "Proof that the entry is in the log (C2SP tlog-proof).",
        &[other(200, TEXT)],
    )
    .fails(&["not-found"]),
    row(
        Get,
        "/api/v1/visits/{id}",
        To(Deed::ReadBook),
        by!(entries::visit),
        "All entries that move refrigerant in a visit.",
        &[json(200, "EntryPage")],
    )
    .fails(&["not-found"]),
    row(
        Get,
        "/api/v1/appliances",
        To(Deed::ReadBook),
        by!(registers::page, Sort::Appliance),
        "Appliances by tag.",
        &[json(200, "ThingPage")],
    )
    .asks(&[AFTER_TAG, LIMIT]),
    row(
        Get,
        "/api/v1/appliances/{id}",
        To(Deed::ReadBook),
        by!(registers::one, Sort::Appliance),
        "One appliance by its id or tag.",
        &[json(200, "Thing"), other(304, "")],
    )
    .fails(&["not-found"]),
    row(
        Patch,
        "/api/v1/appliances/{id}",
        To(Deed::Register),
        by!(registers::change, Sort::Appliance),
        "Book a change of an appliance that was read in the version of If-Match.",
        &[json(201, "Posted"), json(200, "Posted")],
    )
    .takes("Change")
    .fails(CHANGE),
    row(
        Get,
        "/api/v1/appliances/{id}/standing",
        To(Deed::ReadBook),
        by!(findings::standing),
        "Full charge, balance, leak rates, limits passed and what is owed, on a day.",
        &[json(200, "Standing")],
    )
    .asks(&[parameter(
        "on",
        DAY,
        "The day; today at the site by default.",
    )])
    .fails(&["not-found"]),
    row(
        Get,
        "/api/v1/cylinders",
        To(Deed::ReadBook),
        by!(registers::page, Sort::Cylinder),
        "Cylinders by tag.",
        &[json(200, "ThingPage")],
    )
    .asks(&[AFTER_TAG, LIMIT]),
    row(
        Get,
        "/api/v1/cylinders/{id}",
        To(Deed::ReadBook),
        by!(registers::one, Sort::Cylinder),
        "One cylinder by its id or tag, with what is in it.",
        &[json(200, "Thing"), other(304, "")],
    )
    .fails(&["not-found"]),
    row(
        Patch,
        "/api/v1/cylinders/{id}",
        To(Deed::Register),
        by!(registers::change, Sort::Cylinder),
        "Book a change of a cylinder that was read in the version of If-Match.",
        &[json(201, "Posted"), json(200, "Posted")],
    )
    .takes("Change")
    .fails(CHANGE),
    row(
        Get,
        "/api/v1/sites",
        To(Deed::ReadBook),
        by!(registers::page, Sort::Site),
        "Sites by tag.",
        &[json(200, "ThingPage")],
    )
    .asks(&[AFTER_TAG, LIMIT]),
    row(
        Get,
        "/api/v1/sites/{id}",
        To(Deed::ReadBook),
        by!(registers::one, Sort::Site),
        "One site by its id or tag.",
        &[json(200, "Thing"), other(304, "")],
    )
    .fails(&["not-found"]),
    row(
        Patch,
        "/api/v1/sites/{id}",
        To(Deed::Register),
        by!(registers::change, Sort::Site),
        "Book a change of a site that was read in the version of If-Match.",
        &[json(201, "Posted"), json(200, "Posted")],
    )
    .takes("Change")
    .fails(CHANGE),
    row(
        Get,
        "/api/v1/counterparties",
        To(Deed::ReadBook),
        by!(registers::page, Sort::Counterparty),
        "Suppliers, reclaimers and other holders by tag.",
        &[json(200, "ThingPage")],
    )
    .asks(&[AFTER_TAG, LIMIT]),
    row(
        Get,
        "/api/v1/counterparties/{id}",
        To(Deed::ReadBook),
        by!(registers::one, Sort::Counterparty),
        "One counterparty by its id or tag.",
        &[json(200, "Thing"), other(304, "")],
    )
    .fails(&["not-found"]),
    row(
        Patch,
        "/api/v1/counterparties/{id}",
        To(Deed::Register),
        by!(registers::change, Sort::Counterparty),
        "Book a change of a counterparty that was read in the version of If-Match.",
        &[json(201, "Posted"), json(200, "Posted")],
    )
    .takes("Change")
    .fails(CHANGE),
    row(
        Get,
        "/api/v1/follow-ups",
        To(Deed::ReadFollowUps),
        by!(findings::flagged),
        "Appliances over a limit, with the limit, its clause and what is owed first.",
        &[json(200, "FlaggedPage")],
    )
    .asks(&[
        AFTER_TAG,
        LIMIT,
        parameter(
            "since",
            DAY,
            "Limits passed from this day on; 365 days by default.",
        ),
    ]),
    row(
        Get,
        "/api/v1/duties",
        To(Deed::ReadFollowUps),
        by!(findings::duties),
        "What is owed, appliance by appliance, with clause and first due date.",
        &[json(200, "DutyPage")],
    )
    .asks(&[
        AFTER_TAG,
        LIMIT,
        parameter(
            "since",
            DAY,
            "Limits passed from this day on; 365 days by default.",
        ),
    ]),
    row(
        Get,
        "/api/v1/findings",
        To(Deed::ReadFollowUps),
        by!(findings::page),
        "What a person should look at.",
        &[json(200, "FindingPage")],
    )
    .asks(&[
        AFTER,
        LIMIT,
        parameter(
            "settled",
            r#"{"enum": ["no", "yes"], "default": "no"}"#,
            "yes: also those that are settled.",
        ),
    ]),
    row(
        Get,
        "/api/v1/rule-sets",
        To(Deed::ReadBook),
        by!(rule_sets::all),
        "Rule sets that come with the program, and those that were adopted.",
        &[json(200, "RuleSetPage")],
    ),
    row(
        Get,
        "/api/v1/rule-sets/{id}",
        To(Deed::ReadBook),
        by!(rule_sets::one),
        "The text of a rule set as JSON.",
        &[json(200, "RuleSetText")],
    )
    .fails(&["not-found"]),
    row(
        Get,
        "/api/v1/reports/{name}.evidence.csv",
        To(Deed::Report),
        by!(reports::evidence),
        "Which entry contributed what to which figure of a report.",
        &[other(200, CSV)],
    )
    .asks(REPORT)
    .fails(&["not-found"]),
    row(
        Get,
        "/api/v1/reports/{name}.csv-metadata.json",
        To(Deed::Report),
        by!(reports::metadata),
        "Columns of a report, rule sets, and the root it was made from (CSVW).",
        &[Gives {
            status: 200,
            media: "application/csvm+json",
            schema: Some("Metadata"),
        }],
    )
    .asks(REPORT)
    .fails(&["not-found"]),
    row(
        Get,
        "/api/v1/reports/{name}.csv",
        To(Deed::Report),
        by!(reports::csv),
        "A yearly report: appliance-year or additions.",
        &[other(200, CSV)],
    )
    .asks(REPORT)
    .fails(&["not-found"]),
    row(
        Get,
        "/api/v1/log/checkpoint",
        To(Deed::ReadCheckpoint),
        by!(log::checkpoint),
        "The newest checkpoint, signed at once (C2SP tlog-checkpoint).",
        &[other(200, TEXT)],
    )
    .fails(&["not-found"]),
    row(
        Get,
        "/api/v1/log/vkeys",
        To(Deed::ReadCheckpoint),
        by!(log::keys),
        "The verification keys of the book, one a line.",
        &[other(200, TEXT)],
    ),
    row(
        Get,
        "/api/v1/log/tile/{tile:.*}",
        To(Deed::ReadLog),
        by!(log::tile),
        "Hashes or entries of the log (C2SP tlog-tiles).",
        &[other(200, BYTES)],
    )
    .fails(&["not-found"]),
    row(
        Get,
        "/api/v1/log/consistency",
        To(Deed::ReadLog),
        by!(log::consistency),
        "Proof that an older tree is the beginning of a newer one (RFC 6962, 2.1.2).",
        &[json(200, "Consistency")],
    )
    .asks(&[
        parameter("from", SIZE, "Size of the older tree."),
        parameter(
            "to",
            SIZE,
            "Size of the newer tree; the newest signed by default.",
        ),
    ])
    .fails(&["not-found"]),
    row(
        Get,
        "/api/v1/log/bundle",
        To(Deed::ReadLog),
        by!(log::bundle),
        "The whole book in one tar file that other software can check.",
        &[other(200, "application/x-tar")],
    ),
    row(
        Post,
        "/api/v1/sessions",
        Maybe,
        by!(sessions::open),
        "Sign in with e-mail and password; answers the cookie of a session.",
        &[json(201, "Session")],
    )
    .takes("SignIn")
    .fails(&["not-signed-in", "too-many"]),
    row(
        Get,
        "/api/v1/sessions",
        To(Deed::OwnSessions),
        by!(sessions::list),
        "One's own sessions.",
        &[json(200, "SessionPage")],
    ),
    row(
        Get,
        "/api/v1/sessions/current",
        SignedIn,
        by!(sessions::current),
        "Who is signed in, where, in which roles.",
        &[json(200, "Session")],
    ),
    row(
        Delete,
        "/api/v1/sessions/current",
        SignedIn,
        by!(sessions::end_current),
        "Sign out.",
        &[other(204, "")],
    ),
    row(
        Delete,
        "/api/v1/sessions/{id}",
        To(Deed::OwnSessions),
        by!(sessions::end_one),
        "End one of one's own sessions.",
        &[other(204, "")],
    )
    .fails(&["not-found"]),
    row(
        Get,
        "/api/v1/tokens",
        To(Deed::RevokeTokens),
        by!(tokens::list),
        "Tokens of the organisation, without their secrets.",
        &[json(200, "TokenPage")],
    ),
    row(
        Post,
        "/api/v1/tokens",
        To(Deed::IssueTokens),
        by!(tokens::issue),
        "Issue a token for a device. The secret is shown once.",
        &[json(201, "NewToken")],
    )
    .takes("TokenRequest")
    .fails(&["not-found"]),
    row(
        Delete,
        "/api/v1/tokens/{id}",
        To(Deed::RevokeTokens),
        by!(tokens::revoke),
        "Revoke a token; it holds no longer from the next request on.",
        &[other(204, "")],
    )
    .fails(&["not-found"]),
    row(
        Get,
        "/api/v1/people",
        To(Deed::ReadPeople),
        by!(people::page),
        "Who may sign in.",
        &[json(200, "PersonPage")],
    ),
    row(
        Get,
        "/api/v1/people/{id}",
        To(Deed::ReadPeople),
        by!(people::one),
        "One person who may sign in.",
        &[json(200, "Person"), other(304, "")],
    )
    .fails(&["not-found"]),
    row(
        Post,
        "/api/v1/people",
        To(Deed::ManagePeople),
        by!(people::add),
        "Add somebody who may sign in.",
        &[json(201, "Person")],
    )
    .takes("PersonRequest")
    .fails(&["missing-id", "not-found", "clock"]),
    row(
        Patch,
        "/api/v1/people/{id}",
        To(Deed::ManagePeople),
        by!(people::change),
        "Set roles or a password, disable or enable, end all sessions.",
        &[json(200, "Person")],
    )
    .takes("PersonChange")
    .fails(CHANGE),
    row(
        Get,
        "/api/v1/access-records",
        To(Deed::ReadAccessRecords),
        by!(access::page),
        "Who read personal data, exported, signed in or changed who may; newest first.",
        &[json(200, "AccessPage")],
    )
    .asks(&[AFTER, LIMIT]),
    row(
        Post,
        "/api/v1/sessions/current/password",
        SignedIn,
        by!(sessions::set_password),
        "Set another password of one's own, within five minutes of signing in.",
        &[other(204, "")],
    )
    .takes("NewPassword"),
    row(
        Get,
        "/api/v1/openapi.json",
        Open,
        by!(openapi::document),
        "This description.",
        &[json(200, "OpenApi")],
    ),
    row(
        Get,
        "/api/v1/docs",
        Open,
        by!(openapi::page),
        "This description, to be read by people.",
        &[other(200, HTML)],
    ),
    row(
        Get,
        "/problems/{slug}",
        Open,
        by!(help::problem),
        "What a type of problem means and what to do.",
        &[other(200, HTML)],
    )
    .fails(&["not-found"]),
    row(
        Get,
        "/questions/{code}",
        Open,
        by!(help::question),
        "What a question or a stop means and how to answer it.",
        &[other(200, HTML)],
    )
    .fails(&["not-found"]),
    row(
        Get,
        "/livez",
        Open,
        by!(health::live),
        "Is the process there?",
        &[json(200, "Health")],
    ),
    row(
        Get,
        "/readyz",
        Open,
        by!(health::ready),
        "Can it take postings?",
        &[json(200, "Health"), json(503, "Health")],
    ),
];

const CHANGE: &[&str] = &[
    "missing-id",
    "in-progress",
    "id-reused",
    "needs-answer",
    "stale-version",
    "version-required",
    "clock",
    "not-found",
];
