//! One sheet: what was done, how it came out, what to try next.

use askama::Template;
use axum::{
    extract::{Path, Query, State},
    response::{IntoResponse, Response},
};
use serde::Deserialize;

use crate::lab::exposure::{
    putting_right::{self, Change, JUDGE_LATER, Judged},
    seen::{Seen, find_seen},
    words::result_words,
};
use crate::web::fields::through_choices::through_choices;
use crate::web::{
    fields::sheet_fields::{moment, read_developed},
    kit::sentences::sentences,
    sheets::correct::{path_of, taken_back_words},
};
use crate::{
    calc::{
        light::given_time::{GivenTime, notes},
        working::{figures, plain, seconds_text},
    },
    domain::{
        exposure::{
            Exposure, Judgement,
            diagnosis::{Sign, signs_of},
            found_light::FoundLight,
            verdict::{Fault, Verdict},
        },
        field_errors::FieldErrors,
        ids::ExposureId,
        measure::typed_seconds::exactly,
    },
    lab::baths::through_trays::TrayIds,
    store::WriteError,
    web::{
        bench::at_bench::{Saved, last_saved},
        fields::{
            light_fields::light_query,
            result_fields::{ResultFields, ResultNames, read_result, result_values, with_sign},
        },
        kit::{
            access::Bench,
            error::WebError,
            form::{Control, Form},
            frame::Frame,
            page::{Page, see_other},
            state::AppState,
        },
        request::posted::Posted,
    },
};

use crate::domain::marking::own_figure::Reveals;
use crate::web::kit::reading::Fact;

#[derive(Template)]
#[template(path = "bench/exposure.html")]
struct ExposurePage {
    frame: Frame,
    saved: Saved,
    number: i64,
    path: String,
    next: String,
    made: String,
    facts: Vec<Fact>,
    judged: bool,
    result: String,
    lesson: String,
    signs: Vec<Sign>,
    /// Something spoiled it, and nobody has picked what it looks like.
    pick_a_sign: bool,
    /// Where the signs are, with this sheet in mind.
    signs_path: String,
    marked: bool,
    /// When and why it was taken back; empty when it counts.
    taken_back: String,
    taking_back: Form,
    judging: Form,
    result_fields: ResultFields,
    /// The question whether it went through, in the form that judges it, while nobody has said so.
    judged_through: Option<Control>,
    /// Whether it may still be said to have gone through the trays.
    trays_open: bool,
    trays: Form,
}

/// The sheet.
pub async fn show(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    Path(id): Path<ExposureId>,
    Query(asked): Query<Asked>,
) -> Result<Response, WebError> {
    let sign = asked.sign.as_deref().and_then(Sign::from_key);
    Ok(sheet_page(&state, frame, &bench, id, sign.map_or(Refused::Nothing, Refused::Picked)).await?.into_response())
}

/// What the address may carry.
#[derive(Debug, Deserialize)]
pub struct Asked {
    /// The sign picked on the page of signs.
    sign: Option<String>,
}

/// Which of the page's forms was refused.
enum Refused {
    Nothing,
    /// None; a sign was picked.
    Picked(Sign),
    Judging(Form),
    Trays(Form),
    TakingBack(Form),
}

