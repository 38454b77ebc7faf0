//! A maker's reciprocity table, as it is typed and as it is stored.

use crate::calc::{
    light::reciprocity::{NotATable, Reciprocity, ReciprocityTable},
    quantity::{ExposureTime, ReciprocityExponent, ReciprocityThreshold, Seconds},
};

use crate::domain::measure::{
    decimal,
    typed_seconds::{NotATime, exactly, parse_seconds},
};

/// Lines of metered and corrected times in milliseconds, shortest first; none where the exponent
/// counts.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ReciprocityLines(Vec<(i64, i64)>);

/// What was typed is no table.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NotLines {
    /// A line is not two times.
    #[error("“{0}” is no line: type a metered time and the time to give, such as 10 s = 15 s")]
    NotALine(String),
    /// A time in it cannot be read.
    #[error(transparent)]
    NotATime(#[from] NotATime),
    /// The lines do not make a table.
    #[error(transparent)]
    NotATable(#[from] NotATable),
}

impl ReciprocityLines {
    /// Reads what was typed, one line for each pair: `1 = 1`, `10 s = 15 s`, `1 min = 2 min`. Nothing
    /// typed is no table.
    ///
    /// # Errors
    /// When a line is not two times, or the lines make no table.
    pub fn parse(text: &str) -> Result<Self, NotLines> {
        let mut lines = Vec::new();
        for line in text.lines().flat_map(|line| line.split(';')).map(str::trim).filter(|line| !line.is_empty()) {
            let not_a_line = || NotLines::NotALine(line.chars().take(40).collect());
            let (metered, corrected) = line.split_once('=').ok_or_else(not_a_line)?;
            let ms = |text| parse_seconds(text).map(|time| Seconds::from(time).as_millis());
            lines.push((ms(metered)?, ms(corrected)?));
        }
        let lines = Self(lines);
        lines.checked()?;
        Ok(lines)
    }

    /// From the stored words: `1000=1000 10000=15000`.
    pub fn from_stored(text: &str) -> Option<Self> {
        let pairs = text.split(' ').filter(|pair| !pair.is_empty());
        let read = |pair: &str| pair.split_once('=').and_then(|(a, b)| Some((a.parse().ok()?, b.parse().ok()?)));
        let lines = Self(pairs.map(read).collect::<Option<Vec<(i64, i64)>>>()?);
        lines.checked().ok()?;
        Some(lines)
    }

    /// As it is stored.
    pub fn as_stored(&self) -> String {
        self.0.iter().map(|(metered, corrected)| format!("{metered}={corrected}")).collect::<Vec<_>>().join(" ")
    }

    /// As it is shown in a form, a pair on each line.
    pub fn as_typed(&self) -> String {
        let line = |&(metered, corrected): &(i64, i64)| format!("{} = {}", exactly(metered), exactly(corrected));
        self.0.iter().map(line).collect::<Vec<_>>().join("\n")
    }

    /// Whether there is no table.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// In few words: `maker’s table, 1 s to 2 min`; empty without one.
    pub fn in_words(&self) -> String {
        match (self.0.first(), self.0.last()) {
            (Some((first, _)), Some((last, _))) => format!("maker’s table, {} to {}", exactly(*first), exactly(*last)),
            _ => String::new(),
        }
    }

    /// The table the calculations take; `None` without one.
    pub fn table(&self) -> Option<ReciprocityTable> {
        self.checked().ok().flatten()
    }

    fn checked(&self) -> Result<Option<ReciprocityTable>, NotLines> {
        if self.0.is_empty() {
            return Ok(None);
        }
        let seconds = |ms: i64| ExposureTime::new(ms as f64 / 1000.0).map_err(NotATime::from);
        let lines: Result<Vec<_>, NotATime> = self.0.iter().map(|&(m, c)| Ok((seconds(m)?, seconds(c)?))).collect();
        Ok(Some(ReciprocityTable::new(&lines?)?))
    }
}

impl From<decimal::TwoWays> for NotLines {
    fn from(error: decimal::TwoWays) -> Self {
        Self::NotATime(error.into())
    }
}

/// A reciprocity rule from stored figures, which the database keeps within range; a table counts
/// before the exponent.
pub fn reciprocity_of(exponent_milli: i64, threshold_ms: i64, table: &ReciprocityLines) -> Reciprocity {
    if let Some(table) = table.table() {
        return Reciprocity::of_table(table);
    }
    let exponent = ReciprocityExponent::new(exponent_milli as f64 / 1000.0);
    // the database takes a threshold down to a millisecond, the formula one down to ten
    let threshold = ReciprocityThreshold::new(
        (threshold_ms as f64 / 1000.0).clamp(ReciprocityThreshold::MIN, ReciprocityThreshold::MAX),
    );
    match (exponent, threshold) {
        (Ok(exponent), Ok(threshold)) => Reciprocity::new(exponent, threshold),
        _ => Reciprocity::NONE,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_table_is_read_as_people_type_it_and_stored_in_milliseconds() {
        let lines = ReciprocityLines::parse("1 = 1\n10 s = 15 s\n\n1:40 = 4 min").expect("a table");
        assert_eq!(lines.as_stored(), "1000=1000 10000=15000 100000=240000");
        assert_eq!(ReciprocityLines::from_stored(&lines.as_stored()), Some(lines.clone()));
        assert_eq!(ReciprocityLines::parse(&lines.as_typed()), Ok(lines.clone()));
        assert_eq!(lines.in_words(), "maker’s table, 1 s to 1 min 40 s");
        assert_eq!(ReciprocityLines::parse("  "), Ok(ReciprocityLines::default()));
    }

    #[test]
    fn what_is_no_table_is_refused_with_what_would_be_one() {
        for (bad, words) in [
            ("10 15", "is no line"),
            ("1 = 1\n10 = soon", "is not a time"),
            ("1 = 1", "from two to"),
            ("10 = 15\n100 = 200", "begin with"),
            ("1 = 1\n10 = 5", "cannot be shorter"),
        ] {
            let said = ReciprocityLines::parse(bad).expect_err(bad).to_string();
            assert!(said.contains(words), "{bad}: {said}");
        }
        assert_eq!(ReciprocityLines::from_stored("1000-2000"), None);
    }
}
