//! Which session a student works in, the hole formula that counts in it, and the clock on its wall.

use jiff::tz::TimeZone;
use sqlx::SqliteConnection;

use crate::{
    domain::{
        camera::{Camera, target::HoleFormula},
        evening::lab_session::{LabSession, SessionState},
        ids::SectionId,
        stock::{film_light::FilmLight, paper::Paper},
    },
    store::{Error, evening::lab_sessions, site::sites, stock::papers},
};

/// The session students work in: the open one, or else the newest that was held or, before the first evening,
/// planned.
///
/// # Errors
/// When the database cannot be used.
pub async fn session_for_students(
    conn: &mut SqliteConnection,
    section: SectionId,
) -> Result<Option<LabSession>, Error> {
    if let Some(open) = lab_sessions::find_open(conn, section).await? {
        return Ok(Some(open));
    }
    let all = lab_sessions::list(conn, section).await?;
    let held = all.iter().find(|session| session.state != SessionState::Planned);
    Ok(held.or(all.first()).cloned())
}

/// The hole formula that counts at this bench, and where it is from.
#[derive(Clone, Debug, PartialEq)]
pub struct FormulaHere {
    /// Constant and wavelength.
    pub formula: HoleFormula,
    /// In words: `the write-up of First light`.
    pub from: String,
    /// The session's paper, if there is a session.
    pub paper: Option<Paper>,
}

impl FormulaHere {
    /// The hole formula of the section's session.
    ///
    /// # Errors
    /// When the database cannot be used, or holds a constant that cannot be.
    pub async fn find(conn: &mut SqliteConnection, section: SectionId) -> Result<Self, Error> {
        let Some(session) = session_for_students(conn, section).await? else {
            let from = "the usual figures, since no session is planned yet".to_owned();
            return Ok(Self { formula: HoleFormula::usual().map_err(|_| no_constant(section))?, from, paper: None });
        };
        let from = match session.state {
            // a planned session is not students' business yet, its constant is the lab's
            SessionState::Planned => "the lab's write-up".to_owned(),
            _ => format!("the write-up of “{}”", session.title),
        };
        let paper = papers::find(conn, session.paper).await?;
        Ok(Self { formula: HoleFormula::of(&session).map_err(|_| no_constant(session.id))?, from, paper })
    }

    /// The light that draws the picture in a camera of this session.
    pub fn film_light(&self, camera: &Camera) -> FilmLight {
        FilmLight::of(self.paper.as_ref(), camera)
    }
}

fn no_constant(id: impl ToString) -> Error {
    Error::Inconsistent { table: "lab_session", column: "hole_constant_milli", id: id.to_string() }
}

/// The site's zone; UTC until a site is set up.
///
/// # Errors
/// When the database cannot be used.
pub async fn zone(conn: &mut SqliteConnection) -> Result<TimeZone, Error> {
    Ok(sites::find(conn).await?.map_or(TimeZone::UTC, |site| site.zone))
}
