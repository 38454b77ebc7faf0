//! The page a student comes back to with every sheet: the forecast, the form to record, the list.

use askama::Template;
use axum::{
    extract::{RawQuery, State},
    response::{IntoResponse, Response},
};
use jiff::tz::TimeZone;

use crate::lab::exposure::words::result_words;
use crate::web::fields::through_choices::through_choices;
use crate::{
    calc::{
        light::{
            daylight::CloudCover,
            sky::{Sky, SunFrom},
        },
        working::{figures, plain, seconds_text},
    },
    domain::{
        evening::sheet_way::{Place, SheetWay, next_to_record},
        exposure::{Exposure, aim::Aim, diagnosis::Sign, found_light::FoundLight, shown_forecast::ShownForecast},
        field_errors::FieldErrors,
        instant::Instant,
        marking::own_figure::{Figure, Reveals},
        measure::{
            length::{LengthUnit, computed_words},
            typed_seconds::{exactly, parse_seconds},
        },
        stock::paper::PaperKind,
    },
    lab::exposure::at_hand::{AtHand, Learned},
    store::exposure::exposures,
    web::{
        bench::{
            at_bench::{Saved, last_saved},
            evening::sheets_on_their_way,
            timer::clock_for,
        },
        fields::{
            aim_fields::{AimFields, aim_values, read_aim},
            light_fields::{LightFields, light_values, read_light},
            result_fields::{ResultFields, with_sign},
            shown_forecasts::{SHOWN, sealed},
        },
        kit::{
            access::Bench,
            error::WebError,
            form::{Control, Form},
            frame::Frame,
            page::Page,
            state::AppState,
        },
    },
};

use super::{
    day_view::{DayView, of_sky},
    film_form::FilmForm,
    scale_view::ScaleView,
    sources::{SourceLine, sources},
    start_view::{SkyLine, StartView, by_sky, shown_by_sky, sky_notes},
};
use crate::web::kit::reading::Fact;

#[derive(Template)]
#[template(path = "bench/exposures.html")]
struct ExposuresPage {
    frame: Frame,
    saved: Saved,
    /// The session's title; empty when there never was one.
    session: String,
    open: bool,
    /// The camera's number, zero without a camera.
    camera: i64,
    measured: bool,
    facts: Vec<Fact>,
    asking: Form,
    light: LightFields,
    aim: Option<AimFields>,
    /// Whether the site's position is known, so that another moment can be asked for.
    by_sun: bool,
    start: Option<StartView>,
    /// The shutter clock set to the time of the light asked for.
    clock: Option<String>,
    sources: Vec<SourceLine>,
    /// Why the figure of the light may be off now; empty when nothing speaks against it.
    low_sun: &'static str,
    skies: Vec<SkyLine>,
    /// What has to be said beside the times of the skies.
    sky_notes: String,
    /// Which film is in the camera, where it holds film of its own.
    film: Option<FilmForm>,
    learned: bool,
    /// Whether film is in the camera: its formula takes the missing glass off.
    film_loaded: bool,
    day: Option<DayView>,
    record: Option<RecordForm>,
    sheets: Vec<SheetLine>,
    /// The time for the light asked for and the sheets on one scale.
    scale: Option<ScaleView>,
}

/// The form to record a sheet.
struct RecordForm {
    form: Form,
    /// The forecasts on this page, for the record.
    shown: String,
    light: LightFields,
    aim: AimFields,
    result: ResultFields,
    /// What stands beside the time.
    made_hint: String,
    /// Whether it went through the trays: asked where there are trays.
    trays: Option<Control>,
    /// No fixer stands in the trays it would go through.
    no_fixer: bool,
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
    let at_hand = AtHand::load(&mut *state.store.read().await?, bench.section, bench.student).await?;
    let mut errors = FieldErrors::none();
    let at = match get("at").trim() {
        "" => state.now(),
        typed => Instant::read_local(typed, get("at_which").trim(), &at_hand.zone).unwrap_or_else(|error| {
            errors.add("at", error.to_string());
            state.now()
        }),
    };
    let mut light = None;
    if ["sky", "reading"].iter().any(|name| !get(name).trim().is_empty()) {
        match read_light(get, &at_hand.whereabouts(at)) {
            Ok(found) => light = Some(found),
            Err(wrong) => wrong.iter().for_each(|(field, message)| errors.add(field, message)),
        }
    }
    let mut aim = Aim::MIDDLE;
    if let Some(camera) = &at_hand.camera {
        match read_aim(get, &camera.body) {
            Ok(asked) => aim = asked,
            Err(wrong) => wrong.iter().for_each(|(field, message)| errors.add(field, message)),
        }
    }
    let refused = !errors.is_empty();
    let sign = Sign::from_key(get("sign"));
    let typed = ["sky", "sun", "reading", "at", "at_which", "aim", "point"].map(|name| (name, get(name).to_owned()));
    let asking = Form::filled(&frame, 0, typed).with_errors(errors);
    let light = light.filter(|_| !refused);
    let counted = Counted::from_query(get("made"), get("by"));
    let page =
        Desk { at, light, aim, asking, sign, counted, recording: None, film: None }.page(&state, frame, &bench).await?;
    Ok(if refused { page.unprocessable().into_response() } else { page.into_response() })
}

