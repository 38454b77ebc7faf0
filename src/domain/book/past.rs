//! What a reading taken at an earlier moment still means now.

use crate::domain::instant::Instant;

use super::{
    Entry, MovementKind, Silver, Vessel,
    course::{as_it_happened, minute, stood_at},
    share,
};

/// What is left now of a difference that was found at a moment: every part that went out since took
/// its share along, and stays booked as it was. `None` when the silver was read again later: that
/// reading found what is there.
pub fn left_of(difference: Silver, vessel: Vessel, entries: &[Entry], at: Instant) -> Option<Silver> {
    let mut since = as_it_happened(entries);
    since.retain(|entry| minute(entry.happened_at) > minute(at) && entry.touches(vessel));
    let mut volume_ul = stood_at(vessel, entries, at).volume_ul;
    let mut left = difference;
    for entry in since {
        if entry.kind == MovementKind::Reading {
            return None;
        }
        let out_ul = if entry.from.vessel() == Some(vessel) { entry.amount.volume_ul } else { 0 };
        if out_ul > 0 && takes_its_share(entry.kind) {
            left = match volume_ul {
                1.. => left - left.map(|ug| share(ug, out_ul.min(volume_ul), volume_ul)),
                _ => Silver::NONE,
            };
        }
        volume_ul += entry.effect_on(vessel).volume_ul;
    }
    Some(left)
}

/// Whether liquid that leaves takes its silver along: not what evaporates, nor what a measurement finds
/// missing.
fn takes_its_share(kind: MovementKind) -> bool {
    !matches!(kind, MovementKind::Evaporation | MovementKind::Measuring)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{
        book::{Account, Amount, Balances, Basis, Draft, moves},
        ids::{BatchId, Id, MovementId, PersonId},
    };
    use proptest::prelude::*;
    use uuid::Uuid;

    fn bath() -> Vessel {
        Vessel::Batch(BatchId::from_uuid(Uuid::from_u128(1)))
    }

    fn of_minute(number: i64) -> Instant {
        Instant::from_micros(1_774_029_600_000_000).expect("in range").plus_minutes(number)
    }

    #[derive(Clone, Copy, Debug)]
    enum Step {
        Load(i64),
        Pour(i64),
        Spill(i64),
        Evaporate(i64),
        Water(i64),
    }

    fn step() -> impl Strategy<Value = Step> {
        prop_oneof![
            3 => (1..200_000i64).prop_map(Step::Load),
            2 => (1..900i64).prop_map(Step::Pour),
            1 => (1..900i64).prop_map(Step::Spill),
            1 => (1..900i64).prop_map(Step::Evaporate),
            1 => (1..900_000i64).prop_map(Step::Water),
        ]
    }

    /// A book of one bath, written in any order.
    #[derive(Default)]
    struct Book {
        entries: Vec<Entry>,
        balances: Balances,
    }

    impl Book {
        fn there(&self) -> (Vessel, Amount) {
            (bath(), self.balances.of(bath()))
        }

        fn write(&mut self, at: i64, drafts: Vec<Draft>) {
            for draft in drafts {
                self.balances.apply(&draft).expect("the book has it");
                self.entries.push(Entry {
                    number: self.entries.len() as i64 + 1,
                    movement: MovementId::from_uuid(Uuid::from_u128(at as u128)),
                    happened_at: of_minute(at),
                    recorded_at: of_minute(at),
                    kind: draft.kind,
                    from: draft.from,
                    to: draft.to,
                    amount: draft.amount,
                    basis: draft.basis,
                    reverses: None,
                    recorded_by: PersonId::from_uuid(Uuid::nil()),
                    remark: String::new(),
                });
            }
        }

        fn step(&mut self, at: i64, step: Step) {
            let there = self.there();
            let part = |thousandths| share(there.1.volume_ul, thousandths, 1000);
            let out = |kind, thousandths| {
                moves::poured(kind, there, Account::WrittenOff, part(thousandths), Basis::Area).into_iter().collect()
            };
            let silver = |best_ug: i64| Silver { best_ug, low_ug: best_ug / 3, high_ug: best_ug * 2 };
            let drafts = match step {
                Step::Load(ug) => vec![moves::late_sheets(silver(ug), bath())],
                Step::Pour(thousandths) => out(MovementKind::Pouring, thousandths),
                Step::Spill(thousandths) => out(MovementKind::Spill, thousandths),
                Step::Evaporate(thousandths) => vec![moves::evaporated(bath(), part(thousandths))],
                Step::Water(ul) => vec![moves::watered(MovementKind::ToppingUp, bath(), ul)],
            };
            self.write(at, drafts);
        }

        fn reads(&mut self, at: i64, ug_per_l: Silver) {
            let drafts = moves::read_at(bath(), &self.entries, of_minute(at), ug_per_l, Basis::Laboratory);
            self.write(at, drafts);
        }
    }

    #[test]
    fn a_reading_of_this_morning_typed_in_tonight_leaves_what_came_in_since() {
        let mut book = Book::default();
        book.write(0, vec![moves::mixed(MovementKind::Mixing, bath(), 1_000_000)]);
        book.step(1, Step::Load(500_000));
        book.step(3, Step::Load(300_000));
        // at minute 2 it was 0.4 g/L, not 0.5: of the 0.8 g now in the book, 0.7 g are there
        book.reads(2, Silver::exactly(400_000));
        assert_eq!(book.there().1.silver.best_ug, 700_000);
        // a reading from before the last one changes nothing
        book.reads(1, Silver::exactly(9_000_000));
        assert_eq!(book.there().1.silver.best_ug, 700_000);
    }

    #[test]
    fn half_poured_out_since_took_half_of_the_difference_along() {
        let mut book = Book::default();
        book.write(0, vec![moves::mixed(MovementKind::Mixing, bath(), 1_000_000)]);
        book.step(1, Step::Load(500_000));
        book.step(3, Step::Pour(500));
        book.reads(2, Silver::exactly(900_000));
        assert_eq!(book.there().1.silver, Silver::exactly(450_000));
    }

    proptest! {
        /// Typed in at once or at the end, a reading leaves the same in the bath, but for roundings of a
        /// microgram a movement.
        #[test]
        fn a_reading_typed_in_late_leaves_what_one_typed_in_at_once_leaves(
            before in prop::collection::vec(step(), 0..12),
            after in prop::collection::vec(step(), 0..12),
            ug_per_l in 0..4_000_000i64,
        ) {
            let read = Silver { best_ug: ug_per_l, low_ug: ug_per_l / 2, high_ug: ug_per_l * 2 };
            let (mut at_once, mut late) = (Book::default(), Book::default());
            let at = before.len() as i64 + 1;
            for book in [&mut at_once, &mut late] {
                book.write(0, vec![moves::mixed(MovementKind::Mixing, bath(), 2_000_000)]);
                for (minute, step) in (1..).zip(&before) {
                    book.step(minute, *step);
                }
            }
            at_once.reads(at, read);
            for (minute, step) in (at + 1..).zip(&after) {
                at_once.step(minute, *step);
                late.step(minute, *step);
            }
            late.reads(at, read);
            let (one, two) = (at_once.there().1, late.there().1);
            prop_assert_eq!(one.volume_ul, two.volume_ul);
            let off = |a: i64, b: i64| (a - b).abs() <= 2 * after.len() as i64 + 2;
            let (a, b) = (one.silver, two.silver);
            prop_assert!(
                off(a.best_ug, b.best_ug) && off(a.low_ug, b.low_ug) && off(a.high_ug, b.high_ug),
                "{:?} against {:?}", a, b
            );
        }
    }
}
