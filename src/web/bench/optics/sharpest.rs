//! Beside the one target, folded: the hole that diffraction theory prefers, in the session's light and in the paper's,
//! and what the difference costs.

use std::sync::LazyLock;

use askama::Template;

use crate::domain::marking::own_figure::Reveals;
use crate::{
    calc::{
        optics::{
            diffraction::{Criterion, Spectrum, sharpest_hole},
            hole_formula::{hole_diameter, reduced_distance_mm},
            sharpness::{Sharpness, stops_faster, stops_working},
        },
        quantity::{HoleToFilm, Wavelength},
        working::figures,
    },
    domain::{
        camera::{Camera, target::Target},
        measure::length::{LengthUnit, computed_words},
        stock::film_light::FilmLight,
    },
    drawing::sharpness_curve::SharpnessCurve,
    web::kit::reading::Reading,
};

/// The folded part.
#[derive(Debug, Template)]
#[template(path = "bench/sharpest.html")]
pub struct SharpestAside {
    words: Vec<String>,
    readings: Vec<Reading>,
    curve: Option<SharpnessCurve>,
    /// "paper" or "film", which sees the light of the next part.
    holder: &'static str,
    light_words: &'static str,
    known_from: &'static str,
    in_band: String,
    band_readings: Vec<Reading>,
    criteria: Vec<Row>,
    lights: Vec<LightRow>,
}

impl askama::filters::HtmlSafe for SharpestAside {}

/// A hole by another idea of sharp.
#[derive(Debug)]
struct Row {
    by: &'static str,
    constant: String,
    hole: String,
    working: String,
}

/// The sharpest hole in another light, and the target seen in it.
#[derive(Debug)]
struct LightRow {
    row: Row,
    within: String,
    share: String,
    stops: String,
}

/// A tenth of a wavelength's difference is a twentieth of the hole's.
const BLUE_NM: f64 = 480.0;
/// The paper's own light, as the session's plan offers it.
const PAPER_NM: f64 = 460.0;

/// Constants of the sharpest hole for one wavelength. None depends on distance or wavelength, so each is searched
/// once.
static BY_CRITERION: LazyLock<Vec<(&str, f64)>> = LazyLock::new(|| {
    let (v, light) = anywhere();
    let criteria = [
        ("the steepest straight edge: what this page goes by", Criterion::Edge),
        ("the finest lines that keep half of their contrast", Criterion::Contrast(0.5)),
        ("the finest lines that keep a fifth", Criterion::Contrast(0.2)),
        ("the finest lines that keep a tenth", Criterion::Contrast(0.1)),
        ("half of a point’s light in the smallest circle", Criterion::Energy(0.5)),
        ("four fifths of it in the smallest circle", Criterion::Energy(0.8)),
    ];
    let constant = |criterion| sharpest_hole(v, None, light, criterion).constant.as_number();
    criteria.into_iter().map(|(words, criterion)| (words, constant(criterion))).collect()
});

/// The same by the steepest edge in different light, with the tolerance: searched once, moved to any camera.
static BY_LIGHT: LazyLock<Vec<(&str, Sharpness)>> = LazyLock::new(|| {
    let (v, green) = anywhere();
    let blue = Wavelength::new(PAPER_NM).map_or(green, Spectrum::single);
    let lights = [
        ("550 nm, green: what the eye sees best", green),
        ("460 nm, blue: the paper’s own light", blue),
        ("daylight on paper that sees blue only, 360 to 500 nm", Spectrum::blue_only()),
        ("daylight on paper that sees blue and green, 360 to 550 nm", Spectrum::blue_green()),
        ("film that sees all colours, 400 to 650 nm evenly", Spectrum::panchromatic()),
    ];
    lights.into_iter().map(|(words, light)| (words, Sharpness::of(v, None, light))).collect()
});

fn anywhere() -> (HoleToFilm, Spectrum) {
    let v = HoleToFilm::new(100.0).unwrap_or_else(|_| unreachable!("within the range"));
    let green = Wavelength::new(550.0).unwrap_or_else(|_| unreachable!("within the range"));
    (v, Spectrum::single(green))
}

/// Sharpness of holes in a camera, in the light that its paper or film sees.
pub fn sharpness_in_band(camera: &Camera, light: FilmLight) -> Sharpness {
    let (v, u, light) = (camera.hole_to_film(), camera.subject_distance(), light.spectrum());
    let known = BY_LIGHT.iter().find(|(_, known)| known.light() == light);
    known.map_or_else(|| Sharpness::of(v, u, light), |(_, known)| known.in_camera(v, u))
}

