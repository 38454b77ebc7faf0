//! Pictures as numbers: a whole scan as codes with a table, and working grids of reflectance or density.

/// The codes of a picture, row by row, as its file gave them.
#[derive(Clone, Debug, PartialEq)]
pub enum Codes {
    /// 0 to 255.
    Eight(Vec<u8>),
    /// 0 to 65535.
    Sixteen(Vec<u16>),
}

/// A whole scan, kept as codes: forty million of them are 40 or 80 MB, as numbers they would be 160.
#[derive(Clone, Debug)]
pub struct Raster {
    width: usize,
    height: usize,
    codes: Codes,
    table: Vec<f32>,
}

impl Raster {
    /// A scan of `width` by `height` codes; `table` gives what each code stands for, 0 to 1.
    /// `None` when the numbers do not belong together.
    pub fn new(width: usize, height: usize, codes: Codes, table: Vec<f32>) -> Option<Self> {
        let (held, needed) = match &codes {
            Codes::Eight(codes) => (codes.len(), 256),
            Codes::Sixteen(codes) => (codes.len(), 65536),
        };
        (width > 0 && height > 0 && width.checked_mul(height) == Some(held) && table.len() == needed).then_some(Self {
            width,
            height,
            codes,
            table,
        })
    }

    /// Pixels across.
    pub fn width(&self) -> usize {
        self.width
    }

    /// Pixels down.
    pub fn height(&self) -> usize {
        self.height
    }

    /// What each code stands for.
    pub fn table(&self) -> &[f32] {
        &self.table
    }

    /// The value of one pixel, which must lie in the picture.
    pub fn at(&self, x: usize, y: usize) -> f32 {
        self.table[self.code(x, y)]
    }

    fn code(&self, x: usize, y: usize) -> usize {
        match &self.codes {
            Codes::Eight(codes) => usize::from(codes[y * self.width + x]),
            Codes::Sixteen(codes) => usize::from(codes[y * self.width + x]),
        }
    }

    /// The values of `from..to` in a row, into `into`, which is emptied first.
    pub fn row(&self, y: usize, from: usize, to: usize, into: &mut Vec<f32>) {
        into.clear();
        let (start, end) = (y * self.width + from, y * self.width + to);
        match &self.codes {
            Codes::Eight(codes) => into.extend(codes[start..end].iter().map(|code| self.table[usize::from(*code)])),
            Codes::Sixteen(codes) => into.extend(codes[start..end].iter().map(|code| self.table[usize::from(*code)])),
        }
    }

    /// Whether any code of `from..to` in a row lies outside `least..=most`.
    pub fn leaves(&self, y: usize, from: usize, to: usize, least: u16, most: u16) -> bool {
        let (start, end) = (y * self.width + from, y * self.width + to);
        match &self.codes {
            // counted without a way out, so that the compiler takes many at once
            Codes::Eight(codes) => {
                let (least, most) = (least.min(255) as u8, most.min(255) as u8);
                codes[start..end]
                    .iter()
                    .fold(0, |outside, code| outside | u8::from(*code < least) | u8::from(*code > most))
                    != 0
            }
            Codes::Sixteen(codes) => {
                codes[start..end]
                    .iter()
                    .fold(0, |outside, code| outside | u16::from(*code < least) | u16::from(*code > most))
                    != 0
            }
        }
    }

    /// The codes whose values lie within `least..=most`; the table rises.
    pub fn codes_within(&self, least: f32, most: f32) -> (u16, u16) {
        let below = self.table.partition_point(|value| *value < least);
        let within = self.table.partition_point(|value| *value <= most);
        (below.min(65535) as u16, within.saturating_sub(1).min(65535) as u16)
    }

    /// A rectangle of it as values; cut off at the picture's edge.
    pub fn window(&self, x: usize, y: usize, width: usize, height: usize) -> Grid {
        let (to_x, to_y) = ((x + width).min(self.width), (y + height).min(self.height));
        let mut values = Vec::with_capacity((to_x - x) * (to_y - y));
        let mut row = Vec::new();
        for line in y..to_y {
            self.row(line, x, to_x, &mut row);
            values.extend_from_slice(&row);
        }
        Grid { width: to_x - x, height: to_y - y, values }
    }

