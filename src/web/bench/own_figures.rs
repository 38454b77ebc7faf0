//! `/bench/own-figures`: values a student works out before the server shows its own.

use askama::Template;
use axum::{
    extract::State,
    response::{IntoResponse, Response},
};

use crate::lab::marking::{
    own_answers::{Answer, Unanswered},
    own_figures::asked_of,
};
use crate::{
    domain::{
        marking::own_figure::{Figure, LONGEST_ANSWER, LONGEST_WORKING, Outcome, TRIES, Try},
        measure::decimal,
    },
    lab::marking::own_figures::AskedFigure,
    store::WriteError,
    web::{
        kit::{
            access::{Access, Bench},
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

use super::at_bench::{Saved, last_saved};
use crate::lab::exposure::at_hand::AtHand;

/// The routes of this page.
pub fn routes() -> Vec<Route> {
    vec![
        page("/bench/own-figures", Access::Bench, show),
        change("/bench/own-figures", Access::Bench, answer).taking(Takes::PILE),
    ]
}

#[derive(Template)]
#[template(path = "bench/own_figures.html")]
struct OwnFiguresPage {
    frame: Frame,
    saved: Saved,
    /// The session's title; empty without one.
    session: String,
    figures: Vec<FigureView>,
}

/// One value.
struct FigureView {
    slug: &'static str,
    name: &'static str,
    question: String,
    /// How near is near enough, in words.
    near: String,
    /// The form to answer; `None` once it is open, or while its numbers are not there.
    form: Option<AnswerForm>,
    waiting: bool,
    tries: Vec<TryView>,
    /// The server's own value and how it comes about; empty while held back.
    expected: String,
    expected_by: String,
}

struct AnswerForm {
    form: Form,
    answer: Control,
    unit: Option<Control>,
    working: Control,
    left: usize,
}

/// One try.
struct TryView {
    answer: String,
    working: String,
    tag: &'static str,
    words: String,
    difference: String,
    slip: String,
}

async fn show(State(state): State<AppState>, frame: Frame, bench: Bench) -> Result<Response, WebError> {
    Ok(Page::new(figures_page(&state, frame, &bench, None).await?).into_response())
}

async fn figures_page(
    state: &AppState,
    frame: Frame,
    bench: &Bench,
    refused: Option<(Figure, Form)>,
) -> Result<OwnFiguresPage, WebError> {
    let mut conn = state.store.read().await?;
    let at_hand = AtHand::load(&mut conn, bench.section, bench.student).await?;
    let session = at_hand.evening.as_ref().map(|(session, _)| session);
    let asked = match session {
        Some(session) => asked_of(&mut conn, session, bench.section, bench.student).await?,
        None => Vec::new(),
    };
    let saved = last_saved(&mut conn, bench.actor(), state.now()).await?;
    let over = session.is_some_and(|session| !session.state.is_open());
    let view = |it: &AskedFigure| {
        let refused = refused.as_ref().filter(|(figure, _)| *figure == it.ask.figure).map(|(_, form)| form.clone());
        FigureView::of(it, &frame, refused, over)
    };
    Ok(OwnFiguresPage {
        figures: asked.iter().map(view).collect(),
        session: session.map_or_else(String::new, |session| session.title.clone()),
        saved,
        frame,
    })
}

impl FigureView {
    fn of(asked: &AskedFigure, frame: &Frame, refused: Option<Form>, over: bool) -> Self {
        let figure = asked.ask.figure;
        let (ask, last) = (asked.ask, asked.tries.last());
        let open = asked.is_open() || over;
        let question = asked.question.as_ref();
        // what was asked stays as it was asked, whatever the camera became since
        let (expected, expected_by) = match (open, last, question) {
            (false, ..) | (true, None, None) => (String::new(), String::new()),
            (true, Some(last), _) => (last.expected.clone(), last.expected_by.clone()),
            (true, None, Some(question)) => (question.expected.clone(), question.expected_by.clone()),
        };
        let form = question.filter(|_| !open).map(|question| {
            let form = refused.unwrap_or_else(|| Form::empty(frame)).prefixed(figure.slug());
            let units: Vec<_> =
                question.units.iter().map(|unit| (unit.sign.to_owned(), unit.sign.to_owned())).collect();
            AnswerForm {
                answer: match units.as_slice() {
                    [(only, _)] => form.number("answer", "Your value").unit(only),
                    _ => form.number("answer", "Your value"),
                },
                unit: (units.len() > 1).then(|| form.select("unit", "Unit", &units).short()),
                working: form.area("working", "How you got there").rows(3).optional(),
                left: TRIES - asked.tries.len().min(TRIES),
                form,
            }
        });
        Self {
            slug: figure.slug(),
            name: figure.words(),
            question: match (open, last, question) {
                (true, Some(last), _) => last.question.clone(),
                (_, _, Some(question)) => question.words.clone(),
                _ => String::new(),
            },
            near: format!(
                "Right within {} %, given with {} to {} significant figures.",
                decimal::written(ask.tolerance_milli, 1),
                ask.least_figures,
                ask.most_figures
            ),
            waiting: question.is_none() && asked.tries.is_empty(),
            tries: asked.tries.iter().map(|tried| TryView::of(tried, open)).collect(),
            form,
            expected,
            expected_by,
        }
    }
}

impl TryView {
    fn of(tried: &Try, open: bool) -> Self {
        let percent = tried.error_ppm as f64 / 1e4;
        let percent = if percent.abs() < 1000.0 { format!("{percent:+.1} %") } else { format!("{percent:+.0} %") };
        Self {
            answer: format!("{} {}", tried.answer, tried.unit).trim().replace(" °", "°"),
            working: tried.working.clone(),
            tag: if tried.outcome == Outcome::Right { "use" } else { "watch" },
            words: match tried.outcome {
                Outcome::Right => "right".to_owned(),
                Outcome::Off => "not right".to_owned(),
                Outcome::TooFewFigures => "near enough, but with too few significant figures".to_owned(),
                Outcome::TooManyFigures => {
                    "near enough, but with more significant figures than can be known".to_owned()
                }
            },
            // before it opens the size of the difference would give the value away
            difference: if open {
                format!("{percent} of it, where {} % is near enough", decimal::written(tried.tolerance_milli, 1))
            } else {
                String::new()
            },
            slip: tried.slip.clone(),
        }
    }
}

async fn answer(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    posted: Posted,
) -> Result<Response, WebError> {
    let figure = Figure::from_slug(posted.get("figure")).ok_or(WebError::NotFound("that figure"))?;
    let (form, who, id, at) = (posted.clone(), bench.clone(), state.mint(), posted.at());
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            let unanswered = Unanswered::find(tx, who.section, who.student, figure).await?;
            let question = &unanswered.question;
            let mut reader = form.reader();
            let typed = reader.text("answer", 1..=LONGEST_ANSWER);
            let working = reader.lines("working", 0..=LONGEST_WORKING);
            // a figure with one unit asks for none
            let unit = if question.units.len() > 1 { reader.raw("unit") } else { question.units[0].sign };
            let judged = typed.as_ref().and_then(|typed| {
                let judged = unanswered.judge(typed, unit);
                let beside = if question.units.iter().any(|it| it.sign == unit) { "answer" } else { "unit" };
                judged.map_err(|message| reader.wrong(beside, message)).ok()
            });
            let (typed, working, judged) = reader.finish((|| Some((typed?, working?, judged?)))())?;
            let answer = Answer { typed, unit: unit.to_owned(), working };
            unanswered.record(tx, id, answer, judged, at).await?;
            Ok(format!("/bench/own-figures#{}", figure.slug()))
        })
    });
    match written.await {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => {
            let form = Form::refused(&posted, errors);
            let page = figures_page(&state, frame, &bench, Some((figure, form))).await?;
            Ok(Page::new(page).unprocessable().into_response())
        }
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}
