//! One cell of a CSV file: text is guarded, numbers stay numbers, moments carry their offset.

use jiff::{civil::Date, tz::TimeZone};

use crate::domain::{instant::Instant, measure::decimal};

/// One cell. What it is decides how it is written, so that a minus in front of a number is kept
/// and a minus in front of a text is not taken for a formula.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Cell {
    /// Words somebody typed, or ours.
    Text(String),
    /// A whole number.
    Integer(i64),
    /// A decimal fraction, exactly: so many units of the given decimal place. See [`Cell::scaled`].
    Decimal {
        /// How many.
        units: i64,
        /// Digits after the point: 3 for thousandths.
        places: u32,
    },
    /// A moment: ISO 8601 with the offset of the site's zone, to the second.
    Instant(Instant),
    /// A day: ISO 8601.
    Date(Date),
    /// Nothing known.
    Empty,
}

impl Cell {
    /// Text; borrowed text is copied.
    pub fn text(text: impl Into<String>) -> Self {
        Self::Text(text.into())
    }

    /// So many units of the given decimal place: `scaled(4_500, 3)` is written `4.5`.
    /// Zeros at the end of the fraction are not written.
    pub fn scaled(units: i64, places: u32) -> Self {
        Self::Decimal { units, places }
    }

    /// A computed value rounded to so many places (at most nine); nothing when it is not finite
    /// or too large to be held exactly.
    pub fn rounded(value: f64, places: u32) -> Self {
        let units = (value * 10_f64.powi(i32::try_from(places.min(9)).unwrap_or(9))).round();
        // past 2^53 a double no longer holds every whole number
        if units.abs() > 9_007_199_254_740_992.0 || units.is_nan() {
            return Self::Empty;
        }
        #[expect(clippy::cast_possible_truncation, reason = "a whole number below 2^53")]
        Self::scaled(units as i64, places.min(9))
    }

    /// The cell of a value that may not be known.
    pub fn known<T>(value: Option<T>, cell: impl FnOnce(T) -> Self) -> Self {
        value.map_or(Self::Empty, cell)
    }

    /// The field as it is put into the file, before quoting.
    pub fn field(&self, zone: &TimeZone) -> String {
        match self {
            Self::Text(text) => guard(text),
            Self::Integer(number) => number.to_string(),
            Self::Decimal { units, places } => decimal::written(*units, *places),
            Self::Instant(at) => at.as_iso(zone),
            Self::Date(day) => day.to_string(),
            Self::Empty => String::new(),
        }
    }
}

impl From<&str> for Cell {
    fn from(text: &str) -> Self {
        Self::text(text)
    }
}

impl From<String> for Cell {
    fn from(text: String) -> Self {
        Self::Text(text)
    }
}

impl From<i64> for Cell {
    fn from(number: i64) -> Self {
        Self::Integer(number)
    }
}

impl From<Instant> for Cell {
    fn from(at: Instant) -> Self {
        Self::Instant(at)
    }
}

impl From<Date> for Cell {
    fn from(day: Date) -> Self {
        Self::Date(day)
    }
}

impl<T: Into<Self>> From<Option<T>> for Cell {
    fn from(value: Option<T>) -> Self {
        value.map_or(Self::Empty, Into::into)
    }
}

/// A text as it is put into a file: with an apostrophe in front when, after spaces, it begins
/// with `=`, `+`, `-`, `@`, a tab or a carriage return, which a spreadsheet could run as a formula.
/// A text that begins with apostrophes and then one of these gets one more, so that
/// [`unguard`] gives back every text as it was.
///
/// ```
/// use shimlight::export::cell::guard;
/// assert_eq!(guard("=1+1"), "'=1+1");
/// assert_eq!(guard("Teodora Vask"), "Teodora Vask");
/// ```
pub fn guard(text: &str) -> String {
    if could_run(text) { format!("'{text}") } else { text.to_owned() }
}

/// A text as it was before [`guard`]: our own files read again, or anybody's.
///
/// ```
/// use shimlight::export::cell::unguard;
/// assert_eq!(unguard("'=1+1"), "=1+1");
/// assert_eq!(unguard("'t Hart"), "'t Hart");
/// ```
pub fn unguard(field: &str) -> &str {
    match field.strip_prefix('\'') {
        Some(text) if could_run(text) => text,
        _ => field,
    }
}

