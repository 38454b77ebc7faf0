//! The hole formula of the session: `d = C sqrt(lambda f')`, with `1/f' = 1/v + 1/u` for a near
//! subject.
//!
//! C is 2 sqrt(0.9) = 1.897 after Rayleigh (On Pin-hole Photography, Phil. Mag. XXXI, 1891, as
//! given by Mielenz, J. Res. NIST 104, 1999) and sqrt(2) = 1.414 after Petzval (1857). Valid while
//! the hole is much larger than the wavelength and the plate is thin.

use crate::calc::quantity::{FocalLength, HoleConstant, HoleDiameter, HoleToFilm, SubjectDistance, Wavelength};
use crate::calc::working::{Working, figures, plain, scaled};

const SOURCE: &str = "Rayleigh, On Pin-hole Photography, Phil. Mag. XXXI (1891): C = 1.90; \
     Petzval (1857): C = 1.41; the constant and wavelength are those of the session";

/// The distance f' that the formulas take, in mm: `1/f' = 1/v + 1/u`; v itself for a far subject.
pub fn reduced_distance_mm(hole_to_film: HoleToFilm, subject: Option<SubjectDistance>) -> f64 {
    let v = hole_to_film.as_mm();
    match subject {
        Some(u) => 1.0 / (1.0 / v + 1.0 / u.as_mm()),
        None => v,
    }
}

/// The hole diameter that the formula asks for.
pub fn hole_diameter(
    hole_to_film: HoleToFilm,
    wavelength: Wavelength,
    constant: HoleConstant,
    subject: Option<SubjectDistance>,
) -> HoleDiameter {
    let f = reduced_distance_mm(hole_to_film, subject);
    HoleDiameter::computed(constant.as_number() * (wavelength.as_mm() * f).sqrt())
}

/// The inverse: the focal length that belongs to a hole, `f = (d/C)^2 / lambda`.
pub fn associated_focal_length(hole: HoleDiameter, wavelength: Wavelength, constant: HoleConstant) -> FocalLength {
    FocalLength::computed((hole.as_mm() / constant.as_number()).powi(2) / wavelength.as_mm())
}

/// The constants between which an edge is drawn within a tenth of the steepest possible: computed for
/// this project from diffraction theory, for one wavelength (`diffraction::tolerance` finds them again).
pub const CONSTANTS_WITHIN_A_TENTH: [f64; 2] = [1.2264, 1.9712];

/// The least and the greatest hole that draw an edge within a tenth of the steepest possible.
pub fn holes_within_a_tenth(
    hole_to_film: HoleToFilm,
    wavelength: Wavelength,
    subject: Option<SubjectDistance>,
) -> [HoleDiameter; 2] {
    CONSTANTS_WITHIN_A_TENTH.map(|c| hole_diameter(hole_to_film, wavelength, HoleConstant::computed(c), subject))
}

/// Diameter of the blur that straight rays alone would draw, in mm: `d (1 + v/u)`.
pub fn geometric_blur_mm(hole: HoleDiameter, hole_to_film: HoleToFilm, subject: Option<SubjectDistance>) -> f64 {
    let near = subject.map_or(0.0, |u| hole_to_film.as_mm() / u.as_mm());
    hole.as_mm() * (1.0 + near)
}

/// Radius of the first dark ring far behind a small hole, in mm: `1.21967 lambda v / d` (Airy).
pub fn airy_radius_mm(hole: HoleDiameter, hole_to_film: HoleToFilm, wavelength: Wavelength) -> f64 {
    /// First zero of the Bessel function J1, over pi.
    const FIRST_ZERO: f64 = 1.219_669_891_266_504_5;
    FIRST_ZERO * wavelength.as_mm() * hole_to_film.as_mm() / hole.as_mm()
}

/// [`geometric_blur_mm`] with its working.
pub fn geometric_blur_working(
    hole: HoleDiameter,
    hole_to_film: HoleToFilm,
    subject: Option<SubjectDistance>,
) -> Working {
    let blur = figures(geometric_blur_mm(hole, hole_to_film, subject), 3);
    let (d, v) = (plain(hole.as_mm()), plain(hole_to_film.as_mm()));
    Working::of(
        "blur by straight rays",
        format!("{blur} mm"),
        match subject {
            Some(u) => format!("d (1 + v / u) = {d} mm × (1 + {v} / {}) = {blur} mm", plain(u.as_mm())),
            None => format!("d, for a far subject: {d} mm"),
        },
        "straight rays through the hole, without diffraction",
    )
}

/// [`airy_radius_mm`] with its working.
pub fn airy_radius_working(hole: HoleDiameter, hole_to_film: HoleToFilm, wavelength: Wavelength) -> Working {
    let radius = scaled(airy_radius_mm(hole, hole_to_film, wavelength), 3);
    let (d, v, lambda) = (hole.as_mm(), hole_to_film.as_mm(), wavelength.as_mm());
    Working::of(
        "first dark ring far behind the hole",
        format!("{radius} mm"),
        format!(
            "1.21967 λ v / d = 1.21967 × {lambda} mm × {v} mm / {d} mm = {radius} mm; holds where the Fresnel number \
             d² / (4 λ v) is far below 0.1, here {}",
            scaled(d * d / (4.0 * lambda * v), 2),
            lambda = plain(lambda),
            v = plain(v),
            d = plain(d),
        ),
        "Airy's disc: first zero of the Bessel function J₁ (from memory, checked numerically)",
    )
}

