//! What the service promises, on the engine that `TEST_ENGINE` names.

mod booking;
mod importing;
mod importing_again;
mod roles;
