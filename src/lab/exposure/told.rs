//! What is told of a sheet, and what that is held against.

use crate::domain::{
    camera::Camera,
    evening::lab_session::LabSession,
    exposure::{Judgement, aim::Aim, found_light::FoundLight, sun_found::Whereabouts},
    instant::Instant,
    stock::sheet::Sheet,
};

/// What a sheet is read against: its session, its camera, where the site is.
#[derive(Clone, Debug)]
pub struct Against {
    /// Where the site is; the moment is that of the form.
    pub here: Whereabouts,
    /// The session.
    pub session: Option<LabSession>,
    /// The camera.
    pub camera: Option<Camera>,
    /// Whether the camera must have been registered by then; staff type in old cards.
    pub camera_counts: bool,
    /// Whether the form must say if the sheet went through the trays.
    pub asks_trays: bool,
}

/// What a form told of a sheet; also what a correction may change.
#[derive(Clone, Debug)]
pub struct Told {
    /// Where on the film it was exposed for.
    pub aim: Aim,
    /// The light as found.
    pub light: FoundLight,
    /// How long it was open, milliseconds.
    pub made_ms: i64,
    /// When.
    pub made_at: Instant,
    /// Its size.
    pub sheet: Sheet,
    /// When it went through the trays, if it did.
    pub developed_at: Option<Instant>,
    /// How it came out, if somebody looked.
    pub judgement: Option<Judgement>,
    /// Anything else.
    pub remark: String,
}

/// Of a sheet that is judged before its development.
pub const SHOWS_NOTHING_YET: &str = "before the trays a sheet shows nothing: choose “not looked at yet”, or say that it went through; what spoiled it can be said at any time";
