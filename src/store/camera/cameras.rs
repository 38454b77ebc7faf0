//! Cameras and who has them.

use sqlx::SqliteConnection;

use crate::domain::{
    camera::{Body, Build, Camera, Film, Typed, subject_distance},
    ids::{CameraId, SectionId, StudentId},
    instant::Instant,
    measure::length::Length,
    people::student::Student,
};

use crate::store::Error;

struct CameraRow {
    id: CameraId,
    section_id: SectionId,
    number: i64,
    build: String,
    film_form: String,
    distance_nm: i64,
    distance_typed: String,
    film_width_nm: Option<i64>,
    film_width_typed: Option<String>,
    film_height_nm: Option<i64>,
    film_height_typed: Option<String>,
    film_diameter_nm: Option<i64>,
    film_diameter_typed: Option<String>,
    subject_nm: Option<i64>,
    subject_typed: Option<String>,
    remark: String,
    created_at: Instant,
    version: i64,
}

fn typed(nanometres: Option<i64>, text: Option<String>) -> Option<Typed> {
    Some(Typed { length: Length::from_nm(nanometres?), typed: text? })
}

impl TryFrom<CameraRow> for Camera {
    type Error = Error;
    fn try_from(row: CameraRow) -> Result<Self, Error> {
        let id = row.id;
        let wrong = |column| Error::Inconsistent { table: "camera", column, id: id.to_string() };
        let build = Build::from_word(&row.build).ok_or_else(|| wrong("build"))?;
        let distance = Typed { length: Length::from_nm(row.distance_nm), typed: row.distance_typed };
        let width = typed(row.film_width_nm, row.film_width_typed);
        let height = typed(row.film_height_nm, row.film_height_typed);
        let film = match row.film_form.as_str() {
            "flat rectangle" => Film::FlatRectangle {
                distance,
                width: width.ok_or_else(|| wrong("film_width_nm"))?,
                height: height.ok_or_else(|| wrong("film_height_nm"))?,
            },
            "flat disc" => Film::FlatDisc {
                distance,
                diameter: typed(row.film_diameter_nm, row.film_diameter_typed)
                    .ok_or_else(|| wrong("film_diameter_nm"))?,
            },
            "curved" => Film::Curved {
                inside_diameter: distance,
                width: width.ok_or_else(|| wrong("film_width_nm"))?,
                height: height.ok_or_else(|| wrong("film_height_nm"))?,
            },
            _ => return Err(wrong("film_form")),
        };
        let subject = typed(row.subject_nm, row.subject_typed);
        if subject.as_ref().is_some_and(|subject| subject_distance(subject).is_err()) {
            return Err(wrong("subject_nm"));
        }
        Ok(Self {
            id,
            section: row.section_id,
            number: row.number,
            body: Body::new(build, film).map_err(|_| wrong("distance_nm"))?,
            subject,
            remark: row.remark,
            created_at: row.created_at,
            version: row.version,
        })
    }
}

/// One camera.
///
/// # Errors
/// When the database cannot be used.
pub async fn find(conn: &mut SqliteConnection, id: CameraId) -> Result<Option<Camera>, Error> {
    let row = sqlx::query_as!(
        CameraRow,
        "SELECT id, section_id, number, build, film_form, distance_nm, distance_typed, film_width_nm,
                film_width_typed, film_height_nm, film_height_typed, film_diameter_nm, film_diameter_typed,
                subject_nm, subject_typed, remark, created_at, version
         FROM camera WHERE id = ?",
        id
    )
    .fetch_optional(conn)
    .await?;
    row.map(Camera::try_from).transpose()
}

/// The camera with that number in a section.
///
/// # Errors
/// When the database cannot be used.
pub async fn find_by_number(
    conn: &mut SqliteConnection,
    section: SectionId,
    number: i64,
) -> Result<Option<Camera>, Error> {
    let row = sqlx::query_as!(
        CameraRow,
        "SELECT id, section_id, number, build, film_form, distance_nm, distance_typed, film_width_nm,
                film_width_typed, film_height_nm, film_height_typed, film_diameter_nm, film_diameter_typed,
                subject_nm, subject_typed, remark, created_at, version
         FROM camera WHERE section_id = ? AND number = ?",
        section,
        number
    )
    .fetch_optional(conn)
    .await?;
    row.map(Camera::try_from).transpose()
}

/// The camera a student has now.
///
/// # Errors
/// When the database cannot be used.
pub async fn find_of_student(conn: &mut SqliteConnection, student: StudentId) -> Result<Option<Camera>, Error> {
    let row = sqlx::query_as!(
        CameraRow,
        "SELECT camera.id, section_id, number, build, film_form, distance_nm, distance_typed, film_width_nm,
                film_width_typed, film_height_nm, film_height_typed, film_diameter_nm, film_diameter_typed,
                subject_nm, subject_typed, remark, created_at, version
         FROM camera JOIN camera_student ON camera_student.camera_id = camera.id
         WHERE camera_student.student_id = ? AND camera_student.to_at IS NULL",
        student
    )
    .fetch_optional(conn)
    .await?;
    row.map(Camera::try_from).transpose()
}

