//! The table of the pages: address, who may, what may be asked, who shows it.

use super::way::{Shown, Visit};
use super::{
    appliance, appliances, assets, assign, book, cage, calendar, complete, correct, cylinder,
    duties, factor, field, finding, findings, fleet, label, labels, mail, people, post, receipt,
    record, rules, service, shipment, shipments, sign_in, today, tools, year,
};
use crate::actions::permit::Deed;
use crate::actions::physics as actions;
use crate::http::routes::Verb;
use crate::ledger::entry::EntryKind;

/// Who may open a page.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Entry {
    /// Everybody; nobody is looked up.
    Open,
    /// Whoever knows the address, which holds a secret; a form there brings nothing.
    Address,
    /// Whoever is signed in.
    SignedIn,
    /// Roles that may do this.
    To(Deed),
    /// Roles that post this kind.
    Posting(EntryKind),
}

/// One row: an address with a method.
pub struct PageRow {
    /// Its method.
    pub verb: Verb,
    /// Its address, with names in braces.
    pub path: &'static str,
    /// Who may open it.
    pub entry: Entry,
    /// Members its query may hold.
    pub query: &'static [&'static str],
    /// Who shows it.
    pub show: fn(Visit) -> Shown,
}

impl PageRow {
    /// Is it open to whoever must set up a second factor first?
    pub fn before_factor(&self) -> bool {
        matches!(self.entry, Entry::Open | Entry::Address)
            || self.path == "/sign-out"
            || self.path.starts_with("/me/factor")
    }
}

/// Rows of the table: method, address, who may, who shows it, and what may be asked.
macro_rules! table {
    ($($verb:ident $path:literal $entry:expr => $room:ident $(:: $show:ident)+
        $(, asks $query:expr)?;)+) => {
        &[$(PageRow {
            verb: Verb::$verb,
            path: $path,
            entry: $entry,
            query: table!(@or $($query)?),
            show: |visit: Visit| -> Shown { Box::pin($room $(:: $show)+ (visit)) },
        }),+]
    };
    (@or $query:expr) => { $query };
    (@or) => { &[] };
}

use Entry::{Address, Open, Posting, SignedIn, To};

const BOOK: Entry = To(Deed::ReadBook);
const CHARGES: Entry = Posting(EntryKind::Charge);
const RECOVERS: Entry = Posting(EntryKind::Recover);
const SERVES: Entry = Posting(EntryKind::LeakFound);
const CORRECTS: Entry = Posting(EntryKind::Correction);
const REGISTERS: Entry = Posting(EntryKind::Appliance);
const TRIES: Entry = To(Deed::PreviewRules);
const FINDINGS: Entry = To(Deed::ReadFollowUps);
const CALENDARS: Entry = To(Deed::OwnCalendars);
const PEOPLE: Entry = To(Deed::ReadPeople);
const MANAGES: Entry = To(Deed::ManagePeople);
const ASSIGNS: Entry = To(Deed::Assign);

