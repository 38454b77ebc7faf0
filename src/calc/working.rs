//! The working that a page shows beside a result: the value, the formula with its numbers put
//! in, the source, and an interval where an honest one exists.

/// How one result came about, ready to be shown.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Working {
    /// What it is: "hole diameter".
    pub name: &'static str,
    /// The result with its unit: "0.467 mm".
    pub value: String,
    /// The formula, then the formula with the numbers put in.
    pub formula: String,
    /// Where the formula or figure comes from.
    pub source: &'static str,
    /// What the value may lie between, in words, where this can be said honestly.
    pub interval: Option<String>,
}

impl Working {
    /// A working without an interval.
    pub fn of(name: &'static str, value: impl Into<String>, formula: impl Into<String>, source: &'static str) -> Self {
        Self { name, value: value.into(), formula: formula.into(), source, interval: None }
    }

    /// The same with what the value may lie between.
    #[must_use]
    pub fn within(self, interval: impl Into<String>) -> Self {
        Self { interval: Some(interval.into()), ..self }
    }
}

/// A number to so many significant figures, without an exponent.
pub fn figures(x: f64, figures: u32) -> String {
    if x == 0.0 || !x.is_finite() {
        return format!("{x}");
    }
    let figures = i32::try_from(figures).unwrap_or(15).clamp(1, 15);
    let magnitude = |x: f64| x.abs().log10().floor() as i32;
    let rounded = round_at(x, figures - 1 - magnitude(x));
    // 9.996 to three figures is 10.0, not 10.00.
    let decimals = figures - 1 - magnitude(rounded);
    format!("{rounded:.*}", usize::try_from(decimals).unwrap_or(0))
}

/// The same for what may be very small or very large: `0.00123`, but `1.23 × 10^-7`.
pub fn scaled(x: f64, significant: u32) -> String {
    if x == 0.0 || !x.is_finite() || (1e-4..1e7).contains(&x.abs()) {
        return figures(x, significant);
    }
    let decimals = usize::try_from(significant.saturating_sub(1)).unwrap_or(0);
    let text = format!("{x:.decimals$e}");
    match text.split_once('e') {
        Some((number, power)) => format!("{number} × 10^{power}"),
        None => text,
    }
}

/// A number as a person would write it who was given it: up to six significant figures, no
/// trailing zeros.
pub fn plain(x: f64) -> String {
    let text = figures(x, 6);
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

/// A time as one says it: `0.25 s`, `8.3 s`, `33 s`, `2 min 15 s`, `1 h 05 min`.
pub fn seconds_text(s: f64) -> String {
    if s < 9.95 {
        return format!("{} s", figures(s, 2));
    }
    let whole = s.round();
    if whole < 60.0 {
        return format!("{whole} s");
    }
    if whole < 3600.0 {
        let (min, sec) = ((whole / 60.0).floor(), whole % 60.0);
        return if sec == 0.0 { format!("{min} min") } else { format!("{min} min {sec} s") };
    }
    let minutes = (s / 60.0).round();
    format!("{} h {:02} min", (minutes / 60.0).floor(), minutes % 60.0)
}

/// Stops with their sign, to a tenth: `+1.2`, `-0.5`, `0.0`.
pub fn stops_text(stops: f64) -> String {
    let tenths = (stops * 10.0).round() / 10.0;
    if tenths == 0.0 { "0.0".to_owned() } else { format!("{tenths:+.1}") }
}

fn round_at(x: f64, decimals: i32) -> f64 {
    if decimals >= 0 {
        let scale = 10f64.powi(decimals);
        (x * scale).round() / scale
    } else {
        let scale = 10f64.powi(-decimals);
        (x / scale).round() * scale
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_read_as_a_person_writes_them() {
        assert_eq!(figures(0.467_123, 3), "0.467");
        assert_eq!(figures(9.996, 3), "10.0");
        assert_eq!(figures(1234.5, 3), "1230");
        assert_eq!(plain(110.0), "110");
        assert_eq!(plain(0.00055), "0.00055");
        assert_eq!(plain(-0.5), "-0.5");
        assert_eq!(plain(5_000_000.0), "5000000");
        assert_eq!(plain(0.0), "0");
        assert_eq!(scaled(0.001_234, 3), "0.00123");
        assert_eq!(scaled(-1.234e-310, 3), "-1.23 × 10^-310");
        assert_eq!(scaled(2.5e9, 2), "2.5 × 10^9");
    }

    #[test]
    fn times_read_as_a_person_says_them() {
        assert_eq!(seconds_text(0.25), "0.25 s");
        assert_eq!(seconds_text(8.31), "8.3 s");
        assert_eq!(seconds_text(33.4), "33 s");
        assert_eq!(seconds_text(59.7), "1 min");
        assert_eq!(seconds_text(135.0), "2 min 15 s");
        assert_eq!(seconds_text(3900.0), "1 h 05 min");
        assert_eq!(stops_text(1.24), "+1.2");
        assert_eq!(stops_text(-0.04), "0.0");
    }
}
