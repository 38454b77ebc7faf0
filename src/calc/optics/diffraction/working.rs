//! How the diffraction quantities come about, in words with the numbers put in.

use super::{Criterion, Diffraction, Direction, ObliqueSpread, PointSpread, SharpestHole, Spectrum};
use crate::calc::optics::hole_formula::reduced_distance_mm;
use crate::calc::quantity::{HoleDiameter, HoleToFilm, SubjectDistance};
use crate::calc::working::{Working, figures, plain, scaled};

const SOURCE: &str = "scalar diffraction behind a thin round hole in Fresnel's approximation: Born & Wolf, Principles of \
     Optics, ch. 8.8 (from memory); Mielenz, J. Res. NIST (1998) and 104 (1999); transfer function after Hopkins, Proc. R. \
     Soc. A 231 (1955); re-derived for this project and checked against exact integrals";

/// The same where the light is a band.
const SOURCE_IN_BAND: &str = "scalar diffraction behind a thin round hole in Fresnel's approximation: Born & Wolf, \
     Principles of Optics, ch. 8.8 (from memory); Mielenz, J. Res. NIST (1998) and 104 (1999); transfer function after \
     Hopkins, Proc. R. Soc. A 231 (1955), averaged over the band; re-derived for this project and checked against exact \
     integrals";

/// Away from the axis.
const SOURCE_OFF_AXIS: &str = "the theory on the axis (Hopkins, Proc. R. Soc. A 231, 1955) with oblique distances, derived \
     for this project from the path lengths and compared with them up to 80°";

/// What an image away from the axis is called in a formula.
fn place(field_angle_deg: f64, direction: Option<Direction>) -> String {
    let angle = plain(field_angle_deg);
    match direction {
        Some(Direction::Tangential) => format!("at {angle}°, tangential: "),
        Some(Direction::Sagittal) => format!("at {angle}°, sagittal: "),
        None => format!("at {angle}°: "),
    }
}

fn source(light: &Spectrum, field_angle_deg: f64) -> &'static str {
    match (field_angle_deg > 0.0, light.relative_width() > 0.0) {
        (true, _) => SOURCE_OFF_AXIS,
        (false, true) => SOURCE_IN_BAND,
        (false, false) => SOURCE,
    }
}

/// The sharpest hole by a criterion with its working; `within_a_tenth` is what [`super::tolerance`] found.
pub fn sharpest_hole_working(
    hole_to_film: HoleToFilm,
    subject: Option<SubjectDistance>,
    light: Spectrum,
    criterion: Criterion,
    best: SharpestHole,
    within_a_tenth: [HoleDiameter; 2],
) -> Working {
    let (c, d) = (figures(best.constant.as_number(), 4), figures(best.hole.as_mm(), 3));
    let what = match criterion {
        Criterion::Edge => "the slope of a straight edge’s image, 2 ∫ OTF(ν) dν, is greatest".to_owned(),
        Criterion::Contrast(level) => {
            format!("the frequency at which the contrast |OTF(ν)| falls to {} is highest", plain(level))
        }
        Criterion::Energy(share) => format!("the circle that holds {} of a point’s light is smallest", plain(share)),
    };
    let [least, greatest] = within_a_tenth.map(|hole| figures(hole.as_mm(), 3));
    Working::of(
        "sharpest hole by diffraction theory",
        format!("{d} mm"),
        format!(
            "{what} at C = {c}, light {}: d = C √(λ f′) = {c} × √({} mm × {} mm) = {d} mm",
            light.words(),
            figures(light.mean_mm(), 3),
            figures(reduced_distance_mm(hole_to_film, subject), 4),
        ),
        source(&light, 0.0),
    )
    .within(format!("from {least} to {greatest} mm less than a tenth is lost by this criterion"))
}

