//! Where a function falls through zero.

/// The place between `low`, where a continuous function is above zero, and `high`, where it is not, at
/// which it is zero, to 1e-13 of the range or where its value is that small: false position, with the
/// value at an end that stays halved (the Illinois rule), and every third step in the middle, so that a
/// cliff is found as well.
pub fn falls_to_zero(low: f64, high: f64, f: impl Fn(f64) -> f64) -> f64 {
    falls_to_zero_where(1e-13, low, high, f)
}

/// The same where a value so small is taken for zero.
pub fn falls_to_zero_where(small: f64, mut low: f64, mut high: f64, f: impl Fn(f64) -> f64) -> f64 {
    let narrow = (high - low) * 1e-13;
    let (mut at_low, mut at_high) = (f(low), f(high));
    let mut stayed = 0;
    for step in 1..=150 {
        let between = (low * at_high - high * at_low) / (at_high - at_low);
        let useful = step % 3 != 0 && between > low && between < high;
        let next = if useful { between } else { (low + high) / 2.0 };
        let value = f(next);
        if value > 0.0 {
            (low, at_low) = (next, value);
            if stayed == 1 {
                at_high /= 2.0;
            }
            stayed = 1;
        } else {
            (high, at_high) = (next, value);
            if stayed == -1 {
                at_low /= 2.0;
            }
            stayed = -1;
        }
        if high - low <= narrow || value.abs() < small {
            return next;
        }
    }
    (low + high) / 2.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_falling_function_is_met_at_its_zero() {
        for (wanted, f) in [
            (0.5, (|x| 0.5 - x) as fn(f64) -> f64),
            (0.25f64.sqrt().sqrt(), |x| 0.25 - x.powi(4)),
            (0.001, |x| (0.001 - x) * (1.0 + 1000.0 * x)),
            (0.7, |x| if x < 0.7 { 1e-3 } else { -1.0 }),
        ] {
            let got = falls_to_zero(0.0, 1.0, f);
            assert!((got - wanted).abs() < 1e-10, "{got} not {wanted}");
        }
    }
}
