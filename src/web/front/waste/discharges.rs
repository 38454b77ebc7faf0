//! `/front/waste/discharges`: the register of discharges, on paper: what was let go from whatever vessel,
//! and under whose authority.

use askama::Template;
use axum::{extract::State, response::Response};

use crate::{
    domain::{
        book::{Account, Amount, Entry, written},
        instant::Instant,
        measure::volume,
        site::example_rules::VERIFY,
    },
    export::disposal_log::{self, Row},
    store::{book as stored_book, site::sites},
    web::kit::{
        access::Access,
        error::WebError,
        frame::Frame,
        page::Page,
        routes::{Route, page},
        state::AppState,
    },
};

use super::super::{book_words::BookWords, vessel_acts::shown};

pub(super) fn routes() -> Vec<Route> {
    vec![page("/front/waste/discharges", Access::Staff, show)]
}

#[derive(Template)]
#[template(path = "print/discharges.html")]
struct RegisterPage {
    frame: Frame,
    site: String,
    printed: String,
    contact: String,
    lines: Vec<RegisterLine>,
    /// All that stand, volume and silver.
    all: (String, String),
    verify: &'static str,
}

struct RegisterLine {
    entry: i64,
    when: String,
    from: String,
    contents: &'static str,
    volume: String,
    silver: String,
    concentration: String,
    authority: String,
    by: String,
    remark: String,
    /// What took it back; empty while it stands.
    taken_back: String,
}

async fn show(State(state): State<AppState>, frame: Frame) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let site = sites::find(&mut conn).await?.ok_or(WebError::NotFound("the site"))?;
    let words = BookWords::find(&mut conn, &site.zone).await?;
    let let_go = |entry: &Entry| entry.to == Account::Discharged || entry.from == Account::Discharged;
    let entries = stored_book::list_waste(&mut conn, Instant::FIRST, Instant::LAST).await?.into_iter().filter(let_go);
    let rows = disposal_log::rows_of(&mut conn, entries).await?;
    let register = rows.iter().filter(|row| row.entry.to == Account::Discharged);
    let stand = register.clone().filter(|row| row.taken_back_by.is_none());
    let all = stand.fold(Amount::NOTHING, |sum, row| sum + row.entry.amount);
    let page = RegisterPage {
        lines: register.map(|row| line(row, &words, &site.zone)).collect(),
        all: (volume::in_words(all.volume_ul), written::grams(all.silver)),
        printed: state.now().as_words(&site.zone),
        contact: site.disposal_contact.clone(),
        verify: VERIFY,
        site: site.name,
        frame,
    };
    Ok(shown(Page::new(page), false))
}

fn line(row: &Row, words: &BookWords, zone: &jiff::tz::TimeZone) -> RegisterLine {
    let entry = &row.entry;
    let per_litre = entry.amount.ug_per_l();
    RegisterLine {
        entry: entry.number,
        when: entry.happened_at.as_words(zone),
        from: words.account(entry.from).0,
        contents: row.contents.as_str(),
        volume: volume::in_words(entry.amount.volume_ul),
        silver: written::grams_if_known(entry.amount.silver, entry.basis),
        concentration: per_litre
            .map_or_else(String::new, |silver| written::grams_per_litre_if_known(silver, entry.basis)),
        authority: row.authority.clone().unwrap_or_default(),
        by: words.person(entry.recorded_by),
        remark: entry.remark.clone(),
        taken_back: row.taken_back_by.map_or_else(String::new, |by| format!("taken back by entry {by}")),
    }
}
