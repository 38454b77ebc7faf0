//! The calculation core: pure functions on typed quantities. No I/O, no clock, no database.
//!
//! # What the pages call
//!
//! Quantities ([`quantity`]): `X::new(f64) -> Result<X, OutOfRange>`, out by unit name. A form field
//! takes its `min` and `max` from `X::MIN` and `X::MAX`, its message from `OutOfRange` (which
//! converts with `in_unit(25.4, "in")`), generic code uses the trait `Bounded`.
//!
//! | page shows | call |
//! | --- | --- |
//! | hole target | `optics::hole_formula::hole_diameter(v, wavelength, constant, subject)`, `associated_focal_length(hole, wavelength, constant)`, each with `…_working` |
//! | tool settings | `optics::micrometer::MicrometerSetting::of(hole)`, `needle_mark_mm(…)`, `optics::gauges::nearest_*` |
//! | hole as measured | `optics::readings::hole_readings(&readings, instrument)`, then `.sd_stops()` |
//! | field | `optics::field::{f_number, field_flat, field_disc, field_curved, magnification, subject_size_mm}` with `…_working`; `optics::fall_off::{fall_off_flat, fall_off_curved}` |
//! | sharpness | `optics::sharpness::Sharpness::of(v, subject, Spectrum::single(wavelength))` with `.best()`, `.share(hole)`, `.within_a_tenth()`, `.curve(…)` and their `…_working`; underneath `optics::diffraction::{sharpest_hole, tolerance, Spectrum::{blue_only, blue_green}}`, `Diffraction::new(hole, v, subject, spectrum)?` with `.edge_sharpness_per_mm()`, `.contrast_limit(level)`, `.transfer(frequency)`, `.point_spread(radius)`, `.encircled_radius(share)`; away from the axis `Diffraction::off_axis(…)?` for one direction's contrast and `ObliqueSpread::new(…)?` for the image of a point |
//! | what is seen | `optics::picture::through(&diffraction)`: the test figure as that camera draws it |
//! | light | `light::sky::Sky::ALL`, `sky.light(SunFrom::Front)`, `Light::metered_ev(ev)`, `light::exposure::light_value_of_{meter, illuminance, luminance}` |
//! | exposure | `light::forecast::forecast(Basis { … }) -> Forecast` (times, interval, bracket, `practical`, `dominant.advice()`, `working()`) |
//! | experience | `light::experience::Taught::of(&sheets, rule, may_fit, Spread::default())`, then `.for_camera(&session, &camera).at(base)`, `.residuals()`, `.fitted()`; `experience(&observations, …)` for bare observations |
//! | mixing | `darkroom::dilution::{Parts, dilution, dilution_of_concentrate, stock_dilution}`, `darkroom::development::development_time` |
//! | sheets and baths | `darkroom::sheet::{SheetSize, sheet_area}`, `darkroom::capacity::{capacity_used, bath_needed}` |
//! | daylight | `light::sun::sun_position(instant, place, None)`, `light::daylight::daylight(…)`, on a subject `light::subject::subject_light(…)` |
//! | deadlines | `silver::deadlines::{remove_by, remove_by_or_visit, keep_until}` |
//! | silver | `silver::bath::{silver_dissolved, carry_over, silver_room, whole_sheets}`, `silver::waste::*`, `silver::units::*` |
//!
//! [`cases`] answers all of them by name, JSON in and JSON out.
//!
//! A [`working::Working`] holds value, formula with the numbers put in, source and interval as text;
//! [`working::figures`], [`working::plain`] and [`working::seconds_text`] format numbers alike on
//! every page.

pub mod cases;
pub mod darkroom;
pub mod imaging;
pub mod light;
pub mod optics;
pub mod quantity;
pub mod silver;
pub mod working;
