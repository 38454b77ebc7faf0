//! Beside the one target, folded: the hole that diffraction theory prefers, and what the difference costs.

use std::sync::LazyLock;

use askama::Template;

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
        camera::Camera,
        length::{LengthUnit, computed_words},
        target::Target,
    },
    web::reading::Reading,
};

/// The folded part.
#[derive(Debug, Template)]
#[template(path = "bench/sharpest.html")]
pub struct SharpestAside {
    words: Vec<String>,
    readings: Vec<Reading>,
    criteria: Vec<Row>,
    lights: Vec<Row>,
}

impl askama::filters::HtmlSafe for SharpestAside {}

/// A hole by another idea of sharp, or in other light.
#[derive(Debug)]
struct Row {
    by: &'static str,
    constant: String,
    hole: String,
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

/// The same by the steepest edge in different light, with the mean wavelength in mm.
static BY_LIGHT: LazyLock<Vec<(&str, f64, f64)>> = LazyLock::new(|| {
    let (v, green) = anywhere();
    let blue = Wavelength::new(PAPER_NM).map_or(green, Spectrum::single);
    let lights = [
        ("550 nm, green: what the eye sees best", green),
        ("460 nm, blue: the paper’s own light", blue),
        ("daylight on paper that sees blue only, 360 to 500 nm", Spectrum::blue_only()),
        ("daylight on paper that sees blue and green, 360 to 550 nm", Spectrum::blue_green()),
    ];
    let constant = |light| sharpest_hole(v, None, light, Criterion::Edge).constant.as_number();
    lights.into_iter().map(|(words, light)| (words, constant(light), light.mean_mm())).collect()
});

fn anywhere() -> (HoleToFilm, Spectrum) {
    let v = HoleToFilm::new(100.0).unwrap_or_else(|_| unreachable!("within the range"));
    let green = Wavelength::new(550.0).unwrap_or_else(|_| unreachable!("within the range"));
    (v, Spectrum::single(green))
}

impl SharpestAside {
    /// Puts it together for a camera and its target.
    pub fn of(camera: &Camera, target: Target, sharpness: &Sharpness, unit: LengthUnit) -> Self {
        let best = computed_words(sharpness.best().hole.as_mm(), 3, unit);
        let [least, greatest] = sharpness.within_a_tenth().map(|hole| computed_words(hole.as_mm(), 3, unit));
        let length = reduced_distance_mm(camera.hole_to_film(), camera.subject_distance());
        let row = |by, c: f64, lambda: f64| Row {
            by,
            constant: format!("{c:.3}"),
            hole: computed_words(c * (lambda * length).sqrt(), 3, unit),
        };
        let lambda = target.formula.wavelength.as_mm();
        Self {
            words: vec![cost(target, sharpness, unit), light(camera, target, unit)],
            readings: vec![
                Reading::of(sharpness.best_working()).showing(best),
                Reading::of(sharpness.share_working(target.hole))
                    .named("Sharpness of the target against it")
                    .remark(softness_words(sharpness.share(target.hole))),
                Reading::of(stops_working(target.hole, sharpness.best().hole)),
                Reading::of(sharpness.tolerance_working()).showing(format!("{least} to {greatest}")).remark(
                    "how exactly a hole has to be made: in between, sharpness stays within ten per cent of the best",
                ),
            ],
            criteria: BY_CRITERION.iter().map(|(by, c)| row(by, *c, lambda)).collect(),
            lights: BY_LIGHT.iter().map(|(by, c, lambda)| row(by, *c, *lambda)).collect(),
        }
    }
}

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
fn cost(target: Target, sharpness: &Sharpness, unit: LengthUnit) -> String {
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
            "Diffraction theory’s sharpest hole for this camera is {sharpest}. With your target, {made}, a straight edge comes \
             out {softer} % softer; in return it passes {light} times the light, {stops} stops more: what takes 10 s \
             through it would take {longer} s through the sharpest hole."
        )
    } else {
        format!(
            "Diffraction theory’s sharpest hole for this camera is {sharpest}. With your target, {made}, a straight edge comes \
             out {softer} % softer, and it passes less light, {stops} stops less: what takes 10 s through the sharpest hole \
             takes {longer} s through it."
        )
    }
}

/// What the light does to the formula.
fn light(camera: &Camera, target: Target, unit: LengthUnit) -> String {
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

    /// Reference, part one, section 3.
    #[test]
    fn each_idea_of_sharp_has_its_constant() {
        let constants: Vec<_> = BY_CRITERION.iter().map(|(_, c)| *c).collect();
        for (got, known) in constants.iter().zip([1.6094, 1.3765, 1.5235, 1.7785, 1.4944, 1.7935]) {
            assert!((got - known).abs() < 0.002, "{constants:?}");
        }
        let (_, in_daylight, mean) = BY_LIGHT[3];
        assert!((1.55..1.61).contains(&in_daylight) && (440e-6..480e-6).contains(&mean), "{in_daylight} {mean}");
    }

    #[test]
    fn softness_is_said_in_words_a_student_knows() {
        assert!(softness_words(0.999).starts_with("as sharp"));
        assert!(softness_words(0.936).contains("6.4 % softer") && softness_words(0.5).contains("plainly soft"));
    }
}