/// The page, with a form as it was refused.
async fn sheet_page(
    state: &AppState,
    frame: Frame,
    bench: &Bench,
    id: ExposureId,
    refused: Refused,
) -> Result<Page<impl Template>, WebError> {
    let mut picked = None;
    let (judging, trays, taking_back) = match refused {
        Refused::Nothing => (None, None, None),
        Refused::Picked(sign) => {
            picked = Some(sign);
            (None, None, None)
        }
        Refused::Judging(form) => (Some(form), None, None),
        Refused::Trays(form) => (None, Some(form), None),
        Refused::TakingBack(form) => (None, None, Some(form)),
    };
    let mut conn = state.store.read().await?;
    let seen = find_seen(&mut conn, id, bench.actor()).await?.ok_or(WebError::NotFound("this sheet"))?;
    let saved = last_saved(&mut conn, bench.actor(), state.now()).await?;
    let exposure = &seen.exposure;
    let judging = judging.unwrap_or_else(|| {
        let mut values: Vec<_> = result_values(exposure.judgement).into_iter().collect();
        values.push(("remark", exposure.remark.clone()));
        values.push(("developed_at", state.now().as_local_control(&seen.zone)));
        if let Some(sign) = picked {
            values = with_sign(values, sign);
        }
        Form::filled(&frame, exposure.version, values)
    });
    let trays = trays.unwrap_or_else(|| {
        let now = state.now().as_local_control(&seen.zone);
        Form::filled(&frame, exposure.version, [("developed_at", now)])
    });
    let judging = judging.prefixed("judge");
    let trays_open = seen.uses_trays && seen.developed_at.is_none() && !seen.marked && exposure.taken_back.is_none();
    Ok(Page::new(ExposurePage {
        saved,
        number: exposure.number,
        path: format!("/bench/exposures/{id}"),
        next: FoundLight::parse_words(&exposure.light_typed).map(light_query).unwrap_or_default(),
        made: exactly(exposure.made_ms),
        facts: facts(&seen),
        judged: exposure.judgement.is_some(),
        result: result_words(exposure),
        lesson: lesson(exposure),
        signs: exposure
            .judgement
            .map_or_else(Vec::new, |judgement| signs_of(judgement.verdict, judgement.fault, judgement.sign)),
        signs_path: format!("/bench/signs?sheet={id}"),
        pick_a_sign: exposure
            .judgement
            .is_some_and(|judgement| judgement.fault == Some(Fault::Other) && judgement.sign.is_none()),
        marked: seen.marked,
        taken_back: taken_back_words(exposure, &seen.zone),
        taking_back: taking_back.unwrap_or_else(|| Form::filled(&frame, exposure.version, [])).prefixed("back"),
        result_fields: ResultFields::of(&judging, |verdict| meaning(exposure, verdict)),
        judged_through: trays_open.then(|| through_choices(&judging)),
        judging,
        trays_open,
        trays: trays.prefixed("trays"),
        frame,
    }))
}

fn facts(seen: &Seen) -> Vec<Fact> {
    let exposure = &seen.exposure;
    let seconds = |ms: i64| seconds_text(ms as f64 / 1000.0);
    let mut facts = vec![
        Fact::new(
            "Made",
            format!(
                "{}, camera {}, “{}”",
                exposure.made_at.as_words(&seen.zone),
                seen.camera.number,
                seen.session.title
            ),
            Reveals::NOTHING,
        ),
        Fact::new(
            "Light as found",
            format!("{}: EV {} at ISO 100", exposure.light_typed, figures(exposure.ev100_milli as f64 / 1000.0, 3)),
            Reveals::NOTHING,
        ),
        Fact::new(
            "Forecast",
            format!(
                "{} ({} to {}), {}, {}",
                seconds(exposure.forecast_ms),
                seconds(exposure.forecast_low_ms),
                seconds(exposure.forecast_high_ms),
                shown_words(exposure),
                match exposure.based_on {
                    0 => "no experience yet".to_owned(),
                    1 => "resting on 1 exposure".to_owned(),
                    n => format!("resting on {n} exposures"),
                }
            ),
            Reveals::TIME,
        ),
        Fact::new(
            "With",
            format!(
                "f/{}, {} at EI {}",
                figures(exposure.f_number_milli as f64 / 1000.0, 3),
                seen.paper,
                plain(exposure.exposure_index_milli as f64 / 1000.0)
            ),
            Reveals::F_NUMBER,
        ),
        Fact::new("Sheet", exposure.sheet.in_words(), Reveals::NOTHING),
    ];
    if !exposure.aim.is_empty() {
        let stops = figures(exposure.aim_milli as f64 / 1000.0, 2);
        facts.push(Fact::new(
            "Exposed for",
            format!("{}, {stops} stops more than the middle", exposure.aim),
            Reveals::NOTHING,
        ));
    }
    if exposure.demonstration {
        facts.push(Fact::new("Made by", "staff, to show how it is done".to_owned(), Reveals::NOTHING));
    }
    if seen.uses_trays {
        let words = match seen.developed_at {
            Some(at) => format!("went through at {}", at.as_words(&seen.zone)),
            None => "not through yet".to_owned(),
        };
        facts.push(Fact::new("Trays", words, Reveals::NOTHING));
    }
    if !exposure.remark.is_empty() {
        facts.push(Fact::new("Remark", exposure.remark.clone(), Reveals::NOTHING));
    }
    facts
}

