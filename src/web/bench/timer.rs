//! A clock for the shutter, in large figures, to be read outdoors on a phone. It never goes into the
//! dark: its end says so.

use askama::Template;
use axum::extract::{Query, State};
use serde::Deserialize;

use crate::{
    calc::light::given_time::{GivenTime, notes},
    domain::{field_errors::FieldErrors, found_light::FoundLight, own_figure::Figure, typed_seconds},
    store::exposures,
    web::{
        access::{Access, Bench},
        assets,
        error::WebError,
        form::Form,
        frame::Frame,
        page::Page,
        routes::{Route, page},
        state::AppState,
    },
};

use super::{at_hand::AtHand, exposures::sentences};

/// The routes of this page.
pub fn routes() -> Vec<Route> {
    vec![page("/bench/timer", Access::Bench, show)]
}

/// What the address may carry.
#[derive(Debug, Deserialize)]
struct Asked {
    /// The time, as a person types it.
    time: Option<String>,
}

#[derive(Template)]
#[template(path = "bench/timer.html")]
struct Timer {
    frame: Frame,
    form: Form,
    script: String,
    /// Milliseconds to run; zero when none was given.
    millis: i64,
    /// The time as it was understood.
    time: String,
    /// What has to be said of the forecast it was set by: past the maker's table, too short by hand.
    notes: String,
}

async fn show(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    Query(asked): Query<Asked>,
) -> Result<Page<impl Template>, WebError> {
    let mut said = String::new();
    let typed = match asked.time {
        Some(time) => time.trim().to_owned(),
        // the forecast is not given away by the clock either; a time of one's own is typed in
        None if !frame.held.shows(Figure::ExposureTime) => String::new(),
        None => match last_light(&state, &bench).await? {
            Some(given) => {
                said = sentences(&notes([&given]));
                if given.too_short { String::new() } else { counted(&given) }
            }
            None => String::new(),
        },
    };
    let form = Form::filled(&frame, 0, [("time", typed.clone())]);
    let (form, millis) = match typed_seconds::parse_seconds(&typed) {
        Ok(time) => (form, (time.as_s() * 1000.0).round() as i64),
        Err(_) if typed.is_empty() => (form, 0),
        Err(error) => {
            let mut errors = FieldErrors::none();
            errors.add("time", error.to_string());
            (form.with_errors(errors), 0)
        }
    };
    let refused = form.is_refused();
    let time = if millis > 0 { typed_seconds::exactly(millis) } else { String::new() };
    let shown = Page::new(Timer { script: assets::address("timer.js"), frame, form, millis, time, notes: said });
    Ok(if refused { shown.unprocessable() } else { shown })
}

/// A time as the clock takes it.
fn counted(given: &GivenTime) -> String {
    typed_seconds::exactly(i64::try_from(given.seconds).unwrap_or(i64::MAX / 1000) * 1000)
}

/// The time for the next sheet in the light of the last one; `None` when there is none to go by.
async fn last_light(state: &AppState, bench: &Bench) -> Result<Option<GivenTime>, WebError> {
    let mut conn = state.store.read().await?;
    let at_hand = AtHand::load(&mut conn, bench).await?;
    let Some(learned) = at_hand.learned(&mut conn).await? else { return Ok(None) };
    let last = exposures::list_of_student(&mut conn, bench.student).await?.into_iter().next();
    let light = last.and_then(|sheet| FoundLight::parse_words(&sheet.light_typed));
    Ok(light.map(|found| learned.start(found.light()).forecast.practical))
}
