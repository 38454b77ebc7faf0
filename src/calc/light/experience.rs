//! Experience: what a section has learned about its paper and light from recorded exposures.
//!
//! An observation is how much longer, in stops, than the forecast without experience would have
//! been right. Model: observation = paper at this site + session + camera + noise. The three
//! offsets are normal about zero; the noise is Student t with four degrees of freedom, fitted by
//! EM, so that one wild sheet does not move the class. Given the weights the posterior is in closed
//! form (Bayesian linear regression).

use crate::calc::light::fit::Fit;
use crate::calc::light::forecast::Z_80;
use crate::calc::light::reciprocity::Reciprocity;
use crate::calc::quantity::{ResultStops, Seconds};
use crate::calc::working::{Working, figures, plain, stops_text};

pub use super::taught::{
    EXPONENT_PRIOR, FittedExponent, JudgedSheet, Lesson, Residual, SPAN_FOR_EXPONENT_STOPS, Taught,
};

/// How a sheet was judged; it decides how far a single judgement may be off.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Judged {
    /// By eye on the negative.
    ByEye,
    /// From a scan of the negative.
    ByScan,
}

/// One recorded exposure: how far the forecast without experience was off.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Observation<S, C> {
    /// Stops that would have been needed beyond the forecast without experience.
    pub stops: f64,
    /// How it was judged.
    pub judged: Judged,
    /// The session it was made in.
    pub session: S,
    /// The camera it was made with.
    pub camera: C,
}

/// How many stops beyond the base a sheet needed: `log2(made / base) + result_stops`.
///
/// `made` is what the clock said; reciprocity is undone, so that both times are metered seconds.
/// `base` is the metered time of the forecast without experience, from the light as found then.
pub fn observed_stops(
    made: impl Into<Seconds>,
    base_metered: Seconds,
    result: ResultStops,
    reciprocity: Reciprocity,
) -> f64 {
    reciprocity.metered(made).stops_over(base_metered) + result.as_stops()
}

/// Standard deviations of the model, in stops.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread {
    /// Of the paper's offset at this site.
    pub paper: f64,
    /// Of a session's offset: that day's light.
    pub session: f64,
    /// Of a camera's offset.
    pub camera: f64,
    /// Scale of the noise of a judgement by eye.
    pub noise_by_eye: f64,
    /// Scale of the noise of a judgement from a scan.
    pub noise_by_scan: f64,
}

impl Default for Spread {
    fn default() -> Self {
        Self { paper: 1.0, session: 0.5, camera: 0.35, noise_by_eye: 0.6, noise_by_scan: 0.4 }
    }
}

/// What experience says about the next exposure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Experience {
    /// Stops to add to the metered time of the forecast.
    pub correction_stops: f64,
    /// Standard deviation of that offset itself, without the noise of judging, in stops.
    pub sd_stops: f64,
    /// How many exposures it rests on.
    pub based_on: usize,
}

impl Experience {
    /// The correction with its working.
    pub fn working(self, spread: Spread) -> Working {
        let Spread { paper, session, camera, noise_by_eye, noise_by_scan } = spread;
        let (correction, sd) = (figures(self.correction_stops, 3), figures(self.sd_stops, 3));
        let reach = Z_80 * self.sd_stops;
        let prior = format!("√({}² + {}² + {}²) stops", plain(paper), plain(session), plain(camera));
        let formula = match self.based_on {
            0 => format!("no exposure yet: 0 ± {prior} = {sd} stops, the spread of papers, sessions and cameras"),
            n => format!(
                "observation = paper + session + camera + noise (exposures: {n}); offsets normal about 0, together ± {prior}; noise \
                 Student t with 4 degrees of freedom, scale {} by eye and {} by scan; weights by EM: {correction} ± {sd} stops",
                plain(noise_by_eye),
                plain(noise_by_scan)
            ),
        };
        Working::of(
            "correction by experience",
            format!("{} stops", stops_text(self.correction_stops)),
            formula,
            "Bayesian linear regression with robust weights, our own model; checked against general linear algebra",
        )
        .within(format!(
            "80 %: {} to {} stops, without the noise of judging one sheet",
            stops_text(self.correction_stops - reach),
            stops_text(self.correction_stops + reach)
        ))
    }

    /// No exposure recorded yet: no correction, and the spread that papers, days and cameras have.
    pub fn none() -> Self {
        experience::<(), ()>(&[], &(), &(), Spread::default())
    }
}

/// The correction for a camera in a session, from the observations of one paper at one site.
pub fn experience<S: PartialEq + Clone, C: PartialEq + Clone>(
    observations: &[Observation<S, C>],
    session: &S,
    camera: &C,
    spread: Spread,
) -> Experience {
    let sheets = observations.iter().map(|o| (o.session.clone(), o.camera.clone()));
    let mut fit = Fit::seating(sheets, spread);
    let stops = observations.iter().map(|o| (o.stops, 0.0)).collect();
    fit.settle(stops, observations.iter().map(|o| o.judged), None);
    let (correction_stops, variance) = fit.posterior.sum_of(fit.session(session), fit.camera(camera), 0.0);
    Experience { correction_stops, sd_stops: variance.sqrt(), based_on: observations.len() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calc::quantity::{ExposureTime, ReciprocityExponent};
    use proptest::prelude::*;

    fn by_eye(stops: f64, session: u8, camera: u8) -> Observation<u8, u8> {
        Observation { stops, judged: Judged::ByEye, session, camera }
    }

    #[test]
    fn with_no_exposures_the_spread_is_that_of_papers_days_and_cameras() {
        let none = Experience::none();
        assert_eq!((none.correction_stops, none.based_on), (0.0, 0));
        assert!((none.sd_stops - (1.0 + 0.25 + 0.1225f64).sqrt()).abs() < 1e-12);
    }

    #[test]
    fn one_wild_sheet_does_not_move_the_class() {
        let mut sheets: Vec<_> = (0..8).map(|c| by_eye(1.0, 1, c)).collect();
        let calm = experience(&sheets, &1, &20, Spread::default());
        sheets.push(by_eye(-8.0, 1, 9));
        let wild = experience(&sheets, &1, &20, Spread::default());
        assert!((calm.correction_stops - wild.correction_stops).abs() < 0.15, "{calm:?} {wild:?}");
    }

    #[test]
    fn an_observation_undoes_reciprocity_and_adds_what_the_sheet_still_needed() {
        let rule = Reciprocity::above_one_second(ReciprocityExponent::new(1.31).unwrap());
        // 20.417 s on the clock are 10 s metered; the base was 5 s; the sheet was half a stop pale.
        let stops = observed_stops(
            ExposureTime::new(10f64.powf(1.31)).unwrap(),
            Seconds::from(ExposureTime::new(5.0).unwrap()),
            ResultStops::new(0.5).unwrap(),
            rule,
        );
        assert!((stops - 1.5).abs() < 1e-12, "{stops}");
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(100))]
        #[test]
        fn every_sheet_narrows_the_interval_and_nothing_is_nan(
            sheets in proptest::collection::vec((-6.0..6.0f64, 0..3u8, 0..6u8), 0..20),
        ) {
            let all: Vec<_> = sheets.iter().map(|&(x, s, c)| by_eye(x, s, c)).collect();
            let learned = experience(&all, &0, &0, Spread::default());
            prop_assert!(learned.correction_stops.abs() <= 6.0 + 1e-9, "{learned:?}");
            prop_assert!(learned.sd_stops > 0.0);
            prop_assert!(learned.sd_stops <= Experience::none().sd_stops + 1e-12);
        }
    }
}
