//! The roster of a section: one line at a time here, a whole file in `import`.

mod import;

use askama::Template;
use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};
use sqlx::SqliteConnection;
use unicode_normalization::UnicodeNormalization;

use crate::{
    domain::{
        field_errors::FieldErrors,
        ids::{SectionId, StudentId},
        people::{
            roster::{self, LONGEST_EMAIL, LONGEST_NAME, LONGEST_NUMBER},
            student::Student,
        },
    },
    store::{
        Stale, WriteError,
        people::{change_log, sections, sign_ins, students},
    },
    web::{
        kit::{
            access::Access,
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

/// The routes of this page.
pub fn routes() -> Vec<Route> {
    let mut routes = vec![
        change("/front/sections/{id}/roster", Access::Instructor, add),
        page("/front/sections/{id}/roster/{student}", Access::Instructor, edit),
        change("/front/sections/{id}/roster/{student}", Access::Instructor, update),
        change("/front/sections/{id}/roster/{student}/strike-off", Access::Instructor, strike_off),
        change("/front/sections/{id}/roster/{student}/put-back", Access::Instructor, put_back),
    ];
    routes.extend(import::routes());
    routes
}

#[derive(Template)]
#[template(path = "front/student_edit.html")]
struct StudentEditPage {
    frame: Frame,
    form: Form,
    section: SectionId,
    section_name: String,
    id: StudentId,
    name: String,
    has_joined: bool,
    struck_off: bool,
}

/// What a person may type of a student.
struct Typed {
    number: String,
    name: String,
    email: String,
}

fn read(posted: &Posted) -> Result<Typed, FieldErrors> {
    let mut r = posted.reader();
    let number = r.text("roster_number", 1..=LONGEST_NUMBER);
    let name = r.text("name", 1..=LONGEST_NAME);
    let email = r.text("email", 0..=LONGEST_EMAIL);
    let email = email.and_then(|email| match roster::checked_email(email) {
        Ok(email) => Some(email),
        Err(message) => {
            r.wrong("email", message);
            None
        }
    });
    // the same name typed and imported must be the same text
    let typed = (|| Some(Typed { number: number?.nfc().collect(), name: name?.nfc().collect(), email: email? }))();
    r.finish(typed)
}

/// Refuses a roster number that somebody else of the section has.
async fn refuse_taken_number(
    tx: &mut SqliteConnection,
    section: SectionId,
    number: &str,
    own: Option<StudentId>,
) -> Result<(), WriteError> {
    match students::find_on_roster(tx, section, number).await? {
        Some(other) if Some(other.id) != own => {
            let message = match other.left_at {
                None => format!("{number} is on the roster already: {}", other.name),
                Some(_) => {
                    format!("{number} belongs to {}, who was struck off: put them back, or take another", other.name)
                }
            };
            Err(FieldErrors::one("roster_number", message).into())
        }
        _ => Ok(()),
    }
}

async fn add(
    State(state): State<AppState>,
    frame: Frame,
    Path(section): Path<SectionId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let typed = match read(&posted) {
        Ok(typed) => typed,
        Err(errors) => return super::sections::show_with(&state, frame, section, Form::refused(&posted, errors)).await,
    };
    let id: StudentId = state.mint();
    let (at, actor) = (posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                sections::find(tx, section).await?.ok_or(WriteError::Missing("this section"))?;
                refuse_taken_number(tx, section, &typed.number, None).await?;
                let student = Student {
                    id,
                    section,
                    roster_number: typed.number,
                    name: typed.name,
                    email: typed.email,
                    walk_in: false,
                    joined_at: None,
                    left_at: None,
                    inches: false,
                    version: 1,
                };
                students::insert(tx, &student, at).await?;
                change_log::insert(tx, at, actor, "put on the roster", "student", id, "").await?;
                Ok(format!("/front/sections/{section}"))
            })
        })
        .await;
    match written {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => {
            super::sections::show_with(&state, frame, section, Form::refused(&posted, errors)).await
        }
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

/// A student of this section, or 404.
async fn find(conn: &mut SqliteConnection, section: SectionId, id: StudentId) -> Result<Student, WebError> {
    let student = students::find(conn, id).await?.filter(|student| student.section == section);
    student.ok_or(WebError::NotFound("this student"))
}

async fn edit_page(
    state: &AppState,
    frame: Frame,
    section: SectionId,
    id: StudentId,
    form: Option<Form>,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let student = find(&mut conn, section, id).await?;
    let section_name = sections::find(&mut conn, section).await?.ok_or(WebError::NotFound("this section"))?.name;
    let refused = form.is_some();
    let form = form.unwrap_or_else(|| {
        Form::filled(
            &frame,
            student.version,
            [
                ("roster_number", student.roster_number.clone()),
                ("name", student.name.clone()),
                ("email", student.email.clone()),
            ],
        )
    });
    let page = Page::new(StudentEditPage {
        frame,
        form,
        section,
        section_name,
        id,
        name: student.name,
        has_joined: student.joined_at.is_some(),
        struck_off: student.left_at.is_some(),
    });
    Ok(if refused { page.unprocessable().into_response() } else { page.into_response() })
}

async fn edit(
    State(state): State<AppState>,
    frame: Frame,
    Path((section, id)): Path<(SectionId, StudentId)>,
) -> Result<Response, WebError> {
    edit_page(&state, frame, section, id, None).await
}

async fn update(
    State(state): State<AppState>,
    frame: Frame,
    Path((section, id)): Path<(SectionId, StudentId)>,
    posted: Posted,
) -> Result<Response, WebError> {
    let typed = match read(&posted) {
        Ok(typed) => typed,
        Err(errors) => return edit_page(&state, frame, section, id, Some(Form::refused(&posted, errors))).await,
    };
    let (at, actor, version) = (posted.at(), posted.actor(), posted.version());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let stored = students::find(tx, id).await?.filter(|student| student.section == section);
                let stored = stored.ok_or(WriteError::Missing("this student"))?;
                let student = Student {
                    roster_number: typed.number,
                    name: typed.name,
                    email: typed.email,
                    version,
                    ..stored.clone()
                };
                if stored.version != version {
                    let path = format!("/front/sections/{section}/roster/{id}");
                    let stale = Stale::between("this student", path, described(&student), described(&stored));
                    return Err(WriteError::Stale(stale));
                }
                refuse_taken_number(tx, section, &student.roster_number, Some(id)).await?;
                students::update(tx, &student).await?;
                change_log::insert(tx, at, actor, "roster line edited", "student", id, "").await?;
                Ok(format!("/front/sections/{section}"))
            })
        })
        .await;
    match written {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => {
            edit_page(&state, frame, section, id, Some(Form::refused(&posted, errors))).await
        }
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

fn described(student: &Student) -> Vec<(&'static str, String)> {
    vec![
        ("Roster number", student.roster_number.clone()),
        ("Name", student.name.clone()),
        ("E-mail", student.email.clone()),
    ]
}

/// Strikes a student off: they cannot come in, their records stay.
async fn strike_off(
    State(state): State<AppState>,
    Path((section, id)): Path<(SectionId, StudentId)>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (at, actor) = (posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let stored = students::find(tx, id).await?.filter(|student| student.section == section);
                let student = stored.ok_or(WriteError::Missing("this student"))?;
                if student.left_at.is_none() {
                    students::update(tx, &Student { left_at: Some(at), ..student }).await?;
                    sign_ins::end_of_student(tx, id, at).await?;
                    change_log::insert(tx, at, actor, "struck off the roster", "student", id, "").await?;
                }
                Ok(format!("/front/sections/{section}"))
            })
        })
        .await;
    written.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}

/// Puts a student who was struck off back on the roster.
async fn put_back(
    State(state): State<AppState>,
    Path((section, id)): Path<(SectionId, StudentId)>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (at, actor) = (posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let stored = students::find(tx, id).await?.filter(|student| student.section == section);
                let student = stored.ok_or(WriteError::Missing("this student"))?;
                if student.left_at.is_some() {
                    students::update(tx, &Student { left_at: None, ..student }).await?;
                    change_log::insert(tx, at, actor, "put back on the roster", "student", id, "").await?;
                }
                Ok(format!("/front/sections/{section}"))
            })
        })
        .await;
    written.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}
