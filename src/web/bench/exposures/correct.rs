//! Correcting what was typed of a sheet.

use askama::Template;
use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};
use jiff::tz::TimeZone;

use crate::{
    domain::{
        exposure::Exposure, field_errors::FieldErrors, found_light::FoundLight, ids::ExposureId, instant::Instant,
        sheet_run::SheetOf, typed_seconds::exactly,
    },
    store::{WriteError, exposures, sheet_runs},
    web::{
        access::Bench,
        error::WebError,
        form::Form,
        frame::Frame,
        light_fields::{LightFields, light_values},
        page::{Page, see_other},
        posted::Posted,
        result_fields::{ResultFields, result_values},
        state::AppState,
        through_trays::{Through, TrayIds},
    },
};

use super::{
    record::{Told, note, read},
    sheet::{Seen, changeable, find_seen, result_words, stale},
};

#[derive(Template)]
#[template(path = "bench/exposure_correct.html")]
struct CorrectPage {
    frame: Frame,
    number: i64,
    path: String,
    form: Form,
    light: LightFields,
    result: ResultFields,
    trays: bool,
}

/// The form, filled with the sheet as it is.
pub async fn show(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    Path(id): Path<ExposureId>,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let seen = find_seen(&mut conn, id, bench.student).await?.ok_or(WebError::NotFound("this sheet"))?;
    let form = filled(&frame, &seen);
    Ok(correct_page(frame, &seen, form).into_response())
}

fn filled(frame: &Frame, seen: &Seen) -> Form {
    let exposure = &seen.exposure;
    let developed_at = seen.developed_at.map(|at| at.as_local_control(&seen.zone));
    let mut values = vec![
        ("made", exactly(exposure.made_ms)),
        ("made_at", exposure.made_at.as_local_control(&seen.zone)),
        ("sheet", exposure.sheet.typed.clone()),
        ("developed", if developed_at.is_some() { "yes" } else { "" }.to_owned()),
        ("developed_at", developed_at.unwrap_or_default()),
        ("remark", exposure.remark.clone()),
    ];
    values.extend(FoundLight::parse_words(&exposure.light_typed).map(light_values).into_iter().flatten());
    values.extend(result_values(exposure.judgement));
    Form::filled(frame, exposure.version, values)
}

fn correct_page(frame: Frame, seen: &Seen, form: Form) -> Page<impl Template> {
    Page::new(CorrectPage {
        number: seen.exposure.number,
        path: format!("/bench/exposures/{}", seen.exposure.id),
        light: LightFields::of(&form),
        result: ResultFields::short(&form),
        trays: seen.uses_trays,
        form,
        frame,
    })
}

/// Saves the sheet as corrected.
pub async fn save(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    Path(id): Path<ExposureId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let seen = find_seen(&mut conn, id, bench.student).await?.ok_or(WebError::NotFound("this sheet"))?;
    drop(conn);
    let refuse = |frame, seen: &Seen, errors| {
        correct_page(frame, seen, Form::refused(&posted, errors)).unprocessable().into_response()
    };
    let told = match told(&posted, &seen) {
        Ok(told) => told,
        Err(errors) => return Ok(refuse(frame, &seen, errors)),
    };
    let (ids, actor, student, at, version) =
        (TrayIds::mint(&state), bench.actor(), bench.student, posted.at(), posted.version());
    let (session, site, zone) = (seen.session.clone(), seen.site, seen.zone.clone());
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            let stored = changeable(tx, id, student).await?;
            let exposure = corrected(&stored, &told);
            if stored.version != version {
                let developed_at = sheet_runs::find_of(tx, SheetOf::Negative(id)).await?.map(|run| run.developed_at);
                let fields = both_versions(&exposure, told.developed_at, &stored, developed_at, &zone);
                return Err(stale(&stored, fields));
            }
            exposures::update(tx, &exposure).await?;
            let through = Through::of_exposure(site, &session, &exposure);
            through.settle(tx, actor, told.developed_at, ids, at).await?;
            note(tx, at, actor, "sheet corrected", &exposure).await?;
            Ok(format!("/bench/exposures/{id}"))
        })
    });
    match written.await {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => Ok(refuse(frame, &seen, errors)),
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

fn told(posted: &Posted, seen: &Seen) -> Result<Told, FieldErrors> {
    let told = read(posted, &seen.zone, posted.at())?;
    if told.developed_at.is_some() && !seen.uses_trays {
        return Err(FieldErrors::whole("this sheet does not go through the trays of this session"));
    }
    Ok(told)
}

/// The sheet with what was told. A judgement that says the same keeps its time.
fn corrected(stored: &Exposure, told: &Told) -> Exposure {
    let mut exposure = stored.clone();
    if stored.light_typed != told.light.in_words() {
        exposure.correct_light(told.light);
    }
    exposure.made_ms = told.made_ms;
    exposure.made_at = told.made_at;
    exposure.sheet = told.sheet.clone();
    exposure.remark = told.remark.clone();
    exposure.judgement = told.judgement.map(|mut judgement| {
        if let Some(before) = stored.judgement.filter(|before| {
            (before.verdict, before.result, before.fault) == (judgement.verdict, judgement.result, judgement.fault)
        }) {
            judgement.judged_at = before.judged_at;
        }
        judgement
    });
    exposure
}

fn both_versions(
    sent: &Exposure,
    sent_developed_at: Option<Instant>,
    stored: &Exposure,
    stored_developed_at: Option<Instant>,
    zone: &TimeZone,
) -> Vec<(String, String, String)> {
    let trays = |at: Option<Instant>| at.map_or_else(|| "no".to_owned(), |at| at.as_words(zone));
    let of = |name: &str, words: &dyn Fn(&Exposure) -> String| (name.to_owned(), words(sent), words(stored));
    vec![
        of("Open for", &|exposure| exactly(exposure.made_ms)),
        of("When", &|exposure| exposure.made_at.as_words(zone)),
        of("Sheet", &|exposure| exposure.sheet.typed.clone()),
        of("Light as found", &|exposure| exposure.light_typed.clone()),
        of("How it came out", &result_words),
        ("Through the trays".to_owned(), trays(sent_developed_at), trays(stored_developed_at)),
        of("Remark", &|exposure| exposure.remark.clone()),
    ]
}
