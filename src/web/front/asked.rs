//! What a session asks of its students besides the work: values they work out themselves first,
//! the questions of the report, and by when it is handed in.

use askama::Template;
use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};
use jiff::tz::TimeZone;
use sqlx::SqliteConnection;

use crate::{
    domain::{
        evening::lab_session::LabSession,
        field_errors::FieldErrors,
        ids::{LabSessionId, QuestionId},
        instant::Instant,
        marking::{
            own_figure::{Ask, Figure},
            report::{LONGEST_QUESTION, MOST_QUESTIONS, Question},
        },
    },
    store::{
        self, Stale, WriteError,
        evening::lab_sessions,
        marking::{own_figures, reports},
        people::change_log,
        site::sites,
    },
    web::{
        kit::{
            access::Access,
            error::WebError,
            form::{Control, Form},
            frame::Frame,
            page::{Page, see_other},
            routes::{Route, change, page},
            state::AppState,
        },
        request::{posted::Posted, takes::Takes},
    },
};

/// The routes of this page.
pub fn routes() -> Vec<Route> {
    vec![
        page("/front/sessions/{id}/asked", Access::Instructor, show),
        change("/front/sessions/{id}/asked", Access::Instructor, save).taking(Takes::PILE),
    ]
}

/// Rows on the page for questions that are not there yet.
const BLANK_QUESTIONS: usize = 3;
/// Significant figures that are asked when nobody says otherwise.
const USUAL_FIGURES: (i64, i64) = (2, 4);

#[derive(Template)]
#[template(path = "front/asked.html")]
struct AskedPage {
    frame: Frame,
    session: LabSession,
    form: Form,
    was: String,
    figures: Vec<FigureRow>,
    questions: Vec<QuestionRow>,
}

struct FigureRow {
    words: &'static str,
    asked: Control,
    tolerance: Control,
    least: Control,
    most: Control,
}

struct QuestionRow {
    number: usize,
    /// Its id; empty on a row for one that is not there yet.
    id: String,
    words: Control,
    kind: Control,
    unit: Control,
}

/// Everything a session asks.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Asks {
    figures: Vec<Ask>,
    questions: Vec<Question>,
    due: Option<Instant>,
}

impl Asks {
    async fn load(conn: &mut SqliteConnection, id: LabSessionId) -> Result<Self, store::Error> {
        Ok(Self {
            figures: own_figures::list_asks(conn, id).await?,
            questions: reports::list_questions(conn, id).await?,
            due: reports::find_due(conn, id).await?,
        })
    }

    /// Stands for what a page was made from: several tables are edited at once, and no one row's
    /// version stands for all of them.
    fn fingerprint(&self) -> String {
        use sha2::{Digest, Sha256};
        let digest = Sha256::digest(format!("{self:?}").as_bytes());
        digest.iter().take(12).map(|byte| format!("{byte:02x}")).collect()
    }

    fn in_words(&self, zone: &TimeZone) -> Vec<(&'static str, String)> {
        let figures = self.figures.iter().map(|ask| {
            let Ask { figure, tolerance_milli, least_figures, most_figures } = ask;
            let percent = crate::domain::measure::decimal::written(*tolerance_milli, 1);
            format!("{} within {percent} %, {least_figures} to {most_figures} figures", figure.as_str())
        });
        let questions = self.questions.iter().map(|question| question.words.clone());
        vec![
            ("Own figures", figures.collect::<Vec<_>>().join("; ")),
            ("Questions", questions.collect::<Vec<_>>().join(" / ")),
            ("Report due", self.due.map_or_else(|| "no time set".to_owned(), |due| due.as_words(zone))),
        ]
    }
}

async fn show(State(state): State<AppState>, frame: Frame, Path(id): Path<LabSessionId>) -> Result<Response, WebError> {
    Ok(Page::new(asked_page(&state, frame, id, None).await?).into_response())
}

async fn asked_page(
    state: &AppState,
    frame: Frame,
    id: LabSessionId,
    refused: Option<(&Posted, FieldErrors)>,
) -> Result<AskedPage, WebError> {
    let mut conn = state.store.read().await?;
    let session = lab_sessions::find(&mut conn, id).await?.ok_or(WebError::NotFound("that session"))?;
    let zone = sites::find(&mut conn).await?.map_or(TimeZone::UTC, |site| site.zone);
    let asks = Asks::load(&mut conn, id).await?;
    let (form, was) = match refused {
        Some((posted, errors)) => (Form::refused(posted, errors), posted.get("was").to_owned()),
        None => (filled(&frame, &asks, &zone), asks.fingerprint()),
    };
    let rows = (1..=MOST_QUESTIONS).rfind(|row| !form.value(&format!("words-{row}")).is_empty()).unwrap_or(0);
    let rows = (rows + BLANK_QUESTIONS).min(MOST_QUESTIONS);
    Ok(AskedPage {
        figures: Figure::ALL.into_iter().map(|figure| FigureRow::of(&form, figure)).collect(),
        questions: (1..=rows).map(|row| QuestionRow::of(&form, row)).collect(),
        frame,
        session,
        form,
        was,
    })
}

fn field(name: &str, figure: Figure) -> String {
    format!("{name}-{}", figure.slug())
}

