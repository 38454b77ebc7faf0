//! Random histories of a darkroom, on the pure book and on the stored one: whatever is done in whatever
//! order, typed in at once, late or across a year, taken back and put right, what is refused changes
//! nothing and the laws hold after every step, in the order written and in the order of events.
//!
//! `cargo test` makes a few thousand movements. The long run makes a hundred thousand and prints what was
//! tried and what refused:
//!
//! ```text
//! cargo test --test it a_hundred_thousand -- --ignored --nocapture
//! SHIMLIGHT_MOVEMENTS=20000 SHIMLIGHT_SEED=7000 cargo test --test it a_hundred_thousand -- --ignored --nocapture
//! ```
//!
//! Both leave the CSV files of their books in `target/tmp/audit/` (the long run's in `audit-long/`), where
//! `tests/audit/add_up.py` adds them up without this program.

mod pure;
mod stored;

use proptest::{
    prelude::*,
    strategy::ValueTree,
    test_runner::{RngAlgorithm, TestRng, TestRunner},
};
use shimlight::domain::{
    book::{Amount, Entry, Silver, moves},
    waste::opening::{Opening, OpeningSilver},
};

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
    Rinse { container: usize, ml: i64, share: i64 },
    Scrap { container: usize, sheets: i64, processed: bool },
    LateSheet { batch: usize, sheets: i64 },
    Open { ml: i64, known: bool },
    Sample { vessel: usize, share: i64 },
    ReadLate { vessel: usize, mg_per_l: i64, spread: i64, ago: i64 },
    Correct { back: usize, sheets: i64 },
    Decide { back: usize, container: usize },
    Wait { days: i64 },
    PutRight { back: usize, share: i64 },
}

/// Something done, and how many minutes before it was typed in.
#[derive(Clone, Copy, Debug)]
struct Step {
    act: Act,
    ago: i64,
}

fn step() -> impl Strategy<Value = Step> {
    let ago = prop_oneof![5 => Just(0), 2 => 1..=30i64, 1 => (1..=40i64).prop_map(|hours| hours * 60),
        2 => (1..=400i64).prop_map(|days| days * 24 * 60)];
    (act(), ago).prop_map(|(act, ago)| Step { act, ago })
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
        2 => (some.clone(), 1..=3000i64, 0..=1300i64)
            .prop_map(|(container, ml, share)| Act::Rinse { container, ml, share }),
        1 => (some.clone(), 1..=20i64, any::<bool>())
            .prop_map(|(container, sheets, processed)| Act::Scrap { container, sheets, processed }),
        2 => (some.clone(), 1..=20i64).prop_map(|(batch, sheets)| Act::LateSheet { batch, sheets }),
        1 => (1..=3000i64, any::<bool>()).prop_map(|(ml, known)| Act::Open { ml, known }),
        1 => (some.clone(), 0..=1000i64).prop_map(|(vessel, share)| Act::Sample { vessel, share }),
        2 => (some.clone(), 0..=4000i64, 0..=1000i64, 1..=12i64)
            .prop_map(|(vessel, mg_per_l, spread, ago)| Act::ReadLate { vessel, mg_per_l, spread, ago }),
        2 => (0..6usize, 1..=20i64).prop_map(|(back, sheets)| Act::Correct { back, sheets }),
        1 => (0..4usize, some).prop_map(|(back, container)| Act::Decide { back, container }),
        1 => (1..=200i64).prop_map(|days| Act::Wait { days }),
        2 => (0..8usize, 0..=1000i64).prop_map(|(back, share)| Act::PutRight { back, share }),
    ]
}

/// So many of a strategy, the same for the same seed.
fn seeded<S: Strategy>(seed: u64, strategy: S, many: usize) -> Vec<S::Value> {
    let mut bytes = [0; 32];
    bytes[..8].copy_from_slice(&seed.to_le_bytes());
    let rng = TestRng::from_seed(RngAlgorithm::ChaCha, &bytes);
    let mut runner = TestRunner::new_with_rng(ProptestConfig::default(), rng);
    (0..many).map(|_| strategy.new_tree(&mut runner).expect("a value").current()).collect()
}

/// How many movements a long run is to try, and its first seed.
fn asked_for() -> (u64, u64) {
    let number = |name: &str, otherwise: u64| {
        std::env::var(name).map_or(otherwise, |text| text.parse().unwrap_or_else(|_| panic!("{name} is a number")))
    };
    (number("SHIMLIGHT_MOVEMENTS", 100_000), number("SHIMLIGHT_SEED", 1))
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

/// What stood in an old container: its silver stated, or not known.
fn opening(ml: i64, known: bool) -> Opening {
    let silver = if known { OpeningSilver::Stated(delivered(ml / 100 + 1)) } else { OpeningSilver::Unknown };
    Opening { volume_ul: ml * 1000, silver }
}

/// A reading of so many milligrams a litre, give or take.
fn read_as(mg_per_l: i64, spread: i64) -> Silver {
    let ug = |mg: i64| mg.max(0) * 1000;
    Silver { best_ug: ug(mg_per_l), low_ug: ug(mg_per_l - spread), high_ug: ug(mg_per_l + spread) }
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
