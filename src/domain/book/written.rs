//! Silver for people: always in grams and grams a litre, so that figures on a page can be compared,
//! and no finer than the figure is good for. An estimate is good for two figures at most; what was
//! weighed or read exactly is shown to three. Below a milligram it is only said that it is less.

use super::{Basis, Silver};

/// The finest step that is shown: a milligram, or a milligram a litre.
const STEP_UG: f64 = 1000.0;

/// Silver with its range: `2.4 g (0.87 to 4.0)`.
///
/// ```
/// use shimlight::domain::book::{Silver, written};
/// let sheet = Silver { best_ug: 12_516, low_ug: 4_516, high_ug: 20_774 };
/// assert_eq!(written::grams(sheet), "0.013 g (0.005 to 0.021)");
/// ```
pub fn grams(silver: Silver) -> String {
    with_range(silver, "g")
}

/// A concentration (micrograms a litre) with its range: `0.60 g/L (0.22 to 1.0)`.
pub fn grams_per_litre(silver: Silver) -> String {
    with_range(silver, "g/L")
}

/// Silver in grams, or that nobody knows it.
///
/// ```
/// use shimlight::domain::book::{Basis, Silver, written};
/// let some = Silver { best_ug: 0, low_ug: 0, high_ug: 30_000_000 };
/// assert_eq!(written::grams_if_known(some, Basis::Unknown), "not known, at most 30.0 g");
/// ```
pub fn grams_if_known(silver: Silver, basis: Basis) -> String {
    match basis {
        Basis::Unknown => format!("not known, at most {}", grams(Silver::exactly(silver.most_ug()))),
        _ => grams(silver),
    }
}

/// A concentration (micrograms a litre), or that nobody knows it.
pub fn grams_per_litre_if_known(per_litre: Silver, basis: Basis) -> String {
    match basis {
        Basis::Unknown => format!("not known, at most {}", grams_per_litre(Silver::exactly(per_litre.most_ug()))),
        _ => grams_per_litre(per_litre),
    }
}

fn with_range(silver: Silver, sign: &str) -> String {
    let (least, most) = (silver.least_ug(), silver.most_ug());
    if most <= 0 && least >= 0 {
        return format!("0 {sign}");
    }
    if (most as f64) < STEP_UG / 2.0 && least >= 0 {
        return format!("under 0.001 {sign}");
    }
    if least == most {
        return format!("{} {sign}", number(most, 3));
    }
    format!("{} {sign} ({} to {})", number(silver.best_ug, 2), number(least, 2), number(most, 2))
}

/// Micrograms as grams: so many figures, and no decimal past the third.
fn number(ug: i64, figures: i32) -> String {
    let grams = ug as f64 / 1e6;
    if ug == 0 {
        return "0".to_owned();
    }
    let wanted = figures - 1 - grams.abs().log10().floor() as i32;
    let decimals = wanted.clamp(0, 3);
    let text = format!("{grams:.*}", usize::try_from(decimals).unwrap_or(0));
    if text.trim_start_matches('-').chars().all(|c| c == '0' || c == '.') { "under 0.001".to_owned() } else { text }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(best_ug: i64, low_ug: i64, high_ug: i64) -> String {
        grams(Silver { best_ug, low_ug, high_ug })
    }

    #[test]
    fn silver_is_said_in_grams_no_finer_than_it_is_known() {
        assert_eq!(said(2_403_000, 867_000, 3_989_000), "2.4 g (0.87 to 4.0)");
        assert_eq!(said(12_516, 4_516, 20_774), "0.013 g (0.005 to 0.021)");
        assert_eq!(said(800_000, 800_000, 800_000), "0.800 g");
        assert_eq!(said(23_456_000, 8_000_000, 40_000_000), "23 g (8.0 to 40)");
        assert_eq!(said(0, 0, 0), "0 g");
    }

    #[test]
    fn below_a_milligram_nothing_is_pretended() {
        assert_eq!(said(3, 1, 5), "under 0.001 g");
        assert_eq!(said(600, 200, 1_500), "0.001 g (under 0.001 to 0.002)");
        assert_eq!(said(3, 3, 3), "under 0.001 g");
    }

    #[test]
    fn estimates_out_of_order_after_a_reversal_are_still_a_range() {
        assert_eq!(said(1_000_000, 1_500_000, 700_000), "1.0 g (0.70 to 1.5)");
    }
}
