//! Which colours a paper or film sees.

/// The colours that a paper or film answers to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum ColoursSeen {
    /// Nobody said.
    Unknown,
    /// Blue only, as graded paper does.
    Blue,
    /// Blue and green, as variable-contrast paper does (and film that is not panchromatic).
    BlueAndGreen,
    /// All that we see, as panchromatic film does.
    All,
}

impl ColoursSeen {
    /// All of them, for a choice.
    pub const ALL: [Self; 4] = [Self::BlueAndGreen, Self::Blue, Self::All, Self::Unknown];

    /// The stored word; empty when nobody said.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Unknown => "",
            Self::Blue => "blue",
            Self::BlueAndGreen => "blue and green",
            Self::All => "all colours",
        }
    }

    /// From the stored word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|colours| colours.as_str() == word)
    }

    /// For people, with the band it is taken for.
    pub fn in_words(self) -> &'static str {
        match self {
            Self::Unknown => "not entered",
            Self::Blue => "blue only (360 to 500 nm): graded paper",
            Self::BlueAndGreen => "blue and green (360 to 550 nm): variable-contrast paper",
            Self::All => "all colours (400 to 650 nm): panchromatic film",
        }
    }
}
