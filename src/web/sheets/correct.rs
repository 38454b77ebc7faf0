//! Correcting what was typed of a sheet.

use askama::Template;
use axum::response::{IntoResponse, Response};
use jiff::tz::TimeZone;

use crate::{
    domain::{
        exposure::{Exposure, found_light::FoundLight},
        field_errors::FieldErrors,
        ids::{ExposureId, PaperId},
        measure::typed_seconds::exactly,
        people::actor::Actor,
    },
    lab::{
        baths::through_trays::TrayIds,
        exposure::{
            putting_right::{self, Change},
            seen::{Seen, find_seen},
            told::Told,
        },
    },
    store::WriteError,
    web::{
        fields::{
            aim_fields::{AimFields, aim_values},
            film_choices::film_choices,
            light_fields::{LightFields, light_values},
            result_fields::{ResultFields, result_values},
            sheet_fields::read,
            through_choices::through_choices,
        },
        kit::{
            error::WebError,
            form::{Control, Form},
            frame::Frame,
            page::{Page, see_other},
            state::AppState,
        },
        request::posted::Posted,
    },
};

/// The page of a sheet, for whoever looks at it.
pub fn path_of(id: ExposureId, who: Actor) -> String {
    match who {
        Actor::Staff(_) => format!("/front/exposures/{id}"),
        _ => format!("/bench/exposures/{id}"),
    }
}

/// When and why a sheet was taken back, in words; empty when it counts.
pub fn taken_back_words(exposure: &Exposure, zone: &TimeZone) -> String {
    exposure.taken_back.as_ref().map_or_else(String::new, |taken| {
        format!("Taken back on {}: {}. It counts nowhere; it is kept.", taken.at.as_words(zone), taken.why)
    })
}

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

/// The form, filled with the sheet as it is.
///
/// # Errors
/// Missing when this person may not see it; when the database cannot be used.
pub async fn show_to(state: &AppState, frame: Frame, who: Actor, id: ExposureId) -> Result<Response, WebError> {
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

/// Saves what was corrected.
///
/// # Errors
/// Missing when this person may not see it; whatever the database has against it.
pub async fn save_by(
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
    let told = told(posted, &seen, who);
    let by = Change { who, at: posted.at(), version: posted.version(), ids: TrayIds::mint(&state.world) };
    let (landing, sheet) = (landing(&seen, who), seen.clone());
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            // refused only here, so that a form sent twice is answered by its receipt first
            putting_right::correct(tx, &sheet, &told?, film, by).await?;
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
///
/// # Errors
/// Missing when this person may not see it; when the database cannot be used.
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
