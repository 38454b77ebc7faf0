//! How sharp the hole is: in the session's light and in that which the paper sees, in the middle and at the edge.

use crate::{
    calc::{
        optics::{
            diffraction::{Film, ObliqueSpread, Spectrum},
            fall_off::fall_off_curved,
            sharpness::{Sharpness, finest_at_edge_working, half_light_working},
        },
        quantity::FieldAngle,
        working::figures,
    },
    domain::{
        camera::{Body, Geometry},
        measure::length::{LengthUnit, computed_words},
    },
    web::kit::{error::WebError, reading::Reading},
};

use super::{Setup, sharpest};
use crate::domain::marking::own_figure::Reveals;

/// The readings in the session's light.
pub(super) fn readings(setup: &Setup, sharpness: &Sharpness, unit: LengthUnit) -> Result<Vec<Reading>, WebError> {
    let hole = setup.diameter();
    let spot = Reading::of(sharpness.spot_working(hole), Reveals::NOTHING);
    let spot = match unit {
        LengthUnit::Millimetre => spot,
        LengthUnit::Inch => spot.showing(format!("{} across", computed_words(sharpness.spot_mm(hole), 2, unit))),
    };
    let [least, greatest] = sharpness.within_a_tenth().map(|hole| computed_words(hole.as_mm(), 3, unit));
    let mut readings = vec![
        Reading::of(sharpness.share_working(hole), Reveals::NOTHING).remark(sharpest::softness_words(sharpness.share(hole))),
        Reading::of(sharpness.tolerance_working(), Reveals::HOLE)
            .named("Make the hole within")
            .showing(format!("{least} to {greatest}"))
            .remark("in between, sharpness stays within ten per cent of the best; the page of the hole names the same range"),
        Reading::of(sharpness.finest_lines_working(hole), Reveals::NOTHING).remark("finer ones keep less than a fifth of their contrast"),
        at_edge(setup)?,
        spot.remark("in which four fifths of a point’s light fall"),
    ];
    readings.extend(half_light(setup, unit)?);
    Ok(readings)
}

/// The same in the band of light that the paper or film sees, with how exactly a hole has to be made for it.
pub(super) fn in_band(setup: &Setup, unit: LengthUnit) -> Vec<Reading> {
    let (hole, in_band) = (setup.diameter(), sharpest::sharpness_in_band(&setup.camera, setup.light));
    let [least, greatest] = in_band.within_a_tenth().map(|hole| computed_words(hole.as_mm(), 3, unit));
    let holder = setup.light.holder();
    vec![
        Reading::of(in_band.share_working(hole), Reveals::NOTHING)
            .named(&format!("Sharpness in your {holder}’s light"))
            .remark(sharpest::softness_words(in_band.share(hole))),
        Reading::of(in_band.finest_lines_working(hole), Reveals::NOTHING)
            .named(&format!("Finest lines kept in your {holder}’s light")),
        Reading::of(in_band.tolerance_working(), Reveals::HOLE)
            .named(&format!("Sharp within a tenth in your {holder}’s light"))
            .showing(format!("{least} to {greatest}"))
            .remark(sharpest::WHICH_RANGE),
    ]
}

/// The film as diffraction takes it, and how far off straight ahead it reaches, in degrees: a flat film's furthest
/// corner, the ends of a curved film's arc.
fn reach(body: &Body) -> (Film, f64) {
    match body.geometry() {
        Geometry::Curved(arc, _, inside) => {
            (Film::Curved(inside), fall_off_curved(arc.as_mm() / 2.0, 0.0, inside).azimuth_deg.abs())
        }
        Geometry::FlatRectangle(..) | Geometry::FlatDisc(_) => (Film::Flat(body.hole_to_film()), body.edge_angle_deg()),
    }
}

/// Lines at the film's edge; where that lies further off than diffraction is worked out for, at the last angle, and said.
fn at_edge(setup: &Setup) -> Result<Reading, WebError> {
    let (film, furthest) = reach(&setup.camera.body);
    let light = Spectrum::single(setup.target.formula.wavelength);
    let angle = FieldAngle::new(furthest.min(FieldAngle::MAX)).map_err(|error| WebError::Ours(error.to_string()))?;
    let working = finest_at_edge_working(setup.diameter(), film, setup.camera.subject_distance(), light, angle);
    let which = match film {
        Film::Flat(_) => "of lines round the middle, and of lines that point at it",
        Film::Curved(_) => "of upright lines, and of level ones",
    };
    let reading = Reading::of(working, Reveals::NOTHING);
    Ok(if furthest > FieldAngle::MAX {
        reading.named(&format!("Finest lines {}° off straight ahead", FieldAngle::MAX)).remark(format!(
            "{which}; your film reaches {}° off, and diffraction is worked out from {} to {}°",
            figures(furthest, 4),
            FieldAngle::MIN,
            FieldAngle::MAX
        ))
    } else {
        let place = match film {
            Film::Flat(_) => "at the furthest point",
            Film::Curved(_) => "at the ends of the arc",
        };
        reading.remark(format!("{which}, {place}"))
    })
}

/// As far off the axis as half of a point's light is shown: further off it is drawn out to four times its width and more,
/// and takes a tenth of a second to work out.
const FURTHEST_DEG: f64 = 60.0;

/// As great a Fresnel number as it is shown for: a wider hole's image is nearly its own shadow, and takes seconds.
const GREATEST_SHOWN_FRESNEL_NUMBER: f64 = 10.0;

/// How wide half of a point's light spreads at the film's edge; where that lies further off than it is worked out for, at
/// the last angle, and said. Nothing for a hole so wide that its image is nearly its own shadow.
fn half_light(setup: &Setup, unit: LengthUnit) -> Result<Option<Reading>, WebError> {
    let (film, furthest) = reach(&setup.camera.body);
    let light = Spectrum::single(setup.target.formula.wavelength);
    let angle = FieldAngle::new(furthest.min(FURTHEST_DEG)).map_err(|error| WebError::Ours(error.to_string()))?;
    let (hole, subject) = (setup.diameter(), setup.camera.subject_distance());
    let image = ObliqueSpread::new(hole, film, subject, light, angle);
    if !image.is_ok_and(|image| image.fresnel_number() <= GREATEST_SHOWN_FRESNEL_NUMBER) {
        return Ok(None);
    }
    Ok(half_light_working(hole, film, subject, light, angle).map(|half| {
        let reading = Reading::of(half.working, Reveals::NOTHING);
        let reading = match unit {
            LengthUnit::Millimetre => reading,
            LengthUnit::Inch => reading.showing(format!(
                "within {}, {} straight ahead",
                computed_words(half.there_mm, 3, unit),
                computed_words(half.ahead_mm, 3, unit)
            )),
        };
        let words = "the radius of the circle in which half of a point’s light falls";
        if furthest > FURTHEST_DEG {
            reading.named(&format!("Half of a point’s light {FURTHEST_DEG}° off straight ahead")).remark(format!(
                "{words}; your film reaches {}° off, and this is shown to {FURTHEST_DEG}°",
                figures(furthest, 4)
            ))
        } else {
            reading.remark(words)
        }
    }))
}
