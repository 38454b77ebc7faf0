//! Moving a sheet to the camera it was really made in and to whoever made it, by staff.

use sqlx::SqliteConnection;

use crate::{
    domain::{
        camera::{Camera, hole::Hole},
        destination::Destination,
        exposure::Exposure,
        field_errors::FieldErrors,
        ids::{CameraId, ExposureId, LabSessionId, SectionId, StudentId},
        instant::Instant,
        people::actor::Actor,
        stock::paper::Paper,
    },
    store::{
        Error, Stale, WriteError,
        baths::sheet_runs,
        camera::{cameras, films, holes},
        evening::lab_sessions,
        exposure::exposures,
        people::{change_log, students},
        stock::papers,
    },
};

/// Chosen in place of a student: nobody's in particular.
pub const NOBODY: &str = "nobody";

/// A camera in a list.
pub fn camera_words(camera: &Camera) -> String {
    format!("{}, {}", camera.number, camera.build().as_str())
}

/// Where it belongs, as chosen.
#[derive(Clone, Copy, Debug)]
pub struct Place {
    /// The camera.
    pub camera: CameraId,
    /// Whose sheet; `None` for nobody’s.
    pub student: Option<StudentId>,
}

impl Place {
    /// The camera chosen, and that the student is one of this section's.
    async fn check(self, tx: &mut SqliteConnection, section: SectionId) -> Result<Camera, WriteError> {
        let not_offered = |field: &str| FieldErrors::one(field, "choose one of those offered");
        if let Some(student) = self.student {
            let found = students::find(tx, student).await?.filter(|student| student.section == section);
            found.ok_or_else(|| not_offered("student"))?;
        }
        let camera = cameras::find(tx, self.camera).await?.filter(|camera| camera.section == section);
        Ok(camera.ok_or_else(|| not_offered("camera"))?)
    }
}

/// Moves a sheet. Its base time and forecast follow the hole it was really made through, so that experience learns
/// from the right camera.
///
/// # Errors
/// Stale when it changed meanwhile; refused for a camera or student of another section, for a camera without a
/// measured hole, and for a body cap whose film nobody has named.
pub async fn change_place(
    tx: &mut SqliteConnection,
    (id, exposure): (LabSessionId, ExposureId),
    place: Place,
    version: i64,
    (actor, at): (Actor, Instant),
) -> Result<(), WriteError> {
    let stored = exposures::find(tx, exposure).await?.filter(|exposure| exposure.session == id);
    let mut sheet = stored.ok_or(WriteError::Missing("this sheet"))?;
    let camera = place.check(tx, sheet.section).await?;
    if sheet.version != version {
        return Err(WriteError::Stale(Box::new(both_versions(tx, id, &sheet, &camera, place).await?)));
    }
    let before = sheet.clone();
    if camera.id != sheet.camera {
        let hole = hole_at(tx, camera.id, sheet.made_at)
            .await?
            .ok_or_else(|| FieldErrors::one("camera", "this camera has no measured hole yet: record its hole first"))?;
        let hole_to_film = camera.hole_to_film();
        sheet.put_into(camera.id, hole.id, hole_to_film, hole.f_number(hole_to_film));
        // from paper to film or back: another speed, another lesson
        if camera.holds_film() != held_film(tx, &before).await? {
            sheet.correct_loaded(&loaded_with(tx, &before, &camera).await?);
        }
    }
    sheet.student = place.student;
    if (sheet.camera, sheet.student) != (before.camera, before.student) {
        exposures::update_place(tx, &sheet).await?;
        sheet_runs::update_student_of_negative(tx, sheet.id, sheet.student).await?;
        let detail = moved_words(tx, &before, &camera, place).await?;
        change_log::insert(tx, at, actor, "sheet moved", "exposure", sheet.id, &detail).await?;
    }
    Ok(())
}

/// The hole a camera had at that time: the newest measured by then, or else the first one after.
async fn hole_at(tx: &mut SqliteConnection, camera: CameraId, at: Instant) -> Result<Option<Hole>, Error> {
    let mut newest_first = holes::list_of_camera(tx, camera).await?;
    match newest_first.iter().position(|hole| hole.measured_at <= at) {
        Some(place) => Ok(Some(newest_first.swap_remove(place))),
        None => Ok(newest_first.pop()),
    }
}

/// What the camera that a sheet was really made in is loaded with.
async fn loaded_with(tx: &mut SqliteConnection, sheet: &Exposure, camera: &Camera) -> Result<Paper, WriteError> {
    let session = lab_sessions::find(tx, sheet.session).await?.ok_or(WriteError::Missing("this session"))?;
    let paper = papers::find(tx, session.paper).await?.ok_or(WriteError::Missing("this session’s paper"))?;
    let loaded = films::find_loaded(tx, &paper, camera).await?;
    let unknown = || FieldErrors::one("camera", "nobody has said which film is in this camera: say so first");
    Ok(loaded.ok_or_else(unknown)?)
}

/// Whether a sheet was recorded in a camera that holds film of its own.
async fn held_film(tx: &mut SqliteConnection, sheet: &Exposure) -> Result<bool, Error> {
    Ok(cameras::find(tx, sheet.camera).await?.is_some_and(|camera| camera.holds_film()))
}

/// For the change log: roster numbers, never names.
async fn moved_words(
    tx: &mut SqliteConnection,
    before: &Exposure,
    camera: &Camera,
    place: Place,
) -> Result<String, Error> {
    let from = cameras::find(tx, before.camera).await?.map_or(0, |camera| camera.number);
    let (whose, now_whose) = (roster_number(tx, before.student).await?, roster_number(tx, place.student).await?);
    Ok(format!("sheet {}: camera {from} to {}, student {whose} to {now_whose}", before.number, camera.number))
}

async fn roster_number(tx: &mut SqliteConnection, student: Option<StudentId>) -> Result<String, Error> {
    let Some(student) = student else { return Ok(NOBODY.to_owned()) };
    Ok(students::find(tx, student).await?.map_or(NOBODY.to_owned(), |student| student.roster_number))
}

async fn both_versions(
    tx: &mut SqliteConnection,
    session: LabSessionId,
    stored: &Exposure,
    camera: &Camera,
    place: Place,
) -> Result<Stale, Error> {
    let stored_camera = cameras::find(tx, stored.camera).await?;
    let fields = vec![
        ("Camera".to_owned(), camera_words(camera), stored_camera.as_ref().map(camera_words).unwrap_or_default()),
        ("Student".to_owned(), roster_number(tx, place.student).await?, roster_number(tx, stored.student).await?),
    ];
    let path = Destination::SheetOnFloor(session, stored.id);
    Ok(Stale { what: format!("sheet {}", stored.number), path, fields })
}
