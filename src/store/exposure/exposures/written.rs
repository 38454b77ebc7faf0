//! Exposures stored.

use sqlx::SqliteConnection;

use crate::{
    domain::{
        exposure::{Exposure, Judgement, TakenBack, verdict::Fault},
        ids::{ExposureId, SectionId},
        instant::Instant,
    },
    store::{Error, evening::sheet_ways},
};

/// The number the section's next sheet gets.
///
/// # Errors
/// When the database cannot be used.
pub async fn next_number(conn: &mut SqliteConnection, section: SectionId) -> Result<i64, Error> {
    let last = sqlx::query_scalar!(
        "SELECT coalesce(max(number), 0) AS \"last!: i64\" FROM exposure WHERE section_id = ?",
        section
    )
    .fetch_one(conn)
    .await?;
    Ok(last + 1)
}

/// Stores a new exposure.
///
/// # Errors
/// [`Error::Constraint`] when the number is taken.
pub async fn insert(tx: &mut SqliteConnection, exposure: &Exposure) -> Result<(), Error> {
    let (reciprocity_table, demonstration) =
        (exposure.reciprocity_table.as_stored(), i64::from(exposure.demonstration));
    let forecast_shown = i64::from(exposure.forecast_shown);
    let (width, height) = (exposure.sheet.width.as_nm(), exposure.sheet.height.as_nm());
    let light_source = exposure.light_source.as_str();
    let result = ResultColumns::of(exposure.judgement);
    sqlx::query!(
        "INSERT INTO exposure (id, number, section_id, lab_session_id, camera_id, hole_id, student_id, paper_id,
             sheet_width_nm, sheet_height_nm, sheet_typed, light_source, light_typed, ev100_milli, light_sd_milli,
             exposure_index_milli, reciprocity_milli, reciprocity_threshold_ms, hole_to_film_nm,
             hole_diameter_nm, f_number_milli, base_ms, forecast_ms, forecast_low_ms, forecast_high_ms, based_on,
             made_ms, made_at, verdict, result_stops_milli, result_source, fault, judged_at, remark, recorded_by,
             recorded_at, reciprocity_table, aim, aim_milli, gain_milli, experience_milli, demonstration,
             forecast_shown, shown_for, sign)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?,
             ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        exposure.id,
        exposure.number,
        exposure.section,
        exposure.session,
        exposure.camera,
        exposure.hole,
        exposure.student,
        exposure.paper,
        width,
        height,
        exposure.sheet.typed,
        light_source,
        exposure.light_typed,
        exposure.ev100_milli,
        exposure.light_sd_milli,
        exposure.exposure_index_milli,
        exposure.reciprocity_milli,
        exposure.reciprocity_threshold_ms,
        exposure.hole_to_film_nm,
        exposure.hole_diameter_nm,
        exposure.f_number_milli,
        exposure.base_ms,
        exposure.forecast_ms,
        exposure.forecast_low_ms,
        exposure.forecast_high_ms,
        exposure.based_on,
        exposure.made_ms,
        exposure.made_at,
        result.verdict,
        result.stops_milli,
        result.source,
        result.fault,
        result.judged_at,
        exposure.remark,
        exposure.recorded_by,
        exposure.recorded_at,
        reciprocity_table,
        exposure.aim,
        exposure.aim_milli,
        exposure.gain_milli,
        exposure.experience_milli,
        demonstration,
        forecast_shown,
        exposure.shown_for,
        result.sign
    )
    .execute(&mut *tx)
    .await?;
    sheet_ways::note_exposure(tx, exposure.session, exposure.camera, exposure.id).await?;
    follow(tx, exposure).await
}

/// A judged sheet is no longer on its way.
async fn follow(tx: &mut SqliteConnection, exposure: &Exposure) -> Result<(), Error> {
    match exposure.judgement {
        Some(judgement) => sheet_ways::end_judged(tx, exposure.id, judgement.judged_at).await,
        None => Ok(()),
    }
}

