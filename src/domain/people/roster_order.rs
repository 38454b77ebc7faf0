//! The order in which a roster is read: by roster number, as a person counts.

use std::cmp::Ordering;

/// Compares two roster numbers: runs of digits by their value, so that 9 stands before 10 and 07
/// beside 7; everything else as text. Of two numbers that read alike the shorter one is first.
pub fn by_roster_number(one: &str, other: &str) -> Ordering {
    let (mut left, mut right) = (runs(one), runs(other));
    loop {
        let order = match (left.next(), right.next()) {
            (None, None) => return one.len().cmp(&other.len()).then_with(|| one.cmp(other)),
            (None, Some(_)) => Ordering::Less,
            (Some(_), None) => Ordering::Greater,
            (Some(left), Some(right)) => by_run(left, right),
        };
        if order != Ordering::Equal {
            return order;
        }
    }
}

/// Runs of digits and what stands between them, in turn.
fn runs(text: &str) -> impl Iterator<Item = &str> {
    let mut rest = text;
    std::iter::from_fn(move || {
        let digits = rest.chars().next()?.is_ascii_digit();
        let end = rest.find(|c: char| c.is_ascii_digit() != digits).unwrap_or(rest.len());
        let (run, after) = rest.split_at(end);
        rest = after;
        Some(run)
    })
}

fn by_run(one: &str, other: &str) -> Ordering {
    let is_number = |run: &str| run.starts_with(|c: char| c.is_ascii_digit());
    if is_number(one) && is_number(other) {
        // longer than any integer type: compared as text of equal length
        let (one, other) = (one.trim_start_matches('0'), other.trim_start_matches('0'));
        return one.len().cmp(&other.len()).then_with(|| one.cmp(other));
    }
    one.cmp(other)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_roster_is_read_as_a_person_counts() {
        let mut numbers = ["10", "9", "07", "B-2", "A-12", "A-3", "007", "7", "20260000000000000000001", "8"];
        numbers.sort_by(|one, other| by_roster_number(one, other));
        assert_eq!(numbers, ["7", "07", "007", "8", "9", "10", "20260000000000000000001", "A-3", "A-12", "B-2"]);
    }

    proptest! {
        #[test]
        fn no_two_numbers_stand_in_one_place_and_the_order_holds_both_ways(one in "[0-9a-c-]{0,6}", other in "[0-9a-c-]{0,6}", third in "[0-9a-c-]{0,6}") {
            prop_assert_eq!(by_roster_number(&one, &other), by_roster_number(&other, &one).reverse());
            prop_assert_eq!(by_roster_number(&one, &other) == Ordering::Equal, one == other);
            if by_roster_number(&one, &other).is_le() && by_roster_number(&other, &third).is_le() {
                prop_assert!(by_roster_number(&one, &third).is_le());
            }
        }
    }
}
