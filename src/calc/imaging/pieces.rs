//! Connected pieces of a picture, gathered run by run so that a large picture needs little memory.

/// Pixels of one row that belong to a piece, `from` to before `to`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Run {
    /// The row.
    pub y: u32,
    /// First pixel.
    pub from: u32,
    /// The pixel after the last.
    pub to: u32,
}

/// A connected piece: pixels that touch along a side.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    /// Its runs, from the top.
    pub runs: Vec<Run>,
    /// How many pixels.
    pub area: usize,
    /// Left, top, right, bottom; all four inside.
    pub bounds: [usize; 4],
}

impl Piece {
    /// Whether it reaches the outermost pixels of a picture of this size.
    pub fn is_cut(&self, width: usize, height: usize) -> bool {
        let [left, top, right, bottom] = self.bounds;
        left == 0 || top == 0 || right + 1 >= width || bottom + 1 >= height
    }
}

/// Gathers runs, row after row, into pieces.
#[derive(Debug, Default)]
pub struct Gatherer {
    runs: Vec<Run>,
    parents: Vec<u32>,
    /// Where the runs of the row above begin, and of this one.
    above: usize,
    here: usize,
    row: u32,
}

impl Gatherer {
    /// How many runs there are so far.
    pub fn len(&self) -> usize {
        self.runs.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.runs.is_empty()
    }

    /// Adds a run. Runs come from the top, and from the left within a row.
    pub fn add(&mut self, run: Run) {
        if run.y != self.row || self.runs.is_empty() {
            self.above = if run.y == self.row + 1 { self.here } else { self.runs.len() };
            self.here = self.runs.len();
            self.row = run.y;
        }
        let id = self.runs.len() as u32;
        self.runs.push(run);
        self.parents.push(id);
        while self.above < self.here && self.runs[self.above].to <= run.from {
            self.above += 1;
        }
        let mut other = self.above;
        while other < self.here && self.runs[other].from < run.to {
            self.join(other as u32, id);
            other += 1;
        }
    }

    fn root(&mut self, mut id: u32) -> u32 {
        while self.parents[id as usize] != id {
            let next = self.parents[self.parents[id as usize] as usize];
            self.parents[id as usize] = next;
            id = next;
        }
        id
    }

    fn join(&mut self, a: u32, b: u32) {
        let (a, b) = (self.root(a), self.root(b));
        self.parents[a.max(b) as usize] = a.min(b);
    }

    /// The pieces of at least so many pixels, the largest first.
    pub fn pieces(mut self, at_least: usize) -> Vec<Piece> {
        let roots: Vec<u32> = (0..self.runs.len() as u32).map(|id| self.root(id)).collect();
        let mut areas = vec![0usize; self.runs.len()];
        for (run, root) in self.runs.iter().zip(&roots) {
            areas[*root as usize] += (run.to - run.from) as usize;
        }
        let mut places = vec![u32::MAX; self.runs.len()];
        let mut pieces: Vec<Piece> = Vec::new();
        for (run, root) in self.runs.iter().zip(&roots) {
            let root = *root as usize;
            if areas[root] < at_least.max(1) {
                continue;
            }
            if places[root] == u32::MAX {
                places[root] = pieces.len() as u32;
                pieces.push(Piece { runs: Vec::new(), area: areas[root], bounds: [usize::MAX, usize::MAX, 0, 0] });
            }
            let piece = &mut pieces[places[root] as usize];
            let [left, top, right, bottom] = piece.bounds;
            piece.bounds = [
                left.min(run.from as usize),
                top.min(run.y as usize),
                right.max(run.to as usize - 1),
                bottom.max(run.y as usize),
            ];
            piece.runs.push(*run);
        }
        pieces.sort_by_key(|piece| std::cmp::Reverse(piece.area));
        pieces
    }
}

/// The pieces of at least `at_least` pixels where `belongs` holds, the largest first.
pub fn pieces(width: usize, height: usize, at_least: usize, belongs: impl Fn(usize, usize) -> bool) -> Vec<Piece> {
    let mut gatherer = Gatherer::default();
    for y in 0..height {
        let mut x = 0;
        while x < width {
            if belongs(x, y) {
                let from = x;
                while x < width && belongs(x, y) {
                    x += 1;
                }
                gatherer.add(Run { y: y as u32, from: from as u32, to: x as u32 });
            } else {
                x += 1;
            }
        }
    }
    gatherer.pieces(at_least)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(rows: &[&str]) -> Vec<usize> {
        let found = pieces(rows[0].len(), rows.len(), 1, |x, y| rows[y].as_bytes()[x] == b'#');
        found.iter().map(|piece| piece.area).collect()
    }

    #[test]
    fn arms_that_meet_below_are_one_piece() {
        assert_eq!(of(&["#.#.#", "#.#.#", "#####"]), [11]);
        assert_eq!(of(&["#####", "#.#.#", "#.#.#"]), [11]);
        assert_eq!(of(&["#.#", "...", "#.#"]), [1, 1, 1, 1]);
    }

    #[test]
    fn pixels_that_touch_at_a_corner_only_are_two_pieces() {
        assert_eq!(of(&["##..", "..##"]), [2, 2]);
    }

    #[test]
    fn a_spiral_is_one_piece_and_its_bounds_hold_it() {
        let rows = ["#######", "......#", "#####.#", "#...#.#", "#.###.#", "#.....#", "#######"];
        let found = pieces(7, 7, 1, |x, y| rows[y].as_bytes()[x] == b'#');
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].bounds, [0, 0, 6, 6]);
        assert!(found[0].is_cut(7, 7));
        let inner = pieces(9, 9, 1, |x, y| (3..6).contains(&x) && (3..6).contains(&y));
        assert!(!inner[0].is_cut(9, 9) && inner[0].is_cut(6, 9) && inner[0].is_cut(9, 6));
    }
}
