//! How the interval narrows as sheets come in.

use askama::Template;

const WIDTH: f64 = 640.0;
const HEIGHT: f64 = 230.0;
const LEFT: f64 = 56.0;
const RIGHT: f64 = 624.0;
const TOP: f64 = 16.0;
const BOTTOM: f64 = 180.0;

/// After so many sheets, half the width of the interval in stops.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Width {
    /// How many sheets.
    pub sheets: usize,
    /// Half the width, stops.
    pub half_stops: f64,
}

/// The picture.
#[derive(Debug, Template)]
#[template(path = "drawings/narrowing.html")]
pub struct Narrowing {
    id: String,
    description: String,
    band: String,
    middle: String,
    across: Vec<(String, String)>,
    counts: Vec<(String, String)>,
}

impl askama::filters::HtmlSafe for Narrowing {}

impl Narrowing {
    /// Draws widths in the order sheets came in, the first with none. `id` begins the ids inside,
    /// unique on its page.
    pub fn of(id: &str, widths: &[Width]) -> Self {
        let most = widths.iter().map(|width| width.half_stops).fold(1.0, f64::max).ceil();
        let last = widths.last().map_or(1, |width| width.sheets).max(1);
        let x = |sheets: usize| LEFT + sheets as f64 / last as f64 * (RIGHT - LEFT);
        let y = |stops: f64| (TOP + BOTTOM) / 2.0 - stops / most * (BOTTOM - TOP) / 2.0;
        let point = |sheets: usize, stops: f64| format!("{:.1} {:.1}", x(sheets), y(stops));
        let upper = widths.iter().map(|width| point(width.sheets, width.half_stops));
        let lower = widths.iter().rev().map(|width| point(width.sheets, -width.half_stops));
        let outline: Vec<String> = upper.chain(lower).collect();
        let step = [1, 2, 5, 10, 20, 50, 100].into_iter().find(|step| last / step <= 8).unwrap_or(200);
        let said = |width: Option<&Width>| width.map_or(String::new(), |width| format!("± {:.1}", width.half_stops));
        Self {
            id: id.to_owned(),
            description: format!(
                "Half the width of the 80 % interval that paper, day and camera leave, for a camera not used before: {} stops \
                 with no sheet, {} stops after {} sheets. The table below has the figures.",
                said(widths.first()),
                said(widths.last()),
                widths.last().map_or(0, |width| width.sheets)
            ),
            band: if outline.is_empty() { String::new() } else { format!("M{}Z", outline.join("L")) },
            middle: format!("{:.1}", y(0.0)),
            across: (-(most as i32)..=most as i32)
                .map(|stops| {
                    (
                        format!("{:.1}", y(f64::from(stops))),
                        if stops == 0 { "0".to_owned() } else { format!("{stops:+}") },
                    )
                })
                .collect(),
            counts: (0..=last).step_by(step).map(|count| (format!("{:.1}", x(count)), count.to_string())).collect(),
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
    fn the_band_narrows_from_the_first_to_the_last_sheet() {
        let widths = [Width { sheets: 0, half_stops: 1.5 }, Width { sheets: 4, half_stops: 0.8 }];
        let picture = Narrowing::of("narrowing", &widths);
        assert!(picture.description.contains("± 1.5 stops with no sheet, ± 0.8 stops after 4 sheets"));
        assert_eq!(picture.band.matches('L').count(), 3);
        assert!(picture.render().expect("a drawing").contains("role=\"img\""));
        assert!(Narrowing::of("x", &[]).render().is_ok());
    }
}
