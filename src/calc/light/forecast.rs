//! The forecast: from camera, light, paper and experience to a time with an honest interval.

use crate::calc::light::experience::Experience;
use crate::calc::light::exposure::exposure_time;
use crate::calc::light::given_time::{
    ALIKE_NOTE, GivenTime, PAST_TABLE_NOTE, SHORTEST_BY_HAND_S, UNDER_HALF_A_SECOND, notes,
};
use crate::calc::light::reciprocity::Reciprocity;
use crate::calc::light::sky::Light;
use crate::calc::quantity::{ExposureIndex, FNumber, Seconds};
use crate::calc::working::{Working, figures, seconds_text, stops_text};

/// Half the width of an 80 % interval of a normal distribution, in standard deviations.
pub const Z_80: f64 = 1.2816;

/// What a forecast rests on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Basis {
    /// f-number of the camera with its hole as measured, or as planned.
    pub f_number: FNumber,
    /// What the uncertainty of the hole does to the time, in stops
    /// ([`HoleReadings::sd_stops`](crate::calc::optics::readings::HoleReadings::sd_stops)).
    pub hole_sd_stops: f64,
    /// Exposure index of the paper or film.
    pub index: ExposureIndex,
    /// Stops less because a hole has no glass in the way; 0 where the index was found with a hole.
    pub gain_stops: f64,
    /// Stops more because a point off the middle is exposed for, by the fall-off there.
    pub aim_stops: f64,
    /// Reciprocity of the paper or film.
    pub reciprocity: Reciprocity,
    /// Light on the subject.
    pub light: Light,
    /// What was learned so far; [`Experience::none`] before the first sheet.
    pub experience: Experience,
}

/// Which part of the uncertainty is the greatest.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dominant {
    /// Paper, day and camera, because few or no sheets have been judged.
    LittleExperience,
    /// How well the light is known.
    Light,
    /// How well the hole is known.
    Hole,
}

impl Dominant {
    /// In words, with what would help.
    pub const fn advice(self) -> &'static str {
        match self {
            Self::LittleExperience => {
                "mostly how this paper, this day and this camera behave: each judged sheet narrows it"
            }
            Self::Light => "mostly the light: a meter reading is surer than a description of the sky",
            Self::Hole => "mostly the hole: measure it again, across and along",
        }
    }
}

/// A starting exposure.
#[derive(Clone, Debug, PartialEq)]
pub struct Forecast {
    /// Metered time without experience and without reciprocity: the base of every observation.
    pub base: Seconds,
    /// The base with reciprocity.
    pub base_corrected: Seconds,
    /// The forecast: base, experience, reciprocity.
    pub time: Seconds,
    /// Lower end of the 80 % interval.
    pub low: Seconds,
    /// Upper end of the 80 % interval.
    pub high: Seconds,
    /// Half the width of the 80 % interval, in metered stops.
    pub interval_stops: f64,
    /// Standard deviation, in metered stops.
    pub sd_stops: f64,
    /// The forecast as one counts it.
    pub practical: GivenTime,
    /// Three times to try, shortest first, `bracket_step_stops` of metered exposure apart.
    pub bracket: [GivenTime; 3],
    /// Step of the bracket in stops: 0.5, 1 or 1.5, the wider the less is known.
    pub bracket_step_stops: f64,
    /// Five times to try, shortest first.
    pub bracket_of_five: [GivenTime; 5],
    /// Step of the five in stops: 0.5 or 1.
    pub step_of_five_stops: f64,
    /// What the uncertainty mostly comes from.
    pub dominant: Dominant,
    /// Under half a second no hand times a shutter.
    pub too_short_by_hand: bool,
    /// The metered time lies past the end of the maker's reciprocity table.
    pub past_table: bool,
    /// The same of the ends of the interval, the lower one first.
    pub ends_past_table: [bool; 2],
    basis: Basis,
}

/// What to say of a forecast under half a second.
pub const TOO_SHORT_ADVICE: &str = "under half a second: the hole is too large or the light too \
     strong to time by hand; use a smaller hole, a slower paper, or wait for less light";

