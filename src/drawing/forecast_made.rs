//! Forecast against made: every sheet a sign on scales of stops, the diagonal where both agree.

use askama::Template;

use super::stops_scale::StopsScale;

const SIDE: f64 = 420.0;
const LEFT: f64 = 76.0;
const RIGHT: f64 = 404.0;
const TOP: f64 = 16.0;
const BOTTOM: f64 = 344.0;
/// Half the width of a sign.
const HALF: f64 = 5.5;

/// One sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Sheet {
    /// What was forecast, seconds.
    pub forecast_s: f64,
    /// What was made, seconds.
    pub made_s: f64,
    /// What would have been right, once judged.
    pub right_s: Option<f64>,
    /// Which group it belongs to, counted from zero.
    pub group: usize,
}

/// The picture.
#[derive(Debug, Template)]
#[template(path = "drawings/forecast_made.html")]
pub struct ForecastMade {
    id: &'static str,
    title: String,
    description: String,
    diagonal: [String; 4],
    above: [String; 4],
    below: [String; 4],
    across: Vec<(String, String)>,
    up: Vec<(String, String)>,
    /// From what was made to what would have been right: x, y1, y2.
    whiskers: Vec<(String, String, String)>,
    signs: Vec<String>,
    /// Sign and words of each group that has sheets.
    legend: Vec<(String, String, String)>,
    height: f64,
}

impl askama::filters::HtmlSafe for ForecastMade {}

impl ForecastMade {
    /// Draws sheets of groups, each with a sign of its own. `id` begins the ids inside, unique on its
    /// page.
    pub fn of(id: &'static str, title: &str, groups: &[&str], sheets: &[Sheet]) -> Self {
        let times =
            || sheets.iter().flat_map(|sheet| [Some(sheet.forecast_s), Some(sheet.made_s), sheet.right_s]).flatten();
        let x = StopsScale::holding(times(), LEFT, RIGHT);
        let y = StopsScale::holding(times(), BOTTOM, TOP);
        let one = |value: f64| format!("{value:.1}");
        let near = sheets.iter().filter(|sheet| (sheet.made_s / sheet.forecast_s).log2().abs() <= 0.5).count();
        let judged: Vec<f64> =
            sheets.iter().filter_map(|sheet| Some((sheet.right_s? / sheet.forecast_s).log2().abs())).collect();
        let within = |stops: f64| judged.iter().filter(|off| **off <= stops).count();
        let counts: Vec<String> = groups
            .iter()
            .enumerate()
            .map(|(group, words)| (sheets.iter().filter(|sheet| sheet.group == group).count(), words))
            .filter(|(count, _)| *count > 0)
            .map(|(count, words)| format!("{count} {words}"))
            .collect();
        let description = format!(
            "{}: {}. Made within half a stop of the forecast: {near}. Of {} judged, the forecast was within half a stop of \
             right for {}, within one for {}. The table has every sheet.",
            if sheets.len() == 1 { "1 sheet".to_owned() } else { format!("{} sheets", sheets.len()) },
            if counts.is_empty() { "none".to_owned() } else { counts.join(", ") },
            judged.len(),
            within(0.5),
            within(1.0)
        );
        let line = |shift: f64| {
            // cut off where it leaves the square
            let step = shift * x.stop();
            let (x1, y1, x2, y2) = if shift > 0.0 {
                (LEFT, BOTTOM - step, RIGHT - step, TOP)
            } else {
                (LEFT - step, BOTTOM, RIGHT, TOP - step)
            };
            [one(x1), one(y1), one(x2), one(y2)]
        };
        let used: Vec<usize> =
            (0..groups.len()).filter(|group| sheets.iter().any(|sheet| sheet.group == *group)).collect();
        let legend = used
            .iter()
            .enumerate()
            .map(|(row, group)| {
                let at = BOTTOM + 60.0 + row as f64 * 20.0;
                (sign(*group, LEFT + 4.0, at), one(at + 5.0), groups[*group].to_owned())
            })
            .collect();
        Self {
            id,
            title: title.to_owned(),
            description,
            diagonal: line(0.0),
            above: line(1.0),
            below: line(-1.0),
            across: y.marks().into_iter().map(|(at, words)| (one(at), words)).collect(),
            up: x.marks().into_iter().map(|(at, words)| (one(at), words)).collect(),
            whiskers: sheets
                .iter()
                .filter_map(|sheet| {
                    Some((one(x.at(sheet.forecast_s)), one(y.at(sheet.made_s)), one(y.at(sheet.right_s?))))
                })
                .collect(),
            signs: sheets.iter().map(|sheet| sign(sheet.group, x.at(sheet.forecast_s), y.at(sheet.made_s))).collect(),
            legend,
            height: BOTTOM + 56.0 + used.len().max(1) as f64 * 20.0 + 8.0,
        }
    }

    fn width(&self) -> f64 {
        SIDE
    }
}

/// The sign of a group as a path: shapes, not colours, tell groups apart.
fn sign(group: usize, x: f64, y: f64) -> String {
    let h = HALF;
    let at = |dx: f64, dy: f64| format!("{:.1} {:.1}", x + dx, y + dy);
    match group % 5 {
        0 => format!("M{}A{h} {h} 0 1 0 {}A{h} {h} 0 1 0 {}Z", at(-h, 0.0), at(h, 0.0), at(-h, 0.0)),
        1 => format!("M{}L{}L{}L{}Z", at(-h, -h), at(h, -h), at(h, h), at(-h, h)),
        2 => format!("M{}L{}L{}Z", at(0.0, -h), at(h, h), at(-h, h)),
        3 => format!("M{}L{}L{}L{}Z", at(0.0, -h * 1.2), at(h * 1.2, 0.0), at(0.0, h * 1.2), at(-h * 1.2, 0.0)),
        _ => format!("M{}L{}M{}L{}", at(-h, -h), at(h, h), at(h, -h), at(-h, h)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sheet_made_as_forecast_lies_on_the_diagonal_and_the_words_count() {
        let sheet = |forecast_s, made_s, right_s, group| Sheet { forecast_s, made_s, right_s, group };
        let sheets = [sheet(8.0, 8.0, Some(8.0), 0), sheet(30.0, 60.0, Some(30.0), 1), sheet(30.0, 30.0, None, 1)];
        let picture = ForecastMade::of("by-sky", "By sky", &["in sun", "in cloud", "in shade"], &sheets);
        assert!(picture.description.contains("3 sheets: 1 in sun, 2 in cloud."), "{}", picture.description);
        assert!(picture.description.contains("Of 2 judged, the forecast was within half a stop of right for 2"));
        let svg = picture.render().expect("a drawing");
        assert!(svg.contains("in cloud</text>") && !svg.contains("in shade</text>"), "{svg}");
    }

    #[test]
    fn no_sheets_draw_nothing_and_fail_nowhere() {
        assert!(ForecastMade::of("x", "X", &["a"], &[]).render().is_ok());
    }
}
