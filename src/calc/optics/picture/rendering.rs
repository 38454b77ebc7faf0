//! The figure as an image of given sharpness, by a two-dimensional Fourier transform.

use std::sync::{Arc, Mutex, PoisonError};

use rustfft::{Fft, FftPlanner, num_complex::Complex32};

use super::figure::{GROUND, TestFigure};
use crate::calc::optics::diffraction::Diffraction;

/// How finely the image is computed: up to eight line pairs per mm, more than the eye tells apart on a
/// print and the double of the finest bars.
pub const PIXELS_PER_MM: usize = 16;
/// Ground round the figure, so that the blur of one side does not come back at the other, pixels each
/// way at least.
const MARGIN: usize = 64;

/// An image in shares of white light, by rows from the top.
#[derive(Clone, Debug, PartialEq)]
pub struct Grey {
    /// Pixels across.
    pub width: usize,
    /// Pixels down.
    pub height: usize,
    /// Reflectance from 0 to 1, linear.
    pub values: Vec<f32>,
}

/// The figure as it is on the film of a camera: each frequency multiplied by the transfer function.
pub fn through(image: &Diffraction, figure: TestFigure) -> Grey {
    let carried = Carried::of(image);
    let spectrum = Spectrum::of(figure);
    let Canvas { width, height, wide, high } = spectrum.canvas;
    let mut waves = spectrum.waves.clone();
    for (y, row) in waves.chunks_exact_mut(wide).enumerate() {
        let nu_y = frequency(y, high);
        for (x, wave) in row.iter_mut().enumerate() {
            *wave *= carried.at(frequency(x, wide).hypot(nu_y));
        }
    }
    spectrum.canvas.transform(&mut waves, Way::Back);
    let all = (wide * high) as f32;
    let rows = waves.chunks_exact(wide).skip(MARGIN).take(height);
    let values = rows.flat_map(|row| &row[MARGIN..MARGIN + width]).map(|wave| (wave.re / all).clamp(0.0, 1.0));
    Grey { width, height, values: values.collect() }
}

/// How many pixels the figure has, and the canvas round it.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Canvas {
    width: usize,
    height: usize,
    wide: usize,
    high: usize,
}

impl Canvas {
    fn of(figure: TestFigure) -> Self {
        let pixels = |mm: f64| ((mm * PIXELS_PER_MM as f64).round() as usize).max(1);
        let (width, height) = (pixels(figure.width_mm()), pixels(figure.height_mm()));
        // multiples of 32 are transformed fast
        let with_margin = |pixels: usize| (pixels + 2 * MARGIN).next_multiple_of(32);
        Self { width, height, wide: with_margin(width), high: with_margin(height) }
    }
}

/// The spectrum of the figure itself, the same for every camera with such a print.
struct Spectrum {
    figure: TestFigure,
    canvas: Canvas,
    waves: Vec<Complex32>,
}

/// The one made last: a class's cameras are mostly of a size.
static LAST: Mutex<Option<Arc<Spectrum>>> = Mutex::new(None);

impl Spectrum {
    fn of(figure: TestFigure) -> Arc<Self> {
        let last = || LAST.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(spectrum) = last().as_ref().filter(|spectrum| spectrum.figure == figure) {
            return Arc::clone(spectrum);
        }
        let made = Arc::new(Self::made(figure));
        *last() = Some(Arc::clone(&made));
        made
    }

    fn made(figure: TestFigure) -> Self {
        let canvas = Canvas::of(figure);
        let mut waves = vec![Complex32::new(GROUND as f32, 0.0); canvas.wide * canvas.high];
        for y in 0..canvas.height {
            for x in 0..canvas.width {
                waves[(y + MARGIN) * canvas.wide + x + MARGIN].re = pixel(figure, x, y);
            }
        }
        canvas.transform(&mut waves, Way::There);
        Self { figure, canvas, waves }
    }
}

/// Samples each way within a pixel, for what of it the ink covers.
const SAMPLES: usize = 4;

fn pixel(figure: TestFigure, x: usize, y: usize) -> f32 {
    let at = |x: f64, y: f64| figure.reflectance(x / PIXELS_PER_MM as f64, y / PIXELS_PER_MM as f64);
    let (left, top) = (x as f64, y as f64);
    let inside = |i: usize| (i as f64 + 0.5) / SAMPLES as f64;
    let corners = [(0.0, 0.0), (1.0, 0.0), (0.0, 1.0), (1.0, 1.0), (0.5, 0.5)];
    let first = at(left, top);
    // nothing of the figure is thinner than a pixel's diagonal but the finest lines of a very small one
    if figure.width_mm() > 20.0 && corners.iter().all(|(i, j)| at(left + i, top + j) == first) {
        return first as f32;
    }
    let all = (0..SAMPLES).flat_map(|i| (0..SAMPLES).map(move |j| at(left + inside(i), top + inside(j))));
    (all.sum::<f64>() / (SAMPLES * SAMPLES) as f64) as f32
}

/// Frequency of a row or column of the transform, per mm.
fn frequency(place: usize, of: usize) -> f64 {
    let signed = if place <= of / 2 { place as f64 } else { place as f64 - of as f64 };
    signed / of as f64 * PIXELS_PER_MM as f64
}

/// The transfer function at every frequency there is, from a fine row of its values.
struct Carried {
    step: f64,
    values: Vec<f32>,
}

/// Values in the row; straight lines between them are right to a thousandth.
const ROW: usize = 900;
/// Beyond so many cycles over the hole's own shadow less than a part in a thousand is carried over.
const NOTHING_LEFT: f64 = 60.0;

