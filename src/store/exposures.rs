//! Exposures: one sheet in one camera.

use sqlx::SqliteConnection;

use crate::domain::{
    aim::Aim,
    exposure::{Exposure, Judgement, TakenBack},
    found_light::LightSource,
    ids::{CameraId, ExposureId, HoleId, LabSessionId, PaperId, PersonId, SectionId, StudentId},
    instant::Instant,
    length::Length,
    reciprocity_lines::ReciprocityLines,
    sheet::Sheet,
    verdict::{Fault, ResultSource, Verdict},
};

use super::{Error, sheet_ways};

struct ExposureRow {
    id: ExposureId,
    number: i64,
    section_id: SectionId,
    lab_session_id: LabSessionId,
    camera_id: CameraId,
    hole_id: HoleId,
    student_id: Option<StudentId>,
    paper_id: PaperId,
    sheet_width_nm: i64,
    sheet_height_nm: i64,
    sheet_typed: String,
    light_source: String,
    light_typed: String,
    ev100_milli: i64,
    light_sd_milli: i64,
    exposure_index_milli: i64,
    reciprocity_milli: i64,
    reciprocity_threshold_ms: i64,
    hole_to_film_nm: i64,
    hole_diameter_nm: i64,
    f_number_milli: i64,
    base_ms: i64,
    forecast_ms: i64,
    forecast_low_ms: i64,
    forecast_high_ms: i64,
    based_on: i64,
    made_ms: i64,
    made_at: Instant,
    verdict: Option<String>,
    result_stops_milli: Option<i64>,
    result_source: Option<String>,
    fault: Option<String>,
    judged_at: Option<Instant>,
    remark: String,
    recorded_by: PersonId,
    recorded_at: Instant,
    version: i64,
    reciprocity_table: String,
    aim: String,
    aim_milli: i64,
    gain_milli: i64,
    experience_milli: Option<i64>,
    demonstration: i64,
    taken_back_at: Option<Instant>,
    taken_back_by: Option<PersonId>,
    taken_back_why: String,
}

impl ExposureRow {
    fn wrong(&self, column: &'static str) -> Error {
        Error::Inconsistent { table: "exposure", column, id: self.id.to_string() }
    }

    fn judgement(&self) -> Result<Option<Judgement>, Error> {
        let (Some(verdict), Some(judged_at)) = (&self.verdict, self.judged_at) else {
            return Ok(None);
        };
        let result = match (self.result_stops_milli, &self.result_source) {
            (Some(milli), Some(source)) => {
                Some((milli, ResultSource::from_word(source).ok_or_else(|| self.wrong("result_source"))?))
            }
            _ => None,
        };
        let fault = match &self.fault {
            Some(word) => Some(Fault::from_word(word).ok_or_else(|| self.wrong("fault"))?),
            None => None,
        };
        let verdict = Verdict::from_word(verdict).ok_or_else(|| self.wrong("verdict"))?;
        Ok(Some(Judgement { verdict, result, fault, judged_at }))
    }
}

impl TryFrom<ExposureRow> for Exposure {
    type Error = Error;
    fn try_from(row: ExposureRow) -> Result<Self, Error> {
        let judgement = row.judgement()?;
        let light_source = LightSource::from_word(&row.light_source).ok_or_else(|| row.wrong("light_source"))?;
        let table = ReciprocityLines::from_stored(&row.reciprocity_table);
        let reciprocity_table = table.ok_or_else(|| row.wrong("reciprocity_table"))?;
        if Aim::from_stored(&row.aim, row.aim_milli).is_none() {
            return Err(row.wrong("aim"));
        }
        let taken_back = row.taken_back_at.zip(row.taken_back_by);
        Ok(Self {
            id: row.id,
            number: row.number,
            section: row.section_id,
            session: row.lab_session_id,
            camera: row.camera_id,
            hole: row.hole_id,
            student: row.student_id,
            paper: row.paper_id,
            sheet: Sheet {
                width: Length::from_nm(row.sheet_width_nm),
                height: Length::from_nm(row.sheet_height_nm),
                typed: row.sheet_typed,
            },
            light_source,
            light_typed: row.light_typed,
            ev100_milli: row.ev100_milli,
            light_sd_milli: row.light_sd_milli,
            exposure_index_milli: row.exposure_index_milli,
            reciprocity_milli: row.reciprocity_milli,
            reciprocity_threshold_ms: row.reciprocity_threshold_ms,
            hole_to_film_nm: row.hole_to_film_nm,
            hole_diameter_nm: row.hole_diameter_nm,
            f_number_milli: row.f_number_milli,
            base_ms: row.base_ms,
            forecast_ms: row.forecast_ms,
            forecast_low_ms: row.forecast_low_ms,
            forecast_high_ms: row.forecast_high_ms,
            based_on: row.based_on,
            made_ms: row.made_ms,
            made_at: row.made_at,
            judgement,
            remark: row.remark,
            recorded_by: row.recorded_by,
            recorded_at: row.recorded_at,
            reciprocity_table,
            aim: row.aim,
            aim_milli: row.aim_milli,
            gain_milli: row.gain_milli,
            experience_milli: row.experience_milli,
            demonstration: row.demonstration != 0,
            taken_back: taken_back.map(|(at, by)| TakenBack { at, by, why: row.taken_back_why }),
            version: row.version,
        })
    }
}

