//! `/front/sessions/{id}/box`: sheets counted from the box against the sheets recorded.

use askama::Template;
use axum::{
    extract::{Path, State},
    response::Response,
};

use crate::{
    calc::working::figures,
    domain::{
        field_errors::FieldErrors,
        ids::{LabSessionId, PaperId},
        stock::{
            paper::Paper,
            sheet::Sheet,
            sheet_count::{Reconciled, SheetCount, reconciled},
        },
    },
    store::{
        Stale, WriteError,
        evening::lab_sessions,
        people::change_log,
        stock::{papers, sheet_counts},
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

use super::vessel_acts::shown;

/// The routes of this page.
pub fn routes() -> Vec<Route> {
    vec![
        page("/front/sessions/{id}/box", Access::Staff, show),
        change("/front/sessions/{id}/box", Access::Staff, count).taking(Takes::PILE),
    ]
}

#[derive(Template)]
#[template(path = "front/box_counts.html")]
struct BoxPage {
    frame: Frame,
    form: Form,
    id: LabSessionId,
    title: String,
    papers: Vec<(String, String)>,
    counts: Vec<CountLine>,
    verdicts: Vec<Verdict>,
}

struct CountLine {
    paper: String,
    size: String,
    at_start: i64,
    at_end: String,
    taken: String,
    spoilt: i64,
    remark: String,
    /// The form that counts it again, filled.
    again: Form,
    paper_id: PaperId,
}

struct Verdict {
    paper: String,
    recorded: String,
    tag: &'static str,
    state: &'static str,
    words: String,
    /// Where what is missing is recorded; empty when nothing is.
    record: String,
}

async fn show(State(state): State<AppState>, frame: Frame, Path(id): Path<LabSessionId>) -> Result<Response, WebError> {
    show_with(&state, frame, id, None).await
}

async fn show_with(
    state: &AppState,
    frame: Frame,
    id: LabSessionId,
    refused: Option<Form>,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let session = lab_sessions::find(&mut conn, id).await?.ok_or(WebError::NotFound("this session"))?;
    let all = papers::list(&mut conn).await?;
    let counts = sheet_counts::list(&mut conn, id).await?;
    let recorded = sheet_counts::recorded(&mut conn, id).await?;
    let mut named = all.clone();
    for count in &counts {
        if named.iter().all(|paper| paper.id != count.paper) {
            named.extend(papers::find(&mut conn, count.paper).await?);
        }
    }
    let is_refused = refused.is_some();
    let begun = || {
        let begins = [("paper", session.paper.to_string()), ("size", "4x5in".to_owned()), ("spoilt", "0".to_owned())];
        Form::filled(&frame, 0, begins)
    };
    let page = Page::new(BoxPage {
        form: refused.unwrap_or_else(begun),
        id,
        title: session.title.clone(),
        papers: all.iter().map(|paper| (paper.id.to_string(), paper.name.clone())).collect(),
        counts: counts.iter().enumerate().map(|(at, count)| count_line(&frame, at, count, &named)).collect(),
        verdicts: verdicts(id, &counts, &recorded, &named),
        frame,
    });
    Ok(shown(page, is_refused))
}

fn name_of(papers: &[Paper], id: PaperId) -> String {
    papers.iter().find(|paper| paper.id == id).map_or_else(|| "a paper put away".to_owned(), |paper| paper.name.clone())
}

fn count_line(frame: &Frame, at: usize, count: &SheetCount, papers: &[Paper]) -> CountLine {
    let or_not = |number: Option<i64>| number.map_or_else(|| "not yet".to_owned(), |number| number.to_string());
    let values = [
        ("at_start", count.at_start.to_string()),
        ("at_end", count.at_end.map_or(String::new(), |number| number.to_string())),
        ("spoilt", count.spoilt.to_string()),
        ("remark", count.remark.clone()),
    ];
    CountLine {
        paper: name_of(papers, count.paper),
        size: count.size.clone(),
        at_start: count.at_start,
        at_end: or_not(count.at_end),
        taken: or_not(count.taken()),
        spoilt: count.spoilt,
        remark: count.remark.clone(),
        again: Form::filled(frame, count.version, values).prefixed(&format!("again-{at}")),
        paper_id: count.paper,
    }
}

fn verdicts(
    id: LabSessionId,
    counts: &[SheetCount],
    recorded: &[(PaperId, i64, i64)],
    papers: &[Paper],
) -> Vec<Verdict> {
    let mut of_papers: Vec<PaperId> = counts.iter().map(|count| count.paper).collect();
    of_papers.sort_unstable();
    of_papers.dedup();
    of_papers
        .into_iter()
        .map(|paper| {
            let own: Vec<&SheetCount> = counts.iter().filter(|count| count.paper == paper).collect();
            let (sheets, area_mm2) =
                recorded.iter().find(|(of, ..)| *of == paper).map_or((0, 0), |(_, sheets, area)| (*sheets, *area));
            // said in sheets of the first size counted
            let (size, one) = own.first().map_or(("", 1), |count| (count.size.as_str(), count.area_mm2));
            let in_sheets = |mm2: i64| format!("{} sheets of {size}", figures(mm2 as f64 / one as f64, 2));
            let (tag, state, words) = match reconciled(&own, area_mm2) {
                Reconciled::NotCounted => {
                    ("closed", "waiting", "count the box again when the session is over".to_owned())
                }
                Reconciled::Agree => ("use", "agree", "what was taken is recorded".to_owned()),
                Reconciled::Missing(mm2) => (
                    "watch",
                    "missing",
                    format!("{} were taken and are not recorded (strips, failures)", in_sheets(mm2)),
                ),
                Reconciled::TooMuch(mm2) => (
                    "watch",
                    "too much",
                    format!(
                        "{} more are recorded than were taken (count again, or look for a size typed wrongly)",
                        in_sheets(mm2)
                    ),
                ),
            };
            let record = if state == "missing" {
                format!("/front/chemistry/sheets?session={id}&paper={paper}")
            } else {
                String::new()
            };
            Verdict {
                paper: name_of(papers, paper),
                recorded: format!("{sheets} sheets, {} m²", figures(area_mm2 as f64 / 1e6, 3)),
                tag,
                state,
                words,
                record,
            }
        })
        .collect()
}

struct Counted {
    paper: PaperId,
    sheet: Sheet,
    at_start: i64,
    at_end: Option<i64>,
    spoilt: i64,
    remark: String,
}

fn read(posted: &Posted) -> Result<Counted, FieldErrors> {
    let mut r = posted.reader();
    let paper = r.id::<PaperId>("paper");
    let sheet = Sheet::parse(r.raw("size")).map_err(|error| r.wrong("size", error.to_string())).ok();
    let at_start = r.whole("at_start", 0..=100_000);
    let at_end = if r.raw("at_end").is_empty() { Some(None) } else { r.whole("at_end", 0..=100_000).map(Some) };
    let spoilt = r.whole("spoilt", 0..=100_000);
    if let (Some(start), Some(Some(end))) = (at_start, at_end)
        && end > start
    {
        r.wrong("at_end", "must not be more than at the start: count a box that was added as a count of its own");
    }
    if let (Some(start), Some(end), Some(spoilt)) = (at_start, at_end, spoilt)
        && spoilt > start - end.unwrap_or(0)
    {
        r.wrong("spoilt", "must not be more than were taken");
    }
    let remark = r.text("remark", 0..=400);
    r.finish((|| {
        Some(Counted {
            paper: paper?,
            sheet: sheet?,
            at_start: at_start?,
            at_end: at_end?,
            spoilt: spoilt?,
            remark: remark?,
        })
    })())
}

/// A count, or the same paper and size counted again.
async fn count(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<LabSessionId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let counted = match read(&posted) {
        Ok(counted) => counted,
        Err(errors) => return show_with(&state, frame, id, Some(Form::refused(&posted, errors))).await,
    };
    let (new, at, actor, version) = (state.mint(), posted.at(), posted.actor(), posted.version());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                lab_sessions::find(tx, id).await?.ok_or(WriteError::Missing("this session"))?;
                papers::find(tx, counted.paper).await?.ok_or(WriteError::Missing("this paper"))?;
                let counted_by = actor.person().ok_or(WriteError::Forbidden("a count names who counted"))?;
                let size = counted.sheet.typed.clone();
                let stored = sheet_counts::list(tx, id)
                    .await?
                    .into_iter()
                    .find(|count| count.paper == counted.paper && count.size == size);
                let sent = SheetCount {
                    id: stored.as_ref().map_or(new, |count| count.id),
                    session: id,
                    paper: counted.paper,
                    area_mm2: counted.sheet.area_mm2(),
                    size,
                    at_start: counted.at_start,
                    at_end: counted.at_end,
                    spoilt: counted.spoilt,
                    remark: counted.remark,
                    counted_by,
                    counted_at: at,
                    version,
                };
                let path = format!("/front/sessions/{id}/box");
                match stored {
                    None => sheet_counts::insert(tx, &sent).await?,
                    Some(stored) if version == 0 => {
                        let words = format!("{} was counted already: count it again below", stored.size);
                        return Err(FieldErrors::one("size", words).into());
                    }
                    Some(stored) => {
                        if !sheet_counts::update(tx, &sent).await? {
                            let stale = Stale::between("this count", path, described(&sent), described(&stored));
                            return Err(WriteError::Stale(stale));
                        }
                    }
                }
                change_log::insert(tx, at, actor, "sheets counted", "sheet_count", sent.id, &sent.size).await?;
                Ok(path)
            })
        })
        .await;
    match written {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => show_with(&state, frame, id, Some(Form::refused(&posted, errors))).await,
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

fn described(count: &SheetCount) -> Vec<(&'static str, String)> {
    vec![
        ("At the start", count.at_start.to_string()),
        ("At the end", count.at_end.map_or(String::new(), |number| number.to_string())),
        ("Fogged or spoilt", count.spoilt.to_string()),
        ("Remark", count.remark.clone()),
    ]
}