/// A time that the shutter clock brought along.
pub struct Counted {
    made: String,
    said: &'static str,
}

impl Counted {
    /// From an address; `None` when it carries no time.
    fn from_query(made: &str, by: &str) -> Option<Self> {
        parse_seconds(made).ok()?;
        let said = match by {
            "clock" => "counted by the shutter clock; change it if the shutter was open longer or shorter",
            _ => "as the shutter clock was set; change it if the shutter was open longer or shorter",
        };
        Some(Self { made: made.trim().to_owned(), said })
    }
}

/// What a time may be typed as.
const HOW_LONG: &str = "12, or 1:30, or 2 min 5 s";

/// What the page is shown with.
pub struct Desk {
    /// The moment asked for.
    pub at: Instant,
    /// Where on the film.
    pub aim: Aim,
    /// The light asked for.
    pub light: Option<FoundLight>,
    /// The form that asks.
    pub asking: Form,
    /// The sign picked on the page of signs.
    pub sign: Option<Sign>,
    /// The time that the shutter clock brought along.
    pub counted: Option<Counted>,
    /// The form that records, when it was refused.
    pub recording: Option<Form>,
    /// The form that says which film is in the camera, when it was refused.
    pub film: Option<Form>,
}

impl Desk {
    /// The page.
    ///
    /// # Errors
    /// When the database cannot be used.
    pub async fn page(self, state: &AppState, frame: Frame, bench: &Bench) -> Result<Page<impl Template>, WebError> {
        let mut conn = state.store.read().await?;
        let at_hand = AtHand::load(&mut conn, bench.section, bench.student).await?;
        let learned = at_hand.learned(&mut conn).await?;
        let sheets = exposures::list_of_student(&mut conn, bench.student).await?;
        let saved = last_saved(&mut conn, bench.actor(), state.now()).await?;
        let start = self.light.zip(learned.as_ref());
        let here = at_hand.whereabouts(self.at);
        let asking = self.asking.prefixed("asked");
        let camera = at_hand.camera.as_ref().map_or(0, |camera| camera.number);
        let day = learned.as_ref().and_then(|learned| {
            let light = (self.light, sky_picked(&asking));
            DayView::of(learned, &here, state.now(), light, self.aim, camera)
        });
        let skies = learned.as_ref().filter(|_| self.light.is_none()).map_or_else(Vec::new, by_sky);
        // what stands on the page goes with the sheet; what is held back nobody was shown
        let shown = match (&learned, &at_hand.camera) {
            (Some(learned), Some(camera)) if frame.held.shows(Figure::ExposureTime) => {
                let shown = match self.light {
                    Some(found) => vec![ShownForecast::of(&learned.start_for(found.light(), self.aim), found)],
                    None => shown_by_sky(learned),
                };
                sealed(&shown, camera.id, &state.pepper)
            }
            _ => String::new(),
        };
        let film = match &at_hand.camera {
            Some(camera) if camera.holds_film() && at_hand.evening.is_some() => {
                Some(FilmForm::load(&mut conn, &frame, camera, self.film).await?)
            }
            _ => None,
        };
        // what was refused is shown again even where no sheet can be recorded any more
        let recordable = self.recording.is_some()
            || (at_hand.open_session().is_some() && at_hand.hole.is_some() && !at_hand.needs_film());
        let (ways, _) = sheets_on_their_way(&mut conn, &at_hand).await?;
        let counted = self.counted.filter(|_| self.recording.is_none());
        let record = recordable.then(|| {
            let form = self.recording.unwrap_or_else(|| {
                let counted = counted.as_ref().map_or("", |counted| counted.made.as_str());
                let asked = (self.light, self.aim, self.sign, counted);
                blank(&frame, state, &at_hand, asked, &sheets, (&ways, bench.inches))
            });
            let form = form.prefixed("record");
            RecordForm {
                shown: match form.value(SHOWN) {
                    "" => shown.clone(),
                    kept => kept.to_owned(),
                },
                light: LightFields::of(&form, at_hand.place.is_some()),
                aim: AimFields::of(&form),
                result: ResultFields::short(&form),
                made_hint: counted
                    .map_or_else(|| HOW_LONG.to_owned(), |counted| format!("{}; {HOW_LONG}", counted.said)),
                trays: at_hand.uses_trays().then(|| through_choices(&form)),
                no_fixer: at_hand.uses_trays() && !at_hand.fixer_stands,
                form,
            }
        });
        Ok(Page::new(ExposuresPage {
            saved,
            session: at_hand.evening.as_ref().map_or_else(String::new, |(session, _)| session.title.clone()),
            open: at_hand.open_session().is_some(),
            camera,
            measured: at_hand.hole.is_some(),
            facts: learned.as_ref().map_or_else(Vec::new, |learned| facts(&at_hand, learned, bench.inches)),
            light: LightFields::of(&asking, at_hand.place.is_some()),
            aim: at_hand.camera.as_ref().map(|_| AimFields::of(&asking)),
            by_sun: at_hand.place.is_some(),
            asking,
            clock: start.and_then(|(found, learned)| {
                clock_for(&learned.start_for(found.light(), self.aim).forecast.practical, found)
            }),
            start: start.map(|(found, learned)| {
                StartView::of(&learned.start_for(found.light(), self.aim), found, learned.fitted_exponent())
            }),
            sources: sources(&here, self.light),
            low_sun: match self.light {
                Some(FoundLight::Sky(..)) if here.sky_table_holds() == Some(false) => LOW_SUN,
                _ => "",
            },
            learned: learned.as_ref().is_some_and(|learned| learned.lesson().based_on() > 0),
            film_loaded: at_hand.loaded.as_ref().is_some_and(|paper| paper.kind == PaperKind::Film),
            day,
            sky_notes: sky_notes(&skies),
            skies,
            film,
            record,
            sheets: sheets.iter().map(|exposure| line(exposure, &at_hand.zone)).collect(),
            scale: start.zip(at_hand.camera.as_ref()).map(|((found, learned), camera)| {
                ScaleView::of(&learned.start_for(found.light(), self.aim), learned, &sheets, camera.id)
            }),
            frame,
        }))
    }
}

