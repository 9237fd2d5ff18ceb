//! The table of the pages: address, who may, what may be asked, who shows it.

use super::way::{Shown, Visit};
use super::{
    appliance, appliances, assets, assign, book, cage, calendar, correct, cylinder, duties, field,
    label, labels, post, receipt, record, rules, service, sign_in, today, tools, year,
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

/// A page's function as the table keeps it.
macro_rules! shown {
    ($page:path) => {
        |visit: Visit| -> Shown { Box::pin($page(visit)) }
    };
}

const fn row(
    verb: Verb,
    path: &'static str,
    entry: Entry,
    query: &'static [&'static str],
    show: fn(Visit) -> Shown,
) -> PageRow {
    PageRow {
        verb,
        path,
        entry,
        query,
        show,
    }
}

use Entry::{Open, Posting, SignedIn, To};
use Verb::{Get, Post};

/// The table.
pub static PAGES: &[PageRow] = &[
    row(Get, "/", SignedIn, &[], shown!(sign_in::begin)),
    row(
        Get,
        "/sign-in",
        Open,
        &["next", "out"],
        shown!(sign_in::show),
    ),
    row(Post, "/sign-in", Open, &[], shown!(sign_in::take)),
    row(Post, "/sign-out", SignedIn, &[], shown!(sign_in::leave)),
    row(
        Get,
        "/field",
        Posting(EntryKind::Charge),
        &["find", "after"],
        shown!(field::today::show),
    ),
    row(
        Get,
        "/field/outbox",
        Posting(EntryKind::Charge),
        &[],
        shown!(field::outbox::show),
    ),
    row(
        Get,
        "/field/appliances/{id}",
        Posting(EntryKind::Charge),
        &[],
        shown!(field::card::show),
    ),
    row(Get, "/today", SignedIn, &["after"], shown!(today::show)),
    row(
        Get,
        "/duties",
        To(Deed::ReadFollowUps),
        &["site", "person", "from", "to", "state", "view", "after"],
        shown!(duties::show),
    ),
    row(
        Get,
        "/appliances/{id}/assign",
        To(Deed::Assign),
        &[],
        shown!(assign::show),
    ),
    row(
        Post,
        "/appliances/{id}/assign",
        To(Deed::Assign),
        &[],
        shown!(assign::take),
    ),
    row(
        Post,
        "/sites/{id}/assign",
        To(Deed::Assign),
        &[],
        shown!(assign::take_site),
    ),
    row(
        Get,
        "/calendar",
        To(Deed::OwnCalendars),
        &[],
        shown!(calendar::show),
    ),
    row(
        Post,
        "/calendar",
        To(Deed::OwnCalendars),
        &[],
        shown!(calendar::make),
    ),
    row(
        Post,
        "/calendar/{id}/revoke",
        To(Deed::OwnCalendars),
        &[],
        shown!(calendar::revoke),
    ),
    row(
        Get,
        "/appliances",
        To(Deed::ReadBook),
        &["find", "after"],
        shown!(appliances::show),
    ),
    row(
        Get,
        "/appliances/{id}",
        To(Deed::ReadBook),
        &["before"],
        shown!(appliance::show),
    ),
    row(
        Get,
        "/appliances/{id}/charge",
        Posting(EntryKind::Charge),
        &["visit"],
        shown!(post::charge),
    ),
    row(
        Post,
        "/appliances/{id}/charge",
        Posting(EntryKind::Charge),
        &[],
        shown!(post::take_charge),
    ),
    row(
        Get,
        "/appliances/{id}/recover",
        Posting(EntryKind::Recover),
        &["visit"],
        shown!(post::recover),
    ),
    row(
        Post,
        "/appliances/{id}/recover",
        Posting(EntryKind::Recover),
        &[],
        shown!(post::take_recover),
    ),
    row(
        Get,
        "/appliances/{id}/service",
        Posting(EntryKind::LeakFound),
        &["visit"],
        shown!(service::show),
    ),
    row(
        Post,
        "/appliances/{id}/service",
        Posting(EntryKind::LeakFound),
        &[],
        shown!(service::take),
    ),
    row(
        Get,
        "/cylinders",
        To(Deed::ReadBook),
        &["after"],
        shown!(cage::show),
    ),
    row(
        Get,
        "/cylinders/{id}",
        To(Deed::ReadBook),
        &["before"],
        shown!(cylinder::show),
    ),
    row(
        Get,
        "/tools/saturation",
        To(Deed::ReadBook),
        actions::SATURATION,
        shown!(tools::saturation),
    ),
    row(
        Get,
        "/tools/pressure-test",
        To(Deed::ReadBook),
        actions::PRESSURE_TEST,
        shown!(tools::pressure_test),
    ),
    row(
        Get,
        "/entries/{id}",
        To(Deed::ReadBook),
        &["posted"],
        shown!(receipt::show),
    ),
    row(
        Get,
        "/entries/{id}/correct",
        Posting(EntryKind::Correction),
        &[],
        shown!(correct::show),
    ),
    row(
        Post,
        "/entries/{id}/correct",
        Posting(EntryKind::Correction),
        &[],
        shown!(correct::take),
    ),
    row(
        Get,
        "/field/new",
        Posting(EntryKind::Appliance),
        &["tag"],
        shown!(field::new::show),
    ),
    row(
        Post,
        "/field/new",
        Posting(EntryKind::Appliance),
        &[],
        shown!(field::new::take),
    ),
    row(
        Get,
        "/field/load",
        Posting(EntryKind::Charge),
        &[],
        shown!(field::outbox::load),
    ),
    row(
        Get,
        "/field/me",
        Posting(EntryKind::Charge),
        &["before"],
        shown!(field::me::show),
    ),
    row(
        Get,
        "/q/{code}",
        To(Deed::ReadBook),
        &[],
        shown!(label::show),
    ),
    row(
        Get,
        "/labels",
        To(Deed::ReadBook),
        &["of", "stock", "ids", "after"],
        shown!(labels::show),
    ),
    row(
        Get,
        "/r/{id}",
        To(Deed::ReadBook),
        &[],
        shown!(record::show),
    ),
    row(
        Get,
        "/book",
        To(Deed::ReadBook),
        &["before"],
        shown!(book::show),
    ),
    row(
        Get,
        "/year",
        To(Deed::Report),
        &["year", "unit"],
        shown!(year::show),
    ),
    row(
        Get,
        "/rules",
        To(Deed::PreviewRules),
        &[],
        shown!(rules::show),
    ),
    row(
        Get,
        "/rules/{id}/text",
        To(Deed::PreviewRules),
        &[],
        shown!(rules::text::show),
    ),
    row(
        Post,
        "/rules/{id}/text",
        To(Deed::PreviewRules),
        &[],
        shown!(rules::text::take),
    ),
    row(
        Post,
        "/rules/{id}/end",
        To(Deed::AdoptRules),
        &[],
        shown!(rules::one::end),
    ),
    row(
        Get,
        "/rules/{id}/change",
        To(Deed::PreviewRules),
        &["value"],
        shown!(rules::change::show),
    ),
    row(
        Post,
        "/rules/{id}/change",
        To(Deed::PreviewRules),
        &[],
        shown!(rules::change::take),
    ),
    row(
        Get,
        "/rules/{id}",
        To(Deed::PreviewRules),
        &["adopted"],
        shown!(rules::one::show),
    ),
    row(
        Get,
        "/assets/tarebook.css",
        Open,
        &[],
        shown!(assets::style),
    ),
    row(Get, "/assets/paper.css", Open, &[], shown!(assets::paper)),
    row(Get, "/assets/mark.svg", Open, &[], shown!(assets::mark)),
    row(
        Get,
        "/assets/field/{version}/{name}",
        Open,
        &[],
        shown!(field::assets::show),
    ),
    row(
        Get,
        "/field-worker.js",
        Open,
        &[],
        shown!(field::assets::worker),
    ),
];

#[cfg(test)]
mod tests;
