//! Everything that can be asked: one table of method, address, who may, and handler.
//!
//! The service is built from this table, the OpenAPI document is written from it, and a test tries
//! every role on every row. What is not here cannot be asked.

mod parameters;
mod physics;
mod row;

use super::physics::Question;
use super::{
    access, calendar, duties, entries, factor, findings, health, help, log, mail, openapi, people,
};
use super::{
    physics as pure, registers, reports, rule_sets, second_step, sessions, shipments, tokens,
};
use crate::actions::permit::Deed;
use crate::actions::show::things::Sort;

/// Rows of the table: method, address, who may, handler (with what it is given besides the request),
/// a line for people, answers; then what of query, body and own problems there is.
macro_rules! table {
    ($($method:ident $path:literal $access:expr =>
        $room:ident :: $handler:ident $(($with:expr))?, $summary:literal,
        [$($gives:expr),*] $(, asks $query:expr)? $(, takes $takes:literal)?
        $(, fails [$($problem:literal)*])? $(, changes $change:literal)?;)+) => {
        &[$(Route {
            method: Verb::$method,
            path: $path,
            access: $access,
            answer: |asked| Box::pin($room::$handler(asked $(, $with)?)),
            summary: $summary,
            query: table!(@or $($query)?),
            takes: table!(@some $($takes)? $($change)?),
            gives: &[$($gives),*],
            problems: table!(@fails [$($($problem)*)?] $($change)?),
        }),+]
    };
    (@or $query:expr) => { $query };
    (@or) => { &[] };
    (@some $schema:literal) => { Some($schema) };
    (@some) => { None };
    (@fails [$($problem:literal)*]) => { &[$($problem),*] };
    (@fails [] $change:literal) => { CHANGE };
}

pub use row::{Access, Gives, Parameter, Route, Verb};
use row::{json, other};

use Access::{Maybe, Open, Posting, SignedIn, To};
use parameters::{
    AFTER_FINDING, AFTER_RECORD, AFTER_SEQ, AFTER_TAG, DESCRIPTION, DUTIES, FROM, LIMIT, ON,
    REPORT, SETTLED, SHIPMENTS, SINCE, TO, WORKBOOK,
};

const CSV: &str = "text/csv; charset=utf-8; header=present";
const CALENDAR: &str = "text/calendar; charset=utf-8";
const TEXT: &str = "text/plain; charset=utf-8";
const HTML: &str = "text/html; charset=utf-8";

/// Problems of what changes a thing that was read in a version.
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

const BOOK: Access = To(Deed::ReadBook);
const REGISTER: Access = To(Deed::ReadRegister);
const FOLLOW_UPS: Access = To(Deed::ReadFollowUps);
const REPORTS: Access = To(Deed::Report);
const LOG: Access = To(Deed::ReadLog);
const CHECKPOINT: Access = To(Deed::ReadCheckpoint);

