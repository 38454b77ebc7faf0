//! How sharp a hole is against the sharpest one its camera could have, by the steepness of a straight
//! edge.

use crate::calc::optics::diffraction::{
    Criterion, Diffraction, Direction, Film, ObliqueSpread, SharpestHole, Spectrum, sharpest_hole,
    tolerance as holes_within,
};
use crate::calc::optics::hole_formula::{geometric_blur_mm, reduced_distance_mm};
use crate::calc::quantity::{FieldAngle, HoleDiameter, HoleToFilm, SubjectDistance};
use crate::calc::working::{Working, figures, plain};

const SOURCE: &str = "scalar diffraction behind a round hole: Born & Wolf, Principles of Optics, ch. 8.8; Mielenz, \
     J. Res. NIST 104 (1999); transfer function after Hopkins, Proc. R. Soc. A 231 (1955); the greatest slope is searched \
     for this camera";

/// The same where the light is a band.
const SOURCE_IN_BAND: &str = "scalar diffraction behind a round hole: Born & Wolf, Principles of Optics, ch. 8.8; Mielenz, \
     J. Res. NIST 104 (1999); transfer function after Hopkins, Proc. R. Soc. A 231 (1955), averaged over the band: λ is its \
     mean; daylight by CIE 15 (D55), the ends of a paper’s sensitivity are common practice, no source, and film that sees \
     all colours evenly is our own model";

/// Lines with less of their contrast than this are not told apart for long.
const LEVEL: f64 = 0.2;

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

    /// The same light in another camera. With d = C √(λf′) nothing depends on distance but the scale, so that the
    /// constants found in one camera hold in every other.
    #[must_use]
    pub fn in_camera(self, hole_to_film: HoleToFilm, subject: Option<SubjectDistance>) -> Self {
        let scale = |v, u| (self.light.mean_mm() * reduced_distance_mm(v, u)).sqrt();
        let (here, there) = (scale(self.hole_to_film, self.subject), scale(hole_to_film, subject));
        let moved = |hole: HoleDiameter| HoleDiameter::computed(hole.as_mm() / here * there);
        let best = SharpestHole { hole: moved(self.best.hole), ..self.best };
        Self {
            hole_to_film,
            subject,
            light: self.light,
            best,
            steepest_per_mm: steepness_per_mm(best.hole, hole_to_film, subject, self.light),
            within_a_tenth: self.within_a_tenth.map(moved),
        }
    }

    fn source(&self) -> &'static str {
        if self.light.relative_width() > 0.0 { SOURCE_IN_BAND } else { SOURCE }
    }

    /// The light.
    pub const fn light(&self) -> Spectrum {
        self.light
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
            source: self.source(),
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
            source: self.source(),
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
            source: self.source(),
            interval: None,
        }
    }

    /// How wide a spot is in which four fifths of a point's light fall, mm.
    pub fn spot_mm(&self, hole: HoleDiameter) -> f64 {
        const SHARE: f64 = 0.8;
        match Diffraction::new(hole, self.hole_to_film, self.subject, self.light) {
            Ok(image) => 2.0 * image.encircled_radius(SHARE),
            // an even disc
            Err(_) => geometric_blur_mm(hole, self.hole_to_film, self.subject) * SHARE.sqrt(),
        }
    }

    /// [`Self::spot_mm`] with its working.
    pub fn spot_working(&self, hole: HoleDiameter) -> Working {
        let across = self.spot_mm(hole);
        Working {
            name: "spot of a point of light",
            value: format!("{} mm across", figures(across, 2)),
            formula: format!(
                "2πR ∫ OTF(ν) J₁(2πRν) dν = 0.8 at R = {} mm; by straight rays alone the spot would be {} mm across",
                figures(across / 2.0, 3),
                figures(geometric_blur_mm(hole, self.hole_to_film, self.subject), 3)
            ),
            source: self.source(),
            interval: None,
        }
    }

    /// The finest lines that keep a fifth of their contrast, in line pairs per mm, with the working.
    pub fn finest_lines_working(&self, hole: HoleDiameter) -> Working {
        let image = Diffraction::new(hole, self.hole_to_film, self.subject, self.light);
        let (limit, n) = match image {
            Ok(image) => (image.contrast_limit(LEVEL), Some(image.fresnel_number())),
            Err(shadow) => (SHADOW_AT_LEVEL / shadow.shadow_mm, None),
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
            source: self.source(),
            interval: None,
        }
    }
}

/// Finest lines that keep a fifth of their contrast at a field angle, in line pairs per mm, and whether the image there is
/// the hole's plain shadow.
fn finest_off_axis(
    hole: HoleDiameter,
    film: Film,
    subject: Option<SubjectDistance>,
    light: Spectrum,
    angle: FieldAngle,
    direction: Direction,
) -> (f64, bool) {
    match Diffraction::off_axis(hole, film, subject, light, angle, direction) {
        Ok(image) => (image.contrast_limit(LEVEL), false),
        Err(shadow) => (SHADOW_AT_LEVEL / shadow.shadow_mm, true),
    }
}

