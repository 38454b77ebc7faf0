//! Random histories of a darkroom, on the pure book and on the stored one: whatever is done in
//! whatever order, what is refused changes nothing and the laws hold after every step.

use proptest::prelude::*;
use shimlight::domain::{
    batch::{Batch, Slot},
    book::{
        Account, Amount, Balances, Basis, Draft, Entry, MovementKind, Silver, Vessel, basis_of, laws, moves, share,
        standing,
    },
    container::{Container, ContainerState, Contents},
    ids::{BatchId, ContainerId, Id, MovementId, PersonId},
    product::ProductKind,
    reading::Method,
    removal::Removal,
};
use shimlight::store::{
    self, WriteError,
    movements::{self, Addition, Loss},
    reversals, sheet_runs,
};
use uuid::Uuid;

use crate::{app::noon, silver_book::Darkroom};

/// Something done. Small numbers choose among what there is; shares are thousandths of what stands
/// there, more than a thousand asking for more than there is.
#[derive(Clone, Copy, Debug)]
enum Act {
    Mix { ml: i64 },
    Load { batch: usize, sheets: i64, two: bool },
    Spill { vessel: usize, share: i64 },
    Evaporate { vessel: usize, share: i64 },
    Measure { vessel: usize, share: i64 },
    Read { vessel: usize, mg_per_l: i64, spread: i64 },
    TopUp { batch: usize, share: i64, ml: i64 },
    Retire { batch: usize, container: usize, share: i64 },
    Pour { from: usize, container: usize, share: i64 },
    Recover { container: usize, share: i64 },
    Discharge { vessel: usize, share: i64 },
    Remove { container: usize },
    Reverse { back: usize },
    LateSheet { batch: usize, sheets: i64 },
}

fn act() -> impl Strategy<Value = Act> {
    let some = 0..6usize;
    let part = prop_oneof![4 => 0..=1000i64, 1 => Just(1000), 1 => 1001..=1300i64];
    prop_oneof![
        2 => (1..=4000i64).prop_map(|ml| Act::Mix { ml }),
        6 => (some.clone(), 1..=40i64, any::<bool>()).prop_map(|(batch, sheets, two)| Act::Load { batch, sheets, two }),
        1 => (some.clone(), part.clone()).prop_map(|(vessel, share)| Act::Spill { vessel, share }),
        1 => (some.clone(), part.clone()).prop_map(|(vessel, share)| Act::Evaporate { vessel, share }),
        2 => (some.clone(), part.clone()).prop_map(|(vessel, share)| Act::Measure { vessel, share }),
        2 => (some.clone(), 0..=4000i64, 0..=1000i64)
            .prop_map(|(vessel, mg_per_l, spread)| Act::Read { vessel, mg_per_l, spread }),
        1 => (some.clone(), part.clone(), 0..=2000i64).prop_map(|(batch, share, ml)| Act::TopUp { batch, share, ml }),
        2 => (some.clone(), some.clone(), part.clone())
            .prop_map(|(batch, container, share)| Act::Retire { batch, container, share }),
        1 => (some.clone(), some.clone(), part.clone())
            .prop_map(|(from, container, share)| Act::Pour { from, container, share }),
        1 => (some.clone(), part.clone()).prop_map(|(container, share)| Act::Recover { container, share }),
        1 => (some.clone(), part).prop_map(|(vessel, share)| Act::Discharge { vessel, share }),
        1 => some.clone().prop_map(|container| Act::Remove { container }),
        3 => (0..12usize).prop_map(|back| Act::Reverse { back }),
        2 => (some, 1..=20i64).prop_map(|(batch, sheets)| Act::LateSheet { batch, sheets }),
    ]
}

/// Silver of sheets of 4x5 inches, with the honest range of papers, and what they carry off.
fn delivered(sheets: i64) -> Silver {
    let area = sheets * 12_903;
    Silver {
        best_ug: moves::per_area(area, 970_000),
        low_ug: moves::per_area(area, 350_000),
        high_ug: moves::per_area(area, 1_610_000),
    }
}

