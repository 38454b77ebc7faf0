//! “My usual time”: an instructor who knows a camera and a sky sets the paper's exposure index by it.

use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};
use sqlx::SqliteConnection;

use crate::web::fields::sheet_fields::noting;
use crate::{
    calc::{
        light::{exposure::exposure_time, reciprocity::Reciprocity},
        quantity::{ExposureIndex, FNumber, Seconds},
        working::plain,
    },
    domain::{
        exposure::{
            found_light::FoundLight,
            starting_exposure::{MOST_TEACHING, taught_by},
            sun_found::Whereabouts,
        },
        field_errors::FieldErrors,
        ids::{CameraId, PaperId},
        measure::typed_seconds::{exactly, parse_seconds},
        stock::paper::Paper,
    },
    store::{
        Stale, WriteError,
        camera::{cameras, holes},
        exposure::exposures,
        people::{change_log, sections},
        site::sites,
        stock::papers,
    },
    web::{
        fields::light_fields::read_light,
        kit::{error::WebError, form::Form, frame::Frame, page::see_other, state::AppState},
        request::posted::Posted,
        site_whereabouts,
    },
};

use super::cameras::camera_words;
use super::page::{Refused, page};

/// What an instructor told.
struct Told {
    f_number: FNumber,
    /// The camera in words.
    with: String,
    light: FoundLight,
    made_ms: i64,
}

/// The index with which the formula gives that time: `EI = 100 N² / (2^EV t)`, t without reciprocity.
fn index_of(told: &Told, paper: &Paper, rule: Reciprocity) -> Option<i64> {
    let metered = rule.metered(Seconds::from_millis(told.made_ms));
    let at_one = exposure_time(told.f_number, ExposureIndex::new(1.0).ok()?, told.light.light().ev100);
    let gained = at_one.with_stops(-(paper.lens_free_gain_milli() as f64) / 1000.0);
    let index = ExposureIndex::new(gained.as_s() / metered.as_s()).ok()?;
    Some(((index.as_number() * 1000.0).round() as i64).max(10))
}

/// Sets the index.
pub async fn save(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<PaperId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let here = site_whereabouts(sites::find(&mut conn).await?.as_ref(), posted.at());
    let told = read(&mut conn, &posted, &here).await?;
    drop(conn);
    let (at, actor, version) = (posted.at(), posted.actor(), posted.version());
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            let told = told?;
            let stored = papers::find(tx, id).await?.ok_or(WriteError::Missing("this paper"))?;
            let teaching = exposures::list_teaching(tx, id, MOST_TEACHING).await?;
            let rule = taught_by(&teaching, &stored).rule();
            let Some(index) = index_of(&told, &stored, rule) else {
                let said = "this time would need an exposure index that no paper has: check camera, light and time";
                return Err(FieldErrors::one("made", said).into());
            };
            let from =
                format!("from a usual time: {} with {}, {}", exactly(told.made_ms), told.with, told.light.in_words());
            let paper = Paper { exposure_index_milli: index, index_from: from, version, ..stored.clone() };
            if !papers::update(tx, &paper).await? {
                let words = |paper: &Paper| plain(paper.exposure_index().as_number());
                let path = format!("/front/stockroom/papers/{id}/experience");
                let (sent, stored) = (words(&paper), words(&stored));
                return Err(WriteError::Stale(Stale::between(
                    "this paper",
                    path,
                    vec![("Exposure index", sent)],
                    vec![("Exposure index", stored)],
                )));
            }
            let detail =
                format!("{}: EI {}, {}", paper.name, plain(paper.exposure_index().as_number()), paper.index_from);
            change_log::insert(tx, at, actor, "exposure index set by a usual time", "paper", id, &detail).await?;
            Ok(format!("/front/stockroom/papers/{id}/experience"))
        })
    });
    match written.await {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => {
            let refused = Refused::Usual(Form::refused(&posted, errors));
            Ok(page(&state, frame, id, refused).await?.unprocessable().into_response())
        }
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

async fn read(
    conn: &mut SqliteConnection,
    posted: &Posted,
    here: &Whereabouts,
) -> Result<Result<Told, FieldErrors>, WebError> {
    let mut r = posted.reader();
    let camera = if r.raw("camera").is_empty() {
        r.number("f_number", FNumber::MIN..=FNumber::MAX)
            .and_then(|number| Some((FNumber::new(number).ok()?, format!("f/{}", plain(number)))))
    } else {
        if !r.raw("f_number").is_empty() {
            r.wrong("f_number", "leave it empty when you choose a camera");
        }
        match r.id::<CameraId>("camera") {
            None => None,
            Some(id) => {
                let found = known(conn, id).await?;
                if found.is_none() {
                    r.wrong("camera", "choose one of those offered");
                }
                found
            }
        }
    };
    let light = noting(&mut r, read_light(|name| posted.get(name), here));
    let made_ms = match parse_seconds(posted.get("made")) {
        Ok(time) => Some(Seconds::from(time).as_millis()),
        Err(error) => {
            r.wrong("made", error.to_string());
            None
        }
    };
    Ok(r.finish((|| {
        let (f_number, with) = camera?;
        Some(Told { f_number, with, light: light?, made_ms: made_ms? })
    })()))
}

/// A camera's f-number with its measured hole, and the camera in words.
async fn known(conn: &mut SqliteConnection, id: CameraId) -> Result<Option<(FNumber, String)>, WebError> {
    let Some(camera) = cameras::find(conn, id).await? else { return Ok(None) };
    let Some(hole) = holes::find_latest(conn, id).await? else { return Ok(None) };
    let section = sections::find(conn, camera.section).await?.map_or_else(String::new, |section| section.name);
    Ok(Some((hole.f_number(camera.hole_to_film()), camera_words(&section, &camera, &hole))))
}
