//! Correcting what was typed of a sheet.

use askama::Template;
use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};
use jiff::tz::TimeZone;

use crate::{
    domain::{
        baths::sheet_run::SheetOf,
        exposure::{Exposure, Judgement, found_light::FoundLight},
        field_errors::FieldErrors,
        ids::{ExposureId, PaperId},
        instant::Instant,
        measure::typed_seconds::exactly,
        people::actor::Actor,
    },
    store::{WriteError, baths::sheet_runs, exposure::exposures},
    web::{
        fields::{
            aim_fields::{AimFields, aim_values},
            light_fields::{LightFields, light_values},
            result_fields::{ResultFields, result_values},
        },
        kit::{
            access::{Bench, Staff},
            error::WebError,
            form::{Control, Form},
            frame::Frame,
            page::{Page, see_other},
            state::AppState,
        },
        request::posted::Posted,
        through_trays::{Through, TrayIds, through_choices},
    },
};

use super::{
    film::{film_choices, offered_film},
    record::{SHOWS_NOTHING_YET, Told, note, read},
    seen::{Seen, changeable, find_seen, path_of, stale},
    sheet::result_words,
    take_back::taken_back_words,
};

#[derive(Template)]
#[template(path = "bench/exposure_correct.html")]
struct CorrectPage {
    frame: Frame,
    number: i64,
    /// Where it leads when nothing is corrected, and the words of that link.
    back: (String, String),
    action: String,
    form: Form,
    light: LightFields,
    aim: AimFields,
    /// When and why it was taken back; empty otherwise.
    taken_back: String,
    path: String,
    staff: bool,
    plain: Form,
    result: ResultFields,
    /// Whether it went through the trays, where there are trays.
    trays: Option<Control>,
    /// Which film was in it, where the camera holds film of its own.
    film: Option<Control>,
}

/// The form, for a student.
pub async fn show(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    Path(id): Path<ExposureId>,
) -> Result<Response, WebError> {
    show_to(&state, frame, bench.actor(), id).await
}

/// The form, for staff.
pub async fn show_to_staff(
    State(state): State<AppState>,
    frame: Frame,
    staff: Staff,
    Path(id): Path<ExposureId>,
) -> Result<Response, WebError> {
    show_to(&state, frame, staff.actor(), id).await
}

/// Saves what a student corrected.
pub async fn save(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    Path(id): Path<ExposureId>,
    posted: Posted,
) -> Result<Response, WebError> {
    save_by(&state, frame, bench.actor(), id, &posted).await
}

/// Saves what staff corrected.
pub async fn save_by_staff(
    State(state): State<AppState>,
    frame: Frame,
    staff: Staff,
    Path(id): Path<ExposureId>,
    posted: Posted,
) -> Result<Response, WebError> {
    save_by(&state, frame, staff.actor(), id, &posted).await
}

/// The form, filled with the sheet as it is.
async fn show_to(state: &AppState, frame: Frame, who: Actor, id: ExposureId) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let seen = find_seen(&mut conn, id, who).await?.ok_or(WebError::NotFound("this sheet"))?;
    let (form, films) = (filled(&frame, &seen), film_choices(&mut conn, "choose").await?);
    Ok(correct_page(frame, &seen, who, (form, &films), None).into_response())
}

fn filled(frame: &Frame, seen: &Seen) -> Form {
    let exposure = &seen.exposure;
    let developed_at = seen.developed_at.map(|at| at.as_local_control(&seen.zone));
    let mut values = vec![
        ("made", exactly(exposure.made_ms)),
        ("made_at", exposure.made_at.as_local_control(&seen.zone)),
        ("sheet", exposure.sheet.typed.clone()),
        ("developed", if developed_at.is_some() { "yes" } else { "no" }.to_owned()),
        ("developed_at", developed_at.unwrap_or_default()),
        ("remark", exposure.remark.clone()),
        ("film", exposure.paper.to_string()),
    ];
    values.extend(FoundLight::parse_words(&exposure.light_typed).map(light_values).into_iter().flatten());
    values.extend(aim_values(exposure.aimed()));
    values.extend(result_values(exposure.judgement));
    Form::filled(frame, exposure.version, values)
}

fn correct_page(
    frame: Frame,
    seen: &Seen,
    who: Actor,
    (form, films): (Form, &[(String, String)]),
    taking_back: Option<Form>,
) -> Page<impl Template> {
    let path = path_of(seen.exposure.id, who);
    let (action, back) = match who {
        Actor::Staff(_) => (path, (landing(seen, who), "Filled cards of the session".to_owned())),
        _ => (format!("{path}/correct"), (path, format!("Sheet {}", seen.exposure.number))),
    };
    Page::new(CorrectPage {
        number: seen.exposure.number,
        back,
        action,
        light: LightFields::of(&form, seen.place.is_some()),
        aim: AimFields::of(&form),
        taken_back: taken_back_words(&seen.exposure, &seen.zone),
        path: path_of(seen.exposure.id, who),
        staff: matches!(who, Actor::Staff(_)),
        plain: taking_back.unwrap_or_else(|| Form::filled(&frame, seen.exposure.version, [])).prefixed("back"),
        result: ResultFields::short(&form),
        trays: seen.uses_trays.then(|| through_choices(&form)),
        film: seen.camera.holds_film().then(|| form.select("film", "Film in the camera", films)),
        form,
        frame,
    })
}

