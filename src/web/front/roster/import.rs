//! Bringing in a roster: a file or pasted text, a preview of what it would change, then all of it
//! or nothing.

use std::fmt::Write as _;

use askama::Template;
use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};
use sha2::{Digest, Sha256};
use sqlx::SqliteConnection;

use crate::{
    domain::{
        field_errors::FieldErrors,
        ids::{SectionId, StudentId},
        instant::Instant,
        people::{
            roster::{self, BadLine, Roster, RosterLine},
            roster_effect::{Effect, Planned, compare, with_identifiers},
            section::Section,
            student::Student,
        },
    },
    export::cell::unguard,
    store::{
        self, WriteError,
        people::{change_log, sections, students},
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
        request::{posted::Posted, takes::Takes},
    },
};

pub(super) fn routes() -> Vec<Route> {
    vec![
        page("/front/sections/{id}/roster/import", Access::Instructor, ask),
        change("/front/sections/{id}/roster/preview", Access::Instructor, preview).taking(Takes::TEXT),
        change("/front/sections/{id}/roster/import", Access::Instructor, import).taking(Takes::TEXT),
    ]
}

#[derive(Template)]
#[template(path = "front/roster_import.html")]
struct RosterImportPage {
    frame: Frame,
    form: Form,
    section: Section,
    header: String,
    bad: Vec<BadLine>,
}

#[derive(Template)]
#[template(path = "front/roster_preview.html")]
struct RosterPreviewPage {
    frame: Frame,
    form: Form,
    section: Section,
    /// How the text was read.
    read_as: String,
    /// What would happen, in one sentence.
    summary: String,
    nothing_to_do: bool,
    lines: Vec<PreviewLine>,
    rows: String,
    fingerprint: String,
}

struct PreviewLine {
    line: usize,
    number: String,
    name: String,
    email: String,
    effect: &'static str,
    tag: &'static str,
    before: String,
}

async fn find_section(conn: &mut SqliteConnection, id: SectionId) -> Result<Section, WebError> {
    sections::find(conn, id).await?.ok_or(WebError::NotFound("this section"))
}

async fn ask(State(state): State<AppState>, frame: Frame, Path(id): Path<SectionId>) -> Result<Response, WebError> {
    let section = find_section(&mut *state.store.read().await?, id).await?;
    let form = Form::empty(&frame);
    Ok(ask_page(frame, form, section, Vec::new()).into_response())
}

fn ask_page(frame: Frame, form: Form, section: Section, bad: Vec<BadLine>) -> Page<RosterImportPage> {
    let header = roster::HEADER.join(",");
    Page::new(RosterImportPage { frame, form, section, header, bad })
}

/// The text that was sent, as a file or pasted.
fn sent_text(posted: &Posted) -> Result<String, FieldErrors> {
    let (file, pasted) = (posted.get("file"), posted.get("rows"));
    match (file.trim().is_empty(), pasted.trim().is_empty()) {
        (true, true) => Err(FieldErrors::one("rows", "choose a file or paste the lines of the roster")),
        (false, false) => {
            Err(FieldErrors::one("rows", "send a file or pasted lines, not both: empty this field to send the file"))
        }
        (false, true) => Ok(file.to_owned()),
        (true, false) => Ok(pasted.to_owned()),
    }
}

/// Shows what the roster would change. Nothing is stored.
async fn preview(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<SectionId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let section = find_section(&mut conn, id).await?;
    let text = match sent_text(&posted) {
        Ok(text) => text,
        Err(errors) => {
            let form = Form::refused(&posted, errors);
            return Ok(ask_page(frame, form, section, Vec::new()).unprocessable().into_response());
        }
    };
    match roster::read(&text, unguard) {
        Ok(Roster { lines, read_as }) => {
            let form = Form::empty(&frame);
            let planned = planned(&mut conn, id, lines).await?;
            Ok(preview_page(frame, form, section, (text, read_as), &planned).into_response())
        }
        Err(bad) => {
            // what came in a file is shown in the field, where it can be mended
            let form = Form::filled(&frame, 0, [("rows", text)]);
            Ok(ask_page(frame, form, section, bad).unprocessable().into_response())
        }
    }
}

/// What a roster would change in a section, names, addresses and identifiers alike.
async fn planned(
    conn: &mut SqliteConnection,
    section: SectionId,
    lines: Vec<RosterLine>,
) -> Result<Vec<Planned>, store::Error> {
    let known = students::list_identifiers(conn, section).await?;
    let planned = compare(lines, &students::list_ever(conn, section).await?);
    Ok(with_identifiers(planned, |student| {
        known.get(&student.id).map_or(("", ""), |it| (it.user.as_str(), it.class.as_str()))
    }))
}

