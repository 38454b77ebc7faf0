//! How much waste stands here over time: the volume in all containers that were not yet moved.

use std::collections::BTreeMap;

use crate::domain::{ids::ContainerId, instant::Instant};

/// Liquid into (above zero) or out of (below zero) a container.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Poured {
    /// Which container.
    pub container: ContainerId,
    /// When it happened.
    pub at: Instant,
    /// How much, microlitres.
    pub volume_ul: i64,
}

/// The volume here over time.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct StandingVolume {
    /// Changes in the order they happened, with what stood here afterwards.
    course: Vec<(Instant, i64)>,
}

impl StandingVolume {
    /// Worked out from everything poured, and from when containers were moved to where they are
    /// taken away: from then on they stand no longer here.
    pub fn of(poured: &[Poured], moved: &BTreeMap<ContainerId, Instant>) -> Self {
        let mut poured: Vec<&Poured> = poured.iter().collect();
        poured.sort_by_key(|one| one.at);
        let mut changes: Vec<(Instant, i64)> = Vec::new();
        let mut at_moving: BTreeMap<ContainerId, i64> = BTreeMap::new();
        for one in poured {
            match moved.get(&one.container) {
                Some(moved_at) if one.at > *moved_at => {}
                Some(_) => {
                    *at_moving.entry(one.container).or_default() += one.volume_ul;
                    changes.push((one.at, one.volume_ul));
                }
                None => changes.push((one.at, one.volume_ul)),
            }
        }
        changes.extend(moved.iter().map(|(id, at)| (*at, -at_moving.get(id).copied().unwrap_or(0))));
        // what came in stands before what goes out at the same moment: a blend never dips
        changes.sort_by_key(|(at, change)| (*at, -change));
        let mut stands = 0;
        let course = changes.into_iter().map(|(at, change)| {
            stands += change;
            (at, stands)
        });
        Self { course: course.collect() }
    }

    /// What stands here now, microlitres.
    pub fn now_ul(&self) -> i64 {
        self.course.last().map_or(0, |(_, stands)| *stands)
    }

    /// Since when it has stood past a volume without a break; `None` when it does not now.
    pub fn past_since(&self, volume_ul: i64) -> Option<Instant> {
        let past = |stands: &i64| *stands > volume_ul;
        let (_, rest) =
            self.course.split_at(self.course.iter().rposition(|(_, stands)| !past(stands)).map_or(0, |at| at + 1));
        rest.first().map(|(at, _)| *at)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::ids::Id;
    use uuid::Uuid;

    fn at(day: i64) -> Instant {
        Instant::from_micros(1_774_029_600_000_000).expect("in range").plus_minutes(day * 24 * 60)
    }

    fn can(number: u128) -> ContainerId {
        ContainerId::from_uuid(Uuid::from_u128(number))
    }

    fn poured(container: u128, day: i64, volume_ul: i64) -> Poured {
        Poured { container: can(container), at: at(day), volume_ul }
    }

    #[test]
    fn the_day_it_went_past_is_the_last_time_it_did() {
        // past on day 2, back below on day 3, past again on day 5; typed in out of order
        let all = [poured(1, 1, 60), poured(2, 5, 50), poured(2, 2, 50), poured(1, 3, -60)];
        let volume = StandingVolume::of(&all, &BTreeMap::new());
        assert_eq!(volume.now_ul(), 100);
        assert_eq!(volume.past_since(99), Some(at(5)));
        assert_eq!(volume.past_since(49), Some(at(1)));
        assert_eq!(volume.past_since(100), None, "past means more");
    }

    #[test]
    fn what_was_moved_stands_no_longer_here() {
        let all = [poured(1, 1, 80), poured(2, 2, 40), poured(1, 4, -80)];
        let volume = StandingVolume::of(&all, &BTreeMap::from([(can(1), at(3))]));
        assert_eq!(volume.now_ul(), 40);
        assert_eq!(volume.past_since(50), None);
    }

    #[test]
    fn one_poured_into_another_changes_nothing() {
        let all = [poured(1, 1, 80), poured(1, 2, -80), poured(2, 2, 80)];
        let volume = StandingVolume::of(&all, &BTreeMap::new());
        assert_eq!(volume.past_since(50), Some(at(1)));
    }
}
