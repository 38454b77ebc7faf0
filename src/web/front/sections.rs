//! `/front/sections`: a section with its door code, its roster and its sessions.

use askama::Template;
use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};
use sqlx::SqliteConnection;

use crate::{
    domain::{
        field_errors::FieldErrors,
        ids::{SectionId, SiteId, StudentId},
        people::{door_code, section::Section, student::Student},
    },
    store::{
        Stale, WriteError,
        evening::lab_sessions,
        people::{change_log, sections, students},
        site::sites,
    },
    web::{
        kit::{
            access::{Access, Staff},
            error::WebError,
            form::Form,
            frame::Frame,
            page::{Page, see_other},
            routes::{Route, change, page},
            state::AppState,
        },
        request::posted::Posted,
    },
};

use super::{
    first_steps::{self, FirstSteps},
    home::{SessionLine, people},
};

/// The routes of this page.
pub fn routes() -> Vec<Route> {
    vec![
        page("/front/sections/new", Access::Instructor, new),
        change("/front/sections", Access::Instructor, create),
        page("/front/sections/{id}", Access::Staff, show),
        page("/front/sections/{id}/edit", Access::Instructor, edit),
        change("/front/sections/{id}", Access::Instructor, update),
    ]
}

#[derive(Template)]
#[template(path = "front/section.html")]
struct SectionPage {
    frame: Frame,
    first_steps: FirstSteps,
    section: Section,
    people: String,
    sessions: Vec<SessionLine>,
    roster: Vec<RosterRow>,
    struck_off: Vec<RosterRow>,
    form: Form,
}

struct RosterRow {
    id: StudentId,
    number: String,
    name: String,
    email: String,
    state: &'static str,
}

impl From<&Student> for RosterRow {
    fn from(student: &Student) -> Self {
        Self {
            id: student.id,
            number: student.roster_number.clone(),
            name: student.name.clone(),
            email: student.email.clone(),
            state: match (student.joined_at.is_some(), student.walk_in) {
                (true, true) => "walk-in, seated",
                (true, false) => "seated",
                (false, true) => "walk-in, not seated",
                (false, false) => "not seated yet",
            },
        }
    }
}

#[derive(Template)]
#[template(path = "front/section_edit.html")]
struct SectionEditPage {
    frame: Frame,
    first_steps: FirstSteps,
    form: Form,
    id: Option<SectionId>,
}

async fn show(
    State(state): State<AppState>,
    frame: Frame,
    _staff: Staff,
    Path(id): Path<SectionId>,
) -> Result<Response, WebError> {
    let form = Form::empty(&frame);
    show_with(&state, frame, id, form).await
}

/// The section's page; also after a refused line of the roster.
pub(super) async fn show_with(state: &AppState, frame: Frame, id: SectionId, form: Form) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let section = sections::find(&mut conn, id).await?.ok_or(WebError::NotFound("this section"))?;
    let first_steps = first_steps::find(&mut conn).await?;
    let sessions = lab_sessions::list(&mut conn, id).await?;
    let everyone = students::list_ever(&mut conn, id).await?;
    let (gone, here): (Vec<&Student>, Vec<&Student>) = everyone.iter().partition(|student| student.left_at.is_some());
    let refused = form.is_refused();
    let page = Page::new(SectionPage {
        first_steps,
        people: people(here.len(), here.iter().filter(|student| student.joined_at.is_some()).count()),
        sessions: sessions.iter().map(SessionLine::from).collect(),
        roster: here.into_iter().map(RosterRow::from).collect(),
        struck_off: gone.into_iter().map(RosterRow::from).collect(),
        section,
        form: form.prefixed("add"),
        frame,
    });
    Ok(if refused { page.unprocessable().into_response() } else { page.into_response() })
}

/// A code that no section has yet.
async fn free_code(state: &AppState, conn: &mut SqliteConnection) -> Result<String, WebError> {
    loop {
        let code = door_code::proposed(|bound| state.world.chance.below(bound));
        if sections::find_by_door_code(conn, &code).await?.is_none() {
            return Ok(code);
        }
    }
}

async fn new(State(state): State<AppState>, frame: Frame) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let first_steps = first_steps::find(&mut conn).await?;
    if sites::find(&mut conn).await?.is_none() {
        return Ok(Page::new(super::home::NothingYet { frame, first_steps }).into_response());
    }
    let form = Form::filled(&frame, 0, [("door_code", free_code(&state, &mut conn).await?)]);
    Ok(Page::new(SectionEditPage { frame, first_steps, form, id: None }).into_response())
}

