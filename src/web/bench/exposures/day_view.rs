//! The chart of the day for a camera: how long to leave the shutter open against the hour.

use jiff::ToSpan;

use crate::{
    calc::{
        light::{
            daylight::CloudCover,
            given_time::{GivenTime, notes},
            sky::{Sky, SunFrom},
        },
        quantity::Seconds,
        working::seconds_text,
    },
    domain::{
        exposure::{aim::Aim, found_light::FoundLight, sun_found::Whereabouts},
        instant::Instant,
    },
    drawing::day_chart::{DayChart, DayPoint},
    lab::exposure::at_hand::Learned,
};

use crate::web::kit::sentences::sentences;

/// Longer than this nobody waits in a class: too dark.
const TOO_LONG_S: f64 = 3600.0;
/// How far apart the moments of the chart are.
const STEP_MINUTES: i64 = 15;

/// The chart with its table.
#[derive(Debug)]
pub struct DayView {
    /// The drawing.
    pub chart: DayChart,
    /// The day, the sky and how the subject is lit, in words.
    pub heading: String,
    /// Full hours with the time under each kind of sky; empty where too dark.
    pub rows: Vec<(String, [String; 3])>,
    /// What has to be said beside the times.
    pub notes: String,
    /// Why the chart may be another than the light above; empty when it is the same.
    pub sky_from: &'static str,
    /// The kinds of sky, as headings of the table.
    pub covers: [&'static str; 3],
}

impl DayView {
    /// The day that holds the moment asked for. `None` without the site's position.
    pub fn of(
        learned: &Learned,
        here: &Whereabouts,
        now: Instant,
        (light, picked): (Option<FoundLight>, Option<(CloudCover, SunFrom)>),
        aim: Aim,
        camera: i64,
    ) -> Option<Self> {
        here.place?;
        let (cover, sun, sky_from) = sky_of(light, picked);
        let date = here.at.local(&here.zone).date();
        let midnight = |date: jiff::civil::Date| Instant::from_local(&format!("{date}T00:00"), &here.zone).ok();
        let (begin, end) = (midnight(date)?, midnight(date.checked_add(1.day()).ok()?)?);
        let time = |at: Instant, cover: CloudCover| -> Option<(Seconds, GivenTime)> {
            let found = here.at(at).sun(cover, sun).ok()?;
            let forecast = learned.start_for(found.light(), aim).forecast;
            (forecast.time.as_s() <= TOO_LONG_S).then_some((forecast.time, forecast.practical))
        };
        // elapsed hours, so that a day of 23 or 25 hours is drawn as long as it is
        let hours = |at: Instant| at.micros_since(begin) as f64 / 3.6e9;
        let moments: Vec<Instant> =
            (0..).map(|step| begin.plus_minutes(step * STEP_MINUTES)).take_while(|at| *at <= end).collect();
        let points: Vec<DayPoint> = moments
            .iter()
            .map(|&at| {
                let local = at.local(&here.zone);
                let full = local.minute() == 0 && local.hour() % 3 == 0;
                DayPoint {
                    hours: hours(at),
                    label: full.then(|| if at == end { "24".to_owned() } else { local.hour().to_string() }),
                    seconds: time(at, cover).map(|(time, _)| time.as_s()),
                }
            })
            .collect();
        let hourly: Vec<(String, [Option<GivenTime>; 3])> = moments
            .iter()
            .filter(|at| at.local(&here.zone).minute() == 0)
            .map(|&at| (at.as_time(&here.zone), CloudCover::ALL.map(|cover| time(at, cover).map(|(_, given)| given))))
            .filter(|(_, times)| times.iter().any(Option::is_some))
            .collect();
        let said = notes(hourly.iter().flat_map(|(_, times)| times.iter().flatten()));
        let words = |time: Option<GivenTime>| time.map_or("too dark".to_owned(), |time| time.text);
        let rows = hourly.iter().map(|(hour, times)| (hour.clone(), times.clone().map(words))).collect();
        let today = now.local(&here.zone).date() == date;
        let heading = format!("{}, {}, {}", date.strftime("%-d %b %Y"), cover.label(), sun.label());
        let description = format!("{} {sky_from}", described(&points, &moments, here)).trim_end().to_owned();
        Some(Self {
            chart: DayChart::of(
                "day",
                format!("Forecast for camera {camera} through the day: {heading}"),
                description,
                &points,
                today.then(|| (hours(now), format!("now, {}", now.as_time(&here.zone)))),
            ),
            heading,
            rows,
            notes: sentences(&said),
            sky_from,
            covers: CloudCover::ALL.map(CloudCover::label),
        })
    }
}

/// The kind of sky and the place of the sun that a light stands for, and where they are from when the
/// light says neither: a reading fixes the light of its moment only, and before a light is chosen a
/// clear sky is drawn.
fn sky_of(light: Option<FoundLight>, picked: Option<(CloudCover, SunFrom)>) -> (CloudCover, SunFrom, &'static str) {
    let (cover, sun) = match light {
        Some(FoundLight::Sun(found)) => (found.cover, found.sun),
        Some(FoundLight::Sky(sky, sun)) => of_sky(sky, sun),
        Some(_) => {
            return match picked {
                Some((cover, sun)) => (cover, sun, READING_AND_SKY),
                None => (CloudCover::Clear, SunFrom::Front, READING_ONLY),
            };
        }
        None => return (CloudCover::Clear, SunFrom::Front, NO_LIGHT),
    };
    (cover, sun, "")
}

/// Said of a chart beside a reading, with a sky picked.
const READING_AND_SKY: &str = "Your reading fixes the light of now only: the chart follows the sky you picked, by the \
    height of the sun, and may differ from the time above.";
/// Said of a chart beside a reading alone.
const READING_ONLY: &str = "Your reading fixes the light of now only, and says nothing of the sky: the chart is drawn for a \
    clear sky with the sun behind the camera. Pick the sky you see beside the reading and it follows that.";
/// Said of a chart before a light is chosen.
const NO_LIGHT: &str = "Drawn for a clear sky with the sun behind the camera until you choose your light.";

/// The kind of sky and the place of the sun that a description stands for.
pub fn of_sky(sky: Sky, sun: SunFrom) -> (CloudCover, SunFrom) {
    match sky {
        Sky::SandOrSnow | Sky::FullSun | Sky::BeforeSunset | Sky::Sunset => (CloudCover::Clear, sun),
        Sky::OpenShade => (CloudCover::Clear, SunFrom::Shade),
        Sky::HazySun => (CloudCover::PartlyCloudy, sun),
        Sky::CloudyBright | Sky::HeavyOvercast => (CloudCover::Cloudy, SunFrom::Front),
    }
}

fn described(points: &[DayPoint], moments: &[Instant], here: &Whereabouts) -> String {
    let lit: Vec<(f64, Instant)> =
        points.iter().zip(moments).filter_map(|(point, at)| Some((point.seconds?, *at))).collect();
    let (Some(first), Some(last)) = (lit.first(), lit.last()) else {
        return "Too dark all day.".to_owned();
    };
    let shortest = lit.iter().min_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or(first);
    let at = |moment: Instant| moment.as_time(&here.zone);
    format!(
        "Light enough from {} ({}) to {} ({}); shortest at {}, {}. Grey: too dark, or longer than an hour. The table below \
         has every hour.",
        at(first.1),
        seconds_text(first.0),
        at(last.1),
        seconds_text(last.0),
        at(shortest.1),
        seconds_text(shortest.0)
    )
}
