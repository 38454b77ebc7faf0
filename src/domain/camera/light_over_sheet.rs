//! How much light each place of a sheet gets, against its middle.

use crate::calc::{
    optics::{
        fall_off::{fall_off_curved, fall_off_flat},
        plate::open_share,
    },
    quantity::{HoleDiameter, PlateThickness},
};

use super::{Body, Geometry};

/// The sheet of a camera behind its hole. Places are in mm from the point opposite the hole, along a curved film's
/// arc.
#[derive(Clone, Debug)]
pub struct LightOverSheet {
    body: Body,
    plate: Option<(HoleDiameter, PlateThickness)>,
    half: (f64, f64),
}

impl LightOverSheet {
    /// The sheet of a camera; with a plate of known thickness its bore counts as well.
    pub fn of(body: &Body, plate: Option<(HoleDiameter, PlateThickness)>) -> Self {
        let half = match body.geometry() {
            Geometry::FlatRectangle(width, height) | Geometry::Curved(width, height, _) => {
                (width.as_mm() / 2.0, height.as_mm() / 2.0)
            }
            Geometry::FlatDisc(diameter) => (diameter.as_mm() / 2.0, diameter.as_mm() / 2.0),
        };
        Self { body: body.clone(), plate, half }
    }

    /// Half of its width and of its height.
    pub fn half_mm(&self) -> (f64, f64) {
        self.half
    }

    /// Stops lost at a place; infinite where no light arrives.
    pub fn loss_stops(&self, x: f64, y: f64) -> f64 {
        let (thin, angle) = match self.body.geometry() {
            Geometry::FlatRectangle(..) | Geometry::FlatDisc(_) => {
                let v = self.body.hole_to_film();
                (fall_off_flat(x, y, v).loss_stops(), (x.hypot(y) / v.as_mm()).atan())
            }
            Geometry::Curved(_, _, inside) => {
                let point = fall_off_curved(x, y, inside);
                let off = point.azimuth_deg.to_radians().cos() * point.elevation_deg.to_radians().cos();
                (point.relative.loss_stops(), off.clamp(-1.0, 1.0).acos())
            }
        };
        let open = self.plate.map_or(1.0, |(hole, plate)| open_share(angle.to_degrees(), hole, plate));
        // the middle loses nothing, not minus nothing
        thin - open.log2() + 0.0
    }

    /// How far it is to the sheet's edge in a direction, given by its cosine and sine.
    pub fn edge_mm(&self, (cos, sin): (f64, f64)) -> f64 {
        if matches!(self.body.geometry(), Geometry::FlatDisc(_)) {
            return self.half.0;
        }
        (self.half.0 / cos.abs().max(1e-12)).min(self.half.1 / sin.abs().max(1e-12))
    }

    /// The greatest loss on the sheet: in a corner, or at the rim of a disc.
    pub fn greatest_stops(&self) -> f64 {
        match self.body.geometry() {
            Geometry::FlatDisc(_) => self.loss_stops(self.half.0, 0.0),
            _ => self.loss_stops(self.half.0, self.half.1),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{
        camera::{Build, Film, Typed},
        measure::length::Length,
    };

    fn mm(value: f64) -> Typed {
        Typed { length: Length::from_mm(value), typed: format!("{value} mm") }
    }

    fn plate(d: f64, t: f64) -> (HoleDiameter, PlateThickness) {
        (HoleDiameter::new(d).expect("in range"), PlateThickness::new(t).expect("in range"))
    }

    #[test]
    fn a_plate_takes_its_bore_s_share_besides() {
        let film = Film::FlatRectangle { distance: mm(75.0), width: mm(120.0), height: mm(90.0) };
        let body = Body::new(Build::Box, film).expect("a box");
        let thin = LightOverSheet::of(&body, None);
        assert!((thin.loss_stops(60.0, 45.0) - 2.0).abs() < 1e-9, "case O050 of tests/reference");
        // case O060 of tests/reference: at 30 degrees 0.3 mm in 0.1 mm is open to 0.7565, and cos⁴ is 0.5625 (O048)
        let bored = LightOverSheet::of(&body, Some(plate(0.3, 0.1)));
        let at_30 = 75.0 * 30f64.to_radians().tan();
        let wanted = -(0.5625f64 * 0.756_486).log2();
        assert!((bored.loss_stops(at_30, 0.0) - wanted).abs() < 1e-4);
        assert!(LightOverSheet::of(&body, Some(plate(0.3, 0.4))).greatest_stops().is_infinite());
        assert_eq!(thin.loss_stops(0.0, 0.0), 0.0);
    }

    /// What the drawing's lines rest on: outwards the loss only grows.
    #[test]
    fn outwards_no_place_is_brighter() {
        let flat = Film::FlatRectangle { distance: mm(60.0), width: mm(127.0), height: mm(102.0) };
        let disc = Film::FlatDisc { distance: mm(60.0), diameter: mm(95.0) };
        let bent = Film::Curved { inside_diameter: mm(120.0), width: mm(300.0), height: mm(120.0) };
        for (build, film) in [(Build::Box, flat), (Build::EndHoleCan, disc), (Build::SideHoleCan, bent)] {
            let body = Body::new(build, film).expect("a camera");
            for plate in [None, Some(plate(0.4, 0.2))] {
                let light = LightOverSheet::of(&body, plate);
                for turn in 0..36 {
                    let turn = f64::from(turn) * std::f64::consts::TAU / 36.0;
                    let direction = (turn.cos(), turn.sin());
                    let edge = light.edge_mm(direction);
                    let mut before = 0.0;
                    for step in 1..=40 {
                        let r = edge * f64::from(step) / 40.0;
                        let now = light.loss_stops(r * direction.0, r * direction.1);
                        assert!(now >= before - 1e-9, "{build:?} {plate:?} at {turn}: {before} then {now}");
                        before = now;
                    }
                }
            }
        }
    }
}
