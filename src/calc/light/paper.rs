//! The speed and contrast range of photographic paper.
//!
//! ISO 6846: speed S_P = 1000 / Hm with Hm the exposure in lx s for a density of 0.60 above the
//! least; range R = 100 x LER rounded to ten (speed formula and rounding from memory, limits
//! found). An exposure index puts the metered tone at Hm: EI = 10 / Hm.

use crate::calc::quantity::{DaylightFactor, ExposureIndex, IsoPaperSpeed, PaperLogExposure};
use crate::calc::working::{Working, figures, plain};

/// What an ISO paper speed means for exposure in a camera.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PaperIndex {
    /// Exposure of the metered tone, lx s.
    pub midtone_exposure_lx_s: f64,
    /// Exposure index by tungsten light, as the speed is measured.
    pub tungsten: ExposureIndex,
    /// Exposure index by daylight.
    pub daylight: ExposureIndex,
}

/// Exposure indices of a paper. A daylight factor of 1.9 to 2.7 is usual for sun on
/// blue-sensitive paper, 1 leaves it out.
pub fn paper_index(speed: IsoPaperSpeed, daylight: DaylightFactor) -> PaperIndex {
    let midtone = 1000.0 / speed.as_number();
    let tungsten = 10.0 / midtone;
    PaperIndex {
        midtone_exposure_lx_s: midtone,
        tungsten: ExposureIndex::computed(tungsten),
        daylight: ExposureIndex::computed(tungsten * daylight.as_number()),
    }
}

/// Contrast range of a paper.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PaperRange {
    /// Log exposure range, LER.
    pub log_exposure_range: f64,
    /// ISO range R.
    pub iso_range: f64,
}

/// The highlight lies at no more exposure than the shadow.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("log exposure of the highlight end must be greater than that of the shadow end")]
pub struct NoRange;

/// Range between the two ends of a paper's curve: 0.04 above base and fog, and 90 % of the
/// greatest density.
///
/// # Errors
/// [`NoRange`] when the ends coincide or are the wrong way round.
pub fn paper_range(low: PaperLogExposure, high: PaperLogExposure) -> Result<PaperRange, NoRange> {
    let range = high.as_number() - low.as_number();
    if range <= 0.0 {
        return Err(NoRange);
    }
    Ok(PaperRange { log_exposure_range: range, iso_range: (range * 10.0).round() * 10.0 })
}

/// [`paper_index`] with its working.
pub fn paper_index_working(speed: IsoPaperSpeed, daylight: DaylightFactor) -> Working {
    let index = paper_index(speed, daylight);
    let (hm, tungsten) = (figures(index.midtone_exposure_lx_s, 3), figures(index.tungsten.as_number(), 3));
    let by_day = figures(index.daylight.as_number(), 3);
    Working::of(
        "exposure index of the paper",
        format!("EI {tungsten} by tungsten light, {by_day} by daylight"),
        format!(
            "Hm = 1000 / S = 1000 / {} = {hm} lx s; EI = 10 / Hm = 10 / {hm} = {tungsten}; by daylight × {} = {by_day}",
            plain(speed.as_number()),
            plain(daylight.as_number())
        ),
        "ISO 6846:1992 (formula of the speed from memory); a daylight factor is an estimate of ours: find the index by exposing",
    )
}

/// [`paper_range`] with its working.
///
/// # Errors
/// [`NoRange`] when the ends coincide or are the wrong way round.
pub fn paper_range_working(low: PaperLogExposure, high: PaperLogExposure) -> Result<Working, NoRange> {
    let range = paper_range(low, high)?;
    let (ler, iso) = (figures(range.log_exposure_range, 3), plain(range.iso_range));
    Ok(Working::of(
        "contrast range of the paper",
        format!("ISO R{iso}"),
        format!(
            "LER = log Ht − log Hs = {} − ({}) = {ler}; R = 100 × {ler}, rounded to ten: {iso}",
            plain(high.as_number()),
            plain(low.as_number())
        ),
        "ISO 6846:1992: from 0.04 above base and fog to 90 % of the greatest density (rounding from memory)",
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_greatest_speed_and_factor_stay_in_range() {
        let most = paper_index(
            IsoPaperSpeed::new(IsoPaperSpeed::MAX).unwrap(),
            DaylightFactor::new(DaylightFactor::MAX).unwrap(),
        );
        assert!(ExposureIndex::new(most.daylight.as_number()).is_ok());
        let least = paper_index(IsoPaperSpeed::new(IsoPaperSpeed::MIN).unwrap(), DaylightFactor::new(1.0).unwrap());
        assert!(ExposureIndex::new(least.tungsten.as_number()).is_ok());
    }
}
