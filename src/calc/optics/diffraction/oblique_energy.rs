//! The energy of the image of a point away from the axis within a circle:
//! `∫∫ OTF(ν) R J₁(2πRν)/ν d²ν` (Parseval), in polar coordinates.
//!
//! Near the axis and for a hole that makes a picture one set of nodes serves every radius. Where the image is long and
//! narrow or nearly the hole's shadow, or the circle wide, that many nodes would be needed that each direction is
//! integrated for itself instead: its integral is the same as that of the image's line spread, smooth from one
//! direction to the next but where the circle just covers the shadow, and panels are halved there.

use std::f64::consts::{FRAC_PI_2, TAU};

use super::crossing::{falls_to_zero, falls_to_zero_where};
use super::oblique_overlap::overlap;
use super::quadrature::{integral, nodes};
use super::{Diffraction, ObliqueSpread};

/// A phase that asks for one more panel.
const PANEL: f64 = 12.0;

/// A product of the phases over frequency and azimuth above which each direction is integrated for itself.
const ONE_SET: f64 = 60_000.0;

/// How closely each direction is integrated.
#[derive(Clone, Copy)]
struct Care {
    /// Cycles over the shadow that are counted.
    furthest: f64,
    /// So small a difference between eight and sixteen nodes is none.
    small: f64,
}

/// All cycles up to a Fresnel number of 75; what is left out beyond is below 1e-5 of the energy.
const CAREFUL: Care = Care { furthest: 300.0, small: 1e-6 };
/// The same for each wavelength of a band, whose ripples do not keep step.
const CAREFUL_IN_BAND: Care = Care { furthest: 150.0, small: 3e-6 };
/// Enough to begin a search with.
const ROUGH: Care = Care { furthest: 60.0, small: 1e-3 };
/// How near a search comes, in energy.
const FOUND: f64 = 2e-6;

/// How often a search goes back to work at most: each time it comes some ten times nearer.
const CORRECTIONS: u32 = 12;

/// How often a range of directions is halved at most.
const HALVINGS: u32 = 16;

impl ObliqueSpread {
    /// The share of the energy within a radius.
    pub fn encircled_energy(&self, radius_mm: f64) -> f64 {
        if self.asks_for(radius_mm) > ONE_SET {
            return self.by_direction(radius_mm);
        }
        share(&self.energy_nodes(radius_mm), radius_mm)
    }

    /// The radius that holds a share of the energy (from 0.001 to 0.99), in mm: by one set of nodes to 1e-10, direction by
    /// direction to about 1e-6 of the energy.
    pub fn encircled_radius(&self, wanted: f64) -> f64 {
        // Airy's narrower image, or the smaller shadow
        let mut inner = 0.0;
        let mut outer = self.tangential.half_width_mm().min(self.sagittal.half_width_mm());
        while self.asks_for(outer) <= ONE_SET {
            let nodes = self.energy_nodes(outer);
            if share(&nodes, outer) >= wanted {
                return falls_to_zero(inner, outer, |radius| wanted - share(&nodes, radius));
            }
            (inner, outer) = (outer, 2.0 * outer);
        }
        let mean = self.spectrum.mean_mm();
        let rough = |radius| self.by_direction_at(radius, mean, ROUGH);
        while rough(outer) < wanted {
            (inner, outer) = (outer, 1.5 * outer);
        }
        let mut radius = falls_to_zero_where(ROUGH.small, inner, outer, |radius| wanted - rough(radius));
        let step = 0.02 * radius;
        let per_mm = (rough(radius + step) - rough(radius - step)) / (2.0 * step);
        for _ in 0..CORRECTIONS {
            let missing = wanted - self.by_direction(radius);
            radius += missing / per_mm;
            if missing.abs() < FOUND {
                break;
            }
        }
        radius
    }

    /// The phases to follow round and outwards for circles up to a radius.
    fn phases(&self, radius_mm: f64) -> (f64, f64) {
        let (t, s, shortest) = (self.tangential, self.sagittal, self.spectrum.shortest_mm());
        let (ut, us) = (t.lommel_u(shortest), s.lommel_u(shortest));
        let (vt, vs) = (t.lommel_v(radius_mm, shortest), s.lommel_v(radius_mm, shortest));
        let round = PANEL * (t.v / s.v).max(s.v / t.v) + (ut - us).abs() + 2.0 * (vt - vs).abs();
        (round, PANEL + 2.0 * ut.max(us) + 2.0 * vt.max(vs))
    }

