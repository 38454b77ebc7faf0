//! What follows from a sheet, or a question, that is still being typed: the time for the light as typed,
//! how far the time made is from it, what the result says. By the same code as the full pages.

use axum::{
    extract::State,
    response::{IntoResponse, Response},
};

use crate::{
    calc::{
        light::given_time::GivenTime,
        quantity::{ExposureTime, Seconds},
        working::stops_text,
    },
    domain::{
        exposure::{aim::Aim, starting_exposure::StartingExposure},
        instant::Instant,
        measure::typed_seconds::parse_seconds,
    },
    drawing::camera_section::CameraSection,
    lab::exposure::at_hand::AtHand,
    web::{
        bench::as_typed::AsTyped,
        fields::{
            aim_fields::read_aim,
            light_fields::read_light,
            result_fields::{ResultNames, read_result},
        },
        kit::{access::Bench, error::WebError, frame::Frame, page::Page, reading::Reading, state::AppState},
        request::posted::Posted,
    },
};

use crate::domain::marking::own_figure::Reveals;
use crate::web::kit::sentences::sentences;

/// The readings for what stands in the form.
pub async fn show(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    posted: Posted,
) -> Result<Response, WebError> {
    let nothing = |frame, missing| {
        Page::new(AsTyped::<CameraSection> { frame, readings: Vec::new(), drawing: None, missing }).into_response()
    };
    let mut conn = state.store.read().await?;
    let at_hand = AtHand::load(&mut conn, bench.section, bench.student).await?;
    let Some(learned) = at_hand.learned(&mut conn).await? else {
        return Ok(nothing(frame, "A time needs a session, a camera, and what is in it."));
    };
    // a record says when it was made, a question when it would be
    let at = ["made_at", "at"].map(|name| (posted.get(name), posted.get(&format!("{name}_which"))));
    let at = at.into_iter().find_map(|(typed, which)| Instant::read_local(typed, which.trim(), &at_hand.zone).ok());
    let here = at_hand.whereabouts(at.unwrap_or_else(|| posted.at()));
    let Ok(found) = read_light(|name| posted.get(name), &here) else {
        return Ok(nothing(frame, "The time appears here when the light is described or a reading typed."));
    };
    let body = at_hand.camera.as_ref().map(|camera| &camera.body);
    let aim = body.map_or(Ok(Aim::MIDDLE), |body| read_aim(|name| posted.get(name), body));
    let Ok(aim) = aim else {
        return Ok(nothing(frame, "The time appears here when the point can be read and lies on the film."));
    };
    let start = learned.start_for(found.light(), aim);
    let made = parse_seconds(posted.get("made")).ok();
    let readings =
        [Some(forecast(&start, &found.in_words(), made)), made.and_then(|made| right(&posted, &start, made))];
    let readings = readings.into_iter().flatten().collect();
    Ok(Page::new(AsTyped::<CameraSection> { frame, readings, drawing: None, missing: "" }).into_response())
}

/// The time for the light as typed, and how far the time made is from it.
fn forecast(start: &StartingExposure, light: &str, made: Option<ExposureTime>) -> Reading {
    let forecast = &start.forecast;
    let apart = made.map(|made| {
        let rule = start.reciprocity;
        let stops = rule.metered(made).stops_over(rule.metered(forecast.time));
        format!("; the time you typed is {} stops of light from it", stops_text(stops))
    });
    let notes = sentences(&forecast.notes());
    let said = format!("{}{}. {notes}", forecast.interval_text(), apart.unwrap_or_default());
    Reading::plain(&format!("Open for, {light}"), forecast.practical.text.clone(), Reveals::TIME)
        .remark(said.trim_end())
}

/// What would have been right, by the result as typed; `None` while there is none in stops.
fn right(posted: &Posted, start: &StartingExposure, made: ExposureTime) -> Option<Reading> {
    if posted.get("developed").trim() == "no" {
        return None;
    }
    let mut reader = posted.reader();
    let judgement = read_result(&mut reader, posted, &ResultNames::plain(), posted.at())??;
    let (verdict, rule) = (judgement.verdict, start.reciprocity);
    let given = |stops: f64| {
        let metered = rule.metered(Seconds::from(made)).with_stops(stops);
        GivenTime::of(rule.corrected(metered), rule.is_past_table(metered)).text
    };
    if judgement.fault.is_some() {
        return Some(
            Reading::plain("Next", "nothing learned", Reveals::NOTHING)
                .remark("a spoiled sheet teaches nothing about the time"),
        );
    }
    Some(match judgement.result {
        Some((milli, _)) => {
            Reading::plain("Right would have been", given(milli as f64 / 1000.0), Reveals::TIME).remark(verdict.means())
        }
        None => Reading::plain("Give next", given(verdict.next_light()?.log2()), Reveals::TIME).remark(verdict.means()),
    })
}
