//! The one target a camera has, and what follows from it, each with its working.

use crate::calc::{
    optics::{
        fall_off::{fall_off_curved, fall_off_flat},
        field::{
            f_number, f_number_working, field_curved, field_curved_working, field_disc_working, field_flat_working,
            subject_size_mm,
        },
        hole_formula::{
            associated_focal_length, associated_focal_length_working, hole_diameter, hole_diameter_working,
        },
        micrometer::MicrometerSetting,
    },
    quantity::{FNumber, FilmSide, HoleConstant, HoleDiameter, OutOfRange, SubjectDistance, Wavelength},
    working::{Working, figures, plain},
};

use super::{Body, Camera, Geometry};
use crate::domain::marking::own_figure::Reveals;
use crate::domain::{evening::lab_session::LabSession, measure::length::LengthUnit};

/// The hole formula of the lab's write-up: its constant and wavelength.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HoleFormula {
    /// C in d = C √(λ f).
    pub constant: HoleConstant,
    /// λ in the same.
    pub wavelength: Wavelength,
}

impl HoleFormula {
    /// C = 1.9 and 550 nm: what a session has until its instructor says otherwise.
    ///
    /// # Errors
    /// Never with these figures.
    pub fn usual() -> Result<Self, OutOfRange> {
        Ok(Self { constant: HoleConstant::new(1.9)?, wavelength: Wavelength::new(550.0)? })
    }

    /// That of a session.
    ///
    /// # Errors
    /// When the session holds figures that no formula takes.
    pub fn of(session: &LabSession) -> Result<Self, OutOfRange> {
        Ok(Self {
            constant: HoleConstant::new(session.hole_constant_milli as f64 / 1000.0)?,
            wavelength: Wavelength::new(session.wavelength_nm as f64)?,
        })
    }
}

/// The hole diameter a camera asks for by the session's formula.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Target {
    /// The formula used.
    pub formula: HoleFormula,
    /// The hole to make.
    pub hole: HoleDiameter,
    /// The f-number it would have.
    pub f_number: FNumber,
}

impl Target {
    /// The target of a camera.
    pub fn of(camera: &Camera, formula: HoleFormula) -> Self {
        let v = camera.hole_to_film();
        let hole = hole_diameter(v, formula.wavelength, formula.constant, camera.subject_distance());
        Self { formula, hole, f_number: f_number(v, hole) }
    }

    /// What to set on the micrometer.
    pub fn setting(self) -> MicrometerSetting {
        MicrometerSetting::of(self.hole)
    }

    /// The hole diameter with its working.
    pub fn hole_working(self, camera: &Camera) -> Working {
        hole_diameter_working(
            camera.hole_to_film(),
            self.formula.wavelength,
            self.formula.constant,
            camera.subject_distance(),
        )
    }

    /// The inverse: the focal length that belongs to a hole, in mm.
    pub fn focal_length_mm(self, hole: HoleDiameter) -> f64 {
        associated_focal_length(hole, self.formula.wavelength, self.formula.constant).as_mm()
    }

    /// [`Self::focal_length_mm`] with its working.
    pub fn focal_length_working(self, hole: HoleDiameter) -> Working {
        associated_focal_length_working(hole, self.formula.wavelength, self.formula.constant)
    }

    /// The hole a metric micrometer can set: the target to 0.01 mm.
    pub fn settable(self) -> HoleDiameter {
        HoleDiameter::new((self.hole.as_mm() * 100.0).round() / 100.0).unwrap_or(self.hole)
    }
}

/// The f-number of a hole in this camera, with its working.
pub fn aperture_working(body: &Body, hole: HoleDiameter) -> Working {
    f_number_working(body.hole_to_film(), hole)
}

/// The angles of view with their working.
pub fn view_working(body: &Body) -> Working {
    match body.geometry() {
        Geometry::FlatRectangle(width, height) => field_flat_working(width, height, body.hole_to_film()),
        Geometry::FlatDisc(diameter) => field_disc_working(diameter, body.hole_to_film()),
        Geometry::Curved(arc, height, inside) => field_curved_working(arc, height, inside),
    }
}

