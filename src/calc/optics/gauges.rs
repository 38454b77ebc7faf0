//! Wires, drills and needles by the numbers of open standards.
//!
//! A needle's diameter is not that of its hole: measure the hole.

use crate::calc::working::{Working, figures, plain, scaled};

/// Diameter of a wire by the American wire gauge, in mm: `0.127 x 92^((36 - n)/39)` (ASTM B258).
/// Gauges 0 to 56; smaller numbers are thicker.
pub fn wire_gauge_mm(awg: u32) -> f64 {
    0.127 * 92f64.powf((36.0 - f64::from(awg)) / 39.0)
}

/// Thinnest American wire gauge in the tables here.
pub const THINNEST_WIRE: u32 = 56;

/// The American wire gauge whose diameter is nearest.
pub fn nearest_wire_gauge(diameter_mm: f64) -> u32 {
    nearest((0..=THINNEST_WIRE).map(|n| (n, wire_gauge_mm(n))), diameter_mm)
}

/// Number drills 61 to 97 in inches (ASME B94.11M by a public-domain conversion table; the
/// standard itself was not seen).
const NUMBER_DRILLS_IN: [f64; 37] = [
    0.039, 0.038, 0.037, 0.036, 0.035, 0.033, 0.032, 0.031, 0.0292, 0.028, 0.026, 0.025, 0.024, 0.0225, 0.021, 0.02,
    0.018, 0.016, 0.0145, 0.0135, 0.013, 0.0125, 0.012, 0.0115, 0.011, 0.0105, 0.01, 0.0095, 0.0091, 0.0087, 0.0083,
    0.0079, 0.0075, 0.0071, 0.0067, 0.0063, 0.0059,
];
/// The thickest number drill in the table.
pub const FIRST_DRILL: u32 = 61;
/// The thinnest number drill in the table.
pub const LAST_DRILL: u32 = 97;
/// The thinnest number drill that shops commonly keep; the nearest is looked for up to it.
pub const LAST_COMMON_DRILL: u32 = 80;

/// Diameter of a number drill, in mm; drills 61 to 97.
pub fn number_drill_mm(number: u32) -> Option<f64> {
    let place = usize::try_from(number.checked_sub(FIRST_DRILL)?).ok()?;
    NUMBER_DRILLS_IN.get(place).map(|inches| inches * 25.4)
}

/// The number drill, from 61 to 80, whose diameter is nearest.
pub fn nearest_number_drill(diameter_mm: f64) -> u32 {
    let common = FIRST_DRILL..=LAST_COMMON_DRILL;
    nearest(common.filter_map(|n| Some((n, number_drill_mm(n)?))), diameter_mm)
}

/// Diameter of a sewing-machine needle's blade, in mm: the metric number is hundredths of a
/// millimetre, measured above the scarf (DIN 5325).
pub fn machine_needle_mm(nm: f64) -> f64 {
    nm / 100.0
}

/// Nominal outside diameter of needle tubing in inches, gauges 20 to 32 (a public gauge chart).
const TUBES_IN: [f64; 13] = [
    0.03575, 0.03225, 0.02825, 0.02525, 0.02225, 0.02025, 0.01825, 0.01625, 0.01425, 0.01325, 0.01225, 0.01025, 0.00925,
];
/// The thickest tube gauge in the table.
pub const FIRST_TUBE: u32 = 20;
/// The thinnest tube gauge in the table.
pub const LAST_TUBE: u32 = 32;

/// Nominal outside diameter of needle tubing, in mm; gauges 20 to 32.
pub fn tube_gauge_mm(gauge: u32) -> Option<f64> {
    let place = usize::try_from(gauge.checked_sub(FIRST_TUBE)?).ok()?;
    TUBES_IN.get(place).map(|inches| inches * 25.4)
}

/// The tube gauge whose nominal outside diameter is nearest.
pub fn nearest_tube_gauge(diameter_mm: f64) -> u32 {
    nearest((FIRST_TUBE..=LAST_TUBE).filter_map(|n| Some((n, tube_gauge_mm(n)?))), diameter_mm)
}

/// The machine needle whose blade is nearest, of those that are sold: from NM 60 to NM 140 in steps of five
/// (common practice, no source).
pub fn nearest_machine_needle(diameter_mm: f64) -> f64 {
    ((diameter_mm * 20.0).round() * 5.0).clamp(60.0, 140.0)
}

/// How a wire's diameter follows from its number.
pub fn wire_gauge_working(awg: u32) -> Working {
    let mm = figures(wire_gauge_mm(awg), 3);
    Working {
        name: "American wire gauge",
        value: format!("no. {awg}, {mm} mm"),
        formula: format!("d = 0.127 mm × 92^((36 − n) / 39) = 0.127 mm × 92^((36 − {awg}) / 39) = {mm} mm"),
        source: "ASTM B258",
        interval: None,
    }
}

