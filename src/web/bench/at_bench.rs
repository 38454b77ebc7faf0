//! What several pages of the bench say: what this student saved last, how the micrometer is set, who the partners
//! are.

use askama::Template;
use sqlx::SqliteConnection;

use crate::{
    domain::{
        camera::target::Target,
        ids::{CameraId, StudentId},
        instant::Instant,
        measure::length::LengthUnit,
        people::actor::Actor,
    },
    lab::evening::session::zone,
    store::{camera::cameras, people::change_log},
    web::kit::error::WebError,
};

/// Where a sheet's exposure is written down.
pub const RECORD: &str = "/bench/exposures#record";

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
