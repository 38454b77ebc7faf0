//! Light of one wavelength, or of a band.
//!
//! A band's weight is source times sensitivity of the paper. Images add up by intensity, so point
//! spreads and signed transfer functions are averaged, never their moduli.

use std::sync::LazyLock;

use super::cie_daylight;
use super::quadrature::{Rule, nodes, rule};
use crate::calc::quantity::Wavelength;
use crate::calc::working::{figures, plain};

/// The shape of a band's weight over the wavelength.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BandShape {
    /// The same from end to end.
    Flat,
    /// Greatest in the middle, nothing at the ends.
    Triangular,
    /// As the light of the day: CIE daylight D55, by power.
    DaylightD55,
}

/// Light of one wavelength or of a band.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spectrum {
    from_mm: f64,
    to_mm: f64,
    mean_mm: f64,
    shape: BandShape,
    /// The integral of the weight as given, which the weight is divided by.
    whole: f64,
    /// Wavelengths and weights that average what is smooth over the band.
    smooth: Rule<SMOOTH>,
}

/// Nodes for what is smooth over a band.
const SMOOTH: usize = 16;
/// As much phase over the band as those nodes follow, to about 1e-9.
const SMOOTH_PHASE: f64 = 6.0;
/// A phase that asks for nodes enough to be exact for their polynomials.
const FINE: f64 = 30.0;
/// Their places on -1..1 and plain weights.
static LEGENDRE: LazyLock<Rule<SMOOTH>> = LazyLock::new(rule);

/// Why two wavelengths make no band.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NotABand {
    /// The band ends at or before its beginning.
    #[error("the longest wavelength must be greater than the shortest")]
    Reversed,
    /// Daylight is not tabled there.
    #[error("a band of daylight must lie from {} to {} nm", cie_daylight::FROM_NM, cie_daylight::TO_NM)]
    BeyondDaylight,
}

impl Spectrum {
    /// Light of one wavelength.
    pub const fn single(wavelength: Wavelength) -> Self {
        let lambda = wavelength.as_mm();
        Self {
            from_mm: lambda,
            to_mm: lambda,
            mean_mm: lambda,
            shape: BandShape::Flat,
            whole: 1.0,
            smooth: [(lambda, 1.0 / SMOOTH as f64); SMOOTH],
        }
    }

    /// Light of a band.
    ///
    /// # Errors
    /// [`NotABand`] unless `to` is greater than `from`, and for daylight both are where it is tabled.
    pub fn band(from: Wavelength, to: Wavelength, shape: BandShape) -> Result<Self, NotABand> {
        if to <= from {
            return Err(NotABand::Reversed);
        }
        let tabled = cie_daylight::FROM_NM..=cie_daylight::TO_NM;
        if shape == BandShape::DaylightD55 && !(tabled.contains(&from.as_nm()) && tabled.contains(&to.as_nm())) {
            return Err(NotABand::BeyondDaylight);
        }
        let mut band = Self { from_mm: from.as_mm(), to_mm: to.as_mm(), shape, ..Self::single(from) };
        band.whole = band.weighted(&|_| 1.0);
        band.mean_mm = band.weighted(&|lambda| lambda);
        band.smooth = band.product_rule();
        Ok(band)
    }

    /// Paper that sees blue only, in daylight: 360 to 500 nm, D55. A plain model of a graded paper;
    /// the ends are common practice, no source.
    pub fn blue_only() -> Self {
        Self::of_paper(500.0)
    }

    /// Paper that sees blue and green, in daylight: 360 to 550 nm, D55. A plain model of a
    /// variable-contrast paper; the ends are common practice, no source.
    pub fn blue_green() -> Self {
        Self::of_paper(550.0)
    }

    /// Film that sees all colours: 400 to 650 nm, evenly. A plain model of panchromatic film; the ends and
    /// the even weight are our own, no source.
    pub fn panchromatic() -> Self {
        let nm = |nm| Wavelength::new(nm).unwrap_or_else(|_| unreachable!("well within the range"));
        Self::band(nm(400.0), nm(650.0), BandShape::Flat).unwrap_or_else(|_| unreachable!("a band"))
    }

