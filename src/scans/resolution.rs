//! What a file says about its resolution.

/// Pixels to the inch from what a file says for x and for y: only when it can be true (10 to 20,000) and both agree to
/// one per cent. `Err` holds the sentence for a person when the two directions differ.
pub fn dpi(x: f64, y: f64) -> Result<Option<f64>, &'static str> {
    let possible = |dpi: f64| (10.0..=20_000.0).contains(&dpi);
    if !possible(x) || !possible(y) {
        return Ok(None);
    }
    if (x / y - 1.0).abs() > 0.01 {
        return Err("The file gives two resolutions, one for each direction. Neither is used.");
    }
    Ok(Some((x + y) / 2.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_resolution_that_can_be_true_is_taken() {
        assert_eq!(dpi(600.0, 600.0), Ok(Some(600.0)));
        assert_eq!(dpi(9.9, 9.9), Ok(None));
        assert_eq!(dpi(f64::NAN, 600.0), Ok(None));
        assert_eq!(dpi(f64::INFINITY, f64::INFINITY), Ok(None));
        assert!(dpi(600.0, 300.0).is_err());
    }
}
