//! Readings of the field: angles, image circle, what the plate cuts off, the scale of the picture.

use crate::{
    calc::{
        optics::{
            covered::{BentFilm, covered_disc_working, covered_working},
            field::magnification_working,
            plate::{
                cut_off_circle_mm, cut_off_working, image_circle_in_plate_mm, image_circle_mm, image_circle_working,
            },
        },
        quantity::SubjectDistance,
        working::{Working, figures, plain},
    },
    domain::{
        camera::{
            Geometry,
            light_over_sheet::LightOverSheet,
            target::{edge_loss_working, picture_reveals, picture_working, view_working},
        },
        measure::length::{LengthUnit, computed_words},
    },
    web::kit::{access::Bench, error::WebError, reading::Reading},
};

use super::Setup;
use crate::domain::marking::own_figure::Reveals;

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
    let thin = if setup.plate().is_some() { "for a thin plate" } else { "" };
    let mut readings = vec![
        Reading::of(view_working(body), Reveals::ANGLE),
        Reading::of(edge_loss_working(body), Reveals::NOTHING).remark(thin),
    ];
    readings.extend(
        setup.plate().map(|_| Reading::of(loss_with_plate(setup), Reveals::NOTHING).remark("at its furthest point")),
    );
    readings.extend(circles(setup, unit));
    if let Some((hole, plate)) = setup.plate() {
        let v = body.hole_to_film();
        let circle = computed_words(cut_off_circle_mm(v, hole, plate), 3, unit);
        readings.push(Reading::of(cut_off_working(Some(v), hole, plate), Reveals::NOTHING).remark(
            match body.geometry() {
                Geometry::Curved(..) => "past this angle the plate’s thickness lets no light through".to_owned(),
                _ => format!("past a circle {circle} across the plate’s thickness lets no light through"),
            },
        ));
    }
    let (subject, remark) = match setup.camera.subject_distance() {
        Some(subject) => (subject, "at your subject’s distance"),
        None => {
            let (mm, words) = example(unit);
            (SubjectDistance::new(mm).map_err(|error| WebError::Ours(error.to_string()))?, words)
        }
    };
    readings.push(Reading::of(magnification_working(subject, body.hole_to_film()), Reveals::NOTHING).remark(remark));
    readings.push(Reading::of(picture_working(body, subject, unit), picture_reveals(body)).remark(remark));
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
            Reading::of(image_circle_working(v, loss, bore), Reveals::NOTHING)
                .named(&format!("{name} to {words}"))
                .showing(computed_words(circle(loss), 3, unit))
        })
        .into();
    match body.geometry() {
        Geometry::FlatRectangle(width, height) => {
            readings.push(Reading::of(covered_working(width, height, circle(2.0)), Reveals::NOTHING));
        }
        Geometry::FlatDisc(diameter) => {
            readings.push(Reading::of(covered_disc_working(diameter, circle(2.0)), Reveals::NOTHING));
        }
        Geometry::Curved(arc, height, inside) => {
            readings.push(Reading::of(BentFilm { arc, height, inside }.covered_working(bore), Reveals::NOTHING));
        }
    }
    readings
}

/// The light lost at the film's furthest point, the bore of the plate counted.
fn loss_with_plate(setup: &Setup) -> Working {
    let (body, plate) = (&setup.camera.body, setup.plate());
    let (thin, all) =
        (LightOverSheet::of(body, None).greatest_stops(), LightOverSheet::of(body, plate).greatest_stops());
    let angle = body.edge_angle_deg();
    let (d, t) = plate.map_or((0.0, 0.0), |(hole, plate)| (hole.as_mm(), plate.as_mm()));
    let q = t * angle.to_radians().tan() / d;
    let open =
        format!("q = t tan θ / d = {} × tan {}° / {} = {}", plain(t), figures(angle, 3), plain(d), figures(q, 3));
    let (value, formula) = if all.is_finite() {
        let stops = format!("{} stops", figures(all, 2));
        let bore = figures(all - thin, 2);
        let formula = format!(
            "{open}; open share (2/π)(acos q − q √(1 − q²)) = {}, which is {bore} stops; with {} stops behind a thin plate: {stops}",
            figures((thin - all).exp2(), 3),
            figures(thin, 2)
        );
        (stops, formula)
    } else {
        ("no light at all".to_owned(), format!("{open}, and from 1 on the bore is shut"))
    };
    Working {
        name: "light lost with your plate",
        value,
        formula,
        source: "overlap of two circles for the bore, derived from straight rays and checked by simulation; fall-off as for a \
                 thin plate",
        interval: None,
    }
}

/// Where each line of equal loss lies, with the numbers put in.
pub(super) fn line_workings(setup: &Setup, levels: &[f64]) -> Vec<String> {
    let v = setup.camera.body.hole_to_film();
    let curved = matches!(setup.camera.body.geometry(), Geometry::Curved(..));
    let one = |loss: &f64| {
        let thin = image_circle_mm(v, *loss) / 2.0;
        let (sign, place) = match curved {
            true => ("h = 2R", "above and below the middle, and cos(s/2R) times that at s along the arc"),
            false => ("r = v", "from the middle"),
        };
        let thin_words = format!(
            "{} stops: {sign} √(2^(k/2) − 1) = {} mm × √(2^({} / 2) − 1) = {} mm {place}",
            plain(*loss),
            plain(v.as_mm()),
            plain(*loss),
            figures(thin, 3)
        );
        match setup.plate() {
            None => thin_words,
            Some((hole, plate)) => format!(
                "{thin_words} behind a thin plate; where the bore takes its part as well, {} mm{}",
                figures(image_circle_in_plate_mm(v, *loss, hole, plate) / 2.0, 3),
                if curved { " straight up" } else { "" }
            ),
        }
    };
    levels.iter().map(one).collect()
}