    fn of_paper(to_nm: f64) -> Self {
        let nm = |nm| Wavelength::new(nm).unwrap_or_else(|_| unreachable!("well within the range"));
        Self::band(nm(360.0), nm(to_nm), BandShape::DaylightD55)
            .unwrap_or_else(|_| unreachable!("a band of daylight that is tabled"))
    }

    /// In words: "550 nm", or the band's ends, its shape and its mean.
    pub fn words(&self) -> String {
        if self.from_mm == self.to_mm {
            return format!("{} nm", plain(self.from_mm * 1e6));
        }
        let shape = match self.shape {
            BandShape::Flat => "even",
            BandShape::Triangular => "greatest in the middle",
            BandShape::DaylightD55 => "as CIE daylight D55 (CIE 15)",
        };
        format!(
            "{} to {} nm, {shape}, mean λ {} nm",
            plain(self.from_mm * 1e6),
            plain(self.to_mm * 1e6),
            figures(self.mean_mm * 1e6, 4)
        )
    }

    /// Weighted mean wavelength in mm.
    pub const fn mean_mm(&self) -> f64 {
        self.mean_mm
    }

    /// Shortest wavelength in mm.
    pub const fn shortest_mm(&self) -> f64 {
        self.from_mm
    }

    /// Width over mean.
    pub fn relative_width(&self) -> f64 {
        (self.to_mm - self.from_mm) / self.mean_mm
    }

    /// The weighted average of a function of the wavelength (in mm) that is zero beyond `cut_off`
    /// and turns through a phase over the band.
    pub fn average(&self, cut_off: f64, phase: f64, f: impl Fn(f64) -> f64) -> f64 {
        if self.from_mm == self.to_mm {
            return if self.from_mm < cut_off { f(self.from_mm) } else { 0.0 };
        }
        if cut_off >= self.to_mm && phase.abs() <= SMOOTH_PHASE {
            return self.smooth.iter().map(|(lambda, w)| w * f(*lambda)).sum();
        }
        self.pieces(cut_off).map(|(from, to)| self.over(from, to, phase, &f)).sum()
    }

    /// The part of an average that lies between two wavelengths (in mm), of a function that turns through
    /// a phase between them. A single wavelength has no part.
    pub fn average_from(&self, from: f64, to: f64, phase: f64, f: impl Fn(f64) -> f64) -> f64 {
        let (from, to) = (from.max(self.from_mm), to.min(self.to_mm));
        let pieces = self.pieces(to).filter(|(_, end)| *end > from).map(|(start, end)| (start.max(from), end));
        let part = |(start, end): (f64, f64)| {
            let phase = phase * (end - start) / (to - from);
            nodes(start, end, phase).map(|(lambda, w)| w * self.weight(lambda) * f(lambda)).sum::<f64>()
        };
        pieces.map(part).sum()
    }

    /// The average of the cosine and of the sine of `phase + per_mm λ` over the band up to a cut-off: the
    /// weight is straight on each piece, so each is a closed form, whatever the phase.
    pub fn average_turn(&self, cut_off: f64, phase: f64, per_mm: f64) -> (f64, f64) {
        let mut sum = (0.0, 0.0);
        for (from, to) in self.pieces(cut_off) {
            let (middle, half) = ((from + to) / 2.0, (to - from) / 2.0);
            let (left, right) = (self.weight(from), self.weight(to));
            let (mean, slope) = ((left + right) / 2.0, (right - left) / 2.0);
            let turn = per_mm * half;
            // ∫ cos(turn x) and ∫ x sin(turn x) over -1..1
            let (even, odd) = if turn.abs() < 0.05 {
                let t2 = turn * turn;
                (2.0 - t2 / 3.0 + t2 * t2 / 60.0, turn * (2.0 / 3.0 - t2 / 15.0 + t2 * t2 / 420.0))
            } else {
                let (s, c) = turn.sin_cos();
                (2.0 * s / turn, 2.0 * (s - turn * c) / (turn * turn))
            };
            let (s, c) = (phase + per_mm * middle).sin_cos();
            sum.0 += half * (mean * even * c - slope * odd * s);
            sum.1 += half * (mean * even * s + slope * odd * c);
        }
        sum
    }

