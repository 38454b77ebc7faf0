//! What a student has at hand for an exposure: the session with its paper, the camera, its hole.

use jiff::tz::TimeZone;
use sqlx::SqliteConnection;

use crate::{
    calc::{
        light::{
            experience::{FittedExponent, Lesson},
            given_time::GivenTime,
            sky::Light,
            sun::Place,
        },
        working::plain,
    },
    domain::{
        camera::{Camera, Film, Typed, hole::Hole},
        evening::lab_session::{LabSession, SessionState},
        exposure::{
            Exposure,
            aim::Aim,
            starting_exposure::{MOST_TEACHING, Setting, StartingExposure, starting_exposure, taught_by},
            sun_found::Whereabouts,
        },
        ids::{SectionId, SiteId, StudentId},
        instant::Instant,
        measure::length::LengthUnit,
        site::Site,
        stock::{
            paper::{Paper, PaperKind},
            product::ProductKind,
        },
    },
    lab::evening::session::session_for_students,
    store::{
        Error,
        baths::tray_slots,
        camera::{cameras, films, holes},
        exposure::exposures,
        people::sections,
        site::sites,
        stock::papers,
    },
};

/// What a student has at hand.
#[derive(Clone, Debug)]
pub struct AtHand {
    /// The site's time zone.
    pub zone: TimeZone,
    /// Where the site is on Earth, once somebody has entered it.
    pub place: Option<Place>,
    /// The site.
    pub site: SiteId,
    /// The session: the open one, else the newest that was held; with its paper.
    pub evening: Option<(LabSession, Paper)>,
    /// The student's camera.
    pub camera: Option<Camera>,
    /// What the camera is loaded with: the session’s paper, or the film in a body cap; `None` without a
    /// session or camera, and while nobody has said which film it is.
    pub loaded: Option<Paper>,
    /// Its newest hole as measured.
    pub hole: Option<Hole>,
    /// Whether a fixer stands in the session's tray line now.
    pub fixer_stands: bool,
}

impl AtHand {
    /// Looks it up.
    ///
    /// # Errors
    /// When the database cannot be used.
    pub async fn load(conn: &mut SqliteConnection, section: SectionId, student: StudentId) -> Result<Self, Error> {
        let site = sites::find(conn).await?;
        let section = sections::find(conn, section).await?;
        let section = section.ok_or_else(|| inconsistent("student", "section_id", student.to_string()))?;
        // a planned one is not the students' business
        let session = session_for_students(conn, section.id).await?;
        let evening = match session.filter(|session| session.state != SessionState::Planned) {
            None => None,
            Some(session) => {
                let paper = papers::find(conn, session.paper).await?;
                let paper = paper.ok_or_else(|| inconsistent("lab_session", "paper_id", session.id.to_string()))?;
                Some((session, paper))
            }
        };
        let camera = cameras::find_of_student(conn, student).await?;
        let hole = match &camera {
            Some(camera) => holes::find_latest(conn, camera.id).await?,
            None => None,
        };
        let loaded = match (&evening, &camera) {
            (Some((_, paper)), Some(camera)) => films::find_loaded(conn, paper, camera).await?,
            _ => None,
        };
        let tray_line = evening.as_ref().and_then(|(session, _)| session.tray_line);
        let fixer_stands = match tray_line {
            Some(line) => tray_slots::list_current(conn)
                .await?
                .iter()
                .any(|stay| stay.tray_line == line && stay.slot.takes() == ProductKind::Fixer),
            None => false,
        };
        Ok(Self {
            fixer_stands,
            place: site.as_ref().and_then(Site::on_earth),
            zone: site.map_or(TimeZone::UTC, |site| site.zone),
            site: section.site,
            evening,
            camera,
            loaded,
            hole,
        })
    }

    /// The session, if it is in progress.
    pub fn open_session(&self) -> Option<&LabSession> {
        self.evening.as_ref().map(|(session, _)| session).filter(|session| session.state.is_open())
    }

    /// Where and when: what the height of the sun needs.
    pub fn whereabouts(&self, at: Instant) -> Whereabouts {
        Whereabouts { place: self.place, zone: self.zone.clone(), at }
    }

    /// Whether sheets from this camera go through the trays of this session.
    pub fn uses_trays(&self) -> bool {
        let paper = self
            .evening
            .as_ref()
            .is_some_and(|(session, paper)| session.tray_line.is_some() && paper.kind == PaperKind::Paper);
        paper && self.camera.as_ref().is_some_and(Camera::uses_trays)
    }

    /// Whether a forecast waits for somebody to say which film is in the camera.
    pub fn needs_film(&self) -> bool {
        self.evening.is_some() && self.camera.is_some() && self.loaded.is_none()
    }

    /// The size of sheet the camera takes, as a sheet is typed; 4x5in before there is a camera.
    pub fn film_size(&self, inches: bool) -> String {
        let (width, height) = match self.camera.as_ref().map(Camera::film) {
            None => return "4x5in".to_owned(),
            Some(Film::FlatRectangle { width, height, .. } | Film::Curved { width, height, .. }) => (width, height),
            Some(Film::FlatDisc { diameter, .. }) => (diameter, diameter),
        };
        sheet_size(width, height, if inches { LengthUnit::Inch } else { LengthUnit::Millimetre })
    }

