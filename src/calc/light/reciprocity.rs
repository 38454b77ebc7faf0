//! Reciprocity failure: long exposures need more than their metered time.
//!
//! `t′ = t₀ (t / t₀)^p` above the threshold t₀, nothing at or below it, so that it joins on without a
//! step: t the metered time and t′ the time to give, in seconds; p the reciprocity exponent. A film
//! maker's data sheet, power law above a threshold, which is one second there (p = 1.31: 10 s becomes
//! 20.4 s). No exponent has been published for paper; it is 1 until the section has fitted one.

use crate::calc::quantity::{ExposureTime, ReciprocityExponent, ReciprocityThreshold, Seconds};
use crate::calc::working::{Working, figures, plain, scaled, seconds_text};

/// A reciprocity rule: an exponent above a threshold, or a maker's table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reciprocity {
    exponent: ReciprocityExponent,
    threshold: ReciprocityThreshold,
    table: Option<ReciprocityTable>,
}

/// The most lines a maker's table may have.
pub const MOST_LINES: usize = 10;

/// A maker's table: metered times with the times to give. Between its lines it is interpolated in
/// stops; past its last line the last step is carried on, and [`Reciprocity::is_past_table`] says so.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ReciprocityTable {
    lines: [(f64, f64); MOST_LINES],
    count: usize,
}

/// Why lines are no table.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NotATable {
    /// Too few or too many lines.
    #[error("give from two to {MOST_LINES} lines")]
    Count,
    /// The first line asks for a correction, so that nothing is known of shorter times.
    #[error("begin with the longest metered time that needs no correction, given as it is: 1 = 1")]
    NoBeginning,
    /// Metered or corrected times do not grow from line to line.
    #[error("both times must grow from line to line")]
    NotGrowing,
    /// A corrected time is shorter than its metered time.
    #[error("a corrected time cannot be shorter than its metered time")]
    Shorter,
}

impl ReciprocityTable {
    /// From lines of metered and corrected times, shortest first.
    ///
    /// # Errors
    /// [`NotATable`] says what is wrong with the lines.
    pub fn new(lines: &[(ExposureTime, ExposureTime)]) -> Result<Self, NotATable> {
        if !(2..=MOST_LINES).contains(&lines.len()) {
            return Err(NotATable::Count);
        }
        let mut table = Self { lines: [(0.0, 0.0); MOST_LINES], count: lines.len() };
        for (line, (metered, corrected)) in table.lines.iter_mut().zip(lines) {
            *line = (metered.as_s(), corrected.as_s());
        }
        let lines = table.lines();
        if lines[0].0 != lines[0].1 {
            return Err(NotATable::NoBeginning);
        }
        if lines.iter().any(|(metered, corrected)| corrected < metered) {
            return Err(NotATable::Shorter);
        }
        if lines.windows(2).any(|pair| pair[1].0 <= pair[0].0 || pair[1].1 <= pair[0].1) {
            return Err(NotATable::NotGrowing);
        }
        Ok(table)
    }

    /// The lines: metered and corrected seconds.
    pub fn lines(&self) -> &[(f64, f64)] {
        &self.lines[..self.count]
    }

    /// The longest metered time of the table, in seconds.
    pub fn longest_s(&self) -> f64 {
        self.lines[self.count - 1].0
    }

    /// Interpolated on scales of stops from one column to the other.
    fn read(&self, time: f64, from: fn(&(f64, f64)) -> f64, to: fn(&(f64, f64)) -> f64) -> f64 {
        let lines = self.lines();
        if time <= from(&lines[0]) {
            return time;
        }
        // the pair that holds the time, or the last one
        let at = lines.windows(2).position(|pair| time <= from(&pair[1])).unwrap_or(lines.len() - 2);
        let (a, b) = (&lines[at], &lines[at + 1]);
        let share = (time / from(a)).ln() / (from(b) / from(a)).ln();
        to(a) * (to(b) / to(a)).powf(share)
    }
}

