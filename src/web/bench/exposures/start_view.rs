//! A starting exposure as a page shows it.

use crate::{
    calc::{
        light::{
            exposure::exposure_time_working,
            forecast::TOO_SHORT_ADVICE,
            sky::{Sky, SunFrom},
        },
        working::{Working, figures, plain, seconds_text, stops_text},
    },
    domain::{
        found_light::FoundLight,
        starting_exposure::{AfterBlank, StartingExposure},
        typed_seconds::exactly,
        verdict::Verdict,
    },
    web::bench::at_hand::Learned,
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
    /// What the uncertainty mostly comes from.
    pub dominant: &'static str,
    /// How many sheets it rests on.
    pub experience: String,
    /// What to do when no hand can time it; empty otherwise.
    pub too_short: &'static str,
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
    pub fn of(start: &StartingExposure, found: FoundLight) -> Self {
        let forecast = &start.forecast;
        let error = forecast.practical.error_stops;
        Self {
            time: forecast.practical.text.clone(),
            interval: forecast.interval_text(),
            rounding: if error.abs() < 0.05 {
                String::new()
            } else {
                format!("Rounded from {}: {} stops.", seconds_text(forecast.time.as_s()), stops_text(error))
            },
            bracket: forecast.bracket.iter().map(|time| time.text.clone()).collect(),
            step: plain(forecast.bracket_step_stops),
            dominant: forecast.dominant.advice(),
            experience: experience_words(start),
            too_short: if forecast.too_short_by_hand { TOO_SHORT_ADVICE } else { "" },
            after_blank: start.after_blank.map(after_blank_words).unwrap_or_default(),
            light: found.in_words(),
            ev100: format!(
                "EV {} at ISO 100, ± {} stops",
                figures(start.light.ev100.as_ev(), 3),
                figures(start.light.sd_stops, 1)
            ),
            working: vec![
                light_working(start, found),
                exposure_time_working(start.setting.f_number, start.index, start.light.ev100),
                forecast.working(),
            ],
        }
    }
}

fn light_working(start: &StartingExposure, found: FoundLight) -> Working {
    Working {
        name: "light",
        value: format!("EV {}", figures(start.light.ev100.as_ev(), 3)),
        formula: format!("{}: EV {} at ISO 100", found.in_words(), figures(start.light.ev100.as_ev(), 3)),
        source: start.light.source,
        interval: None,
    }
}

fn experience_words(start: &StartingExposure) -> String {
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
    format!("{} on this paper: {asked}", start.forecast.experience_text())
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
    /// The time as one counts it.
    pub time: String,
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
                query: crate::web::light_fields::light_query(found),
                ev100: figures(sky.ev100().as_ev(), 3),
                time: if forecast.too_short_by_hand { "too short by hand".to_owned() } else { forecast.practical.text },
            }
        })
        .collect()
}
