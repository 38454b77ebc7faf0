//! Sheets counted from the box, held against the sheets recorded, so that test strips and fogged
//! sheets are not forgotten.

use crate::domain::{
    ids::{LabSessionId, PaperId, PersonId, SheetCountId},
    instant::Instant,
};

/// A count of one size of one paper in one session.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SheetCount {
    /// Its id.
    pub id: SheetCountId,
    /// In which session.
    pub session: LabSessionId,
    /// Of which paper.
    pub paper: PaperId,
    /// The size as it was typed.
    pub size: String,
    /// Its area, square millimetres.
    pub area_mm2: i64,
    /// Sheets in the box at the start.
    pub at_start: i64,
    /// At the end; `None` until counted again.
    pub at_end: Option<i64>,
    /// Of those taken: fogged or spoilt, never put through the trays.
    pub spoilt: i64,
    /// Anything else.
    pub remark: String,
    /// Who counted.
    pub counted_by: PersonId,
    /// When.
    pub counted_at: Instant,
    /// Counts edits.
    pub version: i64,
}

impl SheetCount {
    /// Sheets taken out of the box, once it was counted again.
    pub fn taken(&self) -> Option<i64> {
        Some(self.at_start - self.at_end?)
    }

    /// Sheets taken that should have gone through the trays.
    pub fn used(&self) -> Option<i64> {
        Some(self.taken()? - self.spoilt)
    }
}

/// The counts of one paper against what was recorded of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reconciled {
    /// The box was not counted at the end.
    NotCounted,
    /// They agree, to half a sheet.
    Agree,
    /// More was taken than recorded: so many square millimetres are missing.
    Missing(i64),
    /// More was recorded than taken.
    TooMuch(i64),
}

/// Holds counts of one paper against the area recorded of it in the session.
pub fn reconciled(counts: &[&SheetCount], recorded_mm2: i64) -> Reconciled {
    let mut used_mm2 = 0;
    for count in counts {
        match count.used() {
            Some(used) => used_mm2 += used * count.area_mm2,
            None => return Reconciled::NotCounted,
        }
    }
    // half of the smallest sheet counted: cutting strips loses an edge
    let half = counts.iter().map(|count| count.area_mm2).min().unwrap_or(0) / 2;
    match used_mm2 - recorded_mm2 {
        missing if missing > half => Reconciled::Missing(missing),
        missing if missing < -half => Reconciled::TooMuch(-missing),
        _ => Reconciled::Agree,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::ids::Id;
    use uuid::Uuid;

    /// Four by five inches: 12,903 mm².
    fn count(at_start: i64, at_end: Option<i64>, spoilt: i64) -> SheetCount {
        SheetCount {
            id: SheetCountId::from_uuid(Uuid::nil()),
            session: LabSessionId::from_uuid(Uuid::nil()),
            paper: PaperId::from_uuid(Uuid::nil()),
            size: "4x5in".to_owned(),
            area_mm2: 12_903,
            at_start,
            at_end,
            spoilt,
            remark: String::new(),
            counted_by: PersonId::from_uuid(Uuid::nil()),
            counted_at: Instant::from_micros(0).expect("in range"),
            version: 1,
        }
    }

    #[test]
    fn strips_that_nobody_wrote_down_are_missed() {
        // 40 taken, 2 fogged in the box, 36 recorded: two sheets went as strips
        let evening = count(100, Some(60), 2);
        assert_eq!((evening.taken(), evening.used()), (Some(40), Some(38)));
        assert_eq!(reconciled(&[&evening], 36 * 12_903), Reconciled::Missing(2 * 12_903));
        assert_eq!(reconciled(&[&evening], 38 * 12_903), Reconciled::Agree);
        assert_eq!(reconciled(&[&evening], 38 * 12_903 - 6_000), Reconciled::Agree, "an edge cut off");
        assert_eq!(reconciled(&[&evening], 39 * 12_903), Reconciled::TooMuch(12_903));
    }

    #[test]
    fn a_box_not_counted_again_says_nothing() {
        assert_eq!(reconciled(&[&count(100, None, 0)], 0), Reconciled::NotCounted);
        assert_eq!(reconciled(&[&count(100, Some(90), 0), &count(50, None, 0)], 0), Reconciled::NotCounted);
    }
}
