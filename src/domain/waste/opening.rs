//! What stood in a container when its book was begun.

use crate::domain::book::{Amount, Basis, Silver, share};

/// The most silver that spent photographic solutions were measured with, micrograms a litre: 12 g/L, of
/// a range from 5 to 12,000 mg/L (a university’s guidance on photographic waste; its title stands
/// in `tests/reference/README.md`).
pub const MOST_EVER_UG_PER_L: i64 = 12_000_000;

/// What is known of the silver in it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OpeningSilver {
    /// Somebody states it, with a range.
    Stated(Silver),
    /// Nobody knows: from none to the most that was ever measured. It warns, and it has no best
    /// estimate until it is read.
    Unknown,
}

/// What stood there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Opening {
    /// How much, microlitres.
    pub volume_ul: i64,
    /// The silver in it.
    pub silver: OpeningSilver,
}

impl Opening {
    /// What the book books.
    ///
    /// ```
    /// use shimlight::domain::waste::opening::{Opening, OpeningSilver};
    /// let old = Opening { volume_ul: 5_000_000, silver: OpeningSilver::Unknown }.amount();
    /// assert_eq!((old.silver.low_ug, old.silver.high_ug), (0, 60_000_000));
    /// ```
    pub fn amount(self) -> Amount {
        let silver = match self.silver {
            OpeningSilver::Stated(silver) => silver,
            OpeningSilver::Unknown => {
                let high_ug = share(MOST_EVER_UG_PER_L, self.volume_ul, 1_000_000);
                Silver { best_ug: 0, low_ug: 0, high_ug }
            }
        };
        Amount { volume_ul: self.volume_ul, silver }
    }

    /// What its silver figure rests on.
    pub fn basis(self) -> Basis {
        match self.silver {
            OpeningSilver::Stated(_) => Basis::Stated,
            OpeningSilver::Unknown => Basis::Unknown,
        }
    }
}