    /// Means of blocks of `by` by `by` pixels; what is left over at the right and at the bottom is not looked at.
    pub fn reduced(&self, by: usize) -> Grid {
        let by = by.clamp(1, self.width.min(self.height));
        let (width, height) = (self.width / by, self.height / by);
        let mut values = Vec::with_capacity(width * height);
        let share = 1.0 / (by * by) as f32;
        let mut sums = vec![0.0f32; width];
        for y in 0..height {
            sums.fill(0.0);
            for line in y * by..(y + 1) * by {
                let (start, end) = (line * self.width, line * self.width + width * by);
                match &self.codes {
                    Codes::Eight(codes) => add_blocks(&codes[start..end], by, &self.table, &mut sums),
                    Codes::Sixteen(codes) => add_blocks(&codes[start..end], by, &self.table, &mut sums),
                }
            }
            values.extend(sums.iter().map(|sum| sum * share));
        }
        Grid { width, height, values }
    }
}

fn add_blocks<C: Copy + Into<usize>>(codes: &[C], by: usize, table: &[f32], sums: &mut [f32]) {
    for (sum, block) in sums.iter_mut().zip(codes.chunks_exact(by)) {
        *sum += block.iter().map(|code| table[(*code).into()]).sum::<f32>();
    }
}

/// A working grid of numbers, row by row. Pixel (0, 0) has its centre at 0, 0; x goes right, y down.
#[derive(Clone, Debug, PartialEq)]
pub struct Grid {
    /// Numbers across.
    pub width: usize,
    /// Numbers down.
    pub height: usize,
    /// Row by row from the top left.
    pub values: Vec<f32>,
}

impl Grid {
    /// A grid of one number everywhere.
    pub fn filled(width: usize, height: usize, value: f32) -> Self {
        Self { width, height, values: vec![value; width * height] }
    }

    /// The number at a place, which must lie in the grid.
    pub fn at(&self, x: usize, y: usize) -> f32 {
        self.values[y * self.width + x]
    }

    /// A row.
    pub fn row(&self, y: usize) -> &[f32] {
        &self.values[y * self.width..(y + 1) * self.width]
    }

    /// Between the pixels, by the four nearest; outside, as the nearest edge.
    pub fn between(&self, x: f64, y: f64) -> f32 {
        let x = x.clamp(0.0, (self.width - 1) as f64);
        let y = y.clamp(0.0, (self.height - 1) as f64);
        let (left, top) =
            ((x as usize).min(self.width.saturating_sub(2)), (y as usize).min(self.height.saturating_sub(2)));
        let (right, bottom) = ((left + 1).min(self.width - 1), (top + 1).min(self.height - 1));
        let (fx, fy) = ((x - left as f64) as f32, (y - top as f64) as f32);
        let above = self.at(left, top) * (1.0 - fx) + self.at(right, top) * fx;
        let below = self.at(left, bottom) * (1.0 - fx) + self.at(right, bottom) * fx;
        above * (1.0 - fy) + below * fy
    }

    /// Whether a place lies in the grid.
    pub fn holds(&self, x: f64, y: f64) -> bool {
        x >= 0.0 && y >= 0.0 && x <= (self.width - 1) as f64 && y <= (self.height - 1) as f64
    }

    /// The same grid with every number changed.
    pub fn map(&self, change: impl Fn(f32) -> f32) -> Self {
        Self {
            width: self.width,
            height: self.height,
            values: self.values.iter().map(|value| change(*value)).collect(),
        }
    }

    /// The median of each number and its eight neighbours; the outermost numbers stay as they are.
    pub fn median_of_nine(&self) -> Self {
        let mut out = self.clone();
        for y in 1..self.height.saturating_sub(1) {
            let (above, here, below) = (self.row(y - 1), self.row(y), self.row(y + 1));
            let line = &mut out.values[y * self.width..(y + 1) * self.width];
            for x in 1..self.width.saturating_sub(1) {
                line[x] = middle_of_nine([
                    above[x - 1],
                    above[x],
                    above[x + 1],
                    here[x - 1],
                    here[x],
                    here[x + 1],
                    below[x - 1],
                    below[x],
                    below[x + 1],
                ]);
            }
        }
        out
    }
}

