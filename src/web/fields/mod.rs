//! Groups of fields that several forms share.

pub mod aim_fields;
pub mod card_pile;
pub mod light_fields;
pub mod result_fields;
pub mod shown_forecasts;