impl SharpestAside {
    /// Puts it together for a camera and its target: sharpness in the session's light, and the light of the paper.
    pub fn of(camera: &Camera, target: Target, sharpness: &Sharpness, light: FilmLight, unit: LengthUnit) -> Self {
        let length = reduced_distance_mm(camera.hole_to_film(), camera.subject_distance());
        let lambda = target.formula.wavelength.as_mm();
        let in_band = sharpness_in_band(camera, light);
        Self {
            words: vec![cost(target, sharpness, "for this camera", unit), blue_words(camera, target, unit)],
            readings: readings(target, sharpness, ["Sharpness of the target against it", ""], unit),
            curve: None,
            holder: light.holder(),
            light_words: light.words(),
            known_from: light.known_from(),
            in_band: cost(target, &in_band, "in this light", unit),
            band_readings: readings(
                target,
                &in_band,
                ["Sharpness of the target in this light", " in this light"],
                unit,
            ),
            criteria: BY_CRITERION.iter().map(|(by, c)| row(by, *c, lambda, length, unit)).collect(),
            lights: BY_LIGHT
                .iter()
                .map(|(by, known)| {
                    light_row(
                        by,
                        known.in_camera(camera.hole_to_film(), camera.subject_distance()),
                        target,
                        length,
                        unit,
                    )
                })
                .collect(),
        }
    }

    /// With the curve on which the sharpest hole is marked.
    #[must_use]
    pub fn with_curve(self, curve: SharpnessCurve) -> Self {
        Self { curve: Some(curve), ..self }
    }
}

/// The sharpest hole, what the target is against it, and how exactly a hole has to be made.
fn readings(target: Target, sharpness: &Sharpness, [share, light]: [&str; 2], unit: LengthUnit) -> Vec<Reading> {
    let best = computed_words(sharpness.best().hole.as_mm(), 3, unit);
    let [least, greatest] = sharpness.within_a_tenth().map(|hole| computed_words(hole.as_mm(), 3, unit));
    vec![
        Reading::of(sharpness.best_working(), Reveals::HOLE)
            .named(&format!("Sharpest hole by diffraction theory{light}"))
            .showing(best),
        Reading::of(sharpness.share_working(target.hole), Reveals::HOLE)
            .named(share)
            .remark(softness_words(sharpness.share(target.hole))),
        Reading::of(stops_working(target.hole, sharpness.best().hole), Reveals::HOLE)
            .named(&format!("Light that the target passes against it{light}")),
        Reading::of(sharpness.tolerance_working(), Reveals::HOLE)
            .named(&format!("Holes that are sharp within a tenth{light}"))
            .showing(format!("{least} to {greatest}"))
            .remark(if light.is_empty() {
                "how exactly a hole has to be made: in between, sharpness stays within ten per cent of the best"
            } else {
                WHICH_RANGE
            }),
    ]
}

fn row(by: &'static str, c: f64, lambda: f64, length: f64, unit: LengthUnit) -> Row {
    let mm = c * (lambda * length).sqrt();
    Row {
        by,
        constant: format!("{c:.3}"),
        hole: computed_words(mm, 3, unit),
        working: format!(
            "d = C √(λ f′) = {c:.3} × √({} mm × {} mm) = {} mm",
            figures(lambda, 3),
            figures(length, 4),
            figures(mm, 3)
        ),
    }
}

fn light_row(by: &'static str, there: Sharpness, target: Target, length: f64, unit: LengthUnit) -> LightRow {
    let lambda = there.light().mean_mm();
    let mut row = row(by, there.best().constant.as_number(), lambda, length, unit);
    let [least, greatest] = there.within_a_tenth();
    let (share, stops) = (there.share_working(target.hole), stops_working(target.hole, there.best().hole));
    let constant = |mm: f64| figures(mm / (lambda * length).sqrt(), 4);
    row.working = format!(
        "{}; within a tenth from C = {} to {}, which is {} mm to {} mm; the target: {}; {}",
        row.working,
        constant(least.as_mm()),
        constant(greatest.as_mm()),
        figures(least.as_mm(), 3),
        figures(greatest.as_mm(), 3),
        share.formula,
        stops.formula
    );
    let [least, greatest] = [least, greatest].map(|hole| computed_words(hole.as_mm(), 3, unit));
    LightRow { row, within: format!("{least} to {greatest}"), share: share.value, stops: stops.value }
}

