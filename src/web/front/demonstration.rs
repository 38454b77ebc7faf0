//! `/front/sessions/{id}/demonstration`: the front bench's own camera, and the sheet that staff make to
//! show how it is done. It counts as an observation like any other, often the first.

use askama::Template;
use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};
use sqlx::SqliteConnection;

use crate::lab::camera::registering::{self, Registered};
use crate::lab::exposure::{
    film,
    recording::{Prepared, Ready, Recording},
    told::Against,
    words::result_words,
};
use crate::web::fields::through_choices::through_choices;
use crate::web::{
    fields::{film_choices::film_choices, sheet_fields::read},
    kit::sentences::sentences,
};
use crate::{
    calc::{
        light::sky::{Sky, SunFrom},
        working::figures,
    },
    domain::{
        camera::{
            Camera,
            hole::{Hole, Measurement},
        },
        evening::lab_session::LabSession,
        exposure::Exposure,
        field_errors::FieldErrors,
        ids::{CameraId, HoleId, LabSessionId, PaperId, PersonId},
        measure::length::LengthUnit,
        site::Site,
        stock::paper::{Paper, PaperKind},
    },
    lab::{baths::through_trays::TrayIds, exposure::at_hand::Learned},
    store::{
        Error, WriteError,
        camera::{cameras, films, holes},
        evening::lab_sessions,
        exposure::exposures,
        site::sites,
        stock::papers,
    },
    web::{
        fields::{
            aim_fields::AimFields,
            camera_fields as dimensions,
            camera_fields::{Dimensions, choices},
            hole_fields as measured,
            light_fields::LightFields,
            result_fields::ResultFields,
        },
        kit::{
            access::{Access, Staff},
            error::WebError,
            form::{Control, Form},
            frame::Frame,
            page::{Page, see_other},
            routes::{Route, change, page},
            state::AppState,
        },
        request::{posted::Posted, takes::Takes},
        site_whereabouts,
    },
};

/// The routes of this page.
pub fn routes() -> Vec<Route> {
    vec![
        page("/front/sessions/{id}/demonstration", Access::Staff, show),
        change("/front/sessions/{id}/demonstration", Access::Staff, record).taking(Takes::PILE),
        change("/front/sessions/{id}/demonstration/camera", Access::Staff, register),
    ]
}

#[derive(Template)]
#[template(path = "front/demonstration.html")]
struct DemonstrationPage {
    frame: Frame,
    id: LabSessionId,
    title: String,
    paper: String,
    cameras: Vec<CameraLine>,
    sheets: Vec<(String, String)>,
    form: Form,
    camera: Control,
    film: Control,
    light: LightFields,
    aim: AimFields,
    result: ResultFields,
    trays: Option<Control>,
    new_camera: Form,
    builds: Vec<(String, String)>,
}

/// A camera with what it would start with.
struct CameraLine {
    words: String,
    time: String,
    pieces: String,
    /// What has to be said beside the times.
    notes: String,
}

/// What the page stands on.
struct Around {
    session: LabSession,
    paper: Paper,
    site: Option<Site>,
    /// The section's cameras with a measured hole; those of the front bench, which nobody holds, first.
    cameras: Vec<(Camera, Hole, bool)>,
}

impl Around {
    async fn load(conn: &mut SqliteConnection, id: LabSessionId) -> Result<Option<Self>, Error> {
        let Some(session) = lab_sessions::find(conn, id).await? else { return Ok(None) };
        let Some(paper) = papers::find(conn, session.paper).await? else { return Ok(None) };
        let held = cameras::list_holders(conn, session.section).await?;
        let mut with_holes = Vec::new();
        for camera in cameras::list_of_section(conn, session.section).await? {
            if let Some(hole) = holes::find_latest(conn, camera.id).await? {
                let is_held = held.iter().any(|(known, _)| *known == camera.id);
                with_holes.push((camera, hole, is_held));
            }
        }
        with_holes.sort_by_key(|(camera, _, is_held)| (*is_held, camera.number));
        Ok(Some(Self { session, paper, site: sites::find(conn).await?, cameras: with_holes }))
    }

    fn uses_trays(&self) -> bool {
        self.session.tray_line.is_some() && self.paper.kind == PaperKind::Paper
    }
}

/// The page.
async fn show(
    State(state): State<AppState>,
    frame: Frame,
    _staff: Staff,
    Path(id): Path<LabSessionId>,
) -> Result<Response, WebError> {
    Ok(demonstration_page(&state, frame, id, None, None).await?.into_response())
}