impl Reciprocity {
    /// No correction at all: exponent 1.
    pub const NONE: Self = Self {
        exponent: ReciprocityExponent::computed(1.0),
        threshold: ReciprocityThreshold::computed(1.0),
        table: None,
    };

    /// A rule with an exponent above a threshold.
    pub const fn new(exponent: ReciprocityExponent, threshold: ReciprocityThreshold) -> Self {
        Self { exponent, threshold, table: None }
    }

    /// The usual rule: an exponent above one second.
    pub const fn above_one_second(exponent: ReciprocityExponent) -> Self {
        Self::new(exponent, ReciprocityThreshold::computed(1.0))
    }

    /// A maker's table.
    pub const fn of_table(table: ReciprocityTable) -> Self {
        Self { table: Some(table), ..Self::NONE }
    }

    /// The same with another exponent, above the same threshold.
    #[must_use]
    pub const fn with_exponent(self, exponent: ReciprocityExponent) -> Self {
        Self { exponent, threshold: self.threshold, table: None }
    }

    /// The exponent; 1 where a table counts.
    pub const fn exponent(self) -> ReciprocityExponent {
        self.exponent
    }

    /// The threshold.
    pub const fn threshold(self) -> ReciprocityThreshold {
        self.threshold
    }

    /// The table, where one counts.
    pub const fn table(self) -> Option<ReciprocityTable> {
        self.table
    }

    /// Whether a metered time lies past the last line of the table, where the maker says nothing.
    pub fn is_past_table(self, metered: Seconds) -> bool {
        self.table.is_some_and(|table| metered.as_s() > table.longest_s() * (1.0 + 1e-9))
    }

    /// The time to give for a metered time. Never shorter.
    pub fn corrected(self, metered: impl Into<Seconds>) -> Seconds {
        let metered = metered.into();
        match self.table {
            Some(table) => Seconds::computed(table.read(metered.as_s(), |line| line.0, |line| line.1)),
            None => self.bend(metered, self.exponent.as_number()),
        }
    }

    /// The inverse: the metered time that a given time amounts to.
    pub fn metered(self, corrected: impl Into<Seconds>) -> Seconds {
        let corrected = corrected.into();
        match self.table {
            Some(table) => Seconds::computed(table.read(corrected.as_s(), |line| line.1, |line| line.0)),
            None => self.bend(corrected, 1.0 / self.exponent.as_number()),
        }
    }

    fn bend(self, time: Seconds, power: f64) -> Seconds {
        let threshold = self.threshold.as_s();
        if time.as_s() <= threshold {
            time
        } else {
            Seconds::computed(threshold * (time.as_s() / threshold).powf(power))
        }
    }

    /// The corrected time with its working.
    pub fn working(self, metered: impl Into<Seconds>) -> Working {
        let metered = metered.into();
        let corrected = self.corrected(metered);
        if let Some(table) = self.table {
            return self.table_working(table, metered, corrected);
        }
        let (threshold, p) = (self.threshold.as_s(), figures(self.exponent.as_number(), 4));
        let p = p.trim_end_matches('0').trim_end_matches('.');
        let formula = if metered.as_s() <= threshold {
            format!("{} s is not above {} s: no correction", figures(metered.as_s(), 3), plain(threshold))
        } else {
            format!(
                "t′ = t₀ (t / t₀)^p = {t0} × ({} / {t0})^{p} = {} s",
                figures(metered.as_s(), 3),
                figures(corrected.as_s(), 3),
                t0 = plain(threshold)
            )
        };
        Working {
            name: "time with reciprocity",
            value: seconds_text(corrected.as_s()),
            formula,
            source: self.source(),
            interval: None,
        }
    }

