//! A typed decimal number kept as a whole number of its last place, so that sums stay exact:
//! an exposure index of 6.5 in thousandths is 6500.

/// What was typed is not a plain decimal number that fits.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("this is not a number")]
pub struct NotADecimal;

/// Reads a number without sign or exponent, comma or point, as a whole number of its place
/// `places` after the point; further digits are rounded, half upwards.
///
/// ```
/// use shimlight::domain::decimal;
/// assert_eq!(decimal::read("0,97", 6), Ok(970_000));
/// assert!(decimal::read("1e3", 3).is_err());
/// ```
///
/// # Errors
/// When it is not such a number, or has more than 12 digits before the point.
pub fn read(text: &str, places: u32) -> Result<i64, NotADecimal> {
    let text = text.trim().replace(',', ".");
    let (whole, rest) = text.split_once('.').unwrap_or((&text, ""));
    let digits = |part: &str| part.bytes().all(|b| b.is_ascii_digit());
    if (whole.is_empty() && rest.is_empty()) || whole.len() > 12 || !digits(whole) || !digits(rest) {
        return Err(NotADecimal);
    }
    let digit_at = |place: u32| rest.as_bytes().get(place as usize).map_or(0, |b| i64::from(b - b'0'));
    let mut value = if whole.is_empty() { 0 } else { whole.parse::<i64>().map_err(|_| NotADecimal)? };
    for place in 0..places {
        value = value.checked_mul(10).and_then(|value| value.checked_add(digit_at(place))).ok_or(NotADecimal)?;
    }
    Ok(value + i64::from(digit_at(places) >= 5))
}

/// Writes it as a person would: `6500` thousandths are `6.5`.
pub fn written(value: i64, places: u32) -> String {
    let unit = 10_i64.pow(places.min(18));
    let sign = if value < 0 { "-" } else { "" };
    let (whole, rest) = ((value / unit).abs(), (value % unit).abs());
    if rest == 0 {
        return format!("{sign}{whole}");
    }
    let rest = format!("{rest:0width$}", width = places as usize);
    format!("{sign}{whole}.{}", rest.trim_end_matches('0'))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn numbers_are_kept_to_their_last_place() {
        assert_eq!(read("6", 3), Ok(6_000));
        assert_eq!(read(" 1.31 ", 3), Ok(1_310));
        assert_eq!(read(".5", 3), Ok(500));
        assert_eq!(read("2.", 3), Ok(2_000));
        assert_eq!(read("0.9685", 3), Ok(969));
    }

    #[test]
    fn what_is_no_plain_number_is_refused() {
        for bad in ["", ".", ",", "-1", "+1", "1e3", "1.2.3", "1,000.5", "six", "NaN", "1234567890123", "٣"] {
            assert_eq!(read(bad, 3), Err(NotADecimal), "{bad}");
        }
    }

    proptest! {
        #[test]
        fn what_is_written_reads_as_the_same_number(value in 0..1_000_000_000_000_000i64, places in 0..9u32) {
            prop_assume!(value / 10i64.pow(places) < 1_000_000_000_000);
            prop_assert_eq!(read(&written(value, places), places), Ok(value));
        }
    }
}
