//! `/front/waste`: the containers, how full they are, by when they must be gone.

mod book;
pub(super) mod container;
mod container_acts;
mod label;
mod log;
mod set_up;

use askama::Template;
use axum::{
    extract::State,
    response::{IntoResponse, Response},
};
use jiff::civil::Date;
use sqlx::SqliteConnection;

use crate::{
    domain::{
        book::Vessel,
        container::{Container, ContainerState},
        deadline::{Deadline, deadlines},
        ids::ContainerId,
        instant::Instant,
        site::Site,
        site_rule::SiteRule,
        volume,
    },
    drawing::level::Level,
    store::{Error, book as stored_book, containers, site_rules, sites},
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
    book_words, first_steps,
    home::{Attention, NothingYet},
    vessel_acts::path_of,
};

/// The routes of waste.
pub fn routes() -> Vec<Route> {
    let mut routes = vec![page("/front/waste", Access::Staff, show)];
    routes.extend(set_up::routes());
    routes.extend(container::routes());
    routes.extend(container_acts::routes());
    routes.extend(label::routes());
    routes.extend(book::routes());
    routes.extend(log::routes());
    routes
}

#[derive(Template)]
#[template(path = "front/waste.html")]
struct WastePage {
    frame: Frame,
    here: Vec<ContainerBlock>,
    removed: Vec<(ContainerId, String, String)>,
    contact: String,
    no_rules: bool,
}

struct ContainerBlock {
    id: ContainerId,
    name: String,
    contents: &'static str,
    state: &'static str,
    tag: &'static str,
    fill: Level,
    silver: String,
    place: String,
    start: String,
    deadlines: Vec<DeadlineLine>,
    label_ready: bool,
}

/// One rule applied to one container, in words.
pub(super) struct DeadlineLine {
    pub words: String,
    pub rule: String,
    pub source: String,
    /// The class of its tag, and the tag's word.
    pub tag: &'static str,
    pub state: &'static str,
}

/// A date as people write it.
pub(super) fn day(date: Date) -> String {
    date.strftime("%-d %b %Y").to_string()
}

/// How close a deadline may come before it is watched: two weeks. Common practice, no source.
const NEAR_DAYS: i32 = 14;

/// The deadlines of a container, most pressing first.
pub(super) fn deadline_lines(
    container: &Container,
    rules: &[SiteRule],
    site: &Site,
    now: Instant,
) -> Vec<DeadlineLine> {
    if container.is_removed() {
        return Vec::new();
    }
    let mut found = deadlines(container, rules, &site.zone);
    found.sort_by_key(|deadline| (deadline.by.is_none(), deadline.by));
    let today = now.local(&site.zone).date();
    found.into_iter().map(|deadline| deadline_line(deadline, today)).collect()
}

fn deadline_line(deadline: Deadline, today: Date) -> DeadlineLine {
    let (words, tag, state) = match deadline.by {
        Some(by) => {
            let left = today.until(by).map_or(0, |span| span.get_days());
            let (tag, state) = match left {
                ..0 => ("change", "overdue"),
                0..=NEAR_DAYS => ("watch", "near"),
                _ => ("open", "running"),
            };
            (format!("remove by {}", day(by)), tag, state)
        }
        None => ("its clock has not begun".to_owned(), "closed", "waiting"),
    };
    DeadlineLine { words, rule: deadline.rule, source: deadline.source, tag, state }
}

/// Containers near or past a deadline, and those whose label cannot be printed though something is
/// in them.
pub(super) async fn attention(conn: &mut SqliteConnection, site: &Site, now: Instant) -> Result<Vec<Attention>, Error> {
    let rules = site_rules::list(conn).await?;
    let mut found = Vec::new();
    for container in containers::list(conn).await? {
        let pressing = deadline_lines(&container, &rules, site, now).into_iter().next();
        let words = match pressing {
            Some(line) if line.tag == "change" || line.tag == "watch" => {
                format!("{}: {} ({}).", container.title(), line.words, line.state)
            }
            _ if !container.is_removed()
                && container.first_drop_at.is_some()
                && container.hazards.trim().is_empty() =>
            {
                format!("{} has something in it and no label: its hazards are not entered.", container.title())
            }
            _ => continue,
        };
        found.push(Attention {
            words,
            path: path_of(Vessel::Container(container.id)),
            link: format!("Open {}", container.name()),
        });
    }
    Ok(found)
}

/// The class of a state's tag.
pub(super) fn tag_of(state: ContainerState) -> &'static str {
    match state {
        ContainerState::Filling => "open",
        ContainerState::Full => "watch",
        ContainerState::Removed { .. } => "closed",
    }
}

async fn show(State(state): State<AppState>, frame: Frame, _staff: Staff) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let Some(site) = sites::find(&mut conn).await? else {
        let first_steps = first_steps::find(&mut conn).await?;
        return Ok(Page::new(NothingYet { frame, first_steps }).into_response());
    };
    let rules = site_rules::list(&mut conn).await?;
    let (mut here, mut removed) = (Vec::new(), Vec::new());
    for container in containers::list(&mut conn).await? {
        if let ContainerState::Removed { at } = container.state {
            removed.push((container.id, container.title(), at.as_words(&site.zone)));
            continue;
        }
        let holds = stored_book::balance(&mut conn, Vessel::Container(container.id)).await?;
        here.push(ContainerBlock {
            id: container.id,
            name: container.title(),
            contents: container.contents.as_str(),
            state: container.state.as_str(),
            tag: tag_of(container.state),
            fill: fill(&container, holds.volume_ul, format!("fill-{}", container.label_number)),
            silver: book_words::silver(holds.silver),
            place: container.place.clone(),
            start: container.first_drop_at.map_or_else(
                || "nothing in it yet".to_owned(),
                |at| format!("since {}", day(at.local(&site.zone).date())),
            ),
            deadlines: deadline_lines(&container, &rules, &site, state.now()),
            label_ready: !container.hazards.trim().is_empty(),
        });
    }
    removed.reverse();
    let page = WastePage { here, removed, contact: site.disposal_contact.clone(), no_rules: rules.is_empty(), frame };
    Ok(Page::new(page).into_response())
}

/// How full a container is.
pub(super) fn fill(container: &Container, holds_ul: i64, id: String) -> Level {
    let share = holds_ul as f64 / container.capacity_ul as f64;
    let of = format!("{} (holds {})", volume::in_words(container.capacity_ul), volume::in_words(holds_ul));
    Level::of(id, share, "How full it is", &of)
}
