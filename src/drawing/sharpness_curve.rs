//! Sharpness against the diameter of the hole: what the session's formula asks for, how far one may be from the
//! best, the hole as measured, and, where it is folded away, the sharpest hole itself: beside the one target
//! nothing names a second hole.

use askama::Template;

use crate::{
    calc::{optics::sharpness::Sharpness, quantity::HoleDiameter, working::figures},
    domain::measure::length::{LengthUnit, computed_words},
};

// The drawing is 420 units wide and 272 high, as its template says.

/// Where the axes begin …
const LEFT: f64 = 52.0;
/// … and end.
const RIGHT: f64 = 408.0;
/// Height of the best sharpness …
const TOP: f64 = 70.0;
/// … and of none.
const FLOOR: f64 = 216.0;
/// Points of the curve.
const POINTS: usize = 200;

/// The curve with its marks.
#[derive(Clone, Debug, Template)]
#[template(path = "drawings/sharpness_curve.html")]
pub struct SharpnessCurve {
    id: &'static str,
    title: &'static str,
    description: String,
    curve: String,
    band: (String, String),
    band_ends: [String; 2],
    marks: Vec<Mark>,
    ticks: Vec<(String, String)>,
    axis_words: &'static str,
}

/// One diameter that is marked.
#[derive(Clone, Debug)]
struct Mark {
    class: &'static str,
    x: String,
    y: String,
    label_y: String,
    /// Where the words stand, and how they are anchored.
    label_x: String,
    anchor: &'static str,
    words: String,
    dashes: &'static str,
}

impl askama::filters::HtmlSafe for SharpnessCurve {}

/// From diameters to the drawing.
#[derive(Clone, Copy)]
struct Axis {
    from: f64,
    to: f64,
}

impl Axis {
    /// From a third of the sharpest hole to well past all that is marked.
    fn round(best: f64, marked: &[f64]) -> Self {
        let widest = marked.iter().copied().fold(best, f64::max);
        let narrowest = marked.iter().copied().fold(best, f64::min);
        Self { from: (best / 3.0).min(narrowest * 0.9), to: (best * 2.2).max(widest * 1.08).min(best * 8.0) }
    }

    fn x(self, mm: f64) -> f64 {
        LEFT + (mm - self.from) / (self.to - self.from) * (RIGHT - LEFT)
    }

    fn holds(self, mm: f64) -> bool {
        (self.from..=self.to).contains(&mm)
    }

    /// Round numbers along it, in a unit of so many mm, with their words.
    fn ticks(self, unit_mm: f64) -> Vec<(String, String)> {
        let (from, to) = (self.from / unit_mm, self.to / unit_mm);
        let rough = (to - from) / 5.0;
        let power = 10f64.powf(rough.log10().floor());
        let step = [1.0, 2.0, 5.0, 10.0].into_iter().map(|s| s * power).find(|s| *s >= rough).unwrap_or(power);
        let first = (from / step).ceil() as i64;
        let last = (to / step).floor() as i64;
        (first..=last)
            .map(|i| {
                let value = step * i as f64;
                (at(self.x(value * unit_mm)), crate::calc::working::plain((value * 1e6).round() / 1e6))
            })
            .collect()
    }
}

fn at(x: f64) -> String {
    format!("{x:.1}")
}

fn height(share: f64) -> f64 {
    FLOOR - share.clamp(0.0, 1.0) * (FLOOR - TOP)
}

