//! Recording a sheet.

use axum::{
    extract::State,
    response::{IntoResponse, Response},
};

use crate::{
    domain::{
        field_errors::FieldErrors,
        ids::{ExposureId, LabSessionId, PersonId},
    },
    lab::{
        baths::through_trays::TrayIds,
        exposure::{
            at_hand::{AtHand, Learned},
            recording::{self, Prepared, Ready, Recording},
            told::Against,
        },
    },
    store::WriteError,
    web::{
        fields::{
            aim_fields::{aim_values, read_aim},
            light_fields::{light_values, read_light},
            sheet_fields::read,
            shown_forecasts::{SHOWN, opened},
        },
        kit::{access::Bench, error::WebError, form::Form, frame::Frame, page::see_other, state::AppState},
        request::posted::Posted,
        sheets::correct::path_of,
    },
};

use super::desk::Desk;

/// Records a sheet with the forecast for the light as found.
pub async fn record(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    posted: Posted,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let at_hand = AtHand::load(&mut conn, bench.section, bench.student).await?;
    let learned = at_hand.learned(&mut conn).await?;
    drop(conn);
    let site = at_hand.site;
    let prepared = prepare(&state, &bench, &posted, at_hand, learned);
    let (ids, actor, student) = (TrayIds::mint(&state.world), bench.actor(), bench.student);
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            // refused only here, so that a form sent twice is answered by its receipt first
            let (session, id, prepared) = prepared?;
            let session = recording::still_open(tx, session).await?;
            recording::still_held(tx, prepared.camera(), student).await?;
            prepared.store(tx, &session, Some(site), (actor, "sheet recorded"), ids).await?;
            Ok(path_of(id, actor))
        })
    });
    match written.await {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => refuse(&state, frame, &bench, &posted, errors).await,
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

/// Reads the form against what the student has at hand, and works out the forecast.
fn prepare(
    state: &AppState,
    bench: &Bench,
    posted: &Posted,
    at_hand: AtHand,
    learned: Option<Learned>,
) -> Result<(LabSessionId, ExposureId, Prepared), FieldErrors> {
    let against = Against {
        here: at_hand.whereabouts(posted.at()),
        session: at_hand.evening.as_ref().map(|(session, _)| session.clone()),
        camera: at_hand.camera.clone(),
        camera_counts: true,
        asks_trays: at_hand.uses_trays(),
    };
    let told = read(posted, &against, posted.at())?;
    if told.developed_at.is_some() && !at_hand.uses_trays() {
        return Err(FieldErrors::one("developed", "this sheet does not go through the trays of this session"));
    }
    let ready = Ready::of(at_hand, learned)?;
    let shown = opened(posted.get(SHOWN), ready.camera.id, &state.pepper);
    let (id, by) = (state.mint(), PersonId::from(bench.student));
    let recording = Recording { id, student: Some(bench.student), shown, by, at: posted.at() };
    Ok((ready.session.id, id, ready.prepare(told, recording)))
}

/// The page again, with what was typed and what is wrong with it.
async fn refuse(
    state: &AppState,
    frame: Frame,
    bench: &Bench,
    posted: &Posted,
    errors: FieldErrors,
) -> Result<Response, WebError> {
    let at_hand = AtHand::load(&mut *state.store.read().await?, bench.section, bench.student).await?;
    let light = read_light(|name| posted.get(name), &at_hand.whereabouts(posted.at())).ok();
    let aim = at_hand.camera.as_ref().and_then(|camera| read_aim(|name| posted.get(name), &camera.body).ok());
    let mut values: Vec<_> = light.map(light_values).into_iter().flatten().collect();
    values.extend(aim.map(aim_values).into_iter().flatten());
    let asking = Form::filled(&frame, 0, values);
    let recording = Some(Form::refused(posted, errors));
    let desk = Desk {
        at: posted.at(),
        aim: aim.unwrap_or_default(),
        light,
        asking,
        sign: None,
        counted: None,
        recording,
        film: None,
    };
    let page = desk.page(state, frame, bench).await?;
    Ok(page.unprocessable().into_response())
}