/// The middle of nine numbers by a fixed net of exchanges (the smallest one known, from memory).
fn middle_of_nine(mut p: [f32; 9]) -> f32 {
    let mut order = |a: usize, b: usize| {
        let (low, high) = (p[a].min(p[b]), p[a].max(p[b]));
        p[a] = low;
        p[b] = high;
    };
    for (a, b) in [
        (1, 2),
        (4, 5),
        (7, 8),
        (0, 1),
        (3, 4),
        (6, 7),
        (1, 2),
        (4, 5),
        (7, 8),
        (0, 3),
        (5, 8),
        (4, 7),
        (3, 6),
        (1, 4),
        (2, 5),
        (4, 7),
        (4, 2),
        (6, 4),
        (4, 2),
    ] {
        order(a, b);
    }
    p[4]
}

/// The number below which a share of the numbers lies; changes their order. NaN for none at all.
pub fn quantile(numbers: &mut [f32], share: f64) -> f32 {
    if numbers.is_empty() {
        return f32::NAN;
    }
    let rank = ((numbers.len() - 1) as f64 * share.clamp(0.0, 1.0)).round() as usize;
    *numbers.select_nth_unstable_by(rank, f32::total_cmp).1
}

/// The middle number; changes their order.
pub fn median(numbers: &mut [f32]) -> f32 {
    quantile(numbers, 0.5)
}

/// How far the numbers scatter, as a standard deviation: 1.4826 times the median distance from the
/// median, which a few strays do not move. Changes their order.
pub fn scatter(numbers: &mut [f32]) -> f32 {
    let middle = median(numbers);
    let mut away: Vec<f32> = numbers.iter().map(|number| (number - middle).abs()).collect();
    1.4826 * median(&mut away)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calc::imaging::transfer::Transfer;

    #[test]
    fn a_net_of_exchanges_finds_the_middle() {
        let mut state = 7u32;
        for _ in 0..2000 {
            let nine: [f32; 9] = std::array::from_fn(|_| {
                state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                (state >> 28) as f32
            });
            let mut sorted = nine;
            sorted.sort_by(f32::total_cmp);
            assert_eq!(middle_of_nine(nine), sorted[4], "{nine:?}");
        }
    }

    #[test]
    fn blocks_are_means() {
        let raster = Raster::new(5, 4, Codes::Eight((0..20).collect()), Transfer::Linear.table(255)).unwrap();
        let grid = raster.reduced(2);
        assert_eq!((grid.width, grid.height), (2, 2));
        assert!((grid.at(0, 0) - 3.0 / 255.0).abs() < 1e-6);
        assert!((grid.at(1, 1) - 15.0 / 255.0).abs() < 1e-6);
    }

    #[test]
    fn a_raster_whose_numbers_do_not_belong_together_is_none() {
        assert!(Raster::new(2, 2, Codes::Eight(vec![0; 3]), Transfer::Linear.table(255)).is_none());
        assert!(Raster::new(2, 2, Codes::Eight(vec![0; 4]), Transfer::Linear.table(65535)).is_none());
        assert!(Raster::new(0, 2, Codes::Eight(vec![]), Transfer::Linear.table(255)).is_none());
    }

    #[test]
    fn between_the_pixels_is_a_mean_and_outside_the_edge() {
        let grid = Grid { width: 2, height: 2, values: vec![0.0, 1.0, 2.0, 3.0] };
        assert_eq!(grid.between(0.5, 0.5), 1.5);
        assert_eq!(grid.between(-3.0, 9.0), 2.0);
        assert_eq!(Grid::filled(1, 1, 4.0).between(0.3, 0.3), 4.0);
    }

    #[test]
    fn a_run_of_codes_leaves_its_bounds_or_not() {
        let raster = Raster::new(4, 1, Codes::Eight(vec![10, 12, 200, 11]), Transfer::Linear.table(255)).unwrap();
        let (least, most) = raster.codes_within(9.5 / 255.0, 12.5 / 255.0);
        assert_eq!((least, most), (10, 12));
        assert!(!raster.leaves(0, 0, 2, least, most));
        assert!(raster.leaves(0, 0, 4, least, most));
    }
}
