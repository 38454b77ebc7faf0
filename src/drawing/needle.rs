//! A needle with the mark where it is as thick as the wanted hole.

use askama::Template;

use crate::{
    calc::quantity::{PointDiameter, ShaftDiameter, TaperLength},
    domain::measure::length::{LengthUnit, computed_words},
};

/// Where the point is drawn.
const POINT: f64 = 30.0;
/// How long the taper is drawn.
const TAPER: f64 = 250.0;
/// How thick the shaft is drawn: thickness is exaggerated, length is to scale.
const SHAFT: f64 = 44.0;
/// The needle's axis.
const AXIS: f64 = 46.0;

/// A needle with its mark.
#[derive(Debug, Template)]
#[template(path = "drawings/needle.html")]
pub struct Needle {
    id: &'static str,
    description: String,
    outline: String,
    mark: String,
    measure_middle: String,
    words: String,
}

impl askama::filters::HtmlSafe for Needle {}

impl Needle {
    /// Draws it. `mark_mm` lies on the taper, from its point.
    pub fn of(
        id: &'static str,
        shaft: ShaftDiameter,
        taper: TaperLength,
        point: PointDiameter,
        mark_mm: f64,
        unit: LengthUnit,
    ) -> Self {
        let tip = SHAFT / 2.0 * (point.as_mm() / shaft.as_mm()).min(1.0);
        let (full, end) = (SHAFT / 2.0, POINT + TAPER);
        let mark = POINT + TAPER * (mark_mm / taper.as_mm()).clamp(0.0, 1.0);
        Self {
            id,
            description: format!(
                "A needle {} thick with a taper {} long; the mark stands {} from the point. Length to scale, thickness exaggerated.",
                computed_words(shaft.as_mm(), 3, unit),
                computed_words(taper.as_mm(), 3, unit),
                computed_words(mark_mm, 2, unit)
            ),
            outline: format!(
                "M{POINT:.1} {:.1}L{end:.1} {:.1}H390V{:.1}H{end:.1}L{POINT:.1} {:.1}Z",
                AXIS - tip,
                AXIS - full,
                AXIS + full,
                AXIS + tip
            ),
            mark: format!("{mark:.1}"),
            measure_middle: format!("{:.1}", (POINT + mark) / 2.0),
            words: computed_words(mark_mm, 2, unit),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_mark_stands_where_the_taper_says() {
        let drawing = Needle::of(
            "needle",
            ShaftDiameter::new(0.9).expect("in range"),
            TaperLength::new(9.0).expect("in range"),
            PointDiameter::new(0.0).expect("in range"),
            4.5,
            LengthUnit::Millimetre,
        );
        assert!(drawing.render().expect("a drawing").contains(r#"x1="155.0""#));
    }
}
