//! Readings of the field: angles, image circle, what the plate cuts off, the scale of the picture.

use crate::{
    calc::{
        optics::{
            field::magnification_working,
            plate::{
                covered_working, cut_off_circle_mm, cut_off_working, image_circle_in_plate_mm, image_circle_mm,
                image_circle_working,
            },
        },
        quantity::{FilmSide, SubjectDistance},
        working::{Working, figures},
    },
    domain::{
        camera::Geometry,
        length::{LengthUnit, computed_words},
        light_over_sheet::LightOverSheet,
        target::{edge_loss_working, picture_working, view_working},
    },
    web::{access::Bench, error::WebError, reading::Reading},
};

use super::Setup;

/// A scene as far away as this, where the student has not said how far theirs is.
fn example(unit: LengthUnit) -> (f64, &'static str) {
    match unit {
        LengthUnit::Millimetre => (5000.0, "of a scene 5 m away, for example"),
        LengthUnit::Inch => (4572.0, "of a scene 15 ft away, for example"),
    }
}

/// The readings of a camera.
pub(super) fn readings(setup: &Setup, bench: &Bench) -> Result<Vec<Reading>, WebError> {
    let (body, unit) = (&setup.camera.body, bench.unit());
    let with_plate = setup.plate().map_or(String::new(), |plate| {
        let loss = LightOverSheet::of(body, Some(plate)).greatest_stops();
        if loss.is_finite() {
            format!("for a thin plate; with your plate {} stops at its furthest point", figures(loss, 2))
        } else {
            "for a thin plate; with your plate no light at all at its furthest point".to_owned()
        }
    });
    let mut readings = vec![Reading::of(view_working(body)), Reading::of(edge_loss_working(body)).remark(with_plate)];
    readings.extend(circles(setup, unit));
    if let Some((hole, plate)) = setup.plate() {
        let v = body.hole_to_film();
        let circle = computed_words(cut_off_circle_mm(v, hole, plate), 3, unit);
        readings.push(Reading::of(cut_off_working(v, hole, plate)).remark(match body.geometry() {
            Geometry::Curved(..) => "past this angle the plate’s thickness lets no light through".to_owned(),
            _ => format!("past a circle {circle} across the plate’s thickness lets no light through"),
        }));
    }
    let (subject, remark) = match setup.camera.subject_distance() {
        Some(subject) => (subject, "at your subject’s distance"),
        None => {
            let (mm, words) = example(unit);
            (SubjectDistance::new(mm).map_err(|error| WebError::Ours(error.to_string()))?, words)
        }
    };
    readings.push(Reading::of(magnification_working(subject, body.hole_to_film())).remark(remark));
    readings.push(Reading::of(picture_working(body, subject, unit)).remark(remark));
    Ok(readings)
}

/// How far the image reaches to one stop and to two, and how much of the film that is.
fn circles(setup: &Setup, unit: LengthUnit) -> Vec<Reading> {
    let (body, bore) = (&setup.camera.body, setup.plate());
    let v = body.hole_to_film();
    let circle = |loss| match bore {
        Some((hole, plate)) => image_circle_in_plate_mm(v, loss, hole, plate),
        None => image_circle_mm(v, loss),
    };
    let curved = matches!(body.geometry(), Geometry::Curved(..));
    let mut readings: Vec<_> = [(1.0, "one stop"), (2.0, "two stops")]
        .map(|(loss, words)| {
            let name = if curved { "Height of the image" } else { "Image circle" };
            Reading::of(image_circle_working(v, loss, bore))
                .named(&format!("{name} to {words}"))
                .showing(computed_words(circle(loss), 3, unit))
        })
        .into();
    match body.geometry() {
        Geometry::FlatRectangle(width, height) => {
            readings.push(Reading::of(covered_working(width, height, circle(2.0))));
        }
        Geometry::FlatDisc(diameter) => readings.push(Reading::of(disc_covered(diameter, circle(2.0)))),
        // straight ahead the wall is flat over its height, and along the arc nothing is lost
        Geometry::Curved(..) => {}
    }
    readings
}

fn disc_covered(diameter: FilmSide, circle_mm: f64) -> Working {
    let percent = figures(100.0 * (circle_mm / diameter.as_mm()).min(1.0).powi(2), 3);
    Working {
        name: "film within two stops",
        value: format!("{percent} %"),
        formula: format!(
            "(circle / film)² = ({} mm / {} mm)², at most 1: {percent} %",
            figures(circle_mm, 3),
            figures(diameter.as_mm(), 4)
        ),
        source: "geometry of two circles with one middle",
        interval: None,
    }
}
