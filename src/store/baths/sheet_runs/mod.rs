//! Sheets put through a tray line: they load its batches, and the silver book.

mod booking;
mod listed;

use sqlx::SqliteConnection;

use crate::domain::{
    baths::batch::Stay,
    book::{MovementKind, Vessel, moves},
    field_errors::FieldErrors,
    ids::{ExposureId, LabSessionId, MovementId, PersonId, SheetRunId, SiteId, StudentId},
    instant::Instant,
    people::actor::Actor,
};

pub use crate::domain::baths::sheet_run::{Decision, NewSheetRun, SheetOf, SheetRun};

pub use listed::{
    carried_off_unbooked, find, find_by_movement, find_of, list_batches, list_of_student, list_unbooked, list_waiting,
    tally,
};

use booking::{Plan, Planned, delivered, plan};

use super::tray_slots;
use crate::store::{
    Error, WriteError, book as stored_book,
    book::{Movement, mirror::mirror},
    stock::papers,
    waste::containers,
};

/// Records sheets and books them on what stood in the line at `developed_at`: silver from paper to
/// the fixer, and the liquid they carry off with its share of silver from the fixer to the wash
/// (from the first of two fixers into the second). A fixer that has moved on since takes the silver
/// into its waste container. Without a fixer in the line nothing is booked.
///
/// When the fixer has left the site they are recorded all the same, and wait in sight until the
/// instructor decides what becomes of their silver: see [`decide`].
///
/// Adds no line to the change log: the caller does, in its own words.
///
/// # Errors
/// Refused when `developed_at` lies in the future or the figures are out of range;
/// [`WriteError::Missing`] without the paper.
pub async fn record(
    tx: &mut SqliteConnection,
    actor: Actor,
    run: &NewSheetRun,
    recorded_at: Instant,
) -> Result<(), WriteError> {
    let recorded_by = acceptable(actor, run, recorded_at)?;
    let paper = papers::find(tx, run.paper).await?.ok_or(WriteError::Missing("paper"))?;
    let stays = tray_slots::list_standing(tx, run.tray_line, run.developed_at).await?;
    let booked = match plan(tx, run, &paper, &stays).await? {
        Plan::Book(Planned { drafts, remark, rests_on, happened_at }) => {
            let movement = Movement {
                id: run.movement,
                site: run.site,
                kind: MovementKind::Sheet,
                happened_at,
                recorded_at,
                recorded_by,
                remark,
                rests_on,
            };
            stored_book::append(tx, &movement, &drafts).await?;
            Some(run.movement)
        }
        Plan::NoFixer | Plan::Gone => None,
    };
    insert(tx, run, booked, recorded_by, recorded_at).await?;
    insert_batches(tx, run.id, &stays).await?;
    Ok(())
}

/// What becomes of the silver of sheets whose fixer has left the site: the instructor decides.
///
/// # Errors
/// Refused when they do not wait for it (they were booked, taken back or decided already), or when the
/// container chosen is not here.
pub async fn decide(
    tx: &mut SqliteConnection,
    actor: Actor,
    id: SheetRunId,
    movement: MovementId,
    decision: Decision,
    at: Instant,
) -> Result<(), WriteError> {
    let run = find(tx, id).await?.ok_or(WriteError::Missing("these sheets"))?;
    if !list_waiting(tx).await?.iter().any(|waiting| waiting.id == id) {
        return Err(FieldErrors::whole("these sheets do not wait for a decision").into());
    }
    let decided_by = stored_book::person(actor)?;
    let booked = match decision {
        Decision::WentWithContainer | Decision::FoundByReading => None,
        Decision::BookedInto(container) => {
            let paper = papers::find(tx, run.paper).await?.ok_or(WriteError::Missing("paper"))?;
            // no container holds silver before its first drop
            let first_drop = containers::find(tx, container).await?.and_then(|one| one.first_drop_at);
            let movement = Movement {
                id: movement,
                site: origin(tx, id).await?.0,
                kind: MovementKind::Sheet,
                happened_at: first_drop.map_or(at, |first| first.max(run.developed_at)),
                recorded_at: at,
                recorded_by: decided_by,
                remark: "their fixer had left: booked here by the instructor’s decision".to_owned(),
                rests_on: None,
            };
            let draft = moves::late_sheets(delivered(run.area_mm2, &paper), Vessel::Container(container));
            stored_book::append(tx, &movement, &[draft]).await?;
            Some(movement.id)
        }
    };
    let word = decision.as_str();
    sqlx::query!(
        "UPDATE sheet_run SET decision = ?, decided_at = ?, decided_by = ?, movement_id = ? WHERE id = ?",
        word,
        at,
        decided_by,
        booked,
        id
    )
    .execute(tx)
    .await?;
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
            happened_at: original.happened_at,
            recorded_at: at,
            recorded_by: stored_book::person(actor)?,
            remark: why.to_owned(),
            rests_on: None,
        };
        mirror(tx, &original, &reversal).await?;
    }
    update_undone(tx, run, at).await?;
    Ok(())
}

/// Books sheets that could not be booked when they were recorded, if they can be now: a fixer stands in
/// their line at their time after all, or the container it went into is back. They are taken back and
/// recorded anew under the ids given. Gives whether they were.
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
    if run.movement.is_some() || run.undone_at.is_some() || run.is_decided {
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
    let paper = papers::find(tx, run.paper).await?.ok_or(WriteError::Missing("paper"))?;
    let stays = tray_slots::list_standing(tx, run.tray_line, run.developed_at).await?;
    if !matches!(plan(tx, &anew, &paper, &stays).await?, Plan::Book(_)) {
        return Ok(false);
    }
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
