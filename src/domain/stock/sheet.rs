//! A sheet of paper or film with its size as it was typed.

use crate::calc::darkroom::sheet::SheetSize;

use crate::domain::measure::length::Length;

/// A sheet's size.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sheet {
    /// Width.
    pub width: Length,
    /// Height.
    pub height: Length,
    /// As it was typed, tidied: `4x5in`.
    pub typed: String,
}

/// The size could not be read, or is no size of a sheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("type width x height with its unit, such as 4x5in or 9x12cm, each side from 5 mm to 2 m")]
pub struct NotASheetSize;

impl Sheet {
    /// Sides the database accepts.
    const SIDES_MM: std::ops::RangeInclusive<f64> = 5.0..=2000.0;

    /// Reads a size: `4x5in`, `9 x 12 cm`, `180×240mm`, a decimal comma allowed.
    ///
    /// # Errors
    /// When it is not a size, or a side is shorter than 5 mm or longer than 2 m.
    pub fn parse(text: &str) -> Result<Self, NotASheetSize> {
        crate::domain::measure::decimal::read_one_way(text).map_err(|_| NotASheetSize)?;
        let tidy = text.trim().replace(',', ".").replace(['"', '”', '″'], "in");
        let size: SheetSize = tidy.parse().map_err(|_| NotASheetSize)?;
        let (width, height) = (size.width().as_mm(), size.height().as_mm());
        if !Self::SIDES_MM.contains(&width) || !Self::SIDES_MM.contains(&height) {
            return Err(NotASheetSize);
        }
        Ok(Self { width: Length::from_mm(width), height: Length::from_mm(height), typed: size.to_string() })
    }

    /// As pages say it: `4 × 5 in`.
    pub fn in_words(&self) -> String {
        let unit = self.typed.find(|c: char| c.is_ascii_alphabetic() && c != 'x').unwrap_or(self.typed.len());
        let (sides, unit) = self.typed.split_at(unit);
        format!("{} {unit}", sides.replace('x', " × "))
    }

    /// Area in whole square millimetres, as the silver book counts it; at least one.
    pub fn area_mm2(&self) -> i64 {
        ((self.width.as_mm() * self.height.as_mm()).round() as i64).max(1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_quarter_plate_of_eight_by_ten_has_a_quarter_of_its_area() {
        let quarter = Sheet::parse("4 x 5 in").expect("a size");
        assert_eq!((quarter.area_mm2(), quarter.typed.as_str()), (12_903, "4x5in"));
        assert_eq!(quarter.in_words(), "4 × 5 in");
        assert_eq!(Sheet::parse("180×240mm").expect("a size").in_words(), "180 × 240 mm");
        assert_eq!(Sheet::parse("8x10in").expect("a size").area_mm2(), 51_613);
        assert_eq!(Sheet::parse("6,5x9cm").expect("a size").width, Length::from_mm(65.0));
    }

    #[test]
    fn a_size_that_no_sheet_has_is_refused() {
        for bad in ["", "4x5", "half a sheet", "1x1mm", "2.5x1000cm", "x5in"] {
            assert_eq!(Sheet::parse(bad), Err(NotASheetSize), "{bad}");
        }
    }
}
