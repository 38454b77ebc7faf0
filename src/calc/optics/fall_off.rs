//! How the light falls off over the film, against the middle.
//!
//! A scene of one brightness, a thin round hole. Exact for the flat film (cos⁴ law); for the film in
//! a round can derived from the same geometry: cosine at the hole, cosine at the film, distance
//! squared.

use crate::calc::quantity::{HoleToFilm, InsideDiameter};
use crate::calc::working::{Working, figures, plain, scaled};

/// Illuminance against the point of the film straight ahead, from 0 to (nearly always) 1.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct RelativeIlluminance(f64);

impl RelativeIlluminance {
    /// The share of the light.
    pub const fn as_share(self) -> f64 {
        self.0
    }

    /// The stops lost; infinite where no light arrives.
    pub fn loss_stops(self) -> f64 {
        // -log2(1) is -0, which would be shown with its sign.
        -self.0.log2() + 0.0
    }
}

/// Fall-off at an angle off the axis of a flat film: `cos^4`.
///
/// `angle_deg` from 0 to 90.
pub fn fall_off_at_angle(angle_deg: f64) -> RelativeIlluminance {
    RelativeIlluminance(angle_deg.to_radians().cos().max(0.0).powi(4))
}

/// Fall-off at a point of a flat film, x and y in mm from the point opposite the hole:
/// `(v² / (v² + x² + y²))²`, which is cos⁴ of the angle.
pub fn fall_off_flat(x_mm: f64, y_mm: f64, hole_to_film: HoleToFilm) -> RelativeIlluminance {
    let v2 = hole_to_film.as_mm().powi(2);
    RelativeIlluminance((v2 / (v2 + x_mm * x_mm + y_mm * y_mm)).powi(2))
}

/// A point on the inside wall of a round can as the hole in its side sees it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CurvedPoint {
    /// Illuminance against the point opposite the hole.
    pub relative: RelativeIlluminance,
    /// Angle of the ray round the can's axis, in degrees from straight ahead.
    pub azimuth_deg: f64,
    /// Angle of the ray above the hole's level, in degrees.
    pub elevation_deg: f64,
}

/// Fall-off at a point of a curved film: `arc_mm` along the wall from the line opposite the hole,
/// `height_mm` above the hole's level, the hole in the wall itself.
///
/// `E = (1 + (h / (2R cos(s/2R)))²)⁻²`: along the arc at the hole's level nothing is lost.
pub fn fall_off_curved(arc_mm: f64, height_mm: f64, inside: InsideDiameter) -> CurvedPoint {
    fall_off_curved_from(arc_mm, height_mm, inside.radius_mm(), inside.radius_mm())
}

/// The same with the hole at a distance `hole_radius_mm` (p) from the can's axis, as when it sits
/// in a plate outside the wall: with φ = s/R and c = cos φ,
/// `E = (p + R c)(p c + R)(p + R)² / (p² + R² + 2pRc + h²)²`.
pub fn fall_off_curved_from(arc_mm: f64, height_mm: f64, inside_radius_mm: f64, hole_radius_mm: f64) -> CurvedPoint {
    let (r, p) = (inside_radius_mm, hole_radius_mm);
    let (sin, cos) = (arc_mm / r).sin_cos();
    let level2 = p * p + r * r + 2.0 * p * r * cos;
    let share =
        (p + r * cos).max(0.0) * (p * cos + r).max(0.0) * (p + r).powi(2) / (level2 + height_mm * height_mm).powi(2);
    CurvedPoint {
        relative: RelativeIlluminance(if share.is_finite() { share } else { 0.0 }),
        azimuth_deg: (r * sin).atan2(p + r * cos).to_degrees(),
        elevation_deg: height_mm.atan2(level2.max(0.0).sqrt()).to_degrees(),
    }
}

/// [`fall_off_at_angle`] with its working.
pub fn fall_off_at_angle_working(angle_deg: f64) -> Working {
    let left = fall_off_at_angle(angle_deg);
    fall_off_working(left, format!("cos⁴ θ = cos⁴ {}°", plain(angle_deg)), COSINE_FOURTH)
}

