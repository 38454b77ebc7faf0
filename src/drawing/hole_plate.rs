//! The hole in its plate, much enlarged: the target as a dashed ring, the hole as measured in it.

use askama::Template;

use crate::{
    calc::{quantity::HoleDiameter, working::plain},
    domain::measure::length::{LengthUnit, computed_words},
};

/// Width of the drawing in its own units.
const WIDTH: f64 = 300.0;
/// Height of the drawing.
const HEIGHT: f64 = 190.0;
/// How wide the widest thing shown is drawn.
const WIDEST: f64 = 120.0;

/// The hole in its plate.
#[derive(Debug, Template)]
#[template(path = "drawings/hole_plate.html")]
pub struct HolePlate {
    id: &'static str,
    description: String,
    target: Option<String>,
    /// Half axes of the hole as measured.
    measured: Option<(String, String)>,
    bar_to: String,
    bar_middle: String,
    bar_words: String,
}

impl askama::filters::HtmlSafe for HolePlate {}

impl HolePlate {
    /// Draws the target, and the readings of the hole as measured when there are any. `id` begins
    /// the ids inside, unique on its page; lengths are said in the reader's unit.
    pub fn of(id: &'static str, target: Option<HoleDiameter>, readings: &[HoleDiameter], unit: LengthUnit) -> Self {
        let of_readings = |pick: fn(f64, f64) -> f64| readings.iter().map(|reading| reading.as_mm()).reduce(pick);
        let axes = of_readings(f64::max).zip(of_readings(f64::min));
        let target = target.map(|hole| hole.as_mm());
        let widest = target.unwrap_or(0.0).max(axes.map_or(0.0, |(long, _)| long)).max(0.01);
        let scale = WIDEST / widest;
        // a round length in the reader's unit
        let per_mm = if unit == LengthUnit::Inch { 25.4 } else { 1.0 };
        let bar = bar_length(widest / per_mm) * per_mm;
        let bar_words = format!("{} {}", plain(bar / per_mm), unit.sign());
        let mut words = Vec::new();
        if let Some(target) = target {
            words.push(format!("the target, {} across", computed_words(target, 3, unit)));
        }
        if let Some((long, short)) = axes {
            let [short, long] = [short, long].map(|mm| computed_words(mm, 3, unit));
            words.push(format!("the hole as measured, {short} to {long} across"));
        }
        Self {
            id,
            description: format!("Drawn to scale: {}. The bar is {bar_words} long.", words.join("; ")),
            target: target.map(|hole| format!("{:.1}", hole * scale / 2.0)),
            measured: axes
                .map(|(long, short)| (format!("{:.1}", long * scale / 2.0), format!("{:.1}", short * scale / 2.0))),
            bar_to: format!("{:.1}", 16.0 + bar * scale),
            bar_middle: format!("{:.1}", 16.0 + bar * scale / 2.0),
            bar_words,
        }
    }

    fn width(&self) -> f64 {
        WIDTH
    }

    fn height(&self) -> f64 {
        HEIGHT
    }
}

/// A round length, from a third of the hole up to all of it: 1, 2 or 5 times a power of ten.
fn bar_length(widest: f64) -> f64 {
    let power = 10f64.powf(widest.log10().floor());
    [5.0, 2.0, 1.0].into_iter().map(|step| step * power).find(|bar| *bar <= widest).unwrap_or(power)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn target_and_hole_share_one_scale() {
        let hole = |mm| HoleDiameter::new(mm).expect("in range");
        let drawn = |unit| HolePlate::of("hole", Some(hole(0.48)), &[hole(0.4), hole(0.36)], unit).render();
        let svg = drawn(LengthUnit::Millimetre).expect("a drawing");
        // 120 units for 0.48 mm: 250 units a mm
        assert!(svg.contains(r#"r="60.0""#) && svg.contains(r#"rx="50.0" ry="45.0""#), "{svg}");
        assert!(svg.contains("0.2 mm</text>"), "{svg}");
        let in_inches = drawn(LengthUnit::Inch).expect("a drawing");
        assert!(in_inches.contains("0.01 in</text>") && in_inches.contains("0.0189 in (0.480 mm)"), "{in_inches}");
    }

    #[test]
    fn the_bar_is_a_round_length_no_longer_than_the_hole() {
        for (widest, bar) in [(0.01, 0.01), (0.48, 0.2), (0.5, 0.5), (1.9, 1.0), (20.0, 20.0)] {
            assert!((bar_length(widest) - bar).abs() < 1e-9, "{widest}");
        }
    }
}
