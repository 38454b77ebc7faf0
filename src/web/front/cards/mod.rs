//! Cards for the dark: a bench card for each camera, blank ones for an evening without the
//! server, and the poster for the lab door.

mod bench_card;
mod poster;
mod tray_labels;

use askama::Template;
use axum::{
    extract::{Path, Query, State},
    response::{IntoResponse, Response},
};
use serde::Deserialize;
use sqlx::SqliteConnection;

use crate::web::kit::sentences::sentences;
use crate::{
    calc::light::{given_time::notes, sky::Sky},
    domain::{
        camera::target::HoleFormula,
        evening::lab_session::LabSession,
        exposure::{
            found_light::SKY_LETTERS,
            reckoner::{SKIES, reckoner},
            starting_exposure::{MOST_TEACHING, taught_by},
        },
        ids::{CameraId, LabSessionId},
        marking::own_figure::HeldBack,
        measure::decimal,
        people::{section::Section, student::Student},
        stock::paper::Paper,
    },
    lab::{exposure::at_hand::Learned, marking::own_figures::held_back},
    store::{
        camera::{cameras, films, holes},
        evening::lab_sessions,
        exposure::exposures,
        people::{sections, students},
        site::sites,
        stock::papers,
    },
    web::kit::{
        access::Access,
        error::WebError,
        frame::Frame,
        page::Page,
        routes::{Route, page},
        state::AppState,
    },
};

use bench_card::BenchCard;

/// The routes of these pages.
pub fn routes() -> Vec<Route> {
    vec![
        page("/front/sessions/{id}/cards", Access::Staff, show),
        page("/front/sessions/{id}/poster", Access::Staff, poster::show),
        page("/front/sessions/{id}/tray-labels", Access::Staff, tray_labels::show),
    ]
}

/// How many cards stand on a page.
const PER_PAGE: usize = 4;

#[derive(Debug, Deserialize)]
struct Asked {
    blank: Option<String>,
}

#[derive(Template)]
#[template(path = "print/cards.html")]
struct CardsPage {
    frame: Frame,
    id: LabSessionId,
    title: String,
    held_on: String,
    section_name: String,
    paper: String,
    printed: String,
    blank: bool,
    sheets_of_cards: Vec<Vec<BenchCard>>,
    cards: usize,
    reckoner: Vec<ReckonerRow>,
    /// What has to be said beside the times of the table.
    reckoner_notes: String,
    sky_letters: Vec<(&'static str, &'static str)>,
}

struct ReckonerRow {
    distance: String,
    hole: String,
    thousandths: String,
    times: [String; SKIES.len()],
}

async fn show(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<LabSessionId>,
    Query(asked): Query<Asked>,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let session = lab_sessions::find(&mut conn, id).await?.ok_or(WebError::NotFound("this session"))?;
    let section = sections::find(&mut conn, session.section).await?.ok_or(WebError::NotFound("this section"))?;
    let paper = papers::find(&mut conn, session.paper).await?.ok_or(WebError::NotFound("this session’s paper"))?;
    let zone = sites::find(&mut conn).await?.map_or(jiff::tz::TimeZone::UTC, |site| site.zone);
    let blank = asked.blank.is_some_and(|blank| !blank.is_empty());
    let cards = if blank {
        (0..PER_PAGE).map(|_| BenchCard::blank()).collect()
    } else {
        cards(&mut conn, &session, &section, &paper).await?
    };
    let (reckoner, reckoner_notes) = reckoner_rows(&mut conn, &session, &paper, state.mint()).await?;
    let count = cards.len();
    Ok(Page::new(CardsPage {
        frame,
        id,
        title: session.title.clone(),
        held_on: session.held_on.strftime("%-d %b %Y").to_string(),
        section_name: section.name,
        paper: format!("{}, EI {}", paper.name, decimal::written(paper.exposure_index_milli, 3)),
        printed: state.now().as_words(&zone),
        blank,
        sheets_of_cards: in_pages(cards),
        cards: count,
        reckoner,
        reckoner_notes,
        sky_letters: SKY_LETTERS.map(|(letters, sky)| (letters, short(sky))).to_vec(),
    })
    .into_response())
}

/// A sky as a card names it: without its shadows and what stands above it.
fn short(sky: Sky) -> &'static str {
    let words = sky.label();
    let end = [",", " under "].iter().filter_map(|part| words.find(part)).min();
    &words[..end.unwrap_or(words.len())]
}

fn in_pages(cards: Vec<BenchCard>) -> Vec<Vec<BenchCard>> {
    let mut pages: Vec<Vec<BenchCard>> = Vec::new();
    for card in cards {
        match pages.last_mut().filter(|page| page.len() < PER_PAGE) {
            Some(page) => page.push(card),
            None => pages.push(vec![card]),
        }
    }
    pages
}

/// One card for each camera that somebody has, then one for each student without a camera.
async fn cards(
    conn: &mut SqliteConnection,
    session: &LabSession,
    section: &Section,
    paper: &Paper,
) -> Result<Vec<BenchCard>, WebError> {
    let mut cards = Vec::new();
    let mut with_camera = Vec::new();
    for camera in cameras::list_of_section(conn, section.id).await? {
        let holders = cameras::students_of(conn, camera.id).await?;
        let holders: Vec<Student> = holders.into_iter().filter(|student| student.left_at.is_none()).collect();
        if holders.is_empty() {
            continue;
        }
        let hole = holes::find_latest(conn, camera.id).await?;
        let learned = match films::find_loaded(conn, paper, &camera).await? {
            Some(loaded) => Some(Learned::load(conn, session, &loaded, &camera, hole.as_ref()).await?),
            None => None,
        };
        let formula = HoleFormula::of(session).map_err(|error| WebError::Ours(error.to_string()))?;
        let mut held = HeldBack::NOTHING;
        for holder in &holders {
            held = held.and(held_back(conn, Some(session), section.id, holder.id).await?);
        }
        let card = BenchCard::of_camera(&camera, &holders, hole.as_ref(), formula, learned.as_ref());
        cards.push(BenchCard { held, ..card });
        with_camera.extend(holders.into_iter().map(|student| student.id));
    }
    for student in students::list(conn, section.id).await? {
        if !with_camera.contains(&student.id) {
            let held = held_back(conn, Some(session), section.id, student.id).await?;
            cards.push(BenchCard { held, ..BenchCard::of_student(&student) });
        }
    }
    Ok(cards)
}

/// The table on cards that know no camera. `nobodys` is an id that no camera has: what the paper's
/// sheets have shown counts, no camera's own ways do.
async fn reckoner_rows(
    conn: &mut SqliteConnection,
    session: &LabSession,
    paper: &Paper,
    nobodys: CameraId,
) -> Result<(Vec<ReckonerRow>, String), WebError> {
    let taught = exposures::list_teaching(conn, paper.id, MOST_TEACHING).await?;
    let lesson = taught_by(&taught, paper).for_camera(&session.id, &nobodys);
    let formula = HoleFormula::of(session).map_err(|error| WebError::Ours(error.to_string()))?;
    let lines = reckoner(formula, paper, lesson);
    let said = sentences(&notes(lines.iter().flat_map(|line| &line.times)));
    let rows = lines
        .into_iter()
        .map(|line| ReckonerRow {
            distance: decimal::written((line.hole_to_film.as_mm() * 10.0).round() as i64, 1),
            hole: format!("{:.2}", line.hole.as_mm()),
            thousandths: format!("{:.1}", line.setting().as_inches() * 1000.0),
            times: line.times.map(|time| time.text),
        })
        .collect();
    Ok((rows, said))
}