/// The table.
pub static PAGES: &[PageRow] = table! {
    Get "/" SignedIn => sign_in::begin;
    Get "/sign-in" Open => sign_in::show, asks &["next", "out"];
    Post "/sign-in" Open => sign_in::take;
    Get "/sign-in/code" Open => factor::ask_code, asks &["next"];
    Post "/sign-in/code" Open => factor::take_code;
    Post "/sign-out" SignedIn => sign_in::leave;
    Get "/field" CHARGES => field::today::show, asks &["find", "after"];
    Get "/field/outbox" CHARGES => field::outbox::show;
    Get "/field/tools" CHARGES => field::tools::show;
    Get "/field/cylinders" CHARGES => field::cylinders::show;
    Get "/field/cylinders/{id}" CHARGES => field::cage::card, asks &["appliance", "deed"];
    Get "/field/cage" CHARGES => field::cage::list, asks &["after"];
    Get "/field/appliances/{id}" CHARGES => field::card::show;
    Get "/today" SignedIn => today::show, asks &["after"];
    Get "/findings" FINDINGS => findings::show, asks &["site", "thing", "kind", "state", "after", "as"];
    Get "/findings/{id}" FINDINGS => finding::of_entry;
    Get "/findings/{id}/{code}" FINDINGS => finding::show;
    Post "/findings/{id}/{code}" Posting(EntryKind::Settle) => finding::take;
    Get "/duties" To(Deed::ReadFollowUps) => duties::show,
        asks &["site", "person", "from", "to", "state", "view", "after", "as"];
    Get "/appliances/{id}/assign" ASSIGNS => assign::show;
    Post "/appliances/{id}/assign" ASSIGNS => assign::take;
    Post "/sites/{id}/assign" ASSIGNS => assign::take_site;
    Get "/calendar" CALENDARS => calendar::show;
    Post "/calendar" CALENDARS => calendar::make;
    Post "/calendar/{id}/revoke" CALENDARS => calendar::revoke;
    Get "/mail" CALENDARS => mail::show;
    Post "/mail" CALENDARS => mail::take;
    Get "/mail/messages" MANAGES => mail::messages::show, asks &["done"];
    Post "/mail/messages/{id}/again" MANAGES => mail::messages::again;
    Get "/mail/stop/{secret}" Address => mail::ask;
    Post "/mail/stop/{secret}" Address => mail::stop;
    Get "/appliances" BOOK => appliances::show, asks &["find", "after", "as"];
    Get "/fleet" BOOK => fleet::show, asks &["before", "unit"];
    Get "/appliances/{id}" BOOK => appliance::show, asks &["before"];
    Get "/appliances/{id}/register" REGISTERS => complete::show;
    Post "/appliances/{id}/register" REGISTERS => complete::take;
    Get "/appliances/{id}/charge" CHARGES => post::charge, asks &["visit", "cylinder"];
    Post "/appliances/{id}/charge" CHARGES => post::take_charge;
    Get "/appliances/{id}/recover" RECOVERS => post::recover, asks &["visit", "cylinder"];
    Post "/appliances/{id}/recover" RECOVERS => post::take_recover;
    Get "/appliances/{id}/service" SERVES => service::show, asks &["visit"];
    Post "/appliances/{id}/service" SERVES => service::take;
    Get "/cylinders" BOOK => cage::show, asks &["after", "as"];
    Get "/cylinders/{id}" BOOK => cylinder::show, asks &["before"];
    Get "/shipments" To(Deed::Report) => shipments::show, asks &["state", "counterparty", "after"];
    Get "/shipments/{id}" To(Deed::Report) => shipment::show, asks &["posted"];
    Post "/shipments/{id}" Posting(EntryKind::Statement) => shipment::take;
    Get "/tools/saturation" BOOK => tools::saturation, asks actions::SATURATION;
    Get "/tools/pressure-test" BOOK => tools::pressure_test, asks actions::PRESSURE_TEST;
    Get "/entries/{id}" BOOK => receipt::show, asks &["posted"];
    Get "/entries/{id}/correct" CORRECTS => correct::show;
    Post "/entries/{id}/correct" CORRECTS => correct::take;
    Get "/field/new" REGISTERS => field::new::show, asks &["tag"];
    Post "/field/new" REGISTERS => field::new::take;
    Get "/field/new/charge" CHARGES => field::new::charge, asks &["unit"];
    Get "/field/new/recover" RECOVERS => field::new::recover, asks &["unit"];
    Get "/field/load" CHARGES => field::outbox::load;
    Get "/field/me" CHARGES => field::me::show, asks &["before"];
    Get "/field/scales/{id}" Posting(EntryKind::Scale) => field::scale::show;
    Post "/field/scales/{id}" Posting(EntryKind::Scale) => field::scale::take;
    Get "/cylinders/{id}/check" Posting(EntryKind::Observation) => field::cylinder::show;
    Post "/cylinders/{id}/check" Posting(EntryKind::Observation) => field::cylinder::take;
    Post "/cylinders/{id}/held" Posting(EntryKind::Cylinder) => field::held::take;
    Get "/q/{code}" BOOK => label::show;
    Get "/labels" BOOK => labels::show, asks &["of", "stock", "ids", "after"];
    Get "/r/{id}" BOOK => record::show;
    Get "/r/{id}/pdf" BOOK => record::file, asks &["paper"];
    Get "/book" BOOK => book::show, asks &["before"];
    Get "/year" To(Deed::Report) => year::show, asks &["year", "unit", "refrigerant", "draw", "decimal"];
    Get "/rules" TRIES => rules::show;
    Get "/rules/{id}/text" TRIES => rules::text::show;
    Post "/rules/{id}/text" TRIES => rules::text::take;
    Post "/rules/{id}/end" To(Deed::AdoptRules) => rules::one::end;
    Get "/rules/{id}/change" TRIES => rules::change::show, asks &["value"];
    Post "/rules/{id}/change" TRIES => rules::change::take;
    Get "/rules/{id}" TRIES => rules::one::show, asks &["adopted"];
    Get "/people" PEOPLE => people::show, asks &["done"];
    Post "/people" MANAGES => people::take;
    Post "/people/second-factor" MANAGES => people::require;
    Get "/people/{id}" MANAGES => people::one::show, asks &["done"];
    Post "/people/{id}" MANAGES => people::one::take;
    Get "/devices" To(Deed::RevokeTokens) => people::devices::show;
    Post "/devices" To(Deed::IssueTokens) => people::devices::issue;
    Post "/devices/{id}/revoke" To(Deed::RevokeTokens) => people::devices::revoke;
    Get "/records" To(Deed::ReadAccessRecords) => people::records::show, asks &["after"];
    Get "/me" To(Deed::OwnSessions) => people::own::show, asks &["done"];
    Get "/me/factor" SignedIn => factor::show;
    Post "/me/factor/again" SignedIn => factor::again;
    Post "/me/factor/begin" SignedIn => factor::begin;
    Post "/me/factor/confirm" SignedIn => factor::confirm;
    Post "/me/factor/codes" SignedIn => factor::codes;
    Post "/me/factor/off" SignedIn => factor::off;
    Post "/me/again" To(Deed::OwnSessions) => people::own::again;
    Post "/me/password" To(Deed::OwnSessions) => people::own::password;
    Post "/me/sessions/{id}/end" To(Deed::OwnSessions) => people::own::end;
    Get "/assets/tarebook.css" Open => assets::style;
    Get "/assets/paper.css" Open => assets::paper;
    Get "/assets/pictures.css" Open => assets::pictures;
    Get "/assets/copy.mjs" Open => assets::copy;
    Get "/assets/chain.mjs" Open => assets::chain;
    Get "/assets/mark.svg" Open => assets::mark;
    Get "/assets/field/{version}/{name}" Open => field::assets::show;
    Get "/field-worker.js" Open => field::assets::worker;
};

#[cfg(test)]
mod tests;
