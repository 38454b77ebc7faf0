//! `/front/waste/years`: each calendar year's statement of what stood in containers, on paper.

use std::collections::HashMap;

use askama::Template;
use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};
use sqlx::SqliteConnection;

use crate::{
    calc::{quantity::Litres, silver::waste::turnover_percent, working::figures},
    domain::{
        book::{self, Amount, Vessel, written},
        example_rules::VERIFY,
        ids::{ContainerId, MovementId},
        site::Site,
        site_waste::SiteWaste,
        year_statement::{Line, YearStatement},
    },
    export::year_statement::statements,
    store::{Error, book as stored_book, containers, recoveries, removals, site_waste, sites},
    web::{
        access::Access,
        error::WebError,
        frame::Frame,
        page::Page,
        routes::{Route, page},
        state::AppState,
    },
};

use super::day;

pub(super) fn routes() -> Vec<Route> {
    vec![page("/front/waste/years", Access::Staff, list), page("/front/waste/years/{year}", Access::Staff, show)]
}

#[derive(Template)]
#[template(path = "front/waste_years.html")]
struct YearsPage {
    frame: Frame,
    years: Vec<(i16, String, String)>,
}

async fn list(State(state): State<AppState>, frame: Frame) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let site = sites::find(&mut conn).await?.ok_or(WebError::NotFound("the site"))?;
    let this_year = state.now().local(&site.zone).date().year();
    let mut years: Vec<(i16, String, String)> = statements(&mut conn, &site.zone, this_year)
        .await?
        .iter()
        .map(|one| (one.year, volume(one.total.generated), volume(one.total.end)))
        .collect();
    years.reverse();
    Ok(Page::new(YearsPage { frame, years }).into_response())
}

#[derive(Template)]
#[template(path = "print/year_statement.html")]
struct YearPage {
    frame: Frame,
    year: i16,
    site: String,
    contact: String,
    printed: String,
    /// The running year ends only with December.
    running: bool,
    /// Name, then the eight figures: volume and silver.
    rows: Vec<(String, Vec<(String, String)>)>,
    /// Whether a star stands beside lines with a container whose silver is not known.
    silver_unknown: bool,
    turnover: String,
    removals: Vec<RemovalLine>,
    keep: String,
    verify: &'static str,
}

struct RemovalLine {
    container: String,
    left: String,
    to: String,
    reference: String,
    volume: String,
    copy: String,
    keep: String,
}

async fn show(State(state): State<AppState>, frame: Frame, Path(year): Path<i16>) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let site = sites::find(&mut conn).await?.ok_or(WebError::NotFound("the site"))?;
    let this_year = state.now().local(&site.zone).date().year();
    let found = statements(&mut conn, &site.zone, this_year).await?.into_iter().find(|one| one.year == year);
    let said = found.ok_or(WebError::NotFound("a statement of this year"))?;
    let waste = site_waste::find(&mut conn, site.id).await?;
    let removals = removal_lines(&mut conn, &site, &waste, year).await?;
    let recycled_ul = recycled(&mut conn, &site, year).await?;
    let page = YearPage {
        year,
        running: this_year == year,
        printed: state.now().as_words(&site.zone),
        contact: site.disposal_contact.clone(),
        rows: rows(&said),
        silver_unknown: said.total.silver_unknown,
        turnover: turnover(&said, recycled_ul, &waste),
        removals,
        keep: match waste.keep_years {
            Some(years) => format!("Papers of a removal are kept for {years} years at least: {}.", waste.keep_source),
            None => "How long papers are kept is not entered: ask your safety office.".to_owned(),
        },
        verify: VERIFY,
        site: site.name,
        frame,
    };
    Ok(Page::new(page).into_response())
}

fn volume(amount: Amount) -> String {
    crate::domain::volume::in_words(amount.volume_ul)
}

fn rows(said: &YearStatement) -> Vec<(String, Vec<(String, String)>)> {
    let cells = |line: &Line| {
        let columns = [
            line.start,
            line.generated,
            line.from_other_kinds,
            line.removed,
            line.recovered,
            line.discharged,
            line.written_off,
            line.end,
        ];
        columns.iter().map(|amount| (volume(*amount), written::grams(amount.silver))).collect()
    };
    let mut rows: Vec<_> = said.lines.iter().map(|(kind, line)| (kind.in_words().to_owned(), cells(line))).collect();
    rows.push(("all together".to_owned(), cells(&said.total)));
    for ((name, _), line) in rows.iter_mut().zip(said.lines.iter().map(|(_, line)| line).chain([&said.total])) {
        if line.silver_unknown {
            name.push_str(" *");
        }
    }
    rows
}

