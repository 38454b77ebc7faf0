//! Baths in their trays: how far each is used, and how long a sheet stays.

pub mod advice;
pub mod batch;
pub mod bath_needs;
pub mod binding_limit;
pub mod clearing;
pub mod condition;
pub mod sheet_run;
pub mod shortfall;
pub mod time_today;
pub mod tray_times;
