//! Sheets of paper and film, their sizes and areas.

use std::fmt;
use std::str::FromStr;

use crate::calc::quantity::{FilmSide, SquareMetres};
use crate::calc::working::{Working, plain, scaled};

/// A sheet size as it is written: `8x10in`, `9x12cm`, `180x240mm`.
///
/// ```
/// use shimlight::calc::darkroom::sheet::SheetSize;
/// let sheet: SheetSize = "8x10in".parse().unwrap();
/// assert!((sheet.area().as_m2() - 0.0516128).abs() < 1e-12);
/// assert!("8x10".parse::<SheetSize>().is_err());
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SheetSize {
    width: f64,
    height: f64,
    unit: SheetUnit,
}

/// The unit a sheet size is written in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SheetUnit {
    /// Inches, 25.4 mm.
    Inch,
    /// Centimetres.
    Centimetre,
    /// Millimetres.
    Millimetre,
}

/// Text that is not a sheet size.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("sheet size must be width x height with in, cm or mm, each side from 1 to 3000 mm, such as 8x10in or 9x12cm")]
pub struct NotASheet;

impl SheetUnit {
    const fn mm(self) -> f64 {
        match self {
            Self::Inch => 25.4,
            Self::Centimetre => 10.0,
            Self::Millimetre => 1.0,
        }
    }

    const fn label(self) -> &'static str {
        match self {
            Self::Inch => "in",
            Self::Centimetre => "cm",
            Self::Millimetre => "mm",
        }
    }
}

impl SheetSize {
    /// A sheet of these sides in a unit.
    ///
    /// # Errors
    /// [`NotASheet`] when a side is outside the range of [`FilmSide`].
    pub fn new(width: f64, height: f64, unit: SheetUnit) -> Result<Self, NotASheet> {
        let side = |s: f64| FilmSide::new(s * unit.mm()).map_err(|_| NotASheet);
        side(width)?;
        side(height)?;
        Ok(Self { width, height, unit })
    }

    /// Width in mm.
    pub fn width(self) -> FilmSide {
        FilmSide::computed(self.width * self.unit.mm())
    }

    /// Height in mm.
    pub fn height(self) -> FilmSide {
        FilmSide::computed(self.height * self.unit.mm())
    }

    /// Area of one sheet.
    pub fn area(self) -> SquareMetres {
        SquareMetres::computed(self.width().as_mm() * self.height().as_mm() * 1e-6)
    }
}

impl FromStr for SheetSize {
    type Err = NotASheet;

    fn from_str(text: &str) -> Result<Self, NotASheet> {
        let text = text.trim().to_lowercase().replace('×', "x");
        let (sides, unit) = [SheetUnit::Inch, SheetUnit::Centimetre, SheetUnit::Millimetre]
            .into_iter()
            .find_map(|unit| Some((text.strip_suffix(unit.label())?, unit)))
            .ok_or(NotASheet)?;
        let (width, height) = sides.split_once('x').ok_or(NotASheet)?;
        let side = |s: &str| {
            let s = s.trim();
            let plain = !s.is_empty() && s.bytes().all(|b| b.is_ascii_digit() || b == b'.');
            if plain { s.parse().map_err(|_| NotASheet) } else { Err(NotASheet) }
        };
        Self::new(side(width)?, side(height)?, unit)
    }
}

impl fmt::Display for SheetSize {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}x{}{}", plain(self.width), plain(self.height), self.unit.label())
    }
}

/// Area of several kinds of sheets together.
pub fn sheet_area(sheets: impl IntoIterator<Item = (SheetSize, u32)>) -> SquareMetres {
    SquareMetres::computed(sheets.into_iter().map(|(size, count)| size.area().as_m2() * f64::from(count)).sum())
}

/// [`sheet_area`] with its working. Of many sizes the first few are written out.
pub fn sheet_area_working(sheets: &[(SheetSize, u32)]) -> Working {
    const WRITTEN_OUT: usize = 12;
    let area = scaled(sheet_area(sheets.iter().copied()).as_m2(), 6);
    let mut terms: Vec<_> = sheets
        .iter()
        .take(WRITTEN_OUT)
        .map(|(size, count)| {
            format!("{count} × {} mm × {} mm", plain(size.width().as_mm()), plain(size.height().as_mm()))
        })
        .collect();
    if sheets.len() > WRITTEN_OUT {
        terms.push(format!("{} more sizes", sheets.len() - WRITTEN_OUT));
    }
    Working::of(
        "area of the sheets",
        format!("{area} m²"),
        format!("Σ n w h = {} = {area} m²", terms.join(" + ")),
        "geometry; the inch is 25.4 mm exactly",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_are_read_in_the_units_people_write() {
        for (text, area) in
            [("8x10in", 0.051_612_8), ("4 x 5 IN", 0.012_903_2), ("9×12cm", 0.0108), ("100x100mm", 0.01)]
        {
            let sheet: SheetSize = text.parse().unwrap();
            assert!((sheet.area().as_m2() - area).abs() < 1e-12, "{text} {sheet:?}");
            assert_eq!(sheet.to_string().parse(), Ok(sheet));
        }
    }

    #[test]
    fn a_size_without_unit_or_with_a_strange_side_is_refused() {
        for bad in ["8x10", "x10in", "8xin", "8in", "-8x10in", "0x10in", "400x8in", "1e1x8in", "nanxnanin"] {
            assert_eq!(bad.parse::<SheetSize>(), Err(NotASheet), "{bad}");
        }
    }
}