    /// What earlier sheets say about this camera in this session.
    ///
    /// # Errors
    /// When the database cannot be used.
    pub async fn learned(&self, conn: &mut SqliteConnection) -> Result<Option<Learned>, Error> {
        let (Some((session, _)), Some(camera), Some(loaded)) = (&self.evening, &self.camera, &self.loaded) else {
            return Ok(None);
        };
        Learned::load(conn, session, loaded, camera, self.hole.as_ref()).await.map(Some)
    }
}

/// Two sides as a sheet's size is written: in the unit they were typed in, where it is the same for both.
fn sheet_size(width: &Typed, height: &Typed, unit: LengthUnit) -> String {
    let typed_in = |side: &Typed| {
        let ends = |signs: &[&str]| signs.iter().any(|sign| side.typed.trim_end().to_lowercase().ends_with(sign));
        match () {
            () if ends(&["in", "inch", "inches", "\"", "”"]) => Some(LengthUnit::Inch),
            () if ends(&["mm", "cm"]) => Some(LengthUnit::Millimetre),
            () => None,
        }
    };
    let unit = typed_in(width).filter(|of_width| Some(*of_width) == typed_in(height)).unwrap_or(unit);
    let cm = [width, height].iter().all(|side| side.typed.trim_end().to_lowercase().ends_with("cm"));
    let side = |side: &Typed| if cm { plain(side.length.as_mm() / 10.0) } else { side.length.number(unit) };
    format!("{}x{}{}", side(width), side(height), if cm { "cm" } else { unit.sign() })
}

fn inconsistent(table: &'static str, column: &'static str, id: String) -> Error {
    Error::Inconsistent { table, column, id }
}

/// Everything a starting exposure needs but the light.
#[derive(Clone, Debug)]
pub struct Learned {
    setting: Setting,
    paper: Paper,
    lesson: Lesson,
    fitted: Option<FittedExponent>,
    of_camera: Vec<Exposure>,
}

impl Learned {
    /// Looks up what sheets on this paper or film have shown: what the camera is loaded with.
    ///
    /// # Errors
    /// When the database cannot be used.
    pub async fn load(
        conn: &mut SqliteConnection,
        session: &LabSession,
        paper: &Paper,
        camera: &Camera,
        hole: Option<&Hole>,
    ) -> Result<Self, Error> {
        let taught = exposures::list_teaching(conn, paper.id, MOST_TEACHING).await?;
        let taught = taught_by(&taught, paper);
        Ok(Self {
            setting: Setting::of(camera, hole, session)
                .map_err(|_| inconsistent("lab_session", "hole_constant_milli", session.id.to_string()))?,
            paper: paper.clone(),
            lesson: taught.for_camera(&session.id, &camera.id),
            fitted: taught.fitted(),
            of_camera: exposures::list_of_camera_on(conn, camera.id, paper.id).await?,
        })
    }

    /// The camera with its hole.
    pub fn setting(&self) -> Setting {
        self.setting
    }

    /// The starting exposure in a light, for the middle of the film.
    pub fn start(&self, light: Light) -> StartingExposure {
        self.start_for(light, Aim::MIDDLE)
    }

    /// The starting exposure in a light, for a place on the film.
    pub fn start_for(&self, light: Light, aim: Aim) -> StartingExposure {
        starting_exposure(self.setting, &self.paper, light, aim, self.lesson, &self.of_camera)
    }

    /// The time by the bare formula, as one works it out by hand: nothing that sheets have taught, the
    /// reciprocity of the paper's card.
    pub fn by_formula(&self, light: Light) -> GivenTime {
        let (rule, base) = (self.paper.reciprocity(), self.start(light).forecast.base);
        GivenTime::of(rule.corrected(base), rule.is_past_table(base))
    }

    /// What the camera is loaded with: `Grade 2, EI 6`.
    pub fn loaded_words(&self) -> String {
        format!("{}, EI {}", self.paper.name, plain(self.paper.exposure_index().as_number()))
    }

    /// What the camera is loaded with.
    pub fn paper(&self) -> &Paper {
        &self.paper
    }

    /// The reciprocity exponent, where the sheets have taught one.
    pub fn fitted_exponent(&self) -> Option<FittedExponent> {
        self.fitted
    }

    /// What the sheets say for this camera in this session.
    pub fn lesson(&self) -> Lesson {
        self.lesson
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{measure::length::Length, stock::sheet::Sheet};

    #[test]
    fn a_sheet_has_the_size_that_was_typed_for_the_camera_in_its_own_unit() {
        let typed = |mm: f64, typed: &str| Typed { length: Length::from_mm(mm), typed: typed.to_owned() };
        let size = |width, height| sheet_size(&width, &height, LengthUnit::Millimetre);
        // somebody who works in millimetres typed inches
        let inches = size(typed(101.6, "4 in"), typed(127.0, "5 in"));
        assert_eq!(inches, "4x5in");
        assert_eq!(size(typed(120.65, "4 3/4 in"), typed(127.0, "5 in")), "4.75x5in");
        assert_eq!(size(typed(90.0, "9 cm"), typed(120.0, "12 cm")), "9x12cm");
        assert_eq!(size(typed(101.6, "4 in"), typed(120.0, "120 mm")), "101.6x120mm");
        assert_eq!(Sheet::parse(&inches).expect("a size").area_mm2(), 12_903);
    }
}
