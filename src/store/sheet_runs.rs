//! Sheets put through a tray line: they load its batches, and the silver book.

use sqlx::SqliteConnection;

use crate::domain::{
    actor::Actor,
    batch::{Batch, BatchState, Slot, Stay},
    book::{self, Draft, MovementKind, Silver, Vessel, moves},
    field_errors::FieldErrors,
    ids::{
        BatchId, ExposureId, LabSessionId, MovementId, PaperId, PersonId, PrintId, SheetRunId, SiteId, StudentId,
        TrayLineId,
    },
    instant::Instant,
    paper::Paper,
};

pub use crate::domain::sheet_run::{NewSheetRun, SheetOf, SheetRun};

use super::{
    Error, WriteError, batches,
    book::{self as stored_book, Movement},
    containers, papers, reversals, tray_slots,
};

/// Records sheets and books them on what stood in the line at `developed_at`: silver from paper to
/// the fixer, and the liquid they carry off with its share of silver from the fixer to the wash
/// (from the first of two fixers into the second). A fixer that has moved on since takes the silver
/// into its waste container. Without a fixer in the line nothing is booked.
///
/// Adds no line to the change log: the caller does, in its own words.
///
/// # Errors
/// Refused (for the form as a whole) when the fixer's container has left: the instructor decides,
/// see [`record_unbooked`]. Refused when `developed_at` lies in the future or the figures are out of
/// range; [`WriteError::Missing`] without the paper.
pub async fn record(
    tx: &mut SqliteConnection,
    actor: Actor,
    run: &NewSheetRun,
    recorded_at: Instant,
) -> Result<(), WriteError> {
    let recorded_by = acceptable(actor, run, recorded_at)?;
    let paper = papers::find(tx, run.paper).await?.ok_or(WriteError::Missing("paper"))?;
    let stays = tray_slots::list_standing(tx, run.tray_line, run.developed_at).await?;
    let drafts = plan(tx, run, &paper, &stays).await?;
    let booked = match drafts {
        Some(Planned { drafts, remark }) => {
            let movement = Movement {
                id: run.movement,
                site: run.site,
                kind: MovementKind::Sheet,
                happened_at: run.developed_at,
                recorded_at,
                recorded_by,
                remark,
            };
            stored_book::append(tx, &movement, &drafts).await?;
            Some(run.movement)
        }
        None => None,
    };
    insert(tx, run, booked, recorded_by, recorded_at).await?;
    insert_batches(tx, run.id, &stays).await?;
    Ok(())
}

/// Records sheets without booking them, because their fixer has left the site: by staff, who see it
/// among the sheets not booked.
///
/// # Errors
/// [`WriteError::Forbidden`] for anybody but staff; otherwise as [`record`].
pub async fn record_unbooked(
    tx: &mut SqliteConnection,
    actor: Actor,
    run: &NewSheetRun,
    recorded_at: Instant,
) -> Result<(), WriteError> {
    if !matches!(actor, Actor::Staff(_)) {
        return Err(WriteError::Forbidden("whether sheets are left out of the silver book is for staff to decide"));
    }
    let recorded_by = acceptable(actor, run, recorded_at)?;
    let stays = tray_slots::list_standing(tx, run.tray_line, run.developed_at).await?;
    insert(tx, run, None, recorded_by, recorded_at).await?;
    insert_batches(tx, run.id, &stays).await?;
    Ok(())
}

/// Takes recorded sheets back: reversing entries in the silver book, and they no longer load their
/// batches. Adds no line to the change log.
///
/// # Errors
/// [`WriteError::Missing`] without such a record; refused when it was taken back already, when the
/// silver was read since, or when a vessel would fall below zero, naming what to take back first.
pub async fn undo(
    tx: &mut SqliteConnection,
    actor: Actor,
    run: SheetRunId,
    movement: MovementId,
    at: Instant,
    why: &str,
) -> Result<(), WriteError> {
    let found = find(tx, run).await?.ok_or(WriteError::Missing("sheet"))?;
    if found.undone_at.is_some() {
        return Err(FieldErrors::whole("these sheets were taken back already").into());
    }
    if let Some(original) = found.movement {
        let original = stored_book::find_movement(tx, original).await?.ok_or(WriteError::Missing("movement"))?;
        let reversal = Movement {
            id: movement,
            site: original.site,
            kind: MovementKind::Reversal,
            happened_at: at,
            recorded_at: at,
            recorded_by: stored_book::person(actor)?,
            remark: why.to_owned(),
        };
        reversals::mirror(tx, &original, &reversal).await?;
    }
    update_undone(tx, run, at).await?;
    Ok(())
}

