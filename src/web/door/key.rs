//! The seat key, until it is on paper.

use std::sync::atomic::Ordering;

use askama::Template;
use axum::{extract::State, response::Response};
use axum_extra::extract::CookieJar;

use crate::{
    store::people::{change_log, sign_ins, students},
    web::{
        kit::{
            access::Bench,
            cookies,
            error::WebError,
            form::Form,
            frame::Frame,
            page::{Page, see_other},
            seat_keys::FreshKey,
            shown_once::{AfterWrite, Shown, What},
            state::AppState,
        },
        request::posted::Posted,
    },
};

/// A student's seat: its key while it is shown, and the units.
#[derive(Template)]
#[template(path = "door/key.html")]
pub struct Key {
    frame: Frame,
    words: Vec<String>,
    roster_number: String,
    form: Form,
    units: Form,
}

/// Shows the key, if it has not been confirmed yet.
pub async fn show(
    State(state): State<AppState>,
    bench: Bench,
    frame: Frame,
    jar: CookieJar,
) -> Result<Page<Key>, WebError> {
    let mut conn = state.store.read().await?;
    let student = students::find(&mut conn, bench.student).await?.ok_or(WebError::NotFound("this seat"))?;
    let shown = cookies::token_hash(&jar).map(|hash| state.shown.list(&hash)).unwrap_or_default();
    let key = shown.into_iter().find(|shown| shown.what == What::SeatKey);
    let words = key.map(|key| key.text.split(' ').map(str::to_owned).collect()).unwrap_or_default();
    let unit = if student.inches { "inch" } else { "metric" };
    let units = Form::filled(&frame, 0, [("units", unit.to_owned())]).prefixed("units");
    Ok(Page::new(Key { words, roster_number: student.roster_number, form: Form::empty(&frame), units, frame }))
}

impl Key {
    fn unit_choices() -> Vec<(String, String)> {
        [("metric", "Millimetres"), ("inch", "Inches")]
            .map(|(value, words)| (value.to_owned(), words.to_owned()))
            .into()
    }
}

/// It is on paper.
pub async fn kept(State(state): State<AppState>, _bench: Bench, jar: CookieJar) -> Response {
    if let Some(hash) = cookies::token_hash(&jar) {
        state.shown.clear(&hash);
    }
    see_other("/bench")
}

/// Makes a new key; the old one and every other sign-in with it end.
pub async fn renew(
    State(state): State<AppState>,
    bench: Bench,
    jar: CookieJar,
    posted: Posted,
) -> Result<Response, WebError> {
    let here = cookies::token_hash(&jar).ok_or(WebError::SignedOut { reading: false })?;
    let fresh = FreshKey::draw(&state).await.map_err(|error| WebError::from_write(error, &posted))?;
    let shown = Shown { what: What::SeatKey, whose: String::new(), text: fresh.key.to_string() };
    let showing = AfterWrite::to(here, shown);
    let (actor, student, at, ran) = (bench.actor(), bench.student, posted.at(), showing.ran());
    let landing = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                students::update_seat_key(tx, student, &fresh.hash, at).await?;
                sign_ins::end_others_of_student(tx, student, &here, at).await?;
                change_log::insert(tx, at, actor, "made a new seat key", "student", student, "").await?;
                ran.store(true, Ordering::SeqCst);
                Ok("/bench/key".to_owned())
            })
        })
        .await
        .map_err(|error| WebError::from_write(error, &posted))?;
    showing.put_up(&state.shown, at);
    Ok(see_other(&landing))
}
