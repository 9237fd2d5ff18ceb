//! The service over HTTP, as phones, pages and programs meet it.

mod adopting;
mod bulk_pages;
mod completing;
mod description;
mod duties;
mod field_pages;
mod lists;
mod lists_taken;
mod log;
mod mail;
mod mixed_pages;
mod once;
mod outages;
mod people_pages;
mod physics;
mod read_records;
mod reading;
mod refusals;
mod report_files;
mod running;
mod separation;
mod shipments;
mod signing_in;
mod told_pages;
mod watched;
mod what_if;
