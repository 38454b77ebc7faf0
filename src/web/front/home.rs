//! `/front`: the front bench's first page.

use askama::Template;
use axum::{
    extract::State,
    response::{IntoResponse, Response},
};
use jiff::tz::TimeZone;

use crate::{
    domain::{
        evening::lab_session::LabSession,
        ids::{LabSessionId, SectionId},
    },
    store::{
        evening::lab_sessions,
        people::{keeping, sections, students},
        site::sites,
    },
    web::kit::{
        access::{Access, Staff},
        error::WebError,
        frame::Frame,
        page::Page,
        routes::{Route, page},
        state::AppState,
    },
};

use super::{
    attention, chemistry,
    first_steps::{self, FirstSteps},
    safekeeping::{self, Safekeeping},
    waste,
};
pub(super) use super::{attention::Attention, nothing_yet::NothingYet};

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
    safekeeping: Safekeeping,
}

struct SectionBlock {
    id: SectionId,
    name: String,
    door_code: String,
    /// That it is archived, and whether its people are forgotten; empty while it is neither.
    kept: &'static str,
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
    let now = state.now();
    let (mut attention, mut blocks) = (Vec::new(), Vec::new());
    let site = sites::find(&mut conn).await?;
    if let Some(site) = &site {
        for section in sections::list(&mut conn).await? {
            let sessions = lab_sessions::list(&mut conn, section.id).await?;
            let kept = keeping::find(&mut conn, section.id).await?.words();
            // nothing of an archived section can be put right
            if kept.is_empty() {
                let of_session = |session| attention::of_session(session, &section, now, site);
                attention.extend(sessions.iter().filter_map(of_session));
                for session in &sessions {
                    attention.extend(attention::of_trays(&mut conn, session, now).await?);
                    attention.extend(attention::of_walk_ins(&mut conn, session, now).await?);
                }
            }
            let roster = students::list(&mut conn, section.id).await?;
            blocks.push(SectionBlock {
                id: section.id,
                kept,
                people: people(roster.len(), roster.iter().filter(|student| student.joined_at.is_some()).count()),
                name: section.name,
                door_code: section.door_code,
                sessions: sessions.iter().map(SessionLine::from).collect(),
            });
        }
        attention.extend(chemistry::attention(&mut conn, now).await?);
        attention.extend(waste::attention(&mut conn, site, now).await?);
        attention.extend(attention::of_site(&mut conn, site).await?);
    }
    let zone = site.as_ref().map_or(TimeZone::UTC, |site| site.zone.clone());
    let safekeeping = safekeeping::find(&mut conn, state.store.path(), now, &zone).await?;
    let has_site = site.is_some();
    Ok(Page::new(HomePage { frame, first_steps, has_site, attention, sections: blocks, safekeeping }).into_response())
}

/// `24 on the roster, 3 seated`.
pub(super) fn people(on_roster: usize, joined: usize) -> String {
    match (on_roster, joined) {
        (0, _) => "nobody on the roster yet".to_owned(),
        (n, 0) => format!("{n} on the roster, nobody seated yet"),
        (n, 1) => format!("{n} on the roster, 1 seated"),
        (n, joined) => format!("{n} on the roster, {joined} seated"),
    }
}
