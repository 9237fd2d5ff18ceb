//! `assess`: history + rules + a day = standing.