/// The finest lines kept at a field angle, with the working: those that run round the middle, blurred towards it
/// (tangential), and those that point at it (sagittal); on curved film upright and level ones at the hole's height.
pub fn finest_at_edge_working(
    hole: HoleDiameter,
    film: Film,
    subject: Option<SubjectDistance>,
    light: Spectrum,
    angle: FieldAngle,
) -> Working {
    let [(across, _), (along, shadow)] = [Direction::Tangential, Direction::Sagittal]
        .map(|direction| finest_off_axis(hole, film, subject, light, angle, direction));
    let (said, cos) = (figures(angle.as_deg(), 3), angle.as_deg().to_radians().cos());
    let distance = match film {
        Film::Flat(v) => format!(
            "v / cos³θ = {} mm and v / cos θ = {} mm",
            figures(v.as_mm() / cos.powi(3), 3),
            figures(v.as_mm() / cos, 3)
        ),
        Film::Curved(inside) => format!(
            "2R / cos θ = {} mm along the arc and 2R cos θ = {} mm along the height",
            figures(inside.as_mm() / cos, 3),
            figures(inside.as_mm() * cos, 3)
        ),
    };
    let shadow =
        if shadow { "; the second is the hole’s plain shadow, 2 J₁(x)/x = 0.2 at x = π ν d = 3.081" } else { "" };
    Working {
        name: "finest lines at the film's edge",
        value: format!("{} and {} per mm", figures(across, 2), figures(along, 2)),
        formula: format!(
            "at θ = {said}° {distance} take the place of v; OTF(ν) = 0.2 at ν = {} and {} per mm{shadow}",
            figures(across, 3),
            figures(along, 3)
        ),
        source: OFF_AXIS_SOURCE,
        interval: None,
    }
}

/// How wide half of a point's light spreads.
#[derive(Clone, Debug, PartialEq)]
pub struct HalfLight {
    /// The radius straight ahead, mm.
    pub ahead_mm: f64,
    /// The radius at the field angle, mm.
    pub there_mm: f64,
    /// Both with their working.
    pub working: Working,
}

/// The circle that holds half of a point's light at a field angle against the one straight ahead, with the working;
/// none where the image of a point is not worked out ([`ObliqueSpread::new`]).
pub fn half_light_working(
    hole: HoleDiameter,
    film: Film,
    subject: Option<SubjectDistance>,
    light: Spectrum,
    angle: FieldAngle,
) -> Option<HalfLight> {
    let hole_to_film = match film {
        Film::Flat(v) => v,
        Film::Curved(inside) => inside.hole_to_film(),
    };
    let ahead = Diffraction::new(hole, hole_to_film, subject, light).ok()?.encircled_radius(0.5);
    let there = ObliqueSpread::new(hole, film, subject, light, angle).ok()?.encircled_radius(0.5);
    let (ahead_mm, there_mm) = (ahead, there);
    let [ahead, there] = [ahead, there].map(|radius| figures(radius, 3));
    let working = Working {
        name: "half of a point's light at the film's edge",
        value: format!("within {there} mm, {ahead} mm straight ahead"),
        formula: format!(
            "∫∫ OTF(ν) R J₁(2πRν)/ν d²ν = 0.5 at R = {there} mm, θ = {}°, hole {} mm, light {}; \
             2πR ∫ OTF(ν) J₁(2πRν) dν = 0.5 at R = {ahead} mm straight ahead",
            figures(angle.as_deg(), 3),
            figures(hole.as_mm(), 3),
            figures(light.mean_mm() * 1e6, 4) + " nm",
        ),
        source: OFF_AXIS_SOURCE,
        interval: None,
    };
    Some(HalfLight { ahead_mm, there_mm, working })
}

const OFF_AXIS_SOURCE: &str = "the theory on the axis (Hopkins 1955) with oblique distances, derived for this project from \
     the path lengths and compared with them up to 80°";

/// A plain shadow keeps a fifth of its contrast where 2 J₁(x)/x = 0.2: at this many line pairs in its width.
const SHADOW_AT_LEVEL: f64 = 0.980_8;