/// A number drill's diameter, which is tabled in inches.
pub fn number_drill_working(number: u32) -> Option<Working> {
    let mm = number_drill_mm(number)?;
    Some(Working {
        name: "number drill",
        value: format!("no. {number}, {} mm", figures(mm, 3)),
        formula: format!("{} in × 25.4 mm per inch = {} mm", plain(mm / 25.4), figures(mm, 3)),
        source: DRILLS,
        interval: None,
    })
}

/// A machine needle's blade.
pub fn machine_needle_working(nm: f64) -> Working {
    let mm = figures(machine_needle_mm(nm), 3);
    Working {
        name: "machine needle",
        value: format!("NM {nm}, {mm} mm"),
        formula: format!("NM is hundredths of a millimetre of the blade: {nm} / 100 = {mm} mm"),
        source: "DIN 5325",
        interval: None,
    }
}

/// The outside of needle tubing.
pub fn tube_gauge_working(gauge: u32) -> Option<Working> {
    let mm = tube_gauge_mm(gauge)?;
    Some(Working {
        name: "needle tubing",
        value: format!("gauge {gauge}, {} mm outside", figures(mm, 3)),
        formula: format!("{} in × 25.4 mm per inch = {} mm", plain(mm / 25.4), figures(mm, 3)),
        source: "nominal outside diameters of a public gauge chart",
        interval: None,
    })
}

/// [`nearest_wire_gauge`] with its working.
pub fn nearest_wire_gauge_working(diameter_mm: f64) -> Working {
    let awg = nearest_wire_gauge(diameter_mm);
    let formula = format!("{}; {}", wire_gauge_working(awg).formula, how_far(wire_gauge_mm(awg), diameter_mm));
    Working::of("nearest American wire gauge", format!("no. {awg}"), formula, "ASTM B258")
}

/// [`nearest_number_drill`] with its working.
pub fn nearest_number_drill_working(diameter_mm: f64) -> Working {
    let number = nearest_number_drill(diameter_mm);
    let mm = number_drill_mm(number).unwrap_or(diameter_mm);
    Working::of(
        "nearest number drill",
        format!("no. {number}"),
        format!(
            "of drills {FIRST_DRILL} to {LAST_COMMON_DRILL}, no. {number} is {} in × 25.4 mm per inch = {} mm; {}",
            plain(mm / 25.4),
            figures(mm, 3),
            how_far(mm, diameter_mm)
        ),
        DRILLS,
    )
}

const DRILLS: &str = "ASME B94.11M, by a public-domain conversion table";

fn how_far(size_mm: f64, wanted_mm: f64) -> String {
    let off = (size_mm - wanted_mm).abs();
    format!("{} mm off {} mm, no other is nearer", scaled(off, 2), plain(wanted_mm))
}

fn nearest(sizes: impl Iterator<Item = (u32, f64)>, diameter_mm: f64) -> u32 {
    let off = |size: &(u32, f64)| (size.1 - diameter_mm).abs();
    sizes.min_by(|a, b| off(a).total_cmp(&off(b))).map_or(0, |(number, _)| number)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_gauge_is_nearest_to_itself() {
        for n in 0..=THINNEST_WIRE {
            assert_eq!(nearest_wire_gauge(wire_gauge_mm(n)), n);
        }
        for n in FIRST_DRILL..=LAST_COMMON_DRILL {
            assert_eq!(nearest_number_drill(number_drill_mm(n).unwrap()), n);
        }
        assert_eq!(number_drill_mm(60), None);
        assert_eq!(number_drill_mm(98), None);
        assert_eq!(tube_gauge_mm(33), None);
        for n in FIRST_TUBE..=LAST_TUBE {
            assert_eq!(nearest_tube_gauge(tube_gauge_mm(n).unwrap()), n);
        }
        assert_eq!((nearest_machine_needle(0.76), nearest_machine_needle(0.3)), (75.0, 60.0));
    }

    #[test]
    fn the_workings_say_where_a_diameter_comes_from() {
        assert!(wire_gauge_working(24).formula.ends_with("92^((36 − 24) / 39) = 0.511 mm"));
        assert_eq!(number_drill_working(76).unwrap().formula, "0.02 in × 25.4 mm per inch = 0.508 mm");
        assert_eq!(machine_needle_working(75.0).value, "NM 75, 0.750 mm");
        let off = nearest_number_drill_working(0.5).formula;
        assert!(
            off.ends_with("no. 76 is 0.02 in × 25.4 mm per inch = 0.508 mm; 0.0080 mm off 0.5 mm, no other is nearer")
        );
        assert!(tube_gauge_working(25).is_some() && tube_gauge_working(99).is_none());
    }
}
