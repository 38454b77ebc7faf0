//! Drawn pictures for the laws that must hold: holes and sheets whose truth is known. Not part of the program.

use super::grid::{Codes, Grid, Raster};
use super::transfer::Transfer;

/// Numbers that look like chance and are the same every time.
pub struct Chance(u64);

impl Chance {
    pub fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(2).wrapping_add(1))
    }

    /// From 0 to 1.
    pub fn number(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Close to a Gaussian of deviation one: a sum of twelve.
    pub fn noise(&mut self) -> f64 {
        (0..12).map(|_| self.number()).sum::<f64>() - 6.0
    }
}

/// An elliptic hole.
#[derive(Clone, Copy, Debug)]
pub struct Ellipse {
    pub centre: [f64; 2],
    /// Half axes, the longer first.
    pub half: [f64; 2],
    /// Direction of the longer axis, from +x towards +y.
    pub angle_deg: f64,
}

impl Ellipse {
    fn holds(&self, x: f64, y: f64) -> bool {
        let (sin, cos) = self.angle_deg.to_radians().sin_cos();
        let (dx, dy) = (x - self.centre[0], y - self.centre[1]);
        ((dx * cos + dy * sin) / self.half[0]).powi(2) + ((dy * cos - dx * sin) / self.half[1]).powi(2) <= 1.0
    }
}

/// Light from 0 to 1: a hole of level `hole` in a plate of level `plate`, blurred and noisy.
pub fn hole(size: [usize; 2], ellipse: &Ellipse, [plate, hole]: [f64; 2], blur: f64, noise: f64, seed: u64) -> Grid {
    const FINE: usize = 6;
    let mut shares = Grid::filled(size[0], size[1], 0.0);
    for y in 0..size[1] {
        for x in 0..size[0] {
            let inside = (0..FINE * FINE).filter(|at| {
                let sub = |part: usize| (part as f64 + 0.5) / FINE as f64 - 0.5;
                ellipse.holds(x as f64 + sub(at % FINE), y as f64 + sub(at / FINE))
            });
            shares.values[y * size[0] + x] = inside.count() as f32 / (FINE * FINE) as f32;
        }
    }
    let mut chance = Chance::new(seed);
    super::hole::smoothed(&shares, blur)
        .map_with(|share| (plate + (hole - plate) * f64::from(share) + noise * chance.noise()).clamp(0.0, 1.0) as f32)
}

impl Grid {
    /// [`Grid::map`] for something that remembers.
    pub fn map_with(&self, mut change: impl FnMut(f32) -> f32) -> Self {
        Self {
            width: self.width,
            height: self.height,
            values: self.values.iter().map(|value| change(*value)).collect(),
        }
    }
}

/// Light as 16-bit codes, linear.
pub fn raster(light: &Grid) -> Raster {
    let codes = light.values.iter().map(|value| (value.clamp(0.0, 1.0) * 65535.0).round() as u16).collect();
    Raster::new(light.width, light.height, Codes::Sixteen(codes), Transfer::Linear.table(65535)).expect("a raster")
}
