//! Pictures in a report: chosen by the student, each of one of their sheets or of anything else.

use axum::{
    extract::{FromRequestParts, Path, State},
    http::request::Parts,
    response::{IntoResponse, Response},
};

use crate::web::kit::picture::served;
use crate::{
    domain::{
        exposure::Exposure,
        field_errors::FieldErrors,
        ids::{ExposureId, LabSessionId, PictureId},
        marking::report::{MOST_PICTURES, Report, ReportPicture, ReportState},
    },
    store::{
        WriteError,
        exposure::exposures,
        marking::{report_pictures, reports},
        people::change_log,
    },
    web::{
        kit::{
            access::{Access, Bench},
            error::WebError,
            form::{Control, Form},
            frame::Frame,
            page::see_other,
            routes::{Route, change},
            slow_work::Turn,
            state::AppState,
        },
        request::{pictures, posted::Posted, takes::Takes},
    },
};

use super::{Refused, known, report_page, said};

/// The longest words beside a picture, in characters.
const LONGEST_CAPTION: usize = 200;

/// The route that takes a picture: the only one that takes so much at once.
pub(super) fn adding() -> Route {
    change("/bench/report/{session}/pictures", Access::Bench, add).taking(Takes::PICTURE)
}

/// A picture on the page.
pub(super) struct Shown {
    pub id: PictureId,
    pub path: String,
    pub words: String,
    pub width: i64,
    pub height: i64,
}

impl Shown {
    pub fn of(session: LabSessionId, picture: &ReportPicture) -> Self {
        Self {
            id: picture.id,
            path: format!("/bench/report/{session}/pictures/{}", picture.id),
            words: picture.in_words(),
            width: picture.width_px,
            height: picture.height_px,
        }
    }
}

/// The form that takes one.
pub(super) struct Adding {
    pub form: Form,
    pub file: Control,
    pub sheet: Control,
    pub caption: Control,
}

impl Adding {
    pub fn of(frame: &Frame, refused: Option<Form>, sheets: &[&Exposure]) -> Self {
        let form = refused.unwrap_or_else(|| Form::empty(frame)).prefixed("picture");
        let other = (String::new(), "something else".to_owned());
        let of_sheet = |sheet: &&Exposure| (sheet.id.to_string(), format!("sheet {}", sheet.number));
        let options: Vec<_> = sheets.iter().map(of_sheet).chain([other]).collect();
        Self {
            file: form
                .file("file", "Picture")
                .hint("JPEG or PNG; it is made smaller and stored without place, time or device")
                .attribute("accept", "image/jpeg,image/png"),
            sheet: form.select("sheet", "It shows", &options),
            caption: form.text("caption", "What is to be seen").hint("a line of words; no names of people").optional(),
            form,
        }
    }
}

/// A turn to send a picture, waited for before its bytes are read: however many are on their way, memory holds those of a few.
struct MayUpload(Turn);

impl FromRequestParts<AppState> for MayUpload {
    type Rejection = WebError;
    async fn from_request_parts(parts: &mut Parts, state: &AppState) -> Result<Self, WebError> {
        let bench = Bench::from_request_parts(parts, state).await?;
        Ok(Self(state.uploads.turn(&bench.student.to_string()).await?))
    }
}

async fn add(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    Path(session): Path<LabSessionId>,
    MayUpload(turn): MayUpload,
    posted: Posted,
) -> Result<Response, WebError> {
    // decoding is slow: before the write
    let decoded = match posted.picture("file") {
        None => Err("choose a JPEG or PNG".to_owned()),
        Some(bytes) => pictures::kept(bytes, turn).await?.map_err(|error| error.to_string()),
    };
    let (id, fresh, at, actor) = (state.mint(), state.mint(), posted.at(), bench.actor());
    let (who, form) = (bench.clone(), posted.clone());
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            known(tx, session, who.section).await?;
            let mut reader = form.reader();
            let caption = reader.text("caption", 0..=LONGEST_CAPTION);
            let sheet: Option<Option<ExposureId>> =
                if reader.raw("sheet").is_empty() { Some(None) } else { reader.id("sheet").map(Some) };
            let decoded = decoded.map_err(|message| reader.wrong("file", message)).ok();
            if let Some(Some(sheet)) = sheet {
                let own = exposures::list_of_student(tx, who.student).await?;
                if own.iter().all(|exposure| exposure.id != sheet || exposure.session != session) {
                    reader.wrong("sheet", "choose one of those offered");
                }
            }
            let (caption, sheet, picture) = reader.finish((|| Some((caption?, sheet?, decoded?)))())?;
            let report = match reports::find(tx, session, who.student).await? {
                Some(report) => report,
                None => {
                    let (student, state, body) = (who.student, ReportState::Draft, String::new());
                    let begun = Report { id: fresh, session, student, body, state, saved_at: at, version: 0 };
                    reports::insert(tx, &begun).await?;
                    begun
                }
            };
            report.state.rewrite().map_err(said)?;
            report_pictures::usage_of_student(tx, who.student).await?.takes(picture.bytes.len())?;
            if report_pictures::list(tx, report.id).await?.len() >= MOST_PICTURES {
                return Err(FieldErrors::one("file", format!("a report shows at most {MOST_PICTURES} pictures")).into());
            }
            let size = (picture.width, picture.height);
            let kind = picture.media_type;
            report_pictures::insert(tx, id, report.id, sheet, &caption, kind, size, &picture.bytes, at).await?;
            change_log::insert(tx, at, actor, "picture added to the report", "report", report.id, "").await?;
            Ok(format!("/bench/report/{session}"))
        })
    });
    match written.await {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => {
            let refused = Refused { text: None, picture: Some(Form::refused(&posted, errors)) };
            Ok(report_page(&state, frame, &bench, session, refused).await?.unprocessable().into_response())
        }
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

pub(super) async fn remove(
    State(state): State<AppState>,
    bench: Bench,
    Path(session): Path<LabSessionId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (at, actor) = (posted.at(), bench.actor());
    let (student, section, form) = (bench.student, bench.section, posted.clone());
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            known(tx, session, section).await?;
            let picture = form.get("picture").parse().map_err(|_| WriteError::Missing("that picture"))?;
            let report = reports::find(tx, session, student).await?.ok_or(WriteError::Missing("this report"))?;
            report.state.rewrite().map_err(said)?;
            if !report_pictures::delete(tx, report.id, picture).await? {
                return Err(WriteError::Missing("that picture"));
            }
            change_log::insert(tx, at, actor, "picture taken out of the report", "report", report.id, "").await?;
            Ok(format!("/bench/report/{session}"))
        })
    });
    written.await.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}

/// A picture of one's own report.
pub(super) async fn show(
    State(state): State<AppState>,
    bench: Bench,
    Path((session, picture)): Path<(LabSessionId, PictureId)>,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let found = report_pictures::find_bytes(&mut conn, session, bench.student, picture).await?;
    found.map(served).ok_or(WebError::NotFound("that picture"))
}
