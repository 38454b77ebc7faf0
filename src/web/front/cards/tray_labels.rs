//! Labels for the trays of a session, two to a page, in letters that an amber lamp is enough for.

use askama::Template;
use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};

use crate::{
    domain::{
        baths::batch::Slot,
        ids::{BatchId, LabSessionId},
    },
    store::{
        baths::{batches, tray_lines, tray_slots},
        evening::lab_sessions,
        site::sites,
    },
    web::kit::{error::WebError, frame::Frame, page::Page, state::AppState},
};

#[derive(Template)]
#[template(path = "print/tray_labels.html")]
struct TrayLabelsPage {
    frame: Frame,
    id: LabSessionId,
    title: String,
    /// The tray line; empty when the session has none.
    line: String,
    labels: Vec<TrayLabel>,
    emergency_line: String,
}

/// What stands in front of one tray.
struct TrayLabel {
    place: usize,
    name: String,
    /// Batch and when it was mixed; empty where nothing stands yet: then it is written by hand.
    batch: String,
    mixed: String,
    care: &'static str,
}

fn care(slot: Slot) -> &'static str {
    match slot {
        Slot::Developer => "Nothing goes back into this tray: no stop bath, no fixer, no tongs of theirs.",
        Slot::StopBath => "Vinegar smell: keep the air moving. Let it drain before the fixer.",
        Slot::Fixer | Slot::SecondFixer => "Holds silver: spent, it goes into its waste container.",
        Slot::WashingAid => "For fibre-based paper and film, after a short wash.",
    }
}

/// Shows them: the trays that have something standing in them, or else the usual three, to fill in.
pub(super) async fn show(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<LabSessionId>,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let session = lab_sessions::find(&mut conn, id).await?.ok_or(WebError::NotFound("this session"))?;
    let site = sites::find(&mut conn).await?.ok_or(WebError::NotFound("the site"))?;
    let (mut line, mut standing) = (String::new(), Vec::<(Slot, Option<BatchId>)>::new());
    if let Some(id) = session.tray_line {
        line = tray_lines::find(&mut conn, id).await?.map_or_else(String::new, |line| line.name);
        let stays = tray_slots::list_standing(&mut conn, id, state.now()).await?;
        standing = stays.into_iter().map(|stay| (stay.slot, Some(stay.batch))).collect();
        if standing.is_empty() {
            standing = [Slot::Developer, Slot::StopBath, Slot::Fixer].map(|slot| (slot, None)).to_vec();
        }
    }
    let mut labels = Vec::new();
    for (place, (slot, batch)) in standing.into_iter().enumerate() {
        let batch = match batch {
            Some(batch) => batches::find(&mut conn, batch).await?,
            None => None,
        };
        labels.push(TrayLabel {
            place: place + 1,
            name: slot.as_str().to_owned(),
            mixed: batch.as_ref().map_or_else(String::new, |batch| batch.mixed_at.as_words(&site.zone)),
            batch: batch.map_or_else(String::new, |batch| format!("{}, {}", batch.title(), batch.parts())),
            care: care(slot),
        });
    }
    Ok(Page::new(TrayLabelsPage { id, title: session.title, line, labels, emergency_line: site.emergency_line, frame })
        .into_response())
}