fn carried(sheets: i64) -> i64 {
    moves::per_area(sheets * 12_903, 35_000)
}

/// A reading of so many milligrams a litre, give or take.
fn read_as(mg_per_l: i64, spread: i64) -> Silver {
    let ug = |mg: i64| mg.max(0) * 1000;
    Silver { best_ug: ug(mg_per_l), low_ug: ug(mg_per_l - spread), high_ug: ug(mg_per_l + spread) }
}

// ------------------------------------------------------------------ the pure book

/// A book in memory with three batches and three containers that are never closed.
struct Pure {
    entries: Vec<Entry>,
    balances: Balances,
    batches: Vec<Vessel>,
    containers: Vec<Vessel>,
    movements: u128,
}

fn uuid_of(number: u128) -> Uuid {
    Uuid::from_u128(number)
}

impl Pure {
    fn new() -> Self {
        let batches = (1..=3).map(|n| Vessel::Batch(BatchId::from_uuid(uuid_of(n)))).collect();
        let containers = (11..=13).map(|n| Vessel::Container(ContainerId::from_uuid(uuid_of(n)))).collect();
        Self { entries: Vec::new(), balances: Balances::default(), batches, containers, movements: 100 }
    }

    fn vessel(&self, index: usize) -> Vessel {
        let all: Vec<Vessel> = self.batches.iter().chain(&self.containers).copied().collect();
        all[index % all.len()]
    }

    fn there(&self, vessel: Vessel) -> (Vessel, Amount) {
        (vessel, self.balances.of(vessel))
    }

    /// Writes drafts as one movement, or nothing of them.
    fn post(&mut self, drafts: Vec<Draft>) {
        let mut after = self.balances.clone();
        if drafts.iter().any(|draft| after.apply(draft).is_err()) {
            return;
        }
        self.balances = after;
        self.movements += 1;
        for draft in drafts {
            self.entries.push(Entry {
                number: self.entries.len() as i64 + 1,
                movement: MovementId::from_uuid(uuid_of(self.movements)),
                happened_at: noon(),
                recorded_at: noon(),
                kind: draft.kind,
                from: draft.from,
                to: draft.to,
                amount: draft.amount,
                basis: draft.basis,
                reverses: draft.reverses,
                recorded_by: PersonId::from_uuid(uuid_of(7)),
                remark: String::new(),
            });
        }
    }

    fn act(&mut self, act: Act) {
        let drafts = self.plan(act);
        self.post(drafts);
    }

