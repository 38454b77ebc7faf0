//! `/front/waste/book`: the silver book, and taking back what was booked by mistake.

use std::collections::{BTreeSet, HashMap};

use askama::Template;
use axum::{
    extract::{Path, RawQuery, State},
    response::Response,
};

use crate::{
    domain::{
        book::{Account, Amount, MovementKind, Vessel, laws::Totals, written},
        ids::MovementId,
        measure::volume,
    },
    store::{WriteError, book as stored_book, book::reversals, people::change_log, site::sites},
    web::{
        kit::{
            access::{Access, Staff},
            error::WebError,
            form::Form,
            frame::Frame,
            page::{Page, see_other},
            routes::{Route, change, page},
            state::AppState,
        },
        request::posted::Posted,
    },
};

use super::super::{
    book_words::{self, BookWords, EntryLine, asked_before, consequence},
    vessel_acts::{log, shown},
};

pub(super) fn routes() -> Vec<Route> {
    vec![
        page("/front/waste/book", Access::Staff, show),
        page("/front/waste/book/{movement}", Access::Staff, ask),
        change("/front/waste/book/{movement}", Access::Staff, take_back),
    ]
}

/// How many entries a page shows.
const ON_A_PAGE: i64 = 200;

#[derive(Template)]
#[template(path = "front/silver_book.html")]
struct BookPage {
    frame: Frame,
    entries: Vec<EntryLine>,
    /// The number before which older entries begin; nothing when all are shown.
    older: Option<i64>,
    count: i64,
    /// Whether the newest entries are shown.
    newest: bool,
    sums: Vec<(&'static str, String, String)>,
}

async fn show(
    State(state): State<AppState>,
    frame: Frame,
    _staff: Staff,
    RawQuery(query): RawQuery,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let site = sites::find(&mut conn).await?.ok_or(WebError::NotFound("the site"))?;
    let before = asked_before(&query.unwrap_or_default()).unwrap_or(i64::MAX);
    let words = BookWords::find(&mut conn, &site.zone).await?;
    // one more than is shown tells whether there are older ones
    let mut entries = stored_book::list_page(&mut conn, before, ON_A_PAGE + 1).await?;
    let more = entries.len() as i64 > ON_A_PAGE;
    entries.truncate(usize::try_from(ON_A_PAGE).unwrap_or(usize::MAX));
    let last = entries.last().map_or(0, |entry| entry.number);
    let first = entries.first().map_or(0, |entry| entry.number);
    let reversed = stored_book::list_reversals_among(&mut conn, (last, first)).await?.into_iter().collect();
    let page = BookPage {
        count: stored_book::count(&mut conn).await?,
        sums: sums(&stored_book::totals(&mut conn).await?),
        entries: words.lines(&entries, &reversed),
        older: more.then_some(last),
        newest: before == i64::MAX,
        frame,
    };
    Ok(shown(Page::new(page), false))
}

/// Both sides of the book: what came from the sources, and where it is.
fn sums(totals: &Totals) -> Vec<(&'static str, String, String)> {
    let stores = totals.sources - totals.sinks;
    let line = |name, amount: Amount| (name, volume::in_words(amount.volume_ul), written::grams(amount.silver));
    vec![
        line("Came in (mixed, water, paper, opening)", totals.sources),
        line("Stands in batches and containers", stores),
        line("Went out (wash, recovered, removed, discharged, written off)", totals.sinks),
    ]
}

#[derive(Template)]
#[template(path = "front/take_back.html")]
struct TakeBackPage {
    frame: Frame,
    form: Form,
    movement: MovementId,
    kind: &'static str,
    consequence: &'static str,
    entries: Vec<EntryLine>,
    can: bool,
}

async fn ask(State(state): State<AppState>, frame: Frame, Path(id): Path<MovementId>) -> Result<Response, WebError> {
    let form = Form::empty(&frame);
    ask_with(&state, frame, id, form).await
}

async fn ask_with(state: &AppState, frame: Frame, id: MovementId, form: Form) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let site = sites::find(&mut conn).await?.ok_or(WebError::NotFound("the site"))?;
    let movement = stored_book::find_movement(&mut conn, id).await?.ok_or(WebError::NotFound("this movement"))?;
    let words = BookWords::find(&mut conn, &site.zone).await?;
    let entries = stored_book::list_of_movement(&mut conn, id).await?;
    let back = stored_book::list_reversals_of(&mut conn, id).await?;
    let reversed: HashMap<i64, i64> = book_words::reversed_by(&back);
    let refused = form.is_refused();
    let page = Page::new(TakeBackPage {
        form,
        movement: id,
        kind: movement.kind.as_str(),
        consequence: consequence(movement.kind),
        entries: words.lines(&entries, &reversed),
        can: back.is_empty() && movement.kind != MovementKind::Reversal,
        frame,
    });
    Ok(shown(page, refused))
}

async fn take_back(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<MovementId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let mut r = posted.reader();
    let why = r.text("why", 1..=400);
    let why = match r.finish(why) {
        Ok(why) => why,
        Err(errors) => return ask_with(&state, frame, id, Form::refused(&posted, errors)).await,
    };
    let (actor, now, reversal) = (posted.actor(), posted.at(), state.mint());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                reversals::reverse(tx, actor, id, reversal, now, &why).await?;
                change_log::insert(tx, now, actor, "entry taken back", "movement", id, "").await?;
                // the page of each vessel says what was saved last: its own entry stands no longer
                let entries = stored_book::list_of_movement(tx, id).await?;
                let touched: BTreeSet<Vessel> =
                    entries.iter().flat_map(|entry| [entry.from, entry.to]).filter_map(Account::vessel).collect();
                if let Some(entry) = entries.first() {
                    let what = format!("{} taken back", entry.kind.as_str());
                    for vessel in touched {
                        log(tx, now, actor, &what, vessel, "").await?;
                    }
                }
                Ok("/front/waste/book".to_owned())
            })
        })
        .await;
    match written {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => ask_with(&state, frame, id, Form::refused(&posted, errors)).await,
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}
