//! A sheet with what surrounds it, for whoever may see it; and whether they may change it.

use jiff::tz::TimeZone;
use sqlx::SqliteConnection;

use crate::{
    calc::light::sun::Place,
    domain::{
        baths::sheet_run::SheetOf,
        camera::Camera,
        evening::lab_session::LabSession,
        exposure::{Exposure, sun_found::Whereabouts},
        field_errors::FieldErrors,
        ids::{ExposureId, SiteId},
        instant::Instant,
        people::actor::Actor,
        site::Site,
        stock::paper::PaperKind,
    },
    store::{
        self, WriteError, baths::sheet_runs, camera::cameras, evening::lab_sessions, exposure::exposures,
        marking::reports, people::sections, site::sites, stock::papers,
    },
};

use super::told::Against;

/// An exposure with what surrounds it.
#[derive(Clone, Debug)]
pub struct Seen {
    /// The exposure.
    pub exposure: Exposure,
    /// Its session.
    pub session: LabSession,
    /// The site.
    pub site: SiteId,
    /// The site's time zone.
    pub zone: TimeZone,
    /// Where the site is on Earth.
    pub place: Option<Place>,
    /// The camera.
    pub camera: Camera,
    /// Whether it goes through the trays at all.
    pub uses_trays: bool,
    /// The paper's name.
    pub paper: String,
    /// When it went through the trays, if it did.
    pub developed_at: Option<Instant>,
    /// Whether marks were given, so that for the student the record stands as it is.
    pub marked: bool,
}

/// Looks up an exposure; `None` when there is none that this person may see: students see their own
/// and those of the camera they share, staff every one.
///
/// # Errors
/// When the database cannot be used.
pub async fn find_seen(conn: &mut SqliteConnection, id: ExposureId, who: Actor) -> Result<Option<Seen>, store::Error> {
    let Some(exposure) = find(conn, id, who).await? else { return Ok(None) };
    let inconsistent = |column| store::Error::Inconsistent { table: "exposure", column, id: id.to_string() };
    let session = lab_sessions::find(conn, exposure.session).await?.ok_or_else(|| inconsistent("lab_session_id"))?;
    let section = sections::find(conn, exposure.section).await?.ok_or_else(|| inconsistent("section_id"))?;
    let camera = cameras::find(conn, exposure.camera).await?.ok_or_else(|| inconsistent("camera_id"))?;
    let paper = papers::find(conn, exposure.paper).await?.ok_or_else(|| inconsistent("paper_id"))?;
    let site = sites::find(conn).await?;
    let run = sheet_runs::find_of(conn, SheetOf::Negative(id)).await?;
    Ok(Some(Seen {
        site: section.site,
        place: site.as_ref().and_then(Site::on_earth),
        zone: site.map_or(TimeZone::UTC, |site| site.zone),
        uses_trays: session.tray_line.is_some() && paper.kind == PaperKind::Paper && camera.uses_trays(),
        camera,
        paper: paper.name,
        developed_at: run.map(|run| run.developed_at),
        marked: is_marked(conn, &exposure, who).await?,
        exposure,
        session,
    }))
}

/// Whether a sheet that goes through the trays has yet to.
///
/// # Errors
/// When the database cannot be used.
pub async fn waits_for_trays(conn: &mut SqliteConnection, id: ExposureId, who: Actor) -> Result<bool, store::Error> {
    Ok(find_seen(conn, id, who).await?.is_some_and(|seen| seen.uses_trays && seen.developed_at.is_none()))
}

async fn find(conn: &mut SqliteConnection, id: ExposureId, who: Actor) -> Result<Option<Exposure>, store::Error> {
    match who {
        Actor::Student(student) => exposures::find_of_student(conn, id, student).await,
        Actor::Staff(_) => exposures::find(conn, id).await,
        Actor::Visitor | Actor::Server => Ok(None),
    }
}

/// Marks bind students only: staff put right what they find.
async fn is_marked(conn: &mut SqliteConnection, exposure: &Exposure, who: Actor) -> Result<bool, store::Error> {
    match who {
        Actor::Student(student) => reports::is_marked(conn, exposure.session, student).await,
        _ => Ok(false),
    }
}

impl Seen {
    /// What a correction of it is read against. Staff type in old cards: for them the camera may have been
    /// registered later.
    pub fn against(&self, who: Actor) -> Against {
        Against {
            here: Whereabouts { place: self.place, zone: self.zone.clone(), at: self.exposure.made_at },
            session: Some(self.session.clone()),
            camera: Some(self.camera.clone()),
            camera_counts: matches!(who, Actor::Student(_)),
            asks_trays: false,
        }
    }
}

/// An exposure that this person may change.
///
/// # Errors
/// Missing when they may not see it; refused once marks were given, and while it is taken back.
pub async fn changeable(tx: &mut SqliteConnection, id: ExposureId, who: Actor) -> Result<Exposure, WriteError> {
    let exposure = unmarked(tx, id, who).await?;
    if exposure.taken_back.is_some() {
        return Err(FieldErrors::whole("this sheet was taken back: let it count again first").into());
    }
    Ok(exposure)
}

/// An exposure that this person may take back or let count again.
///
/// # Errors
/// Missing when they may not see it; refused once marks were given.
pub async fn unmarked(tx: &mut SqliteConnection, id: ExposureId, who: Actor) -> Result<Exposure, WriteError> {
    let exposure = find(tx, id, who).await?.ok_or(WriteError::Missing("this sheet"))?;
    if is_marked(tx, &exposure, who).await? {
        return Err(FieldErrors::whole("marks were given for this session: ask your instructor to change it").into());
    }
    Ok(exposure)
}