    /// The integral over the band of what is smooth, with its weight.
    fn weighted(&self, f: &dyn Fn(f64) -> f64) -> f64 {
        self.pieces(self.to_mm).map(|(from, to)| self.over(from, to, FINE, f)).sum()
    }

    /// The part of an average that lies on a piece of the band.
    fn over(&self, from: f64, to: f64, phase: f64, f: &dyn Fn(f64) -> f64) -> f64 {
        let phase = phase * (to - from) / (self.to_mm - self.from_mm);
        nodes(from, to, phase).map(|(lambda, w)| w * self.weight(lambda) * f(lambda)).sum()
    }

    /// The weight at a wavelength, per mm.
    fn weight(&self, lambda: f64) -> f64 {
        let relative = match self.shape {
            BandShape::Flat => 1.0,
            BandShape::Triangular => {
                1.0 - (2.0 * lambda - self.from_mm - self.to_mm).abs() / (self.to_mm - self.from_mm)
            }
            BandShape::DaylightD55 => cie_daylight::d55(lambda * 1e6),
        };
        relative / self.whole
    }

    /// The band up to a cut-off in pieces on which the weight has no corner.
    fn pieces(&self, cut_off: f64) -> impl Iterator<Item = (f64, f64)> {
        let (from, to) = (self.from_mm, self.to_mm);
        let (first, step) = match self.shape {
            BandShape::Flat => (from, to - from),
            BandShape::Triangular => (from, (to - from) / 2.0),
            BandShape::DaylightD55 => {
                let step = cie_daylight::STEP_NM * 1e-6;
                ((from / step + 1e-9).floor() * step, step)
            }
        };
        let count = ((to - first) / step - 1e-9).ceil() as usize;
        let end = to.min(cut_off);
        (0..count)
            .map(move |i| ((first + step * i as f64).max(from), (first + step * (i + 1) as f64).min(end)))
            .take_while(|(from, to)| from < to)
    }

    /// Weights for Gauss-Legendre places that take the band's own weight into account: exact for
    /// polynomials below the number of places, from the weight's moments by Legendre polynomials.
    fn product_rule(&self) -> Rule<SMOOTH> {
        let (middle, half) = ((self.from_mm + self.to_mm) / 2.0, (self.to_mm - self.from_mm) / 2.0);
        let moments: [f64; SMOOTH] =
            std::array::from_fn(|k| self.weighted(&|lambda| legendre((lambda - middle) / half)[k]));
        LEGENDRE.map(|(x, w)| {
            let terms = legendre(x).into_iter().zip(moments).enumerate();
            let share: f64 = terms.map(|(k, (p, moment))| (k as f64 + 0.5) * p * moment).sum();
            (middle + half * x, w * share)
        })
    }
}

