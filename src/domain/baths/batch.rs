//! A batch: one mixing of a working solution, with its age and its load.

use crate::domain::{
    ids::{BatchId, ContainerId, PersonId, ProductId, SiteId, TrayLineId},
    instant::Instant,
    stock::{paper::PaperBase, product::ProductKind},
};

/// A batch's life.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BatchState {
    /// It may be used.
    InUse,
    /// It was poured into a waste container for good, or nothing of it was left.
    Retired {
        /// When.
        at: Instant,
        /// Into which container; `None` when nothing was left of it.
        into: Option<ContainerId>,
    },
}

/// One mixing of a working solution. The product's figures are kept as they were when it was mixed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Batch {
    /// Its id.
    pub id: BatchId,
    /// Where it stands.
    pub site: SiteId,
    /// The number on the bottle.
    pub label_number: i64,
    /// The product it was mixed from.
    pub product: ProductId,
    /// What it is for.
    pub kind: ProductKind,
    /// What the product was called.
    pub product_name: String,
    /// Parts of concentrate …
    pub parts_concentrate: i64,
    /// … to parts of water.
    pub parts_water: i64,
    /// Working capacity, square millimetres of sheet per litre.
    pub capacity_mm2_per_l: Option<i64>,
    /// The same for resin-coated paper, where the bottle gives another.
    pub rc_capacity_mm2_per_l: Option<i64>,
    /// How long it lasts in an open tray, milliseconds.
    pub tray_life_ms: Option<i64>,
    /// How long it keeps in a full, closed bottle, milliseconds.
    pub bottle_life_ms: Option<i64>,
    /// A fixer's working limit for silver, micrograms per litre.
    pub silver_limit_ug_per_l: Option<i64>,
    /// How much was mixed, microlitres.
    pub volume_ul: i64,
    /// When.
    pub mixed_at: Instant,
    /// By whom.
    pub mixed_by: PersonId,
    /// Its life.
    pub state: BatchState,
    /// Anything else.
    pub remark: String,
    /// Counts edits.
    pub version: i64,
}

/// The concentrate in so much working solution of those parts, microlitres, to the nearest. Parts are at least one
/// of concentrate, so there is something to divide by.
pub fn concentrate_in((concentrate, water): (i64, i64), volume_ul: i64) -> i64 {
    let (part, all) = (i128::from(concentrate), i128::from(concentrate) + i128::from(water));
    let in_it = (i128::from(volume_ul) * part * 2 + all) / (all * 2).max(1);
    i64::try_from(in_it).unwrap_or(i64::MAX)
}

impl Batch {
    /// The dilution as a label writes it: `1+9`.
    pub fn parts(&self) -> String {
        format!("{}+{}", self.parts_concentrate, self.parts_water)
    }

    /// The concentrate in so much of it, microlitres, to the nearest.
    pub fn concentrate_in(&self, volume_ul: i64) -> i64 {
        concentrate_in((self.parts_concentrate, self.parts_water), volume_ul)
    }

    /// Its capacity for a base: another one for resin-coated paper, where the bottle gives it.
    pub fn capacity_for(&self, base: PaperBase) -> Option<i64> {
        match base {
            PaperBase::ResinCoated => self.rc_capacity_mm2_per_l.or(self.capacity_mm2_per_l),
            PaperBase::Unknown | PaperBase::Fibre | PaperBase::Film => self.capacity_mm2_per_l,
        }
    }

    /// For people: `fixer 3`.
    pub fn name(&self) -> String {
        format!("{} {}", self.kind.as_str(), self.label_number)
    }

    /// [`Self::name`] at the beginning of a line: `Fixer 3`.
    pub fn title(&self) -> String {
        let name = self.name();
        let (first, rest) = name.split_at(1);
        format!("{}{rest}", first.to_uppercase())
    }

    /// Whether it may be used.
    pub fn in_use(&self) -> bool {
        self.state == BatchState::InUse
    }

    /// When it was retired, if it was.
    pub fn retired_at(&self) -> Option<Instant> {
        match self.state {
            BatchState::Retired { at, .. } => Some(at),
            BatchState::InUse => None,
        }
    }
}

/// A place in a tray line.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Slot {
    /// The developer's tray.
    Developer,
    /// The stop bath's tray.
    StopBath,
    /// The fixer's tray, or the first of two.
    Fixer,
    /// The second fixer's tray.
    SecondFixer,
    /// The washing aid's tray.
    WashingAid,
}

impl Slot {
    /// In the order a sheet passes them.
    pub const ALL: [Self; 5] = [Self::Developer, Self::StopBath, Self::Fixer, Self::SecondFixer, Self::WashingAid];

    /// The stored word, which is also the word for people.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Developer => "developer",
            Self::StopBath => "stop bath",
            Self::Fixer => "fixer",
            Self::SecondFixer => "second fixer",
            Self::WashingAid => "washing aid",
        }
    }

    /// From the stored word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|slot| slot.as_str() == word)
    }

    /// What kind of batch belongs there.
    pub fn takes(self) -> ProductKind {
        match self {
            Self::Developer => ProductKind::Developer,
            Self::StopBath => ProductKind::StopBath,
            Self::Fixer | Self::SecondFixer => ProductKind::Fixer,
            Self::WashingAid => ProductKind::WashingAid,
        }
    }
}

/// A batch's stay in a tray.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stay {
    /// The tray line.
    pub tray_line: TrayLineId,
    /// Which tray of it.
    pub slot: Slot,
    /// The batch.
    pub batch: BatchId,
    /// Set in.
    pub from: Instant,
    /// Taken out; `None` while it stands there.
    pub to: Option<Instant>,
}
