//! What the service promises, on the engine that `TEST_ENGINE` names.

mod booking;
mod demo;
mod golden;
mod importing;
mod importing_again;
mod paper;
mod roles;
mod typed_words;