/// What was recycled in the year against what stood here at its start, by the share the site entered.
fn turnover(said: &YearStatement, recycled_ul: i64, waste: &SiteWaste) -> String {
    let litres = |ul: i64| Litres::new(ul as f64 / 1e6).ok();
    let (Some(start), Some(recycled)) = (litres(said.total.start.volume_ul), litres(recycled_ul)) else {
        return String::new();
    };
    if said.total.start.volume_ul <= 0 {
        return String::new();
    }
    let percent = turnover_percent(start, recycled);
    let against = match waste.turnover_percent {
        Some(least) if percent < least as f64 => {
            format!("less than the {least} % entered for the site ({})", waste.turnover_source)
        }
        Some(least) => format!("at least the {least} % entered for the site ({})", waste.turnover_source),
        None => "how much is to be recycled in a year is not entered: ask your safety office".to_owned(),
    };
    let in_words = crate::domain::volume::in_words;
    format!(
        "Taken away to have its silver reclaimed, or treated on site: {} of {} that stood here at the start of the year, \
         {} %: {against}",
        in_words(recycled_ul),
        in_words(said.total.start.volume_ul),
        figures(percent, 3),
    )
}

/// How much liquid was recycled in a year, microlitres: taken away to be reclaimed, or treated on site. The
/// same liquid may have been treated and then taken away, or treated twice, so that each container counts
/// once, with the largest of these.
async fn recycled(conn: &mut SqliteConnection, site: &Site, year: i16) -> Result<i64, Error> {
    let mut by_container: HashMap<ContainerId, i64> = HashMap::new();
    let mut count = |container, volume_ul: i64| {
        let most = by_container.entry(container).or_default();
        *most = volume_ul.max(*most);
    };
    for removal in removals::list(conn).await? {
        let left = removal.removed_at.local(&site.zone).date();
        if removal.undone_at.is_none() && left.year() == year && removal.to_reclaim_silver {
            count(removal.container, volume_of(conn, removal.movement).await?);
        }
    }
    for recovery in recoveries::list(conn).await? {
        let entries = stored_book::list_of(conn, Vessel::Container(recovery.container)).await?;
        let standing = book::standing(&entries).find(|entry| entry.movement == recovery.movement);
        let Some(entry) = standing.filter(|entry| entry.happened_at.local(&site.zone).date().year() == year) else {
            continue;
        };
        let vessel = Vessel::Container(recovery.container);
        let before = entries.iter().filter(|one| one.number < entry.number);
        let held: i64 = before.map(|one| one.effect_on(vessel).volume_ul).sum();
        count(recovery.container, recovery.treated_ul.unwrap_or(held));
    }
    Ok(by_container.values().sum())
}

/// How much a movement moved, microlitres.
async fn volume_of(conn: &mut SqliteConnection, movement: MovementId) -> Result<i64, Error> {
    let entries = stored_book::list_of_movement(conn, movement).await?;
    Ok(entries.iter().map(|entry| entry.amount.volume_ul).sum())
}

/// The removals of the year that stand.
async fn removal_lines(
    conn: &mut SqliteConnection,
    site: &Site,
    waste: &SiteWaste,
    year: i16,
) -> Result<Vec<RemovalLine>, Error> {
    let mut lines = Vec::new();
    for removal in removals::list(conn).await? {
        let left = removal.removed_at.local(&site.zone).date();
        if removal.undone_at.is_some() || left.year() != year {
            continue;
        }
        let volume_ul = volume_of(conn, removal.movement).await?;
        let container = containers::find(conn, removal.container).await?;
        lines.push(RemovalLine {
            container: container.map_or_else(String::new, |container| container.title()),
            left: day(left),
            to: format!("{} to {}", removal.carrier, removal.destination),
            reference: removal.reference,
            volume: crate::domain::volume::in_words(volume_ul),
            copy: removal.copy_returned_on.map_or_else(|| "not yet".to_owned(), day),
            keep: waste.keep_until(left).map_or_else(|| "not entered".to_owned(), day),
        });
    }
    Ok(lines)
}
