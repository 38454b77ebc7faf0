//! Taking cards in: each becomes a sheet with its number, booked in the trays where it went through.

use serde::Deserialize;
use sqlx::SqliteConnection;

use crate::{
    domain::{
        evening::lab_session::LabSession,
        exposure::{Exposure, new_exposure::NewExposure},
        field_errors::FieldErrors,
        ids::{ExposureId, HoleId, PersonId, SiteId},
        instant::Instant,
        people::actor::Actor,
    },
    store::{WriteError, exposure::exposures},
    web::{
        bench::exposures::note,
        through_trays::{Through, TrayIds},
    },
};

use super::pile::Card;

/// A card with its forecast, ready to be stored.
#[derive(Clone, Debug)]
pub struct ReadySheet {
    /// Its row.
    pub row: usize,
    /// The sheet; its number follows in the write, where nobody else can take it.
    pub exposure: Exposure,
    /// When it went through the trays, if it did.
    pub developed_at: Option<Instant>,
    /// The ids that its booking needs.
    pub ids: TrayIds,
}

impl Card {
    /// The sheet that it tells of, made through that hole.
    pub fn told(&self, id: ExposureId, hole: HoleId, by: PersonId, at: Instant) -> NewExposure {
        NewExposure {
            id,
            hole,
            student: Some(self.student),
            sheet: self.sheet.clone(),
            light: self.light,
            // what stood on the card, if anything, was printed at some other moment
            shown: None,
            demonstration: false,
            made_ms: self.made_ms,
            made_at: self.made_at,
            judgement: self.judgement,
            remark: self.remark.clone(),
            recorded_by: by,
            recorded_at: at,
        }
    }
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
    at: Instant,
) -> Result<(i64, i64), WriteError> {
    let first = exposures::next_number(tx, session.section).await?;
    let mut last = first;
    for (number, sheet) in (first..).zip(sheets) {
        let exposure = Exposure { number, ..sheet.exposure };
        exposures::insert(tx, &exposure).await?;
        if let Some(developed_at) = sheet.developed_at {
            let through = Through::of_exposure(site, session, &exposure);
            let booked = through.book_late(tx, actor, developed_at, sheet.ids, at).await;
            booked.map_err(|error| beside_trays(error, sheet.row, actor))?;
        }
        note(tx, at, actor, "sheet typed in from a card", &exposure).await?;
        last = number;
    }
    Ok((first, last))
}

/// What the address may carry: the sheets that were just taken in.
#[derive(Debug, Default, Deserialize)]
pub struct Taken {
    /// The first number.
    pub first: Option<String>,
    /// The last.
    pub last: Option<String>,
}

impl Taken {
    /// In words, when they are among those listed.
    pub fn words(&self, sheets: &[Exposure]) -> String {
        let number = |text: &Option<String>| {
            let number: i64 = text.as_deref()?.parse().ok()?;
            sheets.iter().any(|sheet| sheet.number == number).then_some(number)
        };
        match (number(&self.first), number(&self.last)) {
            (Some(first), Some(last)) if first == last => format!("It is sheet {first}: write the number on its back."),
            (Some(first), Some(last)) => {
                format!("They are sheets {first} to {last}: write each number on the back of its sheet.")
            }
            _ => String::new(),
        }
    }
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
