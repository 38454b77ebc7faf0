//! One print: how it came out, and what was typed of it.

use askama::Template;
use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};
use jiff::tz::TimeZone;
use sqlx::SqliteConnection;

use crate::web::fields::through_choices::through_choices;
use crate::{
    domain::{
        baths::sheet_run::SheetOf,
        evening::lab_session::LabSession,
        exposure::print::{Print, PrintVerdict},
        field_errors::FieldErrors,
        ids::{PrintId, SiteId, StudentId},
        instant::Instant,
        measure::typed_seconds::exactly,
    },
    lab::baths::through_trays::{Through, TrayIds},
    store::{
        self, Stale, WriteError,
        baths::sheet_runs,
        evening::lab_sessions,
        exposure::{exposures, prints},
        marking::reports,
        people::sections,
        site::sites,
    },
    web::{
        kit::{
            access::Bench,
            error::WebError,
            form::Form,
            frame::Frame,
            page::{Page, see_other},
            state::AppState,
        },
        request::posted::Posted,
    },
};

use super::{
    desk::{PrintForm, verdict_options},
    record::{SHOWS_NOTHING_YET, note, read},
};

/// A print a student may see, with what surrounds it.
struct Seen {
    print: Print,
    negative: i64,
    session: LabSession,
    site: SiteId,
    zone: TimeZone,
    developed_at: Option<Instant>,
    marked: bool,
}

async fn find_seen(conn: &mut SqliteConnection, id: PrintId, student: StudentId) -> Result<Option<Seen>, store::Error> {
    let Some(print) = prints::find_of_student(conn, id, student).await? else { return Ok(None) };
    let inconsistent = |column| store::Error::Inconsistent { table: "print", column, id: id.to_string() };
    let session = lab_sessions::find(conn, print.session).await?.ok_or_else(|| inconsistent("lab_session_id"))?;
    let section = sections::find(conn, session.section).await?.ok_or_else(|| inconsistent("lab_session_id"))?;
    let negative = exposures::find(conn, print.exposure).await?.ok_or_else(|| inconsistent("exposure_id"))?;
    let run = sheet_runs::find_of(conn, SheetOf::Print(id)).await?;
    Ok(Some(Seen {
        site: section.site,
        zone: sites::find(conn).await?.map_or(TimeZone::UTC, |site| site.zone),
        negative: negative.number,
        developed_at: run.map(|run| run.developed_at),
        marked: reports::is_marked(conn, print.session, student).await?,
        session,
        print,
    }))
}