/// [`hole_diameter`] with its working.
pub fn hole_diameter_working(
    hole_to_film: HoleToFilm,
    wavelength: Wavelength,
    constant: HoleConstant,
    subject: Option<SubjectDistance>,
) -> Working {
    let hole = hole_diameter(hole_to_film, wavelength, constant, subject).as_mm();
    let f = reduced_distance_mm(hole_to_film, subject);
    let [least, greatest] = holes_within_a_tenth(hole_to_film, wavelength, subject);
    // A near subject's reduced distance is a result and rounded; a distance itself is shown as given.
    let distance = if subject.is_some() { figures(f, 4) } else { plain(f) };
    let near = subject.map_or(String::new(), |u| {
        format!(
            "1/f′ = 1/v + 1/u = 1/{} + 1/{}, so f′ = {} mm; ",
            plain(hole_to_film.as_mm()),
            plain(u.as_mm()),
            distance
        )
    });
    Working {
        name: "hole diameter",
        value: format!("{} mm", figures(hole, 3)),
        formula: format!(
            "{near}d = C √(λ f′) = {} × √({} mm × {} mm) = {} mm",
            plain(constant.as_number()),
            plain(wavelength.as_mm()),
            distance,
            figures(hole, 3)
        ),
        source: SOURCE,
        interval: Some(format!(
            "any hole from {} to {} mm draws an edge within a tenth of the steepest possible",
            figures(least.as_mm(), 2),
            figures(greatest.as_mm(), 2)
        )),
    }
}

/// [`associated_focal_length`] with its working.
pub fn associated_focal_length_working(hole: HoleDiameter, wavelength: Wavelength, constant: HoleConstant) -> Working {
    let f = associated_focal_length(hole, wavelength, constant).as_mm();
    Working {
        name: "focal length that belongs to this hole",
        value: format!("{} mm", figures(f, 3)),
        formula: format!(
            "f = (d / C)² / λ = ({} mm / {})² / {} mm = {} mm",
            plain(hole.as_mm()),
            plain(constant.as_number()),
            plain(wavelength.as_mm()),
            figures(f, 3)
        ),
        source: SOURCE,
        interval: None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_eight_second_can_gets_its_half_millimetre() {
        let hole = hole_diameter(
            HoleToFilm::new(120.0).unwrap(),
            Wavelength::new(550.0).unwrap(),
            HoleConstant::new(1.9).unwrap(),
            None,
        );
        assert!((hole.as_mm() - 0.488).abs() < 0.001, "{hole:?}");
    }

    #[test]
    fn the_working_puts_the_numbers_in() {
        let said = hole_diameter_working(
            HoleToFilm::new(120.0).unwrap(),
            Wavelength::new(550.0).unwrap(),
            HoleConstant::new(1.9).unwrap(),
            Some(SubjectDistance::new(1000.0).unwrap()),
        );
        assert_eq!(
            said.formula,
            "1/f′ = 1/v + 1/u = 1/120 + 1/1000, so f′ = 107.1 mm; \
             d = C √(λ f′) = 1.9 × √(0.00055 mm × 107.1 mm) = 0.461 mm"
        );
        assert_eq!(said.value, "0.461 mm");
    }

    proptest! {
        #[test]
        fn hole_and_focal_length_are_each_other_s_inverse(
            v in HoleToFilm::MIN..=HoleToFilm::MAX,
            nm in Wavelength::MIN..=Wavelength::MAX,
            c in HoleConstant::MIN..=HoleConstant::MAX,
            u in proptest::option::of(SubjectDistance::MIN..=SubjectDistance::MAX),
        ) {
            let (v, nm, c) = (
                HoleToFilm::new(v).unwrap(),
                Wavelength::new(nm).unwrap(),
                HoleConstant::new(c).unwrap(),
            );
            let u = u.map(|u| SubjectDistance::new(u).unwrap());
            let hole = hole_diameter(v, nm, c, u);
            prop_assert!(HoleDiameter::new(hole.as_mm()).is_ok(), "{hole:?}");
            let f = associated_focal_length(hole, nm, c).as_mm();
            prop_assert!((f / reduced_distance_mm(v, u) - 1.0).abs() < 1e-12);
        }

        #[test]
        fn every_hole_has_a_focal_length_in_range(
            d in HoleDiameter::MIN..=HoleDiameter::MAX,
            nm in Wavelength::MIN..=Wavelength::MAX,
            c in HoleConstant::MIN..=HoleConstant::MAX,
        ) {
            let f = associated_focal_length(
                HoleDiameter::new(d).unwrap(),
                Wavelength::new(nm).unwrap(),
                HoleConstant::new(c).unwrap(),
            );
            prop_assert!(FocalLength::new(f.as_mm()).is_ok(), "{f:?}");
        }
    }
}