/// How much light a hole passes against another, with the working.
pub fn stops_working(hole: HoleDiameter, than: HoleDiameter) -> Working {
    let stops = stops_faster(hole, than);
    let words = if stops < 0.0 { "less" } else { "more" };
    Working {
        name: "light that the target passes against it",
        value: format!("{} stops {words}", figures(stops.abs(), 2)),
        formula: format!(
            "2 log₂(d₁ / d₂) = 2 log₂({} mm / {} mm) = {} stops; (d₁ / d₂)² = {} times the light",
            figures(hole.as_mm(), 3),
            figures(than.as_mm(), 3),
            figures(stops, 2),
            figures(stops.exp2(), 3)
        ),
        source: "exposure through a hole goes with its area",
        interval: None,
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
    use crate::calc::quantity::{InsideDiameter, Wavelength};

    fn can() -> Sharpness {
        let green = Spectrum::single(Wavelength::new(550.0).unwrap());
        Sharpness::of(HoleToFilm::new(120.0).unwrap(), None, green)
    }

    fn mm(d: f64) -> HoleDiameter {
        HoleDiameter::new(d).unwrap()
    }

    /// At C = 1.9 the edge slope is 6.4 % below the best, and the hole passes 39 % more light, 0.48 stop:
    /// computed for this project with a general numerical library.
    #[test]
    fn rayleighs_constant_costs_a_sixteenth_of_the_sharpness_and_gives_half_a_stop() {
        let (can, usual) = (can(), mm(1.9 * (550e-6f64 * 120.0).sqrt()));
        assert!((can.share(usual) - 0.936).abs() < 0.002, "{}", can.share(usual));
        let faster = stops_faster(usual, can.best().hole);
        assert!((faster - 0.48).abs() < 0.005, "{faster}");
        assert_eq!(can.share_working(usual).value, "93.5 %");
    }

    /// At 30 degrees the distances are v/cos³ and v/cos: the lines are those of a longer camera, hole and all.
    #[test]
    fn at_the_edge_of_a_flat_sheet_lines_are_those_of_a_longer_camera() {
        let (v, light) = (HoleToFilm::new(75.0).unwrap(), Spectrum::single(Wavelength::new(550.0).unwrap()));
        let finest = |deg: f64| {
            let angle = FieldAngle::new(deg).unwrap();
            [Direction::Tangential, Direction::Sagittal]
                .map(|direction| finest_off_axis(mm(0.35), Film::Flat(v), None, light, angle, direction).0)
        };
        let [across, along] = finest(30.0);
        for (got, longer) in [(across, 75.0 / 0.75f64.powf(1.5)), (along, 75.0 / 0.75f64.sqrt())] {
            let there = Sharpness::of(HoleToFilm::new(longer).unwrap(), None, light);
            let said = there.finest_lines_working(mm(0.35)).formula;
            assert!(said.contains(&format!("at ν = {} per mm", figures(got, 3))), "{got}: {said}");
        }
        let said = finest_at_edge_working(mm(0.35), Film::Flat(v), None, light, FieldAngle::new(30.0).unwrap());
        assert!(said.formula.contains("115 mm and v / cos θ = 86.6 mm"), "{said:?}");
        let middle = finest(0.0);
        // case O027 of tests/reference
        assert!((middle[0] - 4.06897).abs() < 0.004 && middle[0] == middle[1], "{middle:?}");
    }

    /// A can's wall beside the hole is so near that level lines there are the hole's own shadow: said, not left out.
    #[test]
    fn beside_the_hole_a_can_s_wall_shows_the_hole_s_plain_shadow() {
        let (can, angle) = (InsideDiameter::new(30.0).unwrap(), FieldAngle::new(85.0).unwrap());
        let light = Spectrum::single(Wavelength::new(550.0).unwrap());
        let said = finest_at_edge_working(mm(5.0), Film::Curved(can), None, light, angle);
        assert!(said.formula.contains("plain shadow") && said.value.ends_with("0.20 per mm"), "{said:?}");
    }

    /// Nothing but the scale depends on the camera.
    #[test]
    fn what_one_camera_s_light_has_taught_holds_in_every_other() {
        for light in [Spectrum::single(Wavelength::new(460.0).unwrap()), Spectrum::blue_green()] {
            let (v, u) = (HoleToFilm::new(300.0).unwrap(), Some(SubjectDistance::new(500.0).unwrap()));
            let anew = Sharpness::of(v, u, light);
            let moved = Sharpness::of(HoleToFilm::new(100.0).unwrap(), None, light).in_camera(v, u);
            let close = |a: f64, b: f64| (a / b - 1.0).abs() < 2e-4;
            assert!(close(anew.best().hole.as_mm(), moved.best().hole.as_mm()), "{anew:?} {moved:?}");
            for (a, b) in anew.within_a_tenth().iter().zip(moved.within_a_tenth()) {
                assert!(close(a.as_mm(), b.as_mm()), "{anew:?} {moved:?}");
            }
            assert!(close(anew.share(mm(0.5)), moved.share(mm(0.5))));
        }
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
        assert_eq!(stops_working(mm(0.488), mm(0.413)).value, "0.48 stops more");
        // case O033 of tests/reference: half of the light of 0.35 mm at 75 mm lies within 0.0979 mm; four fifths further out
        assert!(can.spot_working(mm(0.413)).value.ends_with("mm across"));
        // A hole wider than half of its camera is a shadow, and still answered.
        let shoe = Sharpness::of(HoleToFilm::new(5.0).unwrap(), None, Spectrum::blue_green());
        assert!(shoe.share(mm(4.9)) > 0.0 && shoe.finest_lines_working(mm(4.9)).value.ends_with("per mm"));
    }
}
