//! Recording sheets, each with the forecast for its light: at the bench, from cards, at the front bench.

use sqlx::SqliteConnection;

use crate::{
    domain::{
        camera::Camera,
        evening::lab_session::LabSession,
        exposure::{
            Exposure,
            new_exposure::NewExposure,
            shown_forecast::{ShownForecast, shown_for},
        },
        field_errors::FieldErrors,
        ids::{CameraId, ExposureId, HoleId, LabSessionId, PersonId, SiteId, StudentId},
        instant::Instant,
        measure::typed_seconds::exactly,
        people::actor::Actor,
    },
    lab::baths::through_trays::{Through, TrayIds},
    store::{Error, WriteError, camera::cameras, evening::lab_sessions, exposure::exposures, people::change_log},
};

use super::{
    at_hand::{AtHand, Learned},
    told::Told,
};

/// What a sheet is made with.
#[derive(Clone, Debug)]
pub struct Ready {
    /// The session.
    pub session: LabSession,
    /// The camera.
    pub camera: Camera,
    /// Its hole.
    pub hole: HoleId,
    /// What it is loaded with, and what sheets on that have taught.
    pub learned: Learned,
}

/// Whose sheet it is, and who records it when.
#[derive(Clone, Debug)]
pub struct Recording {
    /// Its new id.
    pub id: ExposureId,
    /// The student; `None` for one that staff made to show how it is done.
    pub student: Option<StudentId>,
    /// The forecasts that stood on the page, if any did.
    pub shown: Vec<ShownForecast>,
    /// Who records it.
    pub by: PersonId,
    /// When.
    pub at: Instant,
}

/// A sheet with its forecast, ready to be stored. Its number follows in the write, where nobody else can take it.
#[derive(Clone, Debug)]
pub struct Prepared {
    exposure: Exposure,
    developed_at: Option<Instant>,
}

impl Ready {
    /// What a student has at hand.
    ///
    /// # Errors
    /// What is missing first, and what to do about it.
    pub fn of(at_hand: AtHand, learned: Option<Learned>) -> Result<Self, FieldErrors> {
        let AtHand { evening: Some((session, _)), camera: Some(camera), hole, loaded, .. } = at_hand else {
            return Err(FieldErrors::whole("register your camera and ask for a session to be opened first"));
        };
        if loaded.is_none() {
            return Err(FieldErrors::whole("say first which film is in the camera: its speed counts, not the paper’s"));
        }
        let (Some(hole), Some(learned)) = (hole, learned) else {
            return Err(FieldErrors::whole("measure the hole first: the record keeps its f-number"));
        };
        Ok(Self { session, camera, hole: hole.id, learned })
    }

    /// Works out the forecast for a sheet: the slow part, done before the write.
    pub fn prepare(&self, told: Told, recording: Recording) -> Prepared {
        let start = self.learned.start_for(told.light.light(), told.aim);
        let new = NewExposure {
            id: recording.id,
            hole: self.hole,
            student: recording.student,
            sheet: told.sheet,
            shown: shown_for(recording.shown, told.light, told.aim),
            light: told.light,
            demonstration: recording.student.is_none(),
            made_ms: told.made_ms,
            made_at: told.made_at,
            judgement: told.judgement,
            remark: told.remark,
            recorded_by: recording.by,
            recorded_at: recording.at,
        };
        let exposure = new.recorded(0, &self.camera, &self.session, self.learned.paper(), &start);
        Prepared { exposure, developed_at: told.developed_at }
    }
}

impl Prepared {
    /// The camera it was made in.
    pub fn camera(&self) -> CameraId {
        self.exposure.camera
    }

    /// Whose it is.
    pub fn student(&self) -> Option<StudentId> {
        self.exposure.student
    }

    /// Stores it and books it in the trays where it went through; gives its number. `what` is said of it in the
    /// change log. Without a site there are no trays.
    ///
    /// # Errors
    /// When the booking is refused, or the database cannot be used.
    pub async fn store(
        self,
        tx: &mut SqliteConnection,
        session: &LabSession,
        site: Option<SiteId>,
        (actor, what): (Actor, &str),
        ids: TrayIds,
    ) -> Result<i64, WriteError> {
        let number = exposures::next_number(tx, session.section).await?;
        let exposure = Exposure { number, ..self.exposure };
        let at = exposure.recorded_at;
        exposures::insert(tx, &exposure).await?;
        if let Some(site) = site {
            Through::of_exposure(site, session, &exposure).settle(tx, actor, self.developed_at, ids, at).await?;
        }
        note(tx, at, actor, what, &exposure).await?;
        Ok(number)
    }
}

/// The session as it is now, for a student to record sheets in.
///
/// # Errors
/// Missing, or refused once it is closed.
pub async fn still_open(tx: &mut SqliteConnection, id: LabSessionId) -> Result<LabSession, WriteError> {
    let session = lab_sessions::find(tx, id).await?.ok_or(WriteError::Missing("the session"))?;
    if !session.state.is_open() {
        return Err(FieldErrors::whole("the session is closed: ask your instructor to type in your card").into());
    }
    Ok(session)
}

/// Those who have the camera of a sheet that a student records.
///
/// # Errors
/// Refused when the student is none of them any more.
pub async fn still_held(
    tx: &mut SqliteConnection,
    camera: CameraId,
    student: StudentId,
) -> Result<Vec<StudentId>, WriteError> {
    let holders: Vec<_> = cameras::students_of(tx, camera).await?.into_iter().map(|holder| holder.id).collect();
    if !holders.contains(&student) {
        return Err(FieldErrors::whole("the camera is no longer yours: look at your camera first").into());
    }
    Ok(holders)
}

/// Adds a line to the change log: `sheet 3, 12 s`.
///
/// # Errors
/// When the database cannot be used.
pub async fn note(
    tx: &mut SqliteConnection,
    at: Instant,
    actor: Actor,
    what: &str,
    exposure: &Exposure,
) -> Result<(), Error> {
    let detail = format!("sheet {}, {}", exposure.number, exactly(exposure.made_ms));
    change_log::insert(tx, at, actor, what, "exposure", exposure.id, &detail).await
}
