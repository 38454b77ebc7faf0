//! The one JSON object about a file, and the same in words.

use serde::Serialize;
use serde_json::{Value, json};

use crate::calc::imaging::hole::HoleReading;
use crate::calc::imaging::sheet::{ExposureError, Fault, Outline, Shape, SheetReading};
use crate::calc::imaging::steps::StripReading;
use crate::scans::{Refusal, Refused};

use super::curve_option::CurveOption;

/// Where the resolution comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum DpiFrom {
    /// `--dpi`.
    Given,
    /// The file.
    File,
}

/// What is printed about a file.
#[derive(Debug, Serialize)]
pub struct Answer {
    file: String,
    kind: &'static str,
    status: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    reason: Option<&'static str>,
    width_px: Option<u32>,
    height_px: Option<u32>,
    dpi: Option<f64>,
    dpi_from: Option<DpiFrom>,
    warnings: Vec<&'static str>,
    found: Vec<Value>,
    #[serde(skip)]
    words: Vec<String>,
    #[serde(skip)]
    why: Option<Refusal>,
}

/// What was found, each as JSON and in words.
pub struct Found {
    objects: Vec<Value>,
    words: Vec<String>,
}

impl Answer {
    /// A file that is refused.
    pub fn refused(file: String, kind: &'static str, dpi: Option<f64>, refused: Refused) -> Self {
        Self {
            file,
            kind,
            status: "refused",
            reason: Some(refused.why.word()),
            width_px: refused.size.map(|size| size.0),
            height_px: refused.size.map(|size| size.1),
            dpi,
            dpi_from: dpi.map(|_| DpiFrom::Given),
            warnings: Vec::new(),
            found: Vec::new(),
            words: Vec::new(),
            why: Some(refused.why),
        }
    }

    /// A file that was read.
    pub fn read(
        file: String,
        kind: &'static str,
        (width, height): (u32, u32),
        (dpi, dpi_from): (Option<f64>, Option<DpiFrom>),
        warnings: Vec<&'static str>,
        (found, cut): (Found, bool),
    ) -> Self {
        let status = match found.objects.len() {
            _ if cut => "border",
            0 => "none",
            1 => "one",
            2 => "two",
            _ => "several",
        };
        Self {
            file,
            kind,
            status,
            reason: None,
            width_px: Some(width),
            height_px: Some(height),
            dpi: dpi.map(|dpi| to(dpi, 2)),
            dpi_from,
            warnings,
            found: found.objects,
            words: found.words,
            why: None,
        }
    }

    /// Whether the file was refused.
    pub fn is_refused(&self) -> bool {
        self.why.is_some()
    }

    /// On one line.
    pub fn in_json(&self) -> String {
        serde_json::to_string(self).unwrap_or_default()
    }

    /// For a person.
    pub fn in_words(&self) -> String {
        let what = match (self.status, self.kind) {
            ("refused", _) => self.why.map_or("", Refusal::advice).to_owned(),
            ("border", _) => "Something is cut off by the picture’s edge. Lay it further in and scan again.".to_owned(),
            ("none", "hole") => "No hole was found.".to_owned(),
            ("none", "steps") => "No strip was found.".to_owned(),
            ("none", _) => "No sheet was found.".to_owned(),
            _ => String::new(),
        };
        let mut lines = vec![format!("{}: {what}", self.file).trim_end_matches([' ', ':']).to_owned()];
        lines.extend(self.words.iter().map(|words| format!("  {words}")));
        lines.extend(self.warnings.iter().map(|warning| format!("  {warning}")));
        lines.join("\n")
    }
}

impl Found {
    /// Holes from left to right.
    pub fn holes(holes: &[HoleReading]) -> Self {
        let object = |hole: &HoleReading| {
            json!({
                "d_area_mm": to(hole.d_area_mm, 5),
                "d_uncertainty_mm": to(hole.uncertainty.total_mm(), 5),
                "axis_ratio": to(hole.axis_ratio, 4),
                "circularity": to(hole.circularity, 4),
                "centroid_px": places(hole.centroid_px, 3),
                "angle_deg_from_x_towards_y": to(hole.angle_deg, 2),
                "edge_rms_pct": to(hole.edge_rms_pct, 3),
                "edge_max_in_pct": to(hole.edge_max_in_pct, 3),
                "edge_max_out_pct": to(hole.edge_max_out_pct, 3),
            })
        };
        let words = |hole: &HoleReading| {
            format!(
                "hole of {:.3} mm, give or take {:.3} mm; shorter axis {:.2} of the longer",
                hole.d_area_mm,
                hole.uncertainty.total_mm(),
                hole.axis_ratio
            )
        };
        Self { objects: holes.iter().map(object).collect(), words: holes.iter().map(words).collect() }
    }

