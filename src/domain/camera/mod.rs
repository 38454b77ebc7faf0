//! A camera as its maker measured it.

pub mod hole;
pub mod light_over_sheet;
pub mod target;

use crate::calc::{
    optics::fall_off::fall_off_curved,
    optics::field::{CurvedField, FlatField, field_curved, field_disc, field_flat},
    quantity::{Bounded, FilmSide, HoleToFilm, InsideDiameter, SubjectDistance},
};

use super::{
    field_errors::FieldErrors,
    ids::{CameraId, SectionId},
    instant::Instant,
    measure::length::Length,
};

/// A length with what was typed for it, its unit written out: `4 3/4 in`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Typed {
    /// The length.
    pub length: Length,
    /// What was typed, shown again as it was.
    pub typed: String,
}

impl From<(Length, String)> for Typed {
    fn from((length, typed): (Length, String)) -> Self {
        Self { length, typed }
    }
}

/// What the camera is made from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Build {
    /// A box with the film flat on the wall opposite the hole.
    Box,
    /// A can with the hole in one end and the film flat in the other.
    EndHoleCan,
    /// A round can with the hole in its side and the film bent along the wall opposite.
    SideHoleCan,
    /// A camera body without its lens, the hole in a body cap, film from a cassette.
    BodyCap,
}

impl Build {
    /// All of them, the simplest first.
    pub const ALL: [Self; 4] = [Self::Box, Self::EndHoleCan, Self::SideHoleCan, Self::BodyCap];

    /// The stored word, which is also the word for people.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Box => "box",
            Self::EndHoleCan => "end-hole can",
            Self::SideHoleCan => "side-hole can",
            Self::BodyCap => "body cap",
        }
    }

    /// From the stored word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|build| build.as_str() == word)
    }

    /// Whether its sheets go through the trays; film in a body cap is sent to a laboratory.
    pub fn uses_trays(self) -> bool {
        self != Self::BodyCap
    }
}

/// The film and where it lies, as typed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Film {
    /// A flat rectangle opposite the hole.
    FlatRectangle {
        /// Hole to film.
        distance: Typed,
        /// Across.
        width: Typed,
        /// Up and down.
        height: Typed,
    },
    /// A flat disc opposite the hole, in the end of a can.
    FlatDisc {
        /// Hole to film.
        distance: Typed,
        /// Of the disc.
        diameter: Typed,
    },
    /// Bent along the inside of a round can's wall, the hole in the wall opposite.
    Curved {
        /// Inside diameter of the can, which is the hole-to-film distance straight ahead.
        inside_diameter: Typed,
        /// Along the arc.
        width: Typed,
        /// Up and down.
        height: Typed,
    },
}

impl Film {
    /// The stored word.
    pub fn form(&self) -> &'static str {
        match self {
            Self::FlatRectangle { .. } => "flat rectangle",
            Self::FlatDisc { .. } => "flat disc",
            Self::Curved { .. } => "curved",
        }
    }

    /// Hole to film straight ahead, as typed (curved: the inside diameter).
    pub fn distance(&self) -> &Typed {
        match self {
            Self::FlatRectangle { distance, .. } | Self::FlatDisc { distance, .. } => distance,
            Self::Curved { inside_diameter, .. } => inside_diameter,
        }
    }
}

/// The same in the quantities that the calculations take.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Geometry {
    /// A flat rectangle: across, up and down.
    FlatRectangle(FilmSide, FilmSide),
    /// A flat disc: its diameter.
    FlatDisc(FilmSide),
    /// Bent in a round can: along the arc, up and down, inside diameter.
    Curved(FilmSide, FilmSide, InsideDiameter),
}

/// Build and film together: only those that can exist.
#[derive(Clone, Debug, PartialEq)]
pub struct Body {
    build: Build,
    film: Film,
    geometry: Geometry,
    hole_to_film: HoleToFilm,
}

