//! A time that can be counted aloud or set on a kitchen timer.

use crate::calc::quantity::Seconds;
use crate::calc::working::seconds_text;

/// A time rounded to what can be counted, and what the rounding costs.
#[derive(Clone, Debug, PartialEq)]
pub struct Countable {
    /// The rounded time in whole seconds, at least one.
    pub seconds: u64,
    /// The time as one says it: `33 s`, `2 min 15 s`.
    pub text: String,
    /// The rounded time against the exact one, in stops: positive when it is longer.
    pub error_stops: f64,
}

/// Rounds a time: whole seconds up to a minute; then minutes and 5 seconds up to five minutes, 10
/// seconds up to twenty, half minutes up to an hour, whole minutes above. Of the two neighbours the
/// one that is nearer in stops.
pub fn countable(time: Seconds) -> Countable {
    let exact = time.as_s();
    let step = match exact {
        s if s < 60.0 => 1.0,
        s if s < 300.0 => 5.0,
        s if s < 1200.0 => 10.0,
        s if s < 3600.0 => 30.0,
        _ => 60.0,
    };
    let below = ((exact / step).floor() * step).max(1.0);
    let above = ((exact / step).ceil() * step).max(1.0);
    let off = |s: f64| (s / exact).log2();
    let seconds = if off(below).abs() <= off(above).abs() { below } else { above };
    Countable {
        // A float beyond u64 saturates; such a time is not one that anybody waits for.
        seconds: seconds as u64,
        text: if seconds < 60.0 { format!("{seconds} s") } else { seconds_text(seconds) },
        error_stops: off(seconds),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn counted(s: f64) -> (String, f64) {
        let c = countable(Seconds::computed(s));
        (c.text, c.error_stops)
    }

    #[test]
    fn seconds_are_counted_and_minutes_set_on_a_timer() {
        assert_eq!(counted(8.4).0, "8 s");
        assert_eq!(counted(59.8).0, "1 min");
        assert_eq!(counted(133.3).0, "2 min 15 s");
        assert_eq!(counted(578.7).0, "9 min 40 s");
        assert_eq!(counted(0.2), ("1 s".to_owned(), 5f64.log2()));
    }

    #[test]
    fn of_two_neighbours_the_nearer_in_stops_is_taken() {
        // 1.45 s: 2 s is 0.46 stop too long, 1 s would be 0.54 stop too short.
        assert_eq!(countable(Seconds::computed(1.45)).seconds, 2);
        assert_eq!(countable(Seconds::computed(1.40)).seconds, 1);
    }

    proptest! {
        #[test]
        fn above_three_seconds_rounding_costs_less_than_a_quarter_stop(s in 3.0..1e6f64) {
            let c = countable(Seconds::computed(s));
            prop_assert!(c.error_stops.abs() < 0.25, "{c:?}");
        }
    }
}
