//! Measures as somebody typed them, kept exactly, and the units a person reads.

pub mod decimal;
pub mod length;
pub mod temperature;
pub mod typed_seconds;
pub mod units;
pub mod volume;
