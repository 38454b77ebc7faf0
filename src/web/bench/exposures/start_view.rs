//! A starting exposure as a page shows it.

use crate::calc::light::forecast::TOO_SHORT_ADVICE;
use crate::web::kit::sentences::sentences;
use crate::{
    calc::{
        light::{
            experience::FittedExponent,
            exposure::exposure_time_working,
            given_time::{GivenTime, UNDER_HALF_A_SECOND, notes},
            sky::{Sky, SunFrom},
            subject::subject_light_working,
        },
        working::{Working, figures, plain, seconds_text, stops_text},
    },
    domain::{
        exposure::{
            found_light::FoundLight,
            shown_forecast::ShownForecast,
            starting_exposure::{AfterBlank, StartingExposure},
            verdict::Verdict,
        },
        measure::typed_seconds::exactly,
    },
    lab::exposure::at_hand::Learned,
};

/// A starting exposure in words.
#[derive(Debug)]
pub struct StartView {
    /// The time as one counts it.
    pub time: String,
    /// The 80 % interval in seconds and stops.
    pub interval: String,
    /// What the rounding costs, when it costs something worth saying.
    pub rounding: String,
    /// Three times to try.
    pub bracket: Vec<String>,
    /// How far apart they are.
    pub step: String,
    /// Five times to try.
    pub five: Vec<String>,
    /// How far apart the five are.
    pub step_of_five: String,
    /// What to do with the first sheet of all; empty once there is experience.
    pub first_sheet: String,
    /// Where on the film it is exposed for; empty for the middle.
    pub aim: String,
    /// That a hole has no glass, and where that is counted.
    pub no_lens: String,
    /// What has to be said beside the times: past the maker's table, too short by hand.
    pub notes: String,
    /// What the uncertainty mostly comes from.
    pub dominant: &'static str,
    /// How many sheets it rests on.
    pub experience: String,
    /// What to do when no hand can time it; empty otherwise.
    pub too_short: String,
    /// Why it is a wide step; empty otherwise.
    pub after_blank: String,
    /// The light: its words.
    pub light: String,
    /// Its value.
    pub ev100: String,
    /// How it was calculated.
    pub working: Vec<Working>,
}

impl StartView {
    /// Puts it in words.
    pub fn of(start: &StartingExposure, found: FoundLight, fitted: Option<FittedExponent>) -> Self {
        let forecast = &start.forecast;
        let error = forecast.practical.error_stops;
        Self {
            time: if forecast.too_short_by_hand {
                forecast.practical.text.replace(UNDER_HALF_A_SECOND, "under half a second")
            } else {
                forecast.practical.text.clone()
            },
            interval: forecast.interval_text(),
            rounding: if error.abs() < 0.05 || forecast.too_short_by_hand {
                String::new()
            } else {
                format!("Rounded from {}: {} stops.", seconds_text(forecast.time.as_s()), stops_text(error))
            },
            bracket: forecast.bracket.iter().map(|time| time.text.clone()).collect(),
            step: stops_apart(forecast.bracket_step_stops),
            five: forecast.bracket_of_five.iter().map(|time| time.text.clone()).collect(),
            step_of_five: stops_apart(forecast.step_of_five_stops),
            first_sheet: first_sheet(start),
            aim: aim_words(start),
            no_lens: no_lens_words(start),
            notes: sentences(&forecast.notes()),
            dominant: forecast.dominant.advice(),
            experience: experience_words(start, fitted),
            too_short: if forecast.too_short_by_hand { too_short(start) } else { String::new() },
            after_blank: start.after_blank.map(after_blank_words).unwrap_or_default(),
            light: found.in_words(),
            ev100: format!(
                "EV {} at ISO 100, ± {} stops",
                figures(start.light.ev100.as_ev(), 3),
                figures(start.light.sd_stops, 1)
            ),
            working: [
                Some(light_working(start, found)),
                Some(exposure_time_working(start.setting.f_number, start.index, start.light.ev100)),
                forecast.adjusting_working(),
                Some(forecast.working()),
            ]
            .into_iter()
            .flatten()
            .collect(),
        }
    }
}

/// `1 stop apart`, `1.5 stops apart`.
fn stops_apart(step: f64) -> String {
    format!("{} {} apart", plain(step), if step == 1.0 { "stop" } else { "stops" })
}

/// With no experience the first sheet goes wide of the rest.
fn first_sheet(start: &StartingExposure) -> String {
    if start.experience.based_on > 0 {
        return String::new();
    }
    let [short, middle, long] = &start.forecast.bracket;
    format!(
        "Nobody has judged a sheet on this paper yet. Cut the first one in three and give the pieces {}, {} and {} ({}): \
         one of them will show a picture, and it teaches the next",
        short.text,
        middle.text,
        long.text,
        stops_apart(start.forecast.bracket_step_stops)
    )
}

