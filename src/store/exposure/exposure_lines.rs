//! Exposures with the section, session, camera and hole they belong to: what the file of exposures holds.

use sqlx::SqliteConnection;

use crate::domain::{ids::LabSessionId, instant::Instant};

use crate::store::Error;

/// One exposure, its numbers as they are stored.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ExposureLine {
    /// The number on the sheet's back.
    pub number: i64,
    /// The section's name.
    pub section: String,
    /// The session's title.
    pub session: String,
    /// The number on the camera.
    pub camera: i64,
    /// How the film lies: flat rectangle, flat disc, curved.
    pub shape: String,
    /// Hole to film, nanometres.
    pub distance_nm: i64,
    /// The hole's diameter, nanometres.
    pub diameter_nm: i64,
    /// f-number, thousandths.
    pub f_number_milli: i64,
    /// Where the light's value came from.
    pub light_source: String,
    /// EV at ISO 100, thousandths.
    pub ev100_milli: i64,
    /// Exposure index, thousandths.
    pub exposure_index_milli: i64,
    /// Metered time without experience, milliseconds.
    pub base_ms: i64,
    /// The forecast, milliseconds.
    pub forecast_ms: i64,
    /// Its low end.
    pub forecast_low_ms: i64,
    /// Its high end.
    pub forecast_high_ms: i64,
    /// How long the shutter was open, milliseconds.
    pub made_ms: i64,
    /// What it would have needed more, thousandths of a stop.
    pub result_stops_milli: Option<i64>,
    /// How that was found.
    pub result_source: Option<String>,
    /// When it was made.
    pub made_at: Instant,
    /// The name of the paper or film.
    pub paper: String,
    /// Whether the forecast had been shown before the sheet was made; else it was worked out at recording.
    pub forecast_shown: bool,
    /// What spoiled it: fog, leak, movement, other.
    pub spoiled: Option<String>,
    /// Whether staff leave it out of what is learned about its paper.
    pub left_out: bool,
    /// Whether staff made it to show how it is done.
    pub demonstration: bool,
}

/// The exposures of a session, or of everything: by section in the order they were made up, then by number.
///
/// # Errors
/// When the database cannot be used.
pub async fn list(conn: &mut SqliteConnection, session: Option<LabSessionId>) -> Result<Vec<ExposureLine>, Error> {
    let rows = sqlx::query_as!(
        ExposureLine,
        r#"SELECT e.number, section.name AS section, l.title AS session, camera.number AS camera,
                  camera.film_form AS shape, e.hole_to_film_nm AS distance_nm, e.hole_diameter_nm AS diameter_nm,
                  e.f_number_milli, e.light_source,
                  e.ev100_milli, e.exposure_index_milli, e.base_ms, e.forecast_ms, e.forecast_low_ms,
                  e.forecast_high_ms, e.made_ms, e.result_stops_milli, e.result_source,
                  e.made_at AS "made_at: Instant", paper.name AS paper, e.forecast_shown AS "forecast_shown: bool",
                  e.fault AS spoiled, e.demonstration AS "demonstration: bool",
                  EXISTS (SELECT 1 FROM left_out WHERE left_out.exposure_id = e.id
                          AND left_out.taken_back_at IS NULL) AS "left_out!: bool"
           FROM exposure e JOIN section ON section.id = e.section_id JOIN lab_session l ON l.id = e.lab_session_id
                JOIN camera ON camera.id = e.camera_id JOIN paper ON paper.id = e.paper_id
           WHERE e.taken_back_at IS NULL AND (?1 IS NULL OR e.lab_session_id = ?1)
           ORDER BY section.created_at, section.id, e.number"#,
        session
    )
    .fetch_all(conn)
    .await?;
    Ok(rows)
}