async fn edit(State(state): State<AppState>, frame: Frame, Path(id): Path<SectionId>) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let section = sections::find(&mut conn, id).await?.ok_or(WebError::NotFound("this section"))?;
    let walk_ins = if section.walk_ins { "yes" } else { "" };
    let form = Form::filled(
        &frame,
        section.version,
        [("name", section.name), ("door_code", section.door_code), ("walk_ins", walk_ins.to_owned())],
    );
    Ok(Page::new(SectionEditPage { frame, first_steps: FirstSteps::default(), form, id: Some(id) }).into_response())
}

fn read(posted: &Posted, id: SectionId, site: SiteId) -> Result<Section, FieldErrors> {
    let mut r = posted.reader();
    let name = r.text("name", 1..=120);
    let door_code = door_code::read(r.raw("door_code"));
    if let Err(message) = &door_code {
        r.wrong("door_code", *message);
    }
    let section = (|| {
        Some(Section {
            id,
            site,
            name: name?,
            door_code: door_code.ok()?,
            walk_ins: posted.ticked("walk_ins"),
            version: posted.version(),
        })
    })();
    r.finish(section)
}

async fn show_form_again(
    state: &AppState,
    frame: Frame,
    posted: &Posted,
    errors: FieldErrors,
    id: Option<SectionId>,
) -> Result<Response, WebError> {
    let first_steps = match id {
        None => first_steps::find(&mut *state.store.read().await?).await?,
        Some(_) => FirstSteps::default(),
    };
    let form = Form::refused(posted, errors);
    Ok(Page::new(SectionEditPage { frame, first_steps, form, id }).unprocessable().into_response())
}

/// Refuses a door code that another section has.
async fn refuse_taken_code(tx: &mut SqliteConnection, section: &Section, free: &str) -> Result<(), WriteError> {
    match sections::find_by_door_code(tx, &section.door_code).await? {
        Some(other) if other.id != section.id => {
            let message = format!("{} is the code of “{}”: take another, such as {free}", other.door_code, other.name);
            Err(FieldErrors::one("door_code", message).into())
        }
        _ => Ok(()),
    }
}

async fn create(State(state): State<AppState>, frame: Frame, posted: Posted) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let site = sites::find(&mut conn).await?.ok_or(WebError::NotFound("the site"))?.id;
    let free = free_code(&state, &mut conn).await?;
    drop(conn);
    let section = match read(&posted, state.mint(), site) {
        Ok(section) => section,
        Err(errors) => return show_form_again(&state, frame, &posted, errors, None).await,
    };
    let (at, actor) = (posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                refuse_taken_code(tx, &section, &free).await?;
                sections::insert(tx, &section, at).await?;
                change_log::insert(tx, at, actor, "section made", "section", section.id, &section.name).await?;
                Ok(format!("/front/sections/{}", section.id))
            })
        })
        .await;
    match written {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => show_form_again(&state, frame, &posted, errors, None).await,
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

async fn update(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<SectionId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let old = sections::find(&mut conn, id).await?.ok_or(WebError::NotFound("this section"))?;
    let free = free_code(&state, &mut conn).await?;
    drop(conn);
    let section = match read(&posted, id, old.site) {
        Ok(section) => section,
        Err(errors) => return show_form_again(&state, frame, &posted, errors, Some(id)).await,
    };
    let (at, actor) = (posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let stored = sections::find(tx, id).await?.ok_or(WriteError::Missing("this section"))?;
                let path = format!("/front/sections/{id}");
                if stored.version != section.version {
                    let stale = Stale::between("this section", path, described(&section), described(&stored));
                    return Err(WriteError::Stale(stale));
                }
                refuse_taken_code(tx, &section, &free).await?;
                sections::update(tx, &section).await?;
                change_log::insert(tx, at, actor, "section edited", "section", id, &section.name).await?;
                Ok(path)
            })
        })
        .await;
    match written {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => show_form_again(&state, frame, &posted, errors, Some(id)).await,
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

fn described(section: &Section) -> Vec<(&'static str, String)> {
    let walk_ins = if section.walk_ins { "may take a seat" } else { "may not take a seat" };
    vec![
        ("Name", section.name.clone()),
        ("Door code", section.door_code.clone()),
        ("People not on the roster", walk_ins.to_owned()),
    ]
}