/// Whether a spreadsheet could take the text for a formula, or would once apostrophes of ours
/// were taken off. Full-width forms are taken for the plain ones by some of them.
fn could_run(text: &str) -> bool {
    let space = |c: char| (c.is_whitespace() && c != '\t' && c != '\r') || c == '\u{feff}';
    text.trim_start_matches('\'')
        .trim_start_matches(space)
        .starts_with(['=', '+', '-', '@', '\t', '\r', '＝', '＋', '－', '＠'])
}

#[cfg(test)]
mod tests {
    use super::*;

    fn zone() -> TimeZone {
        TimeZone::get("America/Denver").expect("bundled zones")
    }

    fn field(cell: impl Into<Cell>) -> String {
        cell.into().field(&zone())
    }

    #[test]
    fn text_that_a_spreadsheet_could_run_gets_an_apostrophe() {
        for hostile in ["=cmd()", "+1", "-5", "@SUM(A1)", "\tx", "\rx", "  =cmd()", "\n=cmd()", "\u{a0}-1", "＝1"] {
            assert_eq!(guard(hostile), format!("'{hostile}"), "{hostile:?}");
        }
    }

    #[test]
    fn harmless_text_is_left_alone() {
        for harmless in
            ["", "Ada", "'t Hart", "O'Brien", "a=b", "12", "1-2", "मीरा", "愛子", "\"quoted\"", "two\nlines"]
        {
            assert_eq!(guard(harmless), harmless);
            assert_eq!(unguard(harmless), harmless);
        }
    }

    #[test]
    fn a_minus_is_guarded_in_text_and_kept_in_numbers() {
        assert_eq!(field("-5"), "'-5");
        assert_eq!(field(-5), "-5");
        assert_eq!(field(Cell::scaled(-5_500, 3)), "-5.5");
    }

    #[test]
    fn decimals_are_exact_and_bare() {
        for (units, places, written) in [
            (4_500, 3, "4.5"),
            (10_000, 3, "10"),
            (0, 3, "0"),
            (5, 3, "0.005"),
            (-5, 3, "-0.005"),
            (120_650_000, 6, "120.65"),
            (i64::MIN, 6, "-9223372036854.775808"),
            (7, 0, "7"),
        ] {
            assert_eq!(field(Cell::scaled(units, places)), written);
        }
    }

    #[test]
    fn computed_values_are_rounded_and_what_is_no_number_is_empty() {
        assert_eq!(field(Cell::rounded(0.305_81, 3)), "0.306");
        assert_eq!(field(Cell::rounded(-0.000_1, 3)), "0");
        assert_eq!(Cell::rounded(f64::NAN, 3), Cell::Empty);
        assert_eq!(Cell::rounded(f64::INFINITY, 3), Cell::Empty);
        assert_eq!(Cell::rounded(1e300, 3), Cell::Empty);
    }

    #[test]
    fn moments_carry_the_sites_offset_and_days_are_plain() {
        let noon = Instant::from_micros(1_774_029_600_000_000).expect("in range");
        assert_eq!(field(noon), "2026-03-20T12:00:00-06:00");
        assert_eq!(field(jiff::civil::date(2026, 3, 20)), "2026-03-20");
        assert_eq!(field(None::<Instant>), "");
    }

    proptest::proptest! {
        #[test]
        fn taking_the_apostrophe_off_gives_back_every_text(text in "[ '=+@\t\r\na-]{0,6}|\\PC*") {
            let guarded = guard(&text);
            proptest::prop_assert_eq!(unguard(&guarded), text);
        }

        #[test]
        fn nothing_that_could_run_is_ever_written(text in "[ '=+@\t\r\na-]{0,6}|\\PC*") {
            let guarded = guard(&text);
            let first = guarded.trim_start_matches([' ', '\n']).chars().next().unwrap_or('a');
            proptest::prop_assert!(!"=+-@\t\r".contains(first), "{:?}", guarded);
        }
    }
}
