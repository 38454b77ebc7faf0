//! What staff saw with their own eyes: which holes are round, who took part in the clean-up. One
//! page for the section, so that it is ticked off in one go.

use askama::Template;
use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};
use sqlx::SqliteConnection;

use crate::{
    domain::{
        evening::lab_session::LabSession,
        field_errors::FieldErrors,
        ids::{HoleId, LabSessionId, PersonId, StudentId},
    },
    store::{
        self, WriteError,
        camera::{cameras, holes},
        evening::lab_sessions,
        marking::{marks, seen},
        people::change_log,
    },
    web::{
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

#[derive(Template)]
#[template(path = "front/seen.html")]
struct SeenPage {
    frame: Frame,
    session: LabSession,
    form: Form,
    holes: Vec<HoleLine>,
    people: Vec<PersonLine>,
}

/// A camera's newest hole.
struct HoleLine {
    whose: Vec<String>,
    hole: String,
    hidden: (String, &'static str),
    control: Control,
}

/// A student at the clean-up.
struct PersonLine {
    name: String,
    hidden: (String, &'static str),
    control: Control,
}

/// Everything that can be noted, as it is stored.
struct Noted {
    holes: Vec<HoleNoted>,
    people: Vec<PersonNoted>,
}

struct HoleNoted {
    camera: i64,
    whose: Vec<String>,
    id: HoleId,
    words: String,
    round: Option<bool>,
}

struct PersonNoted {
    id: StudentId,
    name: String,
    number: String,
    took_part: Option<bool>,
}

impl Noted {
    async fn load(conn: &mut SqliteConnection, session: &LabSession) -> Result<Self, store::Error> {
        let mut found = Vec::new();
        for camera in cameras::list_of_section(conn, session.section).await? {
            let holders = cameras::students_of(conn, camera.id).await?;
            let Some(hole) = holes::find_latest(conn, camera.id).await? else { continue };
            if holders.is_empty() {
                continue;
            }
            let words = format!(
                "{}, readings differ by {:.0} %",
                hole.measurement.diameter(),
                hole.measurement.result().ovalness * 100.0
            );
            let round = seen::find_roundness(conn, hole.id).await?;
            let whose = holders.into_iter().map(|it| it.name).collect();
            found.push(HoleNoted { camera: camera.number, whose, id: hole.id, words, round });
        }
        let noted = seen::list_clean_up(conn, session.id).await?;
        let people = marks::list_students(conn, session.id).await?;
        let people = people.into_iter().map(|it| PersonNoted {
            took_part: noted.get(&it.student).copied(),
            id: it.student,
            name: it.name,
            number: it.roster_number,
        });
        Ok(Self { holes: found, people: people.collect() })
    }
}

fn hole_field(hole: HoleId) -> String {
    format!("round-{hole}")
}

fn person_field(student: StudentId) -> String {
    format!("clean-{student}")
}

fn word(noted: Option<bool>) -> &'static str {
    match noted {
        None => "",
        Some(true) => "yes",
        Some(false) => "no",
    }
}

fn from_word(word: &str) -> Option<Option<bool>> {
    match word {
        "" => Some(None),
        "yes" => Some(Some(true)),
        "no" => Some(Some(false)),
        _ => None,
    }
}

pub(super) async fn show(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<LabSessionId>,
) -> Result<Response, WebError> {
    Ok(Page::new(seen_page(&state, frame, id, None).await?).into_response())
}

async fn seen_page(
    state: &AppState,
    frame: Frame,
    id: LabSessionId,
    refused: Option<Form>,
) -> Result<SeenPage, WebError> {
    let mut conn = state.store.read().await?;
    let session = lab_sessions::find(&mut conn, id).await?.ok_or(WebError::NotFound("that session"))?;
    let noted = Noted::load(&mut conn, &session).await?;
    let form = refused.unwrap_or_else(|| {
        let holes = noted.holes.iter().map(|it| (hole_field(it.id), word(it.round).to_owned()));
        let people = noted.people.iter().map(|it| (person_field(it.id), word(it.took_part).to_owned()));
        let values: Vec<(String, String)> = holes.chain(people).collect();
        Form::filled(&frame, 0, values.iter().map(|(name, value)| (name.as_str(), value.clone())))
    });
    let options = |yes: &str, no: &str| {
        [("", "not noted"), ("yes", yes), ("no", no)].map(|(value, words)| (value.to_owned(), words.to_owned()))
    };
    let (round, clean) = (options("round", "not round"), options("took part", "was not there"));
    let holes = noted
        .holes
        .into_iter()
        .map(|it| HoleLine {
            control: form.select(&hole_field(it.id), &format!("Hole of camera {}", it.camera), &round).short(),
            hidden: (format!("had-{}", hole_field(it.id)), word(it.round)),
            whose: it.whose,
            hole: it.words,
        })
        .collect();
    let people = noted
        .people
        .into_iter()
        .map(|it| PersonLine {
            control: form.select(&person_field(it.id), &format!("Clean-up, number {}", it.number), &clean).short(),
            hidden: (format!("had-{}", person_field(it.id)), word(it.took_part)),
            name: it.name,
        })
        .collect();
    Ok(SeenPage { frame, session, form, holes, people })
}

pub(super) async fn save(
    State(state): State<AppState>,
    frame: Frame,
    staff: Staff,
    Path(id): Path<LabSessionId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (form, by, at) = (posted.clone(), PersonId::from(staff.account), posted.at());
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            let session = lab_sessions::find(tx, id).await?.ok_or(WriteError::Missing("that session"))?;
            let noted = Noted::load(tx, &session).await?;
            let mut errors = FieldErrors::none();
            // what was left as it was shown is left to whoever changed it meanwhile
            let mut asked = |field: &str| {
                let (sent, had) = (form.get(field), form.get(&format!("had-{field}")));
                let there = form.fields().iter().any(|(name, _)| name == field);
                if !there || sent == had {
                    return None;
                }
                let read = from_word(sent);
                if read.is_none() {
                    errors.add(field, "choose one of those offered");
                }
                read
            };
            let holes: Vec<_> = noted.holes.iter().filter_map(|it| Some((it.id, asked(&hole_field(it.id))?))).collect();
            let people: Vec<_> =
                noted.people.iter().filter_map(|it| Some((it.id, asked(&person_field(it.id))?))).collect();
            if !errors.is_empty() {
                return Err(errors.into());
            }
            let detail = format!("{}: {} holes, {} people", session.title, holes.len(), people.len());
            for (hole, round) in holes {
                seen::put_roundness(tx, hole, round, by, at).await?;
            }
            for (student, took_part) in people {
                seen::put_clean_up(tx, id, student, took_part, by, at).await?;
            }
            change_log::insert(tx, at, form.actor(), "noted what staff saw", "lab_session", id, &detail).await?;
            Ok(format!("/front/sessions/{id}/seen"))
        })
    });
    match written.await {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => {
            let page = seen_page(&state, frame, id, Some(Form::refused(&posted, errors))).await?;
            Ok(Page::new(page).unprocessable().into_response())
        }
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}
