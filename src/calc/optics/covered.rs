//! How much of the film gets its light: the part of a flat sheet within an image circle, and of a sheet
//! bent along a can's wall within a loss.

use std::f64::consts::FRAC_PI_2;

use crate::calc::optics::fall_off::fall_off_curved;
use crate::calc::optics::plate::open_share_at;
use crate::calc::quantity::{FilmSide, HoleDiameter, InsideDiameter, PlateThickness};
use crate::calc::working::{Working, figures, plain};

/// How much of a rectangular film an image circle centred on it covers, in mm².
pub fn covered_area_mm2(width: FilmSide, height: FilmSide, circle_mm: f64) -> f64 {
    let (a, b) = (width.as_mm() / 2.0, height.as_mm() / 2.0);
    let r = circle_mm / 2.0;
    if r >= a.hypot(b) {
        return 4.0 * a * b;
    }
    // One quarter: under the circle, but not above the film's edge, which the circle crosses at c.
    let (a, b) = (a.min(r), b.min(r));
    let c = (r * r - b * b).max(0.0).sqrt();
    let under = |x: f64| (x * (r * r - x * x).max(0.0).sqrt() + r * r * (x / r).min(1.0).asin()) / 2.0;
    let quarter = if r == 0.0 { 0.0 } else { b * c + under(a) - under(c) };
    4.0 * quarter
}

/// [`covered_area_mm2`] with its working.
pub fn covered_area_working(width: FilmSide, height: FilmSide, circle_mm: f64) -> Working {
    let (area, whole) = (covered_area_mm2(width, height, circle_mm), width.as_mm() * height.as_mm());
    Working::of(
        "film within the circle",
        format!("{} mm²", figures(area, 4)),
        format!(
            "4 ∫ min(h/2, √(r² − x²)) dx from 0 to w/2, with r = {} mm: {} mm² of {} × {} mm = {} mm²",
            figures(circle_mm / 2.0, 3),
            figures(area, 4),
            plain(width.as_mm()),
            plain(height.as_mm()),
            figures(whole, 4)
        ),
        "geometry of a circle and a rectangle with one middle",
    )
}

/// The share of a rectangular film that lies within a circle, with its working.
pub fn covered_working(width: FilmSide, height: FilmSide, circle_mm: f64) -> Working {
    let (area, whole) = (covered_area_mm2(width, height, circle_mm), width.as_mm() * height.as_mm());
    Working {
        name: "film within two stops",
        value: format!("{} %", figures(100.0 * area / whole, 3)),
        ..covered_area_working(width, height, circle_mm)
    }
}

/// How much of a round film lies within a circle with the same middle, with its working.
pub fn covered_disc_working(diameter: FilmSide, circle_mm: f64) -> Working {
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

/// A film along a can's wall.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BentFilm {
    /// Along the arc.
    pub arc: FilmSide,
    /// Up and down.
    pub height: FilmSide,
    /// Of the can.
    pub inside: InsideDiameter,
}

/// Steps along half of the arc in which the height is added up where the bore counts.
const STEPS: u32 = 400;

impl BentFilm {
    /// How much of it loses no more than so many stops, in mm²; with a plate of known thickness its bore counts.
    ///
    /// Behind a thin plate the loss is k at the height `2R cos(s/2R) √(2^(k/2) - 1)`, which is added up along the arc
    /// in closed form; with a bore the height is found by halving and added up by the midpoint rule.
    pub fn covered_area_mm2(self, loss_stops: f64, bore: Option<(HoleDiameter, PlateThickness)>) -> f64 {
        let (half_arc, half_height) = (self.arc.as_mm() / 2.0, self.height.as_mm() / 2.0);
        let across = self.inside.as_mm();
        let end = half_arc.min(FRAC_PI_2 * across);
        match bore {
            None => {
                let reach = across * ((loss_stops / 2.0).exp2() - 1.0).sqrt();
                let full_to = if reach <= half_height { 0.0 } else { across * (half_height / reach).acos() }.min(end);
                4.0 * (half_height * full_to + across * reach * ((end / across).sin() - (full_to / across).sin()))
            }
            Some((hole, plate)) => {
                let step = end / f64::from(STEPS);
                let height = |i: u32| self.height_to(step * (f64::from(i) + 0.5), loss_stops, hole, plate);
                4.0 * step * (0..STEPS).map(height).sum::<f64>()
            }
        }
    }

    /// How high the film is lit to a loss at a place of the arc, at most to its edge.
    fn height_to(self, arc_mm: f64, loss_stops: f64, hole: HoleDiameter, plate: PlateThickness) -> f64 {
        let lit = |height: f64| {
            let point = fall_off_curved(arc_mm, height, self.inside);
            let cos = point.azimuth_deg.to_radians().cos() * point.elevation_deg.to_radians().cos();
            let tangent = (1.0 / (cos * cos) - 1.0).max(0.0).sqrt();
            point.relative.as_share() * open_share_at(tangent, hole, plate) >= (-loss_stops).exp2()
        };
        let half_height = self.height.as_mm() / 2.0;
        if lit(half_height) {
            return half_height;
        }
        if !lit(0.0) {
            return 0.0;
        }
        let (mut inner, mut outer) = (0.0, half_height);
        for _ in 0..40 {
            let middle = (inner + outer) / 2.0;
            if lit(middle) { inner = middle } else { outer = middle }
        }
        inner
    }

