//! `/front/sessions/{id}/filled-cards/camera`: a camera that so far stands on a card only. It is registered
//! as its makers would have done it at the bench, and gets the number that the card lacks.

use askama::Template;
use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};
use sqlx::SqliteConnection;

use crate::lab::camera::registering::{self, Registered};
use crate::{
    calc::{
        quantity::{Bounded, HoleToFilm},
        working::figures,
    },
    domain::{
        camera::{
            Camera,
            hole::Hole,
            target::{HoleFormula, Target},
        },
        evening::lab_session::LabSession,
        field_errors::FieldErrors,
        ids::{CameraId, HoleId, LabSessionId, PersonId, StudentId},
        instant::Instant,
        measure::length::LengthUnit,
        people::{actor::Actor, student::Student},
    },
    store::{
        WriteError,
        camera::{cameras, holes},
        evening::lab_sessions,
        people::{change_log, students},
    },
    web::{
        fields::{
            camera_fields as dimensions,
            camera_fields::Dimensions,
            hole_fields as measured,
            hole_fields::{Measured, READINGS},
        },
        kit::{
            access::Staff,
            error::WebError,
            form::{Control, Form},
            frame::Frame,
            page::{Page, see_other},
            state::AppState,
        },
        request::posted::Posted,
    },
};

/// The field with whose camera it is, once for each student ticked.
const WHOSE: &str = "whose";
/// The field with what becomes of the camera that one of them has already.
const OTHER: &str = "other";

/// What becomes of the camera that a student has already.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Other {
    /// They put it down for the one of the card, as at the bench.
    PutDown,
    /// They keep it: the card is of a camera they had before.
    Kept,
}

impl Other {
    const ALL: [Self; 2] = [Self::PutDown, Self::Kept];

    fn as_str(self) -> &'static str {
        match self {
            Self::PutDown => "put-down",
            Self::Kept => "kept",
        }
    }

    fn words(self) -> &'static str {
        match self {
            Self::PutDown => "puts that one down and has the one on the card from now on; records stay",
            Self::Kept => "keeps that one: the one on the card is a camera they had before",
        }
    }

    fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|other| other.as_str() == word)
    }
}

/// The form.
#[derive(Template)]
#[template(path = "front/filled_cards_camera.html")]
struct CardCameraPage {
    frame: Frame,
    id: LabSessionId,
    title: String,
    form: Form,
    choices: Vec<(String, String)>,
    unit: &'static str,
    distance_hint: &'static str,
    inside_hint: &'static str,
    roster: Vec<RosterLine>,
    whose_error: String,
    /// Asked where anybody has a camera.
    other: Option<Control>,
}

/// A student who may share the camera.
struct RosterLine {
    id: StudentId,
    roster_number: String,
    name: String,
    /// The number of the camera they have now.
    has: Option<i64>,
    chosen: bool,
}

/// The empty form.
pub async fn show(
    State(state): State<AppState>,
    frame: Frame,
    _staff: Staff,
    Path(id): Path<LabSessionId>,
) -> Result<Response, WebError> {
    let form = Form::filled(&frame, 0, [("instrument", measured::usual_instrument(LengthUnit::Millimetre))]);
    Ok(page(&state, frame, id, form).await?.into_response())
}

async fn page(state: &AppState, frame: Frame, id: LabSessionId, form: Form) -> Result<Page<impl Template>, WebError> {
    let mut conn = state.store.read().await?;
    let session = lab_sessions::find(&mut conn, id).await?.ok_or(WebError::NotFound("this session"))?;
    let mut roster = Vec::new();
    for Student { id, roster_number, name, .. } in students::list(&mut conn, session.section).await? {
        let has = cameras::find_of_student(&mut conn, id).await?.map(|camera| camera.number);
        let chosen = form.holds(WHOSE, &id.to_string());
        roster.push(RosterLine { id, roster_number, name, has, chosen });
    }
    let others = Other::ALL.map(|other| (other.as_str().to_owned(), other.words().to_owned()));
    Ok(Page::new(CardCameraPage {
        id,
        title: session.title,
        choices: dimensions::choices(),
        unit: LengthUnit::Millimetre.sign(),
        distance_hint: "for a box, an end-hole can or a body cap: from the hole straight to the film",
        inside_hint: "for a can with the hole in its side",
        whose_error: form.error(WHOSE).to_owned(),
        other: roster.iter().any(|line| line.has.is_some()).then(|| {
            form.radio(OTHER, "Whoever has another camera now", &others)
                .hint("only needed when one of those ticked has one")
                .optional()
        }),
        roster,
        form,
        frame,
    }))
}

/// What the card says of a camera.
struct OnCard {
    dimensions: Dimensions,
    hole: Option<Measured>,
    whose: Vec<StudentId>,
    other: Option<Other>,
}