/// [`fall_off_flat`] with its working.
pub fn fall_off_flat_working(x_mm: f64, y_mm: f64, hole_to_film: HoleToFilm) -> Working {
    let (x, y, v) = (plain(x_mm), plain(y_mm), plain(hole_to_film.as_mm()));
    let formula = format!("(v² / (v² + x² + y²))² = ({v}² / ({v}² + {x}² + {y}²))²");
    fall_off_working(fall_off_flat(x_mm, y_mm, hole_to_film), formula, COSINE_FOURTH)
}

/// [`fall_off_curved_from`] with its working.
pub fn fall_off_curved_working(arc_mm: f64, height_mm: f64, inside_radius_mm: f64, hole_radius_mm: f64) -> Working {
    let point = fall_off_curved_from(arc_mm, height_mm, inside_radius_mm, hole_radius_mm);
    let (r, p, h) = (plain(inside_radius_mm), plain(hole_radius_mm), plain(height_mm));
    let c = figures((arc_mm / inside_radius_mm).cos(), 4);
    let formula = format!(
        "with c = cos(s / R) = cos({} / {r}) = {c}: (p + R c)(p c + R)(p + R)² / (p² + R² + 2 p R c + h²)² = ({p} + {r} × {c}) \
         ({p} × {c} + {r}) ({p} + {r})² / ({p}² + {r}² + 2 × {p} × {r} × {c} + {h}²)²",
        plain(arc_mm)
    );
    fall_off_working(
        point.relative,
        formula,
        "cosine at the hole, cosine at the film and distance squared, derived for this project and checked by simulation",
    )
}

const COSINE_FOURTH: &str = "cosine-fourth law, exact for a thin hole and flat film";

fn fall_off_working(left: RelativeIlluminance, formula: String, source: &'static str) -> Working {
    let (share, stops) = (scaled(left.as_share(), 3), scaled(left.loss_stops(), 3));
    Working::of(
        "light against the middle",
        format!("{share}, {stops} stops lost"),
        format!("{formula} = {share}; −log₂ {share} = {stops} stops"),
        source,
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_corner_of_a_wide_box_loses_two_and_a_quarter_stops() {
        // 4x5 inches at 75 mm, worked by hand in this test: atan(√(50.8² + 63.5²) / 75) = 47.3 degrees,
        // log2 of its cosine to the fourth -2.24 stops.
        let corner = fall_off_flat(50.8, 63.5, HoleToFilm::new(75.0).unwrap());
        assert!((corner.loss_stops() - 2.25).abs() < 0.01, "{corner:?}");
    }

    proptest! {
        #[test]
        fn a_flat_film_is_brightest_in_the_middle(
            x in -3000.0..3000.0f64, y in -3000.0..3000.0f64,
            v in HoleToFilm::MIN..=HoleToFilm::MAX,
        ) {
            let e = fall_off_flat(x, y, HoleToFilm::new(v).unwrap()).as_share();
            prop_assert!(e > 0.0 && e <= 1.0, "{e}");
            let further = fall_off_flat(x * 1.1, y * 1.1, HoleToFilm::new(v).unwrap()).as_share();
            prop_assert!(further <= e);
        }

        #[test]
        fn along_the_arc_at_the_hole_s_level_nothing_is_lost(
            turn in -0.49..0.49f64, d in InsideDiameter::MIN..=InsideDiameter::MAX,
        ) {
            let inside = InsideDiameter::new(d).unwrap();
            let arc = turn * std::f64::consts::TAU * inside.radius_mm();
            let point = fall_off_curved(arc, 0.0, inside);
            prop_assert!((point.relative.as_share() - 1.0).abs() < 1e-9, "{point:?}");
            prop_assert!((point.azimuth_deg - 180.0 * turn).abs() < 1e-6, "{point:?}");
        }
    }
}
