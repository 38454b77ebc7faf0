//! The page: rows to fill, one a sheet, what the short words mean, what the session has so far.

use std::collections::HashMap;

use askama::Template;
use axum::{
    extract::{Path, Query, State},
    response::{IntoResponse, Response},
};
use jiff::tz::TimeZone;
use serde::Deserialize;
use sqlx::SqliteConnection;

use crate::{
    calc::working::figures,
    domain::{
        camera::Camera,
        exposure::Exposure,
        found_light::SKY_LETTERS,
        hole::Hole,
        ids::{CameraId, LabSessionId, SiteId, StudentId},
        lab_session::LabSession,
        paper::{Paper, PaperKind},
        student::Student,
        typed_seconds::exactly,
    },
    store::{self, cameras, exposures, films, holes, lab_sessions, papers, sections, sites, students},
    web::{
        access::Staff,
        bench::exposures::{Look, film_choices, looks, result_words},
        error::WebError,
        form::{Control, Form},
        frame::Frame,
        page::Page,
        posted::Posted,
        result_fields::{fault_options, found_options, verdict_options},
        state::AppState,
    },
};

/// How many rows there are to begin with, and how many more at a time.
pub const ROWS: usize = 12;
/// How many there are at the most.
pub const MOST_ROWS: usize = 60;
/// The field that says how many rows the page had.
const ROWS_FIELD: &str = "rows";
/// The button that asks for more of them.
const MORE: &str = "more";

/// How many rows a form has: those it was shown with, and more when it asks for them.
pub fn rows_of(posted: &Posted) -> usize {
    let shown = posted.get(ROWS_FIELD).parse().unwrap_or(ROWS).clamp(ROWS, MOST_ROWS);
    if wants_more(posted) { (shown + ROWS).min(MOST_ROWS) } else { shown }
}

/// Whether a form asks for more rows instead of being taken in.
pub fn wants_more(posted: &Posted) -> bool {
    !posted.get(MORE).is_empty()
}

/// What a pile of cards is read against.
pub struct Around {
    /// The session.
    pub session: LabSession,
    /// Its section's name.
    pub section: String,
    /// The site.
    pub site: SiteId,
    /// The site's time zone.
    pub zone: TimeZone,
    /// The paper handed out.
    pub paper: Paper,
    /// The section's cameras, each with its newest hole.
    pub cameras: Vec<(Camera, Option<Hole>)>,
    /// What each of them is loaded with; body caps whose film nobody has named are missing.
    pub loaded: HashMap<CameraId, Paper>,
    /// The films of the stockroom, as a list that opens.
    pub films: Vec<(String, String)>,
    /// The roster.
    pub students: Vec<Student>,
    /// What the session has so far.
    pub exposures: Vec<Exposure>,
}

impl Around {
    /// Looks it up; `None` without such a session.
    ///
    /// # Errors
    /// When the database cannot be used.
    pub async fn load(conn: &mut SqliteConnection, id: LabSessionId) -> Result<Option<Self>, store::Error> {
        let Some(session) = lab_sessions::find(conn, id).await? else { return Ok(None) };
        let inconsistent = |column| store::Error::Inconsistent { table: "lab_session", column, id: id.to_string() };
        let section = sections::find(conn, session.section).await?.ok_or_else(|| inconsistent("section_id"))?;
        let paper = papers::find(conn, session.paper).await?.ok_or_else(|| inconsistent("paper_id"))?;
        let (mut with_holes, mut loaded) = (Vec::new(), HashMap::new());
        for camera in cameras::list_of_section(conn, section.id).await? {
            let hole = holes::find_latest(conn, camera.id).await?;
            if let Some(paper) = films::find_loaded(conn, &paper, &camera).await? {
                loaded.insert(camera.id, paper);
            }
            with_holes.push((camera, hole));
        }
        Ok(Some(Self {
            section: section.name,
            site: section.site,
            zone: sites::find(conn).await?.map_or(TimeZone::UTC, |site| site.zone),
            paper,
            cameras: with_holes,
            loaded,
            films: film_choices(conn, "no body cap among them").await?,
            students: students::list(conn, section.id).await?,
            exposures: exposures::list_of_session(conn, id).await?,
            session,
        }))
    }