fn aim_words(start: &StartingExposure) -> String {
    match start.aim.words() {
        words if words.is_empty() => String::new(),
        words => format!(
            "{words}: {} stops more than the middle, which gets too much by as many",
            figures(start.aim.stops(), 2)
        ),
    }
}

fn no_lens_words(start: &StartingExposure) -> String {
    match start.gain_stops {
        0.0 => "a hole has no glass and gains 0.27 stop on the lens that meters mean: a paper’s EI holds that already"
            .to_owned(),
        gain => format!(
            "a hole has no glass and gains {} stop on the lens that a film’s ISO speed is meant for: taken off once",
            figures(gain, 2)
        ),
    }
}

/// What would bring the time to two seconds, which a hand can give.
fn too_short(start: &StartingExposure) -> String {
    let share = start.forecast.time.as_s() / 2.0;
    format!(
        "{TOO_SHORT_ADVICE}. A hole of {} mm ({} in), or paper of EI {}, would make it two seconds",
        figures(start.setting.hole.diameter().as_mm() * share.sqrt(), 2),
        figures(start.setting.hole.diameter().as_mm() * share.sqrt() / 25.4, 2),
        figures(start.index.as_number() * share, 2)
    )
}

fn light_working(start: &StartingExposure, found: FoundLight) -> Working {
    if let FoundLight::Sun(found) = found {
        return subject_light_working(found.altitude(), found.sun, found.on_subject());
    }
    Working {
        name: "light",
        value: format!("EV {}", figures(start.light.ev100.as_ev(), 3)),
        formula: format!("{}: EV {} at ISO 100", found.in_words(), figures(start.light.ev100.as_ev(), 3)),
        source: start.light.source,
        interval: None,
    }
}

fn experience_words(start: &StartingExposure, fitted: Option<FittedExponent>) -> String {
    let experience = start.experience;
    if experience.based_on == 0 {
        return "no experience yet: the interval is as wide as papers, days and cameras differ".to_owned();
    }
    let tenths = format!("{:.1}", experience.correction_stops.abs());
    let asked = match experience.correction_stops {
        _ if tenths == "0.0" => "what the bare formula asks for is right".to_owned(),
        more if more > 0.0 => format!("{tenths} stops more than the bare formula asks for"),
        _ => format!("{tenths} stops less than the bare formula asks for"),
    };
    let exponent = fitted.map_or(String::new(), |fitted| {
        format!("; reciprocity exponent {:.2} ± {:.2}, from the same sheets", fitted.exponent.as_number(), fitted.sd)
    });
    format!("{} on this paper: {asked}{exponent}", start.forecast.experience_text())
}

fn after_blank_words(after: AfterBlank) -> String {
    let made = exactly(after.made_ms);
    let (number, verdict) = (after.number, after.verdict.as_str());
    match (after.verdict, after.leads) {
        (Verdict::AllWhite, true) => {
            format!(
                "Sheet {number} came out {verdict} after {made}, which only says “more”: this is four times that light."
            )
        }
        (Verdict::AllWhite, false) => {
            format!(
                "Sheet {number} came out {verdict} after {made}; the forecast asks for more than four times that light anyway."
            )
        }
        (_, true) => {
            format!(
                "Sheet {number} came out {verdict} after {made}, which only says “less”: this is a quarter of that light."
            )
        }
        (_, false) => {
            format!(
                "Sheet {number} came out {verdict} after {made}; the forecast asks for less than a quarter of that light anyway."
            )
        }
    }
}

/// One sky with its starting exposure, for choosing at a glance.
#[derive(Debug)]
pub struct SkyLine {
    /// The sky in words.
    pub sky: &'static str,
    /// The query that asks for it.
    pub query: String,
    /// EV at ISO 100.
    pub ev100: String,
    /// The time by the bare formula, without what sheets have taught.
    pub bare: GivenTime,
    /// The time as one counts it.
    pub time: GivenTime,
}

/// The forecasts under every sky as they are shown, for the record.
pub fn shown_by_sky(learned: &Learned) -> Vec<ShownForecast> {
    let shown = |sky: Sky| {
        let found = FoundLight::Sky(sky, SunFrom::Front);
        ShownForecast::of(&learned.start(found.light()), found)
    };
    Sky::ALL.map(shown).into()
}

/// What has to be said beside the times of a table of skies.
pub fn sky_notes(skies: &[SkyLine]) -> String {
    sentences(&notes(skies.iter().flat_map(|line| [&line.bare, &line.time])))
}

/// The starting exposure under every sky, the sun behind the camera.
pub fn by_sky(learned: &Learned) -> Vec<SkyLine> {
    Sky::ALL
        .into_iter()
        .map(|sky| {
            let found = FoundLight::Sky(sky, SunFrom::Front);
            let forecast = learned.start(found.light()).forecast;
            SkyLine {
                sky: sky.label(),
                query: crate::web::fields::light_fields::light_query(found),
                ev100: figures(sky.ev100().as_ev(), 3),
                bare: learned.by_formula(found.light()),
                time: forecast.practical,
            }
        })
        .collect()
}