/// The metered time without experience: what every observation is measured against. `more_stops` is
/// what a point off the middle asks for, less what the missing glass saves.
pub fn metered_base(f_number: FNumber, index: ExposureIndex, light: Light, more_stops: f64) -> Seconds {
    exposure_time(f_number, index, light.ev100).with_stops(more_stops)
}

/// The forecast for a basis.
///
/// The spreads of hole, light and experience are independent and combine as a root sum of squares.
pub fn forecast(basis: Basis) -> Forecast {
    let Basis { light, experience, reciprocity, .. } = basis;
    let base = metered_base(basis.f_number, basis.index, light, basis.aim_stops - basis.gain_stops);
    let sd = light.sd_stops.hypot(experience.sd_stops).hypot(basis.hole_sd_stops);
    let interval_stops = Z_80 * sd;
    let metered = base.with_stops(experience.correction_stops);
    let given = |stops: f64| reciprocity.corrected(metered.with_stops(stops));
    let past = |stops: f64| reciprocity.is_past_table(metered.with_stops(stops));
    let counted = |stops: f64| GivenTime::of(given(stops), past(stops));
    let step = bracket_step_stops(interval_stops);
    let step_of_five = if interval_stops > 1.25 { 1.0 } else { 0.5 };
    let time = given(0.0);
    Forecast {
        base,
        base_corrected: reciprocity.corrected(base),
        time,
        low: given(-interval_stops),
        high: given(interval_stops),
        interval_stops,
        sd_stops: sd,
        practical: counted(0.0),
        bracket: [-step, 0.0, step].map(counted),
        bracket_step_stops: step,
        bracket_of_five: [-2.0, -1.0, 0.0, 1.0, 2.0].map(|steps| counted(steps * step_of_five)),
        step_of_five_stops: step_of_five,
        dominant: dominant(basis),
        too_short_by_hand: time.as_s() < SHORTEST_BY_HAND_S,
        past_table: past(0.0),
        ends_past_table: [past(-interval_stops), past(interval_stops)],
        basis,
    }
}

/// Three pieces this far apart reach about as far as the interval does; nothing finer than half a
/// stop shows on paper.
fn bracket_step_stops(interval_stops: f64) -> f64 {
    match interval_stops {
        w if w > 1.25 => 1.5,
        w if w > 0.75 => 1.0,
        _ => 0.5,
    }
}

fn dominant(basis: Basis) -> Dominant {
    let (light, hole) = (basis.light.sd_stops, basis.hole_sd_stops);
    if basis.experience.sd_stops >= light.max(hole) {
        Dominant::LittleExperience
    } else if light >= hole {
        Dominant::Light
    } else {
        Dominant::Hole
    }
}

impl Forecast {
    /// The interval in stops and in seconds, in words; an end past the maker's table is said to be so.
    pub fn interval_text(&self) -> String {
        let [low, high] = self.ends_text();
        let [low_past, high_past] = self.ends_past_table;
        format!(
            "8 times in 10 the right time lies from {low} to {high} (± {} stops){}",
            figures(self.interval_stops, 2),
            if low_past || high_past { format!("; {PAST_TABLE_NOTE}") } else { String::new() }
        )
    }

    /// The ends of the interval as one says them.
    pub fn ends_text(&self) -> [String; 2] {
        let end = |time: Seconds, past: bool| match time.as_s() {
            s if s < SHORTEST_BY_HAND_S => UNDER_HALF_A_SECOND.to_owned(),
            s if past => format!("{} *", seconds_text(s)),
            s => seconds_text(s),
        };
        let [low_past, high_past] = self.ends_past_table;
        [end(self.low, low_past), end(self.high, high_past)]
    }

    /// Every time that a page may give from it: the forecast, three pieces, five pieces.
    pub fn times(&self) -> impl Iterator<Item = &GivenTime> {
        std::iter::once(&self.practical).chain(&self.bracket).chain(&self.bracket_of_five)
    }