    /// What one set of nodes for circles up to a radius asks for.
    fn asks_for(&self, radius_mm: f64) -> f64 {
        let (round, outwards) = self.phases(radius_mm);
        let over_band = 2.0 * TAU * self.fresnel_number() * self.spectrum.relative_width();
        round * outwards * (1.0 + over_band)
    }

    /// Frequencies and their weights with the transfer function, close enough together for circles up to a radius.
    fn energy_nodes(&self, radius_mm: f64) -> Vec<(f64, f64)> {
        let (t, s) = (self.tangential, self.sagittal);
        let end = 2.0 * t.a / self.spectrum.shortest_mm();
        let (round, outwards) = self.phases(radius_mm);
        let mut all = Vec::new();
        for (azimuth, weight) in nodes(0.0, FRAC_PI_2, round) {
            let (sin, cos) = azimuth.sin_cos();
            let slant = (cos / t.v).hypot(sin / s.v);
            let weight = 4.0 * weight / (t.v * s.v * slant);
            all.extend(
                nodes(0.0, end, outwards)
                    .map(|(kappa, w)| (slant * kappa, weight * w * self.overlap_at(kappa, azimuth))),
            );
        }
        all
    }

    /// The share within a radius, each direction for itself: averaged over the band as it is, since the energy within a
    /// circle hardly turns with the wavelength.
    fn by_direction(&self, radius_mm: f64) -> f64 {
        let care = if self.spectrum.relative_width() > 0.0 { CAREFUL_IN_BAND } else { CAREFUL };
        self.spectrum.average(f64::INFINITY, 0.0, |lambda| self.by_direction_at(radius_mm, lambda, care))
    }

    fn by_direction_at(&self, radius_mm: f64, lambda: f64, care: Care) -> f64 {
        let towards = |azimuth: f64| self.in_direction(azimuth, radius_mm, lambda, care.furthest);
        let ends = self.ranges(radius_mm);
        let quarter: f64 = ends.windows(2).map(|ends| halved((ends[0], ends[1]), care.small, HALVINGS, &towards)).sum();
        (4.0 * quarter).clamp(0.0, 1.0)
    }

    /// Directions between which the integral is smooth: where the circle just covers the shadow, and the diagonal of the
    /// long and narrow image.
    fn ranges(&self, radius_mm: f64) -> Vec<f64> {
        let (t, s) = (self.tangential.shadow_mm() / 2.0, self.sagittal.shadow_mm() / 2.0);
        let covered = ((radius_mm * radius_mm - s * s) / (t * t - s * s)).sqrt().acos();
        let mut ends = vec![0.0, covered, t.atan2(s), self.tangential.v.atan2(self.sagittal.v), FRAC_PI_2];
        ends.retain(|at| (0.0..=FRAC_PI_2).contains(at));
        ends.sort_by(f64::total_cmp);
        ends.dedup_by(|one, other| (*one - *other).abs() < 1e-9);
        ends
    }

    /// `R ∫ OTF(ν) J₁(2πRν) dν` along a direction in the image.
    fn in_direction(&self, azimuth: f64, radius_mm: f64, lambda: f64, furthest: f64) -> f64 {
        let (t, s) = (self.tangential, self.sagittal);
        let (sin, cos) = azimuth.sin_cos();
        let half_shadow = (t.shadow_mm() * cos).hypot(s.shadow_mm() * sin) / 2.0;
        // the shift of the opening for a line pair per mm, in its radius, and where it goes
        let (x, y) = (lambda * t.v * cos / t.a, lambda * s.v * sin / s.a);
        let shift = x.hypot(y);
        let (c2, s2, sc) = (x * x / (shift * shift), y * y / (shift * shift), x * y / (shift * shift));
        let (ut, us) = (t.lommel_u(lambda), s.lommel_u(lambda));
        let (along, across) = (ut * c2 + us * s2, (us - ut) * sc);
        let end = (2.0 / shift).min(furthest / (2.0 * half_shadow));
        // nodes for 1e-8, not for 1e-14
        let turn = PANEL + 0.6 * TAU * (radius_mm + half_shadow) * end;
        let sum = integral(0.0, end, turn, |nu| {
            let sigma = shift * nu;
            libm::j1(TAU * radius_mm * nu) * overlap(along * sigma, across * sigma, sigma / 2.0)
        });
        radius_mm * sum
    }
}

