//! How the totals of a section lie: a dot for each student on a scale of per cent, the middle half
//! as a band, the median as a line. In words the same.

use askama::Template;

/// Width of the scale in the drawing's own units.
const WIDTH: f64 = 400.0;
/// Room left and right of the scale.
const MARGIN: f64 = 16.0;
/// A dot's radius.
const RADIUS: f64 = 4.5;
/// Where the scale lies.
const BASE: f64 = 74.0;

/// The totals of those marked.
#[derive(Debug, Template)]
#[template(path = "drawings/spread.html")]
pub struct Spread {
    id: String,
    dots: Vec<(String, String)>,
    band: Option<(String, String)>,
    median: String,
    ticks: Vec<(String, &'static str)>,
    words: String,
    count: usize,
}

impl askama::filters::HtmlSafe for Spread {}

impl Spread {
    /// Draws totals given in tenths of a per cent. `id` begins the ids inside, unique on its page.
    pub fn of(id: impl Into<String>, mut tenths: Vec<i64>) -> Self {
        tenths.sort_unstable();
        let x = |tenths: f64| format!("{:.1}", MARGIN + WIDTH * (tenths / 1000.0).clamp(0.0, 1.0));
        let mut dots = Vec::with_capacity(tenths.len());
        let mut stacked: Vec<(i64, i64)> = Vec::new();
        for share in &tenths {
            // those within two and a half per cent stand on one another
            let place = share / 25;
            let height = match stacked.last_mut().filter(|(at, _)| *at == place) {
                Some((_, height)) => {
                    *height += 1;
                    *height
                }
                None => {
                    stacked.push((place, 0));
                    0
                }
            };
            let y = BASE - 8.0 - height.min(6) as f64 * 2.0 * RADIUS;
            dots.push((x(*share as f64), format!("{y:.1}")));
        }
        let (low, middle, high) = (quantile(&tenths, 1), quantile(&tenths, 2), quantile(&tenths, 3));
        Self {
            id: id.into(),
            band: (tenths.len() > 3).then(|| {
                let from = MARGIN + WIDTH * low / 1000.0;
                (format!("{from:.1}"), format!("{:.1}", (WIDTH * (high - low) / 1000.0).max(1.0)))
            }),
            median: x(middle),
            ticks: [(0.0, "0"), (250.0, "25"), (500.0, "50"), (750.0, "75"), (1000.0, "100 %")]
                .map(|(at, words)| (x(at), words))
                .to_vec(),
            words: words(&tenths, low, middle, high),
            count: tenths.len(),
            dots,
        }
    }

    /// How many totals there are.
    pub fn count(&self) -> usize {
        self.count
    }

    /// The same in words.
    pub fn words(&self) -> &str {
        &self.words
    }
}

/// The quartile of sorted values, between the two nearest where it falls between them.
fn quantile(sorted: &[i64], quarter: usize) -> f64 {
    if sorted.is_empty() {
        return 0.0;
    }
    let at = (sorted.len() - 1) as f64 * quarter as f64 / 4.0;
    let (below, part) = (at.floor() as usize, at.fract());
    let above = (below + 1).min(sorted.len() - 1);
    sorted[below] as f64 * (1.0 - part) + sorted[above] as f64 * part
}

fn words(tenths: &[i64], low: f64, middle: f64, high: f64) -> String {
    let percent = |tenths: f64| format!("{:.0} %", tenths / 10.0);
    match tenths {
        [] => "Nobody is marked yet.".to_owned(),
        [only] => format!("1 student marked: {}.", percent(*only as f64)),
        [least, .., most] => {
            let half = if tenths.len() > 3 {
                format!("; the middle half from {} to {}", percent(low), percent(high))
            } else {
                String::new()
            };
            format!(
                "{} students marked: from {} to {}, median {}{half}.",
                tenths.len(),
                percent(*least as f64),
                percent(*most as f64),
                percent(middle)
            )
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_words_say_what_the_drawing_shows() {
        let spread = Spread::of("s", vec![900, 500, 700, 600, 800]);
        assert_eq!(
            spread.words(),
            "5 students marked: from 50 % to 90 %, median 70 %; the middle half from 60 % to 80 %."
        );
        let drawn = spread.render().expect("a drawing");
        assert_eq!(drawn.matches("<circle").count(), 5);
        assert!(drawn.contains("role=\"img\"") && drawn.contains(spread.words()), "{drawn}");
    }

    #[test]
    fn few_or_none_are_said_plainly_and_drawn_without_a_band() {
        assert_eq!(Spread::of("s", Vec::new()).words(), "Nobody is marked yet.");
        assert_eq!(Spread::of("s", vec![855]).words(), "1 student marked: 86 %.");
        assert!(!Spread::of("s", vec![1000, 0]).render().expect("a drawing").contains("class=\"band\""));
    }
}
