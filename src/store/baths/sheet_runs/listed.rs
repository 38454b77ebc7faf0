//! Recorded sheets, read back.

use sqlx::SqliteConnection;

use crate::domain::{
    baths::{
        batch::Slot,
        sheet_run::{SheetOf, SheetRun},
    },
    ids::{
        BatchId, ExposureId, LabSessionId, MovementId, PaperId, PersonId, PrintId, SheetRunId, StudentId, TrayLineId,
    },
    instant::Instant,
};

use crate::store::Error;

struct SheetRunRow {
    id: SheetRunId,
    tray_line_id: TrayLineId,
    paper_id: PaperId,
    exposure_id: Option<ExposureId>,
    print_id: Option<PrintId>,
    student_id: Option<StudentId>,
    what: String,
    sheets: i64,
    area_mm2: i64,
    developed_at: Instant,
    movement_id: Option<MovementId>,
    undone_at: Option<Instant>,
    decision: String,
    recorded_by: PersonId,
    recorded_at: Instant,
}

impl TryFrom<SheetRunRow> for SheetRun {
    type Error = Error;
    fn try_from(row: SheetRunRow) -> Result<Self, Error> {
        let wrong = || Error::Inconsistent { table: "sheet_run", column: "what", id: row.id.to_string() };
        Ok(Self {
            id: row.id,
            tray_line: row.tray_line_id,
            paper: row.paper_id,
            what: SheetOf::from_parts(&row.what, row.exposure_id, row.print_id).ok_or_else(wrong)?,
            student: row.student_id,
            sheets: row.sheets,
            area_mm2: row.area_mm2,
            developed_at: row.developed_at,
            movement: row.movement_id,
            undone_at: row.undone_at,
            is_decided: !row.decision.is_empty(),
            recorded_by: row.recorded_by,
            recorded_at: row.recorded_at,
        })
    }
}

/// Runs that a condition names.
macro_rules! runs {
    ($how:ident, $conn:expr, $condition:tt $(, $bound:expr)*) => {
        sqlx::query_as!(
            SheetRunRow,
            "SELECT id, tray_line_id, paper_id, exposure_id, print_id, student_id, what, sheets, area_mm2,
                    developed_at, movement_id, undone_at, decision, recorded_by, recorded_at
             FROM sheet_run " + $condition
            $(, $bound)*
        )
        .$how($conn)
        .await?
    };
}

/// One record of sheets, taken back or not.
///
/// # Errors
/// When the database cannot be used.
pub async fn find(conn: &mut SqliteConnection, id: SheetRunId) -> Result<Option<SheetRun>, Error> {
    runs!(fetch_optional, conn, "WHERE id = ?", id).map(SheetRun::try_from).transpose()
}

/// The standing record of an exposure's negative or of a print; nothing for test strips and others,
/// which have no record of their own.
///
/// # Errors
/// When the database cannot be used.
pub async fn find_of(conn: &mut SqliteConnection, what: SheetOf) -> Result<Option<SheetRun>, Error> {
    let row = match what {
        SheetOf::Negative(id) => {
            runs!(fetch_optional, conn, "WHERE exposure_id = ? AND undone_at IS NULL", id)
        }
        SheetOf::Print(id) => runs!(fetch_optional, conn, "WHERE print_id = ? AND undone_at IS NULL", id),
        SheetOf::TestStrip | SheetOf::Other => None,
    };
    row.map(SheetRun::try_from).transpose()
}

/// The record that caused a movement.
///
/// # Errors
/// When the database cannot be used.
pub async fn find_by_movement(conn: &mut SqliteConnection, id: MovementId) -> Result<Option<SheetRun>, Error> {
    runs!(fetch_optional, conn, "WHERE movement_id = ?", id).map(SheetRun::try_from).transpose()
}

/// What a student put through the trays in a session and has not taken back, oldest first.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_of_student(
    conn: &mut SqliteConnection,
    student: StudentId,
    lab_session: LabSessionId,
) -> Result<Vec<SheetRun>, Error> {
    runs!(
        fetch_all,
        conn,
        "WHERE student_id = ? AND lab_session_id = ? AND undone_at IS NULL ORDER BY developed_at, id",
        student,
        lab_session
    )
    .into_iter()
    .map(SheetRun::try_from)
    .collect()
}

/// Sheets whose fixer has left the site and that wait for the instructor's decision, newest first.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_waiting(conn: &mut SqliteConnection) -> Result<Vec<SheetRun>, Error> {
    runs!(
        fetch_all,
        conn,
        "WHERE movement_id IS NULL AND undone_at IS NULL AND decision = ''
           AND EXISTS (SELECT 1 FROM sheet_run_batch passed
                       WHERE passed.sheet_run_id = sheet_run.id AND passed.slot IN ('fixer', 'second fixer'))
         ORDER BY developed_at DESC, id DESC"
    )
    .into_iter()
    .map(SheetRun::try_from)
    .collect()
}

/// What sheets carried off from a batch by their papers' cards and the book does not have, microlitres:
/// of a developer, the first bath they pass. Into a later bath they carry as much as out of it, and
/// a fixer's is booked.
///
/// # Errors
/// When the database cannot be used.
pub async fn carried_off_unbooked(conn: &mut SqliteConnection, batch: BatchId) -> Result<i64, Error> {
    let carried = sqlx::query_scalar!(
        r#"SELECT coalesce(sum(run.area_mm2 * paper.carry_over_ul_per_m2 / 1000000), 0) AS "carried!: i64"
           FROM sheet_run_batch passed
           JOIN sheet_run run ON run.id = passed.sheet_run_id
           JOIN paper ON paper.id = run.paper_id
           WHERE passed.batch_id = ? AND passed.slot = 'developer' AND run.undone_at IS NULL"#,
        batch
    )
    .fetch_one(conn)
    .await?;
    Ok(carried)
}

/// Sheets that stand and were not booked, newest first: no fixer in the line, it had left, or the
/// instructor decided so.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_unbooked(conn: &mut SqliteConnection) -> Result<Vec<SheetRun>, Error> {
    runs!(fetch_all, conn, "WHERE movement_id IS NULL AND undone_at IS NULL ORDER BY developed_at DESC, id DESC")
        .into_iter()
        .map(SheetRun::try_from)
        .collect()
}

/// Which batches a record's sheets went through, by tray.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_batches(conn: &mut SqliteConnection, id: SheetRunId) -> Result<Vec<(Slot, BatchId)>, Error> {
    let rows = sqlx::query!("SELECT slot, batch_id FROM sheet_run_batch WHERE sheet_run_id = ? ORDER BY slot", id)
        .fetch_all(conn)
        .await?;
    let wrong = || Error::Inconsistent { table: "sheet_run_batch", column: "slot", id: id.to_string() };
    rows.into_iter().map(|row| Ok((Slot::from_word(&row.slot).ok_or_else(wrong)?, row.batch_id))).collect()
}

/// How many sheets of each paper stand recorded, by the paper's name: to be reconciled with the
/// sheets counted from the box.
///
/// # Errors
/// When the database cannot be used.
pub async fn tally(conn: &mut SqliteConnection) -> Result<Vec<(String, i64)>, Error> {
    let rows = sqlx::query!(
        r#"SELECT paper.name, sum(run.sheets) AS "sheets!: i64"
           FROM sheet_run run JOIN paper ON paper.id = run.paper_id
           WHERE run.undone_at IS NULL GROUP BY paper.id ORDER BY paper.name"#
    )
    .fetch_all(conn)
    .await?;
    Ok(rows.into_iter().map(|row| (row.name, row.sheets)).collect())
}
