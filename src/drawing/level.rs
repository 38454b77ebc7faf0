//! How far something is used up or filled: a bar with its limit, and past it if need be.

use askama::Template;

/// Width of the drawing in its own units.
const WIDTH: f64 = 400.0;
/// Where the limit stands: what goes past it is still drawn.
const LIMIT: f64 = 320.0;

/// A bar that fills towards a limit.
#[derive(Debug, Template)]
#[template(path = "drawings/level.html")]
pub struct Level {
    id: String,
    title: String,
    description: String,
    filled: String,
    past: bool,
    limit: String,
    label: String,
}

impl askama::filters::HtmlSafe for Level {}

impl Level {
    /// Draws a share of a limit (1 is all of it; more is drawn past it, up to a quarter). `what` and
    /// `of` say what fills and what the limit is. `id` begins the ids inside, unique on its page.
    pub fn of(id: impl Into<String>, share: f64, what: &str, of: &str) -> Self {
        let share = if share.is_finite() { share.max(0.0) } else { 1.25 };
        let percent = (share * 100.0).round();
        Self {
            id: id.into(),
            title: what.to_owned(),
            description: format!("{percent} % of {of}."),
            filled: format!("{:.1}", (share * LIMIT).min(WIDTH)),
            past: share > 1.0,
            limit: format!("{LIMIT:.0}"),
            label: format!("{percent} % of {of}"),
        }
    }

    fn width(&self) -> f64 {
        WIDTH
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_bar_ends_at_its_limit_and_shows_what_is_past_it() {
        let half = Level::of("used", 0.5, "Capacity used", "its capacity").render().expect("a drawing");
        assert!(half.contains("width=\"160.0\"") && half.contains("50 % of its capacity"), "{half}");
        let over = Level::of("used", 3.0, "Capacity used", "its capacity").render().expect("a drawing");
        assert!(over.contains("width=\"400.0\"") && over.contains("300 %"), "{over}");
        assert!(Level::of("x", f64::INFINITY, "a", "b").render().is_ok());
    }
}