/// One exposure.
///
/// # Errors
/// When the database cannot be used.
pub async fn find(conn: &mut SqliteConnection, id: ExposureId) -> Result<Option<Exposure>, Error> {
    let row = sqlx::query_as!(ExposureRow, "SELECT * FROM exposure WHERE id = ?", id).fetch_optional(conn).await?;
    row.map(Exposure::try_from).transpose()
}

/// A session's exposures, in the order of their numbers; not those taken back.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_of_session(conn: &mut SqliteConnection, session: LabSessionId) -> Result<Vec<Exposure>, Error> {
    let rows = sqlx::query_as!(
        ExposureRow,
        "SELECT * FROM exposure WHERE lab_session_id = ? AND taken_back_at IS NULL ORDER BY number",
        session
    )
    .fetch_all(conn)
    .await?;
    rows.into_iter().map(Exposure::try_from).collect()
}

/// A camera's exposures, in the order they were made; not those taken back.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_of_camera(conn: &mut SqliteConnection, camera: CameraId) -> Result<Vec<Exposure>, Error> {
    let rows = sqlx::query_as!(
        ExposureRow,
        "SELECT * FROM exposure WHERE camera_id = ? AND taken_back_at IS NULL ORDER BY made_at, number",
        camera
    )
    .fetch_all(conn)
    .await?;
    rows.into_iter().map(Exposure::try_from).collect()
}

/// What a student may see: their own sheets and those of the camera they share now, newest first; not
/// those taken back.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_of_student(conn: &mut SqliteConnection, student: StudentId) -> Result<Vec<Exposure>, Error> {
    let rows = sqlx::query_as!(
        ExposureRow,
        "SELECT * FROM exposure
         WHERE (student_id = ?1
            OR camera_id IN (SELECT camera_id FROM camera_student WHERE student_id = ?1 AND to_at IS NULL))
           AND taken_back_at IS NULL
         ORDER BY number DESC",
        student
    )
    .fetch_all(conn)
    .await?;
    rows.into_iter().map(Exposure::try_from).collect()
}

/// One exposure, if this student may see it: their own, or of the camera they share now.
///
/// # Errors
/// When the database cannot be used.
pub async fn find_of_student(
    conn: &mut SqliteConnection,
    id: ExposureId,
    student: StudentId,
) -> Result<Option<Exposure>, Error> {
    let row = sqlx::query_as!(
        ExposureRow,
        "SELECT * FROM exposure
         WHERE id = ?1 AND (student_id = ?2
            OR camera_id IN (SELECT camera_id FROM camera_student WHERE student_id = ?2 AND to_at IS NULL))",
        id,
        student
    )
    .fetch_optional(conn)
    .await?;
    row.map(Exposure::try_from).transpose()
}