impl Diffraction {
    /// The hole, its distances and the light with the Fresnel number they make.
    fn setup(&self) -> String {
        format!(
            "light {}, N = d² / (4 λ f′) = {d}² / (4 × {} × {}) = {}",
            self.spectrum.words(),
            figures(self.spectrum.mean_mm(), 3),
            figures(1.0 / self.per_l(), 4),
            scaled(self.fresnel_number(), 3),
            d = plain(2.0 * self.a),
        )
    }

    /// The Fresnel number with its working.
    pub fn fresnel_number_working(&self) -> Working {
        Working::of("Fresnel number", scaled(self.fresnel_number(), 3), self.setup(), source(&self.spectrum, 0.0))
    }

    /// The point-spread function on the axis and its working.
    pub fn point_spread_working(&self, radius_mm: f64) -> (PointSpread, Working) {
        let spread = self.point_spread(radius_mm);
        let mean = self.spectrum.mean_mm();
        let (t, density) = (scaled(spread.relative_intensity, 3), scaled(spread.density_per_mm2, 3));
        let working = Working::of(
            "image of a point",
            format!("{t} of the light without a plate, {density} of the energy per mm²"),
            format!(
                "{}; U = 2πN = {}, V = π d ρ / (λ v) = π × {} × {} / ({} × {}) = {}: T = U² |∫₀¹ exp(iUt²/2) J₀(Vt) t dt|² = \
                 {t}; T / (π a² (1 + v/u)²) with a = {} mm and 1 + v/u = {}: {density} per mm²",
                self.setup(),
                scaled(self.lommel_u(mean), 3),
                plain(2.0 * self.a),
                scaled(radius_mm, 4),
                figures(mean, 3),
                figures(self.v, 4),
                scaled(self.lommel_v(radius_mm, mean), 3),
                plain(self.a),
                figures(self.spread(), 4),
            ),
            source(&self.spectrum, 0.0),
        );
        (spread, working)
    }

    /// The transfer function at a frequency with its working; the direction counts away from the axis.
    pub fn transfer_working(&self, frequency_per_mm: f64, field_angle_deg: f64, direction: Direction) -> Working {
        let otf = scaled(self.transfer(frequency_per_mm), 3);
        let mean = self.spectrum.mean_mm();
        Working::of(
            "transfer function",
            otf.clone(),
            format!(
                "{}{}; U = 2πN = {}, s = 2 λ v ν / d = 2 × {} × {} × {} / {} = {}: OTF = (4/π) ∫ cos(U s x) √(1 − (x + s/2)²) \
                 dx from 0 to 1 − s/2 = {otf}, nothing from s = 2 on",
                self.beside(field_angle_deg, direction),
                self.setup(),
                scaled(self.lommel_u(mean), 3),
                figures(mean, 3),
                figures(self.v, 4),
                plain(frequency_per_mm),
                plain(2.0 * self.a),
                scaled(mean * self.v * frequency_per_mm / self.a, 3),
            ),
            source(&self.spectrum, field_angle_deg),
        )
    }

    /// The frequency at which the contrast first falls to a level, with its working.
    pub fn contrast_limit_working(
        &self,
        level: f64,
        limit_per_mm: f64,
        field_angle_deg: f64,
        direction: Direction,
    ) -> Working {
        let limit = scaled(limit_per_mm, 3);
        Working::of(
            "finest lines kept",
            format!("{limit} line pairs per mm"),
            format!(
                "{}{}; |OTF(ν)| first falls to {} at ν = {limit} per mm; nothing is carried over from d / (λ v) = {} per mm on",
                self.beside(field_angle_deg, direction),
                self.setup(),
                plain(level),
                scaled(self.cut_off_per_mm(), 3),
            ),
            source(&self.spectrum, field_angle_deg),
        )
    }

    /// The share of a point's light within a radius on the axis, with its working.
    pub fn encircled_energy_working(&self, radius_mm: f64, share: f64) -> Working {
        let percent = figures(100.0 * share, 3);
        Working::of(
            "light within a circle",
            format!("{percent} %"),
            format!(
                "{}; 2πR ∫ OTF(ν) J₁(2πRν) dν at R = {} mm, up to d / (λ v) = {} per mm: {}",
                self.setup(),
                scaled(radius_mm, 3),
                scaled(self.cut_off_per_mm(), 3),
                scaled(share, 3)
            ),
            source(&self.spectrum, 0.0),
        )
    }

