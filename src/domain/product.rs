//! A chemical product of the stockroom.

use super::ids::{ProductId, SiteId};

/// What a product is for; also the kind of the batches mixed from it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum ProductKind {
    /// Developer.
    Developer,
    /// Stop bath.
    StopBath,
    /// Fixer: the only one that gathers silver.
    Fixer,
    /// Washing aid.
    WashingAid,
}

impl ProductKind {
    /// In the order of the trays.
    pub const ALL: [Self; 4] = [Self::Developer, Self::StopBath, Self::Fixer, Self::WashingAid];

    /// The stored word, which is also the word for people.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Developer => "developer",
            Self::StopBath => "stop bath",
            Self::Fixer => "fixer",
            Self::WashingAid => "washing aid",
        }
    }

    /// From the stored word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.as_str() == word)
    }
}

/// A product with the figures on its bottle.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Product {
    /// Its id.
    pub id: ProductId,
    /// Whose stockroom.
    pub site: SiteId,
    /// What it is for.
    pub kind: ProductKind,
    /// What it is called.
    pub name: String,
    /// Parts of concentrate …
    pub parts_concentrate: i64,
    /// … to parts of water; 0 is used as it comes.
    pub parts_water: i64,
    /// Whether the label asks for distilled water.
    pub distilled_water: bool,
    /// Working capacity, square millimetres of sheet per litre.
    pub capacity_mm2_per_l: Option<i64>,
    /// How long it lasts in an open tray, milliseconds.
    pub tray_life_ms: Option<i64>,
    /// A fixer's working limit for silver, micrograms per litre.
    pub silver_limit_ug_per_l: Option<i64>,
    /// Hazards in words.
    pub hazards: String,
    /// Where the safety data sheet is.
    pub data_sheet: String,
    /// Where the figures come from.
    pub figures_from: String,
    /// Counts edits.
    pub version: i64,
}

impl Product {
    /// The dilution as a label writes it: `1+9`.
    pub fn parts(&self) -> String {
        format!("{}+{}", self.parts_concentrate, self.parts_water)
    }
}