/// Books sheets that found no fixer in their line, if one stands there at their time by now: they
/// are taken back and recorded anew under the ids given. Gives whether they were.
///
/// # Errors
/// As [`record`].
pub async fn book_anew(
    tx: &mut SqliteConnection,
    actor: Actor,
    id: SheetRunId,
    (new, movement): (SheetRunId, MovementId),
    at: Instant,
) -> Result<bool, WriteError> {
    let run = find(tx, id).await?.ok_or(WriteError::Missing("sheet"))?;
    let is_fixer = |slot: &Slot| matches!(slot, Slot::Fixer | Slot::SecondFixer);
    let found_none = !list_batches(tx, id).await?.iter().any(|(slot, _)| is_fixer(slot));
    let stays = tray_slots::list_standing(tx, run.tray_line, run.developed_at).await?;
    let now_stands = stays.iter().any(|stay| is_fixer(&stay.slot));
    if run.movement.is_some() || run.undone_at.is_some() || !found_none || !now_stands {
        return Ok(false);
    }
    let (site, lab_session) = origin(tx, id).await?;
    let anew = NewSheetRun {
        id: new,
        movement,
        site,
        lab_session,
        tray_line: run.tray_line,
        paper: run.paper,
        what: run.what,
        student: run.student,
        sheets: run.sheets,
        area_mm2: run.area_mm2,
        developed_at: run.developed_at,
    };
    update_undone(tx, id, at).await?;
    record(tx, actor, &anew, at).await?;
    Ok(true)
}

async fn origin(tx: &mut SqliteConnection, id: SheetRunId) -> Result<(SiteId, Option<LabSessionId>), Error> {
    let row = sqlx::query!("SELECT site_id, lab_session_id FROM sheet_run WHERE id = ?", id).fetch_one(tx).await?;
    Ok((row.site_id, row.lab_session_id))
}

fn acceptable(actor: Actor, run: &NewSheetRun, recorded_at: Instant) -> Result<PersonId, WriteError> {
    let person = stored_book::person(actor)?;
    let wrong = |words: &str| Err(FieldErrors::whole(words).into());
    if run.developed_at > recorded_at {
        wrong("these sheets are said to have gone through the trays in the future")
    } else if !(1..=1000).contains(&run.sheets) {
        wrong("from 1 to 1000 sheets can be recorded at once")
    } else if !(1..=1_000_000_000).contains(&run.area_mm2) {
        wrong("the sheets must have an area")
    } else {
        Ok(person)
    }
}

/// What is to be booked.
struct Planned {
    drafts: Vec<Draft>,
    remark: String,
}

/// Where what a fixer held is by now.
enum Whereabouts {
    Tray(Vessel),
    MovedOn(Vessel),
    Gone,
}

async fn plan(
    tx: &mut SqliteConnection,
    run: &NewSheetRun,
    paper: &Paper,
    stays: &[Stay],
) -> Result<Option<Planned>, WriteError> {
    let mut fixers = stays.iter().filter(|stay| matches!(stay.slot, Slot::Fixer | Slot::SecondFixer));
    let Some(first) = fixers.next() else { return Ok(None) };
    let delivered = Silver {
        best_ug: moves::per_area(run.area_mm2, paper.silver_ug_per_m2),
        low_ug: moves::per_area(run.area_mm2, paper.silver_low_ug_per_m2),
        high_ug: moves::per_area(run.area_mm2, paper.silver_high_ug_per_m2),
    };
    let carried_ul = moves::per_area(run.area_mm2, paper.carry_over_ul_per_m2);
    let batch = batches::find(tx, first.batch).await?.ok_or(WriteError::Missing("batch"))?;
    let read = read_since(tx, &batch, run.developed_at).await?;
    // a reading after the sheets found their silver already
    let (delivered, remark) = match read {
        Some(entry) => (Silver::NONE, moves::counted_in_reading(entry)),
        None => (delivered, String::new()),
    };
    let drafts = match whereabouts(tx, &batch).await? {
        Whereabouts::Tray(vessel) => {
            let second = match fixers.next() {
                Some(stay) => in_tray(tx, stay.batch).await?,
                None => None,
            };
            let first = (vessel, stored_book::balance(tx, vessel).await?);
            moves::sheets(delivered, carried_ul, first, second)
        }
        Whereabouts::MovedOn(container) => vec![moves::late_sheets(delivered, container)],
        Whereabouts::Gone => {
            return Err(FieldErrors::whole(format!(
                "{}, in which these sheets were fixed, has been taken away since: the instructor decides how they are \
                 recorded",
                batch.name()
            ))
            .into());
        }
    };
    Ok(Some(Planned { drafts, remark }))
}