/// Reads dimensions, hole and students together, so that all of their mistakes show at once.
fn read(posted: &Posted) -> Result<OnCard, FieldErrors> {
    let mut errors = FieldErrors::none();
    let dimensions = noted(&mut errors, dimensions::read(posted, LengthUnit::Millimetre));
    // a hole beside dimensions that are wrong is read for any camera
    let length = dimensions.as_ref().map(|read| read.body.hole_to_film());
    let length = length.map_or_else(|| HoleToFilm::bounded(HoleToFilm::MAX), Ok);
    let length = length.map_err(|error| FieldErrors::whole(error.to_string()));
    let given = READINGS.iter().any(|field| !posted.get(field).trim().is_empty());
    let hole = given.then(|| length.and_then(|length| measured::read(posted, LengthUnit::Millimetre, length)));
    let hole = noted(&mut errors, hole.transpose());
    let whose: Option<Vec<StudentId>> = posted.all(WHOSE).map(|id| id.parse().ok()).collect();
    match &whose {
        None => errors.add(WHOSE, "choose among those offered"),
        Some(whose) if whose.is_empty() => errors.add(WHOSE, "tick everybody whose camera it is"),
        Some(_) => {}
    }
    let other = match posted.get(OTHER).trim() {
        "" => None,
        word => {
            let read = Other::from_word(word);
            if read.is_none() {
                errors.add(OTHER, "choose one of those offered");
            }
            read
        }
    };
    match (dimensions, hole, whose) {
        (Some(dimensions), Some(hole), Some(whose)) if errors.is_empty() => {
            Ok(OnCard { dimensions, hole, whose, other })
        }
        _ => Err(errors),
    }
}

/// A part that was read on its own, or its messages beside those of the others.
fn noted<T>(errors: &mut FieldErrors, part: Result<T, FieldErrors>) -> Option<T> {
    part.map_err(|wrong| wrong.iter().for_each(|(field, message)| errors.add(field, message))).ok()
}

/// Registers the camera of a card for those who made it.
pub async fn register(
    State(state): State<AppState>,
    frame: Frame,
    staff: Staff,
    Path(id): Path<LabSessionId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (read, sent) = (read(&posted), posted.clone());
    let new = New {
        camera: state.mint(),
        hole: state.mint(),
        actor: staff.actor(),
        by: PersonId::from(staff.account),
        at: posted.at(),
    };
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            // refused only here, so that a form sent twice is answered by its receipt first
            let on_card = read?;
            let session = lab_sessions::find(tx, id).await?.ok_or(WriteError::Missing("this session"))?;
            let camera = registered(tx, &session, &sent, on_card, new).await?;
            Ok(format!("/front/sessions/{id}/filled-cards?registered={}", camera.number))
        })
    });
    match written.await {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => {
            let form = Form::refused(&posted, errors);
            Ok(page(&state, frame, id, form).await?.unprocessable().into_response())
        }
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

/// The ids of what is registered, by whom and when.
#[derive(Clone, Copy)]
struct New {
    camera: CameraId,
    hole: HoleId,
    actor: Actor,
    by: PersonId,
    at: Instant,
}

async fn registered(
    tx: &mut SqliteConnection,
    session: &LabSession,
    posted: &Posted,
    on_card: OnCard,
    new: New,
) -> Result<Camera, WriteError> {
    let OnCard { dimensions, hole, whose, other } = on_card;
    let makers = makers(tx, session, &whose, other).await?;
    let New { at, actor, .. } = new;
    let new_camera = dimensions.camera(new.camera, session.section);
    let camera = registering::register(tx, new_camera, Registered::FromCard, actor, at).await?;
    let number = camera.number;
    for (student, has) in makers {
        match (has, other) {
            (Some(has), Some(Other::Kept)) => {
                cameras::insert_put_down(tx, camera.id, student.id, at).await?;
                let detail = format!("camera {number}; keeps camera {has}");
                change_log::insert(tx, at, actor, "earlier camera noted", "student", student.id, &detail).await?;
            }
            (has, _) => {
                cameras::insert_holder(tx, camera.id, student.id, at).await?;
                let before = has.map_or_else(|| "none".to_owned(), |number| number.to_string());
                let detail = format!("camera {before} to {number}");
                change_log::insert(tx, at, actor, "student moved", "student", student.id, &detail).await?;
            }
        }
    }
    if let Some(Measured { measurement, plate, remark }) = hole {
        let formula = HoleFormula::of(session).map_err(|error| FieldErrors::whole(error.to_string()))?;
        let target = Target::of(&camera, formula).hole;
        measured::ask_back(posted, measurement.result().diameter, target, LengthUnit::Millimetre)?;
        let hole = Hole {
            id: new.hole,
            camera: camera.id,
            measurement,
            plate,
            remark,
            measured_at: at,
            recorded_by: new.by,
            version: 1,
        };
        holes::insert(tx, &hole).await?;
        let detail = format!("camera {number}, {} mm", figures(hole.diameter().as_mm(), 3));
        change_log::insert(tx, at, actor, "hole recorded", "hole", hole.id, &detail).await?;
    }
    Ok(camera)
}

/// Those ticked, each with the number of the camera they have now. Nobody's camera is put down unless
/// that was said.
async fn makers(
    tx: &mut SqliteConnection,
    session: &LabSession,
    whose: &[StudentId],
    other: Option<Other>,
) -> Result<Vec<(Student, Option<i64>)>, WriteError> {
    let mut makers: Vec<(Student, Option<i64>)> = Vec::new();
    for id in whose {
        let student = students::find(tx, *id).await?;
        let student = student.filter(|student| student.section == session.section && student.left_at.is_none());
        let student = student.ok_or_else(|| FieldErrors::one(WHOSE, "choose among those offered"))?;
        if makers.iter().any(|(known, _)| known.id == student.id) {
            continue;
        }
        let has = cameras::find_of_student(tx, student.id).await?.map(|camera| camera.number);
        makers.push((student, has));
    }
    let busy: Vec<String> = makers
        .iter()
        .filter_map(|(student, has)| Some(format!("{} has camera {}", student.roster_number, (*has)?)))
        .collect();
    if !busy.is_empty() && other.is_none() {
        let message = format!("{}: say which of the two cameras is theirs now", busy.join(", "));
        return Err(FieldErrors::one(OTHER, message).into());
    }
    Ok(makers)
}
