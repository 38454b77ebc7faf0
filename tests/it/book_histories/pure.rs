//! The pure book: three batches and three containers that are never closed.

use proptest::prelude::*;
use shimlight::domain::{
    book::{
        Account, Act as BookAct, Amount, Balances, Basis, Draft, Entry, MovementKind, Silver, Vessel, basis_at,
        course::{course, least_since, made_impossible, stood_at},
        laws,
        moves::{self, Bath},
        share, standing,
    },
    ids::{BatchId, ContainerId, Id, MovementId, PersonId},
    instant::Instant,
};
use uuid::Uuid;

use super::{Act, Step, act, carried, conserved, delivered, opening, read_as, seeded, step};
use crate::app::noon;

/// A book in memory with three batches and three containers that are never closed.
struct Pure {
    entries: Vec<Entry>,
    balances: Balances,
    batches: Vec<Vessel>,
    containers: Vec<Vessel>,
    movements: u128,
    /// The time, and the time of what is being done.
    now: Instant,
    at: Instant,
    /// Acts tried, and those refused or without effect.
    tried: u64,
    refused: u64,
}

fn uuid_of(number: u128) -> Uuid {
    Uuid::from_u128(number)
}

impl Pure {
    fn new() -> Self {
        let batches = (1..=3).map(|n| Vessel::Batch(BatchId::from_uuid(uuid_of(n)))).collect();
        let containers = (11..=13).map(|n| Vessel::Container(ContainerId::from_uuid(uuid_of(n)))).collect();
        Self {
            entries: Vec::new(),
            balances: Balances::default(),
            batches,
            containers,
            movements: 100,
            now: noon(),
            at: noon(),
            tried: 0,
            refused: 0,
        }
    }

    fn vessel(&self, index: usize) -> Vessel {
        let all: Vec<Vessel> = self.batches.iter().chain(&self.containers).copied().collect();
        all[index % all.len()]
    }

    fn there(&self, vessel: Vessel) -> (Vessel, Amount) {
        (vessel, stood_at(vessel, &self.entries, self.at))
    }

    fn bath(&self, vessel: Vessel) -> Bath {
        let least = least_since(vessel, &self.entries, self.at);
        Bath { vessel, holds: self.there(vessel).1, least }
    }

    /// Writes drafts as one movement of the time it is about, or nothing of them.
    fn post(&mut self, drafts: Vec<Draft>) {
        let mut after = self.balances.clone();
        let mut overdrawn = drafts.is_empty() || drafts.iter().any(|draft| after.apply(draft).is_err());
        let of = BookAct {
            movement: MovementId::from_uuid(uuid_of(self.movements + 1)),
            happened_at: self.at,
            recorded_at: self.now,
            recorded_by: PersonId::from_uuid(uuid_of(7)),
        };
        let number = self.entries.len() as i64 + 1;
        let planned: Vec<Entry> = (number..).zip(&drafts).map(|(number, draft)| draft.entry(number, &of)).collect();
        let with = [self.entries.as_slice(), &planned].concat();
        for vessel in self.batches.iter().chain(&self.containers) {
            overdrawn |= made_impossible(*vessel, &self.entries, &with).is_some();
        }
        if overdrawn {
            self.refused += 1;
            return;
        }
        self.balances = after;
        self.movements += 1;
        self.entries = with;
    }

    fn step(&mut self, Step { act, ago }: Step) {
        self.now = self.now.plus_minutes(if let Act::Wait { days } = act { days * 24 * 60 } else { 1 });
        // a laboratory answers later than one types
        let ago = if let Act::ReadLate { ago: read, .. } = act { ago + read } else { ago };
        self.at = self.now.plus_minutes(-ago).max(noon());
        self.act(act);
    }

    fn act(&mut self, act: Act) {
        self.tried += 1;
        let drafts = self.plan(act);
        // by the time it happened what is taken back and what takes it back cancel
        let reversed = drafts.iter().find_map(|draft| draft.reverses);
        if let Some(original) = reversed.and_then(|number| self.entries.iter().find(|entry| entry.number == number)) {
            self.at = original.happened_at;
        }
        // the store refuses what the wash does not have
        let from_wash = drafts.iter().filter(|draft| draft.from == Account::Wash);
        let taken = from_wash.fold(Silver::NONE, |sum, draft| sum + draft.amount.silver);
        if (self.wash() - taken).map(|ug| ug.min(0)) == Silver::NONE {
            self.post(drafts);
        }
    }

