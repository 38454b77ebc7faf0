//! What the camera sees: f-number, angles of view, image scale.

use crate::calc::optics::fall_off::fall_off_flat;
use crate::calc::quantity::{FNumber, FilmSide, HoleDiameter, HoleToFilm, InsideDiameter, SubjectDistance};
use crate::calc::working::{Working, figures, plain};

/// The f-number: hole-to-film distance over hole diameter.
pub fn f_number(hole_to_film: HoleToFilm, hole: HoleDiameter) -> FNumber {
    FNumber::computed(hole_to_film.as_mm() / hole.as_mm())
}

/// How many times longer the exposure is than at a reference f-number: `(N/Nref)^2`.
pub fn time_factor(f_number: FNumber, reference: FNumber) -> f64 {
    (f_number.as_number() / reference.as_number()).powi(2)
}

/// Angles of view over a flat film, in degrees, and the light lost in its corner, in stops.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FlatField {
    /// Across the width.
    pub horizontal_deg: f64,
    /// Across the height.
    pub vertical_deg: f64,
    /// Corner to corner.
    pub diagonal_deg: f64,
    /// Stops lost in the corner against the middle, by the cos⁴ law.
    pub corner_loss_stops: f64,
}

/// Angles of view of a flat rectangular film centred opposite the hole: `2 atan(L / 2v)`.
pub fn field_flat(width: FilmSide, height: FilmSide, hole_to_film: HoleToFilm) -> FlatField {
    let (w, h, v) = (width.as_mm(), height.as_mm(), hole_to_film.as_mm());
    FlatField {
        horizontal_deg: view_deg(w, v),
        vertical_deg: view_deg(h, v),
        diagonal_deg: view_deg(w.hypot(h), v),
        corner_loss_stops: fall_off_flat(w / 2.0, h / 2.0, hole_to_film).loss_stops(),
    }
}

/// The same for a round film, as in the end of a can: its rim counts as the corner.
pub fn field_disc(diameter: FilmSide, hole_to_film: HoleToFilm) -> FlatField {
    let angle = view_deg(diameter.as_mm(), hole_to_film.as_mm());
    FlatField {
        horizontal_deg: angle,
        vertical_deg: angle,
        diagonal_deg: angle,
        corner_loss_stops: fall_off_flat(diameter.as_mm() / 2.0, 0.0, hole_to_film).loss_stops(),
    }
}

/// Angles of view over a film on the inside wall of a round can, in degrees.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CurvedField {
    /// Along the arc.
    pub horizontal_deg: f64,
    /// Over the height, straight ahead.
    pub vertical_deg: f64,
}

/// Angles of view of a hole in the side wall of a round can, film on the wall opposite.
///
/// By the inscribed angle the arc is seen under `arc / (2R)` radians; the height, straight ahead,
/// under `2 atan(H / 4R)`. An arc longer than half of the inside circumference would reach round to
/// the hole's own side; it is counted as far as the whole circumference.
pub fn field_curved(arc: FilmSide, height: FilmSide, inside: InsideDiameter) -> CurvedField {
    let r = inside.radius_mm();
    CurvedField {
        horizontal_deg: (arc.as_mm() / (2.0 * r)).to_degrees().min(180.0),
        vertical_deg: 2.0 * (height.as_mm() / (4.0 * r)).atan().to_degrees(),
    }
}

/// Image size over subject size: `v / u`.
pub fn magnification(subject: SubjectDistance, hole_to_film: HoleToFilm) -> f64 {
    hole_to_film.as_mm() / subject.as_mm()
}

/// How much of a subject's plane a length of film shows, in mm: `w u / v`.
pub fn subject_size_mm(film: FilmSide, subject: SubjectDistance, hole_to_film: HoleToFilm) -> f64 {
    film.as_mm() / magnification(subject, hole_to_film)
}

/// [`magnification`] with its working.
pub fn magnification_working(subject: SubjectDistance, hole_to_film: HoleToFilm) -> Working {
    let m = magnification(subject, hole_to_film);
    Working {
        name: "magnification",
        value: format!("1 : {}", figures(1.0 / m, 3)),
        formula: format!(
            "v / u = {} mm / {} mm = {}",
            plain(hole_to_film.as_mm()),
            plain(subject.as_mm()),
            figures(m, 3)
        ),
        source: "similar triangles through the hole",
        interval: None,
    }
}

/// [`subject_size_mm`] with its working.
pub fn subject_size_working(film: FilmSide, subject: SubjectDistance, hole_to_film: HoleToFilm) -> Working {
    let size = figures(subject_size_mm(film, subject, hole_to_film), 3);
    Working::of(
        "subject that the film shows",
        format!("{size} mm"),
        format!(
            "w u / v = {} mm × {} mm / {} mm = {size} mm",
            plain(film.as_mm()),
            plain(subject.as_mm()),
            plain(hole_to_film.as_mm())
        ),
        "similar triangles through the hole",
    )
}

