//! What a container holds of silver, in words, and against the site's own limit: an estimate can warn,
//! and only a laboratory's result can say that it is below.

use crate::{
    calc::{
        quantity::MilligramsPerLitre,
        silver::waste::{self, AgainstLimit, against_toxicity_limit},
    },
    domain::{
        book::{Amount, Basis},
        measure::decimal,
        site::Site,
        waste::container::Container,
    },
};

/// A container against the site's limit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Limit {
    /// The class of a tag, and its word.
    pub tag: &'static str,
    /// The tag's word.
    pub state: &'static str,
    /// All of it in words.
    pub words: String,
}

impl Limit {
    /// `None` where no limit was entered or nothing liquid is there. Estimates warn with their high
    /// figure; a laboratory's result counts until something else comes in.
    pub fn of(container: &Container, holds: Amount, basis: Basis, site: &Site) -> Option<Self> {
        let (limit, silver) = (site.silver_limit_ug_per_l?, holds.ug_per_l()?);
        if container.is_removed() {
            return None;
        }
        let mg = |ug: i64| MilligramsPerLitre::new(ug as f64 / 1000.0).ok();
        let (by, rests_on) = match basis {
            Basis::Laboratory => ("By the laboratory’s result", waste::Basis::Laboratory),
            Basis::EstimatingPaper => ("By the high end of the strip’s reading", waste::Basis::Estimate),
            _ => ("By the high estimate", waste::Basis::Estimate),
        };
        let limit_words = format!("the site’s limit for silver of {} mg/L", decimal::written(limit, 3));
        let source = &site.silver_limit_source;
        Some(match against_toxicity_limit(mg(silver.high_ug)?, mg(limit)?, rests_on) {
            AgainstLimit::AtOrAbove => Self {
                tag: "change",
                state: "at or above the limit",
                words: format!("{by} at or above {limit_words} ({source})."),
            },
            AgainstLimit::Below => Self {
                tag: "open",
                state: "below the limit",
                words: format!(
                    "{by} below {limit_words} ({source}), until something else goes in. What follows from that is for \
                     your safety office to say."
                ),
            },
            AgainstLimit::NotShown => Self {
                tag: "watch",
                state: "not shown to be below the limit",
                words: format!("An estimate below {limit_words} shows nothing: only a laboratory’s result can."),
            },
        })
    }

    /// Whether it warns.
    pub fn warns(&self) -> bool {
        self.tag == "change"
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{
        book::{Silver, written},
        ids::{ContainerId, Id, SiteId},
        waste::container::{Contents, Life},
    };
    use jiff::tz::TimeZone;

    fn container() -> Container {
        Container {
            id: ContainerId::from_uuid(uuid::Uuid::nil()),
            site: SiteId::from_uuid(uuid::Uuid::nil()),
            label_number: 1,
            contents: Contents::FirstRinse,
            hazards: String::new(),
            place: String::new(),
            capacity_ul: 20_000_000,
            life: Life::NEW,
            first_drop_at: None,
            version: 1,
        }
    }

    fn site() -> Site {
        Site {
            id: SiteId::from_uuid(uuid::Uuid::nil()),
            name: String::new(),
            place: String::new(),
            zone: TimeZone::UTC,
            position: None,
            elevation_m: 0,
            disposal_contact: String::new(),
            waste_title: String::new(),
            emergency_line: String::new(),
            silver_limit_ug_per_l: Some(5_000),
            silver_limit_source: "permit 12".to_owned(),
            version: 1,
        }
    }

    /// 40 CFR 261.24(a): equal to or greater than the value of Table 1, silver 5.0 mg/L.
    #[test]
    fn an_estimate_warns_with_its_high_figure_and_only_a_laboratory_says_below() {
        let holds =
            |low_ug, best_ug, high_ug| Amount { volume_ul: 1_000_000, silver: Silver { best_ug, low_ug, high_ug } };
        let state = |holds, basis| Limit::of(&container(), holds, basis, &site()).expect("a limit").state;
        assert_eq!(state(holds(1_000, 3_000, 5_000), Basis::Area), "at or above the limit");
        assert_eq!(state(holds(1_000, 3_000, 4_999), Basis::Area), "not shown to be below the limit");
        assert_eq!(state(holds(0, 0, 12_000_000), Basis::Unknown), "at or above the limit");
        assert_eq!(state(holds(1_000, 3_000, 4_999), Basis::EstimatingPaper), "not shown to be below the limit");
        assert_eq!(state(holds(3_000, 3_000, 3_000), Basis::Laboratory), "below the limit");
        assert_eq!(state(holds(5_000, 5_000, 5_000), Basis::Laboratory), "at or above the limit");
        assert_eq!(Limit::of(&container(), Amount::NOTHING, Basis::Volume, &site()), None);
    }

    #[test]
    fn what_nobody_knows_is_not_said_to_be_nothing() {
        let unknown = Silver { best_ug: 0, low_ug: 0, high_ug: 60_000_000 };
        assert_eq!(written::grams_if_known(unknown, Basis::Unknown), "not known, at most 60.0 g");
        assert_eq!(written::grams_if_known(Silver::NONE, Basis::Volume), "0 g");
    }
}
