//! The calculation core: pure functions on typed quantities. No I/O, no clock, no database.
