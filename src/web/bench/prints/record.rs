//! Recording a contact print.

use axum::{
    extract::State,
    response::{IntoResponse, Response},
};
use jiff::tz::TimeZone;

use crate::web::fields::sheet_fields::{moment, read_developed};
use crate::{
    calc::quantity::Seconds,
    domain::{
        exposure::print::{Print, PrintVerdict},
        field_errors::FieldErrors,
        ids::{ExposureId, PaperId, PersonId},
        instant::Instant,
        measure::typed_seconds::{exactly, parse_seconds},
        people::actor::Actor,
        stock::sheet::Sheet,
    },
    lab::baths::through_trays::{Through, TrayIds},
    store::{
        self, WriteError,
        evening::lab_sessions,
        exposure::{exposures, prints},
        people::change_log,
    },
    web::{
        kit::{access::Bench, error::WebError, form::Form, frame::Frame, page::see_other, state::AppState},
        request::posted::{Posted, Reader},
    },
};

use super::desk::{Printing, prints_page};

/// What a form told of a print; also what a correction may change.
#[derive(Clone, Debug)]
pub struct Told {
    /// Its size.
    pub sheet: Sheet,
    /// The light it was made by.
    pub light: String,
    /// How long, milliseconds.
    pub made_ms: i64,
    /// When.
    pub made_at: Instant,
    /// When it went through the trays, if it did.
    pub developed_at: Option<Instant>,
    /// How it came out, if somebody looked.
    pub verdict: Option<PrintVerdict>,
    /// Anything else.
    pub remark: String,
}

/// Of a print that is judged before its development.
pub const SHOWS_NOTHING_YET: &str =
    "before the trays a print shows nothing: choose “not looked at yet”, or say that it went through";

/// Reads what may be corrected of a print; `asks_trays` where it must say whether it went through the trays.
pub fn read(reader: &mut Reader<'_>, posted: &Posted, zone: &TimeZone, asks_trays: bool) -> Option<Told> {
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
    let light = reader.text("light", 0..=200);
    let made_at = moment(reader, "made_at", zone, posted.at());
    let developed_at = read_developed(reader, posted, zone, made_at, asks_trays);
    let verdict = match posted.get("verdict").trim() {
        "" => Some(None),
        _ => reader.choice("verdict", PrintVerdict::from_word).map(Some),
    };
    if asks_trays && developed_at == Some(None) && verdict.flatten().is_some() {
        reader.wrong("verdict", SHOWS_NOTHING_YET);
    }
    let remark = reader.text("remark", 0..=500);
    Some(Told {
        sheet: sheet?,
        light: light?,
        made_ms: made_ms?,
        made_at: made_at?,
        developed_at: developed_at?,
        verdict: verdict?,
        remark: remark?,
    })
}

/// Reads a new print: also which negative, and on which paper.
fn read_new(posted: &Posted, printing: &Printing) -> Result<(ExposureId, PaperId, Told), FieldErrors> {
    let mut reader = posted.reader();
    let exposure = reader
        .choice("exposure", |id| id.parse().ok().and_then(|id| printing.negative(id)).map(|exposure| exposure.id));
    if let Some(number) = exposure.and_then(|id| printing.waits_for_trays(id)) {
        let first = format!("sheet {number} has not been through the trays yet: say on its page when it did");
        reader.wrong("exposure", first);
    }
    let paper = reader.choice("paper", |id| id.parse().ok().and_then(|id| printing.paper(id)).map(|paper| paper.id));
    let told = read(&mut reader, posted, &printing.zone, printing.uses_trays());
    if let Some(told) = &told
        && told.developed_at.is_some()
        && !printing.uses_trays()
    {
        reader.wrong("developed", "this session has no trays");
    }
    reader.finish((|| Some((exposure?, paper?, told?)))())
}

/// Records a print.
pub async fn record(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    posted: Posted,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let printing = Printing::load(&mut conn, &bench, state.now()).await?;
    drop(conn);
    let told = read_new(&posted, &printing);
    let (session, site, id) = (printing.session.map(|session| session.id), printing.site, state.mint());
    let (ids, actor, student, at) = (TrayIds::mint(&state.world), bench.actor(), bench.student, posted.at());
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            // refused only here, so that a form sent twice is answered by its receipt first
            let (exposure, paper, told) = told?;
            let closed = || FieldErrors::whole("no session is open: prints are recorded while one is");
            let session = lab_sessions::find(tx, session.ok_or_else(closed)?).await?;
            let session = session.filter(|session| session.state.is_open()).ok_or_else(closed)?;
            let negative = exposures::find_of_student(tx, exposure, student).await?;
            let negative = negative.ok_or(WriteError::Missing("this sheet"))?;
            let print = Print {
                id,
                session: session.id,
                exposure,
                student: Some(student),
                paper,
                sheet: told.sheet,
                light: told.light,
                made_ms: told.made_ms,
                made_at: told.made_at,
                verdict: told.verdict,
                remark: told.remark,
                recorded_by: PersonId::from(student),
                recorded_at: at,
                version: 1,
            };
            prints::insert(tx, &print).await?;
            Through::of_print(site, &session, &print).settle(tx, actor, told.developed_at, ids, at).await?;
            note(tx, at, actor, "print recorded", &print, negative.number).await?;
            Ok("/bench/prints".to_owned())
        })
    });
    match written.await {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => refuse(&state, frame, &bench, &posted, errors).await,
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

/// Adds a line to the change log: `sheet 3, 8 s`.
pub async fn note(
    tx: &mut sqlx::SqliteConnection,
    at: Instant,
    actor: Actor,
    what: &str,
    print: &Print,
    negative: i64,
) -> Result<(), store::Error> {
    let detail = format!("sheet {negative}, {}", exactly(print.made_ms));
    change_log::insert(tx, at, actor, what, "print", print.id, &detail).await
}

async fn refuse(
    state: &AppState,
    frame: Frame,
    bench: &Bench,
    posted: &Posted,
    errors: FieldErrors,
) -> Result<Response, WebError> {
    let form = Form::refused(posted, errors);
    Ok(prints_page(state, frame, bench, Some(form), None).await?.unprocessable().into_response())
}
