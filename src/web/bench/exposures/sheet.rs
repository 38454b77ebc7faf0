//! One sheet: what was done, how it came out, what to try next.

use askama::Template;
use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};

use crate::{
    calc::{
        quantity::Seconds,
        working::{figures, plain, seconds_text},
    },
    domain::{
        decimal,
        diagnosis::{Sign, signs_of},
        exposure::{Exposure, Judgement},
        field_errors::FieldErrors,
        found_light::FoundLight,
        ids::ExposureId,
        sheet_run::SheetOf,
        typed_seconds::exactly,
        verdict::{ResultSource, Verdict},
    },
    drawing::negative::Negative,
    store::{WriteError, exposures, sheet_runs},
    web::{
        access::Bench,
        bench::at_bench::last_saved,
        error::WebError,
        form::Form,
        frame::Frame,
        light_fields::light_query,
        page::{Page, see_other},
        posted::Posted,
        result_fields::{ResultFields, ResultNames, read_result, result_values},
        state::AppState,
        through_trays::{Through, TrayIds},
    },
};

use super::{
    record::{moment, note},
    seen::{Seen, changeable, find_seen, stale},
    take_back::taken_back_words,
};

#[derive(Template)]
#[template(path = "bench/exposure.html")]
struct ExposurePage {
    frame: Frame,
    saved: String,
    number: i64,
    path: String,
    next: String,
    made: String,
    facts: Vec<(&'static str, String)>,
    judged: bool,
    result: String,
    lesson: String,
    signs: Vec<Sign>,
    looks: Vec<Look>,
    marked: bool,
    /// When and why it was taken back; empty when it counts.
    taken_back: String,
    taking_back: Form,
    judging: Form,
    result_fields: ResultFields,
    /// Whether it may still be said to have gone through the trays.
    trays_open: bool,
    trays: Form,
}

/// What a negative looks like, with the word for it.
pub struct Look {
    /// The word.
    pub word: &'static str,
    /// What it means for the next sheet.
    pub means: &'static str,
    /// The drawing.
    pub picture: Negative,
}

/// Every look that a verdict names, from pale to dark. `id` begins the ids of the drawings.
pub fn looks(id: &str) -> Vec<Look> {
    let look = |verdict: Verdict| {
        Some(Look {
            word: verdict.as_str(),
            means: verdict.means(),
            picture: Negative::of(&format!("{id}-{}", verdict.as_str().replace(' ', "-")), verdict)?,
        })
    };
    Verdict::ALL.into_iter().filter_map(look).collect()
}

/// The sheet.
pub async fn show(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    Path(id): Path<ExposureId>,
) -> Result<Response, WebError> {
    Ok(sheet_page(&state, frame, &bench, id, Refused::Nothing).await?.into_response())
}

/// Which of the page's forms was refused.
enum Refused {
    Nothing,
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
    let (judging, trays, taking_back) = match refused {
        Refused::Nothing => (None, None, None),
        Refused::Judging(form) => (Some(form), None, None),
        Refused::Trays(form) => (None, Some(form), None),
        Refused::TakingBack(form) => (None, None, Some(form)),
    };
    let mut conn = state.store.read().await?;
    let seen = find_seen(&mut conn, id, bench.actor()).await?.ok_or(WebError::NotFound("this sheet"))?;
    let saved = last_saved(&mut conn, bench.actor()).await?;
    let exposure = &seen.exposure;
    let judging = judging.unwrap_or_else(|| {
        let mut values: Vec<_> = result_values(exposure.judgement).into_iter().collect();
        values.push(("remark", exposure.remark.clone()));
        Form::filled(&frame, exposure.version, values)
    });
    let trays = trays.unwrap_or_else(|| {
        let now = state.now().as_local_control(&seen.zone);
        Form::filled(&frame, exposure.version, [("developed_at", now)])
    });
    let judging = judging.prefixed("judge");
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
        signs: exposure.judgement.map_or_else(Vec::new, |judgement| signs_of(judgement.verdict, judgement.fault)),
        looks: looks("look"),
        marked: seen.marked,
        taken_back: taken_back_words(exposure, &seen.zone),
        taking_back: taking_back.unwrap_or_else(|| Form::filled(&frame, exposure.version, [])).prefixed("back"),
        result_fields: ResultFields::of(&judging),
        judging,
        trays_open: seen.uses_trays && seen.developed_at.is_none() && !seen.marked && exposure.taken_back.is_none(),
        trays: trays.prefixed("trays"),
        frame,
    }))
}

