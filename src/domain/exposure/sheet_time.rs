//! When a sheet of a session can have been made.

use jiff::tz::TimeZone;

use crate::domain::{
    camera::Camera,
    evening::lab_session::{LabSession, SessionState},
    instant::Instant,
};

/// A sheet cannot have been made then.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum TooOld {
    /// It lies before the day of the session.
    #[error("lies before the session: “{title}” is of {held_on}. A sheet of another evening belongs to that session")]
    BeforeSession {
        /// What the session is called.
        title: String,
        /// Its day.
        held_on: String,
    },
    /// It lies before the camera was registered.
    #[error("lies before camera {number} was registered, on {registered}: check the date")]
    BeforeCamera {
        /// The number on the camera.
        number: i64,
        /// When it was registered.
        registered: String,
    },
}

/// Checks that a sheet of this session can have been made at that time: on its day or later. With a
/// camera, also not more than a day before that was registered: cards of an evening without the server
/// are typed in later, but hardly the next week.
///
/// # Errors
/// [`TooOld`] says what it lies before.
pub fn not_too_old(
    made_at: Instant,
    session: &LabSession,
    camera: Option<&Camera>,
    zone: &TimeZone,
) -> Result<(), TooOld> {
    let day = Instant::from_local(&format!("{}T00:00", session.held_on), zone).unwrap_or(made_at);
    let begin = match session.state {
        SessionState::Planned => day,
        SessionState::Open { opened_at } | SessionState::Closed { opened_at, .. } => day.min(opened_at),
    };
    // the form's times are whole minutes
    if made_at.plus_minutes(1) <= begin {
        return Err(TooOld::BeforeSession {
            title: session.title.clone(),
            held_on: session.held_on.strftime("%-d %b %Y").to_string(),
        });
    }
    if let Some(camera) = camera
        && made_at.plus_minutes(24 * 60) < camera.created_at
    {
        return Err(TooOld::BeforeCamera { number: camera.number, registered: camera.created_at.as_words(zone) });
    }
    Ok(())
}
