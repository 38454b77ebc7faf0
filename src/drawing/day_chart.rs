//! The chart of a day: how long to leave the shutter open against the hour.

use askama::Template;

use super::stops_scale::StopsScale;

const WIDTH: f64 = 640.0;
const HEIGHT: f64 = 260.0;
const LEFT: f64 = 74.0;
const RIGHT: f64 = 624.0;
const TOP: f64 = 26.0;
const BOTTOM: f64 = 218.0;

/// One moment of the day.
#[derive(Clone, Debug, PartialEq)]
pub struct DayPoint {
    /// Hours since the day began.
    pub hours: f64,
    /// The clock's hour, where it is a full one: what stands under the chart.
    pub label: Option<String>,
    /// Seconds to leave the shutter open; `None` while it is too dark.
    pub seconds: Option<f64>,
}

/// The chart of a day.
#[derive(Debug, Template)]
#[template(path = "drawings/day_chart.html")]
pub struct DayChart {
    id: &'static str,
    title: String,
    description: String,
    /// Left edge and width of each stretch that is too dark.
    dark: Vec<(String, String)>,
    /// Place and words of each line across.
    across: Vec<(String, String)>,
    /// Place and words of each hour.
    hours: Vec<(String, String)>,
    path: String,
    now: Option<(String, String)>,
    now_anchor: &'static str,
}

impl askama::filters::HtmlSafe for DayChart {}

impl DayChart {
    /// Draws moments in the order of the day; `now` is hours since the day began with the words to
    /// set beside it. `id` begins the ids inside, unique on its page.
    pub fn of(
        id: &'static str,
        title: String,
        description: String,
        points: &[DayPoint],
        now: Option<(f64, String)>,
    ) -> Self {
        let span = points.last().map_or(24.0, |point| point.hours).max(1.0);
        let x = |hours: f64| LEFT + hours / span * (RIGHT - LEFT);
        // longer is higher up
        let scale = StopsScale::holding(points.iter().filter_map(|point| point.seconds), BOTTOM, TOP);
        let mut path = String::new();
        let mut drawing = false;
        for point in points {
            match point.seconds {
                Some(seconds) => {
                    let step = if drawing { 'L' } else { 'M' };
                    path.push_str(&format!("{step}{:.1} {:.1}", x(point.hours), scale.at(seconds)));
                    drawing = true;
                }
                None => drawing = false,
            }
        }
        let mut dark = Vec::new();
        let mut since: Option<f64> = None;
        for point in points {
            match (point.seconds, since) {
                (None, None) => since = Some(point.hours),
                (Some(_), Some(from)) => {
                    dark.push((from, point.hours));
                    since = None;
                }
                _ => {}
            }
        }
        dark.extend(since.map(|from| (from, span)));
        let one = |value: f64| format!("{value:.1}");
        Self {
            id,
            title,
            description,
            dark: dark.into_iter().map(|(from, to)| (one(x(from)), one(x(to) - x(from)))).collect(),
            across: scale.marks().into_iter().map(|(y, words)| (one(y), words)).collect(),
            hours: points
                .iter()
                .filter_map(|point| point.label.clone().map(|label| (one(x(point.hours)), label)))
                .collect(),
            path,
            now_anchor: if now.as_ref().is_some_and(|(hours, _)| *hours > span * 0.75) { "end" } else { "start" },
            now: now.map(|(hours, words)| (one(x(hours.clamp(0.0, span))), words)),
        }
    }

    fn width(&self) -> f64 {
        WIDTH
    }

    fn height(&self) -> f64 {
        HEIGHT
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn night_is_a_gap_in_the_line_and_a_grey_stretch() {
        let point = |hours: f64, seconds| DayPoint { hours, label: Some(format!("{hours}")), seconds };
        let points =
            [point(0.0, None), point(6.0, None), point(8.0, Some(40.0)), point(12.0, Some(20.0)), point(24.0, None)];
        let chart = DayChart::of("day", "t".to_owned(), "d".to_owned(), &points, Some((12.0, "now".to_owned())));
        assert_eq!(chart.dark.len(), 2);
        assert_eq!(chart.path.matches('M').count(), 1);
        let svg = chart.render().expect("a drawing");
        assert!(svg.contains(">now</text>") && svg.contains("role=\"img\""), "{svg}");
    }
}