impl Body {
    /// Puts build and film together.
    ///
    /// # Errors
    /// A message beside `distance`, `inside_diameter`, `width`, `height` or `diameter` when it is out
    /// of the range its quantity declares, or longer than a film in that can be; for the whole when
    /// this film does not belong in that build.
    pub fn new(build: Build, film: Film) -> Result<Self, FieldErrors> {
        let fits = match film {
            Film::FlatRectangle { .. } => build != Build::SideHoleCan,
            Film::FlatDisc { .. } => build == Build::EndHoleCan,
            Film::Curved { .. } => build == Build::SideHoleCan,
        };
        if !fits {
            return Err(FieldErrors::whole(format!("a {} does not hold film like that", build.as_str())));
        }
        let mut errors = FieldErrors::none();
        let measured = match &film {
            Film::FlatRectangle { distance, width, height } => {
                let v = read::<HoleToFilm>(&mut errors, "distance", distance);
                let w = read(&mut errors, "width", width);
                let h = read(&mut errors, "height", height);
                (|| Some((Geometry::FlatRectangle(w?, h?), v?)))()
            }
            Film::FlatDisc { distance, diameter } => {
                let v = read::<HoleToFilm>(&mut errors, "distance", distance);
                let d = read(&mut errors, "diameter", diameter);
                (|| Some((Geometry::FlatDisc(d?), v?)))()
            }
            Film::Curved { inside_diameter, width, height } => {
                let inside = read::<InsideDiameter>(&mut errors, "inside_diameter", inside_diameter);
                let arc = read::<FilmSide>(&mut errors, "width", width);
                let h = read(&mut errors, "height", height);
                if let (Some(inside), Some(arc)) = (inside, arc) {
                    let round = inside.as_mm() * std::f64::consts::PI;
                    if arc.as_mm() >= round {
                        errors.add(
                            "width",
                            format!(
                                "the film is longer than the can is round: inside it measures {} round, and the hole must stay free",
                                Length::from_mm(round.floor())
                            ),
                        );
                    }
                }
                (|| Some((Geometry::Curved(arc?, h?, inside?), inside?.hole_to_film())))()
            }
        };
        match measured {
            Some((geometry, hole_to_film)) if errors.is_empty() => Ok(Self { build, film, geometry, hole_to_film }),
            _ => Err(errors),
        }
    }

    /// What it is made from.
    pub fn build(&self) -> Build {
        self.build
    }

    /// Its film, as typed.
    pub fn film(&self) -> &Film {
        &self.film
    }

    /// Its film, as the calculations take it.
    pub fn geometry(&self) -> Geometry {
        self.geometry
    }

    /// Hole to film straight ahead; with curved film the inside diameter.
    pub fn hole_to_film(&self) -> HoleToFilm {
        self.hole_to_film
    }

    /// The angle off straight ahead, in degrees, at which the hole sees the film's furthest point.
    pub fn edge_angle_deg(&self) -> f64 {
        let flat = |half: f64| (half / self.hole_to_film.as_mm()).atan().to_degrees();
        match self.geometry {
            Geometry::FlatRectangle(width, height) => flat(width.as_mm().hypot(height.as_mm()) / 2.0),
            Geometry::FlatDisc(diameter) => flat(diameter.as_mm() / 2.0),
            Geometry::Curved(arc, height, inside) => {
                let corner = fall_off_curved(arc.as_mm() / 2.0, height.as_mm() / 2.0, inside);
                let cos = corner.azimuth_deg.to_radians().cos() * corner.elevation_deg.to_radians().cos();
                cos.clamp(-1.0, 1.0).acos().to_degrees()
            }
        }
    }

    /// The angles of view.
    pub fn field(&self) -> Field {
        match self.geometry {
            Geometry::FlatRectangle(width, height) => Field::Flat(field_flat(width, height, self.hole_to_film)),
            Geometry::FlatDisc(diameter) => Field::Flat(field_disc(diameter, self.hole_to_film)),
            Geometry::Curved(arc, height, inside) => Field::Curved(field_curved(arc, height, inside)),
        }
    }
}

