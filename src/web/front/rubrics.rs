//! Rubrics: what a session's work is marked by.

use askama::Template;
use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};

use crate::{
    domain::{
        field_errors::FieldErrors,
        ids::{CriterionId, RubricId},
        marking::{
            from_record::{HoleTolerance, Source},
            points::Points,
            rubric::{Criterion, CriterionRow, Level, MOST_CRITERIA, Rubric, RubricEdit, STARTING_SET},
        },
    },
    store::{self, Stale, WriteError, marking::rubrics, people::change_log},
    web::{
        kit::{
            access::{Access, Staff},
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

/// The routes of these pages.
pub fn routes() -> Vec<Route> {
    vec![
        page("/front/rubrics", Access::Staff, list),
        change("/front/rubrics", Access::Instructor, create).taking(Takes::PILE),
        page("/front/rubrics/{id}", Access::Staff, show),
        change("/front/rubrics/{id}", Access::Instructor, update).taking(Takes::PILE),
        change("/front/rubrics/{id}/discard", Access::Instructor, discard),
    ]
}

/// Rows on the page for criteria that are not there yet.
const BLANK_ROWS: usize = 3;
/// Rows a page can have.
const MOST_ROWS: usize = MOST_CRITERIA + BLANK_ROWS;
/// The choice that begins with our own starting set.
const FROM_OURS: &str = "ours";
/// The choice that begins with one criterion to be filled in.
const FROM_NOTHING: &str = "nothing";

/// How a criterion is judged that the record says nothing about.
const BY_EYE: &str = "by the marker’s eye";

#[derive(Template)]
#[template(path = "front/rubrics.html")]
struct List {
    frame: Frame,
    has_site: bool,
    lines: Vec<Line>,
    form: Form,
    begin_with: Vec<(String, String)>,
}

struct Line {
    id: RubricId,
    name: String,
    criteria: usize,
    out_of: Points,
    sessions: i64,
}

async fn list(State(state): State<AppState>, frame: Frame) -> Result<Response, WebError> {
    let form = Form::filled(&frame, 0, [("begin_with", FROM_OURS.to_owned())]);
    Ok(Page::new(list_page(&state, frame, form).await?).into_response())
}

async fn list_page(state: &AppState, frame: Frame, form: Form) -> Result<List, WebError> {
    let mut conn = state.store.read().await?;
    let site = store::site::sites::find(&mut conn).await?;
    let mut lines = Vec::new();
    let mut begin_with = vec![
        (FROM_OURS.to_owned(), "our starting set for this lab".to_owned()),
        (FROM_NOTHING.to_owned(), "an empty one".to_owned()),
    ];
    if let Some(site) = &site {
        for rubric in rubrics::list(&mut conn, site.id).await? {
            let sessions = rubrics::count_sessions(&mut conn, rubric.id).await?;
            begin_with.push((rubric.id.to_string(), format!("the criteria of “{}”", rubric.name)));
            let (criteria, out_of) = (rubric.criteria.len(), rubric.out_of());
            lines.push(Line { id: rubric.id, name: rubric.name, criteria, out_of, sessions });
        }
    }
    Ok(List { frame, has_site: site.is_some(), lines, form, begin_with })
}

async fn create(State(state): State<AppState>, frame: Frame, posted: Posted) -> Result<Response, WebError> {
    let (name, begin_with) = match read_new(&posted) {
        Ok(new) => new,
        Err(errors) => return refused_list(&state, frame, &posted, errors).await,
    };
    let id: RubricId = state.mint();
    let fresh: Vec<CriterionId> = (0..MOST_CRITERIA).map(|_| state.mint()).collect();
    let (actor, at) = (posted.actor(), posted.at());
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            let site =
                store::site::sites::find(tx).await?.ok_or_else(|| FieldErrors::whole("set up the site first"))?;
            if rubrics::is_name_taken(tx, site.id, &name, id).await? {
                return Err(FieldErrors::one("name", "another rubric has this name").into());
            }
            let criteria = match begin_with {
                Beginning::Ours => STARTING_SET.iter().zip(&fresh).map(|(start, id)| start.criterion(*id)).collect(),
                Beginning::Nothing => vec![Criterion {
                    id: fresh[0],
                    name: "First criterion".to_owned(),
                    description: String::new(),
                    max: Points::from_milli(5_000),
                    source: None,
                    hole_within: HoleTolerance::default(),
                    levels: Vec::new(),
                }],
                Beginning::From(other) => {
                    let other = rubrics::find(tx, other).await?.ok_or(WriteError::Missing("that rubric"))?;
                    other.criteria.into_iter().zip(&fresh).map(|(it, id)| Criterion { id: *id, ..it }).collect()
                }
            };
            let rubric = Rubric { id, site: site.id, name, criteria, version: 1 };
            rubrics::insert(tx, &rubric).await?;
            change_log::insert(tx, at, actor, "rubric begun", "rubric", id, &rubric.name).await?;
            Ok(format!("/front/rubrics/{id}"))
        })
    });
    match written.await {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => refused_list(&state, frame, &posted, errors).await,
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

async fn refused_list(
    state: &AppState,
    frame: Frame,
    posted: &Posted,
    errors: FieldErrors,
) -> Result<Response, WebError> {
    let form = Form::refused(posted, errors);
    Ok(Page::new(list_page(state, frame, form).await?).unprocessable().into_response())
}

/// What a new rubric begins with.
enum Beginning {
    Ours,
    Nothing,
    From(RubricId),
}

fn read_new(posted: &Posted) -> Result<(String, Beginning), FieldErrors> {
    let mut reader = posted.reader();
    let name = reader.text("name", 1..=120);
    let begin_with = reader.choice("begin_with", |text| match text {
        FROM_OURS => Some(Beginning::Ours),
        FROM_NOTHING => Some(Beginning::Nothing),
        id => id.parse().ok().map(Beginning::From),
    });
    reader.finish((|| Some((name?, begin_with?)))())
}

#[derive(Template)]
#[template(path = "front/rubric.html")]
struct Show {
    frame: Frame,
    rubric: Rubric,
    sessions: i64,
    marked: bool,
    given_back: i64,
    may_edit: bool,
    form: Form,
    discard: Form,
    name: Control,
    rows: Vec<Row>,
}

/// One criterion's controls.
struct Row {
    number: usize,
    /// The criterion's id; empty on a row for one that is not there yet.
    id: String,
    legend: String,
    name: Control,
    description: Control,
    max: Control,
    source: Control,
    /// How far a hole may lie from its target; only of a criterion judged by the hole.
    within: Option<Control>,
    levels: Control,
    place: Option<Control>,
    remove: Option<Control>,
}

async fn show(
    State(state): State<AppState>,
    frame: Frame,
    staff: Staff,
    Path(id): Path<RubricId>,
) -> Result<Response, WebError> {
    Ok(Page::new(show_page(&state, frame, staff.is_instructor(), id, None).await?).into_response())
}

async fn show_page(
    state: &AppState,
    frame: Frame,
    may_edit: bool,
    id: RubricId,
    refused: Option<(&Posted, FieldErrors)>,
) -> Result<Show, WebError> {
    let mut conn = state.store.read().await?;
    let rubric = rubrics::find(&mut conn, id).await?.ok_or(WebError::NotFound("that rubric"))?;
    let sessions = rubrics::count_sessions(&mut conn, id).await?;
    let given = rubrics::find_given(&mut conn, id).await?;
    let form = match refused {
        Some((posted, errors)) => Form::refused(posted, errors),
        None => filled(&frame, &rubric),
    };
    let typed = |row: &usize| {
        ["name", "description", "max", "levels"].iter().any(|it| !form.value(&format!("{it}-{row}")).is_empty())
    };
    let last_typed = (1..=MOST_ROWS).rfind(typed).unwrap_or(0);
    let rows = (1..=last_typed.max((rubric.criteria.len() + BLANK_ROWS).min(MOST_ROWS)))
        .map(|number| Row::of(&form, number, form.value(&format!("criterion-{number}")).to_owned()))
        .collect();
    let discard = Form::empty(&frame).prefixed("discard");
    let (marked, given_back) = (!given.highest.is_empty(), given.given_back);
    let name = form.text("name", "Name of the rubric");
    Ok(Show { frame, rubric, sessions, marked, given_back, may_edit, form, discard, name, rows })
}

fn filled(frame: &Frame, rubric: &Rubric) -> Form {
    let mut values = vec![("name".to_owned(), rubric.name.clone())];
    for (criterion, row) in rubric.criteria.iter().zip(1..) {
        values.push((format!("criterion-{row}"), criterion.id.to_string()));
        values.push((format!("name-{row}"), criterion.name.clone()));
        values.push((format!("description-{row}"), criterion.description.clone()));
        values.push((format!("max-{row}"), criterion.max.to_string()));
        values.push((format!("source-{row}"), criterion.source.map_or("", Source::as_str).to_owned()));
        values.push((format!("within-{row}"), criterion.hole_within.as_percent().to_string()));
        values.push((format!("levels-{row}"), Level::lines(&criterion.levels)));
        values.push((format!("place-{row}"), row.to_string()));
    }
    Form::filled(frame, rubric.version, values.iter().map(|(name, value)| (name.as_str(), value.clone())))
}

impl Row {
    fn of(form: &Form, number: usize, id: String) -> Self {
        let there = !id.is_empty();
        let field = |name: &str| format!("{name}-{number}");
        let name = form.text(&field("name"), "Criterion");
        let max = form.number(&field("max"), "Most points").unit("points");
        Self {
            number,
            legend: if there { format!("Criterion {number}") } else { "Another criterion".to_owned() },
            name: if there { name } else { name.optional() },
            description: form.area(&field("description"), "What the marker looks for").rows(3).optional(),
            source: form.select(&field("source"), "Judged", &sources()),
            within: (form.value(&field("source")) == Source::Hole.as_str())
                .then(|| form.number(&field("within"), "Hole within").unit("%").hint("of its target; 1 to 50")),
            levels: form
                .area(&field("levels"), "Levels")
                .rows(3)
                .hint("one a line: points, a colon, what they mean; for example 4: sharp, no stray light")
                .optional(),
            max: if there { max } else { max.optional() },
            place: there.then(|| form.number(&field("place"), "Place").hint("1 is first")),
            remove: there.then(|| form.tick(&field("remove"), "Take this criterion out")),
            id,
        }
    }
}

/// What a criterion may be judged by.
fn sources() -> Vec<(String, String)> {
    let by_eye = (String::new(), BY_EYE.to_owned());
    let from_record = Source::ALL.map(|it| (it.as_str().to_owned(), format!("from the record: {}", it.words())));
    std::iter::once(by_eye).chain(from_record).collect()
}

async fn update(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<RubricId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let fresh = (0..MOST_ROWS).map(|_| state.mint()).collect();
    let edit = match read_edit(&posted, fresh) {
        Ok(edit) => edit,
        Err(errors) => return refused_show(&state, frame, id, &posted, errors).await,
    };
    let (actor, at) = (posted.actor(), posted.at());
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            let current = rubrics::find(tx, id).await?.ok_or(WriteError::Missing("that rubric"))?;
            if current.version != edit.version {
                return Err(stale(&edit, &current));
            }
            if rubrics::is_name_taken(tx, current.site, &edit.name, id).await? {
                return Err(FieldErrors::one("name", "another rubric has this name").into());
            }
            let given = rubrics::find_given(tx, id).await?;
            let after = edit.apply(&current, &given)?;
            rubrics::update(tx, &after, at).await?;
            let detail = format!("{}: {} criteria, {} points", after.name, after.criteria.len(), after.out_of());
            change_log::insert(tx, at, actor, "rubric changed", "rubric", id, &detail).await?;
            Ok(format!("/front/rubrics/{id}"))
        })
    });
    match written.await {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => refused_show(&state, frame, id, &posted, errors).await,
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

async fn refused_show(
    state: &AppState,
    frame: Frame,
    id: RubricId,
    posted: &Posted,
    errors: FieldErrors,
) -> Result<Response, WebError> {
    Ok(Page::new(show_page(state, frame, true, id, Some((posted, errors))).await?).unprocessable().into_response())
}

/// Reads every row; a row for a new criterion is one only when something was typed into it.
fn read_edit(posted: &Posted, fresh: Vec<CriterionId>) -> Result<RubricEdit, FieldErrors> {
    let mut reader = posted.reader();
    let mut fresh = fresh.into_iter();
    let name = reader.text("name", 1..=120);
    let mut rows = Vec::new();
    for row in 1..=MOST_ROWS {
        let field = |name: &str| format!("{name}-{row}");
        let id: Option<CriterionId> = reader.raw(&field("criterion")).parse().ok();
        let typed = ["name", "description", "max", "levels"].iter().any(|name| !reader.raw(&field(name)).is_empty());
        if id.is_none() && !typed {
            continue;
        }
        let remove = id.is_some() && posted.ticked(&field("remove"));
        let (least, most) = (Points::LEAST_FOR_A_CRITERION, Points::MOST_FOR_A_CRITERION);
        let max = match Points::parse(reader.raw(&field("max")), least, most) {
            Ok(max) => Some(max),
            Err(error) => {
                reader.wrong(&field("max"), error.to_string());
                None
            }
        };
        let name = reader.text(&field("name"), 1..=120);
        let description = reader.lines(&field("description"), 0..=2000);
        let place = if id.is_none() || reader.raw(&field("place")).is_empty() {
            Some(None)
        } else {
            reader.whole(&field("place"), 1..=99).map(Some)
        };
        let source = match reader.raw(&field("source")) {
            "" => Some(None),
            _ => reader.choice(&field("source"), Source::from_word).map(Some),
        };
        // the page asks only of a criterion judged by the hole; one newly so begins with ours
        let asked = posted.fields().iter().any(|(name, _)| *name == field("within"));
        let within = if asked && source == Some(Some(Source::Hole)) {
            reader.number(&field("within"), HoleTolerance::PERCENT).map(HoleTolerance::from_percent)
        } else {
            Some(HoleTolerance::default())
        };
        let levels = reader.lines(&field("levels"), 0..=4_000).zip(max).and_then(|(typed, max)| {
            Level::read_lines(&typed, max).map_err(|message| reader.wrong(&field("levels"), message)).ok()
        });
        let added = id.is_none();
        let id = id.or_else(|| fresh.next());
        let read = (|| {
            Some(CriterionRow {
                row,
                id: id?,
                added,
                name: name?,
                description: description?,
                max: max?,
                source: source?,
                hole_within: within?,
                levels: levels?,
                place: place?,
                remove,
            })
        })();
        rows.extend(read);
    }
    let version = posted.version();
    reader.finish(name.map(|name| RubricEdit { name, rows, version }))
}

/// Both versions of a rubric that somebody else changed meanwhile.
fn stale(edit: &RubricEdit, current: &Rubric) -> WriteError {
    let mut fields = vec![("Name of the rubric".to_owned(), edit.name.clone(), current.name.clone())];
    let words = |it: &Criterion| {
        let judged = match it.source {
            Some(Source::Hole) => format!("{}, within {} %", Source::Hole.words(), it.hole_within.as_percent()),
            Some(source) => source.words().to_owned(),
            None => BY_EYE.to_owned(),
        };
        format!("{}, {} points. {} Judged: {judged}. {}", it.name, it.max, it.description, Level::lines(&it.levels))
    };
    for row in &edit.rows {
        let sent = if row.remove { "taken out".to_owned() } else { words(&row.criterion()) };
        let stored = current.criteria.iter().find(|criterion| criterion.id == row.id);
        fields.push((format!("Criterion {}", row.row), sent, stored.map_or_else(String::new, words)));
    }
    for criterion in current.criteria.iter().filter(|criterion| edit.rows.iter().all(|row| row.id != criterion.id)) {
        fields.push((criterion.name.clone(), String::new(), words(criterion)));
    }
    let path = format!("/front/rubrics/{}", current.id);
    WriteError::Stale(Box::new(Stale { what: "This rubric".to_owned(), path: path.into(), fields }))
}

async fn discard(
    State(state): State<AppState>,
    Path(id): Path<RubricId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (actor, at) = (posted.actor(), posted.at());
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            let rubric = rubrics::find(tx, id).await?.ok_or(WriteError::Missing("that rubric"))?;
            if rubrics::count_sessions(tx, id).await? > 0 || !rubrics::find_given(tx, id).await?.highest.is_empty() {
                return Err(FieldErrors::whole("a session or a mark still uses this rubric; it is kept").into());
            }
            rubrics::delete(tx, id).await?;
            change_log::insert(tx, at, actor, "rubric discarded", "rubric", id, &rubric.name).await?;
            Ok("/front/rubrics".to_owned())
        })
    });
    match written.await {
        Ok(landing) => Ok(see_other(&landing)),
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}