    /// Negatives from left to right.
    pub fn sheets(sheets: &[SheetReading], curve: &CurveOption) -> Self {
        let paper = curve.paper();
        let object = |sheet: &SheetReading| {
            let (value, uncertainty, at_most, at_least) = match sheet.exposure {
                ExposureError::Value { stops, uncertainty } => (Some(stops), Some(uncertainty), None, None),
                ExposureError::AtMost(stops) => (None, None, Some(stops), None),
                ExposureError::AtLeast(stops) => (None, None, None, Some(stops)),
            };
            let stops = |stops: Option<f64>| stops.map(|stops| to(stops, 3));
            json!({
                "corners_px": corners(&sheet.outline),
                "size_mm": sheet.size_mm.map(|size| places(size, 2)),
                "angle_deg": to(sheet.outline.angle_deg(), 3),
                "picture_shape": match sheet.area.shape { Shape::Rectangle => "rectangle", Shape::Circle { .. } => "circle" },
                "base_density": to(sheet.base.density, 4),
                "base_from": sheet.base.from.word(),
                "max_density": to(sheet.max_density, 3),
                "median_density": to(sheet.median_density, 3),
                "share_at_base": to(sheet.share_at_base, 4),
                "share_at_max": to(sheet.share_at_max, 4),
                "exposure_error_stops": stops(value),
                "exposure_error_uncertainty_stops": stops(uncertainty),
                "exposure_error_at_most_stops": stops(at_most),
                "exposure_error_at_least_stops": stops(at_least),
                "result_stops": stops(value.map(|stops| -stops)),
                "verdict": sheet.verdict.word(),
                "faults": words(&sheet.faults),
                "curve": { "d_max": paper.d_max(), "iso_range": paper.iso_range(), "given": curve.is_given() },
                "positive_grid": sheet.positive_grid.map(|row| row.map(|tone| to(tone, 3))),
            })
        };
        let words = |sheet: &SheetReading| {
            let exposure = match sheet.exposure {
                ExposureError::Value { stops, uncertainty } => {
                    format!("exposed {stops:+.1} stops from right, give or take {uncertainty:.1}")
                }
                ExposureError::AtMost(stops) => format!("exposed at most {stops:+.1} stops from right"),
                ExposureError::AtLeast(stops) => format!("exposed at least {stops:+.1} stops from right"),
            };
            let faults: String = sheet.faults.iter().map(|fault| format!("; {}", fault.word())).collect();
            format!("negative {}: {exposure}{faults}", sheet.verdict.word())
        };
        Self { objects: sheets.iter().map(object).collect(), words: sheets.iter().map(words).collect() }
    }

    /// Step strips from left to right.
    pub fn strips(strips: &[StripReading]) -> Self {
        let object = |strip: &StripReading| {
            let (range, middle) = (strip.log_exposure_range(), strip.midpoint_step());
            let patches: Vec<Value> = strip
                .patches
                .iter()
                .map(|patch| {
                    json!({
                        "step": patch.step,
                        "stops": to(patch.stops, 4),
                        "density": to(patch.density, 4),
                        "density_uncertainty": to(patch.uncertainty, 4),
                        "center_px": places(patch.centre, 2),
                    })
                })
                .collect();
            json!({
                "corners_px": corners(&strip.outline),
                "angle_deg": to(strip.outline.angle_deg(), 3),
                "base_density": to(strip.base.density, 4),
                "base_from": strip.base.from.word(),
                "max_density": to(strip.max_density, 3),
                "faults": words(&strip.faults),
                "patches": patches,
                "darkest_end": strip.dark_end.word(),
                "log_exposure_range": range.map(|range| to(range.0, 3)),
                "log_exposure_range_uncertainty": range.map(|range| to(range.1, 3)),
                "iso_range": strip.iso_range(),
                "midpoint_step": middle.map(|middle| to(middle.0, 3)),
                "midpoint_step_uncertainty": middle.map(|middle| to(middle.1, 3)),
                "fit": {
                    "d_max": strip.fit.filter(|_| strip.reaches_black).map(|fit| to(fit.d_max, 3)),
                    "rms_density": strip.fit.map(|fit| to(fit.rms, 4)),
                },
            })
        };
        let words = |strip: &StripReading| match (strip.iso_range(), strip.midpoint_step()) {
            (Some(range), Some((middle, _))) => format!("strip: ISO range {range:.0}, middle at step {middle:.1}"),
            _ => "strip: black is not reached, so it has no range and no middle; expose it longer".to_owned(),
        };
        Self { objects: strips.iter().map(object).collect(), words: strips.iter().map(words).collect() }
    }
}

fn words(faults: &[Fault]) -> Vec<&'static str> {
    faults.iter().map(|fault| fault.word()).collect()
}

fn corners(outline: &Outline) -> [[f64; 2]; 4] {
    outline.corners.map(|corner| places(corner, 2))
}

fn places(point: [f64; 2], digits: i32) -> [f64; 2] {
    point.map(|at| to(at, digits))
}

/// A number to so many digits after the point; never minus nothing.
fn to(number: f64, digits: i32) -> f64 {
    let by = 10f64.powi(digits);
    (number * by).round() / by + 0.0
}
