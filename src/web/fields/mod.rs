//! Groups of fields that several forms share.

pub mod aim_fields;
pub mod camera_fields;
pub mod card_pile;
pub mod film_choices;
pub mod hole_fields;
pub mod light_fields;
pub mod looks;
pub mod result_fields;
pub mod sheet_fields;
pub mod shown_forecasts;
pub mod through_choices;