fn facts(seen: &Seen) -> Vec<(&'static str, String)> {
    let exposure = &seen.exposure;
    let seconds = |ms: i64| seconds_text(ms as f64 / 1000.0);
    let mut facts = vec![
        (
            "Made",
            format!(
                "{}, camera {}, “{}”",
                exposure.made_at.as_words(&seen.zone),
                seen.camera.number,
                seen.session.title
            ),
        ),
        (
            "Light as found",
            format!("{}: EV {} at ISO 100", exposure.light_typed, figures(exposure.ev100_milli as f64 / 1000.0, 3)),
        ),
        (
            "Forecast",
            format!(
                "{} ({} to {}), {}",
                seconds(exposure.forecast_ms),
                seconds(exposure.forecast_low_ms),
                seconds(exposure.forecast_high_ms),
                match exposure.based_on {
                    0 => "no experience yet".to_owned(),
                    1 => "resting on 1 exposure".to_owned(),
                    n => format!("resting on {n} exposures"),
                }
            ),
        ),
        (
            "With",
            format!(
                "f/{}, {} at EI {}",
                figures(exposure.f_number_milli as f64 / 1000.0, 3),
                seen.paper,
                plain(exposure.exposure_index_milli as f64 / 1000.0)
            ),
        ),
        ("Sheet", exposure.sheet.typed.clone()),
    ];
    if !exposure.aim.is_empty() {
        let stops = figures(exposure.aim_milli as f64 / 1000.0, 2);
        facts.push(("Exposed for", format!("{}, {stops} stops more than the middle", exposure.aim)));
    }
    if exposure.demonstration {
        facts.push(("Made by", "staff, to show how it is done".to_owned()));
    }
    if seen.uses_trays {
        let words = match seen.developed_at {
            Some(at) => format!("went through at {}", at.as_words(&seen.zone)),
            None => "not through yet".to_owned(),
        };
        facts.push(("Trays", words));
    }
    if !exposure.remark.is_empty() {
        facts.push(("Remark", exposure.remark.clone()));
    }
    facts
}

/// How a sheet came out, in words.
pub fn result_words(exposure: &Exposure) -> String {
    let Some(judgement) = exposure.judgement else { return "not looked at yet".to_owned() };
    let mut words = match (judgement.verdict, judgement.result) {
        (Verdict::StopsGiven, Some((milli, source))) => {
            let how = if source == ResultSource::Scan { "from a scan" } else { "by eye" };
            let stops = decimal::written(milli.abs(), 3);
            match milli {
                0 => format!("right, {how}"),
                pale if pale > 0 => format!("{stops} stops too pale, {how}"),
                _ => format!("{stops} stops too dark, {how}"),
            }
        }
        (verdict, _) => verdict.as_str().to_owned(),
    };
    if let Some(fault) = judgement.fault {
        words.push_str(", ");
        words.push_str(if fault == crate::domain::verdict::Fault::Other { "spoiled" } else { fault.as_str() });
    }
    words
}

/// What the sheet says about the right time.
fn lesson(exposure: &Exposure) -> String {
    let Some(Judgement { verdict, result, fault, .. }) = exposure.judgement else { return String::new() };
    if fault.is_some() {
        return "It is kept, but teaches the forecast nothing about exposure.".to_owned();
    }
    let Some((milli, _)) = result else {
        return match verdict {
            Verdict::AllWhite => "It only says “more”: next time four times the light.".to_owned(),
            _ => "It only says “less”: next time a quarter of the light.".to_owned(),
        };
    };
    let rule = exposure.reciprocity();
    let right = rule.corrected(rule.metered(exposure.made()).with_stops(milli as f64 / 1000.0));
    let right = seconds_text(Seconds::as_s(right));
    if milli == 0 {
        return format!("In this light {right} was right. It teaches the forecast for every camera on this paper.");
    }
    let (stops, way) = (figures(milli.abs() as f64 / 1000.0, 2), if milli > 0 { "more" } else { "less" });
    let unit = if milli.abs() <= 1000 { "stop" } else { "stops" };
    format!(
        "It needed {stops} {unit} {way}: in this light about {right} would have been right. It teaches the forecast for every camera on this paper."
    )
}

/// Says how a sheet came out.
pub async fn judge(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    Path(id): Path<ExposureId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let mut reader = posted.reader();
    let judgement = read_result(&mut reader, &posted, &ResultNames::plain(), posted.at());
    if judgement == Some(None) {
        reader.wrong("verdict", "say how it looks: the nearest is good enough");
    }
    let remark = reader.text("remark", 0..=500);
    let told = match reader.finish((|| Some((judgement??, remark?)))()) {
        Ok(told) => told,
        Err(errors) => return refuse_judging(&state, frame, &bench, id, &posted, errors).await,
    };
    let (actor, at, version) = (bench.actor(), posted.at(), posted.version());
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            let (judgement, remark) = told;
            let mut exposure = changeable(tx, id, actor).await?;
            if exposure.version != version {
                let sent = Exposure { judgement: Some(judgement), ..exposure.clone() };
                let fields = vec![
                    ("How it came out".to_owned(), result_words(&sent), result_words(&exposure)),
                    ("Remark".to_owned(), remark, exposure.remark.clone()),
                ];
                return Err(stale(&exposure, actor, fields));
            }
            exposure.judgement = Some(judgement);
            exposure.remark = remark;
            exposures::update(tx, &exposure).await?;
            note(tx, at, actor, "sheet judged", &exposure).await?;
            Ok(format!("/bench/exposures/{id}"))
        })
    });
    match written.await {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => refuse_judging(&state, frame, &bench, id, &posted, errors).await,
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
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
    let (ids, actor, at) = (TrayIds::mint(&state), bench.actor(), posted.at());
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            // refused only here, so that a form sent twice is answered by its receipt first
            let developed_at = developed_at?;
            let exposure = changeable(tx, id, actor).await?;
            if sheet_runs::find_of(tx, SheetOf::Negative(id)).await?.is_some() {
                let already = "somebody has recorded that already: correct the sheet if the time is wrong";
                return Err(FieldErrors::whole(already).into());
            }
            let through = Through::of_exposure(seen.site, &seen.session, &exposure);
            through.settle(tx, actor, Some(developed_at), ids, at).await?;
            note(tx, at, actor, "sheet through the trays", &exposure).await?;
            Ok(format!("/bench/exposures/{id}"))
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
