//! One student's marks in a session: the form, with the evidence beside it.

use askama::Template;
use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};
use sqlx::SqliteConnection;

use crate::{
    domain::{
        field_errors::FieldErrors,
        ids::{CriterionId, LabSessionId, PersonId, StudentId},
        instant::Instant,
        lab_session::LabSession,
        mark::{CellEdit, Mark, MarkSheet, MarkState, Settled},
        points::Points,
        rubric::{Criterion, Rubric},
    },
    store::{
        Stale, WriteError, change_log, lab_sessions,
        marks::{self, Marked},
        people, rubrics, sites,
    },
    web::{
        access::Staff,
        error::WebError,
        form::{Control, Form},
        frame::Frame,
        page::{Page, see_other},
        posted::{Posted, Reader},
        state::AppState,
    },
};

use super::{
    evidence::{Evidence, ReportShown},
    session_and_rubric, sheet_path,
};

/// The longest comment.
const LONGEST_COMMENT: usize = 4_000;

#[derive(Template)]
#[template(path = "front/mark_sheet.html")]
struct Sheet {
    frame: Frame,
    session: LabSession,
    student: Marked,
    path: String,
    rubric: Option<Rubric>,
    total: Option<Points>,
    state: MarkState,
    unmarked: usize,
    given_back: String,
    saved: String,
    earlier: Option<(String, String)>,
    later: Option<(String, String)>,
    form: Form,
    give_back: Form,
    rows: Vec<Row>,
    overall: Control,
    evidence: Evidence,
}

/// One criterion's controls, with what the page shows now, so that what was not touched is known.
struct Row {
    criterion: Criterion,
    points: Control,
    comment: Control,
}

pub(super) async fn show(
    State(state): State<AppState>,
    frame: Frame,
    Path((session, student)): Path<(LabSessionId, StudentId)>,
) -> Result<Response, WebError> {
    Ok(Page::new(sheet_page(&state, frame, session, student, None).await?).into_response())
}

