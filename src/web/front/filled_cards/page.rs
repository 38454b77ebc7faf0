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

use crate::web::fields::film_choices::film_choices;
use crate::{
    calc::working::figures,
    domain::{
        camera::{Camera, hole::Hole},
        exposure::Exposure,
        ids::{LabSessionId, SiteId},
        stock::paper::PaperKind,
    },
    store::{
        self,
        camera::{cameras, films, holes},
        evening::lab_sessions,
        exposure::exposures,
        people::{sections, students},
        site::sites,
        stock::papers,
    },
    web::{
        fields::card_pile::{
            Around, ROWS, Typist,
            grid::{CardGrid, CardWords, held_on},
            sheets::SessionSheets,
            taken::Taken,
        },
        kit::{
            access::Staff,
            error::WebError,
            form::{Control, Form},
            frame::Frame,
            page::Page,
            state::AppState,
        },
    },
};

/// A session whose cards staff type in.
pub struct Evening {
    /// What a pile of its cards is read against.
    pub around: Around,
    /// Its section's name.
    section: String,
    /// The site.
    pub site: SiteId,
    /// What the session has so far.
    exposures: Vec<Exposure>,
}

impl Evening {
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
        let around = Around {
            typist: Typist::Staff,
            zone: sites::find(conn).await?.map_or(TimeZone::UTC, |site| site.zone),
            cameras: with_holes,
            loaded,
            films: film_choices(conn, "no body cap among them").await?,
            students: students::list(conn, section.id).await?,
            has_trays: session.tray_line.is_some() && paper.kind == PaperKind::Paper,
            session,
        };
        let exposures = exposures::list_of_session(conn, id).await?;
        Ok(Some(Self { around, section: section.name, site: section.site, exposures }))
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
    /// Which sheets were just taken in; empty when none were.
    recorded: String,
    /// Whether anything was typed that a page in its place would lose.
    begun: bool,
    trays: bool,
    /// Whether a body cap's film has to be named here.
    film_missing: bool,
    film: Control,
    words: CardWords,
    form: Form,
    grid: CardGrid,
    sheets: SessionSheets,
}

/// Twelve empty rows.
pub async fn show(
    State(state): State<AppState>,
    frame: Frame,
    _staff: Staff,
    Path(id): Path<LabSessionId>,
    Query(asked): Query<Asked>,
    Query(taken): Query<Taken>,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let evening = Evening::load(&mut conn, id).await?.ok_or(WebError::NotFound("this session"))?;
    let form = Form::filled(&frame, 0, [("sheet", evening.usual_size()), ("instrument", "0.01 mm".to_owned())]);
    let registered = asked.registered.as_deref().and_then(|number| number.parse().ok());
    let mut numbers = evening.around.cameras.iter().map(|(camera, _)| camera.number);
    let registered = numbers.find(|number| Some(*number) == registered);
    let recorded = taken.words(&evening.exposures);
    let shown = FilledCardsPage { registered, recorded, begun: false, ..filled(frame, &evening, form, ROWS) };
    Ok(Page::new(shown).into_response())
}

/// What the address may carry.
#[derive(Debug, Deserialize)]
pub struct Asked {
    registered: Option<String>,
}

/// The page again with a form of so many rows, as it was sent.
pub fn page(frame: Frame, evening: &Evening, form: Form, rows: usize) -> Page<impl Template> {
    Page::new(filled(frame, evening, form, rows))
}

fn filled(frame: Frame, evening: &Evening, form: Form, rows: usize) -> FilledCardsPage {
    let Evening { around, section, exposures, .. } = evening;
    FilledCardsPage {
        registered: None,
        recorded: String::new(),
        begun: true,
        id: around.session.id,
        title: around.session.title.clone(),
        section: section.clone(),
        held_on: held_on(around),
        trays: around.has_trays,
        film_missing: around.cameras.iter().any(|(camera, _)| !around.loaded.contains_key(&camera.id)),
        film: form
            .select("film", "Film in body caps whose film nobody has named", &around.films)
            .hint("its speed counts for their sheets, not the paper’s")
            .optional(),
        words: CardWords::of(around, camera_words(around)),
        grid: CardGrid::of(&form, around, rows),
        sheets: SessionSheets::of(around, exposures, |id| format!("/front/exposures/{id}")),
        form,
        frame,
    }
}

/// The section's cameras: `1: box, hole 0.500 mm`.
fn camera_words(around: &Around) -> Vec<String> {
    let has_hole = |hole: &Option<Hole>| match hole {
        Some(hole) => format!("hole {} mm", figures(hole.diameter().as_mm(), 3)),
        None => "no hole yet".to_owned(),
    };
    let words = |(camera, hole): &(Camera, Option<Hole>)| {
        let film = around.loaded.get(&camera.id).filter(|_| camera.holds_film());
        let film = film.map_or_else(String::new, |film| format!(", {}", film.name));
        format!("{}: {}, {}{film}", camera.number, camera.build().as_str(), has_hole(hole))
    };
    around.cameras.iter().map(words).collect()
}
