//! The energy of the image of a point within a circle:
//! `EE(R) = 2πR ∫ OTF(ν) J₁(2πRν) dν` (Parseval).
//!
//! Its outer part falls off as 1/R only, so a mean square radius does not exist.

use std::f64::consts::{PI, TAU};

use super::Diffraction;
use super::crossing::falls_to_zero;

impl Diffraction {
    /// The share of the energy within a radius.
    pub fn encircled_energy(&self, radius_mm: f64) -> f64 {
        share(&self.energy_nodes(radius_mm), radius_mm)
    }

    /// The radius that holds a share of the energy (from 0.001 to 0.99), in mm.
    pub fn encircled_radius(&self, wanted: f64) -> f64 {
        // Beyond the geometrical shadow V = U the rest is at most about 2/(πV), Airy's case.
        let mut outer = self.radius_beyond_shadow_mm(10.0 + 1.5 / (1.0 - wanted));
        let mut nodes = self.energy_nodes(outer);
        while share(&nodes, outer) < wanted {
            outer *= 2.0;
            nodes = self.energy_nodes(outer);
        }
        falls_to_zero(0.0, outer, |radius| wanted - share(&nodes, radius))
    }

    /// Nodes up to the cut-off, or as far as anything is left. For a large hole the transfer function falls
    /// with the power 3/2 of the cycles X over the shadow and the Bessel function with 1/2, so that beyond
    /// X no more than 0.2/X of the energy is told apart at the shadow's very edge, where one wavelength's
    /// ripples keep step; a band's ripples do not, and less than 2e-6 is left much sooner.
    fn energy_nodes(&self, radius_mm: f64) -> Vec<(f64, f64)> {
        let furthest = if self.spectrum.relative_width() > 0.0 { FURTHEST_IN_BAND } else { FURTHEST };
        let end = self.cut_off_per_mm().min(furthest / self.shadow_mm());
        self.transfer_nodes_to(end, TAU * radius_mm * end)
    }
}

/// Cycles over the shadow that are counted: all of them up to a Fresnel number of 4250 …
const FURTHEST: f64 = 17_000.0;
/// … and of 375 in a band.
const FURTHEST_IN_BAND: f64 = 1500.0;

fn share(transfer_nodes: &[(f64, f64)], radius_mm: f64) -> f64 {
    let r = 2.0 * PI * radius_mm;
    let sum: f64 = transfer_nodes.iter().map(|(nu, weighted)| weighted * libm::j1(r * nu)).sum();
    (r * sum).clamp(0.0, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calc::optics::diffraction::Spectrum;
    use crate::calc::optics::diffraction::quadrature::nodes;
    use crate::calc::quantity::{HoleDiameter, HoleToFilm};

    /// What is left out of a large hole's image in a band: the integral from there to the cut-off, at the shadow's edge
    /// and to either side of it. 3 mm at 13 mm in daylight are a Fresnel number of 368 and 1924 cycles.
    #[test]
    fn hardly_anything_is_left_beyond_what_is_counted_in_a_band() {
        let (hole, v) = (HoleDiameter::new(3.0).unwrap(), HoleToFilm::new(13.0).unwrap());
        let image = Diffraction::new(hole, v, None, Spectrum::blue_green()).unwrap();
        let (from, to) = (FURTHEST_IN_BAND / image.shadow_mm(), image.cut_off_per_mm());
        assert!(to > 1.2 * from, "{from} {to}");
        let counted: Vec<_> = nodes(from, to, 4.0 * PI * (to - from) * image.shadow_mm())
            .map(|(nu, w)| (nu, w * image.transfer(nu)))
            .collect();
        for part in [0.7, 1.0, 1.3] {
            let r = PI * part * image.shadow_mm();
            let left: f64 = counted.iter().map(|(nu, weighted)| r * weighted * libm::j1(r * nu)).sum();
            assert!(left.abs() < 2e-6, "{part}: {left}");
        }
    }
}
