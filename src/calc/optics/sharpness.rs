//! How sharp a hole is against the sharpest one its camera could have, by the steepness of a straight
//! edge.

use crate::calc::optics::diffraction::{
    Criterion, Diffraction, SharpestHole, Spectrum, sharpest_hole, tolerance as holes_within,
};
use crate::calc::optics::hole_formula::{geometric_blur_mm, reduced_distance_mm};
use crate::calc::quantity::{HoleDiameter, HoleToFilm, SubjectDistance};
use crate::calc::working::{Working, figures, plain};

const SOURCE: &str = "scalar diffraction behind a round hole: Born & Wolf, Principles of Optics, ch. 8.8; Mielenz, \
     J. Res. NIST 104 (1999); transfer function after Hopkins, Proc. R. Soc. A 231 (1955); the greatest slope is searched \
     for this camera";

/// The sharpness of any hole in one camera and light.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sharpness {
    hole_to_film: HoleToFilm,
    subject: Option<SubjectDistance>,
    light: Spectrum,
    best: SharpestHole,
    steepest_per_mm: f64,
    within_a_tenth: [HoleDiameter; 2],
}

impl Sharpness {
    /// Finds the sharpest hole and how far one may be from it.
    pub fn of(hole_to_film: HoleToFilm, subject: Option<SubjectDistance>, light: Spectrum) -> Self {
        let best = sharpest_hole(hole_to_film, subject, light, Criterion::Edge);
        Self {
            hole_to_film,
            subject,
            light,
            best,
            steepest_per_mm: steepness_per_mm(best.hole, hole_to_film, subject, light),
            within_a_tenth: holes_within(hole_to_film, subject, light, Criterion::Edge, best),
        }
    }

    /// The sharpest hole.
    pub const fn best(&self) -> SharpestHole {
        self.best
    }

    /// The least and the greatest hole that are within a tenth of the sharpest.
    pub const fn within_a_tenth(&self) -> [HoleDiameter; 2] {
        self.within_a_tenth
    }

    /// A hole's sharpness as a share of the best, above 0 to 1.
    pub fn share(&self, hole: HoleDiameter) -> f64 {
        self.slope(hole) / self.steepest_per_mm
    }

    fn slope(&self, hole: HoleDiameter) -> f64 {
        steepness_per_mm(hole, self.hole_to_film, self.subject, self.light)
    }

    /// Diameters (mm) from one to another, evenly, with their share of the best sharpness.
    pub fn curve(&self, from: HoleDiameter, to: HoleDiameter, points: usize) -> Vec<(f64, f64)> {
        let step = (to.as_mm() - from.as_mm()) / (points.max(2) - 1) as f64;
        (0..points.max(2))
            .map(|i| {
                let mm = from.as_mm() + step * i as f64;
                (mm, self.share(HoleDiameter::computed(mm)))
            })
            .collect()
    }

    /// The sharpest hole with its working.
    pub fn best_working(&self) -> Working {
        let (c, d) = (self.best.constant.as_number(), self.best.hole.as_mm());
        let f = reduced_distance_mm(self.hole_to_film, self.subject);
        Working {
            name: "sharpest hole by diffraction theory",
            value: format!("{} mm", figures(d, 3)),
            formula: format!(
                "the slope of an edge’s image, 2 ∫ OTF(ν) dν, is greatest at C = {}, where it is {} per mm: \
                 d = C √(λ f′) = {} × √({} mm × {} mm) = {} mm",
                figures(c, 4),
                figures(self.steepest_per_mm, 3),
                figures(c, 4),
                figures(self.light.mean_mm(), 3),
                figures(f, 4),
                figures(d, 3)
            ),
            source: SOURCE,
            interval: None,
        }
    }

    /// A hole's sharpness against the best, with its working.
    pub fn share_working(&self, hole: HoleDiameter) -> Working {
        let (here, best) = (self.slope(hole), self.steepest_per_mm);
        let percent = figures(100.0 * here / best, 3);
        Working {
            name: "sharpness against the sharpest hole",
            value: format!("{percent} %"),
            formula: format!(
                "slope of an edge’s image, 2 ∫ OTF(ν) dν: {} per mm with {} mm, {} per mm with {} mm; {} / {} = {percent} %",
                figures(here, 3),
                figures(hole.as_mm(), 3),
                figures(best, 3),
                figures(self.best.hole.as_mm(), 3),
                figures(here, 3),
                figures(best, 3),
            ),
            source: SOURCE,
            interval: None,
        }
    }

