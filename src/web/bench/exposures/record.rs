//! Recording a sheet.

use axum::{
    extract::State,
    response::{IntoResponse, Response},
};

use crate::{
    calc::quantity::Seconds,
    domain::{
        camera::Camera,
        evening::lab_session::LabSession,
        exposure::{
            Judgement, aim::Aim, found_light::FoundLight, new_exposure::NewExposure, sheet_time::not_too_old,
            shown_forecast::shown_for, starting_exposure::StartingExposure, sun_found::Whereabouts,
        },
        field_errors::FieldErrors,
        ids::PersonId,
        instant::Instant,
        measure::typed_seconds::{exactly, parse_seconds},
        people::actor::Actor,
        stock::{paper::Paper, sheet::Sheet},
    },
    store::{self, WriteError, camera::cameras, evening::lab_sessions, people::change_log},
    web::{
        bench::at_hand::{AtHand, Learned},
        fields::{
            aim_fields::{aim_values, read_aim},
            light_fields::{light_values, read_light},
            result_fields::{ResultNames, read_result},
            shown_forecasts::{SHOWN, opened},
        },
        kit::{access::Bench, error::WebError, form::Form, frame::Frame, page::see_other, state::AppState},
        request::posted::{Posted, Reader},
        through_trays::{Through, TrayIds},
    },
};

use super::desk::Desk;

/// What a sheet is read against: its session, its camera, where the site is.
#[derive(Clone, Debug)]
pub struct Against {
    /// Where the site is; the moment is that of the form.
    pub here: Whereabouts,
    /// The session.
    pub session: Option<LabSession>,
    /// The camera.
    pub camera: Option<Camera>,
    /// Whether the camera must have been registered by then; staff type in old cards.
    pub camera_counts: bool,
    /// Whether the form must say if the sheet went through the trays.
    pub asks_trays: bool,
}

/// What a form told of a sheet; also what a correction may change.
#[derive(Clone, Debug)]
pub struct Told {
    /// Where on the film it was exposed for.
    pub aim: Aim,
    /// The light as found.
    pub light: FoundLight,
    /// How long it was open, milliseconds.
    pub made_ms: i64,
    /// When.
    pub made_at: Instant,
    /// Its size.
    pub sheet: Sheet,
    /// When it went through the trays, if it did.
    pub developed_at: Option<Instant>,
    /// How it came out, if somebody looked.
    pub judgement: Option<Judgement>,
    /// Anything else.
    pub remark: String,
}

/// Of a sheet that is judged before its development.
pub const SHOWS_NOTHING_YET: &str = "before the trays a sheet shows nothing: choose “not looked at yet”, or say that it went through; what spoiled it can be said at any time";

/// Reads a sheet from a form. `judged_at` is when a judgement in it was made.
///
/// # Errors
/// A message beside every field that is missing or cannot be.
pub fn read(posted: &Posted, against: &Against, judged_at: Instant) -> Result<Told, FieldErrors> {
    let mut reader = posted.reader();
    let zone = &against.here.zone;
    let made_at = moment(&mut reader, "made_at", zone, posted.at());
    if let (Some(made_at), Some(session)) = (made_at, &against.session) {
        let camera = against.camera.as_ref().filter(|_| against.camera_counts);
        if let Err(error) = not_too_old(made_at, session, camera, zone) {
            reader.wrong("made_at", error.to_string());
        }
    }
    // the sun as it stood when the shutter was open
    let here = against.here.at(made_at.unwrap_or_else(|| posted.at()));
    let light = noting(&mut reader, read_light(|name| posted.get(name), &here));
    let aim = match &against.camera {
        Some(camera) => noting(&mut reader, read_aim(|name| posted.get(name), &camera.body)),
        None => Some(Aim::MIDDLE),
    };
    let made_ms = match parse_seconds(posted.get("made")) {
        Ok(time) => Some(Seconds::from(time).as_millis()),
        Err(error) => {
            reader.wrong("made", error.to_string());
            None
        }
    };
    let sheet = match Sheet::parse(posted.get("sheet")) {
        Ok(sheet) => Some(sheet),
        Err(error) => {
            reader.wrong("sheet", error.to_string());
            None
        }
    };
    let developed_at = read_developed(&mut reader, posted, zone, made_at, against.asks_trays);
    let judgement = read_result(&mut reader, posted, &ResultNames::plain(), judged_at);
    if let (true, Some(None), Some(Some(judged))) = (against.asks_trays, developed_at, judgement)
        && judged.needs_trays()
    {
        reader.wrong("verdict", SHOWS_NOTHING_YET);
    }
    let remark = reader.text("remark", 0..=500);
    reader.finish((|| {
        Some(Told {
            aim: aim?,
            light: light?,
            made_ms: made_ms?,
            made_at: made_at?,
            sheet: sheet?,
            developed_at: developed_at?,
            judgement: judgement?,
            remark: remark?,
        })
    })())
}

/// Takes over the messages of a part that was read on its own.
pub fn noting<T>(reader: &mut Reader<'_>, part: Result<T, FieldErrors>) -> Option<T> {
    part.map_err(|errors| {
        for (field, message) in errors.iter() {
            reader.wrong(field, message);
        }
    })
    .ok()
}

