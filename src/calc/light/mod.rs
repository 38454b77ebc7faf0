//! Light on the subject, the speed of paper and film, and from them the time of exposure.

pub mod counting;
pub mod daylight;
pub mod experience;
pub mod exposure;
mod fit;
pub mod forecast;
pub mod given_time;
mod offsets;
pub mod paper;
pub mod reciprocity;
pub mod sky;
pub mod subject;
pub mod sun;
pub mod taught;
