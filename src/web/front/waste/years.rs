//! `/front/waste/years`: each calendar year's statement of what stood in containers, on paper.

use askama::Template;
use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};
use sqlx::SqliteConnection;

use crate::{
    calc::{
        quantity::Litres,
        silver::waste::{LEAST_TURNOVER_PERCENT, turnover_percent},
        working::figures,
    },
    domain::{
        book::{Amount, written},
        example_rules::VERIFY,
        site::Site,
        year_statement::{Line, YearStatement},
    },
    export::year_statement::statements,
    store::{Error, book as stored_book, containers, removals, site_waste, sites},
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
    let mut years: Vec<(i16, String, String)> = statements(&mut conn, &site.zone)
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
    let found = statements(&mut conn, &site.zone).await?.into_iter().find(|one| one.year == year);
    let said = found.ok_or(WebError::NotFound("a statement of this year"))?;
    let waste = site_waste::find(&mut conn, site.id).await?;
    let (removals, reclaimed_ul) = removal_lines(&mut conn, &site, year).await?;
    let page = YearPage {
        year,
        running: state.now().local(&site.zone).date().year() == year,
        printed: state.now().as_words(&site.zone),
        contact: site.disposal_contact.clone(),
        rows: rows(&said),
        turnover: turnover(&said, reclaimed_ul),
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
    rows
}

/// What went to have its silver reclaimed against what stood here at the start of the year.
fn turnover(said: &YearStatement, reclaimed_ul: i64) -> String {
    let litres = |ul: i64| Litres::new(ul as f64 / 1e6).ok();
    let (Some(start), Some(reclaimed)) = (litres(said.total.start.volume_ul), litres(reclaimed_ul)) else {
        return String::new();
    };
    if said.total.start.volume_ul <= 0 {
        return String::new();
    }
    let percent = turnover_percent(start, reclaimed);
    let below = if percent < LEAST_TURNOVER_PERCENT { "less than" } else { "at least" };
    format!(
        "Taken away to have its silver reclaimed: {} of {} that stood here at the start of the year, {} %: {below} the {} % \
         that 40 CFR 261.1(c)(8) asks for (annual CFR 2015)",
        crate::domain::volume::in_words(reclaimed_ul),
        crate::domain::volume::in_words(said.total.start.volume_ul),
        figures(percent, 3),
        LEAST_TURNOVER_PERCENT
    )
}

/// The removals of the year that stand, and how much of them went to be reclaimed.
async fn removal_lines(conn: &mut SqliteConnection, site: &Site, year: i16) -> Result<(Vec<RemovalLine>, i64), Error> {
    let waste = site_waste::find(conn, site.id).await?;
    let (mut lines, mut reclaimed) = (Vec::new(), 0);
    for removal in removals::list(conn).await? {
        let left = removal.removed_at.local(&site.zone).date();
        if removal.undone_at.is_some() || left.year() != year {
            continue;
        }
        let entries = stored_book::list_of_movement(conn, removal.movement).await?;
        let volume_ul: i64 = entries.iter().map(|entry| entry.amount.volume_ul).sum();
        if removal.to_reclaim_silver {
            reclaimed += volume_ul;
        }
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
    Ok((lines, reclaimed))
}