fn preview_page(
    frame: Frame,
    form: Form,
    section: Section,
    (rows, read_as): (String, String),
    planned: &[Planned],
) -> Page<RosterPreviewPage> {
    let count = |effect| planned.iter().filter(|planned| planned.effect == effect).count();
    let (added, changed, back, same) =
        (count(Effect::Added), count(Effect::Changed), count(Effect::BackOn), count(Effect::Unchanged));
    Page::new(RosterPreviewPage {
        frame,
        form,
        section,
        read_as,
        summary: format!("{added} added, {changed} changed, {back} put back on, {same} unchanged."),
        nothing_to_do: same == planned.len(),
        lines: planned.iter().map(preview_line).collect(),
        fingerprint: fingerprint(planned),
        rows,
    })
}

fn preview_line(planned: &Planned) -> PreviewLine {
    let after = planned.after();
    let before = match (&planned.before, &after) {
        (Some(before), Some(after)) => {
            let mut words = Vec::new();
            if before.name != after.name {
                words.push(format!("name was {}", before.name));
            }
            if before.email != after.email {
                let old = if before.email.is_empty() { "empty" } else { &before.email };
                words.push(format!("e-mail was {old}"));
            }
            if before.left_at.is_some() {
                words.push("was struck off".to_owned());
            }
            if before.walk_in {
                words.push("was a walk-in".to_owned());
            }
            if words.is_empty() && planned.effect == Effect::Changed {
                words.push("another identifier".to_owned());
            }
            words.join("; ")
        }
        _ => String::new(),
    };
    PreviewLine {
        line: planned.line.line,
        number: planned.line.number.clone(),
        name: planned.line.name.clone(),
        email: after.map_or_else(|| planned.line.email.clone().unwrap_or_default(), |after| after.email),
        effect: planned.effect.as_str(),
        tag: match planned.effect {
            Effect::Added => "use",
            Effect::Changed | Effect::BackOn => "watch",
            Effect::Unchanged => "closed",
        },
        before,
    }
}

/// Stands for a preview: if the roster changes before it is confirmed, this differs.
fn fingerprint(planned: &[Planned]) -> String {
    let mut hasher = Sha256::new();
    for planned in planned {
        hasher.update(format!("{planned:?}\n").as_bytes());
    }
    hasher.finalize().iter().take(12).fold(String::new(), |mut text, byte| {
        let _ = write!(text, "{byte:02x}");
        text
    })
}

/// Takes all of the roster, or nothing.
async fn import(
    State(state): State<AppState>,
    frame: Frame,
    Path(section_id): Path<SectionId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let section = find_section(&mut conn, section_id).await?;
    let text = posted.get("rows").to_owned();
    let Roster { lines, read_as } = match roster::read(&text, unguard) {
        Ok(roster) => roster,
        Err(bad) => {
            let form = Form::filled(&frame, 0, [("rows", text)]);
            return Ok(ask_page(frame, form, section, bad).unprocessable().into_response());
        }
    };
    drop(conn);
    let ids: Vec<StudentId> = lines.iter().map(|_| state.mint()).collect();
    let seen = posted.get("fingerprint").to_owned();
    let (at, actor, rows) = (posted.at(), posted.actor(), lines.clone());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let planned = planned(tx, section_id, rows).await?;
                if fingerprint(&planned) != seen {
                    let words = "the roster was changed after this preview was made: look at it again, then confirm";
                    return Err(FieldErrors::whole(words).into());
                }
                let changed = take(tx, section_id, &planned, ids, at).await?;
                change_log::insert(tx, at, actor, "roster brought in", "section", section_id, &changed).await?;
                Ok(format!("/front/sections/{section_id}"))
            })
        })
        .await;
    match written {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => {
            let planned = planned(&mut *state.store.read().await?, section_id, lines).await?;
            let form = Form::refused(&posted, errors);
            Ok(preview_page(frame, form, section, (text, read_as), &planned).unprocessable().into_response())
        }
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

/// Stores what was planned; gives what was done in words without names.
async fn take(
    tx: &mut SqliteConnection,
    section: SectionId,
    planned: &[Planned],
    ids: Vec<StudentId>,
    at: Instant,
) -> Result<String, store::Error> {
    let (mut added, mut changed) = (0, 0);
    for (planned, id) in planned.iter().zip(ids) {
        match (planned.effect, planned.after()) {
            (Effect::Unchanged, _) => {}
            (_, Some(after)) => {
                students::update(tx, &after).await?;
                put_identifiers(tx, after.id, planned).await?;
                changed += 1;
            }
            (_, None) => {
                let student = Student {
                    id,
                    section,
                    roster_number: planned.line.number.clone(),
                    name: planned.line.name.clone(),
                    email: planned.line.email.clone().unwrap_or_default(),
                    walk_in: false,
                    joined_at: None,
                    left_at: None,
                    inches: false,
                    version: 1,
                };
                students::insert(tx, &student, at).await?;
                put_identifiers(tx, id, planned).await?;
                added += 1;
            }
        }
    }
    Ok(format!("{added} added, {changed} changed"))
}

async fn put_identifiers(tx: &mut SqliteConnection, id: StudentId, planned: &Planned) -> Result<(), store::Error> {
    let line = &planned.line;
    students::put_identifiers(tx, id, line.user_identifier.as_deref(), line.class_identifier.as_deref()).await
}