    /// The metered time with its working: the correction the other way round.
    pub fn metered_working(self, corrected: impl Into<Seconds>) -> Working {
        let corrected = corrected.into();
        let metered = self.metered(corrected);
        let (threshold, p) = (self.threshold.as_s(), plain(self.exponent.as_number()));
        let (given, metered_s) = (scaled(corrected.as_s(), 3), scaled(metered.as_s(), 3));
        let formula = if self.table.is_some() {
            format!("between the lines of the table, in stops: {given} s amounts to {metered_s} s metered")
        } else if corrected.as_s() <= threshold {
            format!("{given} s is not above {} s: no correction", plain(threshold))
        } else {
            format!("t = t₀ (t′ / t₀)^(1/p) = {t0} × ({given} / {t0})^(1/{p}) = {metered_s} s", t0 = plain(threshold))
        };
        Working::of("metered time", seconds_text(metered.as_s()), formula, self.source())
    }

    /// Where the correction comes from.
    const fn source(self) -> &'static str {
        if self.table.is_some() {
            "the maker's table, as entered in the stockroom"
        } else {
            "a film maker’s data sheet, power law above a threshold; p is the reciprocity exponent; none is published for paper"
        }
    }

    fn table_working(self, table: ReciprocityTable, metered: Seconds, corrected: Seconds) -> Working {
        let (metered_s, given) = (figures(metered.as_s(), 3), figures(corrected.as_s(), 3));
        let formula = if metered.as_s() <= table.lines()[0].0 {
            format!("{metered_s} s is not above {} s: no correction", plain(table.lines()[0].0))
        } else if self.is_past_table(metered) {
            format!(
                "the table ends at {} s; its last step carried on, which the maker does not vouch for: {metered_s} s becomes {given} s",
                plain(table.longest_s())
            )
        } else {
            format!("between the lines of the table, in stops: {metered_s} s becomes {given} s")
        };
        Working {
            name: "time with reciprocity",
            value: seconds_text(corrected.as_s()),
            formula,
            source: self.source(),
            interval: None,
        }
    }
}

/// One trial: what the meter said, and the time that turned out right.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Trial {
    /// Metered time.
    pub metered: ExposureTime,
    /// The time that was right.
    pub good: ExposureTime,
}

/// Why no exponent can be fitted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoFit {
    /// Fewer than two trials.
    #[error("give two or more trials")]
    TooFew,
    /// All metered times are the same.
    #[error("the metered times of the trials must differ")]
    NoSpread,
}

/// Exponent fitted to two or more trials: the slope of log good time against log metered time
/// (with two trials `ln(t′₂/t′₁) / ln(t₂/t₁)`). Not forced into the range of
/// [`ReciprocityExponent`].
///
/// # Errors
/// [`NoFit`] with fewer than two trials or without spread in the metered times.
pub fn reciprocity_fit(trials: &[Trial]) -> Result<f64, NoFit> {
    if trials.len() < 2 {
        return Err(NoFit::TooFew);
    }
    let n = trials.len() as f64;
    let logs: Vec<_> = trials.iter().map(|t| (t.metered.as_s().ln(), t.good.as_s().ln())).collect();
    let (x_mean, y_mean) = logs.iter().fold((0.0, 0.0), |(x, y), l| (x + l.0 / n, y + l.1 / n));
    let (sxx, sxy) =
        logs.iter().fold((0.0, 0.0), |(xx, xy), (x, y)| (xx + (x - x_mean).powi(2), xy + (x - x_mean) * (y - y_mean)));
    if sxx < 1e-12 {
        return Err(NoFit::NoSpread);
    }
    Ok(sxy / sxx)
}