/// The first Legendre polynomials.
fn legendre(x: f64) -> [f64; SMOOTH] {
    let mut all = [1.0; SMOOTH];
    all[1] = x;
    for n in 2..SMOOTH {
        let k = n as f64;
        all[n] = ((2.0 * k - 1.0) * x * all[n - 1] - (k - 1.0) * all[n - 2]) / k;
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    fn nm(x: f64) -> Wavelength {
        Wavelength::new(x).unwrap()
    }

    const SHAPES: [BandShape; 3] = [BandShape::Flat, BandShape::Triangular, BandShape::DaylightD55];

    #[test]
    fn the_average_of_one_is_one_and_of_the_wavelength_the_mean() {
        for shape in SHAPES {
            let band = Spectrum::band(nm(400.0), nm(520.0), shape).unwrap();
            assert!((band.average(f64::INFINITY, 0.0, |_| 1.0) - 1.0).abs() < 1e-14);
            assert!((band.average(f64::INFINITY, 0.0, |l| l) - band.mean_mm()).abs() < 1e-17);
            if shape != BandShape::DaylightD55 {
                assert!((band.mean_mm() - 460e-6).abs() < 1e-17);
            }
        }
        assert_eq!(Spectrum::band(nm(500.0), nm(500.0), BandShape::Flat), Err(NotABand::Reversed));
        let red = Spectrum::band(nm(500.0), nm(790.0), BandShape::DaylightD55);
        assert_eq!(red.unwrap_err().to_string(), "a band of daylight must lie from 300 to 780 nm");
    }

    /// The trapezoid on the tabled values, exact for a weight that is linear between them.
    #[test]
    fn paper_in_daylight_has_the_mean_wavelength_of_the_table() {
        for (paper, to) in [(Spectrum::blue_only(), 500), (Spectrum::blue_green(), 550)] {
            let (mut weight, mut moment) = (0.0, 0.0);
            for start in (360..to).step_by(10) {
                let (a, b) = (f64::from(start), f64::from(start + 10));
                let (wa, wb) = (cie_daylight::d55(a), cie_daylight::d55(b));
                weight += 5.0 * (wa + wb);
                // ∫ (wa + (wb - wa) t/10)(a + t) dt from 0 to 10
                moment += 5.0 * (wa + wb) * a + 100.0 * (wa / 6.0 + wb / 3.0);
            }
            assert!((paper.mean_mm() * 1e6 - moment / weight).abs() < 1e-9, "{to}: {}", paper.mean_mm());
        }
    }

    #[test]
    fn both_ways_of_averaging_agree_as_far_as_the_phase_says() {
        for shape in SHAPES {
            let band = Spectrum::band(nm(360.0), nm(550.0), shape).unwrap();
            let f = |lambda: f64| (SMOOTH_PHASE * (lambda - 360e-6) / 190e-6).cos();
            let (smooth, pieces) = (band.average(1.0, SMOOTH_PHASE, f), band.average(1.0, SMOOTH_PHASE + 0.1, f));
            assert!((smooth - pieces).abs() < 1e-9, "{shape:?}: {smooth} {pieces}");
        }
    }

    #[test]
    fn a_turning_phase_is_averaged_in_closed_form() {
        for shape in SHAPES {
            let band = Spectrum::band(nm(363.0), nm(548.0), shape).unwrap();
            for (cut_off, turns) in [(1.0, 0.1), (1.0, 3.0), (1.0, 400.0), (500e-6, 90.0)] {
                let per_mm = turns / 185e-6;
                let got = band.average_turn(cut_off, 5.0, -per_mm);
                let followed = |f: fn(f64) -> f64| band.average(cut_off, 3.0 * turns + 30.0, |l| f(5.0 - per_mm * l));
                for (got, wanted) in [(got.0, followed(f64::cos)), (got.1, followed(f64::sin))] {
                    assert!((got - wanted).abs() < 1e-10, "{shape:?} {turns}: {got} {wanted}");
                }
            }
            let whole = band.average_from(0.0, 450e-6, 20.0, |_| 1.0) + band.average_from(450e-6, 1.0, 20.0, |_| 1.0);
            assert!((whole - 1.0).abs() < 1e-12, "{whole}");
        }
    }

    #[test]
    fn what_lies_beyond_a_cut_off_counts_as_nothing() {
        let band = Spectrum::band(nm(400.0), nm(520.0), BandShape::Flat).unwrap();
        assert!((band.average(430e-6, 0.0, |_| 1.0) - 0.25).abs() < 1e-14);
        assert_eq!(band.average(399e-6, 0.0, |_| 1.0), 0.0);
        let day = Spectrum::band(nm(400.0), nm(520.0), BandShape::DaylightD55).unwrap();
        let (below, above) = (day.average(455e-6, 0.0, |_| 1.0), day.average(f64::INFINITY, 0.0, |_| 1.0));
        assert!(below > 0.3 && below < 0.5 && above > 0.999, "{below}");
    }
}