impl SharpnessCurve {
    /// Draws it twice from one row of values: without the sharpest hole, and with it. `ids` begin the ids inside,
    /// unique on their page.
    pub fn pair(
        ids: [&'static str; 2],
        sharpness: &Sharpness,
        target: HoleDiameter,
        measured: Option<HoleDiameter>,
        unit: LengthUnit,
    ) -> [Self; 2] {
        let best = sharpness.best().hole;
        let marked: Vec<f64> = [Some(target), measured].into_iter().flatten().map(|hole| hole.as_mm()).collect();
        let axis = Axis::round(best.as_mm(), &marked);
        let curve: Vec<_> = HoleDiameter::new(axis.from)
            .and_then(|from| Ok(sharpness.curve(from, HoleDiameter::new(axis.to)?, POINTS)))
            .unwrap_or_default()
            .into_iter()
            .map(|(mm, share)| format!("{:.1} {:.1}", axis.x(mm), height(share)))
            .collect();
        let [least, greatest] = sharpness.within_a_tenth().map(|hole| axis.x(hole.as_mm()));
        let all = [
            Some(("soft", "sharpest", best, "2 3")),
            Some(("ink", "the formula", target, "7 4")),
            measured.map(|hole| ("ray", "yours", hole, "")),
        ];
        let marks: Vec<_> = all
            .into_iter()
            .enumerate()
            .filter_map(|(row, mark)| {
                let (class, name, hole, dashes) = mark?;
                let (mm, y) = (hole.as_mm(), 16.0 + 18.0 * row as f64);
                axis.holds(mm).then(|| {
                    let x = axis.x(mm);
                    // words stand to the right, but not across the formula's line, nor out of the drawing
                    let crosses = class == "ray" && hole < target && x > LEFT + 130.0;
                    let right = x < RIGHT - 150.0 && !crosses;
                    Mark {
                        class,
                        x: at(x),
                        y: at(height(sharpness.share(hole))),
                        label_y: at(y),
                        label_x: at(if right { x + 5.0 } else { x - 5.0 }),
                        anchor: if right { "start" } else { "end" },
                        words: format!("{name} {}", short(hole, unit)),
                        dashes,
                    }
                })
            })
            .collect();
        let (unit_mm, axis_words) = match unit {
            LengthUnit::Millimetre => (1.0, "hole diameter, mm"),
            LengthUnit::Inch => (0.0254, "hole diameter, thousandths of an inch"),
        };
        let with_best = Self {
            id: ids[1],
            title: "Sharpness against the diameter of the hole, with theory’s sharpest",
            description: description(sharpness, target, measured, axis, unit, true),
            curve: format!("M{}", curve.join("L")),
            band: (at(least), at(greatest - least)),
            band_ends: [at(least), at(greatest)],
            marks,
            ticks: axis.ticks(unit_mm),
            axis_words,
        };
        let without = Self {
            id: ids[0],
            title: "Sharpness against the diameter of the hole",
            description: description(sharpness, target, measured, axis, unit, false),
            marks: with_best.marks.iter().filter(|mark| mark.class != "soft").cloned().collect(),
            ..with_best.clone()
        };
        [without, with_best]
    }
}

fn short(hole: HoleDiameter, unit: LengthUnit) -> String {
    match unit {
        LengthUnit::Millimetre => format!("{} mm", figures(hole.as_mm(), 3)),
        LengthUnit::Inch => format!("{} in", figures(hole.as_mm() / 25.4, 3)),
    }
}

/// The same in words.
fn description(
    sharpness: &Sharpness,
    target: HoleDiameter,
    measured: Option<HoleDiameter>,
    axis: Axis,
    unit: LengthUnit,
    with_best: bool,
) -> String {
    let words = |mm: f64| computed_words(mm, 3, unit);
    let percent = |hole: HoleDiameter| format!("{:.0} %", 100.0 * sharpness.share(hole));
    let [least, greatest] = sharpness.within_a_tenth();
    let best = match with_best {
        true => format!("rises to its best at {}, and", words(sharpness.best().hole.as_mm())),
        false => "rises to a best and falls again; it".to_owned(),
    };
    let mut said = format!(
        "Sharpness of a straight edge against the diameter of the hole, from {} to {}. It {best} is within a tenth of \
         its best from {} to {}: a narrower hole blurs by diffraction, a wider one by its own width. The \
         session’s formula gives {}, {} of the best.",
        words(axis.from),
        words(axis.to),
        words(least.as_mm()),
        words(greatest.as_mm()),
        words(target.as_mm()),
        percent(target)
    );
    if let Some(hole) = measured {
        let beyond = if axis.holds(hole.as_mm()) { "" } else { ", beyond the drawing" };
        said.push_str(&format!(" The hole as measured is {}{beyond}: {}.", words(hole.as_mm()), percent(hole)));
    }
    said
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calc::{
        optics::diffraction::Spectrum,
        quantity::{HoleToFilm, Wavelength},
    };

    fn mm(d: f64) -> HoleDiameter {
        HoleDiameter::new(d).expect("in range")
    }

    fn drawn(v: f64, target: f64, measured: Option<f64>, unit: LengthUnit) -> [String; 2] {
        let light = Spectrum::single(Wavelength::new(550.0).expect("in range"));
        let sharpness = Sharpness::of(HoleToFilm::new(v).expect("in range"), None, light);
        SharpnessCurve::pair(["curve", "best"], &sharpness, mm(target), measured.map(mm), unit)
            .map(|curve| curve.render().expect("a drawing"))
    }

    #[test]
    fn formula_sharpest_tolerance_and_measured_hole_are_marked_and_said() {
        let [without, with] = drawn(120.0, 0.488, Some(0.6), LengthUnit::Millimetre);
        for words in ["the formula 0.488 mm", "yours 0.600 mm", "from 0.315 mm to 0.506 mm"] {
            assert!(with.contains(words) && without.contains(words), "{words}: {with}");
        }
        assert!(with.contains("sharpest 0.413 mm") && with.contains("its best at 0.413 mm"), "{with}");
        assert!(with.contains("gives 0.488 mm, 94 % of the best"), "{with}");
    }

    #[test]
    fn the_open_drawing_names_no_second_hole() {
        let [without, with] = drawn(120.0, 0.488, Some(0.6), LengthUnit::Millimetre);
        assert!(!without.contains("0.413") && !without.contains("sharpest"), "{without}");
        assert_eq!(without.matches("<circle").count() + 1, with.matches("<circle").count());
        // 200 diameters, as many as the benchmark's page
        let path =
            without.split("class=\"ink\" d=\"M").nth(2).and_then(|rest| rest.split('"').next()).expect("a curve");
        assert_eq!(path.split('L').count(), POINTS);
    }

    #[test]
    fn in_inches_the_axis_counts_thousandths() {
        let [_, svg] = drawn(120.0, 0.488, None, LengthUnit::Inch);
        assert!(svg.contains("thousandths of an inch") && svg.contains("sharpest 0.0163 in"), "{svg}");
        assert!(!svg.contains("yours"));
    }

    #[test]
    fn a_hole_far_too_wide_is_said_to_be_beyond_the_drawing() {
        for svg in drawn(50.0, 0.315, Some(19.0), LengthUnit::Millimetre) {
            assert!(svg.contains("beyond the drawing") && !svg.contains("yours"), "{svg}");
            assert!(!svg.contains("NaN") && !svg.contains("inf"), "{svg}");
        }
    }
}
