//! What the plate's thickness and the film's edge cut off, and how far the image reaches.
//!
//! A straight bore without reflections from its wall, the film much further away than the plate is
//! thick; derived for this project and checked by simulation.

use std::f64::consts::PI;

use crate::calc::quantity::{HoleDiameter, HoleToFilm, PlateThickness};
use crate::calc::working::{Working, figures, plain, scaled};

/// The share of the hole that is open to a ray at an angle: two circles of the hole's diameter,
/// shifted by `t tan(theta)`, overlap by `(2/pi)(acos q - q sqrt(1 - q²))`, `q = t tan(theta)/d`.
pub fn open_share(angle_deg: f64, hole: HoleDiameter, plate: PlateThickness) -> f64 {
    open_share_at(angle_deg.to_radians().tan(), hole, plate)
}

pub(super) fn open_share_at(tangent: f64, hole: HoleDiameter, plate: PlateThickness) -> f64 {
    let q = (plate.as_mm() * tangent / hole.as_mm()).abs().min(1.0);
    2.0 / PI * (q.acos() - q * (1.0 - q * q).sqrt())
}

/// The angle at which the plate lets nothing through: `atan(d/t)`, in degrees.
pub fn cut_off_angle_deg(hole: HoleDiameter, plate: PlateThickness) -> f64 {
    (hole.as_mm() / plate.as_mm()).atan().to_degrees()
}

/// Diameter of the circle beyond which nothing arrives, in mm: `2 v d / t`.
pub fn cut_off_circle_mm(v: HoleToFilm, hole: HoleDiameter, plate: PlateThickness) -> f64 {
    2.0 * v.as_mm() * hole.as_mm() / plate.as_mm()
}

/// Diameter of the circle on flat film within which no more than so many stops are lost, in mm,
/// behind a thin plate: `2 v sqrt(2^(k/2) - 1)`.
pub fn image_circle_mm(v: HoleToFilm, loss_stops: f64) -> f64 {
    2.0 * v.as_mm() * ((loss_stops / 2.0).exp2() - 1.0).sqrt()
}

/// The same behind a plate with a straight bore, by halving: the loss only grows outwards.
pub fn image_circle_in_plate_mm(v: HoleToFilm, loss_stops: f64, hole: HoleDiameter, plate: PlateThickness) -> f64 {
    let share = |tangent: f64| open_share_at(tangent, hole, plate) / (1.0 + tangent * tangent).powi(2);
    let wanted = (-loss_stops).exp2();
    let (mut inner, mut outer) = (0.0, hole.as_mm() / plate.as_mm());
    for _ in 0..200 {
        let middle = (inner + outer) / 2.0;
        if share(middle) > wanted {
            inner = middle;
        } else {
            outer = middle;
        }
    }
    2.0 * v.as_mm() * inner
}

/// The image circle for a loss, with its working; with a plate of known thickness its bore counts.
pub fn image_circle_working(v: HoleToFilm, loss_stops: f64, bore: Option<(HoleDiameter, PlateThickness)>) -> Working {
    let thin = image_circle_mm(v, loss_stops);
    let formula = format!(
        "thin plate: 2 v √(2^(k/2) − 1) = 2 × {} mm × √(2^({} / 2) − 1) = {} mm",
        plain(v.as_mm()),
        plain(loss_stops),
        figures(thin, 3)
    );
    let (circle, formula) = match bore {
        None => (thin, formula),
        Some((hole, plate)) => {
            let circle = image_circle_in_plate_mm(v, loss_stops, hole, plate);
            let bored = format!(
                "{formula}; with a bore {} mm long the open share (2/π)(acos q − q √(1 − q²)), q = t tan θ / d, is lost as \
                 well: {} mm",
                plain(plate.as_mm()),
                figures(circle, 3)
            );
            (circle, bored)
        }
    };
    Working {
        name: "image circle",
        value: format!("{} mm", figures(circle, 3)),
        formula,
        source: "cosine-fourth law, exact for a thin hole and flat film; overlap of two circles for the bore (derived, checked by simulation)",
        interval: None,
    }
}

/// Where the plate lets nothing through any more, with its working: the angle and, at a distance, the circle on flat film.
pub fn cut_off_working(v: Option<HoleToFilm>, hole: HoleDiameter, plate: PlateThickness) -> Working {
    let angle = cut_off_angle_deg(hole, plate);
    let (d, t) = (plain(hole.as_mm()), plain(plate.as_mm()));
    let circle = v.map_or(String::new(), |v| {
        let circle = figures(cut_off_circle_mm(v, hole, plate), 3);
        format!("; circle 2 v d / t = 2 × {} × {d} / {t} = {circle} mm", plain(v.as_mm()))
    });
    Working {
        name: "cut-off by the plate",
        value: format!("{}° off the axis", figures(angle, 3)),
        formula: format!("atan(d / t) = atan({d} / {t}) = {}°{circle}", figures(angle, 3)),
        source: "straight rays through a straight bore",
        interval: None,
    }
}

/// [`open_share`] with its working.
pub fn open_share_working(angle_deg: f64, hole: HoleDiameter, plate: PlateThickness) -> Working {
    let q = plate.as_mm() * angle_deg.to_radians().tan() / hole.as_mm();
    let open = scaled(open_share(angle_deg, hole, plate), 3);
    let shifted = format!(
        "q = t tan θ / d = {} × tan {}° / {} = {}",
        plain(plate.as_mm()),
        plain(angle_deg),
        plain(hole.as_mm()),
        scaled(q, 3)
    );
    let formula = if q < 1.0 {
        format!("{shifted}; (2/π)(acos q − q √(1 − q²)) = {open}")
    } else {
        format!("{shifted}: from q = 1 on nothing passes")
    };
    Working::of(
        "open share of the hole",
        open,
        formula,
        "overlap of two circles shifted by a straight bore, derived for this project and checked by simulation",
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn mm<Q: TryFrom<f64>>(x: f64) -> Q
    where
        Q::Error: std::fmt::Debug,
    {
        Q::try_from(x).unwrap()
    }

    #[test]
    fn the_workings_put_the_numbers_in() {
        // cases O064 and O062 of tests/reference
        assert_eq!(image_circle_working(mm(75.0), 2.0, None).value, "150 mm");
        let bored = image_circle_working(mm(75.0), 2.0, Some((mm(0.3), mm(0.1))));
        assert!(bored.formula.contains("a bore 0.1 mm long") && bored.value != "150 mm", "{bored:?}");
        assert_eq!(cut_off_working(Some(mm(50.0)), mm(0.3), mm(0.1)).value, "71.6° off the axis");
    }

    proptest! {
        #[test]
        fn a_plate_only_takes_away(angle in 0.0..89.9f64, d in 0.01..20.0f64, t in 0.001..10.0f64, k in 0.01..20.0f64) {
            let (hole, plate) = (mm(d), mm(t));
            let open = open_share(angle, hole, plate);
            prop_assert!((0.0..=1.0).contains(&open), "{open}");
            let v = mm(100.0);
            let circle = image_circle_in_plate_mm(v, k, hole, plate);
            prop_assert!(circle <= image_circle_mm(v, k) * (1.0 + 1e-9), "{circle}");
            prop_assert!(circle <= cut_off_circle_mm(v, hole, plate) * (1.0 + 1e-9));
        }
    }
}