impl Diffraction {
    /// Half the shadow's width and as much as half the energy spreads in the far field, mm.
    fn half_width_mm(&self) -> f64 {
        self.shadow_mm() / 2.0 + self.spectrum.mean_mm() * self.v / (4.0 * self.a)
    }
}

fn share(nodes: &[(f64, f64)], radius_mm: f64) -> f64 {
    let r = TAU * radius_mm;
    let sum: f64 = nodes.iter().map(|(nu, weighted)| weighted * libm::j1(r * nu)).sum();
    (radius_mm * sum).clamp(0.0, 1.0)
}

/// The integral over a range, halved until sixteen nodes say the same as eight.
fn halved((from, to): (f64, f64), small: f64, halvings: u32, f: &impl Fn(f64) -> f64) -> f64 {
    let [eight, sixteen] = [0.0, PANEL / 2.0].map(|phase| integral(from, to, phase, f));
    if halvings == 0 || (sixteen - eight).abs() < small {
        return sixteen;
    }
    let middle = (from + to) / 2.0;
    halved((from, middle), small, halvings - 1, f) + halved((middle, to), small, halvings - 1, f)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calc::optics::diffraction::{Film, Spectrum};
    use crate::calc::quantity::{FieldAngle, HoleDiameter, HoleToFilm, InsideDiameter, Wavelength};

    fn spread(d: f64, film: Film, light: Spectrum, deg: f64) -> ObliqueSpread {
        ObliqueSpread::new(HoleDiameter::new(d).unwrap(), film, None, light, FieldAngle::new(deg).unwrap()).unwrap()
    }

    fn flat(mm: f64) -> Film {
        Film::Flat(HoleToFilm::new(mm).unwrap())
    }

    fn green() -> Spectrum {
        Spectrum::single(Wavelength::new(550.0).unwrap())
    }

    #[test]
    fn one_set_of_nodes_and_each_direction_for_itself_say_the_same() {
        let can = Film::Curved(InsideDiameter::new(90.0).unwrap());
        let daylight = Spectrum::blue_green();
        for (there, parts) in [
            (spread(0.35, flat(75.0), green(), 45.0), [0.5, 2.0]),
            (spread(0.8, flat(75.0), green(), 30.0), [0.7, 1.0]),
            (spread(0.4, can, green(), 60.0), [1.0, 3.0]),
            (spread(0.3, flat(75.0), daylight, 40.0), [1.0, 1.5]),
        ] {
            for part in parts {
                let radius = part * there.sagittal.half_width_mm();
                let one_set = share(&there.energy_nodes(radius), radius);
                let by_direction = there.by_direction(radius);
                assert!((one_set - by_direction).abs() < 1e-5, "{radius}: {one_set} {by_direction}");
            }
        }
    }

    /// A hole of 2 mm at 75 mm has a Fresnel number of 24, at 10 mm and 5 mm of 1136.
    #[test]
    fn a_large_hole_has_nearly_its_shadow() {
        for (d, mm, near) in [(2.0, 75.0, 0.01), (5.0, 10.0, 0.003)] {
            let there = spread(d, flat(mm), green(), 30.0);
            // the shadow is the hole itself, the subject being far off
            let half_inside = there.encircled_energy(0.5 * d / 2.0);
            assert!((half_inside - 0.25).abs() < near, "{d} {mm}: {half_inside}");
            let all = there.encircled_energy(1.4 * d / 2.0);
            assert!(all > 0.98 && all <= 1.0, "{d} {mm}: {all}");
        }
    }

    #[test]
    fn beside_the_axis_a_large_hole_holds_what_it_holds_on_it() {
        let there = spread(1.5, flat(75.0), green(), 0.05);
        for part in [0.6, 1.0] {
            let radius = part * 0.75;
            let (got, wanted) = (there.by_direction(radius), there.sagittal.encircled_energy(radius));
            assert!((got - wanted).abs() < 1e-5, "{part}: {got} {wanted}");
        }
    }

    /// At 80 degrees the image is 33 times as long as it is wide.
    #[test]
    fn a_radius_is_found_where_the_image_is_long_and_narrow() {
        let there = spread(0.3, flat(75.0), green(), 80.0);
        for wanted in [0.3, 0.99] {
            let radius = there.encircled_radius(wanted);
            let found = there.by_direction(radius);
            assert!((found - wanted).abs() < 1e-5, "{wanted}: {radius} mm, {found}");
        }
    }
}