impl Carried {
    fn of(image: &Diffraction) -> Self {
        let finest = PIXELS_PER_MM as f64 * std::f64::consts::FRAC_1_SQRT_2;
        let end = finest.min(image.cut_off_per_mm()).min(NOTHING_LEFT / image.shadow_mm());
        let step = end / ROW as f64;
        Self { step, values: (0..=ROW).map(|i| image.transfer(step * i as f64) as f32).collect() }
    }

    fn at(&self, frequency: f64) -> f32 {
        let place = frequency / self.step;
        let before = place as usize;
        match self.values.get(before..before + 2) {
            Some(pair) => pair[0] + (pair[1] - pair[0]) * (place - before as f64) as f32,
            None => 0.0,
        }
    }
}

#[derive(Clone, Copy)]
enum Way {
    There,
    Back,
}

impl Canvas {
    /// Rows, then columns, in place; not scaled.
    fn transform(self, waves: &mut [Complex32], way: Way) {
        let mut planner = FftPlanner::new();
        let mut plan = |length| match way {
            Way::There => planner.plan_fft_forward(length),
            Way::Back => planner.plan_fft_inverse(length),
        };
        let (rows, columns): (Arc<dyn Fft<f32>>, _) = (plan(self.wide), plan(self.high));
        rows.process(waves);
        let mut column = vec![Complex32::default(); self.high];
        let mut scratch = vec![Complex32::default(); columns.get_inplace_scratch_len()];
        for x in 0..self.wide {
            for (y, wave) in column.iter_mut().enumerate() {
                *wave = waves[y * self.wide + x];
            }
            columns.process_with_scratch(&mut column, &mut scratch);
            for (y, wave) in column.iter().enumerate() {
                waves[y * self.wide + x] = *wave;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calc::optics::diffraction::Spectrum as Light;
    use crate::calc::optics::picture::figure::INK;
    use crate::calc::quantity::{FilmSide, HoleDiameter, HoleToFilm, Wavelength};

    /// As it was drawn: a unit is a millimetre.
    fn figure() -> TestFigure {
        TestFigure::on(FilmSide::new(24.0).unwrap(), FilmSide::new(16.0).unwrap())
    }

    fn seen(hole: f64, v: f64) -> (Diffraction, Grey) {
        let light = Light::single(Wavelength::new(550.0).unwrap());
        let (hole, v) = (HoleDiameter::new(hole).unwrap(), HoleToFilm::new(v).unwrap());
        let image = Diffraction::new(hole, v, None, light).unwrap();
        (image, through(&image, figure()))
    }

    fn at(grey: &Grey, x_mm: f64, y_mm: f64) -> f64 {
        let place = |mm: f64| (mm * PIXELS_PER_MM as f64) as usize;
        f64::from(grey.values[place(y_mm) * grey.width + place(x_mm)])
    }

    /// Light is only moved about: the figure in its ground keeps its mean.
    #[test]
    fn no_light_is_lost_or_made() {
        let mean = |grey: &Grey| grey.values.iter().sum::<f32>() / grey.values.len() as f32;
        let (sharp, soft) = (seen(0.2, 20.0).1, seen(0.6, 40.0).1);
        assert!((mean(&sharp) - mean(&soft)).abs() < 0.005, "{} {}", mean(&sharp), mean(&soft));
    }

    /// The house's right wall is as steep as the theory of the edge says.
    #[test]
    fn an_edge_in_the_picture_has_the_slope_of_the_theory() {
        // 30 mm wide, the house's right wall stands between two pixels: at 9.2 units of 1.25 mm
        let (image, _) = seen(0.5, 180.0);
        let grey = through(&image, TestFigure::on(FilmSide::new(30.0).unwrap(), FilmSide::new(20.0).unwrap()));
        let step = 1.0 / PIXELS_PER_MM as f64;
        let slope = (at(&grey, 11.5 + 0.5 * step, 16.9) - at(&grey, 11.5 - 0.5 * step, 16.9)) / step;
        let wanted = image.edge_sharpness_per_mm() * (GROUND - INK);
        assert!((slope / wanted - 1.0).abs() < 0.05, "{slope} {wanted}");
    }

    #[test]
    fn fine_bars_run_together_first() {
        let (image, grey) = seen(0.36, 75.0);
        let contrast = |left: f64, width: f64| {
            let gaps = at(&grey, left + 1.5 * width, 2.7) + at(&grey, left + 3.5 * width, 2.7);
            gaps / 2.0 - at(&grey, left + 2.5 * width, 2.7)
        };
        let mut before = 1.0;
        for width in figure().bars_mm() {
            let now = contrast(figure().bars_at_mm(*width), *width);
            assert!(now < before + 0.02, "{width}: {now} after {before}");
            before = now;
        }
        // bars of an eighth of a millimetre: the square wave's first harmonic, 4/π, times what is carried over
        let wanted = 4.0 / std::f64::consts::PI * image.transfer(4.0) * (GROUND - INK);
        assert!((before - wanted).abs() < 0.04, "{before} {wanted}");
    }
    #[test]
    fn a_picture_is_as_large_as_its_print_says() {
        let (image, _) = seen(0.36, 75.0);
        let body_cap = TestFigure::on(FilmSide::new(36.0).unwrap(), FilmSide::new(24.0).unwrap());
        for (figure, width, height) in [(figure(), 384, 256), (body_cap, 576, 384)] {
            let grey = through(&image, figure);
            assert_eq!((grey.width, grey.height, grey.values.len()), (width, height, width * height));
        }
        let speck = TestFigure::on(FilmSide::new(1.0).unwrap(), FilmSide::new(1.0).unwrap());
        assert!(through(&image, speck).values.iter().all(|value| (0.0..=1.0).contains(value)));
    }
}