/// What that tells: along a can's wall the picture covered is an angle, the one that may be asked for.
pub fn picture_reveals(body: &Body) -> Reveals {
    match body.geometry() {
        Geometry::Curved(..) => Reveals::ANGLE,
        Geometry::FlatRectangle(..) | Geometry::FlatDisc(..) => Reveals::NOTHING,
    }
}

/// How much of a scene at that distance the film shows, with its working.
pub fn picture_working(body: &Body, subject: SubjectDistance, unit: LengthUnit) -> Working {
    let v = body.hole_to_film();
    let scale = subject.as_mm() / v.as_mm();
    let at = |film| scene_words(subject_size_mm(film, subject, v), unit);
    let sum = |film: FilmSide| {
        format!(
            "{} mm × {} = {} mm",
            plain(film.as_mm()),
            figures(scale, 3),
            figures(subject_size_mm(film, subject, v), 3)
        )
    };
    let (value, sums) = match body.geometry() {
        Geometry::FlatRectangle(width, height) => {
            (format!("{} by {}", at(width), at(height)), format!("{}; {}", sum(width), sum(height)))
        }
        Geometry::FlatDisc(diameter) => (format!("a circle of {}", at(diameter)), sum(diameter)),
        Geometry::Curved(arc, height, inside) => {
            let across = figures(field_curved(arc, height, inside).horizontal_deg, 3);
            (
                format!("{across}° of the horizon, {} high straight ahead", at(height)),
                format!(
                    "{}; along the arc {} / {} rad = {across}°",
                    sum(height),
                    plain(arc.as_mm()),
                    plain(inside.as_mm())
                ),
            )
        }
    };
    Working {
        name: "picture covered",
        value,
        formula: format!(
            "film × u / v, with u / v = {} mm / {} mm = {}: {sums}",
            plain(subject.as_mm()),
            plain(v.as_mm()),
            figures(scale, 3)
        ),
        source: "similar triangles through the hole",
        interval: None,
    }
}

/// The light lost where the film gets least, against its middle, in stops, with its working: in the
/// corners, or at the edge of a disc.
pub fn edge_loss_working(body: &Body) -> Working {
    let v = body.hole_to_film();
    let flat = |half_mm: f64| {
        let angle = (half_mm / v.as_mm()).atan().to_degrees();
        (
            fall_off_flat(half_mm, 0.0, v).loss_stops(),
            format!(
                "θ = atan({} mm / {} mm) = {}°; E = cos⁴θ",
                figures(half_mm, 3),
                plain(v.as_mm()),
                figures(angle, 3)
            ),
            "cosine-fourth law, exact for a thin hole and flat film",
        )
    };
    let (loss, formula, source) = match body.geometry() {
        Geometry::FlatRectangle(width, height) => flat(width.as_mm().hypot(height.as_mm()) / 2.0),
        Geometry::FlatDisc(diameter) => flat(diameter.as_mm() / 2.0),
        Geometry::Curved(arc, height, inside) => {
            let (arc, half) = (arc.as_mm() / 2.0, height.as_mm() / 2.0);
            (
                fall_off_curved(arc, half, inside).relative.loss_stops(),
                format!(
                    "E = (1 + (h / (2R cos(s/2R)))²)⁻² = (1 + ({} / ({d} cos({} / {d})))²)⁻²",
                    plain(half),
                    plain(arc),
                    d = plain(inside.as_mm())
                ),
                "cosine at the hole, cosine at the film, distance squared; derived for the curved film",
            )
        }
    };
    let (value, formula) = if loss.is_finite() {
        let share = figures((-loss).exp2(), 3);
        let stops = figures(loss, 2);
        (format!("{stops} stops"), format!("{formula} = {share}; −log₂ E = {stops} stops"))
    } else {
        ("no light at all".to_owned(), format!("{formula} = 0"))
    };
    let name = match body.geometry() {
        Geometry::FlatDisc(_) => "light lost at the edge of the disc",
        _ => "light lost in the corners",
    };
    Working { name, value, formula, source, interval: None }
}

