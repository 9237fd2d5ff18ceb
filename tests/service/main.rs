//! What the service promises, on the engine that `TEST_ENGINE` names.

mod adoption;
mod booking;
mod corrected_registers;
mod corrections;
mod demo;
mod golden;
mod http;
mod importing;
mod importing_again;
mod model;
mod order;
mod paper;
mod people;
mod refusals;
mod roles;
mod row_security;
mod safety;
mod sessions;
mod signing_in;
mod standings;
mod stops;
mod three_laws;
mod tokens;
mod two_firms;
mod typed_words;
mod writers;
