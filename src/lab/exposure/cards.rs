//! Taking cards in: each becomes a sheet with its number, booked in the trays where it went through.

use sqlx::SqliteConnection;

use crate::{
    domain::{
        evening::lab_session::LabSession,
        field_errors::FieldErrors,
        ids::{CameraId, SiteId, StudentId},
        people::actor::Actor,
    },
    lab::baths::through_trays::TrayIds,
    store::WriteError,
};

use super::{recording::Prepared, told::Told};

/// One card.
#[derive(Clone, Debug)]
pub struct Card {
    /// Its row.
    pub row: usize,
    /// The camera.
    pub camera: CameraId,
    /// Whose sheet it is.
    pub student: StudentId,
    /// What it tells of the sheet.
    pub told: Told,
}

/// A card with its forecast, ready to be stored.
#[derive(Clone, Debug)]
pub struct ReadySheet {
    /// Its row.
    pub row: usize,
    /// The sheet.
    pub sheet: Prepared,
    /// The ids that its booking needs.
    pub ids: TrayIds,
}

/// Stores the sheets in the order of their rows; gives the first number and the last.
///
/// # Errors
/// A booking that is refused, beside the card it belongs to.
pub async fn record(
    tx: &mut SqliteConnection,
    session: &LabSession,
    site: SiteId,
    actor: Actor,
    sheets: Vec<ReadySheet>,
) -> Result<(i64, i64), WriteError> {
    let (mut first, mut last) = (None, 0);
    for ReadySheet { row, sheet, ids } in sheets {
        let stored = sheet.store(tx, session, Some(site), (actor, "sheet typed in from a card"), ids).await;
        last = stored.map_err(|error| beside_trays(error, row, actor))?;
        first.get_or_insert(last);
    }
    Ok((first.unwrap_or(last), last))
}

/// A booking that was refused, beside the card it belongs to.
fn beside_trays(error: WriteError, row: usize, actor: Actor) -> WriteError {
    match error {
        WriteError::Refused(errors) => {
            let said = errors.iter().map(|(_, message)| message).collect::<Vec<_>>().join("; ");
            let without = if matches!(actor, Actor::Student(_)) { "With “no”" } else { "Left empty" };
            let message = format!("Card {row}: {said}. {without}, the sheet is kept without it.");
            FieldErrors::one(format!("trays_{row}"), message).into()
        }
        error => error,
    }
}
