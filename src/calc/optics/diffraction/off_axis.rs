//! Away from the axis: the same theory with other distances.
//!
//! On flat film at a field angle θ the distance v is replaced by v/cos³θ in the tangential and
//! v/cos θ in the sagittal direction; on the wall of a round can with the hole in it by 2R/cos θ along
//! the arc and 2R cos θ along the height. A near subject in a plane parallel to the plate is replaced as
//! on flat film. Derived for this project. The tests compare it with the
//! overlap of the opening with itself by exact path lengths, up to 80 degrees and in bands of light
//! (`tests/reference/oblique.py`).

use super::{Diffraction, PlainShadow, Spectrum, per_mm};
use crate::calc::quantity::{FieldAngle, HoleDiameter, HoleToFilm, InsideDiameter, SubjectDistance};

/// The film's shape and distance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Film {
    /// Flat, opposite the hole.
    Flat(HoleToFilm),
    /// On the inside wall of a round can with the hole in its side.
    Curved(InsideDiameter),
}

/// Which way contrast is looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Direction {
    /// Towards and away from the middle; along the arc of a curved film.
    Tangential,
    /// Across that; along the height of a curved film.
    Sagittal,
}

impl Diffraction {
    /// The image at a field angle, in one direction.
    ///
    /// # Errors
    /// [`PlainShadow`] as on the axis.
    pub fn off_axis(
        hole: HoleDiameter,
        film: Film,
        subject: Option<SubjectDistance>,
        spectrum: Spectrum,
        field_angle: FieldAngle,
        direction: Direction,
    ) -> Result<Self, PlainShadow> {
        Self::towards(hole, film, subject, spectrum, field_angle, direction).checked()
    }

    /// The same before its Fresnel number is looked at.
    pub(super) fn towards(
        hole: HoleDiameter,
        film: Film,
        subject: Option<SubjectDistance>,
        spectrum: Spectrum,
        field_angle: FieldAngle,
        direction: Direction,
    ) -> Self {
        let cos = field_angle.as_deg().to_radians().cos();
        let to_subject = match direction {
            Direction::Tangential => cos.powi(3),
            Direction::Sagittal => cos,
        };
        let v = match (film, direction) {
            (Film::Flat(v), _) => v.as_mm() / to_subject,
            (Film::Curved(inside), Direction::Tangential) => inside.as_mm() / cos,
            (Film::Curved(inside), Direction::Sagittal) => inside.as_mm() * cos,
        };
        Self { a: hole.as_mm() / 2.0, v, per_u: to_subject * per_mm(subject), spectrum }
    }
}
