//! A chemical product of the stockroom.

use super::paper::PaperBase;
use crate::domain::ids::{ProductId, SiteId};

/// What a product is for; also the kind of the batches mixed from it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum ProductKind {
    /// Developer.
    Developer,
    /// Stop bath.
    StopBath,
    /// Fixer: the only one that gathers silver.
    Fixer,
    /// Washing aid.
    WashingAid,
    /// Bleach: meets nothing else.
    Bleach,
}

impl ProductKind {
    /// In the order of the trays, bleach last.
    pub const ALL: [Self; 5] = [Self::Developer, Self::StopBath, Self::Fixer, Self::WashingAid, Self::Bleach];

    /// The stored word, which is also the word for people.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Developer => "developer",
            Self::StopBath => "stop bath",
            Self::Fixer => "fixer",
            Self::WashingAid => "washing aid",
            Self::Bleach => "bleach",
        }
    }

    /// From the stored word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.as_str() == word)
    }
}

/// The times a label gives, at a temperature.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Times {
    /// For resin-coated paper, milliseconds.
    pub rc_ms: Option<i64>,
    /// For fibre paper, milliseconds.
    pub fibre_ms: Option<i64>,
    /// For film, milliseconds.
    pub film_ms: Option<i64>,
    /// The temperature they hold at, thousandths of a degree Celsius.
    pub at_milli_c: Option<i64>,
    /// How many times faster 10 °C more makes it, thousandths; for film.
    pub factor_per_10c_milli: i64,
}

impl Times {
    /// None given; the factor is that of the charts makers print (2.4, value from memory).
    pub const NONE: Self =
        Self { rc_ms: None, fibre_ms: None, film_ms: None, at_milli_c: None, factor_per_10c_milli: 2_400 };

    /// The time for a base, milliseconds.
    pub fn of(&self, base: PaperBase) -> Option<i64> {
        match base {
            PaperBase::ResinCoated => self.rc_ms,
            PaperBase::Fibre => self.fibre_ms,
            PaperBase::Film => self.film_ms,
            // paper is never taken out early: the longer of the two
            PaperBase::Unknown => self.rc_ms.max(self.fibre_ms),
        }
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
    /// The same for resin-coated paper, where the bottle gives another.
    pub rc_capacity_mm2_per_l: Option<i64>,
    /// How long it lasts in an open tray, milliseconds.
    pub tray_life_ms: Option<i64>,
    /// How long the working solution keeps in a full, closed bottle, milliseconds.
    pub bottle_life_ms: Option<i64>,
    /// A fixer's working limit for silver, micrograms per litre.
    pub silver_limit_ug_per_l: Option<i64>,
    /// The label's times, at its temperature.
    pub times: Times,
    /// Concentrate counted on the shelf, microlitres; `None` when nobody counted.
    pub on_shelf_ul: Option<i64>,
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
    /// A product of which only the kind, the name and the dilution are known.
    pub fn bare(id: ProductId, site: SiteId, kind: ProductKind, name: &str, parts: (i64, i64)) -> Self {
        Self {
            id,
            site,
            kind,
            name: name.to_owned(),
            parts_concentrate: parts.0,
            parts_water: parts.1,
            distilled_water: false,
            capacity_mm2_per_l: None,
            rc_capacity_mm2_per_l: None,
            tray_life_ms: None,
            bottle_life_ms: None,
            silver_limit_ug_per_l: None,
            times: Times::NONE,
            on_shelf_ul: None,
            hazards: String::new(),
            data_sheet: String::new(),
            figures_from: String::new(),
            version: 1,
        }
    }

    /// Its capacity for a base: another one for resin-coated paper, where the bottle gives it.
    pub fn capacity_for(&self, base: PaperBase) -> Option<i64> {
        match base {
            PaperBase::ResinCoated => self.rc_capacity_mm2_per_l.or(self.capacity_mm2_per_l),
            PaperBase::Unknown | PaperBase::Fibre | PaperBase::Film => self.capacity_mm2_per_l,
        }
    }

    /// The dilution as a label writes it: `1+9`.
    pub fn parts(&self) -> String {
        format!("{}+{}", self.parts_concentrate, self.parts_water)
    }
}
