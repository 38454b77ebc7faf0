//! `/front`: the front bench's first page.

use askama::Template;
use axum::{
    extract::State,
    response::{IntoResponse, Response},
};
use jiff::tz::TimeZone;
use sqlx::SqliteConnection;

use crate::{
    domain::{
        ids::{LabSessionId, SectionId},
        instant::Instant,
        lab_session::LabSession,
        section::Section,
        site::Site,
    },
    store::{Error, lab_sessions, papers, products, sections, site_rules, sites, students},
    web::{
        access::{Access, Staff},
        error::WebError,
        frame::Frame,
        page::Page,
        routes::{Route, page},
        state::AppState,
    },
};

use super::{
    chemistry,
    first_steps::{self, FirstSteps},
    waste,
};

/// A session open longer than this was probably forgotten.
const LONGEST_EVENING_MICROS: i64 = 12 * 3_600_000_000;

/// The routes of this page.
pub fn routes() -> Vec<Route> {
    vec![page("/front", Access::Staff, show)]
}

#[derive(Template)]
#[template(path = "front/home.html")]
struct HomePage {
    frame: Frame,
    first_steps: FirstSteps,
    has_site: bool,
    attention: Vec<Attention>,
    sections: Vec<SectionBlock>,
}

/// What an assistant sees while an instructor has not set up what the page needs.
#[derive(Template)]
#[template(path = "front/nothing_yet.html")]
pub(super) struct NothingYet {
    pub frame: Frame,
    pub first_steps: FirstSteps,
}

/// Something that wants looking after, and where.
pub(super) struct Attention {
    pub words: String,
    pub path: String,
    pub link: String,
}

struct SectionBlock {
    id: SectionId,
    name: String,
    door_code: String,
    people: String,
    sessions: Vec<SessionLine>,
}

/// A session in a list.
pub(super) struct SessionLine {
    pub id: LabSessionId,
    pub title: String,
    pub held_on: String,
    pub state: &'static str,
}

impl From<&LabSession> for SessionLine {
    fn from(session: &LabSession) -> Self {
        Self {
            id: session.id,
            title: session.title.clone(),
            held_on: session.held_on.strftime("%-d %b %Y").to_string(),
            state: session.state.as_str(),
        }
    }
}

/// The page.
async fn show(State(state): State<AppState>, frame: Frame, _staff: Staff) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let first_steps = first_steps::find(&mut conn).await?;
    let site = sites::find(&mut conn).await?;
    let mut attention = Vec::new();
    if let Some(site) = &site {
        look_over_site(&mut conn, site, &mut attention).await?;
        attention.extend(chemistry::attention(&mut conn, state.now()).await?);
        attention.extend(waste::attention(&mut conn, site, state.now()).await?);
    }
    let zone = site.as_ref().map_or(TimeZone::UTC, |site| site.zone.clone());
    let mut blocks = Vec::new();
    for section in sections::list(&mut conn).await? {
        let sessions = lab_sessions::list(&mut conn, section.id).await?;
        for session in &sessions {
            look_over_session(session, &section, state.now(), &zone, &mut attention);
        }
        let roster = students::list(&mut conn, section.id).await?;
        blocks.push(SectionBlock {
            id: section.id,
            people: people(roster.len(), roster.iter().filter(|student| student.joined_at.is_some()).count()),
            name: section.name,
            door_code: section.door_code,
            sessions: sessions.iter().map(SessionLine::from).collect(),
        });
    }
    Ok(Page::new(HomePage { frame, first_steps, has_site: site.is_some(), attention, sections: blocks })
        .into_response())
}

/// `24 on the roster, 3 have joined`.
pub(super) fn people(on_roster: usize, joined: usize) -> String {
    match (on_roster, joined) {
        (0, _) => "nobody on the roster yet".to_owned(),
        (n, 0) => format!("{n} on the roster, nobody has joined yet"),
        (n, 1) => format!("{n} on the roster, 1 has joined"),
        (n, joined) => format!("{n} on the roster, {joined} have joined"),
    }
}

async fn look_over_site(conn: &mut SqliteConnection, site: &Site, attention: &mut Vec<Attention>) -> Result<(), Error> {
    let mut missing = Vec::new();
    if site.emergency_line.is_empty() {
        missing.push("the emergency line");
    }
    if site.disposal_contact.is_empty() {
        missing.push("the disposal contact");
    }
    if site_rules::list(conn).await?.is_empty() {
        missing.push("a rule for when waste must be gone");
    }
    if !missing.is_empty() {
        attention.push(Attention {
            words: format!("Not entered: {}. Ask your safety office.", missing.join(", ")),
            path: "/front/site".to_owned(),
            link: "Open the site".to_owned(),
        });
    }
    if !papers::list(conn).await?.is_empty() && products::list(conn).await?.is_empty() {
        attention.push(Attention {
            words: "The stockroom has paper but no developer, stop bath or fixer.".to_owned(),
            path: "/front/stockroom".to_owned(),
            link: "Open the stockroom".to_owned(),
        });
    }
    Ok(())
}

fn look_over_session(
    session: &LabSession,
    section: &Section,
    now: Instant,
    zone: &TimeZone,
    attention: &mut Vec<Attention>,
) {
    use crate::domain::lab_session::SessionState;
    let today = now.local(zone).date();
    let words = match session.state {
        SessionState::Open { opened_at } if now.micros_since(opened_at) > LONGEST_EVENING_MICROS => {
            format!(
                "{}, {}: open since {}. Close it when the evening is over.",
                section.name,
                session.title,
                opened_at.as_words(zone)
            )
        }
        SessionState::Planned if session.held_on == today => {
            format!("{}, {}: is held today and not open yet.", section.name, session.title)
        }
        SessionState::Planned if session.held_on < today => {
            format!("{}, {}: its date is past and it was never opened.", section.name, session.title)
        }
        _ => return,
    };
    attention.push(Attention {
        words,
        path: format!("/front/sessions/{}", session.id),
        link: "Open its page".to_owned(),
    });
}
