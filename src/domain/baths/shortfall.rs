//! Liquid that a measurement finds missing, and where it may have gone.

/// Where what is missing went.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Missing {
    /// Into the air: its silver stays.
    Evaporated,
    /// Spilled: its silver went with it.
    Spilled,
    /// With sheets, more than was counted.
    CarriedOff,
    /// It was never there: an earlier volume was measured badly, or not at all.
    Misread,
    /// Somewhere else, as the remark says.
    Otherwise,
}

impl Missing {
    /// All of them.
    pub const ALL: [Self; 5] = [Self::Evaporated, Self::Spilled, Self::CarriedOff, Self::Misread, Self::Otherwise];

    /// The word of a form, which is also the word for people.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Evaporated => "evaporated",
            Self::Spilled => "spilled",
            Self::CarriedOff => "carried off by sheets",
            Self::Misread => "measured badly before, or not at all",
            Self::Otherwise => "otherwise, as the remark says",
        }
    }

    /// From the word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|missing| missing.as_str() == word)
    }
}

/// The share of a volume that a jug and a drained tray leave open, in hundredths, and the least of it,
/// What rinsing a bath out may add, per cent of it (our own judgement).
const MOST_EXCESS_PERCENT: i64 = 25;
/// … and what it may add to however little, microlitres.
const LEAST_EXCESS_UL: i64 = 100_000;
/// microlitres. Common practice, no source.
const SLACK_PERCENT: i64 = 5;
const LEAST_SLACK_UL: i64 = 20_000;

/// Whether a shortfall is more than sheets carried off and measuring leaves open, so that somebody has
/// to say where it went. `carried_ul` is what sheets carried off that the book does not have.
///
/// ```
/// use shimlight::domain::baths::shortfall::asks_why;
/// assert!(!asks_why(80_000, 2_000_000, 0));
/// assert!(asks_why(120_000, 2_000_000, 0) && !asks_why(120_000, 2_000_000, 40_000));
/// assert!(asks_why(2_000_000, 2_000_000, 0), "all of it");
/// ```
pub fn asks_why(short_ul: i64, holds_ul: i64, carried_ul: i64) -> bool {
    short_ul > carried_ul + (holds_ul / 100 * SLACK_PERCENT).max(LEAST_SLACK_UL)
        || (short_ul > 0 && short_ul == holds_ul)
}

/// Whether so much more than the book has, microlitres, is more than rinsing and misreading add: then somebody has
/// to say where it came from, since a slipped digit would put litres into the disposal log.
///
/// ```
/// use shimlight::domain::baths::shortfall::asks_whence;
/// assert!(!asks_whence(90_000, 200_000) && !asks_whence(200_000, 1_000_000));
/// assert!(asks_whence(8_000_000, 10_000_000));
/// ```
pub fn asks_whence(excess_ul: i64, holds_ul: i64) -> bool {
    excess_ul > (holds_ul / 100 * MOST_EXCESS_PERCENT).max(LEAST_EXCESS_UL)
}
