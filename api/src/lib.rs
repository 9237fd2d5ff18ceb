//! Api.