    /// What has to be said beside its times.
    pub fn notes(&self) -> Vec<&'static str> {
        let alike = |pieces: &[GivenTime]| pieces.windows(2).any(|pair| pair[0].seconds == pair[1].seconds);
        let some_alike = alike(&self.bracket) || alike(&self.bracket_of_five);
        notes(self.times()).into_iter().chain(some_alike.then_some(ALIKE_NOTE)).collect()
    }

    /// What it rests on, in words: "no experience yet" or the number of sheets.
    pub fn experience_text(&self) -> String {
        match self.basis.experience.based_on {
            0 => "no experience yet".to_owned(),
            1 => "rests on 1 exposure".to_owned(),
            n => format!("rests on {n} exposures"),
        }
    }

    /// What aiming off the middle and the missing glass do to the metered time, with its working;
    /// `None` where neither counts.
    pub fn adjusting_working(&self) -> Option<Working> {
        let Basis { aim_stops, gain_stops, .. } = self.basis;
        if aim_stops == 0.0 && gain_stops == 0.0 {
            return None;
        }
        let metered = self.base.with_stops(gain_stops - aim_stops);
        Some(Working {
            name: "metered time here",
            value: seconds_text(self.base.as_s()),
            formula: format!(
                "{} s × 2^({} for the fall-off at that point − {} for no glass in the way) = {} s",
                figures(metered.as_s(), 3),
                figures(aim_stops, 2),
                figures(gain_stops, 2),
                figures(self.base.as_s(), 3)
            ),
            source: "cos⁴ law and the geometry of a can; a lens and its angle cost 0.27 stop (ISO 2721, q = 0.65), a hole \
                     does not",
            interval: None,
        })
    }

    /// The forecast with its working.
    pub fn working(&self) -> Working {
        let correction = self.basis.experience.correction_stops;
        let metered = self.base.with_stops(correction);
        let reciprocity = self.basis.reciprocity.working(metered);
        Working {
            name: "forecast",
            value: seconds_text(self.time.as_s()),
            formula: format!(
                "metered {} s × 2^({} stops of experience) = {} s; {}",
                figures(self.base.as_s(), 3),
                stops_text(correction),
                figures(metered.as_s(), 3),
                reciprocity.formula
            ),
            source: "metered time by ISO 2720, then what this section's sheets have shown, then \
                     reciprocity",
            interval: Some(self.interval_text()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calc::light::sky::{Sky, SunFrom};
    use crate::calc::optics::{field::f_number, hole_formula::hole_diameter};
    use crate::calc::quantity::{Ev100, HoleConstant, InsideDiameter, ReciprocityExponent, Wavelength};
    use proptest::prelude::*;

    fn can(inside_mm: f64) -> Basis {
        let v = InsideDiameter::new(inside_mm).unwrap().hole_to_film();
        let c = HoleConstant::new(1.9).unwrap();
        let hole = hole_diameter(v, Wavelength::new(550.0).unwrap(), c, None);
        Basis {
            f_number: f_number(v, hole),
            hole_sd_stops: 0.0,
            index: ExposureIndex::new(10.0).unwrap(),
            gain_stops: 0.0,
            aim_stops: 0.0,
            reciprocity: Reciprocity::NONE,
            light: Sky::FullSun.light(SunFrom::Front),
            experience: Experience::none(),
        }
    }

    /// A round can with a hole by the formula and paper at EI 10 in full sun gets about eight
    /// seconds: common practice, no source.
    #[test]
    fn the_can_in_full_sun_is_near_eight_seconds() {
        for inside in [110.0, 115.0, 120.0, 125.0, 130.0] {
            let seconds = forecast(can(inside)).time.as_s();
            let off = (seconds / 8.0).log2();
            assert!(off.abs() < 1.5, "{inside} mm: {seconds} s, {off} stops from 8 s");
        }
    }

    #[test]
    fn with_no_experience_the_card_offers_three_pieces_a_stop_and_a_half_apart() {
        let first = forecast(can(120.0));
        assert_eq!(first.bracket_step_stops, 1.5);
        assert_eq!(first.dominant, Dominant::LittleExperience);
        assert_eq!(first.experience_text(), "no experience yet");
        assert_eq!(first.practical.text, "18 s");
        assert_eq!(first.bracket.clone().map(|c| c.seconds), [7, 18, 52]);
        assert!(!first.too_short_by_hand);
    }

    #[test]
    fn five_pieces_reach_as_far_as_three_in_smaller_steps() {
        let first = forecast(can(120.0));
        assert_eq!(first.step_of_five_stops, 1.0);
        assert_eq!(first.bracket_of_five[2], first.bracket[1]);
        assert_eq!(first.bracket_of_five.map(|c| c.seconds), [5, 9, 18, 37, 75]);
    }

    #[test]
    fn a_point_off_the_middle_asks_for_more_and_a_missing_lens_for_less() {
        let plain = forecast(can(120.0));
        let off = forecast(Basis { aim_stops: 1.0, gain_stops: 0.25, ..can(120.0) });
        assert!((off.base.stops_over(plain.base) - 0.75).abs() < 1e-12);
        assert!(off.adjusting_working().is_some() && plain.adjusting_working().is_none());
    }

    #[test]
    fn a_large_hole_in_full_sun_cannot_be_timed_by_hand() {
        let short = forecast(Basis { f_number: FNumber::new(22.0).unwrap(), ..can(120.0) });
        assert!(short.too_short_by_hand, "{short:?}");
    }

    #[test]
    fn a_bracket_whose_short_end_no_hand_can_give_says_so_and_what_to_change() {
        let short = forecast(Basis { f_number: FNumber::new(55.0).unwrap(), ..can(120.0) });
        assert!(!short.too_short_by_hand, "{short:?}");
        assert_eq!(short.bracket[0].text, "under ½ s");
        assert!(short.notes()[0].contains("make a smaller hole"), "{:?}", short.notes());
    }

    #[test]
    fn past_the_makers_table_every_time_and_the_end_of_the_interval_have_a_star() {
        let second = |s: f64| crate::calc::quantity::ExposureTime::new(s).unwrap();
        let lines = [(second(1.0), second(1.0)), (second(20.0), second(40.0))];
        let table = crate::calc::light::reciprocity::ReciprocityTable::new(&lines).unwrap();
        // 18 s metered: inside; a stop and a half more is not
        let f = forecast(Basis { reciprocity: Reciprocity::of_table(table), ..can(120.0) });
        assert!(!f.past_table && !f.practical.text.ends_with('*'), "{f:?}");
        assert!(f.bracket[2].text.ends_with(" *") && f.bracket_of_five[4].past_table, "{f:?}");
        assert!(f.interval_text().contains("* past the end of the maker"), "{}", f.interval_text());
        assert_eq!(f.notes(), [PAST_TABLE_NOTE]);
    }

    #[test]
    fn experience_moves_the_metered_time_and_reciprocity_comes_after() {
        let rule = Reciprocity::above_one_second(ReciprocityExponent::new(1.2).unwrap());
        let experience = Experience { correction_stops: 1.0, sd_stops: 0.2, based_on: 9 };
        let f = forecast(Basis { reciprocity: rule, experience, ..can(120.0) });
        let expected = (f.base.as_s() * 2.0).powf(1.2);
        assert!((f.time.as_s() / expected - 1.0).abs() < 1e-12);
        assert_eq!(f.dominant, Dominant::Light);
    }

    proptest! {
        #[test]
        fn the_interval_holds_the_forecast_and_darker_is_longer(
            n in FNumber::MIN..=FNumber::MAX, ei in 0.01..=100_000.0f64,
            ev in Ev100::MIN..Ev100::MAX - 1.0, p in 1.0..=2.0f64,
            correction in -8.0..8.0f64, sd in 0.0..2.0f64,
        ) {
            let basis = Basis {
                f_number: FNumber::new(n).unwrap(),
                hole_sd_stops: 0.1,
                index: ExposureIndex::new(ei).unwrap(),
                gain_stops: 0.0,
                aim_stops: 0.0,
                reciprocity: Reciprocity::above_one_second(ReciprocityExponent::new(p).unwrap()),
                light: Light::metered_ev(ev).unwrap(),
                experience: Experience { correction_stops: correction, sd_stops: sd, based_on: 1 },
            };
            let f = forecast(basis);
            prop_assert!(f.low < f.time && f.time < f.high, "{f:?}");
            prop_assert!(f.high.as_s().is_finite());
            prop_assert!(f.bracket[0].seconds <= f.bracket[1].seconds);
            let brighter = forecast(Basis { light: Light::metered_ev(ev + 1.0).unwrap(), ..basis });
            prop_assert!(brighter.time < f.time);
        }
    }
}