    /// What sheets carried into the wash and no rinse took out of it.
    fn wash(&self) -> Silver {
        self.entries.iter().fold(Silver::NONE, |sum, entry| match (entry.from, entry.to) {
            (_, Account::Wash) => sum + entry.amount.silver,
            (Account::Wash, _) => sum - entry.amount.silver,
            _ => sum,
        })
    }

    fn plan(&self, act: Act) -> Vec<Draft> {
        let batch = |index: usize| self.batches[index % 3];
        let container = |index: usize| self.containers[index % 3];
        let part = |vessel, thousandths| share(self.there(vessel).1.volume_ul, thousandths, 1000);
        let poured = |kind, from, to, thousandths| {
            let basis = basis_at(from, &self.entries, self.at);
            moves::poured(kind, self.there(from), to, part(from, thousandths), basis).into_iter().collect()
        };
        match act {
            Act::Mix { ml } => vec![moves::mixed(MovementKind::Mixing, batch(ml as usize), ml * 1000)],
            Act::Load { batch: index, sheets, two } => {
                let second = two.then(|| self.bath(batch(index + 1)));
                moves::sheets(delivered(sheets), carried(sheets), self.bath(batch(index)), second)
            }
            Act::Spill { vessel, share } => {
                poured(MovementKind::Spill, self.vessel(vessel), Account::WrittenOff, share)
            }
            Act::Evaporate { vessel, share } => {
                vec![moves::evaporated(self.vessel(vessel), part(self.vessel(vessel), share))]
            }
            Act::Measure { vessel, share } => {
                let vessel = self.vessel(vessel);
                moves::measured(MovementKind::Measuring, self.there(vessel), part(vessel, share)).into_iter().collect()
            }
            Act::Read { vessel, mg_per_l, spread } => moves::read_at(
                self.vessel(vessel),
                &self.entries,
                self.at,
                read_as(mg_per_l, spread),
                Basis::Laboratory,
            ),
            Act::TopUp { batch: index, ml, .. } => {
                vec![moves::watered(MovementKind::ToppingUp, batch(index), ml * 1000)]
            }
            Act::Retire { batch: index, container: into, .. } => {
                poured(MovementKind::Retiring, batch(index), container(into).into(), 1000)
            }
            Act::Pour { from, container: into, share } if self.vessel(from) != container(into) => {
                poured(MovementKind::Pouring, self.vessel(from), container(into).into(), share)
            }
            Act::Pour { .. } => Vec::new(),
            Act::Recover { container: index, share: thousandths } => {
                let there = self.there(container(index));
                vec![moves::recovered(there, share(there.1.silver.best_ug, thousandths, 1000))]
            }
            Act::Discharge { vessel, share } => {
                poured(MovementKind::Discharge, self.vessel(vessel), Account::Discharged, share)
            }
            Act::Remove { container: index } => poured(MovementKind::Removal, container(index), Account::Removed, 1000),
            Act::Reverse { back } => self.mirror(back),
            Act::Rinse { container: index, ml, share: thousandths } => {
                let carried = self.wash().map(|ug| share(ug, thousandths, 1000));
                moves::rinsed(container(index), ml * 1000, carried)
            }
            Act::Scrap { container: index, sheets, .. } => vec![moves::scrapped(container(index), delivered(sheets))],
            Act::LateSheet { batch: index, sheets } => vec![moves::late_sheets(delivered(sheets), container(index))],
            Act::Open { ml, known } => {
                let old = opening(ml, known);
                vec![moves::opened(container(ml as usize), old.amount(), old.basis())]
            }
            Act::Sample { vessel, share } => {
                poured(MovementKind::Sample, self.vessel(vessel), Account::WrittenOff, share)
            }
            Act::ReadLate { vessel, mg_per_l, spread, .. } => {
                let read = read_as(mg_per_l, spread);
                moves::read_at(self.vessel(vessel), &self.entries, self.at, read, Basis::EstimatingPaper)
            }
            // one of the last sheets is put right: taken back here, and loaded again by the next act
            Act::Correct { back, .. } => self.mirror_of(back, |entry| entry.kind == MovementKind::Sheet),
            Act::Wait { .. } => Vec::new(),
            Act::PutRight { back, .. } => self.mirror_of(back, |entry| entry.to == Account::WrittenOff),
            Act::Decide { back: _, container: index } => {
                vec![moves::late_sheets(delivered(1), container(index))]
            }
        }
    }