/// The second fixer with what it holds, unless it has moved on too: then the first one's liquid
/// goes to the wash.
async fn in_tray(tx: &mut SqliteConnection, batch: BatchId) -> Result<Option<(Vessel, book::Amount)>, WriteError> {
    let batch = batches::find(tx, batch).await?.ok_or(WriteError::Missing("batch"))?;
    if !batch.in_use() {
        return Ok(None);
    }
    let vessel = Vessel::Batch(batch.id);
    Ok(Some((vessel, stored_book::balance(tx, vessel).await?)))
}

async fn whereabouts(tx: &mut SqliteConnection, batch: &Batch) -> Result<Whereabouts, Error> {
    match batch.state {
        BatchState::InUse => Ok(Whereabouts::Tray(Vessel::Batch(batch.id))),
        BatchState::Retired { into: None, .. } => Ok(Whereabouts::Gone),
        BatchState::Retired { into: Some(id), .. } => {
            let vessel = Vessel::Container(id);
            let there = containers::find(tx, id).await?.is_some_and(|container| !container.is_removed())
                // poured on into another: it cannot be said which silver is where
                && stored_book::balance(tx, vessel).await?.volume_ul > 0;
            Ok(if there { Whereabouts::MovedOn(vessel) } else { Whereabouts::Gone })
        }
    }
}

/// The entry of a standing reading that found what a batch held at a moment: of the batch itself,
/// or of the container it was poured into.
async fn read_since(tx: &mut SqliteConnection, batch: &Batch, at: Instant) -> Result<Option<i64>, Error> {
    let found_in = async |tx: &mut SqliteConnection, vessel, since: Instant| -> Result<Option<i64>, Error> {
        let readings = stored_book::list_readings_of(tx, vessel).await?;
        Ok(readings.iter().find(|entry| entry.happened_at > since).map(|entry| entry.number))
    };
    if let Some(entry) = found_in(tx, Vessel::Batch(batch.id), at).await? {
        return Ok(Some(entry));
    }
    match batch.state {
        BatchState::Retired { at: retired_at, into: Some(id) } => {
            found_in(tx, Vessel::Container(id), retired_at.max(at)).await
        }
        BatchState::Retired { into: None, .. } | BatchState::InUse => Ok(None),
    }
}

async fn insert(
    tx: &mut SqliteConnection,
    run: &NewSheetRun,
    movement: Option<MovementId>,
    recorded_by: PersonId,
    recorded_at: Instant,
) -> Result<(), Error> {
    let (what, exposure, print) = (run.what.as_str(), run.what.exposure(), run.what.print());
    sqlx::query!(
        "INSERT INTO sheet_run (id, site_id, lab_session_id, tray_line_id, paper_id, exposure_id, print_id, student_id,
             what, sheets, area_mm2, developed_at, movement_id, recorded_by, recorded_at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        run.id,
        run.site,
        run.lab_session,
        run.tray_line,
        run.paper,
        exposure,
        print,
        run.student,
        what,
        run.sheets,
        run.area_mm2,
        run.developed_at,
        movement,
        recorded_by,
        recorded_at
    )
    .execute(tx)
    .await?;
    Ok(())
}

async fn insert_batches(tx: &mut SqliteConnection, run: SheetRunId, stays: &[Stay]) -> Result<(), Error> {
    for stay in stays {
        let slot = stay.slot.as_str();
        sqlx::query!(
            "INSERT INTO sheet_run_batch (sheet_run_id, slot, batch_id) VALUES (?, ?, ?)",
            run,
            slot,
            stay.batch
        )
        .execute(&mut *tx)
        .await?;
    }
    Ok(())
}

async fn update_undone(tx: &mut SqliteConnection, id: SheetRunId, at: Instant) -> Result<(), Error> {
    sqlx::query!("UPDATE sheet_run SET undone_at = ? WHERE id = ?", at, id).execute(tx).await?;
    Ok(())
}

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
                    developed_at, movement_id, undone_at, recorded_by, recorded_at
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

/// Sheets that stand and were not booked, newest first: no fixer in the line, or staff decided so.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_unbooked(conn: &mut SqliteConnection) -> Result<Vec<SheetRun>, Error> {
    runs!(fetch_all, conn, "WHERE movement_id IS NULL AND undone_at IS NULL ORDER BY developed_at DESC, id DESC")
        .into_iter()
        .map(SheetRun::try_from)
        .collect()
}

/// A negative turned out to be another student's: its way through the trays follows it. What was
/// booked stays, since the sheet went through the same trays.
///
/// # Errors
/// When the database cannot be used.
pub async fn update_student_of_negative(
    tx: &mut SqliteConnection,
    exposure: ExposureId,
    student: Option<StudentId>,
) -> Result<(), Error> {
    sqlx::query!("UPDATE sheet_run SET student_id = ? WHERE exposure_id = ?", student, exposure).execute(tx).await?;
    Ok(())
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
