//! One student's marks in a session: the form, with the evidence beside it.

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
        ids::{LabSessionId, PersonId, StudentId},
        marking::{
            mark::{MarkSheet, MarkState, Standing, Worth},
            points::Points,
            rubric::{Criterion, Rubric},
        },
    },
    store::{
        WriteError,
        marking::{
            marks::{self, Marked},
            stock_phrases,
        },
        people::{change_log, names as people},
        site::sites,
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

use super::{
    cells::{self, Names},
    evidence::{Evidence, ReportShown},
    session_and_rubric, sheet_path,
};
use crate::lab::marking::{
    cells::Said,
    plan,
    suggestions::{self, Suggestions, gather},
};

#[derive(Template)]
#[template(path = "front/mark_sheet.html")]
struct Sheet {
    frame: Frame,
    session: LabSession,
    student: Marked,
    path: String,
    rubric: Option<Rubric>,
    total: Option<Points>,
    out_of: Points,
    standing: Standing,
    state: MarkState,
    unmarked: usize,
    given_back: String,
    saved: String,
    earlier: Option<(String, String)>,
    later: Option<(String, String)>,
    form: Form,
    give_back: Form,
    rows: Vec<Row>,
    standing_control: Control,
    overall: Control,
    phrase: Option<Control>,
    evidence: Evidence,
}

/// One criterion's controls, with what the page shows now, so that what was not touched is known.
struct Row {
    criterion: Criterion,
    points: Control,
    comment: Control,
    /// Why something else is given than suggested; only where the record suggests something.
    reason: Option<Control>,
    /// Whether the reason is in sight at once: there is one, or one is asked for.
    reason_open: bool,
    /// What the record suggests, and why; empty for a criterion judged by eye.
    suggestion: String,
    evidence: String,
    /// The name of the button that takes the suggestion; empty when there is nothing to take.
    take: String,
}

pub(super) async fn show(
    State(state): State<AppState>,
    frame: Frame,
    staff: Staff,
    Path((session, student)): Path<(LabSessionId, StudentId)>,
) -> Result<Response, WebError> {
    Ok(Page::new(sheet_page(&state, frame, &staff, session, student, None).await?).into_response())
}

async fn sheet_page(
    state: &AppState,
    frame: Frame,
    staff: &Staff,
    session: LabSessionId,
    student: StudentId,
    refused: Option<(&Posted, FieldErrors)>,
) -> Result<Sheet, WebError> {
    let mut conn = state.store.read().await?;
    let (session, rubric) = session_and_rubric(&mut conn, session).await?;
    let students = marks::list_students(&mut conn, session.id).await?;
    let at = students.iter().position(|it| it.student == student).ok_or(WebError::NotFound("that student"))?;
    let neighbour = |at: Option<usize>| {
        at.and_then(|at| students.get(at)).map(|it| (sheet_path(session.id, it.student), it.name.clone()))
    };
    let (earlier, later) = (neighbour(at.checked_sub(1)), neighbour(at.checked_add(1)));
    let sheet = marks::find_sheet(&mut conn, session.id, student).await?;
    let zone = sites::find(&mut conn).await?.map_or(jiff::tz::TimeZone::UTC, |site| site.zone);
    let saved = match sheet.marked_at() {
        None => String::new(),
        Some(at) => format!("Saved {}, {}", at.as_words(&zone), last_marker(&mut conn, &sheet).await?),
    };
    let evidence = Evidence::of(&mut conn, &session, student, &zone).await?;
    let suggestions = match &rubric {
        Some(rubric) => Some(Suggestions::of(rubric, &gather(&mut conn, &session, rubric, student).await?)),
        None => None,
    };
    let form = match refused {
        Some((posted, errors)) => Form::refused(posted, errors),
        None => filled(&frame, &sheet, rubric.as_ref()),
    };
    let criteria = rubric.iter().flat_map(|rubric| rubric.criteria.iter());
    let rows: Vec<Row> = criteria.map(|criterion| Row::of(&form, criterion, suggestions.as_ref())).collect();
    let phrases = stock_phrases::list(&mut conn, staff.account).await?;
    let give_back = Form::empty(&frame);
    let standings = Standing::ALL.map(|it| (it.as_str().to_owned(), it.as_str().to_owned()));
    Ok(Sheet {
        path: sheet_path(session.id, student),
        student: students[at].clone(),
        total: rubric.as_ref().and_then(|rubric| sheet.total(rubric)),
        out_of: rubric.as_ref().map_or(Points::ZERO, |rubric| sheet.out_of(rubric)),
        standing: sheet.standing,
        state: rubric.as_ref().map_or(MarkState::Unmarked, |rubric| sheet.state(rubric)),
        unmarked: rows.iter().filter(|row| sheet.worth(row.criterion.id) == Worth::Open).count(),
        given_back: sheet.given_back_at.map_or_else(String::new, |at| at.as_words(&zone)),
        standing_control: form.select("standing", "Standing", &standings).short(),
        overall: form.area(OVERALL, "Comment on all of it").rows(4).optional(),
        phrase: (!phrases.is_empty()).then(|| phrase_control(&form, &phrases)),
        frame,
        session,
        rubric,
        saved,
        earlier,
        later,
        form,
        give_back,
        rows,
        evidence,
    })
}

/// The marker's own phrases; the one chosen is put at the end of the comment.
fn phrase_control(form: &Form, phrases: &[String]) -> Control {
    let none = (String::new(), "choose one of your phrases".to_owned());
    let options: Vec<_> =
        std::iter::once(none).chain(phrases.iter().map(|words| (words.clone(), words.clone()))).collect();
    form.select("phrase", "Put at the end of the comment", &options).optional()
}

/// Who changed the sheet last.
async fn last_marker(conn: &mut SqliteConnection, sheet: &MarkSheet) -> Result<String, WebError> {
    let names = people::list_names(conn).await?;
    let overall = sheet.commented_at.zip(sheet.commented_by);
    let last = sheet.cells.values().map(|mark| (mark.marked_at, mark.marked_by)).chain(overall).max();
    let name = last.and_then(|(_, by)| names.get(&by).cloned());
    Ok(name.unwrap_or_else(|| "by somebody no longer here".to_owned()))
}

const OVERALL: &str = "overall";
const NAMES: Names = Names(None);

fn filled(frame: &Frame, sheet: &MarkSheet, rubric: Option<&Rubric>) -> Form {
    let standing = sheet.standing.as_str().to_owned();
    let mut values = vec![
        (OVERALL.to_owned(), sheet.comment.clone()),
        ("had-overall".to_owned(), sheet.comment.clone()),
        ("standing".to_owned(), standing.clone()),
        ("had-standing".to_owned(), standing),
        ("seen-overall".to_owned(), sheet.comment_version.to_string()),
    ];
    for criterion in rubric.iter().flat_map(|rubric| rubric.criteria.iter()) {
        let (said, version) = Said::stored(sheet, criterion.id);
        for (name, value) in [("points", said.worth.typed()), ("comment", said.comment), ("reason", said.reason)] {
            values.push((NAMES.of(name, criterion.id), value.clone()));
            values.push((NAMES.of(&format!("had-{name}"), criterion.id), value));
        }
        values.push((NAMES.of("seen", criterion.id), version.to_string()));
    }
    Form::filled(frame, 0, values.iter().map(|(name, value)| (name.as_str(), value.clone())))
}

impl Row {
    fn of(form: &Form, criterion: &Criterion, suggestions: Option<&Suggestions>) -> Self {
        let of = format!("of {}", criterion.max);
        let suggestion = suggestions.and_then(|it| it.find(criterion.id));
        let takeable = suggestions.is_some_and(|it| it.worth(criterion.id).is_some());
        let reason_name = NAMES.of("reason", criterion.id);
        let reason = form.area(&reason_name, "Why something else than suggested");
        Self {
            points: form.number(&NAMES.of("points", criterion.id), "Points").unit(&of).optional(),
            comment: form.area(&NAMES.of("comment", criterion.id), "Comment").rows(2).optional(),
            reason: takeable.then(|| reason.rows(2).optional()),
            reason_open: ![form.value(&reason_name), form.error(&reason_name)].iter().all(|text| text.is_empty()),
            suggestion: suggestion.map_or_else(String::new, suggestions::in_words),
            evidence: suggestion.map_or_else(String::new, |it| it.evidence.clone()),
            take: if takeable { NAMES.of("take", criterion.id) } else { String::new() },
            criterion: criterion.clone(),
        }
    }

    /// What the page had shown and which version that was, as hidden fields.
    fn hidden(&self, form: &Form) -> Vec<(String, String)> {
        let mut names = vec!["seen", "had-points", "had-comment"];
        if self.reason.is_some() {
            names.push("had-reason");
        }
        let field = |name: &str| NAMES.of(name, self.criterion.id);
        names.into_iter().map(|name| (field(name), form.value(&field(name)).to_owned())).collect()
    }
}

pub(super) async fn save(
    State(state): State<AppState>,
    frame: Frame,
    staff: Staff,
    Path((session, student)): Path<(LabSessionId, StudentId)>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (form, by, at) = (posted.clone(), PersonId::from(staff.account), posted.at());
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            let (plan, rubric) = plan::find_to_mark(tx, session).await?;
            if !marks::list_students(tx, session).await?.iter().any(|it| it.student == student) {
                return Err(WriteError::Missing("that student"));
            }
            // read here, against the rubric as it is now: its points may have changed since the page was loaded
            let mut reader = form.reader();
            let said = cells::save(tx, &mut reader, &form, NAMES, &plan, &rubric, student, by).await?;
            let said = reader.finish(said)?;
            if !said.is_empty() {
                let detail = format!("{}: {said}", plan.title);
                change_log::insert(tx, at, form.actor(), "marks entered", "student", student, &detail).await?;
            }
            Ok(sheet_path(session, student))
        })
    });
    match written.await {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => {
            let page = sheet_page(&state, frame, &staff, session, student, Some((&posted, errors))).await?;
            Ok(Page::new(page).unprocessable().into_response())
        }
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}
