//! The holes that a pile gives for cameras that nobody has measured.

use std::collections::HashMap;

use crate::{
    calc::quantity::{HoleDiameter, InstrumentUncertainty},
    domain::{
        camera::{
            Camera, Typed,
            hole::Measurement,
            target::{HoleFormula, Target},
        },
        ids::CameraId,
        measure::length::{Length, LengthUnit},
    },
    web::fields::hole_fields::{EXACT, ask_back},
};

use super::{Typist, pile::Reading};

impl Reading<'_> {
    /// The holes that rows give for cameras without one. A camera's hole may stand in any of its rows.
    pub(super) fn holes(&mut self, rows: &[usize]) -> HashMap<CameraId, Measurement> {
        let mut holes = HashMap::new();
        if self.around.typist == Typist::Partner {
            return holes;
        }
        let mut given: HashMap<CameraId, usize> = HashMap::new();
        let mut instrument = None;
        for &row in rows.iter().filter(|row| !self.sent("hole", **row).is_empty()).collect::<Vec<_>>() {
            let Some(camera) = self.camera(row) else { continue };
            let measured = self.around.cameras.iter().any(|(known, hole)| known.id == camera.id && hole.is_some());
            if measured {
                self.wrong(
                    "hole",
                    row,
                    format!("camera {} has a measured hole already: leave this empty", camera.number),
                );
                continue;
            }
            if let Some(other) = given.insert(camera.id, row) {
                self.wrong("hole", row, format!("card {other} gives the hole of camera {} already", camera.number));
                continue;
            }
            if instrument.is_none() {
                instrument = self.instrument();
            }
            let Some(instrument) = instrument.clone() else { continue };
            let read = readings(self.sent("hole", row)).and_then(|readings| {
                let measured = Measurement::of(readings, instrument)
                    .and_then(|measured| measured.fits(camera.hole_to_film()).map(|()| measured));
                measured.map_err(|errors| errors.iter().map(|(_, message)| message).collect::<Vec<_>>().join("; "))
            });
            let Some(measured) = self.noting("hole", row, read) else { continue };
            self.ask_back(row, camera, measured.result().diameter);
            holes.insert(camera.id, measured);
        }
        holes
    }

    /// One box answers for the whole pile, under the cards.
    fn ask_back(&mut self, row: usize, camera: &Camera, hole: HoleDiameter) {
        let Ok(formula) = HoleFormula::of(&self.around.session) else { return };
        let target = Target::of(camera, formula).hole;
        if let Err(question) = ask_back(self.posted, hole, target, LengthUnit::Millimetre) {
            for (field, words) in question.iter() {
                self.errors.add(field, format!("Card {row}: {words}"));
            }
        }
    }

    fn instrument(&mut self) -> Option<Typed> {
        let typed = self.posted.get("instrument").trim();
        let (low, high) = (Length::from_mm(InstrumentUncertainty::MIN), Length::from_mm(InstrumentUncertainty::MAX));
        match Length::parse(typed, LengthUnit::Millimetre, low, high) {
            Ok(length) if length.as_nm() == 0 => {
                self.errors.add("instrument", EXACT);
                None
            }
            Ok(length) => Some(Typed { length, typed: typed.to_owned() }),
            Err(error) => {
                self.errors.add("instrument", error.to_string());
                None
            }
        }
    }
}

/// Readings of a hole in a row: `0.46 0.50` or `18 thou 19 thou`, in mm unless they say otherwise.
fn readings(text: &str) -> Result<Vec<Typed>, String> {
    let (low, high) = (Length::from_mm(HoleDiameter::MIN), Length::from_mm(HoleDiameter::MAX));
    let mut parts: Vec<String> = Vec::new();
    for part in text.split([' ', ';', '/', '+']).filter(|part| !part.is_empty()) {
        // a unit that stands alone belongs to the number before it
        match parts.last_mut() {
            Some(number) if part.chars().all(char::is_alphabetic) => number.push_str(&format!(" {part}")),
            _ => parts.push(part.to_owned()),
        }
    }
    parts
        .into_iter()
        .map(|part| {
            let length = Length::parse(&part, LengthUnit::Millimetre, low, high).map_err(|error| error.to_string())?;
            let bare = part.chars().all(|c| c.is_ascii_digit() || c == '.' || c == ',');
            Ok(Typed { length, typed: if bare { format!("{part} mm") } else { part } })
        })
        .collect()
}