/// Whether the forecast was shown, and for which light.
fn shown_words(exposure: &Exposure) -> String {
    match (exposure.forecast_shown, exposure.shown_for.as_str()) {
        (false, _) => "worked out when the sheet was recorded".to_owned(),
        (true, "") => "as it was shown".to_owned(),
        (true, light) => format!("as it was shown, for {light}"),
    }
}

/// What a verdict means for the next sheet in this light, with the seconds on this camera's clock.
fn meaning(exposure: &Exposure, verdict: Verdict) -> String {
    match verdict.next_light() {
        Some(times) => format!("{}: {} here", verdict.means(), next_time(exposure, times).text),
        None => verdict.means().to_owned(),
    }
}

/// The time for so many times the light that this sheet got.
fn next_time(exposure: &Exposure, times: f64) -> GivenTime {
    let (rule, time) = (exposure.reciprocity(), exposure.time_for_light(times));
    GivenTime::of(time, rule.is_past_table(rule.metered(time)))
}

/// What has to be said beside a lesson: nobody vouches for it past the maker's table, no hand times it.
fn lesson_notes(exposure: &Exposure, time: &GivenTime) -> String {
    let past = exposure.lesson_past_table() && !time.past_table;
    let past = past.then_some(
        "the time it was given lies past the end of the maker’s reciprocity table, so the lesson is a guess",
    );
    let said: Vec<&str> = notes([time]).into_iter().chain(past).collect();
    if said.is_empty() { String::new() } else { format!(" {}", sentences(&said)) }
}

/// What the sheet says about the right time.
fn lesson(exposure: &Exposure) -> String {
    let Some(Judgement { verdict, result, fault, .. }) = exposure.judgement else { return String::new() };
    if fault.is_some() {
        return "It is kept, but teaches the forecast nothing about exposure.".to_owned();
    }
    let Some((milli, _)) = result else {
        return match verdict {
            Verdict::AllWhite => bound_lesson(exposure, "It only says “more”: next time four times the light", 4.0),
            _ => bound_lesson(exposure, "It only says “less”: next time a quarter of the light", 0.25),
        };
    };
    let time = next_time(exposure, (milli as f64 / 1000.0).exp2());
    let right = exposure.right_time().map_or_else(String::new, |right| seconds_text(right.as_s()));
    let right = if time.past_table { format!("{right} *") } else { right };
    let said = lesson_notes(exposure, &time);
    if milli == 0 {
        return format!(
            "In this light {right} was right. It teaches the forecast for every camera on this paper.{said}"
        );
    }
    let (stops, way) = (figures(milli.abs() as f64 / 1000.0, 2), if milli > 0 { "more" } else { "less" });
    let unit = if milli.abs() <= 1000 { "stop" } else { "stops" };
    format!(
        "It needed {stops} {unit} {way}: in this light about {right} would have been right. It teaches the forecast for every camera on this paper.{said}"
    )
}

/// What a blank or solid sheet says, with the seconds on this camera's clock.
fn bound_lesson(exposure: &Exposure, words: &str, times: f64) -> String {
    let time = next_time(exposure, times);
    format!("{words}, which in this light is {} on the clock.{}", time.text, lesson_notes(exposure, &time))
}

