//! How good first exposures are: a thousand invented sections, drawn from the model and from a harsher
//! world.
//!
//!     cargo bench --bench first_exposures            # a thousand sections
//!     cargo bench --bench first_exposures -- 200     # fewer, to try
//!
//! Each section makes sheets in two sessions with cameras of its own; then a student with a camera that
//! nobody has used yet makes the first exposure with it. Reported: how often that lies within half a
//! stop and within one stop of right, by the rule of thumb on a handout, by the forecast without
//! experience, and by the forecast that has learned from 1, 3, 6, 12, 24 sheets; and how often the right
//! time lies in the 80 % interval. `invented/mod.rs` says what is invented.

mod invented;

use invented::{BENDING, HARSHER, MODEL, SHEETS, Tally, World, outcome};

fn line(tally: &Tally, name: &str, interval: bool) {
    let percent = |share: f64| format!("{:5.1} %", 100.0 * share);
    let covered = if interval { percent(tally.covered()) } else { "      -".to_owned() };
    println!("  {name:<34} {}   {}   {covered}", percent(tally.half()), percent(tally.one()));
}

fn run(world: &World, sections: usize) {
    let outcome = outcome(world, sections);
    println!("\n{}; {sections} sections, 4 first exposures each", world.name);
    println!("  {:<34} within ½   within 1   in the 80 % interval", "");
    line(&outcome.thumb, "rule of thumb, one time for a sky", false);
    for (tally, count) in outcome.learned.iter().zip(SHEETS) {
        let name = match count {
            0 => "forecast without experience".to_owned(),
            1 => "after 1 sheet".to_owned(),
            n => format!("after {n} sheets"),
        };
        line(tally, &name, true);
    }
    // fewer sections are too few to tell
    if world.name != HARSHER.name && sections >= 1000 {
        for (tally, count) in outcome.learned.iter().zip(SHEETS) {
            let share = tally.covered();
            assert!((0.75..=0.85).contains(&share), "after {count} sheets the 80 % interval holds {share}");
        }
    }
}

fn main() {
    // cargo bench adds flags of its own
    let sections = std::env::args().skip(1).find_map(|arg| arg.parse().ok()).unwrap_or(1000);
    for world in [&MODEL, &BENDING, &HARSHER] {
        run(world, sections);
    }
}
