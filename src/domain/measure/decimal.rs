//! A typed decimal number kept as a whole number of its last place, so that sums stay exact:
//! an exposure index of 6.5 in thousandths is 6500.

/// What was typed is not a plain decimal number that fits.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("this is not a number")]
pub struct NotADecimal;

/// A comma before exactly three digits: a thousand in one country, a decimal point in another.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("“{0}” can be read two ways: type it without the comma, or with a point")]
pub struct TwoWays(String);

/// Refuses a number that can be read two ways: `1,200` is twelve hundred to one reader and one and a
/// fifth to another. `0,125` and `1234,567` have one reading only.
///
/// # Errors
/// The number, as it stands in the text.
pub fn read_one_way(text: &str) -> Result<(), TwoWays> {
    let numbers = text.split(|c: char| !(c.is_ascii_digit() || c == ',' || c == '.'));
    for number in numbers {
        let Some((before, after)) = number.split_once(',') else { continue };
        let thousands = (1..=3).contains(&before.len()) && !before.starts_with('0');
        let digits = |part: &str| part.bytes().all(|b| b.is_ascii_digit());
        if thousands && after.len() == 3 && digits(before) && digits(after) {
            return Err(TwoWays(number.to_owned()));
        }
    }
    Ok(())
}

/// Reads a number without sign or exponent, comma or point, as a whole number of its place
/// `places` after the point; further digits are rounded, half upwards.
///
/// ```
/// use shimlight::domain::measure::decimal;
/// assert_eq!(decimal::read("0,97", 6), Ok(970_000));
/// assert!(decimal::read("1e3", 3).is_err());
/// ```
///
/// # Errors
/// When it is not such a number, can be read two ways ([`read_one_way`] tells), or has more than 12
/// digits before the point.
pub fn read(text: &str, places: u32) -> Result<i64, NotADecimal> {
    read_one_way(text).map_err(|_| NotADecimal)?;
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

/// A number in thousandths, as it is stored.
pub(in crate::domain) fn milli(number: f64) -> i64 {
    (number * 1000.0).round() as i64
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

    #[test]
    fn a_comma_before_three_digits_is_refused_since_it_can_be_read_two_ways() {
        for two in ["1,200", "12,345 lx", "EV 1,250", "999,000", "1/125 f/16 ISO 1,600"] {
            assert!(read_one_way(two).is_err(), "{two}");
        }
        for one in ["0,125", ",125", "1,25", "1,2000", "1234,567", "1.200", "1200", "8,5 x 11 in", "1,200.5"] {
            assert_eq!(read_one_way(one), Ok(()), "{one}");
        }
        assert_eq!(read("1,200", 3), Err(NotADecimal));
        let said = read_one_way("1,200 s").expect_err("two ways").to_string();
        assert_eq!(said, "“1,200” can be read two ways: type it without the comma, or with a point");
    }

    proptest! {
        #[test]
        fn what_is_written_reads_as_the_same_number(value in 0..1_000_000_000_000_000i64, places in 0..9u32) {
            prop_assume!(value / 10i64.pow(places) < 1_000_000_000_000);
            prop_assert_eq!(read(&written(value, places), places), Ok(value));
        }
    }
}