/// The page that shows what was saved.
fn landing(seen: &Seen, who: Actor) -> String {
    match who {
        Actor::Staff(_) => format!("/front/sessions/{}/filled-cards", seen.session.id),
        _ => path_of(seen.exposure.id, who),
    }
}

async fn save_by(
    state: &AppState,
    frame: Frame,
    who: Actor,
    id: ExposureId,
    posted: &Posted,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let seen = find_seen(&mut conn, id, who).await?.ok_or(WebError::NotFound("this sheet"))?;
    let films = film_choices(&mut conn, "choose").await?;
    drop(conn);
    let film: Option<PaperId> = posted.get("film").parse().ok();
    let (holds_film, uses_trays) = (seen.camera.holds_film(), seen.uses_trays);
    let told = told(posted, &seen, who);
    let (ids, at, version, landing) = (TrayIds::mint(state), posted.at(), posted.version(), landing(&seen, who));
    let (session, site, zone) = (seen.session.clone(), seen.site, seen.zone.clone());
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            // refused only here, so that a form sent twice is answered by its receipt first
            let told = told?;
            let stored = changeable(tx, id, who).await?;
            let mut exposure = corrected(&stored, &told);
            if holds_film && film != Some(stored.paper) {
                exposure.correct_loaded(&offered_film(tx, "film", film).await?);
            }
            if stored.version != version {
                let developed_at = sheet_runs::find_of(tx, SheetOf::Negative(id)).await?.map(|run| run.developed_at);
                let fields = both_versions(&exposure, told.developed_at, &stored, developed_at, &zone);
                return Err(stale(&stored, who, fields));
            }
            if let Actor::Student(_) = who {
                let before = sheet_runs::find_of(tx, SheetOf::Negative(id)).await?.is_some();
                judged_when_developed(uses_trays, &stored, before, &told)?;
            }
            exposures::update(tx, &exposure).await?;
            let through = Through::of_exposure(site, &session, &exposure);
            through.settle(tx, who, told.developed_at, ids, at).await?;
            note(tx, at, who, "sheet corrected", &exposure).await?;
            Ok(landing)
        })
    });
    match written.await {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => {
            let form = Form::refused(posted, errors);
            Ok(correct_page(frame, &seen, who, (form, &films), None).unprocessable().into_response())
        }
        Err(error) => Err(WebError::from_write(error, posted)),
    }
}

/// The page again, when staff could not take the sheet back.
pub async fn refuse_taking_back(
    state: &AppState,
    frame: Frame,
    who: Actor,
    id: ExposureId,
    posted: &Posted,
    errors: FieldErrors,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let seen = find_seen(&mut conn, id, who).await?.ok_or(WebError::NotFound("this sheet"))?;
    let (form, films) = (filled(&frame, &seen), film_choices(&mut conn, "choose").await?);
    let page = correct_page(frame, &seen, who, (form, &films), Some(Form::refused(posted, errors)));
    Ok(page.unprocessable().into_response())
}

fn told(posted: &Posted, seen: &Seen, who: Actor) -> Result<Told, FieldErrors> {
    let told = read(posted, &seen.against(who), posted.at())?;
    if told.developed_at.is_some() && !seen.uses_trays {
        return Err(FieldErrors::whole("this sheet does not go through the trays of this session"));
    }
    Ok(told)
}

/// A correction must not leave a sheet judged that never saw a tray. One that came so from a card typed in by
/// staff may stay as it is.
fn judged_when_developed(
    uses_trays: bool,
    stored: &Exposure,
    developed_before: bool,
    told: &Told,
) -> Result<(), FieldErrors> {
    let needs = |judgement: Option<Judgement>| judgement.is_some_and(|judgement| judgement.needs_trays());
    let stood_so = needs(stored.judgement) && !developed_before;
    if uses_trays && told.developed_at.is_none() && needs(told.judgement) && !stood_so {
        return Err(FieldErrors::one("verdict", SHOWS_NOTHING_YET));
    }
    Ok(())
}

/// The sheet with what was told. A judgement that says the same keeps its time.
fn corrected(stored: &Exposure, told: &Told) -> Exposure {
    let mut exposure = stored.clone();
    if stored.light_typed != told.light.in_words() {
        exposure.correct_light(told.light);
    }
    if stored.aim != told.aim.words() {
        exposure.correct_aim(told.aim);
    }
    exposure.made_ms = told.made_ms;
    exposure.made_at = told.made_at;
    exposure.sheet = told.sheet.clone();
    exposure.remark = told.remark.clone();
    exposure.judgement = told.judgement.map(|mut judgement| {
        if let Some(before) = stored.judgement.filter(|before| {
            (before.verdict, before.result, before.fault, before.sign)
                == (judgement.verdict, judgement.result, judgement.fault, judgement.sign)
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
        of("Sheet", &|exposure| exposure.sheet.in_words()),
        of("Light as found", &|exposure| exposure.light_typed.clone()),
        of("Exposed for", &|exposure| exposure.aimed().spot().label()),
        of("How it came out", &result_words),
        ("Through the trays".to_owned(), trays(sent_developed_at), trays(stored_developed_at)),
        of("Remark", &|exposure| exposure.remark.clone()),
    ]
}
