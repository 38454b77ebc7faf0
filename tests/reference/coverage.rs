//! The 80 % interval holds the right time 75 to 85 times in a hundred, in sections drawn from the model:
//! the bench `first_exposures` with fewer of them. Chance is fixed; what is invented stands in
//! `benches/invented`.

#[path = "../../benches/invented/mod.rs"]
mod invented;

use invented::{BENDING, MODEL, SHEETS, outcome};

/// So many sections of each world: enough that a share is known to a few in a hundred, few enough to be
/// quick. The bench takes a thousand.
const SECTIONS: [usize; 2] = [600, 200];

#[test]
fn eight_times_in_ten_the_right_time_lies_in_the_interval() {
    for (world, sections) in [&MODEL, &BENDING].into_iter().zip(SECTIONS) {
        for (tally, sheets) in outcome(world, sections).learned.iter().zip(SHEETS) {
            let share = tally.covered();
            assert!((0.75..=0.85).contains(&share), "{}, after {sheets} sheets: {share}", world.name);
        }
    }
}
