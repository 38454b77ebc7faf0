//! A paper or film of the stockroom.

use crate::calc::{
    light::{exposure::usual_lens_free_gain_stops, paper::paper_index, reciprocity::Reciprocity},
    quantity::{DaylightFactor, ExposureIndex, IsoPaperSpeed},
};

use super::{
    colours_seen::ColoursSeen,
    reciprocity_lines::{ReciprocityLines, reciprocity_of},
};
use crate::domain::ids::{PaperId, SiteId};

/// Paper goes through the trays; film in a body cap is sent to a laboratory.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PaperKind {
    /// Photographic paper, used as a paper negative and for contact prints.
    Paper,
    /// Film.
    Film,
}

impl PaperKind {
    /// The stored word.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Paper => "paper",
            Self::Film => "film",
        }
    }

    /// From the stored word.
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Paper, Self::Film].into_iter().find(|kind| kind.as_str() == word)
    }
}

/// What a sheet is coated on. It decides how long it is fixed and washed, what a bath takes of it and
/// how much silver and liquid it carries.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum PaperBase {
    /// Nobody said.
    Unknown,
    /// Resin-coated paper.
    ResinCoated,
    /// Fibre-based paper.
    Fibre,
    /// Film.
    Film,
}

impl PaperBase {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Unknown, Self::ResinCoated, Self::Fibre, Self::Film];

    /// The stored word; empty when nobody said.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Unknown => "",
            Self::ResinCoated => "resin-coated",
            Self::Fibre => "fibre",
            Self::Film => "film",
        }
    }

    /// From the stored word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|base| base.as_str() == word)
    }

    /// For people.
    pub fn in_words(self) -> &'static str {
        match self {
            Self::Unknown => "base not entered",
            Self::ResinCoated => "resin-coated",
            Self::Fibre => "fibre-based",
            Self::Film => "film",
        }
    }
}

/// A paper or film with the figures the server computes with.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Paper {
    /// Its id.
    pub id: PaperId,
    /// Whose stockroom.
    pub site: SiteId,
    /// Paper or film.
    pub kind: PaperKind,
    /// What it is coated on; a film's is film.
    pub base: PaperBase,
    /// Which colours it sees.
    pub sees: ColoursSeen,
    /// What it is called.
    pub name: String,
    /// Exposure index in daylight, thousandths.
    pub exposure_index_milli: i64,
    /// What the index rests on, in words; empty when it was typed in.
    pub index_from: String,
    /// The maker's ISO paper speed, thousandths.
    pub iso_speed_milli: Option<i64>,
    /// How much faster it is by daylight than by tungsten light, thousandths; counts with the ISO speed.
    pub daylight_factor_milli: i64,
    /// The maker's reciprocity table; where there is one it counts instead of the exponent.
    pub reciprocity_table: ReciprocityLines,
    /// Reciprocity exponent, thousandths (1000 is none).
    pub reciprocity_milli: i64,
    /// Reciprocity failure begins past this metered time, milliseconds.
    pub reciprocity_threshold_ms: i64,
    /// Silver delivered to the fixer, micrograms per square metre: best estimate.
    pub silver_ug_per_m2: i64,
    /// Its low end.
    pub silver_low_ug_per_m2: i64,
    /// Its high end.
    pub silver_high_ug_per_m2: i64,
    /// Where the silver figures come from.
    pub silver_source: String,
    /// Liquid a drained sheet carries to the next tray, microlitres per square metre.
    pub carry_over_ul_per_m2: i64,
    /// Anything else.
    pub remark: String,
    /// Counts edits.
    pub version: i64,
}

impl Paper {
    /// The exposure index as the calculations take it.
    pub fn exposure_index(&self) -> ExposureIndex {
        // the database keeps it within the range of its quantity
        let index = (self.exposure_index_milli as f64 / 1000.0).clamp(ExposureIndex::MIN, ExposureIndex::MAX);
        ExposureIndex::new(index).unwrap_or_else(|_| unreachable!("clamped into range"))
    }

    /// The reciprocity rule of its card.
    pub fn reciprocity(&self) -> Reciprocity {
        reciprocity_of(self.reciprocity_milli, self.reciprocity_threshold_ms, &self.reciprocity_table)
    }

    /// Whether its reciprocity exponent is an unknown that its sheets teach: paper, of which no maker
    /// publishes one, whatever the card says to begin with. A maker's table and the exponent of a film,
    /// which its maker publishes, stand.
    pub fn may_fit_exponent(&self) -> bool {
        self.kind == PaperKind::Paper && self.reciprocity_table.is_empty()
    }

    /// Stops less that a hole needs than the lens its speed is meant for. Film only: a paper's index
    /// holds it already, as EI = 10/Hm or as it was found by exposing.
    pub fn lens_free_gain_milli(&self) -> i64 {
        match self.kind {
            PaperKind::Film => (usual_lens_free_gain_stops() * 1000.0).round() as i64,
            PaperKind::Paper => 0,
        }
    }
}

/// The exposure index in daylight, thousandths, that an ISO paper speed and a daylight factor give
/// (both in thousandths): EI = P/100 times the factor. `None` out of their ranges.
pub fn index_of_iso_speed(iso_speed_milli: i64, daylight_factor_milli: i64) -> Option<i64> {
    let speed = IsoPaperSpeed::new(iso_speed_milli as f64 / 1000.0).ok()?;
    let factor = DaylightFactor::new(daylight_factor_milli as f64 / 1000.0).ok()?;
    let index = paper_index(speed, factor).daylight.as_number();
    Some(((index * 1000.0).round() as i64).clamp(10, 100_000_000))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ISO 6846: P500 is EI 5 by tungsten light; with a factor of 2, EI 10 by daylight.
    #[test]
    fn an_iso_speed_of_500_gives_ei_5_and_twice_that_by_daylight() {
        assert_eq!(index_of_iso_speed(500_000, 1_000), Some(5_000));
        assert_eq!(index_of_iso_speed(500_000, 2_000), Some(10_000));
        assert_eq!(index_of_iso_speed(0, 1_000), None);
    }
}
