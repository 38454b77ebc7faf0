//! `/front/waste`: the containers, how full they are, by when they must be gone.

mod book;
pub(super) mod container;
mod container_acts;
mod discharges;
mod filling;
mod label;
mod leaving;
mod limit;
mod log;
mod looks;
mod recovery;
mod set_up;
mod years;

use askama::Template;
use axum::{
    extract::State,
    response::{IntoResponse, Response},
};
use jiff::civil::Date;
use sqlx::SqliteConnection;

use crate::{
    domain::{
        book::{Vessel, written},
        ids::ContainerId,
        instant::Instant,
        measure::{units::Units, volume},
        site::{
            Site,
            site_rule::{Asks, SiteRule},
        },
        waste::{
            container::{Container, ContainerState},
            deadline::{Deadline, earliest},
            held::beside_its_label,
            standing_volume::StandingVolume,
        },
    },
    drawing::level::Level,
    store::{
        Error, book as stored_book,
        site::{site_waste, sites},
        waste::{containers, deadlines::DeadlineSources},
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

use self::limit::Limit;
use super::{
    first_steps,
    home::{Attention, NothingYet},
    vessel_acts::path_of,
};

/// The routes of waste.
pub fn routes() -> Vec<Route> {
    let mut routes = vec![page("/front/waste", Access::Staff, show)];
    routes.extend(set_up::routes());
    routes.extend(container::routes());
    routes.extend(container_acts::routes());
    routes.extend(filling::routes());
    routes.extend(leaving::routes());
    routes.extend(looks::routes());
    routes.extend(recovery::routes());
    routes.extend(years::routes());
    routes.extend(label::routes());
    routes.extend(book::routes());
    routes.extend(log::routes());
    routes.extend(discharges::routes());
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
    volumes: Vec<VolumeLine>,
    next_removal: String,
    put_away: Vec<(ContainerId, String)>,
}

struct ContainerBlock {
    id: ContainerId,
    name: String,
    contents: &'static str,
    state: &'static str,
    tag: &'static str,
    fill: Level,
    silver: String,
    limit: Option<Limit>,
    beside: String,
    place: String,
    start: String,
    deadlines: Vec<DeadlineLine>,
    label_ready: bool,
}

/// One rule applied to one container, in words.
pub(super) struct DeadlineLine {
    pub words: String,
    /// What the other reading says, where the start is not counted.
    pub other: String,
    /// The countdown: `12 days left`.
    pub left: String,
    /// The clock it counts from and when that began.
    pub clock: String,
    pub rule: String,
    pub source: String,
    /// The class of its tag, and the tag's word.
    pub tag: &'static str,
    pub state: &'static str,
}

/// The volume that stands here against the limit of a rule.
pub(super) struct VolumeLine {
    pub words: String,
    pub rule: String,
    pub source: String,
    pub tag: &'static str,
    pub state: &'static str,
}

/// A date as people write it.
pub(super) fn day(date: Date) -> String {
    date.strftime("%-d %b %Y").to_string()
}

/// How close a deadline may come before it is watched: two weeks. Common practice, no source.
const NEAR_DAYS: i32 = 14;
/// From this share of a volume on, it is watched. Common practice, no source.
const NEAR_SHARE: f64 = 0.8;

/// Deadlines in words, most pressing first.
pub(super) fn deadline_lines(mut found: Vec<Deadline>, today: Date) -> Vec<DeadlineLine> {
    found.sort_by_key(|deadline| (deadline.by.is_none(), deadline.by));
    found.into_iter().map(|deadline| deadline_line(deadline, today)).collect()
}

fn deadline_line(deadline: Deadline, today: Date) -> DeadlineLine {
    let clock = match deadline.since {
        Some(since) => format!("clock: {}, began {}", deadline.clock, day(since)),
        None => format!("clock: {}, not begun", deadline.clock),
    };
    let other = deadline
        .by_other_reading
        .filter(|other| Some(*other) != deadline.by)
        .map_or_else(String::new, |by| format!("with the start not counted, {}", day(by)));
    let (words, left, tag, state) = match deadline.by {
        Some(by) => {
            let left = today.until(by).map_or(0, |span| span.get_days());
            let (tag, state) = match left {
                ..0 => ("change", "overdue"),
                0..=NEAR_DAYS => ("watch", "near"),
                _ => ("open", "not yet due"),
            };
            (format!("remove by {}", day(by)), countdown(left), tag, state)
        }
        None => ("its clock has not begun".to_owned(), String::new(), "closed", "waiting"),
    };
    DeadlineLine { words, other, left, clock, rule: deadline.rule, source: deadline.source, tag, state }
}

/// Days left, in words.
fn countdown(left: i32) -> String {
    match left {
        ..-1 => format!("{} days overdue", -left),
        -1 => "1 day overdue".to_owned(),
        0 => "today is the last day".to_owned(),
        1 => "1 day left".to_owned(),
        _ => format!("{left} days left"),
    }
}

/// What stands here against each volume that a rule names: words, and the class of a tag.
pub(super) fn volume_lines(rules: &[SiteRule], standing: &StandingVolume) -> Vec<VolumeLine> {
    let here = standing.now_ul();
    rules
        .iter()
        .filter_map(|rule| {
            let Asks::AtMost { volume_ul, .. } = rule.asks else { return None };
            let share = here as f64 / volume_ul as f64;
            let (tag, state) = match share {
                share if share > 1.0 => ("change", "past it"),
                share if share >= NEAR_SHARE => ("watch", "near"),
                _ => ("open", "below"),
            };
            Some(VolumeLine {
                words: format!("{} of {} stand here", volume::in_words(here), volume::in_words(volume_ul)),
                rule: rule.in_words(),
                source: rule.source.clone(),
                tag,
                state,
            })
        })
        .collect()
}

/// Containers near or past a deadline, and those whose label cannot be printed though something is
/// in them.
pub(super) async fn attention(conn: &mut SqliteConnection, site: &Site, now: Instant) -> Result<Vec<Attention>, Error> {
    let sources = DeadlineSources::find(conn, site).await?;
    let waste = site_waste::find(conn, site.id).await?;
    let today = now.local(&site.zone).date();
    let (mut found, mut past_limit) = (Vec::new(), Vec::new());
    for line in volume_lines(&sources.rules, &sources.standing).into_iter().filter(|line| line.tag != "open") {
        found.push(Attention {
            words: format!("{} ({}): {}.", line.words, line.state, line.rule),
            path: "/front/waste".to_owned(),
            link: "Open waste".to_owned(),
        });
    }
    for container in containers::list(conn).await? {
        if container.is_removed() || container.is_put_away() {
            continue;
        }
        let (holds, basis) = stored_book::balance_and_basis(conn, Vessel::Container(container.id)).await?;
        if Limit::of(&container, holds, basis, site).is_some_and(|limit| limit.warns()) {
            past_limit.push(container.name());
        }
        if let Some(due) = crate::lab::waste::looks::due(conn, &container, site, &waste).await?
            && due < today
        {
            found.push(Attention {
                words: format!("{}: nobody looked at it since it was due on {}.", container.title(), day(due)),
                path: path_of(Vessel::Container(container.id)),
                link: format!("Open {}", container.name()),
            });
        }
        let pressing = deadline_lines(sources.running(&container), today).into_iter().next();
        let words = match pressing {
            Some(line) if line.tag == "change" || line.tag == "watch" => {
                format!("{}: {}, {}.", container.title(), line.words, line.left)
            }
            _ if container.first_drop_at.is_some() && container.hazards.trim().is_empty() => {
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
    if !past_limit.is_empty() {
        found.push(Attention {
            words: format!(
                "At or above the site’s limit for silver, by the high estimate or a laboratory: {}.",
                past_limit.join(", ")
            ),
            path: "/front/waste".to_owned(),
            link: "Open waste".to_owned(),
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
    let sources = DeadlineSources::find(&mut conn, &site).await?;
    let today = state.now().local(&site.zone).date();
    let (mut here, mut removed, mut put_away) = (Vec::new(), Vec::new(), Vec::new());
    for container in containers::list(&mut conn).await? {
        if container.is_put_away() {
            put_away.push((container.id, container.title()));
            continue;
        }
        if let ContainerState::Removed { at } = container.state() {
            removed.push((container.id, container.title(), at.as_words(&site.zone)));
            continue;
        }
        let (holds, basis) = stored_book::balance_and_basis(&mut conn, Vessel::Container(container.id)).await?;
        here.push(ContainerBlock {
            id: container.id,
            name: container.title(),
            contents: container.contents.as_str(),
            state: container.state().as_str(),
            tag: tag_of(container.state()),
            fill: fill(&container, holds.volume_ul, format!("fill-{}", container.label_number), frame.units),
            silver: written::grams_if_known(holds.silver, basis),
            limit: Limit::of(&container, holds, basis, &site),
            beside: beside_its_label(container.contents, &containers::list_held(&mut conn, container.id).await?)
                .join(", "),
            place: container.place.clone(),
            start: container.first_drop_at.map_or_else(
                || "nothing in it yet".to_owned(),
                |at| format!("since {}", day(at.local(&site.zone).date())),
            ),
            deadlines: deadline_lines(sources.running(&container), today),
            label_ready: !container.hazards.trim().is_empty(),
        });
    }
    removed.reverse();
    let page = WastePage {
        here,
        removed,
        contact: site.disposal_contact.clone(),
        no_rules: sources.rules.is_empty(),
        volumes: volume_lines(&sources.rules, &sources.standing),
        next_removal: next_removal(&mut conn, &sources, today).await?,
        put_away,
        frame,
    };
    Ok(Page::new(page).into_response())
}

/// When the carrier comes next, and which deadlines lie before that.
async fn next_removal(conn: &mut SqliteConnection, sources: &DeadlineSources, today: Date) -> Result<String, Error> {
    let Some(on) = sources.next_visit else { return Ok(String::new()) };
    if on < today {
        return Ok(format!("The carrier was to come on {}: enter the next day.", day(on)));
    }
    let mut too_late = Vec::new();
    for container in containers::list(conn).await?.into_iter().filter(|one| !one.is_removed()) {
        if earliest(&sources.running(&container)).is_some_and(|by| by < on) {
            too_late.push(container.name());
        }
    }
    let late = if too_late.is_empty() {
        String::new()
    } else {
        format!(" Too late for {}: its day comes before that.", too_late.join(", "))
    };
    Ok(format!("The carrier comes next on {}.{late}", day(on)))
}

/// How full a container is.
pub(super) fn fill(container: &Container, holds_ul: i64, id: String, units: Units) -> Level {
    let share = holds_ul as f64 / container.capacity_ul as f64;
    let of = format!("{}: {} in it", units.volume(container.capacity_ul), units.volume(holds_ul));
    Level::of(id, share, "How full it is", &of)
}