/// Says how a sheet came out.
pub async fn judge(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    Path(id): Path<ExposureId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let seen = find_seen(&mut *state.store.read().await?, id, bench.actor()).await?;
    let seen = seen.ok_or(WebError::NotFound("this sheet"))?;
    let mut reader = posted.reader();
    let judgement = read_result(&mut reader, &posted, &ResultNames::plain(), posted.at());
    if judgement == Some(None) {
        reader.wrong("verdict", "say how it looks: the nearest is good enough");
    }
    let must_say = seen.uses_trays && seen.developed_at.is_none() && !seen.marked && seen.exposure.taken_back.is_none();
    let developed_at = match must_say {
        true => read_developed(&mut reader, &posted, &seen.zone, Some(seen.exposure.made_at), true),
        false => Some(None),
    };
    if let (true, Some(None), Some(Some(judged))) = (must_say, developed_at, judgement)
        && judged.needs_trays()
    {
        reader.wrong("verdict", JUDGE_LATER);
    }
    let remark = reader.text("remark", 0..=500);
    let told = match reader.finish((|| Some((judgement??, developed_at?, remark?)))()) {
        Ok(told) => told,
        Err(errors) => return refuse_judging(&state, frame, &bench, id, &posted, errors).await,
    };
    let by = change(&state, &bench, &posted);
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            let (judgement, developed_at, remark) = told;
            putting_right::judge(tx, &seen, Judged { judgement, developed_at, remark }, by).await?;
            Ok(path_of(id, by.who))
        })
    });
    match written.await {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => refuse_judging(&state, frame, &bench, id, &posted, errors).await,
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

fn change(state: &AppState, bench: &Bench, posted: &Posted) -> Change {
    Change { who: bench.actor(), at: posted.at(), version: posted.version(), ids: TrayIds::mint(&state.world) }
}

async fn refuse_judging(
    state: &AppState,
    frame: Frame,
    bench: &Bench,
    id: ExposureId,
    posted: &Posted,
    errors: FieldErrors,
) -> Result<Response, WebError> {
    let form = Form::refused(posted, errors);
    Ok(sheet_page(state, frame, bench, id, Refused::Judging(form)).await?.unprocessable().into_response())
}

/// The page again, when the sheet could not be taken back.
pub async fn refuse_taking_back(
    state: &AppState,
    frame: Frame,
    bench: &Bench,
    id: ExposureId,
    posted: &Posted,
    errors: FieldErrors,
) -> Result<Response, WebError> {
    let form = Form::refused(posted, errors);
    Ok(sheet_page(state, frame, bench, id, Refused::TakingBack(form)).await?.unprocessable().into_response())
}

/// Says that a sheet went through the trays.
pub async fn through_the_trays(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    Path(id): Path<ExposureId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let seen = find_seen(&mut conn, id, bench.actor()).await?.ok_or(WebError::NotFound("this sheet"))?;
    drop(conn);
    let mut reader = posted.reader();
    let developed_at = moment(&mut reader, "developed_at", &seen.zone, posted.at());
    if developed_at.is_some_and(|at| at < seen.exposure.made_at) {
        reader.wrong("developed_at", "lies before the exposure");
    }
    if !seen.uses_trays {
        reader.wrong("", "this sheet does not go through the trays of this session");
    }
    let developed_at = reader.finish(developed_at);
    let by = change(&state, &bench, &posted);
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            // refused only here, so that a form sent twice is answered by its receipt first
            putting_right::through_the_trays(tx, &seen, developed_at?, by).await?;
            Ok(path_of(id, by.who))
        })
    });
    match written.await {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => refuse_trays(&state, frame, &bench, id, &posted, errors).await,
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

async fn refuse_trays(
    state: &AppState,
    frame: Frame,
    bench: &Bench,
    id: ExposureId,
    posted: &Posted,
    errors: FieldErrors,
) -> Result<Response, WebError> {
    let form = Form::refused(posted, errors);
    Ok(sheet_page(state, frame, bench, id, Refused::Trays(form)).await?.unprocessable().into_response())
}