/// Stores a corrected or judged exposure if its version still stands; gives whether it did. Whose
/// it is, its number and what the forecast rested on stay as they were.
///
/// # Errors
/// When the database cannot be used.
pub async fn update(tx: &mut SqliteConnection, exposure: &Exposure) -> Result<bool, Error> {
    let reciprocity_table = exposure.reciprocity_table.as_stored();
    let (width, height) = (exposure.sheet.width.as_nm(), exposure.sheet.height.as_nm());
    let light_source = exposure.light_source.as_str();
    let result = ResultColumns::of(exposure.judgement);
    let done = sqlx::query!(
        "UPDATE exposure SET sheet_width_nm = ?, sheet_height_nm = ?, sheet_typed = ?, light_source = ?,
             light_typed = ?, ev100_milli = ?, light_sd_milli = ?, base_ms = ?, forecast_ms = ?,
             forecast_low_ms = ?, forecast_high_ms = ?, made_ms = ?, made_at = ?, verdict = ?,
             result_stops_milli = ?, result_source = ?, fault = ?, judged_at = ?, remark = ?, aim = ?, aim_milli = ?,
             sign = ?, paper_id = ?, exposure_index_milli = ?, reciprocity_milli = ?, reciprocity_threshold_ms = ?,
             reciprocity_table = ?, gain_milli = ?,
             version = version + 1
         WHERE id = ? AND version = ?",
        width,
        height,
        exposure.sheet.typed,
        light_source,
        exposure.light_typed,
        exposure.ev100_milli,
        exposure.light_sd_milli,
        exposure.base_ms,
        exposure.forecast_ms,
        exposure.forecast_low_ms,
        exposure.forecast_high_ms,
        exposure.made_ms,
        exposure.made_at,
        result.verdict,
        result.stops_milli,
        result.source,
        result.fault,
        result.judged_at,
        exposure.remark,
        exposure.aim,
        exposure.aim_milli,
        result.sign,
        exposure.paper,
        exposure.exposure_index_milli,
        exposure.reciprocity_milli,
        exposure.reciprocity_threshold_ms,
        reciprocity_table,
        exposure.gain_milli,
        exposure.id,
        exposure.version
    )
    .execute(&mut *tx)
    .await?;
    follow(tx, exposure).await?;
    Ok(done.rows_affected() == 1)
}

/// Takes a sheet back that was recorded by mistake, or lets it count again (`None`); gives whether its
/// version still stood.
///
/// # Errors
/// When the database cannot be used.
pub async fn update_taken_back(
    tx: &mut SqliteConnection,
    id: ExposureId,
    version: i64,
    taken_back: Option<&TakenBack>,
) -> Result<bool, Error> {
    let (at, by) = taken_back.map(|taken| (taken.at, taken.by)).unzip();
    let why = taken_back.map_or("", |taken| taken.why.as_str());
    let done = sqlx::query!(
        "UPDATE exposure SET taken_back_at = ?, taken_back_by = ?, taken_back_why = ?, version = version + 1
         WHERE id = ? AND version = ?",
        at,
        by,
        why,
        id,
        version
    )
    .execute(tx)
    .await?;
    Ok(done.rows_affected() == 1)
}

/// Puts a sheet that was typed in under the wrong camera or student where it belongs, if its
/// version still stands; gives whether it did.
///
/// # Errors
/// When the database cannot be used.
pub async fn update_place(tx: &mut SqliteConnection, exposure: &Exposure) -> Result<bool, Error> {
    let reciprocity_table = exposure.reciprocity_table.as_stored();
    let done = sqlx::query!(
        "UPDATE exposure SET camera_id = ?, hole_id = ?, student_id = ?, hole_to_film_nm = ?, hole_diameter_nm = ?,
             f_number_milli = ?, base_ms = ?, forecast_ms = ?, forecast_low_ms = ?, forecast_high_ms = ?, paper_id = ?,
             exposure_index_milli = ?, reciprocity_milli = ?, reciprocity_threshold_ms = ?, reciprocity_table = ?,
             gain_milli = ?, version = version + 1
         WHERE id = ? AND version = ?",
        exposure.camera,
        exposure.hole,
        exposure.student,
        exposure.hole_to_film_nm,
        exposure.hole_diameter_nm,
        exposure.f_number_milli,
        exposure.base_ms,
        exposure.forecast_ms,
        exposure.forecast_low_ms,
        exposure.forecast_high_ms,
        exposure.paper,
        exposure.exposure_index_milli,
        exposure.reciprocity_milli,
        exposure.reciprocity_threshold_ms,
        reciprocity_table,
        exposure.gain_milli,
        exposure.id,
        exposure.version
    )
    .execute(tx)
    .await?;
    Ok(done.rows_affected() == 1)
}

/// A judgement as its columns.
struct ResultColumns {
    verdict: Option<&'static str>,
    stops_milli: Option<i64>,
    source: Option<&'static str>,
    fault: Option<&'static str>,
    sign: String,
    judged_at: Option<Instant>,
}

impl ResultColumns {
    fn of(judgement: Option<Judgement>) -> Self {
        let result = judgement.and_then(|judgement| judgement.result);
        Self {
            verdict: judgement.map(|judgement| judgement.verdict.as_str()),
            stops_milli: result.map(|(milli, _)| milli),
            source: result.map(|(_, source)| source.as_str()),
            fault: judgement.and_then(|judgement| judgement.fault).map(Fault::as_str),
            sign: judgement.and_then(|judgement| judgement.sign).map_or_else(String::new, |sign| sign.key()),
            judged_at: judgement.map(|judgement| judgement.judged_at),
        }
    }
}
