//! Forgetting the people of a section, table by table.

use sqlx::SqliteConnection;

use crate::{
    domain::{
        ids::SectionId,
        instant::Instant,
        measure::length::{Length, LengthUnit},
        stock::sheet::Sheet,
    },
    store::Error,
};

use super::{find, put_archived};

/// Forgets the people of an archived section. Their names, numbers, addresses, keys and sign-ins,
/// marks, comments, reports, pictures, own figures, remarks and what they typed letter by letter go;
/// exposures and prints stay without their makers, the silver book as it is.
///
/// # Errors
/// When the database cannot be used.
pub async fn forget(tx: &mut SqliteConnection, section: SectionId, at: Instant) -> Result<(), Error> {
    let archived_at = find(tx, section).await?.archived_at.unwrap_or(at);
    // for the length of this write only: the triggers would refuse it
    put_archived(tx, section, None).await?;
    // first, while what its lines speak of is still there
    forget_details(tx, section).await?;
    forget_marks_and_reports(tx, section).await?;
    forget_typed_words(tx, section).await?;
    write_measures_anew(tx, section).await?;
    forget_students(tx, section, at).await?;
    sqlx::query!("UPDATE section SET archived_at = ?, forgotten_at = ? WHERE id = ?", archived_at, at, section)
        .execute(tx)
        .await?;
    Ok(())
}

async fn forget_marks_and_reports(tx: &mut SqliteConnection, section: SectionId) -> Result<(), Error> {
    sqlx::query!(
        "DELETE FROM report_picture WHERE report_id IN
           (SELECT r.id FROM report r JOIN lab_session l ON l.id = r.lab_session_id WHERE l.section_id = ?)",
        section
    )
    .execute(&mut *tx)
    .await?;
    sqlx::query!(
        "DELETE FROM report_answer WHERE report_id IN
           (SELECT r.id FROM report r JOIN lab_session l ON l.id = r.lab_session_id WHERE l.section_id = ?)",
        section
    )
    .execute(&mut *tx)
    .await?;
    macro_rules! of_sessions {
        ($($sql:literal),+ $(,)?) => {$(
            sqlx::query!($sql, section).execute(&mut *tx).await?;
        )+};
    }
    of_sessions!(
        "DELETE FROM report WHERE lab_session_id IN (SELECT id FROM lab_session WHERE section_id = ?)",
        "DELETE FROM mark_change WHERE lab_session_id IN (SELECT id FROM lab_session WHERE section_id = ?)",
        "DELETE FROM mark WHERE lab_session_id IN (SELECT id FROM lab_session WHERE section_id = ?)",
        "DELETE FROM mark_sheet WHERE lab_session_id IN (SELECT id FROM lab_session WHERE section_id = ?)",
        "DELETE FROM clean_up WHERE lab_session_id IN (SELECT id FROM lab_session WHERE section_id = ?)",
        "DELETE FROM own_figure WHERE lab_session_id IN (SELECT id FROM lab_session WHERE section_id = ?)",
        "DELETE FROM help_call WHERE lab_session_id IN (SELECT id FROM lab_session WHERE section_id = ?)",
        "DELETE FROM announcement WHERE lab_session_id IN (SELECT id FROM lab_session WHERE section_id = ?)",
    );
    Ok(())
}

/// Remarks and other words that a person may have put a name into.
async fn forget_typed_words(tx: &mut SqliteConnection, section: SectionId) -> Result<(), Error> {
    macro_rules! of_section {
        ($($sql:literal),+ $(,)?) => {$(
            sqlx::query!($sql, section).execute(&mut *tx).await?;
        )+};
    }
    of_section!(
        "UPDATE exposure SET remark = '', taken_back_why = CASE WHEN taken_back_why = '' THEN '' ELSE 'forgotten' END
         WHERE section_id = ?",
        "UPDATE camera SET remark = '' WHERE section_id = ?",
        "UPDATE hole SET remark = '' WHERE camera_id IN (SELECT id FROM camera WHERE section_id = ?)",
        "UPDATE print SET remark = '', light = '' WHERE lab_session_id IN (SELECT id FROM lab_session WHERE section_id = ?)",
        "UPDATE left_out SET reason = 'forgotten' WHERE exposure_id IN (SELECT id FROM exposure WHERE section_id = ?)",
        "UPDATE sheet_count SET remark = '' WHERE lab_session_id IN (SELECT id FROM lab_session WHERE section_id = ?)",
    );
    Ok(())
}