/// Which of two ranges a hole is made by: one counts, the other only says what differs.
pub const WHICH_RANGE: &str = "make the hole by the range of the session’s light: this one differs because another \
     band of light spreads less or more, and a hole outside it, even the target, is only that much softer";

/// What a share of the best sharpness looks like.
pub fn softness_words(share: f64) -> String {
    let lost = 100.0 * (1.0 - share);
    let said = figures(lost, 2);
    match lost {
        ..1.0 => "as sharp as any hole can be in this camera".to_owned(),
        1.0..10.0 => format!("a straight edge comes out {said} % softer than at best: hardly to be seen"),
        10.0..30.0 => format!("a straight edge comes out {said} % softer than at best: to be seen side by side"),
        _ => format!("a straight edge comes out {said} % softer than at best: plainly soft"),
    }
}

/// What the target costs and gives against the sharpest hole.
fn cost(target: Target, sharpness: &Sharpness, place: &str, unit: LengthUnit) -> String {
    let best = sharpness.best().hole;
    let (share, stops) = (sharpness.share(target.hole), stops_faster(target.hole, best));
    let (made, sharpest) = (computed_words(target.hole.as_mm(), 3, unit), computed_words(best.as_mm(), 3, unit));
    let softer = figures(100.0 * (1.0 - share), 2);
    if share > 0.995 {
        return format!(
            "Your target, {made}, is as sharp as any hole can be in this camera and light: theory’s sharpest is {sharpest}."
        );
    }
    let light = figures(stops.abs().exp2(), 3);
    let longer = figures(10.0 * stops.abs().exp2(), 2);
    let stops = figures(stops.abs(), 2);
    if target.hole > best {
        format!(
            "Diffraction theory’s sharpest hole {place} is {sharpest}. With your target, {made}, a straight edge comes \
             out {softer} % softer; in return it passes {light} times the light, {stops} stops more: what takes 10 s \
             through it would take {longer} s through the sharpest hole."
        )
    } else {
        format!(
            "Diffraction theory’s sharpest hole {place} is {sharpest}. With your target, {made}, a straight edge comes \
             out {softer} % softer, and it passes less light, {stops} stops less: what takes 10 s through the sharpest hole \
             takes {longer} s through it."
        )
    }
}

/// What the light does to the formula.
fn blue_words(camera: &Camera, target: Target, unit: LengthUnit) -> String {
    let formula = target.formula;
    if formula.wavelength.as_nm() <= BLUE_NM {
        return format!(
            "This session’s formula already takes the paper’s own blue light, {} nm, and not the eye’s 550 nm. That matters \
             more than which constant between 1.5 and 1.7 is used.",
            figures(formula.wavelength.as_nm(), 3)
        );
    }
    let Ok(blue) = Wavelength::new(PAPER_NM) else { return String::new() };
    let hole = hole_diameter(camera.hole_to_film(), blue, formula.constant, camera.subject_distance());
    let narrower = 100.0 * (1.0 - hole.as_mm() / target.hole.as_mm());
    format!(
        "Paper sees mostly blue light, about 460 nm. In that light the same formula would ask for {}, {narrower:.1} % narrower. \
         That matters more than which constant between 1.5 and 1.7 is used; the instructor chooses the light for the session.",
        computed_words(hole.as_mm(), 3, unit)
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The constants of six ideas of sharp, each found twice for this project: by adaptive quadrature with a general
    /// numerical library and by the series of Lommel and Hopkins.
    #[test]
    fn each_idea_of_sharp_has_its_constant() {
        let constants: Vec<_> = BY_CRITERION.iter().map(|(_, c)| *c).collect();
        for (got, known) in constants.iter().zip([1.6094, 1.3765, 1.5235, 1.7785, 1.4944, 1.7935]) {
            assert!((got - known).abs() < 0.002, "{constants:?}");
        }
        let in_daylight = &BY_LIGHT[3].1;
        let (c, mean) = (in_daylight.best().constant.as_number(), in_daylight.light().mean_mm());
        assert!((1.55..1.61).contains(&c) && (440e-6..480e-6).contains(&mean), "{c} {mean}");
    }

    #[test]
    fn softness_is_said_in_words_a_student_knows() {
        assert!(softness_words(0.999).starts_with("as sharp"));
        assert!(softness_words(0.936).contains("6.4 % softer") && softness_words(0.5).contains("plainly soft"));
    }
}
