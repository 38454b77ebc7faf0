//! The hole as measured: read out of a form, shown again, and judged against the target.

use crate::domain::marking::own_figure::Reveals;
use crate::{
    calc::{
        quantity::{HoleDiameter, HoleToFilm, InstrumentUncertainty, PlateThickness},
        working::{Working, figures, plain},
    },
    domain::{
        camera::{
            Camera, Typed,
            hole::{Hole, Measurement},
            target::Target,
        },
        field_errors::FieldErrors,
        measure::length::{LengthUnit, computed_words},
    },
    web::{kit::reading::Reading, request::posted::Posted},
};

/// The fields for readings: the first two are needed.
pub const READINGS: [&str; 4] = ["reading_1", "reading_2", "reading_3", "reading_4"];
/// Within this share of the target the hole is as good as the target.
const GOOD: f64 = 0.1;
/// Past this ovalness a hole is worth making round.
const OVAL: f64 = 0.1;

/// Of an instrument said to have no uncertainty.
pub const EXACT: &str = "no instrument reads without error: half of its smallest division at the least";
/// Readings as people write them.
const EXAMPLES: &str = "0.46 mm, 0.018 in or 18 thou";
/// Past this many times the target, or below as small a part of it, a slip of the unit is more likely than a hole.
const FAR: f64 = 4.0;
/// Past this share of the hole, one reading says little about it.
const COARSE: f64 = 0.25;
/// The box to tick when a hole is far from the target all the same.
pub const SURE: &str = "sure";

/// Asks back where a hole is so far from the target that the unit may have slipped. Says nothing of the target,
/// which may be the student's own to work out.
///
/// # Errors
/// The question, beside the box [`SURE`].
pub fn ask_back(
    posted: &Posted,
    hole: HoleDiameter,
    target: HoleDiameter,
    unit: LengthUnit,
) -> Result<(), FieldErrors> {
    let off = hole.as_mm() / target.as_mm();
    if posted.get(SURE) == "yes" || (1.0 / FAR..=FAR).contains(&off) {
        return Ok(());
    }
    let (size, way) = (computed_words(hole.as_mm(), 3, unit), if off > 1.0 { "wider" } else { "narrower" });
    let question = format!(
        "{size} is several times {way} than the hole this camera asks for, some tenths of a millimetre or some \
         hundredths of an inch. Was it read in another unit? Then write the unit behind the number: {EXAMPLES}. \
         If the hole really is so, tick this and save again"
    );
    Err(FieldErrors::one(SURE, question))
}

/// A measurement, read and checked.
#[derive(Clone, Debug)]
pub struct Measured {
    /// Readings and what they give.
    pub measurement: Measurement,
    /// How thick the plate is, if that was said.
    pub plate: Option<Typed>,
    /// Anything else.
    pub remark: String,
}

/// Reads it out of a form, for a camera of that length.
///
/// # Errors
/// All messages, each beside its field.
pub fn read(posted: &Posted, unit: LengthUnit, hole_to_film: HoleToFilm) -> Result<Measured, FieldErrors> {
    let mut r = posted.reader();
    let mut readings = Vec::new();
    let mut complete = true;
    for (place, field) in READINGS.into_iter().enumerate() {
        if r.raw(field).is_empty() {
            if place < 2 {
                r.wrong(field, "two readings are needed, taken across one another");
                complete = false;
            }
            continue;
        }
        match r.length_such_as(field, unit, HoleDiameter::MIN..=HoleDiameter::MAX, EXAMPLES) {
            Some(reading) => readings.push(Typed::from(reading)),
            None => complete = false,
        }
    }
    let within = InstrumentUncertainty::MIN..=InstrumentUncertainty::MAX;
    let instrument = r.length_such_as("instrument", unit, within, "0.01 mm or 0.0005 in").map(Typed::from);
    let instrument = instrument.filter(|instrument| {
        let reads_exactly = instrument.length.as_nm() == 0;
        if reads_exactly {
            r.wrong("instrument", EXACT);
        }
        !reads_exactly
    });
    let plate = match r.raw("plate") {
        "" => Some(None),
        _ => r.length("plate", unit, PlateThickness::MIN, PlateThickness::MAX).map(|plate| Some(Typed::from(plate))),
    };
    let remark = r.text("remark", 0..=500);
    let measurement = instrument.filter(|_| complete).and_then(|instrument| {
        let measured = Measurement::of(readings, instrument);
        let checked = measured.and_then(|measured| measured.fits(hole_to_film).map(|()| measured));
        checked
            .map_err(|errors| {
                for (field, message) in errors.iter() {
                    r.wrong(if field == "readings" { READINGS[0] } else { field }, message);
                }
            })
            .ok()
    });
    r.finish((|| Some(Measured { measurement: measurement?, plate: plate?, remark: remark? }))())
}

/// The form's fields filled from a hole.
pub fn values(hole: &Hole) -> Vec<(&'static str, String)> {
    let mut values: Vec<_> =
        READINGS.into_iter().zip(hole.measurement.readings().iter().map(|reading| reading.typed.clone())).collect();
    values.push(("instrument", hole.measurement.instrument().typed.clone()));
    values.push(("plate", as_typed(hole.plate.as_ref())));
    values.push(("remark", hole.remark.clone()));
    values
}

fn as_typed(plate: Option<&Typed>) -> String {
    plate.map_or(String::new(), |plate| plate.typed.clone())
}

/// What the uncertainty of a reading usually is, in the student's unit.
pub fn usual_instrument(unit: LengthUnit) -> String {
    match unit {
        LengthUnit::Millimetre => "0.01 mm".to_owned(),
        LengthUnit::Inch => "0.0005 in".to_owned(),
    }
}

