//! Own figures: what a session asks, and what students tried.

use sqlx::SqliteConnection;

use crate::domain::{
    ids::{CameraId, LabSessionId, OwnFigureId, SectionId, StudentId},
    instant::Instant,
    marking::own_figure::{Ask, Figure, Outcome, Try},
};

use crate::store::Error;

/// What a session asks, in the order of the work.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_asks(conn: &mut SqliteConnection, session: LabSessionId) -> Result<Vec<Ask>, Error> {
    let rows = sqlx::query!(
        "SELECT figure, tolerance_milli, least_figures, most_figures FROM own_figure_ask WHERE lab_session_id = ?",
        session
    )
    .fetch_all(conn)
    .await?;
    let mut asks = Vec::with_capacity(rows.len());
    for row in rows {
        let figure = Figure::from_word(&row.figure).ok_or_else(|| Error::Inconsistent {
            table: "own_figure_ask",
            column: "figure",
            id: session.to_string(),
        })?;
        asks.push(Ask {
            figure,
            tolerance_milli: row.tolerance_milli,
            least_figures: row.least_figures,
            most_figures: row.most_figures,
        });
    }
    asks.sort_by_key(|ask| ask.figure);
    Ok(asks)
}

/// Puts what a session asks in the place of what it asked before. Tries stay.
///
/// # Errors
/// When the database cannot be used.
pub async fn put_asks(tx: &mut SqliteConnection, session: LabSessionId, asks: &[Ask]) -> Result<(), Error> {
    sqlx::query!("DELETE FROM own_figure_ask WHERE lab_session_id = ?", session).execute(&mut *tx).await?;
    for ask in asks {
        let figure = ask.figure.as_str();
        sqlx::query!(
            "INSERT INTO own_figure_ask (lab_session_id, figure, tolerance_milli, least_figures, most_figures)
             VALUES (?, ?, ?, ?, ?)",
            session,
            figure,
            ask.tolerance_milli,
            ask.least_figures,
            ask.most_figures
        )
        .execute(&mut *tx)
        .await?;
    }
    Ok(())
}

struct TryRow {
    id: OwnFigureId,
    figure: String,
    attempt: i64,
    question: String,
    answer: String,
    unit: String,
    working: String,
    expected: String,
    expected_by: String,
    error_ppm: i64,
    tolerance_milli: i64,
    standing: String,
    slip: String,
    tried_at: Instant,
}

impl TryFrom<TryRow> for Try {
    type Error = Error;
    fn try_from(row: TryRow) -> Result<Self, Error> {
        let wrong = |column| Error::Inconsistent { table: "own_figure", column, id: row.id.to_string() };
        Ok(Self {
            figure: Figure::from_word(&row.figure).ok_or_else(|| wrong("figure"))?,
            outcome: Outcome::from_word(&row.standing).ok_or_else(|| wrong("standing"))?,
            attempt: row.attempt,
            question: row.question,
            answer: row.answer,
            unit: row.unit,
            working: row.working,
            expected: row.expected,
            expected_by: row.expected_by,
            error_ppm: row.error_ppm,
            tolerance_milli: row.tolerance_milli,
            slip: row.slip,
            tried_at: row.tried_at,
        })
    }
}

/// A student's tries in a session, the first first.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_tries(
    conn: &mut SqliteConnection,
    session: LabSessionId,
    student: StudentId,
) -> Result<Vec<Try>, Error> {
    let rows = sqlx::query_as!(
        TryRow,
        "SELECT id, figure, attempt, question, answer, unit, working, expected, expected_by, error_ppm,
             tolerance_milli, standing, slip, tried_at
         FROM own_figure WHERE lab_session_id = ? AND student_id = ? ORDER BY attempt, tried_at",
        session,
        student
    )
    .fetch_all(conn)
    .await?;
    rows.into_iter().map(Try::try_from).collect()
}

/// Keeps a try.
///
/// # Errors
/// [`Error::Constraint`] when that try of that value is there already.
pub async fn insert_try(
    tx: &mut SqliteConnection,
    id: OwnFigureId,
    session: LabSessionId,
    student: StudentId,
    tried: &Try,
) -> Result<(), Error> {
    let (figure, standing) = (tried.figure.as_str(), tried.outcome.as_str());
    sqlx::query!(
        "INSERT INTO own_figure (id, lab_session_id, student_id, figure, attempt, question, answer, unit, working,
             expected, expected_by, error_ppm, tolerance_milli, standing, slip, tried_at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        id,
        session,
        student,
        figure,
        tried.attempt,
        tried.question,
        tried.answer,
        tried.unit,
        tried.working,
        tried.expected,
        tried.expected_by,
        tried.error_ppm,
        tried.tolerance_milli,
        standing,
        tried.slip,
        tried.tried_at
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Which of a camera's people a student is, counted from 0 in the order they took it.
///
/// # Errors
/// When the database cannot be used.
pub async fn partner_place(conn: &mut SqliteConnection, camera: CameraId, student: StudentId) -> Result<usize, Error> {
    let holders = sqlx::query_scalar!(
        "SELECT student_id FROM camera_student WHERE camera_id = ? AND to_at IS NULL ORDER BY from_at, student_id",
        camera
    )
    .fetch_all(conn)
    .await?;
    Ok(holders.iter().position(|holder| *holder == student).unwrap_or(0))
}

/// Which place on the section's list a student has, counted from 0 in the order they were put on it.
///
/// # Errors
/// When the database cannot be used.
pub async fn seat_place(conn: &mut SqliteConnection, section: SectionId, student: StudentId) -> Result<usize, Error> {
    let row =
        sqlx::query!(r#"SELECT count(*) AS "n!: i64" FROM student WHERE section_id = ? AND id < ?"#, section, student)
            .fetch_one(conn)
            .await?;
    Ok(usize::try_from(row.n).unwrap_or(0))
}
