//! The figure as an image of given sharpness, by a two-dimensional Fourier transform.

use std::sync::LazyLock;

use rustfft::{Fft, FftPlanner, num_complex::Complex32};

use super::figure::{GROUND, HEIGHT_MM, WIDTH_MM, reflectance};
use crate::calc::optics::diffraction::Diffraction;

/// How finely the image is computed: up to ten line pairs per mm, more than paper shows of a hole.
pub const PIXELS_PER_MM: usize = 20;
/// Ground round the figure, so that the blur of one side does not come back at the other, pixels each
/// way.
const MARGIN: usize = 80;
const WIDTH: usize = WIDTH_MM as usize * PIXELS_PER_MM;
const HEIGHT: usize = HEIGHT_MM as usize * PIXELS_PER_MM;
const WIDE: usize = WIDTH + 2 * MARGIN;
const HIGH: usize = HEIGHT + 2 * MARGIN;

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
pub fn through(image: &Diffraction) -> Grey {
    let carried = Carried::of(image);
    let mut waves = FIGURE.clone();
    for (y, row) in waves.chunks_exact_mut(WIDE).enumerate() {
        let nu_y = frequency(y, HIGH);
        for (x, wave) in row.iter_mut().enumerate() {
            *wave *= carried.at(frequency(x, WIDE).hypot(nu_y));
        }
    }
    transform(&mut waves, Way::Back);
    let all = (WIDE * HIGH) as f32;
    let rows = waves.chunks_exact(WIDE).skip(MARGIN).take(HEIGHT);
    let values = rows.flat_map(|row| &row[MARGIN..MARGIN + WIDTH]).map(|wave| (wave.re / all).clamp(0.0, 1.0));
    Grey { width: WIDTH, height: HEIGHT, values: values.collect() }
}

/// The spectrum of the figure itself, the same for every camera.
static FIGURE: LazyLock<Vec<Complex32>> = LazyLock::new(|| {
    let mut waves = vec![Complex32::new(GROUND as f32, 0.0); WIDE * HIGH];
    for y in 0..HEIGHT {
        for x in 0..WIDTH {
            waves[(y + MARGIN) * WIDE + x + MARGIN].re = pixel(x, y);
        }
    }
    transform(&mut waves, Way::There);
    waves
});

/// Samples each way within a pixel, for what of it the ink covers.
const SAMPLES: usize = 4;

fn pixel(x: usize, y: usize) -> f32 {
    let place = |pixel: usize, i: usize| (pixel as f64 + (i as f64 + 0.5) / SAMPLES as f64) / PIXELS_PER_MM as f64;
    let all = (0..SAMPLES).flat_map(|i| (0..SAMPLES).map(move |j| reflectance(place(x, i), place(y, j))));
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

/// Rows, then columns, in place; not scaled.
fn transform(waves: &mut [Complex32], way: Way) {
    let mut planner = FftPlanner::new();
    let mut plan = |length| match way {
        Way::There => planner.plan_fft_forward(length),
        Way::Back => planner.plan_fft_inverse(length),
    };
    let (rows, columns): (std::sync::Arc<dyn Fft<f32>>, _) = (plan(WIDE), plan(HIGH));
    rows.process(waves);
    let mut column = vec![Complex32::default(); HIGH];
    let mut scratch = vec![Complex32::default(); columns.get_inplace_scratch_len()];
    for x in 0..WIDE {
        for (y, wave) in column.iter_mut().enumerate() {
            *wave = waves[y * WIDE + x];
        }
        columns.process_with_scratch(&mut column, &mut scratch);
        for (y, wave) in column.iter().enumerate() {
            waves[y * WIDE + x] = *wave;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calc::optics::diffraction::Spectrum;
    use crate::calc::optics::picture::BARS_MM;
    use crate::calc::quantity::{HoleDiameter, HoleToFilm, Wavelength};

    fn seen(hole: f64, v: f64) -> (Diffraction, Grey) {
        let light = Spectrum::single(Wavelength::new(550.0).unwrap());
        let (hole, v) = (HoleDiameter::new(hole).unwrap(), HoleToFilm::new(v).unwrap());
        let image = Diffraction::new(hole, v, None, light).unwrap();
        (image, through(&image))
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
        let (image, grey) = seen(0.2, 30.0);
        // at x = 9.2 mm, half way up, ink to ground
        let step = 1.0 / PIXELS_PER_MM as f64;
        let slope = (at(&grey, 9.2 + 0.5 * step, 13.5) - at(&grey, 9.2 - 0.5 * step, 13.5)) / step;
        let wanted = image.edge_sharpness_per_mm() * (GROUND - 0.04);
        assert!((slope / wanted - 1.0).abs() < 0.05, "{slope} {wanted}");
    }

    #[test]
    fn fine_bars_run_together_first() {
        let (image, grey) = seen(0.36, 75.0);
        let contrast = |left: f64, width: f64| {
            let gaps = at(&grey, left + 1.5 * width, 2.7) + at(&grey, left + 3.5 * width, 2.7);
            gaps / 2.0 - at(&grey, left + 2.5 * width, 2.7)
        };
        let mut left = 1.2;
        let mut before = 1.0;
        for width in BARS_MM {
            let now = contrast(left, width);
            assert!(now < before + 0.02, "{width}: {now} after {before}");
            before = now;
            left += 5.0 * width + 0.9;
        }
        // bars of an eighth of a millimetre: the square wave's first harmonic, 4/π, times what is carried over
        let wanted = 4.0 / std::f64::consts::PI * image.transfer(4.0) * (GROUND - 0.04);
        assert!((before - wanted).abs() < 0.04, "{before} {wanted}");
    }
}
