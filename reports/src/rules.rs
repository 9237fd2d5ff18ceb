//! Rule sets: dated rules of one jurisdiction, as data.