    /// How much of it loses no more than two stops, with the working.
    pub fn covered_working(self, bore: Option<(HoleDiameter, PlateThickness)>) -> Working {
        const LOSS: f64 = 2.0;
        let (area, whole) = (self.covered_area_mm2(LOSS, bore), self.arc.as_mm() * self.height.as_mm());
        let percent = figures(100.0 * area / whole, 3);
        let (across, arc, height) = (plain(self.inside.as_mm()), plain(self.arc.as_mm()), plain(self.height.as_mm()));
        let with_bore = bore.map_or(String::new(), |(hole, plate)| {
            format!(
                ", h found where the open share of the bore, q = {} mm × tan θ / {} mm, is lost as well",
                plain(plate.as_mm()),
                plain(hole.as_mm())
            )
        });
        Working {
            name: "film within two stops",
            value: format!("{percent} %"),
            formula: format!(
                "4 ∫ min(H/2, h(s)) ds from 0 to {arc} mm / 2, with H = {height} mm and h(s) = 2R cos(s/2R) √(2^(k/2) − 1) = \
                 {across} mm × cos(s / {across} mm) × 1{with_bore}: {} mm² of {arc} × {height} mm = {} mm²",
                figures(area, 4),
                figures(whole, 4)
            ),
            source: "fall-off on a can’s wall, derived from the geometry of rays and checked by simulation",
            interval: None,
        }
    }
}

#[cfg(test)]
mod tests {
    use std::f64::consts::PI;

    use super::*;
    use proptest::prelude::*;

    fn mm<Q: TryFrom<f64>>(x: f64) -> Q
    where
        Q::Error: std::fmt::Debug,
    {
        Q::try_from(x).unwrap()
    }

    fn can(arc: f64, height: f64, inside: f64) -> BentFilm {
        BentFilm { arc: mm(arc), height: mm(height), inside: mm(inside) }
    }

    #[test]
    fn a_circle_inside_or_around_the_film_covers_the_circle_or_the_film() {
        let (w, h) = (mm(120.0), mm(90.0));
        assert!((covered_area_mm2(w, h, 80.0) - PI * 1600.0).abs() < 1e-9);
        assert_eq!(covered_area_mm2(w, h, 151.0), 10_800.0);
        assert_eq!(covered_area_mm2(w, h, 0.0), 0.0);
    }

    #[test]
    fn the_workings_put_the_numbers_in() {
        // case O072 of tests/reference
        assert_eq!(covered_working(mm(120.0), mm(90.0), 130.0).value, "95.8 %");
        assert_eq!(covered_disc_working(mm(100.0), 50.0).value, "25.0 %");
        let said = can(170.0, 120.0, 120.0).covered_working(None);
        assert_eq!(said.value, "100 %");
        assert!(said.formula.contains("120 mm × cos(s / 120 mm) × 1") && said.formula.contains("20400"), "{said:?}");
        let bored = can(170.0, 120.0, 120.0).covered_working(Some((mm(0.3), mm(0.2))));
        assert!(bored.formula.contains("q = 0.2 mm × tan θ / 0.3 mm") && bored.value != "100 %", "{bored:?}");
    }

    /// Two stops are lost one diameter up straight ahead: of a tall film only what is below is lit, and the cosine along
    /// the arc adds up to 4 D² sin(a/2D).
    #[test]
    fn of_a_tall_film_in_a_can_the_cosine_s_part_is_lit() {
        let area = can(100.0, 400.0, 100.0).covered_area_mm2(2.0, None);
        assert!((area - 4.0 * 100.0 * 100.0 * 0.5f64.sin()).abs() < 1e-6, "{area}");
        assert_eq!(can(100.0, 20.0, 100.0).covered_area_mm2(2.0, None), 2000.0);
    }

    proptest! {
        #[test]
        fn a_wider_circle_covers_no_less(c in 0.1..400.0f64, w in 1.0..300.0f64, h in 1.0..300.0f64) {
            let (w, h) = (mm(w), mm(h));
            let area = covered_area_mm2(w, h, c);
            prop_assert!(area <= covered_area_mm2(w, h, c * 1.01) + 1e-9);
            prop_assert!(area <= (PI * c * c / 4.0).min(w.as_mm() * h.as_mm()) * (1.0 + 1e-12));
        }

        /// The same area by counting places, and with a bore so short that it takes nothing.
        #[test]
        fn a_can_s_area_is_that_of_its_places(
            part in 0.05..0.99f64, height in 5.0..500.0f64, inside in 20.0..300.0f64, k in 0.2..4.0f64,
        ) {
            let film = can((part * PI * inside).clamp(1.0, 3000.0), height, inside);
            let area = film.covered_area_mm2(k, None);
            let bored = film.covered_area_mm2(k, Some((mm(20.0), mm(0.001))));
            let whole = film.arc.as_mm() * height;
            prop_assert!(area > 0.0 && area <= whole * (1.0 + 1e-12), "{area}");
            prop_assert!((bored - area).abs() < 0.01 * whole, "{bored} {area}");
            let (columns, rows) = (60, 60);
            let lit = (0..columns * rows).filter(|i| {
                let place = |i: i32, of: i32| (f64::from(i) + 0.5) / f64::from(of) - 0.5;
                let (s, h) = (place(i % columns, columns) * film.arc.as_mm(), place(i / columns, rows) * height);
                fall_off_curved(s, h, film.inside).relative.loss_stops() <= k
            });
            let counted = lit.count() as f64 / f64::from(columns * rows) * whole;
            prop_assert!((counted - area).abs() < 0.04 * whole, "{counted} {area}");
        }

        #[test]
        fn a_thicker_plate_covers_no_more(t in 0.01..2.0f64, d in 0.1..2.0f64, inside in 20.0..300.0f64, k in 0.2..4.0f64) {
            let film = can(inside, inside, inside);
            let area = |t: f64| film.covered_area_mm2(k, Some((mm(d), mm(t))));
            prop_assert!(area(t * 1.5) <= area(t) + 1e-9);
            prop_assert!(area(t) <= film.covered_area_mm2(k, None) + 0.01 * inside * inside);
        }
    }
}