/// The newest sheets that teach something about a paper: judged in stops, nothing spoiled, not left
/// out, from the box in use. At most `most`, so that a box of years ago does not slow the page down.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_teaching(conn: &mut SqliteConnection, paper: PaperId, most: i64) -> Result<Vec<Exposure>, Error> {
    let rows = sqlx::query_as!(
        ExposureRow,
        "SELECT * FROM exposure
         WHERE paper_id = ?1 AND result_stops_milli IS NOT NULL AND fault IS NULL AND taken_back_at IS NULL
           AND made_at >= (SELECT coalesce(max(begun_at), 0) FROM paper_box
                           WHERE paper_box.paper_id = ?1 AND paper_box.taken_back_at IS NULL)
           AND NOT EXISTS (SELECT 1 FROM left_out
                           WHERE left_out.exposure_id = exposure.id AND left_out.taken_back_at IS NULL)
         ORDER BY made_at DESC, id DESC LIMIT ?2",
        paper,
        most
    )
    .fetch_all(conn)
    .await?;
    rows.into_iter().map(Exposure::try_from).collect()
}

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
    let (width, height) = (exposure.sheet.width.as_nm(), exposure.sheet.height.as_nm());
    let light_source = exposure.light_source.as_str();
    let result = ResultColumns::of(exposure.judgement);
    sqlx::query!(
        "INSERT INTO exposure (id, number, section_id, lab_session_id, camera_id, hole_id, student_id, paper_id,
             sheet_width_nm, sheet_height_nm, sheet_typed, light_source, light_typed, ev100_milli, light_sd_milli,
             exposure_index_milli, reciprocity_milli, reciprocity_threshold_ms, hole_to_film_nm,
             hole_diameter_nm, f_number_milli, base_ms, forecast_ms, forecast_low_ms, forecast_high_ms, based_on,
             made_ms, made_at, verdict, result_stops_milli, result_source, fault, judged_at, remark, recorded_by,
             recorded_at, reciprocity_table, aim, aim_milli, gain_milli, experience_milli, demonstration)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?,
             ?, ?, ?, ?, ?, ?)",
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
        demonstration
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
    let (width, height) = (exposure.sheet.width.as_nm(), exposure.sheet.height.as_nm());
    let light_source = exposure.light_source.as_str();
    let result = ResultColumns::of(exposure.judgement);
    let done = sqlx::query!(
        "UPDATE exposure SET sheet_width_nm = ?, sheet_height_nm = ?, sheet_typed = ?, light_source = ?,
             light_typed = ?, ev100_milli = ?, light_sd_milli = ?, base_ms = ?, forecast_ms = ?,
             forecast_low_ms = ?, forecast_high_ms = ?, made_ms = ?, made_at = ?, verdict = ?,
             result_stops_milli = ?, result_source = ?, fault = ?, judged_at = ?, remark = ?, aim = ?, aim_milli = ?,
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

/// Every sheet made on a paper in the box in use, oldest first; not those taken back.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_of_paper(conn: &mut SqliteConnection, paper: PaperId) -> Result<Vec<Exposure>, Error> {
    let rows = sqlx::query_as!(
        ExposureRow,
        "SELECT * FROM exposure
         WHERE paper_id = ?1 AND taken_back_at IS NULL
           AND made_at >= (SELECT coalesce(max(begun_at), 0) FROM paper_box
                           WHERE paper_box.paper_id = ?1 AND paper_box.taken_back_at IS NULL)
         ORDER BY made_at, id",
        paper
    )
    .fetch_all(conn)
    .await?;
    rows.into_iter().map(Exposure::try_from).collect()
}

/// Every sheet of a section, in the order of their numbers; not those taken back.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_of_section(conn: &mut SqliteConnection, section: SectionId) -> Result<Vec<Exposure>, Error> {
    let rows = sqlx::query_as!(
        ExposureRow,
        "SELECT * FROM exposure WHERE section_id = ? AND taken_back_at IS NULL ORDER BY number",
        section
    )
    .fetch_all(conn)
    .await?;
    rows.into_iter().map(Exposure::try_from).collect()
}

/// Puts a sheet that was typed in under the wrong camera or student where it belongs, if its
/// version still stands; gives whether it did.
///
/// # Errors
/// When the database cannot be used.
pub async fn update_place(tx: &mut SqliteConnection, exposure: &Exposure) -> Result<bool, Error> {
    let done = sqlx::query!(
        "UPDATE exposure SET camera_id = ?, hole_id = ?, student_id = ?, hole_to_film_nm = ?, hole_diameter_nm = ?,
             f_number_milli = ?, base_ms = ?, forecast_ms = ?, forecast_low_ms = ?, forecast_high_ms = ?, version = version + 1
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
            judged_at: judgement.map(|judgement| judgement.judged_at),
        }
    }
}