/// The table.
pub static ROUTES: &[Route] = table! {
    // The one door for facts, and reading them back.
    Post "/api/v1/entries" Posting => entries::post,
        "Book one entry, or a list of at most 500. Repeating an entry_id books nothing twice.",
        [json(201, "Posted"), json(200, "Posted"), json(207, "ListAnswer")], takes "Posting",
        fails ["missing-id" "in-progress" "id-reused" "already-corrected" "needs-answer"
               "hard-stop" "held" "clock" "not-found"];
    Post "/api/v1/entries/what-if" Posting => entries::what_if,
        "What one entry would come to: its questions, stops, findings and standing. Books nothing.",
        [json(200, "WouldBe")], takes "EntryRequest",
        fails ["id-reused" "already-corrected" "needs-answer" "hard-stop" "clock" "not-found"];
    Get "/api/v1/entries" BOOK => entries::page,
        "Entries by number.", [json(200, "EntryPage")], asks &[AFTER_SEQ, LIMIT];
    Get "/api/v1/entries/{id}" BOOK => entries::one,
        "One entry by its id or number, with its leaf bytes.",
        [json(200, "Entry"), other(304, "")], fails ["not-found"];
    Get "/api/v1/entries/{id}/proof" LOG => log::proof,
        "Proof that the entry is in the log (C2SP tlog-proof).", [other(200, TEXT)],
        fails ["not-found"];
    Get "/api/v1/visits/{id}" BOOK => entries::visit,
        "All entries that move refrigerant in a visit.", [json(200, "EntryPage")],
        fails ["not-found"];

    // Registers.
    Get "/api/v1/appliances" REGISTER => registers::page(Sort::Appliance),
        "Appliances by tag.", [json(200, "ThingPage")], asks &[AFTER_TAG, LIMIT];
    Get "/api/v1/appliances/{id}" REGISTER => registers::one(Sort::Appliance),
        "One appliance by its id or tag.", [json(200, "Thing"), other(304, "")],
        fails ["not-found"];
    Patch "/api/v1/appliances/{id}" To(Deed::Register) => registers::change(Sort::Appliance),
        "Book a change of an appliance that was read in the version of If-Match.",
        [json(201, "Posted"), json(200, "Posted")], changes "Change";
    Get "/api/v1/cylinders" REGISTER => registers::page(Sort::Cylinder),
        "Cylinders by tag.", [json(200, "ThingPage")], asks &[AFTER_TAG, LIMIT];
    Get "/api/v1/cylinders/{id}" REGISTER => registers::cylinder,
        "One cylinder by its id or tag: what is in it and may be, whose, its checks, its entries.",
        [json(200, "Cylinder"), other(304, "")], fails ["not-found"];
    Patch "/api/v1/cylinders/{id}" To(Deed::Register) => registers::change(Sort::Cylinder),
        "Book a change of a cylinder that was read in the version of If-Match.",
        [json(201, "Posted"), json(200, "Posted")], changes "Change";
    Get "/api/v1/sites" REGISTER => registers::page(Sort::Site),
        "Sites by tag.", [json(200, "ThingPage")], asks &[AFTER_TAG, LIMIT];
    Get "/api/v1/sites/{id}" REGISTER => registers::one(Sort::Site),
        "One site by its id or tag.", [json(200, "Thing"), other(304, "")], fails ["not-found"];
    Patch "/api/v1/sites/{id}" To(Deed::Register) => registers::change(Sort::Site),
        "Book a change of a site that was read in the version of If-Match.",
        [json(201, "Posted"), json(200, "Posted")], changes "Change";
    Get "/api/v1/counterparties" REGISTER => registers::page(Sort::Counterparty),
        "Suppliers, reclaimers and other holders by tag.", [json(200, "ThingPage")],
        asks &[AFTER_TAG, LIMIT];
    Get "/api/v1/scales" REGISTER => registers::scales,
        "Scales by tag with their checks by known weights and when the next is due.",
        [json(200, "ScalePage")], asks &[AFTER_TAG, LIMIT];
    Get "/api/v1/counterparties/{id}" REGISTER => registers::one(Sort::Counterparty),
        "One counterparty by its id or tag.", [json(200, "Thing"), other(304, "")],
        fails ["not-found"];
    Patch "/api/v1/counterparties/{id}" To(Deed::Register) => registers::change(Sort::Counterparty),
        "Book a change of a counterparty that was read in the version of If-Match.",
        [json(201, "Posted"), json(200, "Posted")], changes "Change";

    // What is worked out.
    Get "/api/v1/shipments" REPORTS => shipments::page,
        "Shipments to reclaim and destruction beside what the receivers state, the newest first.",
        [json(200, "ShipmentPage")], asks SHIPMENTS, fails ["not-found"];
    Get "/api/v1/shipments/{id}" REPORTS => shipments::one,
        "A shipment or a statement by its id or number, for each receiver.",
        [json(200, "ShipmentPage")], fails ["not-found"];
    Get "/api/v1/appliances/{id}/standing" REGISTER => findings::standing,
        "Full charge, balance, leak rates, limits passed and what is owed, on a day.",
        [json(200, "Standing")], asks &[ON], fails ["not-found"];
    Get "/api/v1/follow-ups" FOLLOW_UPS => findings::flagged,
        "Appliances over a limit, with the limit, its clause and what is owed first.",
        [json(200, "FlaggedPage")], asks &[AFTER_TAG, LIMIT, SINCE];
    Get "/api/v1/duties" FOLLOW_UPS => duties::page,
        "What is owed at every appliance and by the organisation: late first, then by day.",
        [json(200, "DutyPage")], asks DUTIES, fails ["not-found"];
    Get "/api/v1/appliances/{id}/assignment" FOLLOW_UPS => duties::assignment(Sort::Appliance),
        "Who does what is owed at an appliance, where it says so itself.",
        [json(200, "Assignment"), other(304, "")], fails ["not-found"];
    Patch "/api/v1/appliances/{id}/assignment" To(Deed::Assign) => duties::assign(Sort::Appliance),
        "Say who does what is owed at an appliance.", [json(200, "Assignment")],
        takes "AssignmentChange", fails ["stale-version" "version-required" "not-found"];
    Get "/api/v1/sites/{id}/assignment" FOLLOW_UPS => duties::assignment(Sort::Site),
        "Who does what is owed at the appliances of a site that say nothing themselves.",
        [json(200, "Assignment"), other(304, "")], fails ["not-found"];
    Patch "/api/v1/sites/{id}/assignment" To(Deed::Assign) => duties::assign(Sort::Site),
        "Say who does what is owed at the appliances of a site.", [json(200, "Assignment")],
        takes "AssignmentChange", fails ["stale-version" "version-required" "not-found"];
    Get "/api/v1/findings" FOLLOW_UPS => findings::page,
        "What a person should look at.", [json(200, "FindingPage")],
        asks &[AFTER_FINDING, LIMIT, SETTLED];
    Get "/api/v1/rule-sets" REGISTER => rule_sets::all,
        "Rule sets that come with the program, and those that were adopted.",
        [json(200, "RuleSetPage")];
    Post "/api/v1/rule-sets/preview" To(Deed::PreviewRules) => rule_sets::preview,
        "What a rule set, a layer or a method would change on the fleet. Books nothing.",
        [json(200, "RulePreview")], takes "RulePreviewRequest";
    Get "/api/v1/rule-sets/{id}" REGISTER => rule_sets::one,
        "The text of a rule set as JSON.", [json(200, "RuleSetText")], fails ["not-found"];

    // Physics without a book.
    Get "/api/v1/physics/saturation" Open => pure::answer(Question::Saturation),
        "Pressures and densities of a refrigerant at a temperature, or its temperatures at a pressure.",
        [json(200, "SaturationAnswer")], asks physics::SATURATION_FIELDS;
    Post "/api/v1/physics/saturation" Open => pure::answer(Question::Saturation),
        "Pressures and densities of a refrigerant at a temperature, or its temperatures at a pressure.",
        [json(200, "SaturationAnswer")], takes "SaturationQuestion";
    Get "/api/v1/physics/fill-limit" Open => pure::answer(Question::FillLimit),
        "How much may be in a cylinder, by which rule; what room is left.",
        [json(200, "FillLimitAnswer")], asks physics::FILL_LIMIT_FIELDS;
    Post "/api/v1/physics/fill-limit" Open => pure::answer(Question::FillLimit),
        "How much may be in a cylinder, by which rule; what room is left.",
        [json(200, "FillLimitAnswer")], takes "FillLimitQuestion";
    Get "/api/v1/physics/content-check" Open => pure::answer(Question::ContentCheck),
        "What a cylinder can hold by its pressure and wall temperature. It identifies nothing.",
        [json(200, "ContentCheckAnswer")], asks physics::CONTENT_CHECK_FIELDS;
    Post "/api/v1/physics/content-check" Open => pure::answer(Question::ContentCheck),
        "What a cylinder can hold by its pressure and wall temperature. It identifies nothing.",
        [json(200, "ContentCheckAnswer")], takes "ContentCheckQuestion";
    Get "/api/v1/physics/pressure-test" Open => pure::answer(Question::PressureTest),
        "Was nitrogen lost, or did it only cool down?",
        [json(200, "PressureTestAnswer")], asks physics::PRESSURE_TEST_FIELDS;
    Post "/api/v1/physics/pressure-test" Open => pure::answer(Question::PressureTest),
        "Was nitrogen lost, or did it only cool down?",
        [json(200, "PressureTestAnswer")], takes "PressureTestQuestion";
    Get "/api/v1/physics/vacuum-test" Open => pure::answer(Question::VacuumTest),
        "Did the vacuum hold, by a criterion; what the shape of the rise says.",
        [json(200, "VacuumTestAnswer")], asks physics::VACUUM_TEST_FIELDS;
    Post "/api/v1/physics/vacuum-test" Open => pure::answer(Question::VacuumTest),
        "Did the vacuum hold, by a criterion; what the shape of the rise says.",
        [json(200, "VacuumTestAnswer")], takes "VacuumTestQuestion";

    // Reports as files.
    Get "/api/v1/reports/{name}.evidence.csv" REPORTS => reports::evidence,
        "Which entry contributed what to which figure of a report.", [other(200, CSV)],
        asks REPORT, fails ["not-found"];
    Get "/api/v1/reports/{name}.csv-metadata.json" REPORTS => reports::metadata,
        "Columns of a report, rule sets, and the root it was made from (CSVW).",
        [Gives { status: 200, media: "application/csvm+json", schema: Some("Metadata") }],
        asks DESCRIPTION, fails ["not-found"];
    Get "/api/v1/reports/{name}.xlsx" REPORTS => reports::workbook,
        "A report of a year as a workbook: the table, its evidence, and what both are.",
        [other(200, reports::XLSX)], asks WORKBOOK, fails ["not-found"];
    Get "/api/v1/reports/{name}.csv" REPORTS => reports::csv,
        "A report of a year: its name is one of those on the page of reports.", [other(200, CSV)],
        asks REPORT, fails ["not-found"];

    // The log, for software that is not ours.
    Get "/api/v1/log/checkpoint" CHECKPOINT => log::checkpoint,
        "The newest checkpoint, signed at once (C2SP tlog-checkpoint).", [other(200, TEXT)];
    Get "/api/v1/log/vkeys" CHECKPOINT => log::keys,
        "The verification keys of the book, one a line.", [other(200, TEXT)];
    Get "/api/v1/log/tile/{tile:.*}" LOG => log::tile,
        "Hashes or entries of the log (C2SP tlog-tiles).",
        [other(200, "application/octet-stream")], fails ["not-found"];
    Get "/api/v1/log/consistency" LOG => log::consistency,
        "Proof that an older tree is the beginning of a newer one (RFC 6962, 2.1.2).",
        [json(200, "Consistency")], asks &[FROM, TO];
    Get "/api/v1/log/bundle" LOG => log::bundle,
        "The whole book in one tar file that other software can check.",
        [other(200, "application/x-tar")];

    // Who asks.
    Post "/api/v1/sessions" Maybe => sessions::open,
        "Sign in with e-mail and password; answers the cookie of a session, or asks for a code.",
        [json(201, "Session")], takes "SignIn", fails ["not-signed-in" "code-needed" "too-many"];
    Post "/api/v1/sessions/code" Maybe => second_step::take,
        "The code of a second factor, or a recovery code, after the password.",
        [json(201, "Session")], takes "Code", fails ["not-signed-in" "code-needed" "too-many"];
    Get "/api/v1/sessions" To(Deed::OwnSessions) => sessions::list,
        "One's own sessions.", [json(200, "SessionPage")];
    Get "/api/v1/sessions/current" SignedIn => sessions::current,
        "Who is signed in, where, in which roles.", [json(200, "Session")];
    Post "/api/v1/sessions/current" SignedIn => sessions::again,
        "Show the password again: a fresh session takes the place of this one.",
        [json(201, "Session")], takes "Password", fails ["too-many"];
    Delete "/api/v1/sessions/current" SignedIn => sessions::end_current,
        "Sign out.", [other(204, "")];
    Post "/api/v1/sessions/current/password" SignedIn => sessions::set_password,
        "Set another password of one's own, within five minutes of signing in.",
        [other(204, "")], takes "Password";
    Delete "/api/v1/sessions/{id}" To(Deed::OwnSessions) => sessions::end_one,
        "End one of one's own sessions.", [other(204, "")], fails ["not-found"];
    Get "/api/v1/second-factor" SignedIn => factor::show,
        "How one's own second factor stands, and of whom the organisation asks one.",
        [json(200, "SecondFactor")];
    Post "/api/v1/second-factor" SignedIn => factor::begin,
        "Make a seed for an authenticator app, shown once. It holds after one right code.",
        [json(201, "FactorSeed")];
    Post "/api/v1/second-factor/confirm" SignedIn => factor::confirm,
        "The first code of the app: the factor holds; ten recovery codes, shown once.",
        [json(200, "RecoveryCodes")], takes "Code";
    Post "/api/v1/second-factor/recovery-codes" SignedIn => factor::other_codes,
        "Other recovery codes in the place of those before, for a code.",
        [json(200, "RecoveryCodes")], takes "Code", fails ["too-many"];
    Post "/api/v1/second-factor/off" SignedIn => factor::off,
        "Give the second factor up, for a code.", [other(204, "")], takes "Code",
        fails ["too-many"];
    Post "/api/v1/second-factor/required" To(Deed::ManagePeople) => factor::require,
        "Say of whom the organisation asks a second factor, within five minutes of signing in.",
        [json(200, "SecondFactor")], takes "FactorRequired";
    Get "/api/v1/tokens" To(Deed::RevokeTokens) => tokens::list,
        "Tokens of the organisation, without their secrets.", [json(200, "TokenPage")];
    Post "/api/v1/tokens" To(Deed::IssueTokens) => tokens::issue,
        "Issue a token for a device. The secret is shown once.", [json(201, "NewToken")],
        takes "TokenRequest", fails ["not-found"];
    Delete "/api/v1/tokens/{id}" To(Deed::RevokeTokens) => tokens::revoke,
        "Revoke a token; it holds no longer from the next request on.", [other(204, "")],
        fails ["not-found"];
    Get "/api/v1/calendars" To(Deed::OwnCalendars) => calendar::list,
        "One's own calendars, without their addresses.", [json(200, "CalendarPage")];
    Post "/api/v1/calendars" To(Deed::OwnCalendars) => calendar::make,
        "Make a calendar of what is owed. Its address is shown once.",
        [json(201, "NewCalendar")], takes "CalendarRequest";
    Delete "/api/v1/calendars/{id}" To(Deed::OwnCalendars) => calendar::revoke,
        "Revoke a calendar; its address leads nowhere from then on.", [other(204, "")],
        fails ["not-found"];
    Get "/calendar/{secret}.ics" Open => calendar::feed,
        "What is owed as a calendar (RFC 5545); whoever knows the address may read it.",
        [other(200, CALENDAR)], fails ["not-found"];
    Get "/api/v1/mail" To(Deed::OwnCalendars) => mail::own,
        "What comes to one by mail.", [json(200, "MailChoice")];
    Post "/api/v1/mail" To(Deed::OwnCalendars) => mail::set,
        "Choose it; what is not named is not chosen.", [json(200, "MailChoice")], takes "MailRequest";
    Get "/api/v1/people" To(Deed::ReadPeople) => people::page,
        "Who may sign in.", [json(200, "PersonPage")];
    Get "/api/v1/people/{id}" To(Deed::ReadPeople) => people::one,
        "One person who may sign in.", [json(200, "Person"), other(304, "")],
        fails ["not-found"];
    Post "/api/v1/people" To(Deed::ManagePeople) => people::add,
        "Add somebody who may sign in.", [json(201, "Person")], takes "PersonRequest",
        fails ["missing-id" "not-found" "clock"];
    Patch "/api/v1/people/{id}" To(Deed::ManagePeople) => people::change,
        "Set roles or a password, disable or enable, end all sessions.",
        [json(200, "Person")], changes "PersonChange";
    Get "/api/v1/access-records" To(Deed::ReadAccessRecords) => access::page,
        "Who read personal data, exported, signed in or changed who may; newest first.",
        [json(200, "AccessPage")], asks &[AFTER_RECORD, LIMIT];

    // About the interface itself.
    Get "/api/v1/openapi.json" Open => openapi::document,
        "This description.", [json(200, "OpenApi")];
    Get "/api/v1/docs" Open => openapi::page,
        "This description, to be read by people.", [other(200, HTML)];
    Get "/problems/{slug}" Open => help::problem,
        "What a type of problem means and what to do.", [other(200, HTML)], fails ["not-found"];
    Get "/questions/{code}" Open => help::question,
        "What a question or a stop means and how to answer it.", [other(200, HTML)],
        fails ["not-found"];
    Get "/livez" Open => health::live, "Is the process there?", [json(200, "Health")];
    Get "/readyz" Open => health::ready, "Can it take postings?",
        [json(200, "Health"), json(503, "Health")];
};