    /// The radius that holds a share of a point's light on the axis, with its working.
    pub fn encircled_radius_working(&self, share: f64, radius_mm: f64) -> Working {
        let radius = scaled(radius_mm, 3);
        Working::of(
            "circle of light",
            format!("{radius} mm"),
            format!("{}; 2πR ∫ OTF(ν) J₁(2πRν) dν = {} at R = {radius} mm", self.setup(), plain(share)),
            source(&self.spectrum, 0.0),
        )
    }

    /// Which distance takes the place of v away from the axis.
    fn beside(&self, field_angle_deg: f64, direction: Direction) -> String {
        if field_angle_deg == 0.0 {
            return String::new();
        }
        format!("{}{} mm takes the place of v; ", place(field_angle_deg, Some(direction)), figures(self.v, 4))
    }
}

impl ObliqueSpread {
    /// Both distances and the light, with the Fresnel numbers they make.
    fn setup(&self, field_angle_deg: f64) -> String {
        let (t, s) = (&self.tangential, &self.sagittal);
        format!(
            "{}hole {} mm, light {}; {} mm (tangential) and {} mm (sagittal) take the place of v: N = d² / (4 λ f′) = {} and {}",
            place(field_angle_deg, None),
            plain(2.0 * t.a),
            self.spectrum.words(),
            figures(t.v, 4),
            figures(s.v, 4),
            scaled(t.fresnel_number(), 3),
            scaled(s.fresnel_number(), 3)
        )
    }

    /// The point-spread function at a radius in one direction and its working.
    pub fn point_spread_working(
        &self,
        radius_mm: f64,
        field_angle_deg: f64,
        direction: Direction,
    ) -> (PointSpread, Working) {
        let (spread, towards) = match direction {
            Direction::Tangential => (self.point_spread(radius_mm, 0.0), "tangential"),
            Direction::Sagittal => (self.point_spread(0.0, radius_mm), "sagittal"),
        };
        let (t, density) = (scaled(spread.relative_intensity, 3), scaled(spread.density_per_mm2, 3));
        let working = Working::of(
            "image of a point",
            format!("{t} of the light without a plate, {density} of the energy per mm²"),
            format!(
                "{}; with U = 2πN in each direction, p = 2π a x / (λ v) at x = {} mm, {towards}: T = U_t U_s |F|² / 4, F = (1/π) \
                 ∫∫ exp(i (U_t u² + U_s w²) / 2 − i p u) du dw over the disc: {t}; {density} per mm²",
                self.setup(field_angle_deg),
                scaled(radius_mm, 3),
            ),
            SOURCE_OFF_AXIS,
        );
        (spread, working)
    }

    /// The share of a point's light within a radius with its working.
    pub fn encircled_energy_working(&self, radius_mm: f64, share: f64, field_angle_deg: f64) -> Working {
        Working::of(
            "light within a circle",
            format!("{} %", figures(100.0 * share, 3)),
            format!(
                "{}; ∫∫ OTF(ν) R J₁(2πRν)/ν d²ν at R = {} mm: {}",
                self.setup(field_angle_deg),
                scaled(radius_mm, 3),
                scaled(share, 3)
            ),
            SOURCE_OFF_AXIS,
        )
    }

    /// The radius that holds a share of a point's light with its working.
    pub fn encircled_radius_working(&self, share: f64, radius_mm: f64, field_angle_deg: f64) -> Working {
        let radius = scaled(radius_mm, 3);
        Working::of(
            "circle of light",
            format!("{radius} mm"),
            format!(
                "{}; ∫∫ OTF(ν) R J₁(2πRν)/ν d²ν = {} at R = {radius} mm",
                self.setup(field_angle_deg),
                plain(share)
            ),
            SOURCE_OFF_AXIS,
        )
    }
}