/// [`time_factor`] with its working.
pub fn time_factor_working(f_number: FNumber, reference: FNumber) -> Working {
    let factor = figures(time_factor(f_number, reference), 3);
    Working::of(
        "times the exposure",
        format!("× {factor}"),
        format!("(N / Nref)² = ({} / {})² = {factor}", figures(f_number.as_number(), 3), plain(reference.as_number())),
        "definition of the f-number: the light on the film goes with 1 / N²",
    )
}

/// [`f_number`] with its working.
pub fn f_number_working(hole_to_film: HoleToFilm, hole: HoleDiameter) -> Working {
    let n = f_number(hole_to_film, hole).as_number();
    Working {
        name: "f-number",
        value: format!("f/{}", figures(n, 3)),
        formula: format!(
            "N = v / d = {} mm / {} mm = {}",
            plain(hole_to_film.as_mm()),
            plain(hole.as_mm()),
            figures(n, 3)
        ),
        source: "definition of the f-number of a hole without a lens",
        interval: None,
    }
}

/// The diagonal angle of view of a flat film with its working.
pub fn field_flat_working(width: FilmSide, height: FilmSide, hole_to_film: HoleToFilm) -> Working {
    let field = field_flat(width, height, hole_to_film);
    let side = |name: &str, mm: f64, deg: f64| {
        format!("{name} 2 atan({} / (2 × {})) = {}°", figures(mm, 4), plain(hole_to_film.as_mm()), figures(deg, 3))
    };
    let (w, h) = (width.as_mm(), height.as_mm());
    Working {
        name: "angle of view",
        value: format!(
            "{}° by {}°, {}° corner to corner",
            figures(field.horizontal_deg, 3),
            figures(field.vertical_deg, 3),
            figures(field.diagonal_deg, 3)
        ),
        formula: [
            side("across", w, field.horizontal_deg),
            side("up and down", h, field.vertical_deg),
            side("corner to corner", w.hypot(h), field.diagonal_deg),
        ]
        .join("; "),
        source: "geometry of straight rays through a point",
        interval: None,
    }
}

/// The angle of view of a round film with its working.
pub fn field_disc_working(diameter: FilmSide, hole_to_film: HoleToFilm) -> Working {
    let angle = figures(field_disc(diameter, hole_to_film).diagonal_deg, 3);
    Working {
        name: "angle of view",
        value: format!("{angle}°"),
        formula: format!("2 atan({} / (2 × {})) = {angle}°", plain(diameter.as_mm()), plain(hole_to_film.as_mm())),
        source: "geometry of straight rays through a point",
        interval: None,
    }
}

/// The angle of view of a curved film with its working.
pub fn field_curved_working(arc: FilmSide, height: FilmSide, inside: InsideDiameter) -> Working {
    let field = field_curved(arc, height, inside);
    let (across, up) = (figures(field.horizontal_deg, 3), figures(field.vertical_deg, 3));
    let d = plain(inside.as_mm());
    Working {
        name: "angle of view",
        value: format!("{across}° by {up}°"),
        formula: format!(
            "across {} / {d} rad = {across}°; up and down 2 atan({} / (2 × {d})) = {up}°",
            plain(arc.as_mm()),
            plain(height.as_mm()),
        ),
        source: "inscribed angle: an arc is seen from the circle under half its central angle",
        interval: None,
    }
}

fn view_deg(length: f64, v: f64) -> f64 {
    2.0 * (length / (2.0 * v)).atan().to_degrees()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn an_arc_right_round_the_can_is_seen_under_half_a_turn() {
        let field = field_curved(
            FilmSide::new(400.0).unwrap(),
            FilmSide::new(100.0).unwrap(),
            InsideDiameter::new(100.0).unwrap(),
        );
        assert_eq!(field.horizontal_deg, 180.0);
    }

    proptest! {
        #[test]
        fn every_camera_has_an_f_number_and_a_field(
            v in HoleToFilm::MIN..=HoleToFilm::MAX,
            d in HoleDiameter::MIN..=HoleDiameter::MAX,
            w in FilmSide::MIN..=FilmSide::MAX,
            h in FilmSide::MIN..=FilmSide::MAX,
        ) {
            let v = HoleToFilm::new(v).unwrap();
            let n = f_number(v, HoleDiameter::new(d).unwrap());
            prop_assert!(FNumber::new(n.as_number()).is_ok(), "{n:?}");
            let field = field_flat(FilmSide::new(w).unwrap(), FilmSide::new(h).unwrap(), v);
            prop_assert!(field.diagonal_deg >= field.horizontal_deg.max(field.vertical_deg));
            prop_assert!(field.diagonal_deg < 180.0 && field.corner_loss_stops >= 0.0, "{field:?}");
        }
    }
}