async fn demonstration_page(
    state: &AppState,
    frame: Frame,
    id: LabSessionId,
    recording: Option<Form>,
    new_camera: Option<Form>,
) -> Result<Page<impl Template>, WebError> {
    let mut conn = state.store.read().await?;
    let around = Around::load(&mut conn, id).await?.ok_or(WebError::NotFound("this session"))?;
    let zone = around.site.as_ref().map_or(jiff::tz::TimeZone::UTC, |site| site.zone.clone());
    let mut lines = Vec::new();
    for (camera, hole, _) in around.cameras.iter().filter(|(_, _, is_held)| !is_held) {
        let Some(loaded) = films::find_loaded(&mut conn, &around.paper, camera).await? else {
            let time = "say which film is in it".to_owned();
            lines.push(CameraLine { words: words(camera, hole), time, pieces: String::new(), notes: String::new() });
            continue;
        };
        let learned = Learned::load(&mut conn, &around.session, &loaded, camera, Some(hole)).await?;
        let forecast = learned.start(Sky::FullSun.light(SunFrom::Front)).forecast;
        lines.push(CameraLine {
            words: words(camera, hole),
            pieces: forecast.bracket.iter().map(|time| time.text.clone()).collect::<Vec<_>>().join(" · "),
            notes: sentences(&forecast.notes()),
            time: forecast.practical.text,
        });
    }
    let sheets = exposures::list_of_session(&mut conn, id).await?;
    let form = recording.unwrap_or_else(|| {
        let now = state.now().as_local_control(&zone);
        let mine = around.cameras.first().filter(|(_, _, is_held)| !is_held);
        let values = vec![
            ("camera", mine.map_or_else(String::new, |(camera, _, _)| camera.id.to_string())),
            ("made_at", now.clone()),
            ("sheet", "4x5in".to_owned()),
            ("developed_at", now),
        ];
        Form::filled(&frame, 0, values)
    });
    let form = form.prefixed("record");
    let mut offered = vec![(String::new(), "choose".to_owned())];
    offered.extend(around.cameras.iter().map(|(camera, hole, is_held)| {
        let whose = if *is_held { "students’" } else { "front bench" };
        (camera.id.to_string(), format!("{}, {whose}", words(camera, hole)))
    }));
    let new_camera = new_camera.unwrap_or_else(|| {
        Form::filled(&frame, 0, [("instrument", measured::usual_instrument(LengthUnit::Millimetre))])
    });
    Ok(Page::new(DemonstrationPage {
        id,
        title: around.session.title.clone(),
        paper: around.paper.name.clone(),
        cameras: lines,
        sheets: sheets.iter().filter(|sheet| sheet.demonstration).map(sheet_line).collect(),
        camera: form.select("camera", "Camera", &offered),
        film: form
            .select("film", "Film in it", &film_choices(&mut conn, "as before, or none: it holds paper").await?)
            .hint("only for a body cap: its film’s speed counts, not the paper’s")
            .optional(),
        light: LightFields::of(&form, around.site.as_ref().is_some_and(|site| site.position.is_some())),
        aim: AimFields::of(&form),
        result: ResultFields::short(&form),
        trays: around.uses_trays().then(|| through_choices(&form)),
        form,
        new_camera: new_camera.prefixed("camera"),
        builds: choices(),
        frame,
    }))
}

fn words(camera: &Camera, hole: &Hole) -> String {
    let f_number = figures(hole.f_number(camera.hole_to_film()).as_number(), 3);
    format!("camera {}, {}, f/{f_number}", camera.number, camera.build().as_str())
}

/// Path and words of a demonstration sheet.
fn sheet_line(exposure: &Exposure) -> (String, String) {
    let made = crate::domain::measure::typed_seconds::exactly(exposure.made_ms);
    let words = format!("Sheet {}: {made}, {}, {}", exposure.number, exposure.light_typed, result_words(exposure));
    (format!("/front/exposures/{}", exposure.id), words)
}