/// The log keeps who did what and when; its details may hold marks, reasons and roster numbers. They
/// go from every line about anything of the section, and from every line of its students.
async fn forget_details(tx: &mut SqliteConnection, section: SectionId) -> Result<(), Error> {
    sqlx::query!(
        "WITH its_session AS (SELECT id FROM lab_session WHERE section_id = ?1),
              its_camera AS (SELECT id FROM camera WHERE section_id = ?1),
              its_student AS (SELECT id FROM student WHERE section_id = ?1)
         UPDATE change_log SET detail = ''
         WHERE detail <> '' AND (actor_id IN its_student OR subject_id IN (
             SELECT ?1
             UNION ALL SELECT id FROM its_session
             UNION ALL SELECT id FROM its_student
             UNION ALL SELECT id FROM its_camera
             UNION ALL SELECT id FROM hole WHERE camera_id IN its_camera
             UNION ALL SELECT id FROM exposure WHERE section_id = ?1
             UNION ALL SELECT id FROM print WHERE lab_session_id IN its_session
             UNION ALL SELECT id FROM report WHERE lab_session_id IN its_session
             UNION ALL SELECT id FROM own_figure WHERE lab_session_id IN its_session
             UNION ALL SELECT id FROM help_call WHERE lab_session_id IN its_session
             UNION ALL SELECT id FROM announcement WHERE lab_session_id IN its_session
             UNION ALL SELECT id FROM sheet_count WHERE lab_session_id IN its_session
             UNION ALL SELECT id FROM sheet_way WHERE lab_session_id IN its_session
             UNION ALL SELECT id FROM sheet_run WHERE lab_session_id IN its_session))",
        section
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// A length as the server writes it, in the place of what was typed.
fn anew(nm: i64) -> String {
    let length = Length::from_nm(nm);
    format!("{} mm", length.number(LengthUnit::Millimetre))
}

/// A sheet's size as the server writes it.
fn sheet_anew(width_nm: i64, height_nm: i64) -> String {
    let mm = |nm: i64| Length::from_nm(nm).number(LengthUnit::Millimetre);
    format!("{}x{}mm", mm(width_nm), mm(height_nm))
}

/// What was typed, letter by letter, gives way to the same measures as the server writes them.
async fn write_measures_anew(tx: &mut SqliteConnection, section: SectionId) -> Result<(), Error> {
    let cameras = sqlx::query!(
        "SELECT id, distance_nm, film_width_nm, film_height_nm, film_diameter_nm, subject_nm FROM camera WHERE section_id = ?",
        section
    )
    .fetch_all(&mut *tx)
    .await?;
    for it in cameras {
        let (distance, width, height) = (anew(it.distance_nm), it.film_width_nm.map(anew), it.film_height_nm.map(anew));
        let (diameter, subject) = (it.film_diameter_nm.map(anew), it.subject_nm.map(anew));
        sqlx::query!(
            "UPDATE camera SET distance_typed = ?, film_width_typed = ?, film_height_typed = ?, film_diameter_typed = ?,
                 subject_typed = ? WHERE id = ?",
            distance,
            width,
            height,
            diameter,
            subject,
            it.id
        )
        .execute(&mut *tx)
        .await?;
    }
    let holes = sqlx::query!(
        "SELECT h.id, h.instrument_nm, h.plate_nm FROM hole h JOIN camera c ON c.id = h.camera_id WHERE c.section_id = ?",
        section
    )
    .fetch_all(&mut *tx)
    .await?;
    for it in holes {
        let (instrument, plate) = (anew(it.instrument_nm), it.plate_nm.map(anew));
        sqlx::query!("UPDATE hole SET instrument_typed = ?, plate_typed = ? WHERE id = ?", instrument, plate, it.id)
            .execute(&mut *tx)
            .await?;
        let readings = sqlx::query!("SELECT ordinal, diameter_nm FROM hole_reading WHERE hole_id = ?", it.id)
            .fetch_all(&mut *tx)
            .await?;
        for reading in readings {
            let typed = anew(reading.diameter_nm);
            sqlx::query!(
                "UPDATE hole_reading SET typed = ? WHERE hole_id = ? AND ordinal = ?",
                typed,
                it.id,
                reading.ordinal
            )
            .execute(&mut *tx)
            .await?;
        }
    }
    let sheets = sqlx::query!("SELECT id, sheet_width_nm, sheet_height_nm FROM exposure WHERE section_id = ?", section)
        .fetch_all(&mut *tx)
        .await?;
    for it in sheets {
        let typed = sheet_anew(it.sheet_width_nm, it.sheet_height_nm);
        sqlx::query!("UPDATE exposure SET sheet_typed = ? WHERE id = ?", typed, it.id).execute(&mut *tx).await?;
    }
    let prints = sqlx::query!(
        "SELECT p.id, p.sheet_width_nm, p.sheet_height_nm FROM print p JOIN lab_session l ON l.id = p.lab_session_id
         WHERE l.section_id = ?",
        section
    )
    .fetch_all(&mut *tx)
    .await?;
    for it in prints {
        let typed = sheet_anew(it.sheet_width_nm, it.sheet_height_nm);
        sqlx::query!("UPDATE print SET sheet_typed = ? WHERE id = ?", typed, it.id).execute(&mut *tx).await?;
    }
    write_counts_anew(tx, section).await
}

/// Sizes counted from the box, as the server writes them. Two ways to write one size would collide:
/// the second stays as it is, which tells no more than numbers and a unit.
async fn write_counts_anew(tx: &mut SqliteConnection, section: SectionId) -> Result<(), Error> {
    let counts = sqlx::query!(
        "SELECT n.id, n.size_typed FROM sheet_count n JOIN lab_session l ON l.id = n.lab_session_id
         WHERE l.section_id = ?",
        section
    )
    .fetch_all(&mut *tx)
    .await?;
    for it in counts {
        let Ok(sheet) = Sheet::parse(&it.size_typed) else { continue };
        let typed = sheet_anew(sheet.width.as_nm(), sheet.height.as_nm());
        sqlx::query!("UPDATE OR IGNORE sheet_count SET size_typed = ? WHERE id = ?", typed, it.id)
            .execute(&mut *tx)
            .await?;
    }
    Ok(())
}

async fn forget_students(tx: &mut SqliteConnection, section: SectionId, at: Instant) -> Result<(), Error> {
    macro_rules! of_students {
        ($($sql:literal),+ $(,)?) => {$(
            sqlx::query!($sql, section).execute(&mut *tx).await?;
        )+};
    }
    of_students!(
        "UPDATE exposure SET student_id = NULL WHERE section_id = ?",
        "UPDATE print SET student_id = NULL WHERE student_id IN (SELECT id FROM student WHERE section_id = ?)",
        "UPDATE sheet_run SET student_id = NULL WHERE student_id IN (SELECT id FROM student WHERE section_id = ?)",
        "DELETE FROM camera_student WHERE camera_id IN (SELECT id FROM camera WHERE section_id = ?)",
        "DELETE FROM sign_in WHERE student_id IN (SELECT id FROM student WHERE section_id = ?)",
        "DELETE FROM receipt WHERE actor IN (SELECT id FROM student WHERE section_id = ?)",
    );
    let students =
        sqlx::query!("SELECT id FROM student WHERE section_id = ? ORDER BY id", section).fetch_all(&mut *tx).await?;
    for (student, place) in students.into_iter().zip(1_i64..) {
        let number = format!("forgotten {place}");
        sqlx::query!(
            "UPDATE student SET roster_number = ?, name = 'forgotten', email = '', user_identifier = '',
                 class_identifier = '', seat_key_hash = NULL, joined_at = NULL, left_at = coalesce(left_at, ?),
                 version = version + 1
             WHERE id = ?",
            number,
            at,
            student.id
        )
        .execute(&mut *tx)
        .await?;
    }
    Ok(())
}
