//! A hole as measured.

use crate::calc::{
    optics::{
        field::f_number,
        readings::{HoleReadings, hole_readings},
    },
    quantity::{Bounded, FNumber, HoleDiameter, HoleToFilm, InstrumentUncertainty, PlateThickness},
};

use super::Typed;
use crate::domain::{
    field_errors::FieldErrors,
    ids::{CameraId, HoleId, PersonId},
    instant::Instant,
    measure::length::Length,
};

/// The most readings of one hole that are kept.
pub const MOST_READINGS: usize = 12;

/// Two or more readings taken across one another, and what they give.
#[derive(Clone, Debug, PartialEq)]
pub struct Measurement {
    readings: Vec<Typed>,
    instrument: Typed,
    diameters: Vec<HoleDiameter>,
    result: HoleReadings,
}

impl Measurement {
    /// From the readings as typed and the instrument's uncertainty.
    ///
    /// # Errors
    /// A message beside `readings` or `instrument`: fewer than two or more than twelve readings, or
    /// out of the range its quantity declares.
    pub fn of(readings: Vec<Typed>, instrument: Typed) -> Result<Self, FieldErrors> {
        let mut errors = FieldErrors::none();
        let mut diameters = Vec::with_capacity(readings.len());
        for reading in &readings {
            match HoleDiameter::bounded(reading.length.as_mm()) {
                Ok(diameter) => diameters.push(diameter),
                Err(error) => errors.add("readings", format!("{error}; “{}” is not", reading.typed)),
            }
        }
        // a slipped decimal point, not an oval hole: what is twice as wide as high is no hole to expose through
        let (least, most) = diameters.iter().fold((f64::INFINITY, 0.0_f64), |(least, most), diameter| {
            (least.min(diameter.as_mm()), most.max(diameter.as_mm()))
        });
        if most > 2.0 * least {
            errors
                .add("readings", "these readings differ more than twofold: check the decimal points, or measure again");
        }
        if readings.len() < 2 {
            errors.add("readings", "give two or more readings, taken across one another");
        }
        if readings.len() > MOST_READINGS {
            errors.add("readings", format!("give at most {MOST_READINGS} readings"));
        }
        let uncertainty = InstrumentUncertainty::bounded(instrument.length.as_mm())
            .map_err(|error| errors.add("instrument", error.to_string()))
            .ok();
        let result = uncertainty.and_then(|uncertainty| hole_readings(&diameters, uncertainty).ok());
        match result {
            Some(result) if errors.is_empty() => Ok(Self { readings, instrument, diameters, result }),
            _ => Err(errors),
        }
    }

    /// The readings as typed.
    pub fn readings(&self) -> &[Typed] {
        &self.readings
    }

    /// The instrument's uncertainty as typed.
    pub fn instrument(&self) -> &Typed {
        &self.instrument
    }

    /// The readings as the calculations take them.
    pub fn diameters(&self) -> &[HoleDiameter] {
        &self.diameters
    }

    /// Mean, ovalness and uncertainty.
    pub fn result(&self) -> HoleReadings {
        self.result
    }

    /// The mean, to the nanometre.
    pub fn diameter(&self) -> Length {
        Length::from_mm(self.result.diameter.as_mm())
    }

    /// Checks that the hole can be in a camera of that length.
    ///
    /// # Errors
    /// A message beside `readings` when the hole is wider than the film is far away.
    pub fn fits(&self, hole_to_film: HoleToFilm) -> Result<(), FieldErrors> {
        if self.result.diameter.as_mm() < hole_to_film.as_mm() {
            return Ok(());
        }
        Err(FieldErrors::one(
            "readings",
            format!(
                "the hole would be wider than the {} to the film: check the unit, a hole is some tenths of a millimetre",
                Length::from_mm(hole_to_film.as_mm())
            ),
        ))
    }
}

/// A hole as measured. The newest of a camera counts.
#[derive(Clone, Debug, PartialEq)]
pub struct Hole {
    /// Its id.
    pub id: HoleId,
    /// The camera it is in.
    pub camera: CameraId,
    /// What was read, and what that gives.
    pub measurement: Measurement,
    /// How thick the plate is; `None` when nobody said. Checked by [`plate_thickness`].
    pub plate: Option<Typed>,
    /// Anything else.
    pub remark: String,
    /// When it was measured.
    pub measured_at: Instant,
    /// Who recorded it.
    pub recorded_by: PersonId,
    /// Counts edits.
    pub version: i64,
}

/// How thick the plate is that a hole is in.
///
/// # Errors
/// A message beside `plate` when it is no plate's thickness.
pub fn plate_thickness(plate: &Typed) -> Result<PlateThickness, FieldErrors> {
    PlateThickness::bounded(plate.length.as_mm()).map_err(|error| FieldErrors::one("plate", error.to_string()))
}

impl Hole {
    /// The plate's thickness as the calculations take it.
    pub fn plate_thickness(&self) -> Option<PlateThickness> {
        self.plate.as_ref().and_then(|plate| plate_thickness(plate).ok())
    }

    /// The hole's diameter as the calculations take it.
    pub fn diameter(&self) -> HoleDiameter {
        self.measurement.result().diameter
    }

    /// One standard deviation of the exposure that comes from measuring the hole, in stops.
    pub fn sd_stops(&self) -> f64 {
        self.measurement.result().sd_stops()
    }

    /// The f-number in a camera of that length.
    pub fn f_number(&self, hole_to_film: HoleToFilm) -> FNumber {
        f_number(hole_to_film, self.diameter())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mm(value: f64) -> Typed {
        Typed { length: Length::from_mm(value), typed: format!("{value} mm") }
    }

    #[test]
    fn two_crossed_readings_give_a_mean() {
        let measured = Measurement::of(vec![mm(0.46), mm(0.50)], mm(0.01)).expect("two readings");
        assert_eq!(measured.diameter(), Length::from_mm(0.48));
    }

    #[test]
    fn one_reading_or_one_that_is_no_hole_is_refused_beside_the_readings() {
        let one = Measurement::of(vec![mm(0.46)], mm(0.01)).expect_err("one reading");
        assert!(one.of("readings").is_some_and(|message| message.contains("two or more")), "{one:?}");
        let wide = Measurement::of(vec![mm(0.46), mm(46.0)], mm(0.01)).expect_err("forgot the point");
        assert!(wide.of("readings").is_some_and(|message| message.contains("46 mm")), "{wide:?}");
        let vague = Measurement::of(vec![mm(0.46), mm(0.5)], mm(3.0)).expect_err("a ruler");
        assert!(vague.of("instrument").is_some(), "{vague:?}");
    }

    #[test]
    fn a_hole_wider_than_the_film_is_far_is_refused() {
        let measured = Measurement::of(vec![mm(9.0), mm(9.0)], mm(0.01)).expect("two readings");
        assert!(measured.fits(HoleToFilm::new(120.0).expect("in range")).is_ok());
        assert!(measured.fits(HoleToFilm::new(8.0).expect("in range")).is_err());
    }
}