/// A date and time that is past.
pub fn moment(reader: &mut Reader<'_>, field: &str, zone: &jiff::tz::TimeZone, now: Instant) -> Option<Instant> {
    let at = reader.local_time(field, zone)?;
    if at > now {
        reader.wrong(field, format!("lies ahead: it is {} now", now.as_words(zone)));
        return None;
    }
    Some(at)
}

/// `Some(None)` while the sheet has not gone through the trays. Where it `must_say`, no answer is refused: nothing
/// is booked that nobody said.
pub fn read_developed(
    reader: &mut Reader<'_>,
    posted: &Posted,
    zone: &jiff::tz::TimeZone,
    made_at: Option<Instant>,
    must_say: bool,
) -> Option<Option<Instant>> {
    if must_say && posted.get("developed").trim().is_empty() {
        reader.wrong("developed", "say whether it went through: nothing is counted in the trays before you do");
        return None;
    }
    if matches!(posted.get("developed").trim(), "" | "no") {
        return Some(None);
    }
    let at = moment(reader, "developed_at", zone, posted.at())?;
    if made_at.is_some_and(|made_at| at < made_at) {
        reader.wrong("developed_at", "lies before the exposure");
        return None;
    }
    Some(Some(at))
}

/// Records a sheet with the forecast for the light as found.
pub async fn record(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    posted: Posted,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let at_hand = AtHand::load(&mut conn, &bench).await?;
    let learned = at_hand.learned(&mut conn).await?;
    drop(conn);
    let site = at_hand.site;
    let prepared = prepare(&state, &bench, &posted, at_hand, learned);
    let (ids, actor, student, at) = (TrayIds::mint(&state), bench.actor(), bench.student, posted.at());
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            // refused only here, so that a form sent twice is answered by its receipt first
            let Prepared { new, camera, session, paper, start, developed_at } = prepared?;
            let session = lab_sessions::find(tx, session.id).await?.ok_or(WriteError::Missing("the session"))?;
            if !session.state.is_open() {
                return Err(FieldErrors::whole(CLOSED).into());
            }
            let held = cameras::find_of_student(tx, student).await?;
            if held.is_none_or(|held| held.id != camera.id) {
                return Err(FieldErrors::whole("the camera is no longer yours: look at your camera first").into());
            }
            let number = store::exposure::exposures::next_number(tx, session.section).await?;
            let exposure = new.recorded(number, &camera, &session, &paper, &start);
            store::exposure::exposures::insert(tx, &exposure).await?;
            let through = Through::of_exposure(site, &session, &exposure);
            through.settle(tx, actor, developed_at, ids, at).await?;
            note(tx, at, actor, "sheet recorded", &exposure).await?;
            Ok(format!("/bench/exposures/{}", exposure.id))
        })
    });
    match written.await {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => refuse(&state, frame, &bench, &posted, errors).await,
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

/// Of a sheet that a student records too late.
pub const CLOSED: &str = "the session is closed: ask your instructor to type in your card";

/// A sheet with its forecast, ready to be stored.
struct Prepared {
    new: NewExposure,
    camera: Camera,
    session: LabSession,
    paper: Paper,
    start: StartingExposure,
    developed_at: Option<Instant>,
}

/// Reads the form against what the student has at hand, and works out the forecast.
fn prepare(
    state: &AppState,
    bench: &Bench,
    posted: &Posted,
    at_hand: AtHand,
    learned: Option<Learned>,
) -> Result<Prepared, FieldErrors> {
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
    let AtHand { evening: Some((session, _)), camera: Some(camera), hole, loaded, .. } = at_hand else {
        return Err(FieldErrors::whole("register your camera and ask for a session to be opened first"));
    };
    let Some(paper) = loaded else {
        return Err(FieldErrors::whole("say first which film is in the camera: its speed counts, not the paper’s"));
    };
    let (Some(hole), Some(learned)) = (hole, learned) else {
        return Err(FieldErrors::whole("measure the hole first: the record keeps its f-number"));
    };
    let shown = opened(posted.get(SHOWN), camera.id, &state.pepper);
    let start = learned.start_for(told.light.light(), told.aim);
    let new = NewExposure {
        id: state.mint(),
        hole: hole.id,
        student: Some(bench.student),
        sheet: told.sheet,
        shown: shown_for(shown, told.light, told.aim),
        light: told.light,
        demonstration: false,
        made_ms: told.made_ms,
        made_at: told.made_at,
        judgement: told.judgement,
        remark: told.remark,
        recorded_by: PersonId::from(bench.student),
        recorded_at: posted.at(),
    };
    Ok(Prepared { new, camera, session, paper, start, developed_at: told.developed_at })
}

/// Adds a line to the change log: `sheet 3, 12 s`.
///
/// # Errors
/// When the database cannot be used.
pub async fn note(
    tx: &mut sqlx::SqliteConnection,
    at: Instant,
    actor: Actor,
    what: &str,
    exposure: &crate::domain::exposure::Exposure,
) -> Result<(), store::Error> {
    let detail = format!("sheet {}, {}", exposure.number, exactly(exposure.made_ms));
    change_log::insert(tx, at, actor, what, "exposure", exposure.id, &detail).await
}

/// The page again, with what was typed and what is wrong with it.
async fn refuse(
    state: &AppState,
    frame: Frame,
    bench: &Bench,
    posted: &Posted,
    errors: FieldErrors,
) -> Result<Response, WebError> {
    let at_hand = AtHand::load(&mut *state.store.read().await?, bench).await?;
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