/// What a camera sees.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Field {
    /// On flat film.
    Flat(FlatField),
    /// On film bent round a can's wall.
    Curved(CurvedField),
}

fn read<Q: Bounded>(errors: &mut FieldErrors, field: &str, typed: &Typed) -> Option<Q> {
    Q::bounded(typed.length.as_mm()).map_err(|error| errors.add(field, error.to_string())).ok()
}

/// How far away the subject is.
///
/// # Errors
/// A message beside `subject` when it would be inside the camera or beyond what can be told from far away.
pub fn subject_distance(subject: &Typed) -> Result<SubjectDistance, FieldErrors> {
    SubjectDistance::new(subject.length.as_mm()).map_err(|error| {
        let message = if subject.length.as_mm() < SubjectDistance::MIN {
            format!(
                "nearer than {} mm the subject would be inside the camera: measure from the hole outward, with its unit, for example 2 m",
                SubjectDistance::MIN
            )
        } else {
            format!("{error}; leave it empty for far away")
        };
        FieldErrors::one("subject", message)
    })
}

/// A camera.
#[derive(Clone, Debug, PartialEq)]
pub struct Camera {
    /// Its id.
    pub id: CameraId,
    /// The section it belongs to.
    pub section: SectionId,
    /// The number written on it, unique within the section.
    pub number: i64,
    /// Its build and film.
    pub body: Body,
    /// How far the subject is, if it is near; `None` is far away. Checked by [`subject_distance`].
    pub subject: Option<Typed>,
    /// Anything else.
    pub remark: String,
    /// When it was registered.
    pub created_at: Instant,
    /// Counts edits.
    pub version: i64,
}

impl Camera {
    /// What it is made from.
    pub fn build(&self) -> Build {
        self.body.build()
    }

    /// Its film, as typed.
    pub fn film(&self) -> &Film {
        self.body.film()
    }

    /// Hole to film straight ahead; with curved film the inside diameter.
    pub fn hole_to_film(&self) -> HoleToFilm {
        self.body.hole_to_film()
    }

    /// Whether its sheets go through the trays.
    pub fn uses_trays(&self) -> bool {
        self.build().uses_trays()
    }

    /// Whether it holds film of its own, whatever paper the session hands out: a camera body whose lens is
    /// replaced by a cap.
    pub fn holds_film(&self) -> bool {
        self.build() == Build::BodyCap
    }

    /// The subject's distance as the calculations take it; `None` is far away.
    pub fn subject_distance(&self) -> Option<SubjectDistance> {
        self.subject.as_ref().and_then(|subject| subject_distance(subject).ok())
    }

    /// How many times as large as the subject its picture is, where that is more than once: the subject is nearer
    /// to the hole than the film is. `v / u`, similar triangles through the hole.
    pub fn larger_than_life(&self) -> Option<f64> {
        let times = self.hole_to_film().as_mm() / self.subject_distance()?.as_mm();
        (times > 1.0).then_some(times)
    }

