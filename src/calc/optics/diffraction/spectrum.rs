//! Light of one wavelength, or of a band.
//!
//! A band's weight is source times sensitivity of the paper. Images add up by intensity, so point
//! spreads and signed transfer functions are averaged, never their moduli.

use super::quadrature::nodes;
use crate::calc::quantity::Wavelength;

/// The shape of a band's weight over the wavelength.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BandShape {
    /// The same from end to end.
    Flat,
    /// Greatest in the middle, nothing at the ends.
    Triangular,
}

/// Light of one wavelength or of a band.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spectrum {
    from_mm: f64,
    to_mm: f64,
    shape: BandShape,
}

/// The band ends at or before its beginning.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the longest wavelength must be greater than the shortest")]
pub struct NotABand;

impl Spectrum {
    /// Light of one wavelength.
    pub const fn single(wavelength: Wavelength) -> Self {
        Self { from_mm: wavelength.as_mm(), to_mm: wavelength.as_mm(), shape: BandShape::Flat }
    }

    /// Light of a band.
    ///
    /// # Errors
    /// [`NotABand`] unless `to` is greater than `from`.
    pub fn band(from: Wavelength, to: Wavelength, shape: BandShape) -> Result<Self, NotABand> {
        if to <= from {
            return Err(NotABand);
        }
        Ok(Self { from_mm: from.as_mm(), to_mm: to.as_mm(), shape })
    }

    /// Weighted mean wavelength in mm: the middle, for both shapes.
    pub fn mean_mm(&self) -> f64 {
        (self.from_mm + self.to_mm) / 2.0
    }

    /// Shortest wavelength in mm.
    pub const fn shortest_mm(&self) -> f64 {
        self.from_mm
    }

    /// Width over mean.
    pub fn relative_width(&self) -> f64 {
        (self.to_mm - self.from_mm) / self.mean_mm()
    }

    /// The weighted average of a function of the wavelength (in mm) that is zero beyond `cut_off`
    /// and turns through a phase over the band.
    pub fn average(&self, cut_off: f64, phase: f64, f: impl Fn(f64) -> f64) -> f64 {
        let (from, to, middle) = (self.from_mm, self.to_mm, self.mean_mm());
        if from == to {
            return if from < cut_off { f(from) } else { 0.0 };
        }
        let half = (to - from) / 2.0;
        let over = |from: f64, to: f64, weight: &dyn Fn(f64) -> f64| -> f64 {
            if from >= cut_off {
                return 0.0;
            }
            nodes(from, to.min(cut_off), phase).map(|(lambda, w)| w * weight(lambda) * f(lambda)).sum()
        };
        match self.shape {
            BandShape::Flat => over(from, to, &|_| 0.5 / half),
            // In two halves, for the corner in the middle.
            BandShape::Triangular => {
                let weight = |lambda: f64| (half - (lambda - middle).abs()) / (half * half);
                over(from, middle, &weight) + over(middle, to, &weight)
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn nm(x: f64) -> Wavelength {
        Wavelength::new(x).unwrap()
    }

    #[test]
    fn the_average_of_one_is_one_and_of_the_wavelength_the_mean() {
        for shape in [BandShape::Flat, BandShape::Triangular] {
            let band = Spectrum::band(nm(400.0), nm(520.0), shape).unwrap();
            assert!((band.average(f64::INFINITY, 0.0, |_| 1.0) - 1.0).abs() < 1e-14);
            assert!((band.average(f64::INFINITY, 0.0, |l| l) - 460e-6).abs() < 1e-17);
        }
        assert_eq!(Spectrum::band(nm(500.0), nm(500.0), BandShape::Flat), Err(NotABand));
    }

    #[test]
    fn what_lies_beyond_a_cut_off_counts_as_nothing() {
        let band = Spectrum::band(nm(400.0), nm(520.0), BandShape::Flat).unwrap();
        assert!((band.average(430e-6, 0.0, |_| 1.0) - 0.25).abs() < 1e-14);
        assert_eq!(band.average(399e-6, 0.0, |_| 1.0), 0.0);
    }
}
