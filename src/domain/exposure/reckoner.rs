//! A table for an evening without the server: for cameras of several lengths, the hole by the
//! session's formula and the time to start with under the skies a class meets.

use crate::calc::{
    light::{
        experience::Lesson,
        forecast::{Basis, forecast, metered_base},
        given_time::GivenTime,
        sky::{Sky, SunFrom},
    },
    optics::{field::f_number, hole_formula::hole_diameter, micrometer::MicrometerSetting},
    quantity::{FNumber, HoleDiameter, HoleToFilm},
};

use crate::domain::{camera::target::HoleFormula, stock::paper::Paper};

/// Hole-to-film distances of the table, millimetres: from a flat tin to a shoe box.
pub const DISTANCES_MM: [f64; 7] = [50.0, 75.0, 100.0, 120.0, 150.0, 200.0, 250.0];

/// The skies of the table, each a stop less light than the one before.
pub const SKIES: [Sky; 4] = [Sky::FullSun, Sky::HazySun, Sky::CloudyBright, Sky::HeavyOvercast];

/// What a hole made by hand does to the time, in stops (our own judgement).
const HOLE_SD_STOPS: f64 = 0.3;

/// One line of the table.
#[derive(Clone, Debug, PartialEq)]
pub struct Reckoned {
    /// Hole to film.
    pub hole_to_film: HoleToFilm,
    /// The hole by the formula.
    pub hole: HoleDiameter,
    /// Its f-number.
    pub f_number: FNumber,
    /// The time to start with under each of [`SKIES`], as one counts it.
    pub times: [GivenTime; 4],
}

impl Reckoned {
    /// What to set on the micrometer.
    pub fn setting(&self) -> MicrometerSetting {
        MicrometerSetting::of(self.hole)
    }
}

/// The table for a formula, a paper and what its sheets have shown so far.
pub fn reckoner(formula: HoleFormula, paper: &Paper, lesson: Lesson) -> Vec<Reckoned> {
    DISTANCES_MM
        .iter()
        .filter_map(|mm| HoleToFilm::new(*mm).ok())
        .map(|hole_to_film| {
            let hole = hole_diameter(hole_to_film, formula.wavelength, formula.constant, None);
            let f_number = f_number(hole_to_film, hole);
            let time = |sky: Sky| {
                let (index, light) = (paper.exposure_index(), sky.light(SunFrom::Front));
                let gain_stops = paper.lens_free_gain_milli() as f64 / 1000.0;
                let basis = Basis {
                    f_number,
                    hole_sd_stops: HOLE_SD_STOPS,
                    index,
                    gain_stops,
                    aim_stops: 0.0,
                    reciprocity: lesson.rule(),
                    light,
                    experience: lesson.at(metered_base(f_number, index, light, -gain_stops)),
                };
                forecast(basis).practical
            };
            Reckoned { hole_to_film, hole, f_number, times: SKIES.map(time) }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        clock::World,
        domain::{instant::Instant, stock::usual_stock},
    };

    /// f/245.8 for 120 mm at C = 1.9 and 550 nm; EI 6, EV 15: t = N² × 100 / (2^15 × 6) = 31 s
    /// (ISO 2720's light value, computed by hand).
    #[test]
    fn a_can_of_120_mm_starts_with_half_a_minute_on_paper_of_ei_6() {
        let world = World::fixed(Instant::from_micros(1_774_029_600_000_000).expect("in range"));
        let paper = usual_stock::papers(world.mint(), || world.mint()).remove(0);
        let table = reckoner(HoleFormula::usual().expect("in range"), &paper, Lesson::none(paper.reciprocity()));
        let can = table.iter().find(|line| line.hole_to_film.as_mm() == 120.0).expect("in the table");
        assert_eq!(can.setting().metric_text(), "0.49 mm");
        assert!((can.f_number.as_number() - 245.8).abs() < 0.1, "{can:?}");
        assert_eq!(can.times.clone().map(|time| time.text), ["31 s", "1 min", "2 min 5 s", "4 min 5 s"]);
    }
}
