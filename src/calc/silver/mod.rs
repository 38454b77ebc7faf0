//! Silver in the baths and in the waste, by mass balance, and the rules around it.

pub mod bath;
pub mod deadlines;
pub mod units;
pub mod waste;