/// The numbers of a hole in its camera, for a person who works in that unit.
pub fn readings(hole: &Hole, camera: &Camera, target: Target, unit: LengthUnit) -> Vec<Reading> {
    let result = hole.measurement.result();
    let diameters = hole.measurement.diameters();
    let aperture = result.f_number_uncertainty_working(camera.hole_to_film());
    let spread = aperture.interval.clone().unwrap_or_default();
    let mut readings = vec![
        Reading::of(result.working(diameters), Reveals::NOTHING)
            .showing(computed_words(result.diameter.as_mm(), 3, unit))
            .telling_remark(against(hole.diameter(), target.hole, unit), Reveals::HOLE),
    ];
    if let Ok(instrument) = InstrumentUncertainty::new(hole.measurement.instrument().length.as_mm()) {
        readings.push(
            Reading::of(result.uncertainty_working(diameters, instrument), Reveals::NOTHING)
                .showing(format!("± {}", computed_words(result.uncertainty_mm, 2, unit)))
                .remark(coarse(instrument, hole.diameter())),
        );
    }
    readings.push(Reading::of(aperture, Reveals::F_NUMBER).remark(spread));
    readings
        .push(Reading::of(result.ovalness_working(diameters), Reveals::NOTHING).remark(oval_words(result.ovalness)));
    readings.push(
        Reading::of(time_working(hole), Reveals::NOTHING).remark("what measuring the hole leaves open in the exposure"),
    );
    readings
}

/// What there is to say of an instrument too coarse for the hole.
fn coarse(instrument: InstrumentUncertainty, hole: HoleDiameter) -> &'static str {
    if instrument.as_mm() > COARSE * hole.as_mm() {
        "one reading may be off by more than a quarter of the hole: check the unit, or measure with something finer"
    } else {
        ""
    }
}

/// How a hole's mean and uncertainty come about, in a line.
pub fn row_working(hole: &Hole) -> String {
    let (result, diameters) = (hole.measurement.result(), hole.measurement.diameters());
    let mean = result.working(diameters).formula;
    match InstrumentUncertainty::new(hole.measurement.instrument().length.as_mm()) {
        Ok(instrument) => format!("{mean}; {}", result.uncertainty_working(diameters, instrument).formula),
        Err(_) => mean,
    }
}

fn time_working(hole: &Hole) -> Working {
    let result = hole.measurement.result();
    Working {
        name: "uncertainty of the exposure time",
        value: format!("± {} stops", figures(hole.sd_stops(), 2)),
        formula: format!(
            "2 log₂(1 + {} mm / {} mm) = {} stops: time goes with the square of the f-number",
            figures(result.uncertainty_mm, 2),
            plain(result.diameter.as_mm()),
            figures(hole.sd_stops(), 2)
        ),
        source: "exposure through a hole goes with its area",
        interval: None,
    }
}

/// How the hole compares with the target, and what to do about it.
fn against(hole: HoleDiameter, target: HoleDiameter, unit: LengthUnit) -> String {
    let wanted = computed_words(target.as_mm(), 3, unit);
    let off = hole.as_mm() / target.as_mm() - 1.0;
    let stops = figures(2.0 * (1.0 + off).log2().abs(), 2);
    if off.abs() <= GOOD {
        format!("within 10 % of the target of {wanted}: fine, go on with it")
    } else if off > 1.0 {
        format!(
            "{:.1} times the target of {wanted}: very soft pictures, {stops} stops less exposure; make another if there is time",
            off + 1.0
        )
    } else if off > 0.0 {
        format!(
            "{:.0} % wider than the target of {wanted}: softer pictures, {stops} stops less exposure; usable, or make another",
            off * 100.0
        )
    } else {
        format!(
            "{:.0} % narrower than the target of {wanted}, {stops} stops more exposure: open it a little and measure again",
            -off * 100.0
        )
    }
}

fn oval_words(ovalness: f64) -> &'static str {
    if ovalness <= OVAL { "round enough" } else { "turn the needle in the hole to make it rounder" }
}

/// Both versions of a hole, field by field, for somebody whose page was stale.
pub fn both_versions(sent: &Measured, stored: &Hole) -> Vec<(String, String, String)> {
    let list = |measurement: &Measurement| {
        measurement.readings().iter().map(|reading| reading.typed.clone()).collect::<Vec<_>>().join("; ")
    };
    let row = |name: &str, sent: String, stored: String| (name.to_owned(), sent, stored);
    vec![
        row("Readings", list(&sent.measurement), list(&stored.measurement)),
        row(
            "Uncertainty of a reading",
            sent.measurement.instrument().typed.clone(),
            stored.measurement.instrument().typed.clone(),
        ),
        row("Plate thickness", as_typed(sent.plate.as_ref()), as_typed(stored.plate.as_ref())),
        row("Remark", sent.remark.clone(), stored.remark.clone()),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hole_is_judged_against_its_target() {
        let hole = |mm| HoleDiameter::new(mm).expect("in range");
        let against = |hole, target| against(hole, target, LengthUnit::Millimetre);
        assert!(against(hole(0.52), hole(0.488)).starts_with("within 10 %"));
        // 0.6 against 0.488: 2 log2(1.2295) = 0.596 stops
        let wide = against(hole(0.6), hole(0.488));
        assert!(wide.starts_with("23 % wider") && wide.contains("0.60 stops less"), "{wide}");
        assert!(against(hole(0.3), hole(0.488)).contains("open it a little"));
        let soft = against(hole(1.22), hole(0.488));
        assert!(soft.starts_with("2.5 times the target") && !soft.contains("usable"), "{soft}");
    }
}
