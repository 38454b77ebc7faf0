//! From the wanted hole to the tool: the micrometer setting and the mark on the needle.

use crate::calc::quantity::{HoleDiameter, PointDiameter, ShaftDiameter, TaperLength};
use crate::calc::working::{Working, figures, plain};

const MM_PER_INCH: f64 = 25.4;

/// What to set on a micrometer for a diameter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MicrometerSetting {
    exact_mm: f64,
}

impl MicrometerSetting {
    /// The setting for a hole.
    pub const fn of(hole: HoleDiameter) -> Self {
        Self { exact_mm: hole.as_mm() }
    }

    /// Unrounded, in mm.
    pub const fn as_mm(self) -> f64 {
        self.exact_mm
    }

    /// Unrounded, in inches.
    pub fn as_inches(self) -> f64 {
        self.exact_mm / MM_PER_INCH
    }

    /// As a metric micrometer is read: to 0.01 mm.
    pub fn metric_text(self) -> String {
        format!("{:.2} mm", self.exact_mm)
    }

    /// As an inch micrometer is read: thousandths, with the tenth that a vernier shows.
    pub fn thousandths_text(self) -> String {
        format!("{:.1} thousandths of an inch", self.as_inches() * 1000.0)
    }

    /// The setting with its working.
    pub fn working(self) -> Working {
        Working {
            name: "micrometer setting",
            value: format!("{}, {}", self.metric_text(), self.thousandths_text()),
            formula: format!("{} mm / 25.4 mm per inch = {:.4} in", figures(self.exact_mm, 3), self.as_inches()),
            source: "the inch is 25.4 mm exactly",
            interval: Some("a metric micrometer reads to 0.01 mm, an inch one to 0.001 in".to_owned()),
        }
    }
}

/// The wanted hole is not between the needle's point and its shaft.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("hole diameter must be from the needle's point ({point_mm} mm) to its shaft ({shaft_mm} mm)")]
pub struct NotOnTaper {
    /// Diameter at the point.
    pub point_mm: f64,
    /// Diameter of the shaft.
    pub shaft_mm: f64,
}

/// How far from the point of a straight-tapered needle it is as thick as the wanted hole, in mm.
///
/// # Errors
/// [`NotOnTaper`] when the needle is nowhere that thick.
pub fn needle_mark_mm(
    hole: HoleDiameter,
    shaft: ShaftDiameter,
    taper: TaperLength,
    point: PointDiameter,
) -> Result<f64, NotOnTaper> {
    let (d, s, p) = (hole.as_mm(), shaft.as_mm(), point.as_mm());
    if p >= s || d < p || d > s {
        return Err(NotOnTaper { point_mm: p, shaft_mm: s });
    }
    Ok(taper.as_mm() * (d - p) / (s - p))
}

/// [`needle_mark_mm`] with its working.
///
/// # Errors
/// [`NotOnTaper`] when the needle is nowhere that thick.
pub fn needle_mark_working(
    hole: HoleDiameter,
    shaft: ShaftDiameter,
    taper: TaperLength,
    point: PointDiameter,
) -> Result<Working, NotOnTaper> {
    let mark = needle_mark_mm(hole, shaft, taper, point)?;
    Ok(Working {
        name: "mark on the needle",
        value: format!("{} mm from the point", figures(mark, 2)),
        formula: format!(
            "L (d − p) / (s − p) = {} × ({} − {p}) / ({} − {p}) = {} mm",
            plain(taper.as_mm()),
            plain(hole.as_mm()),
            plain(shaft.as_mm()),
            figures(mark, 2),
            p = plain(point.as_mm()),
        ),
        source: "straight taper; needles vary, so measure the hole",
        interval: None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mark(hole: f64) -> Result<f64, NotOnTaper> {
        needle_mark_mm(
            HoleDiameter::new(hole).unwrap(),
            ShaftDiameter::new(0.9).unwrap(),
            TaperLength::new(9.0).unwrap(),
            PointDiameter::new(0.0).unwrap(),
        )
    }

    #[test]
    fn the_mark_moves_up_the_taper_with_the_hole() {
        assert!((mark(0.45).unwrap() - 4.5).abs() < 1e-12);
        assert!((mark(0.9).unwrap() - 9.0).abs() < 1e-12);
    }

    #[test]
    fn a_hole_wider_than_the_shaft_is_refused() {
        assert_eq!(
            mark(1.0).unwrap_err().to_string(),
            "hole diameter must be from the needle's point (0 mm) to its shaft (0.9 mm)"
        );
    }

    #[test]
    fn a_setting_reads_in_both_units() {
        let setting = MicrometerSetting::of(HoleDiameter::new(0.488).unwrap());
        assert_eq!(setting.metric_text(), "0.49 mm");
        assert_eq!(setting.thousandths_text(), "19.2 thousandths of an inch");
    }
}