    fn plan(&self, act: Act) -> Vec<Draft> {
        let batch = |index: usize| self.batches[index % 3];
        let container = |index: usize| self.containers[index % 3];
        let part = |vessel, thousandths| share(self.balances.of(vessel).volume_ul, thousandths, 1000);
        let poured = |kind, from, to, thousandths| {
            let basis = basis_of(from, &self.entries);
            moves::poured(kind, self.there(from), to, part(from, thousandths), basis).into_iter().collect()
        };
        match act {
            Act::Mix { ml } => vec![moves::mixed(MovementKind::Mixing, batch(ml as usize), ml * 1000)],
            Act::Load { batch: index, sheets, two } => {
                let second = two.then(|| self.there(batch(index + 1)));
                moves::sheets(delivered(sheets), carried(sheets), self.there(batch(index)), second)
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
            Act::Read { vessel, mg_per_l, spread } => {
                moves::read(self.there(self.vessel(vessel)), read_as(mg_per_l, spread), Basis::Laboratory)
            }
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
            Act::LateSheet { batch: index, sheets } => vec![moves::late_sheets(delivered(sheets), container(index))],
        }
    }

    /// The mirror of one of the last standing movements.
    fn mirror(&self, back: usize) -> Vec<Draft> {
        let mut movements: Vec<MovementId> = standing(&self.entries).map(|entry| entry.movement).collect();
        movements.dedup();
        let Some(movement) = movements.iter().rev().nth(back) else { return Vec::new() };
        let own: Vec<Entry> = self.entries.iter().filter(|entry| entry.movement == *movement).cloned().collect();
        moves::mirrored(&own)
    }
}

/// What went in minus what went out, added up without the book's own sums.
fn conserved(entries: &[Entry]) -> Result<(), String> {
    let figures = |amount: Amount| {
        [amount.volume_ul, amount.silver.best_ug, amount.silver.low_ug, amount.silver.high_ug].map(i128::from)
    };
    let mut by_class = [[0i128; 4]; 3];
    for entry in entries {
        for (account, sign) in [(entry.from, -1), (entry.to, 1)] {
            let class = match account.word() {
                "mixed" | "water" | "paper" | "opening" => 0,
                "batch" | "container" => 1,
                _ => 2,
            };
            for (sum, figure) in by_class[class].iter_mut().zip(figures(entry.amount)) {
                *sum += sign * figure;
            }
        }
    }
    let [sources, stores, sinks] = by_class;
    for i in 0..4 {
        if -sources[i] != stores[i] + sinks[i] || stores[i] < 0 || sinks[i] < 0 {
            return Err(format!("figure {i}: sources {sources:?}, stores {stores:?}, sinks {sinks:?}"));
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_laws_hold_after_every_step_of_any_history(acts in prop::collection::vec(act(), 1..60)) {
        let mut lab = Pure::new();
        for act in acts {
            lab.act(act);
            prop_assert_eq!(laws::broken(&lab.entries), vec![], "after {:?}", act);
            prop_assert_eq!(conserved(&lab.entries), Ok(()), "after {:?}", act);
            prop_assert_eq!(&laws::balances(&lab.entries), &lab.balances, "after {:?}", act);
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

// ------------------------------------------------------------------ the stored book

/// A stored darkroom under random acts.
struct Stored {
    lab: Darkroom,
    batches: Vec<Batch>,
    containers: Vec<ContainerId>,
}

impl Stored {
    async fn new() -> Self {
        let lab = Darkroom::new().await;
        let mut stored = Self { lab, batches: Vec::new(), containers: Vec::new() };
        for _ in 0..2 {
            stored.mixes(2000).await;
            stored.sets_up().await;
        }
        stored
    }

    async fn mixes(&mut self, ml: i64) {
        let batch = self.lab.mixes_ml(ProductKind::Fixer, ml).await;
        self.batches.push(batch);
    }

    async fn sets_up(&mut self) {
        let container = Container {
            id: self.lab.app.state.mint(),
            site: self.lab.evening.site,
            label_number: 0,
            contents: Contents::SpentFixer,
            hazards: "irritant".to_owned(),
            place: String::new(),
            capacity_ul: 20_000_000,
            state: ContainerState::Filling,
            first_drop_at: None,
            full_at: None,
            moved_at: None,
            put_away_at: None,
            version: 1,
        };
        self.containers.push(container.id);
        let occasion = self.lab.occasion("");
        self.lab
            .does(move |tx| {
                Box::pin(async move { movements::set_up(tx, &occasion, &container, Amount::NOTHING).await.map(drop) })
            })
            .await
            .expect("set up");
    }

    async fn there(&self, vessel: Vessel) -> Amount {
        let mut conn = self.lab.app.state.store.read().await.expect("a reader");
        store::book::balance(&mut conn, vessel).await.expect("a balance")
    }

    fn vessel(&self, index: usize) -> Vessel {
        let batches = self.batches.iter().map(|batch| Vessel::Batch(batch.id));
        let all: Vec<Vessel> = batches.chain(self.containers.iter().map(|id| Vessel::Container(*id))).collect();
        all[index % all.len()]
    }

    async fn part(&self, vessel: Vessel, thousandths: i64) -> i64 {
        share(self.there(vessel).await.volume_ul, thousandths, 1000)
    }

    /// Sets one or two fixers in and puts sheets through, now or as if a while ago.
    async fn loads(&self, index: usize, sheets: i64, second: Option<usize>, ago: i64) -> Result<(), WriteError> {
        let batch = &self.batches[index % self.batches.len()];
        let second = second.map(|second| &self.batches[second % self.batches.len()]);
        let run = sheet_runs::NewSheetRun {
            developed_at: self.lab.now().plus_minutes(-ago),
            ..self.lab.four_by_five(sheets)
        };
        if ago == 0 {
            for (slot, batch) in [(Slot::Fixer, Some(batch)), (Slot::SecondFixer, second)] {
                let Some(batch) = batch else { continue };
                let (id, line, batch, now) =
                    (self.lab.app.state.mint(), self.lab.evening.tray_line, batch.id, self.lab.now());
                // refused when it is retired or stands elsewhere: then the sheets go where they go
                drop(
                    self.lab
                        .does(move |tx| {
                            Box::pin(async move { movements::set_in(tx, id, (line, slot), batch, now, now).await })
                        })
                        .await,
                );
            }
        }
        self.lab.puts_through(run).await.map(drop)
    }

    async fn act(&mut self, act: Act) -> Result<(), WriteError> {
        self.lab.app.state.world.clock.forward_minutes(1);
        let occasion = self.lab.occasion("as it happened");
        let state = &self.lab.app.state;
        let container = |index: usize| self.containers[index % self.containers.len()];
        let batch = |index: usize| self.batches[index % self.batches.len()].id;
        match act {
            Act::Mix { ml } => {
                if self.batches.len() < 6 {
                    self.mixes(ml).await;
                }
                Ok(())
            }
            Act::Load { batch, sheets, two } => self.loads(batch, sheets, two.then_some(batch + 1), 0).await,
            Act::LateSheet { batch, sheets } => self.loads(batch, sheets, None, 5).await,
            Act::Spill { vessel, share } => {
                let vessel = self.vessel(vessel);
                let volume = self.part(vessel, share).await;
                self.lab
                    .does(move |tx| {
                        Box::pin(async move { movements::write_off(tx, &occasion, vessel, Loss::Spill, volume).await })
                    })
                    .await
            }
            Act::Evaporate { vessel, share } => {
                let vessel = self.vessel(vessel);
                let volume = self.part(vessel, share).await;
                self.lab
                    .does(move |tx| {
                        Box::pin(
                            async move { movements::write_off(tx, &occasion, vessel, Loss::Evaporation, volume).await },
                        )
                    })
                    .await
            }
            Act::Measure { vessel, share } => {
                let vessel = self.vessel(vessel);
                let measured = self.part(vessel, share).await;
                self.lab
                    .does(move |tx| Box::pin(async move { movements::measure(tx, &occasion, vessel, measured).await }))
                    .await
            }
            Act::Read { vessel, mg_per_l, spread } => {
                let (vessel, id, silver) = (self.vessel(vessel), state.mint(), read_as(mg_per_l, spread));
                self.lab
                    .does(move |tx| {
                        Box::pin(async move {
                            movements::read_silver(tx, &occasion, id, vessel, Method::EstimatingPaper, silver).await
                        })
                    })
                    .await
            }
            Act::TopUp { batch: index, share, ml } => {
                let id = batch(index);
                let measured = self.part(Vessel::Batch(id), share).await;
                let addition = if ml % 2 == 0 { Addition::Fresh } else { Addition::Water };
                self.lab
                    .does(move |tx| {
                        Box::pin(
                            async move { movements::top_up(tx, &occasion, id, measured, (addition, ml * 1000)).await },
                        )
                    })
                    .await
            }
            Act::Retire { batch: index, container: into, share } => {
                let (id, into) = (batch(index), container(into));
                let measured = self.part(Vessel::Batch(id), share).await;
                let version = self.version(id).await;
                self.lab
                    .does(move |tx| {
                        Box::pin(async move {
                            movements::retire(tx, &occasion, (id, version), measured, Some(into), "").await
                        })
                    })
                    .await
            }
            Act::Pour { from, container: into, share } => {
                let (from, into) = (self.vessel(from), container(into));
                let volume = self.part(from, share).await;
                self.lab
                    .does(move |tx| {
                        Box::pin(async move { movements::pour(tx, &occasion, from, into, volume, "").await })
                    })
                    .await
            }
            Act::Recover { container: index, share: thousandths } => {
                let id = container(index);
                let silver = share(self.there(Vessel::Container(id)).await.silver.best_ug, thousandths, 1000);
                self.lab
                    .does(move |tx| Box::pin(async move { movements::recover(tx, &occasion, id, silver).await }))
                    .await
            }
            Act::Discharge { vessel, share } => {
                let (vessel, id) = (self.vessel(vessel), state.mint());
                let volume = self.part(vessel, share).await;
                self.lab
                    .does(move |tx| {
                        Box::pin(async move {
                            movements::discharge(tx, &occasion, id, vessel, volume, "permit 12 of the sewer works")
                                .await
                        })
                    })
                    .await
            }
            Act::Remove { container: index } => {
                let id = container(index);
                let removal = self.removal(id, &occasion);
                let mut conn = state.store.read().await.expect("a reader");
                let version = store::containers::find(&mut conn, id).await.expect("read").expect("there").version;
                drop(conn);
                let done = self
                    .lab
                    .does(move |tx| Box::pin(async move { movements::remove(tx, &occasion, version, &removal).await }))
                    .await;
                if done.is_ok() {
                    self.sets_up().await;
                }
                done
            }
            Act::Reverse { back } => {
                let entries = self.lab.entries().await;
                let mut movements: Vec<MovementId> = entries.iter().map(|entry| entry.movement).collect();
                movements.dedup();
                let Some(movement) = movements.into_iter().rev().nth(back) else { return Ok(()) };
                let (actor, id, now) = (self.lab.actor, state.mint(), self.lab.now());
                self.lab
                    .does(move |tx| {
                        Box::pin(async move { reversals::reverse(tx, actor, movement, id, now, "a slip").await })
                    })
                    .await
            }
        }
    }

    async fn version(&self, batch: BatchId) -> i64 {
        let mut conn = self.lab.app.state.store.read().await.expect("a reader");
        store::batches::find(&mut conn, batch).await.expect("read").expect("there").version
    }

    fn removal(&self, container: ContainerId, occasion: &movements::Occasion) -> Removal {
        Removal {
            id: self.lab.app.state.mint(),
            movement: occasion.movement,
            container,
            carrier: "Fell & Daughters".to_owned(),
            destination: "Silver works, dock 4".to_owned(),
            reference: "FD-1".to_owned(),
            mass_g: None,
            removed_at: occasion.happened_at,
            copy_returned_on: None,
            undone_at: None,
            version: 1,
        }
    }
}

/// Runs a history on a stored darkroom and gives what is wrong, if anything.
fn wrong_after(acts: &[Act]) -> Result<(), String> {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().expect("a runtime");
    runtime.block_on(async {
        let mut lab = Stored::new().await;
        for act in acts {
            let before = lab.lab.entries().await.len();
            match lab.act(*act).await {
                Ok(()) => {}
                Err(WriteError::Refused(_) | WriteError::Stale(_)) => {
                    let after = lab.lab.entries().await.len();
                    if after != before {
                        return Err(format!("{act:?} was refused and left {} entries", after - before));
                    }
                }
                Err(other) => return Err(format!("{act:?}: {other}")),
            }
        }
        let entries = lab.lab.entries().await;
        conserved(&entries)?;
        let balances = laws::balances(&entries);
        for index in 0..12 {
            let vessel = lab.vessel(index);
            let (stored, added) = (lab.there(vessel).await, balances.of(vessel));
            if stored != added {
                return Err(format!("{vessel:?} holds {stored:?} and its entries add up to {added:?}"));
            }
        }
        let mut conn = lab.lab.app.state.store.read().await.expect("a reader");
        let faults = store::check::run(&mut conn).await.expect("a check");
        faults.first().map_or(Ok(()), |fault| Err(format!("{fault}")))
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_stored_book_keeps_the_laws_through_any_history(acts in prop::collection::vec(act(), 1..30)) {
        prop_assert_eq!(wrong_after(&acts), Ok(()));
    }
}
