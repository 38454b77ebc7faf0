//! What several pages of the bench need to know about the evening: the session, its hole formula,
//! the site's clock, and what this student saved last.

use askama::Template;
use jiff::tz::TimeZone;
use sqlx::SqliteConnection;

use crate::{
    domain::{
        camera::{
            Camera,
            target::{HoleFormula, Target},
        },
        evening::lab_session::{LabSession, SessionState},
        ids::{CameraId, SectionId, StudentId},
        instant::Instant,
        measure::length::LengthUnit,
        people::actor::Actor,
        stock::{film_light::FilmLight, paper::Paper},
    },
    store::{camera::cameras, evening::lab_sessions, people::change_log, site::sites, stock::papers},
    web::kit::error::WebError,
};

/// The session students work in: the open one, or else the newest that was held or planned.
///
/// # Errors
/// When the database cannot be used.
pub async fn session_for_students(
    conn: &mut SqliteConnection,
    section: SectionId,
) -> Result<Option<LabSession>, WebError> {
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
    /// The light that draws the picture in a camera of this session.
    pub fn film_light(&self, camera: &Camera) -> FilmLight {
        FilmLight::of(self.paper.as_ref(), camera)
    }
}

/// The hole formula of the section's session.
///
/// # Errors
/// When the database cannot be used.
pub async fn formula_here(conn: &mut SqliteConnection, section: SectionId) -> Result<FormulaHere, WebError> {
    let ours = |error: crate::calc::quantity::OutOfRange| WebError::Ours(error.to_string());
    Ok(match session_for_students(conn, section).await? {
        Some(session) => {
            let from = match session.state {
                // a planned session is not students' business yet, its constant is the lab's
                SessionState::Planned => "the lab's write-up".to_owned(),
                _ => format!("the write-up of “{}”", session.title),
            };
            let paper = papers::find(conn, session.paper).await?;
            FormulaHere { formula: HoleFormula::of(&session).map_err(ours)?, from, paper }
        }
        None => FormulaHere {
            formula: HoleFormula::usual().map_err(ours)?,
            from: "the usual figures, since no session is planned yet".to_owned(),
            paper: None,
        },
    })
}

/// The site's zone; UTC until a site is set up.
///
/// # Errors
/// When the database cannot be used.
pub async fn zone(conn: &mut SqliteConnection) -> Result<TimeZone, WebError> {
    Ok(sites::find(conn).await?.map_or(TimeZone::UTC, |site| site.zone))
}

/// What this student saved last: the answer to “was my last entry saved?”. Green only while it answers that; what
/// is older is said as plainly as it is.
#[derive(Clone, Debug, Default, Template)]
#[template(
    source = "{% if !words.is_empty() %}<p class=\"{% if fresh %}saved{% else %}note{% endif %}\">{{ words }}</p>{% endif %}",
    ext = "html"
)]
pub struct Saved {
    words: String,
    fresh: bool,
}

impl askama::filters::HtmlSafe for Saved {}

impl Saved {
    /// Whether nothing was saved yet.
    pub fn is_empty(&self) -> bool {
        self.words.is_empty()
    }
}

/// So many minutes long an entry is the last one somebody asks after. Our own judgement.
const FRESH_MINUTES: i64 = 20;

/// What this student saved last.
///
/// # Errors
/// When the database cannot be used.
pub async fn last_saved(conn: &mut SqliteConnection, actor: Actor, now: Instant) -> Result<Saved, WebError> {
    let Some(change) = change_log::find_last_by(conn, actor).await? else {
        return Ok(Saved::default());
    };
    let zone = zone(conn).await?;
    let detail = if change.detail.is_empty() { String::new() } else { format!(" ({})", change.detail) };
    let (time, day) = (change.at.as_time(&zone), change.at.local(&zone).strftime("%-d %b"));
    Ok(Saved {
        words: format!("Last saved at {time} on {day}: {}{detail}", change.what),
        fresh: now.micros_since(change.at) < FRESH_MINUTES * 60_000_000,
    })
}

/// The micrometer's setting as somebody reads it: first in the unit they work in, then in the other one.
pub fn micrometer_words(target: Target, unit: LengthUnit) -> [String; 2] {
    let (metric, inch) = (target.setting().metric_text(), target.setting().thousandths_text());
    match unit {
        LengthUnit::Millimetre => [metric, inch],
        LengthUnit::Inch => [inch, metric],
    }
}

/// The names of the others who have this camera.
///
/// # Errors
/// When the database cannot be used.
pub async fn partners(
    conn: &mut SqliteConnection,
    camera: CameraId,
    student: StudentId,
) -> Result<Vec<String>, WebError> {
    let students = cameras::students_of(conn, camera).await?;
    Ok(students.into_iter().filter(|other| other.id != student).map(|other| other.name).collect())
}
