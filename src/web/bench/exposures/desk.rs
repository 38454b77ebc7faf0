//! The page a student comes back to with every sheet: the forecast, the form to record, the list.

use askama::Template;
use axum::{
    extract::{RawQuery, State},
    response::{IntoResponse, Response},
};
use jiff::tz::TimeZone;

use crate::{
    calc::working::{figures, plain, seconds_text},
    domain::{exposure::Exposure, field_errors::FieldErrors, found_light::FoundLight, typed_seconds::exactly},
    store::exposures,
    web::{
        access::Bench,
        bench::{
            at_bench::last_saved,
            at_hand::{AtHand, Learned},
        },
        error::WebError,
        form::Form,
        frame::Frame,
        light_fields::{LightFields, light_values, read_light},
        page::Page,
        result_fields::ResultFields,
        state::AppState,
    },
};

use super::start_view::{SkyLine, StartView, by_sky};

#[derive(Template)]
#[template(path = "bench/exposures.html")]
struct ExposuresPage {
    frame: Frame,
    saved: String,
    /// The session's title; empty when there never was one.
    session: String,
    open: bool,
    /// The camera's number, zero without a camera.
    camera: i64,
    measured: bool,
    facts: Vec<(&'static str, String)>,
    light: LightFields,
    start: Option<StartView>,
    skies: Vec<SkyLine>,
    record: Option<RecordForm>,
    sheets: Vec<SheetLine>,
}

/// The form to record a sheet.
struct RecordForm {
    form: Form,
    light: LightFields,
    result: ResultFields,
    trays: bool,
}

/// One line of the list of sheets.
struct SheetLine {
    path: String,
    number: i64,
    made_at: String,
    light: String,
    forecast: String,
    made: String,
    result: String,
}

/// The forecast for the light in the address, or for every sky when none is given.
pub async fn show(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    RawQuery(query): RawQuery,
) -> Result<Response, WebError> {
    let fields: Vec<(String, String)> =
        form_urlencoded::parse(query.unwrap_or_default().as_bytes()).into_owned().collect();
    let get = |name: &str| fields.iter().find(|(field, _)| field == name).map_or("", |(_, value)| value.as_str());
    let asked = if ["sky", "reading"].iter().all(|name| get(name).trim().is_empty()) {
        Ok(None)
    } else {
        read_light(get).map(Some)
    };
    let typed = ["sky", "sun", "reading"].map(|name| (name, get(name).to_owned()));
    let (light, errors) = match asked {
        Ok(light) => (light, FieldErrors::none()),
        Err(errors) => (None, errors),
    };
    let refused = !errors.is_empty();
    let asking = Form::filled(&frame, 0, typed).with_errors(errors);
    let page = Desk { light, asking, recording: None }.page(&state, frame, &bench).await?;
    Ok(if refused { page.unprocessable().into_response() } else { page.into_response() })
}

/// What the page is shown with.
pub struct Desk {
    /// The light asked for.
    pub light: Option<FoundLight>,
    /// The form that asks.
    pub asking: Form,
    /// The form that records, when it was refused.
    pub recording: Option<Form>,
}

impl Desk {
    /// The page.
    ///
    /// # Errors
    /// When the database cannot be used.
    pub async fn page(self, state: &AppState, frame: Frame, bench: &Bench) -> Result<Page<impl Template>, WebError> {
        let mut conn = state.store.read().await?;
        let at_hand = AtHand::load(&mut conn, bench).await?;
        let learned = at_hand.learned(&mut conn).await?;
        let sheets = exposures::list_of_student(&mut conn, bench.student).await?;
        let saved = last_saved(&mut conn, bench.actor()).await?;
        let start = self.light.zip(learned.as_ref());
        // what was refused is shown again even where no sheet can be recorded any more
        let recordable = self.recording.is_some() || (at_hand.open_session().is_some() && at_hand.hole.is_some());
        let record = recordable.then(|| {
            let form = self.recording.unwrap_or_else(|| blank(&frame, state, &at_hand, self.light, &sheets));
            let form = form.prefixed("record");
            RecordForm {
                light: LightFields::of(&form),
                result: ResultFields::short(&form),
                trays: at_hand.uses_trays(),
                form,
            }
        });
        Ok(Page::new(ExposuresPage {
            saved,
            session: at_hand.evening.as_ref().map_or_else(String::new, |(session, _)| session.title.clone()),
            open: at_hand.open_session().is_some(),
            camera: at_hand.camera.as_ref().map_or(0, |camera| camera.number),
            measured: at_hand.hole.is_some(),
            facts: learned.as_ref().map_or_else(Vec::new, |learned| facts(&at_hand, learned)),
            light: LightFields::of(&self.asking.prefixed("asked")),
            start: start.map(|(found, learned)| StartView::of(&learned.start(found.light()), found)),
            skies: learned.as_ref().filter(|_| self.light.is_none()).map_or_else(Vec::new, by_sky),
            record,
            sheets: sheets.iter().map(|exposure| line(exposure, &at_hand.zone)).collect(),
            frame,
        }))
    }
}

/// The form to record a sheet, filled with what is likely.
fn blank(frame: &Frame, state: &AppState, at_hand: &AtHand, light: Option<FoundLight>, sheets: &[Exposure]) -> Form {
    let now = state.now().as_local_control(&at_hand.zone);
    // the last one used, else what the camera takes
    let size = sheets.first().map_or_else(|| at_hand.film_size(), |exposure| exposure.sheet.typed.clone());
    let mut values = vec![
        ("made_at", now.clone()),
        ("sheet", size),
        ("developed", if at_hand.uses_trays() { "yes" } else { "" }.to_owned()),
        ("developed_at", now),
    ];
    values.extend(light.map(light_values).into_iter().flatten());
    Form::filled(frame, 0, values)
}

fn facts(at_hand: &AtHand, learned: &Learned) -> Vec<(&'static str, String)> {
    let setting = learned.setting();
    let hole = format!(
        "{} mm {}, f/{}",
        figures(setting.hole.diameter().as_mm(), 3),
        if setting.hole.is_measured() { "as measured" } else { "as the formula asks" },
        figures(setting.f_number.as_number(), 3)
    );
    let paper = at_hand.evening.as_ref().map_or_else(String::new, |(_, paper)| {
        format!("{}, EI {}", paper.name, plain(paper.exposure_index().as_number()))
    });
    vec![("Hole", hole), ("Paper", paper)]
}

fn line(exposure: &Exposure, zone: &TimeZone) -> SheetLine {
    SheetLine {
        path: format!("/bench/exposures/{}", exposure.id),
        number: exposure.number,
        made_at: exposure.made_at.as_words(zone),
        light: exposure.light_typed.clone(),
        forecast: seconds_text(exposure.forecast_ms as f64 / 1000.0),
        made: exactly(exposure.made_ms),
        result: super::sheet::result_words(exposure),
    }
}
