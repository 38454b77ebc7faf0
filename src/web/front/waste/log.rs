//! `/front/waste/disposal-log`: the disposal log on paper, the same rows as its CSV file.

use askama::Template;
use axum::{
    extract::{RawQuery, State},
    response::Response,
};

use crate::{
    domain::{
        book::{Basis, Entry, written},
        instant::Instant,
        measure::{decimal, volume},
        site::{Site, site_waste::SiteWaste},
        waste::container::Container,
    },
    export::disposal_log::{self, Row},
    store::{
        book as stored_book,
        site::{site_waste, sites},
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
    super::{book_words::BookWords, vessel_acts::shown},
    day,
};

pub(super) fn routes() -> Vec<Route> {
    vec![page("/front/waste/disposal-log", Access::Staff, show)]
}

/// How many rows a part of the log shows: a year of a busy department is no one page of a browser.
const IN_A_PART: usize = 200;

#[derive(Template)]
#[template(path = "print/disposal_log.html")]
struct LogPage {
    frame: Frame,
    site: String,
    printed: String,
    contact: String,
    keep: String,
    year: i16,
    years: Vec<i16>,
    part: usize,
    /// All of its parts; how many pages each takes on paper is the printer’s to count.
    parts: Vec<usize>,
    rows: Vec<LogLine>,
}

struct LogLine {
    entry: i64,
    when: String,
    /// When it was written, if that was on another day.
    written: String,
    /// What took it back, or what it takes back; empty for what stands.
    correction: String,
    event: &'static str,
    from: String,
    to: String,
    contents: &'static str,
    volume: String,
    silver: String,
    /// What the silver rests on; empty where it is not known.
    basis: &'static str,
    start: String,
    remove_by: String,
    went_with: String,
    by: String,
    remark: String,
}

async fn show(
    State(state): State<AppState>,
    frame: Frame,
    _staff: Staff,
    RawQuery(query): RawQuery,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let site = sites::find(&mut conn).await?.ok_or(WebError::NotFound("the site"))?;
    let asked = query.unwrap_or_default();
    let of = |name: &str| {
        form_urlencoded::parse(asked.as_bytes()).find(|(field, _)| field == name).map(|(_, value)| value.into_owned())
    };
    let this_year = state.now().local(&site.zone).date().year();
    let year =
        of("year").and_then(|text| text.parse().ok()).filter(|year| (1970..=9998).contains(year)).unwrap_or(this_year);
    let first =
        stored_book::find_first_waste(&mut conn).await?.map_or(this_year, |at| at.local(&site.zone).date().year());
    let words = BookWords::find(&mut conn, &site.zone).await?;
    let waste = site_waste::find(&mut conn, site.id).await?;
    let (from, before) = (new_year(year, &site)?, new_year(year + 1, &site)?);
    let entries = stored_book::list_waste(&mut conn, from, before).await?;
    let rows = disposal_log::rows_of(&mut conn, entries).await?;
    let parts = rows.len().div_ceil(IN_A_PART).max(1);
    let part = of("part").and_then(|text| text.parse().ok()).filter(|part| (1..=parts).contains(part)).unwrap_or(1);
    let on_it = rows.iter().skip((part - 1) * IN_A_PART).take(IN_A_PART);
    let page = LogPage {
        rows: on_it.map(|row| line(row, &words, &site, &waste)).collect(),
        printed: state.now().as_words(&site.zone),
        contact: site.disposal_contact.clone(),
        keep: match waste.keep_years {
            Some(years) => {
                format!("Papers are kept for {years} years after a removal at least ({}).", waste.keep_source)
            }
            None => "How long papers are kept is not entered: ask your safety office.".to_owned(),
        },
        year,
        years: (first.min(year)..=this_year.max(year)).rev().collect(),
        part,
        parts: (1..=parts).collect(),
        site: site.name,
        frame,
    };
    Ok(shown(Page::new(page), false))
}

/// The first moment of a year in the site's zone.
fn new_year(year: i16, site: &Site) -> Result<Instant, WebError> {
    Instant::from_local(&format!("{year:04}-01-01T00:00"), &site.zone).map_err(|_| WebError::NotFound("this year"))
}

/// When each clock of a container began.
fn clocks(container: &Container, site: &Site) -> String {
    let began = [("", container.first_drop_at), ("full ", container.full_at()), ("moved ", container.moved_at())];
    let began = began.into_iter().filter_map(|(name, at)| Some(format!("{name}{}", day(at?.local(&site.zone).date()))));
    began.collect::<Vec<_>>().join(", ")
}

/// When an entry was written, where that was on another day than it happened.
fn written_later(entry: &Entry, site: &Site) -> String {
    let on = |at: Instant| at.local(&site.zone).date();
    let later = entry.reverses.is_some() || on(entry.recorded_at) != on(entry.happened_at);
    if later { day(on(entry.recorded_at)) } else { String::new() }
}

fn line(row: &Row, words: &BookWords, site: &Site, waste: &SiteWaste) -> LogLine {
    let entry = &row.entry;
    let removal = row.removal.as_ref();
    let mut went_with: Vec<String> = Vec::new();
    went_with.extend(removal.map(|removal| format!("{} to {}", removal.carrier, removal.destination)));
    went_with.extend(row.mass_g.map(|grams| format!("{} kg", decimal::written(grams, 3))));
    went_with.extend(row.reference().map(str::to_owned));
    went_with.extend(removal.and_then(|removal| removal.copy_returned_on).map(|on| format!("copy back {}", day(on))));
    let kept = removal.and_then(|removal| waste.keep_until(removal.removed_at.local(&site.zone).date()));
    went_with.extend(kept.map(|until| format!("papers kept until {}", day(until))));
    LogLine {
        entry: entry.number,
        when: entry.happened_at.as_words(&site.zone),
        written: written_later(entry, site),
        correction: match (row.taken_back_by, entry.reverses) {
            (Some(by), _) => format!("taken back by entry {by}"),
            (None, Some(of)) => format!("takes entry {of} back"),
            (None, None) => String::new(),
        },
        event: entry.kind.as_str(),
        from: words.account(entry.from).0,
        to: words.account(entry.to).0,
        contents: row.contents.as_str(),
        volume: volume::in_words(entry.amount.volume_ul),
        silver: written::grams_if_known(entry.amount.silver, entry.basis),
        basis: if entry.basis == Basis::Unknown { "" } else { entry.basis.as_str() },
        start: row.container.as_ref().map_or_else(String::new, |container| clocks(container, site)),
        remove_by: row.deadline.as_ref().zip(row.remove_by()).map_or_else(
            || "no deadline entered".to_owned(),
            |(deadline, by)| format!("{} ({})", day(by), deadline.rule),
        ),
        went_with: went_with.join(", "),
        by: words.person(entry.recorded_by),
        remark: entry.remark.clone(),
    }
}