    /// The size that most sheets of this session have; a quarter of 8x10 in before the first.
    fn usual_size(&self) -> String {
        let mut counts: HashMap<&str, usize> = HashMap::new();
        for exposure in &self.exposures {
            *counts.entry(&exposure.sheet.typed).or_default() += 1;
        }
        // of two equally common ones always the same
        let usual = counts.into_iter().max_by_key(|(typed, count)| (*count, std::cmp::Reverse(*typed)));
        usual.map_or_else(|| "4x5in".to_owned(), |(typed, _)| typed.to_owned())
    }

    /// Whether sheets of this session go through trays at all.
    pub fn has_trays(&self) -> bool {
        self.session.tray_line.is_some() && self.paper.kind == PaperKind::Paper
    }
}

#[derive(Template)]
#[template(path = "front/filled_cards.html")]
struct FilledCardsPage {
    frame: Frame,
    id: LabSessionId,
    title: String,
    section: String,
    held_on: String,
    /// The number of the camera that was just registered from a card.
    registered: Option<i64>,
    /// Whether anything was typed that a page in its place would lose.
    begun: bool,
    trays: bool,
    /// Whether a body cap's film has to be named here.
    film_missing: bool,
    film: Control,
    looks: Vec<Look>,
    cameras: Vec<String>,
    letters: Vec<(&'static str, &'static str, bool)>,
    form: Form,
    /// The heads of the columns, each with the name of its fields.
    heads: Vec<(&'static str, &'static str)>,
    rows: Vec<CardRow>,
    most_rows: usize,
    sheets: Vec<SheetLine>,
}

/// The row of one card.
struct CardRow {
    number: usize,
    cells: Vec<CardCell>,
}

/// One field of a card.
struct CardCell {
    /// Which field it is: `camera`.
    field: &'static str,
    /// Its name and id: `camera_3`.
    name: String,
    label: &'static str,
    value: String,
    error: String,
    inputmode: &'static str,
    /// What a list offers; empty for a line of text.
    options: Vec<(String, String)>,
}

struct SheetLine {
    path: String,
    number: i64,
    camera: String,
    student: String,
    made_at: String,
    light: String,
    made: String,
    sheet: String,
    result: String,
}

/// Twelve empty rows.
pub async fn show(
    State(state): State<AppState>,
    frame: Frame,
    _staff: Staff,
    Path(id): Path<LabSessionId>,
    Query(asked): Query<Asked>,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let around = Around::load(&mut conn, id).await?.ok_or(WebError::NotFound("this session"))?;
    let form = Form::filled(&frame, 0, [("sheet", around.usual_size()), ("instrument", "0.01 mm".to_owned())]);
    let registered = asked.registered.as_deref().and_then(|number| number.parse().ok());
    let registered = around.cameras.iter().map(|(camera, _)| camera.number).find(|number| Some(*number) == registered);
    Ok(Page::new(FilledCardsPage { registered, begun: false, ..filled(frame, &around, form, ROWS) }).into_response())
}

/// What the address may carry.
#[derive(Debug, Deserialize)]
pub struct Asked {
    registered: Option<String>,
}

/// The page with a form of so many rows.
pub fn page(frame: Frame, around: &Around, form: Form, rows: usize) -> Page<impl Template> {
    Page::new(filled(frame, around, form, rows))
}

