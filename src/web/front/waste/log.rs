//! `/front/waste/disposal-log`: the disposal log on paper, the same rows as its CSV file.

use askama::Template;
use axum::{extract::State, response::Response};

use crate::{
    domain::{book::written, decimal, site::Site, volume},
    export::disposal_log::{self, Row},
    store::sites,
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
    super::{book_words::BookWords, vessel_acts::shown},
    day,
};

pub(super) fn routes() -> Vec<Route> {
    vec![page("/front/waste/disposal-log", Access::Staff, show)]
}

#[derive(Template)]
#[template(path = "print/disposal_log.html")]
struct LogPage {
    frame: Frame,
    site: String,
    printed: String,
    contact: String,
    rows: Vec<LogLine>,
}

struct LogLine {
    entry: i64,
    when: String,
    event: &'static str,
    from: String,
    to: String,
    contents: &'static str,
    volume: String,
    silver: String,
    basis: &'static str,
    start: String,
    remove_by: String,
    went_with: String,
    by: String,
    remark: String,
}

async fn show(State(state): State<AppState>, frame: Frame, _staff: Staff) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let site = sites::find(&mut conn).await?.ok_or(WebError::NotFound("the site"))?;
    let words = BookWords::find(&mut conn, &site.zone).await?;
    let rows = disposal_log::rows(&mut conn, &site.zone).await?;
    let page = LogPage {
        rows: rows.iter().map(|row| line(row, &words, &site)).collect(),
        printed: state.now().as_words(&site.zone),
        contact: site.disposal_contact.clone(),
        site: site.name,
        frame,
    };
    Ok(shown(Page::new(page), false))
}

fn line(row: &Row, words: &BookWords, site: &Site) -> LogLine {
    let entry = &row.entry;
    let mut went_with = Vec::new();
    if let Some(removal) = &row.removal {
        went_with.push(format!("{} to {}", removal.carrier, removal.destination));
        went_with.extend(removal.mass_g.map(|grams| format!("{} kg", decimal::written(grams, 3))));
        went_with.extend(removal.copy_returned_on.map(|on| format!("copy back {}", day(on))));
    }
    went_with.extend(row.reference().map(str::to_owned));
    LogLine {
        entry: entry.number,
        when: entry.happened_at.as_words(&site.zone),
        event: entry.kind.as_str(),
        from: words.account(entry.from).0,
        to: words.account(entry.to).0,
        contents: row.container.contents.as_str(),
        volume: volume::in_words(entry.amount.volume_ul),
        silver: written::grams(entry.amount.silver),
        basis: entry.basis.as_str(),
        start: row.container.first_drop_at.map_or_else(String::new, |at| day(at.local(&site.zone).date())),
        remove_by: row.remove_by.map_or_else(|| "no deadline entered".to_owned(), day),
        went_with: went_with.join(", "),
        by: words.person(entry.recorded_by),
        remark: entry.remark.clone(),
    }
}