async fn sheet_page(
    state: &AppState,
    frame: Frame,
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
    let form = match refused {
        Some((posted, errors)) => Form::refused(posted, errors),
        None => filled(&frame, &sheet, rubric.as_ref()),
    };
    let criteria = rubric.iter().flat_map(|rubric| rubric.criteria.iter());
    let rows: Vec<Row> = criteria.map(|criterion| Row::of(&form, criterion)).collect();
    let overall = form.area(OVERALL, "Comment on all of it").rows(4).optional();
    let give_back = Form::empty(&frame);
    Ok(Sheet {
        path: sheet_path(session.id, student),
        student: students[at].clone(),
        total: rubric.as_ref().and_then(|rubric| sheet.total(rubric)),
        state: rubric.as_ref().map_or(MarkState::Unmarked, |rubric| sheet.state(rubric)),
        unmarked: rows.iter().filter(|row| sheet.points(row.criterion.id).is_none()).count(),
        given_back: sheet.given_back_at.map_or_else(String::new, |at| at.as_words(&zone)),
        frame,
        session,
        rubric,
        saved,
        earlier,
        later,
        form,
        give_back,
        rows,
        overall,
        evidence,
    })
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

fn field(name: &str, criterion: CriterionId) -> String {
    format!("{name}-{criterion}")
}

fn filled(frame: &Frame, sheet: &MarkSheet, rubric: Option<&Rubric>) -> Form {
    let mut values = vec![
        (OVERALL.to_owned(), sheet.comment.clone()),
        ("had-overall".to_owned(), sheet.comment.clone()),
        ("seen-overall".to_owned(), sheet.comment_version.to_string()),
    ];
    for criterion in rubric.iter().flat_map(|rubric| rubric.criteria.iter()) {
        let mark = sheet.cells.get(&criterion.id);
        let points = mark.and_then(|mark| mark.points).map_or_else(String::new, |points| points.to_string());
        let comment = mark.map_or_else(String::new, |mark| mark.comment.clone());
        for (name, value) in
            [("points", &points), ("had-points", &points), ("comment", &comment), ("had-comment", &comment)]
        {
            values.push((field(name, criterion.id), value.clone()));
        }
        values.push((field("seen", criterion.id), mark.map_or(0, |mark| mark.version).to_string()));
    }
    Form::filled(frame, 0, values.iter().map(|(name, value)| (name.as_str(), value.clone())))
}

impl Row {
    fn of(form: &Form, criterion: &Criterion) -> Self {
        let of = format!("of {}", criterion.max);
        Self {
            points: form.number(&field("points", criterion.id), "Points").unit(&of).optional(),
            comment: form.area(&field("comment", criterion.id), "Comment").rows(3).optional(),
            criterion: criterion.clone(),
        }
    }

    /// What the page had shown and which version that was, as hidden fields.
    fn hidden(&self, form: &Form) -> Vec<(String, String)> {
        ["seen", "had-points", "had-comment"]
            .map(|name| field(name, self.criterion.id))
            .map(|name| (name.clone(), form.value(&name).to_owned()))
            .to_vec()
    }
}

/// What a criterion's cell says: points and comment.
type Said = (Option<Points>, String);

/// What the form says, read against the rubric.
struct Sent {
    cells: Vec<(Criterion, CellEdit<Said>)>,
    overall: CellEdit<String>,
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
            let plan = lab_sessions::find(tx, session).await?.ok_or(WriteError::Missing("that session"))?;
            let rubric = match plan.rubric {
                Some(rubric) => rubrics::find(tx, rubric).await?,
                None => None,
            };
            let rubric = rubric.ok_or_else(|| FieldErrors::whole("this session has no rubric yet"))?;
            if !marks::list_students(tx, session).await?.iter().any(|it| it.student == student) {
                return Err(WriteError::Missing("that student"));
            }
            // read here, against the rubric as it is now: its points may have changed since the page was loaded
            let sent = read(&form, &rubric)?;
            let stored = marks::find_sheet(tx, session, student).await?;
            let settled = sent.settle(&stored, sheet_path(session, student))?;
            let said = settled.write(tx, session, &stored, by, at).await?;
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
            let page = sheet_page(&state, frame, session, student, Some((&posted, errors))).await?;
            Ok(Page::new(page).unprocessable().into_response())
        }
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

fn read(posted: &Posted, rubric: &Rubric) -> Result<Sent, FieldErrors> {
    let mut reader = posted.reader();
    let cells: Vec<_> = rubric.criteria.iter().filter_map(|it| read_cell(&mut reader, posted, it)).collect();
    let overall = reader.lines(OVERALL, 0..=LONGEST_COMMENT);
    for (name, value) in posted.fields() {
        // a mark for a criterion that is no longer in the rubric must not vanish without a word
        let criterion = name.strip_prefix("points-").and_then(|id| id.parse::<CriterionId>().ok());
        if criterion.is_some_and(|id| rubric.criteria.iter().all(|it| it.id != id)) && !value.trim().is_empty() {
            reader.wrong("", format!("a criterion was taken out of the rubric meanwhile; its “{value}” is not saved"));
        }
    }
    let overall = overall.map(|sent| CellEdit {
        had: posted.get("had-overall").trim().to_owned(),
        sent,
        seen: posted.get("seen-overall").parse().unwrap_or(0),
    });
    reader.finish((|| Some(Sent { cells, overall: overall? }))())
}

fn read_cell(reader: &mut Reader<'_>, posted: &Posted, criterion: &Criterion) -> Option<(Criterion, CellEdit<Said>)> {
    let name = field("points", criterion.id);
    let typed = reader.raw(&name);
    let points = match Points::parse(typed, Points::ZERO, criterion.max) {
        _ if typed.is_empty() => Some(None),
        Ok(points) => Some(Some(points)),
        Err(error) => {
            reader.wrong(&name, error.to_string());
            None
        }
    };
    let comment = reader.lines(&field("comment", criterion.id), 0..=LONGEST_COMMENT);
    let had_points = Points::parse(posted.get(&field("had-points", criterion.id)), Points::ZERO, criterion.max).ok();
    let had_comment = posted.get(&field("had-comment", criterion.id)).trim().to_owned();
    let seen = posted.get(&field("seen", criterion.id)).parse().unwrap_or(0);
    Some((criterion.clone(), CellEdit { had: (had_points, had_comment), sent: (points?, comment?), seen }))
}

/// The cells that are to be written.
struct ToWrite {
    cells: Vec<(Criterion, Said)>,
    overall: Option<String>,
}

fn stored_cell(sheet: &MarkSheet, criterion: CriterionId) -> (Said, i64) {
    sheet
        .cells
        .get(&criterion)
        .map_or(((None, String::new()), 0), |mark| ((mark.points, mark.comment.clone()), mark.version))
}

impl Sent {
    /// Decides for each cell; when one clashes, nothing is written and all that was typed is shown
    /// beside what is stored.
    fn settle(self, stored: &MarkSheet, path: String) -> Result<ToWrite, WriteError> {
        let mut fields = Vec::new();
        let mut clash = false;
        let mut cells = Vec::new();
        for (criterion, edit) in self.cells {
            let (said, version) = stored_cell(stored, criterion.id);
            let settled = edit.settle(&said, version);
            clash |= settled == Settled::Clash;
            if settled != Settled::Leave {
                fields.push((criterion.name.clone(), in_words(&edit.sent), in_words(&said)));
                cells.push((criterion, edit.sent));
            }
        }
        let settled = self.overall.settle(&stored.comment, stored.comment_version);
        clash |= settled == Settled::Clash;
        let overall = (settled != Settled::Leave).then_some(self.overall.sent);
        if let Some(sent) = &overall {
            fields.push(("Comment on all of it".to_owned(), sent.clone(), stored.comment.clone()));
        }
        if clash {
            return Err(WriteError::Stale(Box::new(Stale { what: "A mark of this student".to_owned(), path, fields })));
        }
        Ok(ToWrite { cells, overall })
    }
}

fn in_words((points, comment): &Said) -> String {
    match points {
        Some(points) if comment.is_empty() => format!("{points} points"),
        Some(points) => format!("{points} points. {comment}"),
        None if comment.is_empty() => "no points".to_owned(),
        None => format!("no points. {comment}"),
    }
}

impl ToWrite {
    /// Writes the cells; once the student may have seen the sheet, each change is kept for them.
    /// Gives what was written in a few words for the change log; empty when nothing was.
    async fn write(
        self,
        tx: &mut SqliteConnection,
        session: LabSessionId,
        stored: &MarkSheet,
        by: PersonId,
        at: Instant,
    ) -> Result<String, WriteError> {
        let student = stored.student;
        let seen_before = stored.first_given_back_at.is_some();
        let mut said = Vec::new();
        for (criterion, (points, comment)) in self.cells {
            let ((was, comment_was), version) = stored_cell(stored, criterion.id);
            let reworded = comment != comment_was;
            let mark = Mark { points, comment, marked_by: by, marked_at: at, version };
            marks::put_mark(tx, session, student, criterion.id, &mark).await?;
            if seen_before {
                let cell = Some(criterion.id);
                marks::insert_change(tx, session, student, cell, was, points, reworded, by, at).await?;
            }
            let points = points.map_or_else(|| "no points".to_owned(), |points| points.to_string());
            said.push(format!("{} {points}", criterion.name));
        }
        if let Some(comment) = self.overall {
            marks::put_comment(tx, session, student, &comment, by, at).await?;
            if seen_before {
                marks::insert_change(tx, session, student, None, None, None, true, by, at).await?;
            }
            said.push("comment on all".to_owned());
        }
        Ok(said.join(", "))
    }
}