    /// The angles of view.
    pub fn field(&self) -> Field {
        self.body.field()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mm(value: f64) -> Typed {
        Typed { length: Length::from_mm(value), typed: format!("{value} mm") }
    }

    fn can(inside: f64, arc: f64, height: f64) -> Result<Body, FieldErrors> {
        Body::new(Build::SideHoleCan, Film::Curved { inside_diameter: mm(inside), width: mm(arc), height: mm(height) })
    }

    fn flat_box(distance: f64, width: f64, height: f64) -> Result<Body, FieldErrors> {
        Body::new(Build::Box, Film::FlatRectangle { distance: mm(distance), width: mm(width), height: mm(height) })
    }

    #[test]
    fn in_a_side_hole_can_the_film_lies_one_inside_diameter_away() {
        let body = can(120.0, 170.0, 120.0).expect("a can");
        assert_eq!(body.hole_to_film().as_mm(), 120.0);
        // inscribed angle: 170 mm of arc on a radius of 60 mm is seen under half of 170/60 rad
        let Field::Curved(field) = body.field() else { panic!("a curved field") };
        assert!((field.horizontal_deg - 81.2).abs() < 0.05, "{field:?}");
    }

    #[test]
    fn a_film_longer_than_the_can_is_round_is_refused_beside_its_width() {
        let errors = can(120.0, 400.0, 120.0).expect_err("376.99 mm round");
        assert!(errors.of("width").is_some_and(|message| message.contains("376 mm round")), "{errors:?}");
        assert!(can(120.0, 376.9, 120.0).is_ok());
    }

    #[test]
    fn zero_and_absurd_lengths_are_refused_with_their_range() {
        let errors = flat_box(0.0, 100.0, 6000.0).expect_err("two mistakes");
        assert_eq!(errors.of("distance"), Some("hole-to-film distance must be from 5 to 5000 mm"));
        assert_eq!(errors.of("height"), Some("film side must be from 1 to 3000 mm"));
        assert!(flat_box(-1.0, 100.0, 100.0).is_err());
        // a length is whole nanometres: what is no number becomes nothing, and nothing is refused
        assert!(flat_box(f64::NAN, 100.0, 100.0).is_err());
    }

    #[test]
    fn film_that_does_not_belong_in_a_build_is_refused() {
        let disc = Film::FlatDisc { distance: mm(150.0), diameter: mm(95.0) };
        assert!(Body::new(Build::EndHoleCan, disc.clone()).is_ok());
        for build in [Build::Box, Build::SideHoleCan, Build::BodyCap] {
            assert!(Body::new(build, disc.clone()).is_err(), "{build:?}");
        }
        let bent = Film::Curved { inside_diameter: mm(120.0), width: mm(100.0), height: mm(80.0) };
        assert!(Body::new(Build::Box, bent).is_err());
    }

    #[test]
    fn the_furthest_corner_of_the_film_is_seen_under_its_angle() {
        // reference: 4 by 5 inches at 75 mm, 47.3 degrees
        let angle = flat_box(75.0, 101.6, 127.0).expect("a box").edge_angle_deg();
        assert!((angle - 47.33).abs() < 0.05, "{angle}");
        // straight up the wall of a can: 60 mm over 120 mm
        let angle = can(120.0, 1.0, 120.0).expect("a can").edge_angle_deg();
        assert!((angle - 26.57).abs() < 0.05, "{angle}");
    }

    #[test]
    fn a_subject_inside_the_camera_is_refused() {
        assert!(subject_distance(&mm(2000.0)).is_ok());
        let errors = subject_distance(&mm(2.0)).expect_err("two metres typed as two millimetres");
        assert!(errors.of("subject").is_some_and(|message| message.contains("inside the camera")), "{errors:?}");
        assert!(subject_distance(&mm(0.0)).is_err());
    }

    #[test]
    fn a_subject_nearer_than_the_film_comes_out_larger_than_life() {
        let world = crate::clock::World::system();
        let with_subject = |subject: Option<f64>| Camera {
            id: world.mint(),
            section: world.mint(),
            number: 1,
            body: flat_box(120.0, 100.0, 80.0).expect("a box"),
            subject: subject.map(mm),
            remark: String::new(),
            created_at: world.now(),
            version: 1,
        };
        // 120 mm / 80 mm
        assert_eq!(with_subject(Some(80.0)).larger_than_life(), Some(1.5));
        assert_eq!(with_subject(Some(120.0)).larger_than_life(), None);
        assert_eq!(with_subject(None).larger_than_life(), None, "far away");
    }

    #[test]
    fn only_film_in_a_body_cap_skips_the_trays() {
        let skipping: Vec<_> = Build::ALL.into_iter().filter(|build| !build.uses_trays()).collect();
        assert_eq!(skipping, [Build::BodyCap]);
        for build in Build::ALL {
            assert_eq!(Build::from_word(build.as_str()), Some(build));
        }
    }
}