/// A length out in the scene: metres or feet, two to three figures.
fn scene_words(mm: f64, unit: LengthUnit) -> String {
    match unit {
        LengthUnit::Millimetre if mm < 1000.0 => format!("{} mm", figures(mm, 3)),
        LengthUnit::Millimetre => format!("{} m", figures(mm / 1000.0, 2)),
        LengthUnit::Inch if mm < 304.8 => format!("{} in", figures(mm / 25.4, 3)),
        LengthUnit::Inch => format!("{} ft", figures(mm / 304.8, 2)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        clock::World,
        domain::{
            camera::{Build, Film, Typed},
            instant::Instant,
            measure::length::Length,
        },
    };

    fn mm(value: f64) -> Typed {
        Typed { length: Length::from_mm(value), typed: format!("{value} mm") }
    }

    fn camera(build: Build, film: Film, subject: Option<f64>) -> Camera {
        let at = Instant::from_micros(1_774_029_600_000_000).expect("in range");
        let world = World::fixed(at);
        Camera {
            id: world.mint(),
            section: world.mint(),
            number: 1,
            body: Body::new(build, film).expect("a camera"),
            subject: subject.map(mm),
            remark: String::new(),
            created_at: at,
            version: 1,
        }
    }

    fn can() -> Camera {
        let film = Film::Curved { inside_diameter: mm(120.0), width: mm(170.0), height: mm(120.0) };
        camera(Build::SideHoleCan, film, None)
    }

    #[test]
    fn the_eight_second_can_asks_for_half_a_millimetre() {
        // d = C √(λ f) = 1.9 × √(0.00055 × 120) = 0.4881 mm, 0.01922 in; f/245.8
        let target = Target::of(&can(), HoleFormula::usual().expect("in range"));
        assert!((target.hole.as_mm() - 0.4881).abs() < 0.0001, "{target:?}");
        assert_eq!(target.setting().metric_text(), "0.49 mm");
        assert_eq!(target.setting().thousandths_text(), "19.2 thousandths of an inch");
        assert!((target.f_number.as_number() - 245.8).abs() < 0.1, "{target:?}");
        assert_eq!(target.settable().as_mm(), 0.49);
    }

    #[test]
    fn a_near_subject_asks_for_a_smaller_hole() {
        let film = || Film::FlatRectangle { distance: mm(120.0), width: mm(100.0), height: mm(125.0) };
        let formula = HoleFormula::usual().expect("in range");
        let far = Target::of(&camera(Build::Box, film(), None), formula);
        let near = Target::of(&camera(Build::Box, film(), Some(500.0)), formula);
        assert!(near.hole < far.hole);
    }

    #[test]
    fn a_box_covers_in_a_scene_what_its_film_is_times_the_distances() {
        let film = Film::FlatRectangle { distance: mm(120.0), width: mm(100.0), height: mm(125.0) };
        let body = Body::new(Build::Box, film).expect("a box");
        let said = picture_working(&body, SubjectDistance::new(6000.0).expect("in range"), LengthUnit::Millimetre);
        assert_eq!(said.value, "5.0 m by 6.3 m");
    }

    #[test]
    fn the_corner_of_a_wide_box_loses_two_and_a_quarter_stops() {
        // 4x5 inches at 75 mm, worked by hand in this test: 47.3 degrees, 2.24 stops
        let film = Film::FlatRectangle { distance: mm(75.0), width: mm(101.6), height: mm(127.0) };
        let body = Body::new(Build::Box, film).expect("a box");
        assert_eq!(edge_loss_working(&body).value, "2.2 stops");
    }

    #[test]
    fn along_the_arc_a_can_loses_light_only_towards_its_rims() {
        let said = edge_loss_working(&can().body);
        assert!(said.value.ends_with("stops"), "{said:?}");
    }
}