/// The cameras of a section that a student had before and has no more, the newest first.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_put_down(
    conn: &mut SqliteConnection,
    section: SectionId,
    student: StudentId,
) -> Result<Vec<Camera>, Error> {
    let rows = sqlx::query_as!(
        CameraRow,
        "SELECT id, section_id, number, build, film_form, distance_nm, distance_typed, film_width_nm,
                film_width_typed, film_height_nm, film_height_typed, film_diameter_nm, film_diameter_typed,
                subject_nm, subject_typed, remark, created_at, version
         FROM camera WHERE section_id = ?1
           AND id IN (SELECT camera_id FROM camera_student WHERE student_id = ?2)
           AND id NOT IN (SELECT camera_id FROM camera_student WHERE student_id = ?2 AND to_at IS NULL)
         ORDER BY number DESC",
        section,
        student
    )
    .fetch_all(conn)
    .await?;
    rows.into_iter().map(Camera::try_from).collect()
}

/// A section's cameras, by number.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_of_section(conn: &mut SqliteConnection, section: SectionId) -> Result<Vec<Camera>, Error> {
    let rows = sqlx::query_as!(
        CameraRow,
        "SELECT id, section_id, number, build, film_form, distance_nm, distance_typed, film_width_nm,
                film_width_typed, film_height_nm, film_height_typed, film_diameter_nm, film_diameter_typed,
                subject_nm, subject_typed, remark, created_at, version
         FROM camera WHERE section_id = ? ORDER BY number",
        section
    )
    .fetch_all(conn)
    .await?;
    rows.into_iter().map(Camera::try_from).collect()
}

/// Who has a camera now, by name.
///
/// # Errors
/// When the database cannot be used.
pub async fn students_of(conn: &mut SqliteConnection, camera: CameraId) -> Result<Vec<Student>, Error> {
    let ids = sqlx::query_scalar!(
        "SELECT camera_student.student_id FROM camera_student JOIN student ON student.id = camera_student.student_id
         WHERE camera_id = ? AND to_at IS NULL ORDER BY student.name, student.roster_number",
        camera
    )
    .fetch_all(&mut *conn)
    .await?;
    let mut students = Vec::with_capacity(ids.len());
    for id in ids {
        students.extend(crate::store::people::students::find(conn, id).await?);
    }
    Ok(students)
}

/// Who has which camera of a section now: each pair once, cameras by number.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_holders(
    conn: &mut SqliteConnection,
    section: SectionId,
) -> Result<Vec<(CameraId, StudentId)>, Error> {
    let rows = sqlx::query!(
        "SELECT camera_student.camera_id, camera_student.student_id
         FROM camera_student JOIN camera ON camera.id = camera_student.camera_id
         JOIN student ON student.id = camera_student.student_id
         WHERE camera.section_id = ? AND to_at IS NULL ORDER BY camera.number, student.name",
        section
    )
    .fetch_all(conn)
    .await?;
    Ok(rows.into_iter().map(|row| (row.camera_id, row.student_id)).collect())
}

/// Whether a student took a camera, or a hole was measured in the one they had, from then until then.
///
/// # Errors
/// When the database cannot be used.
pub async fn was_handled(
    conn: &mut SqliteConnection,
    student: StudentId,
    from: Instant,
    until: Option<Instant>,
) -> Result<bool, Error> {
    let handled = sqlx::query_scalar!(
        r#"SELECT EXISTS (
               SELECT 1 FROM camera_student s
               WHERE s.student_id = ?1 AND (?3 IS NULL OR s.from_at <= ?3)
                 AND (s.from_at >= ?2 OR EXISTS (
                     SELECT 1 FROM hole h
                     WHERE h.camera_id = s.camera_id AND h.measured_at >= max(?2, s.from_at)
                       AND (?3 IS NULL OR h.measured_at <= ?3) AND (s.to_at IS NULL OR h.measured_at <= s.to_at)))
           ) AS "handled!: bool""#,
        student,
        from,
        until
    )
    .fetch_one(conn)
    .await?;
    Ok(handled)
}

/// The number for a section's next camera: one past the greatest so far.
///
/// # Errors
/// When the database cannot be used.
pub async fn next_number(conn: &mut SqliteConnection, section: SectionId) -> Result<i64, Error> {
    let number = sqlx::query_scalar!(
        "SELECT coalesce(max(number), 0) + 1 AS \"n!: i64\" FROM camera WHERE section_id = ?",
        section
    )
    .fetch_one(conn)
    .await?;
    Ok(number)
}

/// A camera's body in columns.
struct Columns<'a> {
    build: &'static str,
    form: &'static str,
    distance: &'a Typed,
    width: Option<&'a Typed>,
    height: Option<&'a Typed>,
    diameter: Option<&'a Typed>,
}

