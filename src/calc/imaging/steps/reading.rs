//! Reading a step strip: its patches, the paper's exposure range by ISO 6846, and where its middle lies.

use crate::calc::imaging::curve::{AT_T, STOP};
use crate::calc::imaging::grid::{Raster, quantile};
use crate::calc::imaging::sheet::{Base, BaseFrom, Fault, Outline, base, faults, sheets, straight};
use crate::calc::imaging::transfer::density;
use crate::calc::quantity::StopsPerStep;

use super::fit::{CurveFit, fit};
use super::patches::{DarkEnd, Patch, Patches, patches};

/// Black is reached when the last two patches differ by no more than this for each stop between them …
const FLAT_PER_STOP: f64 = 0.25;
/// … and this.
const FLAT: f64 = 0.03;

/// One strip.
#[derive(Clone, Debug)]
pub struct StripReading {
    /// Where it lies, in pixels of the picture.
    pub outline: Outline,
    /// Density of the unexposed paper.
    pub base: Base,
    /// Net density of the darkest patch.
    pub max_density: f64,
    /// Light where none should have been.
    pub faults: Vec<Fault>,
    /// From least to most exposed.
    pub patches: Vec<Patch>,
    /// The end that was exposed most.
    pub dark_end: DarkEnd,
    /// The curve through the patches, when there is one.
    pub fit: Option<CurveFit>,
    /// Whether the strip reaches the paper's black: only then is there a range and a middle.
    pub reaches_black: bool,
    /// How many stops each step has more than the one before.
    pub stops_per_step: f64,
    /// Whether edges are seen where bands of the number given have none.
    pub misfit: bool,
}

impl StripReading {
    /// Log exposure range with its standard deviation, when black is reached.
    pub fn log_exposure_range(&self) -> Option<(f64, f64)> {
        self.known().map(CurveFit::log_exposure_range)
    }

    /// ISO range: a hundred times the log exposure range, to the nearest ten (ISO 6846).
    pub fn iso_range(&self) -> Option<f64> {
        self.log_exposure_range().map(|(range, _)| (range * 10.0).round() * 10.0)
    }

    /// The step, with its fraction, at the middle of the range, and its standard deviation.
    pub fn midpoint_step(&self) -> Option<(f64, f64)> {
        let per_step = self.stops_per_step * STOP;
        self.known().map(CurveFit::middle).map(|(middle, off)| (1.0 + middle / per_step, off / per_step))
    }

    fn known(&self) -> Option<&CurveFit> {
        self.fit.as_ref().filter(|_| self.reaches_black)
    }
}

/// What a scan of step strips shows.
#[derive(Clone, Debug)]
pub struct StripFound {
    /// Whole strips from left to right.
    pub strips: Vec<StripReading>,
    /// Whether the picture's edge cuts something large.
    pub cut: bool,
}

/// What a reading is told.
#[derive(Clone, Copy, Debug)]
pub struct StripTold {
    /// Pixels to the inch.
    pub dpi: Option<f64>,
    /// How many bands, 2 to 60.
    pub steps: usize,
    /// How many stops each has more than the one before.
    pub stops_per_step: StopsPerStep,
    /// Share of the surrounding light that the scanner adds.
    pub flare: f64,
    /// Reflectance of unexposed paper, for a strip on which nothing is light.
    pub base_reflectance: Option<f64>,
}

/// Finds and reads the step strips of a scan.
pub fn read(raster: &Raster, told: &StripTold) -> StripFound {
    let found = sheets(raster, told.dpi, told.flare);
    let strips = found.whole.iter().map(|outline| {
        let sheet = straight(&found, outline, told.dpi);
        let mut base = base(&sheet, told.base_reflectance);
        let absolute = sheet.grid.map(density);
        let over = |level: f64| absolute.map(|density| density - level as f32);
        let mut net = over(base.density);
        let read = |net: &_| patches(&sheet, net, told.steps, told.stops_per_step.as_stops());
        let Patches { mut patches, mut dark_end, mut misfit } = read(&net);
        if base.from == BaseFrom::LightestPart {
            // without a border the lightest patch is the base
            let lightest = patches.iter().map(|patch| patch.density).fold(f64::MAX, f64::min);
            base.density += lightest;
            net = over(base.density);
            Patches { patches, dark_end, misfit } = read(&net);
        }
        let fit = fit(&patches);
        let reaches_black = reaches_black(&patches, fit.as_ref(), told.stops_per_step.as_stops());
        let mut darkest: Vec<f32> = patches.iter().map(|patch| patch.density as f32).collect();
        StripReading {
            outline: *outline,
            base,
            max_density: f64::from(quantile(&mut darkest, 1.0)),
            faults: faults(&sheet, &net),
            patches,
            dark_end,
            fit,
            reaches_black,
            stops_per_step: told.stops_per_step.as_stops(),
            misfit,
        }
    });
    StripFound { strips: strips.collect(), cut: found.cut }
}

fn reaches_black(patches: &[Patch], fit: Option<&CurveFit>, stops_per_step: f64) -> bool {
    let (Some(fit), [.., before, last]) = (fit, patches) else { return false };
    last.density >= AT_T * fit.d_max && (last.density - before.density).abs() <= FLAT_PER_STOP * stops_per_step + FLAT
}
