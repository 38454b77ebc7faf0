//! A time as a page gives it to a person: counted, with what has to be said beside it.

use crate::calc::light::counting::countable;
use crate::calc::quantity::Seconds;

/// The shortest time a hand can give with a shutter (our own judgement).
pub const SHORTEST_BY_HAND_S: f64 = 0.5;

/// What stands in place of a time that no hand can give.
pub const UNDER_HALF_A_SECOND: &str = "under ½ s";

/// What has to be said beside [`UNDER_HALF_A_SECOND`]: what to change.
pub const TOO_SHORT_NOTE: &str =
    "under ½ s cannot be timed by hand: make a smaller hole, take a slower paper, or wait for less light";

/// What the star beside a time means.
pub const PAST_TABLE_NOTE: &str =
    "* past the end of the maker’s reciprocity table: its last step was carried on, which nobody vouches for";

/// What has to be said beside pieces whose times come to the same count.
pub const ALIKE_NOTE: &str =
    "pieces with the same time come out alike: seconds are not counted finer, a smaller hole makes them longer";

/// A time to give.
#[derive(Clone, Debug, PartialEq)]
pub struct GivenTime {
    /// The rounded time in whole seconds, at least one.
    pub seconds: u64,
    /// As one says it: `33 s`, `2 min 15 s`; [`UNDER_HALF_A_SECOND`] when no hand can give it, with a
    /// star when it lies past the end of the maker's table.
    pub text: String,
    /// The rounded time against the exact one, in stops: positive when it is longer.
    pub error_stops: f64,
    /// Whether no hand can give it.
    pub too_short: bool,
    /// Whether it lies past the end of the maker's reciprocity table.
    pub past_table: bool,
}

impl GivenTime {
    /// A time on the clock.
    pub fn of(exact: Seconds, past_table: bool) -> Self {
        let counted = countable(exact);
        let too_short = exact.as_s() < SHORTEST_BY_HAND_S;
        let said = if too_short { UNDER_HALF_A_SECOND.to_owned() } else { counted.text };
        Self {
            seconds: counted.seconds,
            text: if past_table { format!("{said} *") } else { said },
            error_stops: counted.error_stops,
            too_short,
            past_table,
        }
    }
}

/// What has to be said beside these times; nothing when all of them can be given and are vouched for.
pub fn notes<'a>(times: impl IntoIterator<Item = &'a GivenTime>) -> Vec<&'static str> {
    let (mut too_short, mut past_table) = (false, false);
    for time in times {
        too_short |= time.too_short;
        past_table |= time.past_table;
    }
    let said = [(too_short, TOO_SHORT_NOTE), (past_table, PAST_TABLE_NOTE)];
    said.into_iter().filter_map(|(needed, words)| needed.then_some(words)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn given(s: f64, past_table: bool) -> GivenTime {
        GivenTime::of(Seconds::computed(s), past_table)
    }

    #[test]
    fn what_no_hand_can_give_is_no_second_and_what_nobody_vouches_for_has_a_star() {
        assert_eq!(given(33.3, false).text, "33 s");
        assert_eq!(given(0.49, false).text, "under ½ s");
        assert_eq!(given(0.5, false).text, "1 s");
        assert_eq!(given(600.0, true).text, "10 min *");
    }

    #[test]
    fn each_note_is_made_once_and_only_where_a_time_needs_it() {
        assert!(notes(&[given(8.0, false)]).is_empty());
        let all = [given(0.1, false), given(0.2, false), given(600.0, true)];
        assert_eq!(notes(&all), [TOO_SHORT_NOTE, PAST_TABLE_NOTE]);
    }
}