/// Registers the front bench's own camera with its hole. No student holds it.
async fn register(
    State(state): State<AppState>,
    frame: Frame,
    staff: Staff,
    Path(id): Path<LabSessionId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let session = lab_sessions::find(&mut *state.store.read().await?, id).await?;
    let session = session.ok_or(WebError::NotFound("this session"))?;
    let read = read_camera(&posted);
    let (camera_id, hole_id) = (state.mint::<CameraId>(), state.mint::<HoleId>());
    let (at, actor, by) = (posted.at(), staff.actor(), staff.account);
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            // refused only here, so that a form sent twice is answered by its receipt first
            let (dimensions, measurement) = read?;
            let dimensions = Dimensions { remark: "of the front bench".to_owned(), ..dimensions };
            let new = dimensions.camera(camera_id, session.section);
            registering::register(tx, new, Registered::AtFrontBench, actor, at).await?;
            let hole = Hole {
                id: hole_id,
                camera: camera_id,
                measurement,
                plate: None,
                remark: String::new(),
                measured_at: at,
                recorded_by: by.into(),
                version: 1,
            };
            holes::insert(tx, &hole).await?;
            Ok(format!("/front/sessions/{id}/demonstration"))
        })
    });
    match written.await {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => {
            let form = Form::refused(&posted, errors);
            Ok(demonstration_page(&state, frame, id, None, Some(form)).await?.unprocessable().into_response())
        }
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

/// Dimensions and hole together; a camera without a hole would make no sheet.
fn read_camera(posted: &Posted) -> Result<(Dimensions, Measurement), FieldErrors> {
    let dimensions = dimensions::read(posted, LengthUnit::Millimetre);
    let length = dimensions.as_ref().ok().map(|read| read.body.hole_to_film());
    // without a length any hole is read, so that its own mistakes show as well
    let measured = match length {
        Some(length) => measured::read(posted, LengthUnit::Millimetre, length),
        None => crate::calc::quantity::HoleToFilm::new(crate::calc::quantity::HoleToFilm::MAX)
            .map_err(|error| FieldErrors::whole(error.to_string()))
            .and_then(|length| measured::read(posted, LengthUnit::Millimetre, length)),
    };
    match (dimensions, measured) {
        (Ok(dimensions), Ok(measured)) => Ok((dimensions, measured.measurement)),
        (dimensions, measured) => {
            let mut errors = FieldErrors::none();
            for wrong in [dimensions.err(), measured.err()].into_iter().flatten() {
                wrong.iter().for_each(|(field, message)| errors.add(field, message));
            }
            Err(errors)
        }
    }
}

/// Records a demonstration sheet.
async fn record(
    State(state): State<AppState>,
    frame: Frame,
    staff: Staff,
    Path(id): Path<LabSessionId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let around = Around::load(&mut conn, id).await?.ok_or(WebError::NotFound("this session"))?;
    let prepared = prepare(&state, &mut conn, &around, &staff, &posted).await?;
    drop(conn);
    let (ids, at, actor) = (TrayIds::mint(&state.world), posted.at(), staff.actor());
    let by = PersonId::from(staff.account);
    let session = around.session.clone();
    let site = around.site.as_ref().map(|site| site.id);
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            let (sheet, film) = prepared?;
            if let Some(film) = film {
                films::put_in(tx, sheet.camera(), film, at, by).await?;
            }
            sheet.store(tx, &session, site, (actor, "demonstration sheet recorded"), ids).await?;
            Ok(format!("/front/sessions/{id}/demonstration"))
        })
    });
    match written.await {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => {
            let form = Form::refused(&posted, errors);
            Ok(demonstration_page(&state, frame, id, Some(form), None).await?.unprocessable().into_response())
        }
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

/// The sheet, and the film that was put in for it.
type PreparedSheet = (Prepared, Option<PaperId>);

/// Reads the form and works out the forecast, before the write.
async fn prepare(
    state: &AppState,
    conn: &mut SqliteConnection,
    around: &Around,
    staff: &Staff,
    posted: &Posted,
) -> Result<Result<PreparedSheet, FieldErrors>, WebError> {
    let chosen: Option<CameraId> = posted.get("camera").parse().ok();
    let camera = around.cameras.iter().find(|(camera, _, _)| Some(camera.id) == chosen);
    let against = Against {
        here: site_whereabouts(around.site.as_ref(), posted.at()),
        // made beforehand as often as not
        session: None,
        camera: camera.map(|(camera, _, _)| camera.clone()),
        camera_counts: false,
        asks_trays: around.uses_trays() && camera.is_some_and(|(camera, _, _)| camera.uses_trays()),
    };
    let told = match (read(posted, &against, posted.at()), camera) {
        (Ok(told), Some(camera)) => (told, camera),
        (told, camera) => {
            let mut errors = told.err().unwrap_or_else(FieldErrors::none);
            if camera.is_none() {
                errors.add("camera", "choose one of those offered");
            }
            return Ok(Err(errors));
        }
    };
    let (told, (camera, hole, _)) = told;
    if told.developed_at.is_some() && !(around.uses_trays() && camera.uses_trays()) {
        return Ok(Err(FieldErrors::one("developed", "this sheet does not go through the trays of this session")));
    }
    let (loaded, put_in) = match loaded_with(conn, around, camera, posted).await? {
        Ok(loaded) => loaded,
        Err(errors) => return Ok(Err(errors)),
    };
    let learned = Learned::load(conn, &around.session, &loaded, camera, Some(hole)).await?;
    let ready = Ready { session: around.session.clone(), camera: camera.clone(), hole: hole.id, learned };
    let by = PersonId::from(staff.account);
    let recording = Recording { id: state.mint(), student: None, shown: Vec::new(), by, at: posted.at() };
    Ok(Ok((ready.prepare(told, recording), put_in)))
}

/// What the camera is loaded with, and the film that the form puts in.
async fn loaded_with(
    conn: &mut SqliteConnection,
    around: &Around,
    camera: &Camera,
    posted: &Posted,
) -> Result<Result<(Paper, Option<PaperId>), FieldErrors>, WebError> {
    let sent = posted.get("film").trim();
    if sent.is_empty() {
        let loaded = films::find_loaded(conn, &around.paper, camera).await?;
        let missing = || FieldErrors::one("film", "say which film is in this camera");
        return Ok(loaded.map(|loaded| (loaded, None)).ok_or_else(missing));
    }
    if !camera.holds_film() {
        return Ok(Err(FieldErrors::one("film", "this camera holds paper: leave it empty")));
    }
    match film::find_offered(conn, "film", sent.parse().ok()).await {
        Ok(film) => Ok(Ok((film.clone(), Some(film.id)))),
        Err(WriteError::Refused(errors)) => Ok(Err(errors)),
        Err(error) => Err(WebError::from_write(error, posted)),
    }
}