/// The sky picked beside a reading that is used instead of it.
fn sky_picked(asking: &Form) -> Option<(CloudCover, SunFrom)> {
    let sun = SunFrom::from_key(asking.value("sun")).unwrap_or_default();
    let by_height = CloudCover::from_key(asking.value("sky")).map(|cover| (cover, sun));
    by_height.or_else(|| Sky::from_key(asking.value("sky")).map(|sky| of_sky(sky, sun)))
}

/// What is said of a sky when the table of skies does not hold.
const LOW_SUN: &str = "The sun is low: the table of skies holds from two hours after sunrise to two hours before sunset. A \
     meter reading is surer, then the kinds of sky by the height of the sun";

/// The form to record a sheet, filled with what is likely.
fn blank(
    frame: &Frame,
    state: &AppState,
    at_hand: &AtHand,
    (light, aim, sign, made): (Option<FoundLight>, Aim, Option<Sign>, &str),
    sheets: &[Exposure],
    (ways, inches): (&[SheetWay], bool),
) -> Form {
    let now = state.now().as_local_control(&at_hand.zone);
    // the last one used, else what the camera takes
    let size = sheets.first().map_or_else(|| at_hand.film_size(inches), |exposure| exposure.sheet.typed.clone());
    let mut values = vec![
        ("made", made.to_owned()),
        ("made_at", now.clone()),
        ("sheet", size),
        ("developed", through_as_said(ways, at_hand.fixer_stands).to_owned()),
        ("developed_at", now),
    ];
    values.extend(light.map(light_values).into_iter().flatten());
    values.extend(aim_values(aim));
    if let Some(sign) = sign {
        values = with_sign(values, sign);
    }
    Form::filled(frame, 0, values)
}

/// Whether the sheet went through the trays, as far as its own way says so; empty where it does not: then it is
/// asked, and nothing is booked that nobody said.
fn through_as_said(ways: &[SheetWay], fixer_stands: bool) -> &'static str {
    match next_to_record(ways).map(|way| way.place) {
        // nobody is led to say so while there is nothing to fix a sheet in
        Some(Place::InTheTrays) if fixer_stands => "yes",
        Some(Place::InTheTrays) | None => "",
        Some(Place::Loading | Place::Outside | Place::Waiting) => "no",
    }
}

fn facts(at_hand: &AtHand, learned: &Learned, inches: bool) -> Vec<Fact> {
    let setting = learned.setting();
    let unit = if inches { LengthUnit::Inch } else { LengthUnit::Millimetre };
    let diameter = computed_words(setting.hole.diameter().as_mm(), 3, unit);
    let hole = format!(
        "{diameter} {}, f/{}",
        if setting.hole.is_measured() { "as measured" } else { "as the formula asks" },
        figures(setting.f_number.as_number(), 3)
    );
    let paper = at_hand.loaded.as_ref().map_or_else(String::new, |paper| {
        let from = if paper.index_from.is_empty() { String::new() } else { format!(" ({})", paper.index_from) };
        format!("{}, EI {}{from}", paper.name, plain(paper.exposure_index().as_number()))
    });
    let is_film = at_hand.loaded.as_ref().is_some_and(|paper| paper.kind == PaperKind::Film);
    // a hole not measured yet is the one to make
    let reveals = if setting.hole.is_measured() { Reveals::F_NUMBER } else { Reveals::TARGET };
    vec![Fact::new("Hole", hole, reveals), Fact::new(if is_film { "Film" } else { "Paper" }, paper, Reveals::NOTHING)]
}

fn line(exposure: &Exposure, zone: &TimeZone) -> SheetLine {
    SheetLine {
        path: format!("/bench/exposures/{}", exposure.id),
        number: exposure.number,
        made_at: exposure.made_at.as_words(zone),
        light: exposure.light_typed.clone(),
        forecast: seconds_text(exposure.forecast_ms as f64 / 1000.0),
        made: exactly(exposure.made_ms),
        result: result_words(exposure),
    }
}