    /// What is wrong in either order, if anything is.
    fn wrong(&self) -> Result<(), String> {
        if let Some(fault) = laws::broken(&self.entries).into_iter().next() {
            return Err(format!("{fault:?}"));
        }
        // these vessels are there from the beginning and are never closed: what is left is never below zero
        for vessel in self.batches.iter().chain(&self.containers) {
            if let Some(step) = course(*vessel, &self.entries).iter().find(|step| step.after.below_zero().is_some()) {
                return Err(format!("as it happened: {step:?}"));
            }
        }
        if laws::balances(&self.entries) != self.balances {
            return Err("the balances are not what the entries add up to".to_owned());
        }
        conserved(&self.entries)
    }

    /// The mirror of one of the last standing movements.
    fn mirror(&self, back: usize) -> Vec<Draft> {
        self.mirror_of(back, |_| true)
    }

    fn mirror_of(&self, back: usize, which: impl Fn(&Entry) -> bool) -> Vec<Draft> {
        let mut movements: Vec<MovementId> =
            standing(&self.entries).filter(|entry| which(entry)).map(|entry| entry.movement).collect();
        movements.dedup();
        let Some(movement) = movements.iter().rev().nth(back) else { return Vec::new() };
        let own: Vec<Entry> = self.entries.iter().filter(|entry| entry.movement == *movement).cloned().collect();
        moves::mirrored(&own)
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_laws_hold_after_every_step_of_any_history(steps in prop::collection::vec(step(), 1..60)) {
        let mut lab = Pure::new();
        for step in steps {
            lab.step(step);
            prop_assert_eq!(lab.wrong(), Ok(()), "after {:?}", step);
        }
    }

    #[test]
    fn a_movement_and_its_mirror_leave_everything_as_it_was(
        acts in prop::collection::vec(act(), 1..40), last in act(),
    ) {
        let mut lab = Pure::new();
        for act in acts {
            lab.act(act);
        }
        let before = lab.balances.clone();
        let entries = lab.entries.len();
        lab.act(last);
        let new: Vec<Entry> = lab.entries[entries..].to_vec();
        if new.iter().all(|entry| entry.reverses.is_none()) {
            lab.post(moves::mirrored(&new));
            for (vessel, amount) in lab.balances.iter() {
                prop_assert_eq!(amount, before.of(vessel), "{:?}", last);
            }
        }
    }

    #[test]
    fn a_fault_put_into_a_book_is_found(acts in prop::collection::vec(act(), 5..40), at in 0..200usize, fault in 0..5u8) {
        let mut lab = Pure::new();
        lab.act(Act::Mix { ml: 3000 });
        for act in acts {
            lab.act(act);
        }
        let mut entries = lab.entries.clone();
        let at = at % entries.len();
        let last = entries.len() as i64;
        match fault {
            // an entry lost: the numbers have a gap, which is allowed, so take a source away instead
            0 => entries[at].amount.volume_ul = -1,
            1 => {
                let mut twice = entries[at].clone();
                twice.number = last + 1;
                twice.reverses = Some(entries[at].number);
                entries.push(twice);
            }
            2 => {
                let vessel = Vessel::Batch(BatchId::from_uuid(uuid_of(99)));
                let mut from_nowhere = entries[at].clone();
                from_nowhere.number = last + 1;
                from_nowhere.from = vessel.into();
                from_nowhere.to = Account::Wash;
                from_nowhere.amount.volume_ul = 1;
                entries.push(from_nowhere);
            }
            3 => entries[at].number = 0,
            _ => {
                let to = entries[at].to;
                entries[at].from = to;
            }
        }
        prop_assert!(!laws::broken(&entries).is_empty(), "fault {} at {}", fault, at);
    }
}

/// A hundred thousand movements across seeds, every law after each: see the top of `mod.rs`.
#[test]
#[ignore = "a long run, of minutes"]
fn a_hundred_thousand_movements_of_the_pure_book_keep_every_law_in_both_orders() {
    let (wanted, first) = super::asked_for();
    let (mut tried, mut refused, mut entries, mut histories) = (0, 0, 0, 0);
    for seed in first.. {
        let mut lab = Pure::new();
        for step in seeded(seed, step(), 150) {
            lab.step(step);
            assert_eq!(lab.wrong(), Ok(()), "seed {seed} after {step:?}");
        }
        (tried, refused, histories) = (tried + lab.tried, refused + lab.refused, histories + 1);
        entries += lab.entries.len();
        if tried >= wanted {
            break;
        }
    }
    println!("pure book: {histories} histories, {tried} movements tried, {refused} refused, {entries} entries");
}