#[derive(Template)]
#[template(path = "bench/print.html")]
struct PrintPage {
    frame: Frame,
    path: String,
    negative: i64,
    marked: bool,
    facts: Vec<(&'static str, String)>,
    record: PrintForm,
}

/// The print, with the form to correct it.
pub async fn show(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    Path(id): Path<PrintId>,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let seen = find_seen(&mut conn, id, bench.student).await?.ok_or(WebError::NotFound("this print"))?;
    let form = filled(&frame, &seen);
    Ok(print_page(frame, &seen, form).into_response())
}

fn filled(frame: &Frame, seen: &Seen) -> Form {
    let print = &seen.print;
    let developed_at = seen.developed_at.map(|at| at.as_local_control(&seen.zone));
    Form::filled(
        frame,
        print.version,
        [
            ("made", exactly(print.made_ms)),
            ("made_at", print.made_at.as_local_control(&seen.zone)),
            ("sheet", print.sheet.typed.clone()),
            ("light", print.light.clone()),
            ("verdict", print.verdict.map_or("", PrintVerdict::as_str).to_owned()),
            ("developed", if developed_at.is_some() { "yes" } else { "no" }.to_owned()),
            ("developed_at", developed_at.unwrap_or_default()),
            ("remark", print.remark.clone()),
        ],
    )
}

fn print_page(frame: Frame, seen: &Seen, form: Form) -> Page<impl Template> {
    Page::new(PrintPage {
        path: format!("/bench/prints/{}", seen.print.id),
        negative: seen.negative,
        marked: seen.marked,
        facts: lines(&seen.print, seen.developed_at, &seen.zone),
        record: PrintForm {
            trays: seen.session.tray_line.is_some().then(|| through_choices(&form)),
            form,
            negatives: Vec::new(),
            papers: Vec::new(),
            verdicts: verdict_options(),
        },
        frame,
    })
}

/// A print in words, line by line: the facts of its page, and the two versions of a conflict.
fn lines(print: &Print, developed_at: Option<Instant>, zone: &TimeZone) -> Vec<(&'static str, String)> {
    vec![
        ("Lit for", exactly(print.made_ms)),
        ("When", print.made_at.as_words(zone)),
        ("Sheet", print.sheet.in_words()),
        ("Light", print.light.clone()),
        ("How it came out", print.verdict.map_or("not looked at yet", PrintVerdict::as_str).to_owned()),
        ("Through the trays", developed_at.map_or_else(|| "no".to_owned(), |at| at.as_words(zone))),
        ("Remark", print.remark.clone()),
    ]
}

/// Saves the print as corrected.
pub async fn save(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    Path(id): Path<PrintId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let seen = find_seen(&mut conn, id, bench.student).await?.ok_or(WebError::NotFound("this print"))?;
    drop(conn);
    let refuse =
        |frame, errors| print_page(frame, &seen, Form::refused(&posted, errors)).unprocessable().into_response();
    let mut reader = posted.reader();
    let told = read(&mut reader, &posted, &seen.zone, false);
    if told.as_ref().is_some_and(|told| told.developed_at.is_some()) && seen.session.tray_line.is_none() {
        reader.wrong("developed", "this session has no trays");
    }
    let told = match reader.finish(told) {
        Ok(told) => told,
        Err(errors) => return Ok(refuse(frame, errors)),
    };
    let (ids, actor, student, at, version) =
        (TrayIds::mint(&state.world), bench.actor(), bench.student, posted.at(), posted.version());
    let (session, site, zone, negative) = (seen.session.clone(), seen.site, seen.zone.clone(), seen.negative);
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            let stored = prints::find_of_student(tx, id, student).await?.ok_or(WriteError::Missing("this print"))?;
            if reports::is_marked(tx, stored.session, student).await? {
                return Err(FieldErrors::whole("marks were given for this session: ask your instructor").into());
            }
            let print = Print {
                sheet: told.sheet,
                light: told.light,
                made_ms: told.made_ms,
                made_at: told.made_at,
                verdict: told.verdict,
                remark: told.remark,
                ..stored.clone()
            };
            if stored.version != version {
                let run = sheet_runs::find_of(tx, SheetOf::Print(id)).await?;
                let sent = lines(&print, told.developed_at, &zone);
                let kept = lines(&stored, run.map(|run| run.developed_at), &zone);
                return Err(WriteError::Stale(Box::new(Stale {
                    what: format!("The print of sheet {negative}"),
                    path: format!("/bench/prints/{id}").into(),
                    fields: sent
                        .into_iter()
                        .zip(kept)
                        .map(|((name, sent), (_, kept))| (name.to_owned(), sent, kept))
                        .collect(),
                })));
            }
            if told.developed_at.is_none() && print.verdict.is_some() && session.tray_line.is_some() {
                // one that came to stand so before it was asked may stay as it is
                let booked = sheet_runs::find_of(tx, SheetOf::Print(id)).await?;
                if booked.is_some() || stored.verdict.is_none() {
                    return Err(FieldErrors::one("verdict", SHOWS_NOTHING_YET).into());
                }
            }
            prints::update(tx, &print).await?;
            Through::of_print(site, &session, &print).settle(tx, actor, told.developed_at, ids, at).await?;
            note(tx, at, actor, "print corrected", &print, negative).await?;
            Ok("/bench/prints".to_owned())
        })
    });
    match written.await {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => Ok(refuse(frame, errors)),
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}