fn filled(frame: &Frame, asks: &Asks, zone: &TimeZone) -> Form {
    let mut values: Vec<(String, String)> = Vec::new();
    for figure in Figure::ALL {
        let asked = asks.figures.iter().find(|ask| ask.figure == figure);
        let tolerance = asked.map_or(figure.usual_tolerance_milli(), |ask| ask.tolerance_milli);
        let (least, most) = asked.map_or(USUAL_FIGURES, |ask| (ask.least_figures, ask.most_figures));
        values.push((field("ask", figure), asked.map_or("", |_| "yes").to_owned()));
        values.push((field("tolerance", figure), crate::domain::measure::decimal::written(tolerance, 1)));
        values.push((field("least", figure), least.to_string()));
        values.push((field("most", figure), most.to_string()));
    }
    for (question, row) in asks.questions.iter().zip(1..) {
        values.push((format!("question-{row}"), question.id.to_string()));
        values.push((format!("words-{row}"), question.words.clone()));
        values.push((format!("kind-{row}"), if question.unit.is_some() { "number" } else { "text" }.to_owned()));
        values.push((format!("unit-{row}"), question.unit.clone().unwrap_or_default()));
    }
    values.push(("due".to_owned(), asks.due.map_or_else(String::new, |due| due.as_local_control(zone))));
    Form::filled(frame, 0, values.iter().map(|(name, value)| (name.as_str(), value.clone())))
}

impl FigureRow {
    fn of(form: &Form, figure: Figure) -> Self {
        Self {
            words: figure.words(),
            asked: form.tick(&field("ask", figure), "Students work it out first"),
            tolerance: form.number(&field("tolerance", figure), "Right within").unit("%"),
            least: form.number(&field("least", figure), "Figures, at least"),
            most: form.number(&field("most", figure), "Figures, at most"),
        }
    }
}

impl QuestionRow {
    fn of(form: &Form, number: usize) -> Self {
        let kinds = [("text", "text"), ("number", "a number with a unit")];
        let kinds = kinds.map(|(value, words)| (value.to_owned(), words.to_owned()));
        Self {
            number,
            id: form.value(&format!("question-{number}")).to_owned(),
            words: form.area(&format!("words-{number}"), &format!("Question {number}")).rows(2).optional(),
            kind: form.select(&format!("kind-{number}"), "Answered with", &kinds).short(),
            unit: form
                .text(&format!("unit-{number}"), "Unit")
                .hint("of a number; empty for a pure one")
                .short()
                .optional(),
        }
    }
}

fn read(posted: &Posted, fresh: Vec<QuestionId>, zone: &TimeZone) -> Result<Asks, FieldErrors> {
    let mut r = posted.reader();
    let mut figures = Vec::new();
    for figure in Figure::ALL.into_iter().filter(|figure| posted.ticked(&field("ask", *figure))) {
        let tolerance = r.decimal(&field("tolerance", figure), 1, 1..=500);
        let least = r.whole(&field("least", figure), 1..=9);
        let most = r.whole(&field("most", figure), 1..=9);
        if let (Some(least), Some(most)) = (least, most)
            && most < least
        {
            r.wrong(&field("most", figure), format!("must not be fewer than the {least} asked at least"));
        }
        figures.extend((|| {
            Some(Ask { figure, tolerance_milli: tolerance?, least_figures: least?, most_figures: most? })
        })());
    }
    let mut questions = Vec::new();
    for (row, fresh) in (1..=MOST_QUESTIONS).zip(fresh) {
        let words = format!("words-{row}");
        if r.raw(&words).is_empty() {
            continue;
        }
        let words = r.text(&words, 1..=LONGEST_QUESTION);
        let number = match r.raw(&format!("kind-{row}")) {
            "" | "text" => Some(false),
            _ => r.choice(&format!("kind-{row}"), |kind| (kind == "number").then_some(true)),
        };
        let unit = r.text(&format!("unit-{row}"), 0..=20);
        let id = r.raw(&format!("question-{row}")).parse().unwrap_or(fresh);
        questions.extend((|| Some(Question { id, words: words?, unit: number?.then_some(unit?) }))());
    }
    let due = if r.raw("due").is_empty() { Some(None) } else { r.local_time("due", zone).map(Some) };
    r.finish(due.map(|due| Asks { figures, questions, due }))
}

async fn save(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<LabSessionId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let zone = sites::find(&mut *state.store.read().await?).await?.map_or(TimeZone::UTC, |site| site.zone);
    let fresh = (0..MOST_QUESTIONS).map(|_| state.mint()).collect();
    let asks = match read(&posted, fresh, &zone) {
        Ok(asks) => asks,
        Err(errors) => {
            let page = asked_page(&state, frame, id, Some((&posted, errors))).await?;
            return Ok(Page::new(page).unprocessable().into_response());
        }
    };
    let (at, actor, was) = (posted.at(), posted.actor(), posted.get("was").to_owned());
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            let session = lab_sessions::find(tx, id).await?.ok_or(WriteError::Missing("that session"))?;
            let stored = Asks::load(tx, id).await?;
            let path = format!("/front/sessions/{id}/asked");
            if stored.fingerprint() != was {
                let (sent, stored) = (asks.in_words(&zone), stored.in_words(&zone));
                return Err(WriteError::Stale(Stale::between("what this session asks", path, sent, stored)));
            }
            // a question of another session is not taken over by its id
            let foreign = |question: &&Question| stored.questions.iter().all(|it| it.id != question.id);
            for question in asks.questions.iter().filter(foreign) {
                if reports::is_question_of_another(tx, question.id, id).await? {
                    return Err(FieldErrors::whole("a question on this page belongs to another session").into());
                }
            }
            own_figures::put_asks(tx, id, &asks.figures).await?;
            reports::put_questions(tx, id, &asks.questions, at).await?;
            reports::put_due(tx, id, asks.due).await?;
            let detail =
                format!("{}: {} own figures, {} questions", session.title, asks.figures.len(), asks.questions.len());
            change_log::insert(tx, at, actor, "set what is asked", "lab_session", id, &detail).await?;
            Ok(path)
        })
    });
    match written.await {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => {
            let page = asked_page(&state, frame, id, Some((&posted, errors))).await?;
            Ok(Page::new(page).unprocessable().into_response())
        }
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}