/// [`reciprocity_fit`] with its working. From three trials on the line's own scatter tells how far the exponent may be off.
///
/// # Errors
/// [`NoFit`] with fewer than two trials or without spread in the metered times.
pub fn reciprocity_fit_working(trials: &[Trial]) -> Result<Working, NoFit> {
    let p = reciprocity_fit(trials)?;
    let logs: Vec<_> = trials.iter().map(|t| (t.metered.as_s().ln(), t.good.as_s().ln())).collect();
    let said = figures(p, 4);
    let formula = match trials {
        [first, second] => format!(
            "p = ln(t′₂ / t′₁) / ln(t₂ / t₁) = ln({} / {}) / ln({} / {}) = {said}",
            plain(second.good.as_s()),
            plain(first.good.as_s()),
            plain(second.metered.as_s()),
            plain(first.metered.as_s())
        ),
        _ => format!(
            "slope of ln(good time) against ln(metered time) by least squares over {} trials, metered {} s to {} s: p = {said}",
            trials.len(),
            plain(trials.iter().map(|t| t.metered.as_s()).fold(f64::MAX, f64::min)),
            plain(trials.iter().map(|t| t.metered.as_s()).fold(f64::MIN, f64::max))
        ),
    };
    let n = logs.len() as f64;
    let (x_mean, y_mean) = logs.iter().fold((0.0, 0.0), |(x, y), l| (x + l.0 / n, y + l.1 / n));
    let sxx: f64 = logs.iter().map(|l| (l.0 - x_mean).powi(2)).sum();
    let left: f64 = logs.iter().map(|l| (l.1 - y_mean - p * (l.0 - x_mean)).powi(2)).sum();
    let working = Working::of(
        "reciprocity exponent",
        said,
        formula,
        "t′ = t₀ (t / t₀)^p as a straight line in logarithms, least squares",
    );
    Ok(if logs.len() > 2 {
        let sd = (left / (n - 2.0) / sxx).sqrt();
        // trials on the line but for rounding
        let sd = if sd < 1e-9 { 0.0 } else { sd };
        working.within(format!("± {} (one standard deviation, from the trials' scatter)", figures(sd, 2)))
    } else {
        working.within("two trials lie on a line whatever their errors: nothing tells how far it is off")
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn rule(p: f64, t0: f64) -> Reciprocity {
        Reciprocity::new(ReciprocityExponent::new(p).unwrap(), ReciprocityThreshold::new(t0).unwrap())
    }

    /// 10^1.31 = 20.4 and 2 × 5^1.31 = 16.5, worked by hand in this test.
    #[test]
    fn the_working_is_written_in_times_and_the_threshold_and_names_no_maker() {
        let at = |t0| rule(1.31, t0).working(Seconds::computed(10.0));
        assert_eq!(at(1.0).formula, "t′ = t₀ (t / t₀)^p = 1 × (10.0 / 1)^1.31 = 20.4 s");
        assert_eq!(at(2.0).formula, "t′ = t₀ (t / t₀)^p = 2 × (10.0 / 2)^1.31 = 16.5 s");
        let back = rule(1.31, 1.0).metered_working(Seconds::computed(20.0));
        assert!(back.formula.starts_with("t = t₀ (t′ / t₀)^(1/p) = 1 × ("), "{}", back.formula);
        assert!(at(1.0).source.starts_with("a film maker’s data sheet, power law above a threshold"));
    }

    #[test]
    fn trials_with_one_metered_time_cannot_be_fitted() {
        let trial = Trial { metered: ExposureTime::new(10.0).unwrap(), good: ExposureTime::new(20.0).unwrap() };
        assert_eq!(reciprocity_fit(&[trial]), Err(NoFit::TooFew));
        assert_eq!(reciprocity_fit(&[trial, trial]), Err(NoFit::NoSpread));
    }

    #[test]
    fn three_trials_say_how_far_the_exponent_may_be_off_and_two_do_not() {
        let trial = |m, g| Trial { metered: ExposureTime::new(m).unwrap(), good: ExposureTime::new(g).unwrap() };
        let two = reciprocity_fit_working(&[trial(10.0, 20.0), trial(100.0, 400.0)]).unwrap();
        assert_eq!(two.formula, "p = ln(t′₂ / t′₁) / ln(t₂ / t₁) = ln(400 / 20) / ln(100 / 10) = 1.301");
        assert!(two.interval.unwrap().starts_with("two trials lie on a line"));
        // on the line exactly, and with the middle one a fifth off: s² = (2/3) (ln 1.2)², sxx = 2 (ln 10)²
        let exact = [trial(1.0, 1.0), trial(10.0, 20.0), trial(100.0, 400.0)];
        assert!(reciprocity_fit_working(&exact).unwrap().interval.unwrap().starts_with("± 0"));
        let off = [exact[0], trial(10.0, 24.0), exact[2]];
        let said = reciprocity_fit_working(&off).unwrap().interval.unwrap();
        assert!(said.starts_with("± 0.046 "), "{said}");
    }

    fn table(lines: &[(f64, f64)]) -> Result<ReciprocityTable, NotATable> {
        let time = |s| ExposureTime::new(s).unwrap();
        ReciprocityTable::new(&lines.iter().map(|&(m, c)| (time(m), time(c))).collect::<Vec<_>>())
    }

    #[test]
    fn a_table_is_read_on_scales_of_stops_and_says_where_it_ends() {
        let rule = Reciprocity::of_table(table(&[(1.0, 1.0), (10.0, 20.0), (100.0, 800.0)]).unwrap());
        let at = |s| rule.corrected(Seconds::computed(s)).as_s();
        assert_eq!((at(0.5), at(1.0)), (0.5, 1.0));
        assert!((at(10.0) - 20.0).abs() < 1e-9 && (at(100.0) - 800.0).abs() < 1e-9);
        // half way from 1 to 10 on a scale of stops: half of the stop that 10 s needs
        let middle = 10f64.sqrt();
        assert!(((at(middle) / middle).log2() - 0.5).abs() < 1e-9);
        assert!(!rule.is_past_table(Seconds::computed(100.0)) && rule.is_past_table(Seconds::computed(101.0)));
        assert!(rule.working(Seconds::computed(200.0)).formula.contains("the table ends at 100 s"));
    }

    #[test]
    fn lines_that_are_no_table_are_refused() {
        assert_eq!(table(&[(1.0, 1.0)]), Err(NotATable::Count));
        assert_eq!(table(&[(1.0, 2.0), (10.0, 20.0)]), Err(NotATable::NoBeginning));
        assert_eq!(table(&[(1.0, 1.0), (10.0, 9.0)]), Err(NotATable::Shorter));
        assert_eq!(table(&[(1.0, 1.0), (10.0, 20.0), (10.0, 30.0)]), Err(NotATable::NotGrowing));
    }

    proptest! {
        #[test]
        fn a_table_there_and_back_and_never_shorter(t in 0.0001..1e5f64, steps in proptest::collection::vec(1.0..3.0f64, 1..9)) {
            let mut lines = vec![(1.0, 1.0)];
            for step in steps {
                let (m, c) = *lines.last().unwrap();
                lines.push((m * 2.0, c * 2.0 * step));
            }
            let rule = Reciprocity::of_table(table(&lines).unwrap());
            let corrected = rule.corrected(Seconds::computed(t));
            prop_assert!(corrected.as_s() >= t * (1.0 - 1e-12), "{corrected:?}");
            prop_assert!((rule.metered(corrected).as_s() / t - 1.0).abs() < 1e-9);
        }

        #[test]
        fn correction_there_and_back_and_never_shorter(
            t in 0.0001..1e6f64, p in 1.0..=2.0f64, t0 in 0.01..1000.0f64,
        ) {
            let rule = rule(p, t0);
            let metered = ExposureTime::new(t).unwrap();
            let corrected = rule.corrected(metered);
            prop_assert!(corrected.as_s() >= t * (1.0 - 1e-12), "{corrected:?}");
            prop_assert!((rule.metered(corrected).as_s() / t - 1.0).abs() < 1e-9);
            let longer = rule.corrected(Seconds::computed(t * 1.01));
            prop_assert!(longer.as_s() > corrected.as_s());
        }
    }
}
