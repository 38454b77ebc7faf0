//! Silver recovered on site: by what means, what went in and what came out.

use crate::calc::{quantity::MilligramsPerLitre, silver::waste::percent_recovered, working::figures};

use super::taken_back::TakenBack;
use crate::domain::{
    ids::{CartridgeChangeId, ContainerId, MovementId, PersonId, RecoveryId},
    instant::Instant,
};

/// By what means, for people and as it is stored.
pub const MEANS: [&str; 5] =
    ["steel wool cartridge", "electrolytic unit", "electrolytic unit and cartridge", "precipitation", "ion exchange"];

/// A recovery, beside the movement that books its silver.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Recovery {
    /// Its id.
    pub id: RecoveryId,
    /// The movement it caused.
    pub movement: MovementId,
    /// From which container.
    pub container: ContainerId,
    /// How much of its liquid was treated, microlitres; `None`: all that it held.
    pub treated_ul: Option<i64>,
    /// By what means.
    pub means: String,
    /// Silver before it, micrograms a litre.
    pub before_ug_per_l: Option<i64>,
    /// Silver after it, micrograms a litre.
    pub after_ug_per_l: Option<i64>,
    /// How these were measured.
    pub measured_how: String,
    /// Which cartridge or unit.
    pub cartridge: String,
}

impl Recovery {
    /// Per cent of the silver that it kept back, where both concentrations were measured.
    pub fn percent(&self) -> Option<f64> {
        let mg = |ug: i64| MilligramsPerLitre::new(ug as f64 / 1000.0).ok();
        percent_recovered(mg(self.before_ug_per_l?)?, mg(self.after_ug_per_l?)?)
    }

    /// For people: `0.80 g/L before, 0.024 g/L after: 97.0 % kept back`.
    pub fn in_words(&self) -> String {
        let g = |ug: i64| format!("{} g/L", figures(ug as f64 / 1e6, 2));
        match (self.before_ug_per_l, self.after_ug_per_l) {
            (Some(before), Some(after)) => {
                let kept =
                    self.percent().map_or(String::new(), |percent| format!(": {} % kept back", figures(percent, 3)));
                format!("{} before, {} after{kept}", g(before), g(after))
            }
            (Some(before), None) => format!("{} before; after it was not measured", g(before)),
            (None, Some(after)) => format!("{} after; before it was not measured", g(after)),
            (None, None) => "neither before nor after it was measured".to_owned(),
        }
    }
}

/// A recovery cartridge put in the place of another.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CartridgeChange {
    /// Its id.
    pub id: CartridgeChangeId,
    /// Which one was put in.
    pub cartridge: String,
    /// When.
    pub changed_at: Instant,
    /// Where the old one went: it holds silver.
    pub old_went_to: String,
    /// Anything else.
    pub remark: String,
    /// Who did it.
    pub changed_by: PersonId,
    /// A mistake: it was taken back.
    pub taken_back: Option<TakenBack>,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::ids::Id;
    use uuid::Uuid;

    fn recovery(before: Option<i64>, after: Option<i64>) -> Recovery {
        Recovery {
            id: RecoveryId::from_uuid(Uuid::nil()),
            movement: MovementId::from_uuid(Uuid::nil()),
            container: ContainerId::from_uuid(Uuid::nil()),
            treated_ul: None,
            means: MEANS[0].to_owned(),
            before_ug_per_l: before,
            after_ug_per_l: after,
            measured_how: String::new(),
            cartridge: String::new(),
        }
    }

    /// 100 (in − out) / in: the median cartridge of Harper and Siegel (JAWMA 53, 2003) left 720 mg/L.
    #[test]
    fn what_a_cartridge_kept_back_is_worked_out_only_from_two_measurements() {
        let tired = recovery(Some(3_000_000), Some(720_000));
        assert!((tired.percent().expect("both measured") - 76.0).abs() < 1e-9);
        assert_eq!(tired.in_words(), "3.0 g/L before, 0.72 g/L after: 76.0 % kept back");
        assert_eq!(recovery(Some(3_000_000), None).percent(), None);
        assert_eq!(recovery(Some(0), Some(0)).percent(), None);
    }
}
