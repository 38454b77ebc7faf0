//! The stored book under the same acts, with everything the store refuses.

use std::{
    fs,
    path::{Path, PathBuf},
};

use proptest::prelude::*;
use shimlight::domain::{
    baths::{
        batch::{Batch, Slot},
        sheet_run::Decision,
        shortfall::Missing,
    },
    book::{self, Amount, MovementKind, Vessel, laws, share},
    ids::{BatchId, ContainerId, MovementId},
    stock::product::ProductKind,
    waste::{
        container::{Container, Contents, Life},
        opening::Opening,
        reading::Method,
        recovery::Recovery,
        removal::Removal,
        scrap::Scrap,
    },
};
use shimlight::store::{
    self, WriteError,
    baths::sheet_runs,
    book::{
        movements::{self, Addition, Loss, Retiring},
        reversals,
    },
};

use super::{Act, Step, asked_for, conserved, opening, read_as, seeded, step};
use crate::{app::noon, darkroom::Darkroom};

/// Where what is missing went, now and then left out.
fn missing(number: i64) -> Option<Missing> {
    [Some(Missing::Evaporated), Some(Missing::Spilled), None, Some(Missing::Otherwise)][number.rem_euclid(4) as usize]
}

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
            stored.sets_up(None).await;
        }
        stored
    }

    async fn mixes(&mut self, ml: i64) {
        let batch = self.lab.mixes_ml(ProductKind::Fixer, ml).await;
        self.batches.push(batch);
    }

    async fn sets_up(&mut self, already: Option<Opening>) {
        let container = Container {
            id: self.lab.app.state.mint(),
            site: self.lab.evening.site,
            label_number: 0,
            contents: Contents::SpentFixer,
            hazards: "irritant".to_owned(),
            place: String::new(),
            capacity_ul: 20_000_000,
            life: Life::NEW,
            first_drop_at: None,
            version: 1,
        };
        self.containers.push(container.id);
        let occasion = self.lab.occasion("");
        self.lab
            .does(move |tx| {
                Box::pin(async move { movements::set_up(tx, &occasion, &container, already).await.map(drop) })
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
            developed_at: self.lab.now().plus_minutes(-ago).max(noon()),
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

    #[expect(clippy::too_many_lines, reason = "one arm for each kind of movement, read side by side")]
    async fn step(&mut self, Step { act, ago }: Step) -> Result<(), WriteError> {
        let waits = if let Act::Wait { days } = act { days * 24 * 60 } else { 1 };
        self.lab.app.state.world.clock.forward_minutes(waits);
        let now = self.lab.now();
        let occasion = movements::Occasion {
            happened_at: now.plus_minutes(-ago).max(noon()),
            ..self.lab.occasion("as it happened")
        };
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
            Act::Wait { .. } => Ok(()),
            Act::Load { batch, sheets, two } => self.loads(batch, sheets, two.then_some(batch + 1), ago).await,
            Act::LateSheet { batch, sheets } => self.loads(batch, sheets, None, ago + 5).await,
            Act::PutRight { back, share } => self.puts_right(back, share).await,
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
                    .does(move |tx| {
                        Box::pin(
                            async move { movements::measure(tx, &occasion, vessel, measured, missing(share)).await },
                        )
                    })
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
                        Box::pin(async move {
                            movements::top_up(tx, &occasion, id, (measured, missing(ml)), (addition, ml * 1000)).await
                        })
                    })
                    .await
            }
            Act::Retire { batch: index, container: into, share } => {
                let (id, into) = (batch(index), container(into));
                let measured = self.part(Vessel::Batch(id), share).await;
                let version = self.version(id).await;
                self.lab
                    .does(move |tx| {
                        let retiring = Retiring {
                            batch: id,
                            version,
                            measured_ul: measured,
                            missing: missing(share),
                            into: Some(into),
                            although: String::new(),
                        };
                        Box::pin(async move { movements::retire(tx, &occasion, &retiring).await })
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
                let recovery = Recovery {
                    id: state.mint(),
                    movement: occasion.movement,
                    container: id,
                    treated_ul: None,
                    means: "steel wool cartridge".to_owned(),
                    before_ug_per_l: None,
                    after_ug_per_l: Some(700_000),
                    measured_how: String::new(),
                    cartridge: String::new(),
                };
                self.lab
                    .does(move |tx| Box::pin(async move { movements::recover(tx, &occasion, &recovery, silver).await }))
                    .await
            }
            Act::Discharge { vessel, share } => {
                let vessel = self.vessel(vessel);
                let volume = self.part(vessel, share).await;
                let discharge = self.lab.allowed(&occasion);
                self.lab
                    .does(move |tx| {
                        Box::pin(async move { movements::discharge(tx, &occasion, &discharge, vessel, volume).await })
                    })
                    .await
            }
            Act::Remove { container: index } => {
                let id = container(index);
                let removal = self.removal(id, &occasion);
                let mut conn = state.store.read().await.expect("a reader");
                let version =
                    store::waste::containers::find(&mut conn, id).await.expect("read").expect("there").version;
                drop(conn);
                let done = self
                    .lab
                    .does(move |tx| Box::pin(async move { movements::remove(tx, &occasion, version, &removal).await }))
                    .await;
                if done.is_ok() {
                    self.sets_up(None).await;
                }
                done
            }
            Act::Rinse { container: index, ml, share: thousandths } => {
                let id = container(index);
                let mut conn = state.store.read().await.expect("a reader");
                let wash = store::book::wash_silver(&mut conn).await.expect("the wash");
                drop(conn);
                // all that the wash has, or a stated part of it, or more than it has
                let silver = (thousandths != 1000).then(|| wash.map(|ug| share(ug, thousandths, 1000)));
                self.lab
                    .does(move |tx| {
                        Box::pin(
                            async move { movements::collect_rinse(tx, &occasion, id, ml * 1000, silver, "").await },
                        )
                    })
                    .await
            }
            Act::Scrap { container: index, sheets, processed } => {
                let id = container(index);
                let scrap = Scrap {
                    id: state.mint(),
                    movement: occasion.movement,
                    container: id,
                    paper: self.lab.evening.paper,
                    processed,
                    sheets,
                    area_mm2: sheets * 12_903,
                    mass_g: None,
                };
                // now and then against the label
                let although = if sheets % 2 == 0 { "no other container" } else { "" };
                self.lab
                    .does(move |tx| {
                        Box::pin(async move { movements::throw_scrap(tx, &occasion, &scrap, although).await })
                    })
                    .await
            }
            Act::Open { ml, known } => {
                if self.containers.len() < 12 {
                    self.sets_up(Some(opening(ml, known))).await;
                }
                Ok(())
            }
            Act::Sample { vessel, share } => {
                let vessel = self.vessel(vessel);
                let volume = self.part(vessel, share).await;
                self.lab
                    .does(move |tx| {
                        Box::pin(async move { movements::write_off(tx, &occasion, vessel, Loss::Sample, volume).await })
                    })
                    .await
            }
            Act::ReadLate { vessel, mg_per_l, spread, ago: read } => {
                let (vessel, id, silver) = (self.vessel(vessel), state.mint(), read_as(mg_per_l, spread));
                let happened_at = occasion.happened_at.plus_minutes(-read).max(noon());
                let occasion = movements::Occasion { happened_at, ..occasion };
                self.lab
                    .does(move |tx| {
                        Box::pin(async move {
                            movements::read_silver(tx, &occasion, id, vessel, Method::EstimatingPaper, silver).await
                        })
                    })
                    .await
            }
            Act::Correct { back, sheets } => self.corrects(back, sheets).await,
            Act::Decide { back, container: index } => {
                let mut conn = state.store.read().await.expect("a reader");
                let waiting = sheet_runs::list_waiting(&mut conn).await.expect("sheets");
                drop(conn);
                let Some(run) = waiting.get(back).map(|run| run.id) else { return Ok(()) };
                let decision = match back {
                    0 => Decision::WentWithContainer,
                    1 => Decision::FoundByReading,
                    _ => Decision::BookedInto(container(index)),
                };
                let (actor, id, now) = (self.lab.actor, state.mint(), self.lab.now());
                self.lab
                    .does(move |tx| {
                        Box::pin(async move { sheet_runs::decide(tx, actor, run, id, decision, now).await })
                    })
                    .await
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

    /// One of the last things written off or removed was otherwise: it is taken back and recorded anew at its
    /// own time, as one write.
    async fn puts_right(&self, back: usize, part: i64) -> Result<(), WriteError> {
        let entries = self.lab.entries().await;
        let wrong = |entry: &&book::Entry| {
            matches!(entry.kind, MovementKind::Spill | MovementKind::Sample) || entry.kind == MovementKind::Removal
        };
        let Some(entry) = book::standing(&entries).filter(wrong).nth(back).cloned() else { return Ok(()) };
        let (actor, id, now) = (self.lab.actor, self.lab.app.state.mint(), self.lab.now());
        let occasion = movements::Occasion { happened_at: entry.happened_at, ..self.lab.occasion("put right") };
        let Some(vessel) = entry.from.vessel() else { return Ok(()) };
        let volume = share(entry.amount.volume_ul, part, 1000);
        let anew = entry.from.container().map(|container| self.removal(container, &occasion));
        self.lab
            .does(move |tx| {
                Box::pin(async move {
                    reversals::reverse(tx, actor, entry.movement, id, now, "put right").await?;
                    match (entry.kind, anew) {
                        (MovementKind::Removal, Some(removal)) => {
                            let there = store::waste::containers::find(tx, removal.container).await?.expect("there");
                            movements::remove(tx, &occasion, there.version, &removal).await
                        }
                        _ => movements::write_off(tx, &occasion, vessel, Loss::Sample, volume).await,
                    }
                })
            })
            .await
    }

    /// One of the last sheets was another number: it is taken back and recorded anew, as one write.
    async fn corrects(&self, back: usize, sheets: i64) -> Result<(), WriteError> {
        let entries = self.lab.entries().await;
        let booked: Vec<MovementId> = book::standing(&entries)
            .filter(|entry| entry.kind == MovementKind::Sheet)
            .map(|one| one.movement)
            .collect();
        let Some(movement) = booked.into_iter().rev().nth(back) else { return Ok(()) };
        let mut conn = self.lab.app.state.store.read().await.expect("a reader");
        let run = sheet_runs::find_by_movement(&mut conn, movement).await.expect("read").expect("a record");
        drop(conn);
        let anew = sheet_runs::NewSheetRun { developed_at: run.developed_at, ..self.lab.four_by_five(sheets) };
        let (actor, id, now) = (self.lab.actor, self.lab.app.state.mint(), self.lab.now());
        self.lab
            .does(move |tx| {
                Box::pin(async move {
                    sheet_runs::undo(tx, actor, run.id, id, now, "miscounted").await?;
                    sheet_runs::record(tx, actor, &anew, now).await
                })
            })
            .await
    }

    /// Every removed container has its removal, with what applied to it then, and none that is here has.
    async fn removals_are_on_record(&self) -> Result<(), String> {
        let mut conn = self.lab.app.state.store.read().await.expect("a reader");
        for container in store::waste::containers::list(&mut conn).await.expect("containers") {
            let removal = store::waste::removals::find_of(&mut conn, container.id).await.expect("read");
            let kept = match &removal {
                Some(removal) => store::waste::kept_deadlines::list_of(&mut conn, removal.id).await.expect("read"),
                None => None,
            };
            if (container.is_removed(), container.is_removed()) != (removal.is_some(), kept.is_some()) {
                return Err(format!("{} and its removal {removal:?} do not agree", container.name()));
            }
        }
        Ok(())
    }

    async fn version(&self, batch: BatchId) -> i64 {
        let mut conn = self.lab.app.state.store.read().await.expect("a reader");
        store::baths::batches::find(&mut conn, batch).await.expect("read").expect("there").version
    }

    fn removal(&self, container: ContainerId, occasion: &movements::Occasion) -> Removal {
        Removal {
            id: self.lab.app.state.mint(),
            movement: occasion.movement,
            container,
            carrier: "Fell & Daughters (invented)".to_owned(),
            destination: "Silver works, dock 4 (invented)".to_owned(),
            reference: "FD-1".to_owned(),
            mass_g: None,
            removed_at: occasion.happened_at,
            to_reclaim_silver: false,
            copy_returned_on: None,
            undone_at: None,
            version: 1,
        }
    }
}

/// What came of histories.
#[derive(Clone, Copy, Debug, Default)]
struct Tally {
    tried: u64,
    refused: u64,
    entries: u64,
}

/// Runs a history on a stored darkroom, proves it after every step and at its end, and leaves its files for
/// the audit. Gives what is wrong, if anything.
async fn wrong_after(steps: &[Step], files: Option<&Path>) -> Result<Tally, String> {
    let mut lab = Stored::new().await;
    let mut tally = Tally::default();
    for step in steps {
        let before = lab.lab.entries().await.len();
        tally.tried += 1;
        match lab.step(*step).await {
            Ok(()) => {}
            Err(WriteError::Refused(_) | WriteError::Stale(_)) => {
                tally.refused += 1;
                let after = lab.lab.entries().await.len();
                if after != before {
                    return Err(format!("{step:?} was refused and left {} entries", after - before));
                }
            }
            Err(other) => return Err(format!("{step:?}: {other}")),
        }
        lab.keeps_the_laws().await.map_err(|fault| format!("after {step:?}: {fault}"))?;
    }
    let entries = lab.lab.entries().await;
    tally.entries = entries.len() as u64;
    conserved(&entries)?;
    lab.removals_are_on_record().await?;
    let balances = laws::balances(&entries);
    for index in 0..12 {
        let vessel = lab.vessel(index);
        let (stored, added) = (lab.there(vessel).await, balances.of(vessel));
        if stored != added {
            return Err(format!("{vessel:?} holds {stored:?} and its entries add up to {added:?}"));
        }
    }
    let mut conn = lab.lab.app.state.store.read().await.expect("a reader");
    let faults = store::engine::check::run(&mut conn).await.expect("a check");
    if let Some(files) = files {
        shimlight::export::write_everything(&mut conn, files).await.expect("the files");
    }
    faults.first().map_or(Ok(tally), |fault| Err(format!("{fault}")))
}

impl Stored {
    /// Every law in both orders, from the entries.
    async fn keeps_the_laws(&self) -> Result<(), String> {
        let entries = self.lab.entries().await;
        let mut conn = self.lab.app.state.store.read().await.expect("a reader");
        let movements = store::book::list_movements(&mut conn).await.expect("movements");
        let retiring = movements.iter().filter(|movement| movement.kind == MovementKind::Retiring);
        let retirings = retiring.map(|movement| movement.id).collect();
        let faults = laws::broken(&entries).into_iter().chain(laws::broken_as_it_happened(&entries, &retirings));
        faults.into_iter().next().map_or(Ok(()), |fault| Err(format!("{fault:?}")))
    }
}

fn run<T>(work: impl Future<Output = T>) -> T {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().expect("a runtime");
    runtime.block_on(work)
}

/// The folder that histories leave their files in, emptied.
fn emptied(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    drop(fs::remove_dir_all(&folder));
    folder
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 16, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_stored_book_keeps_the_laws_through_any_history(steps in prop::collection::vec(step(), 1..30)) {
        let wrong = run(wrong_after(&steps, None)).err();
        prop_assert_eq!(wrong, None);
    }
}

#[test]
fn the_files_of_histories_are_left_for_an_audit_that_knows_nothing_of_this_program() {
    let folder = emptied("audit");
    for seed in 1..=12 {
        let steps = seeded(seed, step(), 60);
        let files = folder.join(seed.to_string());
        run(wrong_after(&steps, Some(&files))).unwrap_or_else(|fault| panic!("seed {seed}: {fault}"));
        assert!(files.join("silver-book.csv").is_file() && files.join("year-statement.csv").is_file());
    }
}

/// A hundred thousand movements across seeds, every law after each: see the top of `mod.rs`.
#[test]
#[ignore = "a long run, of hours on a slow machine"]
fn a_hundred_thousand_movements_of_the_stored_book_keep_every_law_in_both_orders() {
    let ((wanted, first), folder) = (asked_for(), emptied("audit-long"));
    let mut sum = Tally::default();
    for seed in first.. {
        let steps = seeded(seed, step(), 150);
        let tally = run(wrong_after(&steps, Some(&folder.join(seed.to_string()))));
        let tally = tally.unwrap_or_else(|fault| panic!("seed {seed}: {fault}"));
        sum.tried += tally.tried;
        sum.refused += tally.refused;
        sum.entries += tally.entries;
        println!("stored book, to seed {seed}: {sum:?}");
        if sum.tried >= wanted {
            break;
        }
    }
}