fn filled(frame: Frame, around: &Around, form: Form, rows: usize) -> FilledCardsPage {
    let has_hole = |hole: &Option<Hole>| match hole {
        Some(hole) => format!("hole {} mm", figures(hole.diameter().as_mm(), 3)),
        None => "no hole yet".to_owned(),
    };
    let held_on = around.session.held_on.strftime("%-d %b %Y").to_string();
    FilledCardsPage {
        registered: None,
        begun: true,
        id: around.session.id,
        title: around.session.title.clone(),
        section: around.section.clone(),
        held_on,
        trays: around.has_trays(),
        film_missing: around.cameras.iter().any(|(camera, _)| !around.loaded.contains_key(&camera.id)),
        film: form
            .select("film", "Film in body caps whose film nobody has named", &around.films)
            .hint("its speed counts for their sheets, not the paper’s")
            .optional(),
        looks: looks("look"),
        cameras: around
            .cameras
            .iter()
            .map(|(camera, hole)| {
                let film = around.loaded.get(&camera.id).filter(|_| camera.holds_film());
                let film = film.map_or_else(String::new, |film| format!(", {}", film.name));
                format!("{}: {}, {}{film}", camera.number, camera.build().as_str(), has_hole(hole))
            })
            .collect(),
        letters: SKY_LETTERS.iter().map(|(letters, sky)| (*letters, sky.label(), sky.has_shadows())).collect(),
        heads: columns(around.has_trays()).iter().map(|column| (column.field, column.label)).collect(),
        rows: (1..=rows).map(|row| CardRow::of(&form, row, around.has_trays())).collect(),
        most_rows: MOST_ROWS,
        sheets: sheet_lines(around),
        form,
        frame,
    }
}

/// A column of the cards.
struct Column {
    field: &'static str,
    label: &'static str,
    inputmode: &'static str,
    options: fn() -> Vec<(String, String)>,
}

/// The columns, in the order of the card.
fn columns(trays: bool) -> Vec<Column> {
    let text = |field, label| Column { field, label, inputmode: "", options: Vec::new };
    let list = |field, label, options| Column { field, label, inputmode: "", options };
    let mut columns = vec![
        Column { inputmode: "numeric", ..text("camera", "Camera") },
        text("student", "Roster number"),
        text("light", "Light"),
        text("made", "Seconds"),
        text("time", "Time"),
        text("sheet", "Size"),
        text("aim", "Exposed for"),
        list("verdict", "Result", verdict_options),
        Column { inputmode: "decimal", ..text("stops", "Stops more") },
        list("stops_by", "Known", found_options),
        list("fault", "Spoiled by", fault_options),
    ];
    if trays {
        columns.push(text("trays", "Trays at"));
    }
    columns.push(text("hole", "Hole, mm"));
    columns.push(text("remark", "Remark"));
    columns
}

impl CardRow {
    fn of(form: &Form, number: usize, trays: bool) -> Self {
        let cell = |column: Column| {
            let name = format!("{}_{number}", column.field);
            CardCell {
                field: column.field,
                label: column.label,
                value: form.value(&name).to_owned(),
                error: form.error(&name).to_owned(),
                inputmode: column.inputmode,
                options: (column.options)(),
                name,
            }
        };
        Self { number, cells: columns(trays).into_iter().map(cell).collect() }
    }
}

fn sheet_lines(around: &Around) -> Vec<SheetLine> {
    let cameras: HashMap<CameraId, i64> = around.cameras.iter().map(|(camera, _)| (camera.id, camera.number)).collect();
    let students: HashMap<StudentId, &Student> = around.students.iter().map(|student| (student.id, student)).collect();
    around
        .exposures
        .iter()
        .map(|exposure| SheetLine {
            path: format!("/front/exposures/{}", exposure.id),
            number: exposure.number,
            camera: cameras.get(&exposure.camera).map_or_else(String::new, i64::to_string),
            student: exposure
                .student
                .and_then(|id| students.get(&id))
                .map_or_else(String::new, |student| format!("{} {}", student.roster_number, student.name)),
            made_at: exposure.made_at.as_words(&around.zone),
            light: exposure.light_typed.clone(),
            made: exactly(exposure.made_ms),
            sheet: exposure.sheet.typed.clone(),
            result: result_words(exposure),
        })
        .collect()
}