    /// How exactly a hole has to be made, with its working.
    pub fn tolerance_working(&self) -> Working {
        let [least, greatest] = self.within_a_tenth.map(|hole| figures(hole.as_mm(), 3));
        let (nine_tenths, best) = (0.9 * self.steepest_per_mm, self.steepest_per_mm);
        Working {
            name: "holes that are sharp within a tenth",
            value: format!("{least} to {greatest} mm"),
            formula: format!(
                "0.9 × {} per mm = {} per mm is the slope at {least} mm and at {greatest} mm",
                figures(best, 3),
                figures(nine_tenths, 3)
            ),
            source: SOURCE,
            interval: None,
        }
    }

    /// The finest lines that keep a fifth of their contrast, in line pairs per mm, with the working.
    pub fn finest_lines_working(&self, hole: HoleDiameter) -> Working {
        const LEVEL: f64 = 0.2;
        let image = Diffraction::new(hole, self.hole_to_film, self.subject, self.light);
        let (limit, n) = match image {
            Ok(image) => (image.contrast_limit(LEVEL), Some(image.fresnel_number())),
            // 2 J1(x)/x = 0.2 at x = π ν d m = 3.0813
            Err(_) => (0.980_8 / geometric_blur_mm(hole, self.hole_to_film, self.subject), None),
        };
        let how = n.map_or_else(
            || "the plain shadow of the hole".to_owned(),
            |n| {
                format!(
                    "Fresnel number d² / (4 λ f′) = {}² / (4 × {} × {}) = {}",
                    plain(hole.as_mm()),
                    figures(self.light.mean_mm(), 3),
                    figures(reduced_distance_mm(self.hole_to_film, self.subject), 4),
                    figures(n, 3)
                )
            },
        );
        Working {
            name: "finest lines kept",
            value: format!("{} line pairs per mm", figures(limit, 2)),
            formula: format!("OTF(ν) = 0.2 at ν = {} per mm; {how}", figures(limit, 3)),
            source: SOURCE,
            interval: None,
        }
    }
}

/// The stops that a hole is faster than another (negative: slower): light goes with the area.
pub fn stops_faster(hole: HoleDiameter, than: HoleDiameter) -> f64 {
    2.0 * (hole.as_mm() / than.as_mm()).log2()
}

/// How steep an edge's image is, per mm; where the hole is a plain shadow, `2 / (π a m)`.
fn steepness_per_mm(
    hole: HoleDiameter,
    hole_to_film: HoleToFilm,
    subject: Option<SubjectDistance>,
    light: Spectrum,
) -> f64 {
    match Diffraction::new(hole, hole_to_film, subject, light) {
        Ok(image) => image.edge_sharpness_per_mm(),
        Err(_) => 4.0 / (std::f64::consts::PI * geometric_blur_mm(hole, hole_to_film, subject)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calc::quantity::Wavelength;

    fn can() -> Sharpness {
        let green = Spectrum::single(Wavelength::new(550.0).unwrap());
        Sharpness::of(HoleToFilm::new(120.0).unwrap(), None, green)
    }

    fn mm(d: f64) -> HoleDiameter {
        HoleDiameter::new(d).unwrap()
    }

    /// Reference, part one: at C = 1.9 the edge slope is 6.4 % below the best, and the hole passes
    /// 39 % more light, 0.48 stop.
    #[test]
    fn rayleighs_constant_costs_a_sixteenth_of_the_sharpness_and_gives_half_a_stop() {
        let (can, usual) = (can(), mm(1.9 * (550e-6f64 * 120.0).sqrt()));
        assert!((can.share(usual) - 0.936).abs() < 0.002, "{}", can.share(usual));
        let faster = stops_faster(usual, can.best().hole);
        assert!((faster - 0.48).abs() < 0.005, "{faster}");
        assert_eq!(can.share_working(usual).value, "93.5 %");
    }

    #[test]
    fn the_curve_rises_to_one_at_the_sharpest_hole() {
        let curve = can().curve(mm(0.1), mm(1.0), 181);
        assert_eq!(curve.len(), 181);
        let top = curve.iter().copied().fold((0.0, 0.0), |top, now| if now.1 > top.1 { now } else { top });
        assert!((top.0 - can().best().hole.as_mm()).abs() < 0.005 && top.1 <= 1.0 + 1e-9, "{top:?}");
    }

    #[test]
    fn the_workings_put_the_numbers_in() {
        let can = can();
        assert_eq!(can.best_working().value, "0.413 mm");
        assert!(can.best_working().formula.contains("√(0.000550 mm × 120.0 mm)"), "{}", can.best_working().formula);
        assert_eq!(can.tolerance_working().value, "0.315 to 0.506 mm");
        assert!(can.finest_lines_working(mm(0.413)).formula.contains("Fresnel number"));
        // A hole wider than half of its camera is a shadow, and still answered.
        let shoe = Sharpness::of(HoleToFilm::new(5.0).unwrap(), None, Spectrum::blue_green());
        assert!(shoe.share(mm(4.9)) > 0.0 && shoe.finest_lines_working(mm(4.9)).value.ends_with("per mm"));
    }
}
