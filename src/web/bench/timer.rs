//! A clock for the shutter, in large figures, to be read outdoors on a phone. It never goes into the
//! dark: its end says so.

use askama::Template;
use axum::extract::{Query, State};
use serde::Deserialize;

use crate::{
    calc::light::{
        given_time::{GivenTime, notes},
        sky::{Sky, SunFrom},
    },
    domain::{
        exposure::found_light::FoundLight, field_errors::FieldErrors, marking::own_figure::Figure,
        measure::typed_seconds,
    },
    store::exposure::exposures,
    web::{
        fields::light_fields::{light_query, read_light},
        kit::{
            access::{Access, Bench},
            assets,
            error::WebError,
            form::Form,
            frame::Frame,
            page::Page,
            routes::{Route, page},
            state::AppState,
        },
    },
};

use super::at_bench::RECORD;
use crate::lab::exposure::at_hand::{AtHand, Learned};
use crate::web::kit::sentences::sentences;

/// The routes of this page.
pub fn routes() -> Vec<Route> {
    vec![page("/bench/timer", Access::Bench, show)]
}

/// What the address may carry.
#[derive(Debug, Deserialize)]
struct Asked {
    /// The time, as a person types it.
    time: Option<String>,
    /// The light it was worked out for: it goes on to the record.
    #[serde(default)]
    sky: String,
    /// Where the sun is.
    #[serde(default)]
    sun: String,
    /// A meter reading.
    #[serde(default)]
    reading: String,
}

impl Asked {
    fn get(&self, name: &str) -> &str {
        match name {
            "sky" => &self.sky,
            "sun" => &self.sun,
            "reading" => &self.reading,
            _ => "",
        }
    }
}

/// The clock set to a time in a light; `None` where no hand can give that time.
pub fn clock_for(given: &GivenTime, found: FoundLight) -> Option<String> {
    (!given.too_short).then(|| {
        let time = form_urlencoded::Serializer::new(String::new()).append_pair("time", &counted(given)).finish();
        format!("/bench/timer?{time}&{}", light_query(found))
    })
}

/// The form of the record with a time in it: as the clock was set, until a script has counted.
fn record_path(time: &str, light: Option<FoundLight>) -> String {
    let (page, form) = RECORD.split_once('#').unwrap_or((RECORD, ""));
    if time.is_empty() {
        return RECORD.to_owned();
    }
    let made =
        form_urlencoded::Serializer::new(String::new()).append_pair("made", time).append_pair("by", "set").finish();
    let light = light.map(|found| format!("&{}", light_query(found))).unwrap_or_default();
    format!("{page}?{made}{light}#{form}")
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
    /// The light that the time is for, in words; empty when it was typed.
    light: String,
    /// What has to be said of the forecast it was set by: past the maker's table, too short by hand.
    notes: String,
    /// Times of other skies to set it by; empty when they are held back or there is nothing to go by.
    skies: Vec<SkyTime>,
    /// Where the time is written down.
    record: String,
}

/// A sky with its time.
struct SkyTime {
    sky: &'static str,
    time: String,
    /// The clock set to it; `None` where no hand can give it.
    path: Option<String>,
}

async fn show(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    Query(asked): Query<Asked>,
) -> Result<Page<impl Template>, WebError> {
    let mut conn = state.store.read().await?;
    let at_hand = AtHand::load(&mut conn, bench.section, bench.student).await?;
    // the forecast is not given away by the clock either; a time of one's own is typed in
    let learned = at_hand.learned(&mut conn).await?.filter(|_| frame.held.shows(Figure::ExposureTime));
    let mut said = String::new();
    let mut found = read_light(|name| asked.get(name), &at_hand.whereabouts(state.now())).ok();
    let typed = match &asked.time {
        Some(time) => time.trim().to_owned(),
        None => {
            let last = exposures::list_of_student(&mut conn, bench.student).await?.into_iter().next();
            found = last.and_then(|sheet| FoundLight::parse_words(&sheet.light_typed));
            let given = learned.as_ref().zip(found).map(|(learned, light)| given_in(learned, light));
            said = given.as_ref().map(|given| sentences(&notes([given]))).unwrap_or_default();
            given.filter(|given| !given.too_short).map(|given| counted(&given)).unwrap_or_default()
        }
    };
    drop(conn);
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
    let shown = Page::new(Timer {
        script: assets::address("timer.js"),
        frame,
        form,
        millis,
        record: record_path(&time, found),
        light: found.filter(|_| millis > 0).map(FoundLight::in_words).unwrap_or_default(),
        time,
        notes: said,
        skies: learned.as_ref().map_or_else(Vec::new, by_sky),
    });
    Ok(if refused { shown.unprocessable() } else { shown })
}

/// The time of every sky, the sun behind the camera.
fn by_sky(learned: &Learned) -> Vec<SkyTime> {
    let line = |sky: Sky| {
        let found = FoundLight::Sky(sky, SunFrom::Front);
        let given = given_in(learned, found);
        SkyTime { sky: sky.label(), path: clock_for(&given, found), time: given.text }
    };
    Sky::ALL.map(line).into()
}

fn given_in(learned: &Learned, found: FoundLight) -> GivenTime {
    learned.start(found.light()).forecast.practical
}

/// A time as the clock takes it.
fn counted(given: &GivenTime) -> String {
    typed_seconds::exactly(i64::try_from(given.seconds).unwrap_or(i64::MAX / 1000) * 1000)
}
