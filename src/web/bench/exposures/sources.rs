//! Where a figure of the light may come from: how sure each is, and which is the surest at hand.

use crate::{
    calc::{
        light::{
            daylight::{self, CloudCover},
            sky::{self, SunFrom},
        },
        working::figures,
    },
    domain::exposure::{
        found_light::FoundLight,
        sun_found::{NoSun, Whereabouts},
    },
};

/// One source of the light's figure.
#[derive(Debug)]
pub struct SourceLine {
    /// What it is.
    pub what: &'static str,
    /// What it says now.
    pub says: String,
    /// How sure it is.
    pub spread: String,
    /// Whether the forecast uses it.
    pub used: bool,
    /// Whether it is the surest of those at hand.
    pub surest: bool,
}

/// The sources at a moment, the surest first.
pub fn sources(here: &Whereabouts, light: Option<FoundLight>) -> Vec<SourceLine> {
    let said = |found: FoundLight| {
        let light = found.light();
        (format!("{}: EV {}", found.in_words(), figures(light.ev100.as_ev(), 3)), figures(light.sd_stops, 1))
    };
    let (read, described, sun) = match light {
        Some(found @ FoundLight::Sky(..)) => (None, Some(said(found)), None),
        Some(found @ FoundLight::Sun(_)) => (None, None, Some(said(found))),
        Some(found) => (Some(said(found)), None, None),
        None => (None, None, None),
    };
    let table_holds = here.sky_table_holds() != Some(false);
    let sun_up = here.altitude_deg().is_some_and(|deg| deg >= 0.0);
    let surest = if read.is_some() {
        0
    } else if table_holds {
        1
    } else if sun_up {
        2
    } else {
        // neither table nor sun says anything of a night: a meter does
        0
    };
    let line = |place: usize, what, used: Option<(String, String)>, idle: String, spread: String| SourceLine {
        what,
        used: used.is_some(),
        surest: place == surest,
        spread: used.as_ref().map_or(spread, |(_, sd)| sd.clone()),
        says: used.map_or(idle, |(says, _)| says),
    };
    let by_table = if table_holds { "choose what you see" } else { "the sun is too low for the table of skies" };
    vec![
        line(0, "Meter reading, lux or reflected", read, "none typed".to_owned(), figures(sky::SD_METERED, 1)),
        line(1, "Description of the sky", described, by_table.to_owned(), table_spread()),
        line(2, "Height of the sun and kind of sky", sun, by_height(here), figures(daylight::SD_STOPS, 2)),
    ]
}

/// From the surest sky of the table to the least sure.
fn table_spread() -> String {
    format!("{:.1} to {:.1}", sky::SD_SURE, sky::SD_WIDEST)
}

/// What the sun's height says under each kind of sky, from the front.
fn by_height(here: &Whereabouts) -> String {
    let ev = |cover: CloudCover| {
        here.sun(cover, SunFrom::Front)
            .map(|found| format!("EV {} {}", figures(found.light().ev100.as_ev(), 3), cover.label()))
    };
    match CloudCover::ALL.into_iter().map(ev).collect::<Result<Vec<_>, NoSun>>() {
        Ok(each) => {
            let high = here.altitude_deg().map_or(String::new(), |deg| format!("sun {}° high: ", figures(deg, 2)));
            format!("{high}{}", each.join(", "))
        }
        Err(NoSun::NoPlace) => "the site’s latitude and longitude are not entered".to_owned(),
        Err(NoSun::BelowHorizon) => "the sun is below the horizon".to_owned(),
    }
}
