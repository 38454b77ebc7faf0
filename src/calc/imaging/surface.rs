//! A smooth level under a picture: a plane or a bowl that strays do not pull.

/// Level as a polynomial of second degree in places scaled to about -1 to 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Surface {
    terms: [f64; 6],
    middle: [f64; 2],
    reach: f64,
}

/// How many terms a surface may have.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Degree {
    /// One level everywhere.
    Level = 1,
    /// A tilted plane.
    Plane = 3,
    /// A bowl.
    Bowl = 6,
}

impl Surface {
    /// The same level everywhere.
    pub fn level(value: f64) -> Self {
        Self { terms: [value, 0.0, 0.0, 0.0, 0.0, 0.0], middle: [0.0; 2], reach: 1.0 }
    }

    /// The level at a place.
    pub fn at(&self, x: f64, y: f64) -> f64 {
        let terms = basis((x - self.middle[0]) / self.reach, (y - self.middle[1]) / self.reach);
        self.terms.iter().zip(terms).map(|(factor, term)| factor * term).sum()
    }

    /// Fits places and levels. Those further from `start` than `keep` times their scatter weigh nothing, then those
    /// far from the fit itself (Tukey's weights, six rounds). `least` is the scatter that is always allowed.
    /// Falls back to fewer terms where there are too few places.
    pub fn steady(samples: &[[f64; 3]], degree: Degree, start: &Self, least: f64) -> Self {
        let terms = match samples.len() {
            0..=5 => 1,
            6..=23 => (degree as usize).min(3),
            _ => degree as usize,
        };
        let end = |axis: usize, start: f64, further: fn(f64, f64) -> f64| {
            samples.iter().map(|sample| sample[axis]).fold(start, further)
        };
        let low = [0, 1].map(|axis| end(axis, f64::MAX, f64::min));
        let high = [0, 1].map(|axis| end(axis, f64::MIN, f64::max));
        if samples.is_empty() {
            return *start;
        }
        let middle = [(low[0] + high[0]) / 2.0, (low[1] + high[1]) / 2.0];
        let reach = ((high[0] - low[0]).max(high[1] - low[1]) / 2.0).max(1.0);
        let mut fit = *start;
        for _ in 0..6 {
            let mut away: Vec<f64> = samples.iter().map(|[x, y, level]| (level - fit.at(*x, *y)).abs()).collect();
            let half = away.len() / 2;
            let (_, typical, _) = away.select_nth_unstable_by(half, f64::total_cmp);
            let wide = 4.685 * (1.4826 * *typical).max(least);
            let mut sums = [[0.0; 7]; 6];
            for [x, y, level] in samples {
                let weight = (1.0 - ((level - fit.at(*x, *y)) / wide).powi(2)).max(0.0).powi(2);
                let row = basis((x - middle[0]) / reach, (y - middle[1]) / reach);
                for (i, sum) in sums.iter_mut().enumerate().take(terms) {
                    for (j, cell) in sum.iter_mut().enumerate().take(terms) {
                        *cell += weight * row[i] * row[j];
                    }
                    sum[6] += weight * row[i] * level;
                }
            }
            let Some(solved) = solve(&mut sums, terms) else { return fit };
            fit = Self { terms: solved, middle, reach };
        }
        fit
    }
}

fn basis(x: f64, y: f64) -> [f64; 6] {
    [1.0, x, y, x * x, x * y, y * y]
}

/// Gauss elimination of the first `terms` rows; the right-hand sides stand in the last column.
fn solve(rows: &mut [[f64; 7]; 6], terms: usize) -> Option<[f64; 6]> {
    for column in 0..terms {
        let pivot = (column..terms).max_by(|a, b| rows[*a][column].abs().total_cmp(&rows[*b][column].abs()))?;
        rows.swap(column, pivot);
        if rows[column][column].abs() < 1e-9 {
            return None;
        }
        for below in column + 1..terms {
            let by = rows[below][column] / rows[column][column];
            let pivot = rows[column];
            for (cell, above) in rows[below].iter_mut().zip(pivot).skip(column) {
                *cell -= by * above;
            }
        }
    }
    let mut solved = [0.0; 6];
    for row in (0..terms).rev() {
        let known: f64 = (row + 1..terms).map(|column| rows[row][column] * solved[column]).sum();
        solved[row] = (rows[row][6] - known) / rows[row][row];
    }
    Some(solved)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bowl_is_found_under_strays() {
        let level = |x: f64, y: f64| 0.2 + 0.001 * x - 0.0005 * y + 0.000_01 * x * y;
        let mut samples = Vec::new();
        for y in 0..20 {
            for x in 0..20 {
                let (x, y) = (f64::from(x) * 5.0, f64::from(y) * 5.0);
                let stray = if (x - 50.0).hypot(y - 40.0) < 25.0 { 0.7 } else { 0.0 };
                samples.push([x, y, level(x, y) + stray]);
            }
        }
        let fit = Surface::steady(&samples, Degree::Bowl, &Surface::level(0.2), 0.01);
        for [x, y] in [[0.0, 0.0], [50.0, 40.0], [95.0, 95.0]] {
            assert!((fit.at(x, y) - level(x, y)).abs() < 1e-6, "{x} {y}: {}", fit.at(x, y));
        }
    }

    #[test]
    fn few_places_give_a_level() {
        let fit = Surface::steady(&[[0.0, 0.0, 1.0], [3.0, 0.0, 1.2]], Degree::Bowl, &Surface::level(1.1), 0.5);
        assert!((fit.at(100.0, 0.0) - 1.1).abs() < 1e-9);
    }
}