fn columns(body: &Body) -> Columns<'_> {
    let (width, height, diameter) = match body.film() {
        Film::FlatRectangle { width, height, .. } | Film::Curved { width, height, .. } => {
            (Some(width), Some(height), None)
        }
        Film::FlatDisc { diameter, .. } => (None, None, Some(diameter)),
    };
    Columns {
        build: body.build().as_str(),
        form: body.film().form(),
        distance: body.film().distance(),
        width,
        height,
        diameter,
    }
}

fn nanometres(typed: Option<&Typed>) -> Option<i64> {
    typed.map(|typed| typed.length.as_nm())
}

fn text(typed: Option<&Typed>) -> Option<&str> {
    typed.map(|typed| typed.typed.as_str())
}

/// Stores a new camera; nobody has it yet.
///
/// # Errors
/// [`Error::Constraint`] when the number is taken in this section.
pub async fn insert(tx: &mut SqliteConnection, camera: &Camera) -> Result<(), Error> {
    let of = columns(&camera.body);
    let distance = of.distance.length.as_nm();
    let (width, height, diameter) = (nanometres(of.width), nanometres(of.height), nanometres(of.diameter));
    let (width_text, height_text, diameter_text) = (text(of.width), text(of.height), text(of.diameter));
    let (subject, subject_text) = (nanometres(camera.subject.as_ref()), text(camera.subject.as_ref()));
    sqlx::query!(
        "INSERT INTO camera (id, section_id, number, build, film_form, distance_nm, distance_typed, film_width_nm,
             film_width_typed, film_height_nm, film_height_typed, film_diameter_nm, film_diameter_typed, subject_nm,
             subject_typed, remark, created_at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        camera.id,
        camera.section,
        camera.number,
        of.build,
        of.form,
        distance,
        of.distance.typed,
        width,
        width_text,
        height,
        height_text,
        diameter,
        diameter_text,
        subject,
        subject_text,
        camera.remark,
        camera.created_at
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Stores an edited camera if its version still stands; gives whether it did. Number and section stay.
///
/// # Errors
/// When the database cannot be used.
pub async fn update(tx: &mut SqliteConnection, camera: &Camera) -> Result<bool, Error> {
    let of = columns(&camera.body);
    let distance = of.distance.length.as_nm();
    let (width, height, diameter) = (nanometres(of.width), nanometres(of.height), nanometres(of.diameter));
    let (width_text, height_text, diameter_text) = (text(of.width), text(of.height), text(of.diameter));
    let (subject, subject_text) = (nanometres(camera.subject.as_ref()), text(camera.subject.as_ref()));
    let done = sqlx::query!(
        "UPDATE camera SET build = ?, film_form = ?, distance_nm = ?, distance_typed = ?, film_width_nm = ?,
             film_width_typed = ?, film_height_nm = ?, film_height_typed = ?, film_diameter_nm = ?,
             film_diameter_typed = ?, subject_nm = ?, subject_typed = ?, remark = ?, version = version + 1
         WHERE id = ? AND version = ?",
        of.build,
        of.form,
        distance,
        of.distance.typed,
        width,
        width_text,
        height,
        height_text,
        diameter,
        diameter_text,
        subject,
        subject_text,
        camera.remark,
        camera.id,
        camera.version
    )
    .execute(tx)
    .await?;
    Ok(done.rows_affected() == 1)
}

/// Gives a camera to a student from `at` on; they put down the one they had.
///
/// # Errors
/// When the database cannot be used.
pub async fn insert_holder(
    tx: &mut SqliteConnection,
    camera: CameraId,
    student: StudentId,
    at: Instant,
) -> Result<(), Error> {
    end_holding(tx, student, at).await?;
    sqlx::query!(
        "INSERT INTO camera_student (camera_id, student_id, from_at) VALUES (?, ?, ?)
         ON CONFLICT (camera_id, student_id, from_at) DO UPDATE SET to_at = NULL",
        camera,
        student,
        at
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Notes that a student had a camera before and put it down; what they have now stays theirs.
///
/// # Errors
/// [`Error::Constraint`] when it is noted for that time already.
pub async fn insert_put_down(
    tx: &mut SqliteConnection,
    camera: CameraId,
    student: StudentId,
    at: Instant,
) -> Result<(), Error> {
    sqlx::query!(
        "INSERT INTO camera_student (camera_id, student_id, from_at, to_at) VALUES (?, ?, ?, ?)",
        camera,
        student,
        at,
        at
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Ends a student's having of a camera at `at`; nothing happens when they have none.
///
/// # Errors
/// When the database cannot be used.
pub async fn end_holding(tx: &mut SqliteConnection, student: StudentId, at: Instant) -> Result<(), Error> {
    sqlx::query!(
        "UPDATE camera_student SET to_at = max(?, from_at) WHERE student_id = ? AND to_at IS NULL",
        at,
        student
    )
    .execute(tx)
    .await?;
    Ok(())
}
