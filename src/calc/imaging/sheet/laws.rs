//! What must hold of every sheet, drawn at random.

use proptest::prelude::*;

use super::{ExposureError, Fault, Known, SheetReading, Told, read};
use crate::calc::imaging::curve::PaperCurve;
use crate::calc::imaging::drawn::{Chance, raster};
use crate::calc::imaging::geometry::Point;
use crate::calc::imaging::grid::Grid;

const DPI: f64 = 100.0;
const SIZE: [usize; 2] = [400, 340];
/// Half of the sheet's width and height, and its border, in pixels.
const HALF: [f64; 2] = [150.0, 120.0];
const BORDER: f64 = 16.0;
const BASE: f64 = 0.85;

#[derive(Clone, Debug)]
struct Drawn {
    centre: Point,
    turned_deg: f64,
    lid: f64,
    /// Exposure of the middle of the picture, in stops from right.
    exposure: f64,
    leak: bool,
    seed: u64,
}

prop_compose! {
    fn drawn()(
        x in 185.0..215.0f64, y in 160.0..180.0f64, turned_deg in -5.0..5.0f64, white in any::<bool>(), exposure in -1.2..1.2f64, seed in any::<u64>(),
    ) -> Drawn {
        Drawn { centre: [x, y], turned_deg, lid: if white { 0.93 } else { 0.035 }, exposure, leak: false, seed }
    }
}

impl Drawn {
    fn corners(&self) -> [Point; 4] {
        let (sin, cos) = self.turned_deg.to_radians().sin_cos();
        [[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]].map(|[i, j]: [f64; 2]| {
            let (u, v) = (i * HALF[0], j * HALF[1]);
            [self.centre[0] + u * cos - v * sin, self.centre[1] + u * sin + v * cos]
        })
    }

    /// A picture whose exposure rises evenly from left to right, two stops either way: its median is its middle.
    fn light(&self) -> Grid {
        let (sin, cos) = self.turned_deg.to_radians().sin_cos();
        let curve = PaperCurve::default();
        let mut chance = Chance::new(self.seed);
        let mut light = Grid::filled(SIZE[0], SIZE[1], 0.0);
        for y in 0..SIZE[1] {
            for x in 0..SIZE[0] {
                let mut sum = 0.0;
                // each pixel is the mean of nine places, as a scanner's is
                for sub in 0..9 {
                    let at = |part: usize| part as f64 / 3.0 - 1.0 / 3.0;
                    let (dx, dy) = (x as f64 + at(sub % 3) - self.centre[0], y as f64 + at(sub / 3) - self.centre[1]);
                    let (u, v) = (dx * cos + dy * sin, dy * cos - dx * sin);
                    let picture = u.abs() < HALF[0] - BORDER && v.abs() < HALF[1] - BORDER;
                    let leak = self.leak && v.abs() < 6.0 && u < -60.0;
                    sum += if u.abs() >= HALF[0] || v.abs() >= HALF[1] {
                        self.lid
                    } else if leak {
                        BASE * 10f64.powf(-1.6)
                    } else if picture {
                        BASE * 10f64.powf(-curve.density(2.0 * u / (HALF[0] - BORDER) + self.exposure))
                    } else {
                        BASE
                    };
                }
                light.values[y * SIZE[0] + x] = (sum / 9.0 * (1.0 + 0.004 * chance.noise())).clamp(0.0, 1.0) as f32;
            }
        }
        light
    }

    fn read(&self) -> SheetReading {
        let told = Told {
            dpi: Some(DPI),
            curve: PaperCurve::default(),
            known: Known::Given,
            flare: 0.0,
            base_reflectance: None,
        };
        let found = read(&raster(&self.light()), &told);
        assert_eq!((found.sheets.len(), found.cut), (1, false), "{:?}", found.sheets.len());
        found.sheets.into_iter().next().expect("a sheet")
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(10))]

    #[test]
    fn a_drawn_sheet_is_found_and_its_exposure_led_back(drawn in drawn()) {
        let read = drawn.read();
        for (found, drawn) in read.outline.corners.iter().zip(drawn.corners()) {
            prop_assert!((found[0] - drawn[0]).hypot(found[1] - drawn[1]) < 1.0, "{found:?} {drawn:?}");
        }
        let size = read.size_mm.unwrap();
        prop_assert!((size[0] - 300.0 * 0.254).abs() < 0.3 && (size[1] - 240.0 * 0.254).abs() < 0.3, "{size:?}");
        prop_assert!((read.base.density + BASE.log10()).abs() < 0.005, "{:?}", read.base);
        match read.exposure {
            ExposureError::Value { stops, uncertainty } => {
                prop_assert!((stops - drawn.exposure).abs() < 0.12, "{stops} {}", drawn.exposure);
                prop_assert!((stops - drawn.exposure).abs() < 3.0 * uncertainty);
            }
            bound => prop_assert!(false, "{bound:?}"),
        }
        prop_assert!(read.faults.is_empty(), "{:?}", read.faults);
        // the print is the mirror image: what was exposed most is at the right of the scan, so light at the left of the print
        let row = read.positive_grid[4];
        prop_assert!(row[0] > row[7] + 0.3, "{row:?}");
    }

    #[test]
    fn a_leak_is_named_and_does_not_open_the_sheet(drawn in drawn()) {
        let read = Drawn { leak: true, ..drawn.clone() }.read();
        prop_assert_eq!(&read.faults, &vec![Fault::Leak]);
        for (found, drawn) in read.outline.corners.iter().zip(drawn.corners()) {
            prop_assert!((found[0] - drawn[0]).hypot(found[1] - drawn[1]) < 1.5, "{found:?} {drawn:?}");
        }
    }
}
