//! The chart of the day for a camera: how long to leave the shutter open against the hour.

use jiff::ToSpan;

use crate::{
    calc::{
        light::{
            daylight::CloudCover,
            sky::{Sky, SunFrom},
        },
        quantity::Seconds,
        working::seconds_text,
    },
    domain::{aim::Aim, found_light::FoundLight, instant::Instant, sun_found::Whereabouts},
    drawing::day_chart::{DayChart, DayPoint},
    web::bench::at_hand::Learned,
};

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
    /// The kinds of sky, as headings of the table.
    pub covers: [&'static str; 3],
}

impl DayView {
    /// The day that holds the moment asked for. `None` without the site's position.
    pub fn of(
        learned: &Learned,
        here: &Whereabouts,
        now: Instant,
        light: Option<FoundLight>,
        aim: Aim,
        camera: i64,
    ) -> Option<Self> {
        here.place?;
        let (cover, sun) = sky_of(light);
        let date = here.at.local(&here.zone).date();
        let midnight = |date: jiff::civil::Date| Instant::from_local(&format!("{date}T00:00"), &here.zone).ok();
        let (begin, end) = (midnight(date)?, midnight(date.checked_add(1.day()).ok()?)?);
        let time = |at: Instant, cover: CloudCover| -> Option<Seconds> {
            let found = here.at(at).sun(cover, sun).ok()?;
            let time = learned.start_for(found.light(), aim).forecast.time;
            (time.as_s() <= TOO_LONG_S).then_some(time)
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
                    seconds: time(at, cover).map(Seconds::as_s),
                }
            })
            .collect();
        let rows = moments
            .iter()
            .filter(|at| at.local(&here.zone).minute() == 0)
            .map(|&at| (at.as_time(&here.zone), CloudCover::ALL.map(|cover| time(at, cover))))
            .filter(|(_, times)| times.iter().any(Option::is_some))
            .map(|(hour, times)| {
                let words =
                    |time: Option<Seconds>| time.map_or("too dark".to_owned(), |time| seconds_text(time.as_s()));
                (hour, times.map(words))
            })
            .collect();
        let today = now.local(&here.zone).date() == date;
        let heading = format!("{}, {}, {}", date.strftime("%-d %b %Y"), cover.label(), sun.label());
        let description = described(&points, &moments, here);
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
            covers: CloudCover::ALL.map(CloudCover::label),
        })
    }
}

/// The kind of sky and the place of the sun that a light stands for; clear and from the front for a
/// reading, which says neither.
fn sky_of(light: Option<FoundLight>) -> (CloudCover, SunFrom) {
    match light {
        Some(FoundLight::Sun(found)) => (found.cover, found.sun),
        Some(FoundLight::Sky(sky, sun)) => match sky {
            Sky::SandOrSnow | Sky::FullSun | Sky::BeforeSunset | Sky::Sunset => (CloudCover::Clear, sun),
            Sky::OpenShade => (CloudCover::Clear, SunFrom::Shade),
            Sky::HazySun => (CloudCover::PartlyCloudy, sun),
            Sky::CloudyBright | Sky::HeavyOvercast => (CloudCover::Cloudy, SunFrom::Front),
        },
        _ => (CloudCover::Clear, SunFrom::Front),
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
