//! Experience: what a section has learned about its paper and light from recorded exposures.
//!
//! An observation is how much longer, in stops, than the forecast without experience would have
//! been right. Model: observation = paper at this site + session + camera + noise. The three
//! offsets are normal about zero; the noise is Student t with four degrees of freedom, fitted by
//! EM, so that one wild sheet does not move the class. Given the weights the posterior is in closed
//! form (Bayesian linear regression).

use crate::calc::light::offsets::{Posterior, Prior, Row};
use crate::calc::light::reciprocity::Reciprocity;
use crate::calc::quantity::{ReciprocityExponent, ResultStops, Seconds};

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

/// A judged sheet with the inputs of its observation, so that reciprocity can be undone by whichever
/// rule the sheets themselves speak for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct JudgedSheet<S, C> {
    /// How long the shutter was open.
    pub made: Seconds,
    /// Metered time of the forecast without experience, from the light as found then.
    pub base: Seconds,
    /// What it would have needed more.
    pub result: ResultStops,
    /// How it was judged.
    pub judged: Judged,
    /// The session it was made in.
    pub session: S,
    /// The camera it was made with.
    pub camera: C,
}

/// What is known of a paper's reciprocity exponent before its sheets span enough: 1.1 ± 0.1 (our own
/// judgement: no maker publishes one).
pub const EXPONENT_PRIOR: (f64, f64) = (1.1, 0.1);

/// The exponent is fitted once the times of the sheets span so many stops.
pub const SPAN_FOR_EXPONENT_STOPS: f64 = 3.0;

/// An exponent that the sheets have taught.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FittedExponent {
    /// Exponent P.
    pub exponent: ReciprocityExponent,
    /// Its standard deviation.
    pub sd: f64,
}

/// What a paper's judged sheets have taught, all of it.
#[derive(Clone, Debug)]
pub struct Taught<S, C> {
    fit: Fit<S, C>,
    rule: Reciprocity,
    fitted: Option<FittedExponent>,
}

/// One sheet against what all of them say.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Residual {
    /// Its observation, in stops.
    pub stops: f64,
    /// What the fitted offsets of paper, session and camera say of it.
    pub expected: f64,
    /// Its weight: near 1.25 when it agrees, near 0 when it is wild.
    pub weight: f64,
}

impl Residual {
    /// Observation less expectation.
    pub fn stops_off(self) -> f64 {
        self.stops - self.expected
    }
}

impl<S: PartialEq + Clone, C: PartialEq + Clone> Taught<S, C> {
    /// Fits the offsets, and beside them the reciprocity exponent when `may_fit` and the times of the
    /// sheets span three stops or more; otherwise `rule` stands.
    ///
    /// The exponent enters an observation as `log2(made / t0) / P`, which is not linear: it is
    /// linearised round the present exponent, fitted with the offsets, and so on until it stays
    /// (Gauss-Newton). Its prior is normal, kept to exponents of one or more.
    pub fn of(sheets: &[JudgedSheet<S, C>], rule: Reciprocity, may_fit: bool, spread: Spread) -> Self {
        let mut fit = Fit::seating(sheets.iter().map(|sheet| (sheet.session.clone(), sheet.camera.clone())), spread);
        let judged = || sheets.iter().map(|sheet| sheet.judged);
        if !may_fit || span_stops(sheets) < SPAN_FOR_EXPONENT_STOPS {
            let observed = sheets.iter().map(|sheet| (sheet.observed(rule), 0.0)).collect();
            fit.settle(observed, judged(), None);
            return Self { fit, rule, fitted: None };
        }
        let (mean, sd) = EXPONENT_PRIOR;
        let (mut exponent, mut rule) = (mean, rule);
        for _ in 0..MOST_STEPS {
            rule = rule.with_exponent(kept_in_range(exponent));
            let observed = sheets.iter().map(|sheet| (sheet.observed(rule), sheet.lever(rule))).collect();
            fit.settle(observed, judged(), Some((mean - exponent, sd)));
            let next = kept_in_range(exponent + fit.posterior.slope().0).as_number();
            let step = next - exponent;
            exponent = next;
            if step.abs() < 1e-10 {
                break;
            }
        }
        let fitted = FittedExponent { exponent: rule.exponent(), sd: fit.posterior.slope().1.sqrt() };
        Self { fit, rule, fitted: Some(fitted) }
    }

    /// The rule to give times by: the one given, or the one fitted.
    pub fn rule(&self) -> Reciprocity {
        self.rule
    }

    /// The exponent, where the sheets have taught one.
    pub fn fitted(&self) -> Option<FittedExponent> {
        self.fitted
    }

    /// How many sheets it rests on.
    pub fn based_on(&self) -> usize {
        self.fit.rows.len()
    }

    /// What it says for a camera in a session, seen before or not.
    pub fn for_camera(&self, session: &S, camera: &C) -> Lesson {
        self.lesson(self.fit.session(session), self.fit.camera(camera))
    }

    /// What it says for a camera that nobody has used yet, in that session or (`None`) in another one.
    pub fn for_new_camera(&self, session: Option<&S>) -> Lesson {
        self.lesson(session.map_or(0, |session| self.fit.session(session)), 0)
    }

    fn lesson(&self, session: usize, camera: usize) -> Lesson {
        let posterior = &self.fit.posterior;
        let (mean, variance) = posterior.sum_of(session, camera, 0.0);
        let (slope_mean, slope_variance) = posterior.slope();
        let covariance = posterior.slope_with(session, camera);
        Lesson {
            // an exponent held at the end of its range leaves a slope behind: the offsets given none
            correction_stops: if self.fitted.is_some() {
                mean - covariance / slope_variance * slope_mean
            } else {
                mean
            },
            variance,
            exponent: self.fitted.map(|_| (covariance, slope_variance)),
            based_on: self.based_on(),
            rule: self.rule,
        }
    }

    /// Each sheet against what all of them say, in the order given.
    pub fn residuals(&self) -> Vec<Residual> {
        let expected = |row: &Row| self.fit.posterior.sum_of(row.session, row.camera, row.lever).0;
        let rows = self.fit.rows.iter().zip(&self.fit.weights);
        rows.map(|(row, weight)| Residual { stops: row.stops, expected: expected(row), weight: *weight }).collect()
    }
}

impl<S, C> JudgedSheet<S, C> {
    fn observed(&self, rule: Reciprocity) -> f64 {
        observed_stops(self.made, self.base, self.result, rule)
    }

    /// How much the observation shifts for each unit that the exponent is greater: with L = log2 of
    /// made over threshold, d(L / P)/dP = -L / P², and the offsets take it up with the other sign.
    fn lever(&self, rule: Reciprocity) -> f64 {
        let beyond = (self.made.as_s() / rule.threshold().as_s()).log2().max(0.0);
        beyond / rule.exponent().as_number().powi(2)
    }
}

fn kept_in_range(exponent: f64) -> ReciprocityExponent {
    ReciprocityExponent::computed(exponent.clamp(ReciprocityExponent::MIN, ReciprocityExponent::MAX))
}

/// How many stops lie between the shortest and the longest time.
fn span_stops<S, C>(sheets: &[JudgedSheet<S, C>]) -> f64 {
    let times = sheets.iter().map(|sheet| sheet.made.as_s());
    let (least, most) = times.fold((f64::INFINITY, 0.0f64), |(least, most), s| (least.min(s), most.max(s)));
    if most > 0.0 { (most / least).log2() } else { 0.0 }
}

/// What the sheets say for one camera in one session.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lesson {
    correction_stops: f64,
    variance: f64,
    /// Covariance of the correction with the exponent, and the exponent's variance.
    exponent: Option<(f64, f64)>,
    based_on: usize,
    rule: Reciprocity,
}

impl Lesson {
    /// Before the first sheet.
    pub fn none(rule: Reciprocity) -> Self {
        Taught::<(), ()>::of(&[], rule, false, Spread::default()).for_new_camera(None)
    }

    /// The rule to give times by.
    pub fn rule(self) -> Reciprocity {
        self.rule
    }

    /// How many sheets it rests on.
    pub fn based_on(self) -> usize {
        self.based_on
    }

    /// The correction for a forecast whose metered time without experience is `base`. Where the
    /// exponent was fitted, its uncertainty is part of the interval, the more the longer the time.
    pub fn at(self, base: Seconds) -> Experience {
        let variance = match self.exponent {
            None => self.variance,
            Some((covariance, exponent_variance)) => {
                let metered = base.with_stops(self.correction_stops).as_s();
                let beyond = (metered / self.rule.threshold().as_s()).log2().max(0.0);
                let lever = beyond / self.rule.exponent().as_number();
                self.variance + 2.0 * lever * covariance + lever * lever * exponent_variance
            }
        };
        Experience {
            correction_stops: self.correction_stops,
            sd_stops: variance.max(0.0).sqrt(),
            based_on: self.based_on,
        }
    }
}

/// Sessions and cameras with their numbers, and the fit of the offsets.
#[derive(Clone, Debug)]
struct Fit<S, C> {
    /// Those seen; number 0 is any that was not.
    sessions: Vec<S>,
    cameras: Vec<C>,
    spread: Spread,
    rows: Vec<Row>,
    weights: Vec<f64>,
    posterior: Posterior,
}

/// A few dozen rounds converge to rounding; the bound only guards against endless crawling.
const MOST_ROUNDS: usize = 1000;
/// The same for the steps of the exponent.
const MOST_STEPS: usize = 50;

impl<S: PartialEq + Clone, C: PartialEq + Clone> Fit<S, C> {
    /// Gives every session and camera its number; nothing is fitted yet.
    fn seating(sheets: impl Iterator<Item = (S, C)>, spread: Spread) -> Self {
        let (mut sessions, mut cameras) = (Vec::new(), Vec::new());
        let rows: Vec<Row> = sheets
            .map(|(session, camera)| Row {
                session: place(&mut sessions, session),
                camera: place(&mut cameras, camera),
                stops: 0.0,
                scale2: 1.0,
                lever: 0.0,
            })
            .collect();
        let prior = Prior { sessions: sessions.len() + 1, cameras: cameras.len() + 1, spread, slope: None };
        let posterior = Posterior::of(&prior, &[], &[]);
        let weights = vec![1.0; rows.len()];
        Self { sessions, cameras, spread, rows, weights, posterior }
    }

    /// Fits by EM: weights from residuals, offsets from weights, until both stay. `observed` holds
    /// each sheet's observation with its lever on the slope.
    fn settle(&mut self, observed: Vec<(f64, f64)>, judged: impl Iterator<Item = Judged>, slope: Option<(f64, f64)>) {
        for ((row, (stops, lever)), judged) in self.rows.iter_mut().zip(observed).zip(judged) {
            let scale = match judged {
                Judged::ByEye => self.spread.noise_by_eye,
                Judged::ByScan => self.spread.noise_by_scan,
            };
            (row.stops, row.lever, row.scale2) = (stops, lever, scale.powi(2));
        }
        let (sessions, cameras) = (self.sessions.len() + 1, self.cameras.len() + 1);
        let prior = Prior { sessions, cameras, spread: self.spread, slope };
        self.posterior = Posterior::of(&prior, &self.rows, &self.weights);
        for _ in 0..MOST_ROUNDS {
            let mut moved = 0.0f64;
            for (row, weight) in self.rows.iter().zip(&mut self.weights) {
                let (mean, variance) = self.posterior.sum_of(row.session, row.camera, row.lever);
                let r2 = (row.stops - mean).powi(2);
                let next = 5.0 / (4.0 + (r2 + variance) / row.scale2);
                moved = moved.max((next - *weight).abs());
                *weight = next;
            }
            self.posterior = Posterior::of(&prior, &self.rows, &self.weights);
            if moved < 1e-12 {
                break;
            }
        }
    }

    fn session(&self, session: &S) -> usize {
        self.sessions.iter().position(|seen| seen == session).map_or(0, |at| at + 1)
    }

    fn camera(&self, camera: &C) -> usize {
        self.cameras.iter().position(|seen| seen == camera).map_or(0, |at| at + 1)
    }
}

/// The number of a session or camera, from one up; a new one is added.
fn place<T: PartialEq>(seen: &mut Vec<T>, one: T) -> usize {
    seen.iter().position(|other| *other == one).unwrap_or_else(|| {
        seen.push(one);
        seen.len() - 1
    }) + 1
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calc::quantity::ExposureTime;
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

    fn seconds(s: f64) -> Seconds {
        Seconds::from(ExposureTime::new(s).unwrap())
    }

    /// Sheets that were right at metered times bent by an exponent.
    fn bent_by(exponent: f64, metered: &[f64]) -> Vec<JudgedSheet<u8, u8>> {
        let sheet = |(camera, &s): (usize, &f64)| JudgedSheet {
            made: seconds(s.powf(exponent)),
            base: seconds(s),
            result: ResultStops::new(0.0).unwrap(),
            judged: Judged::ByEye,
            session: 1,
            camera: u8::try_from(camera % 3).unwrap(),
        };
        metered.iter().enumerate().map(sheet).collect()
    }

    #[test]
    fn the_exponent_is_left_alone_until_times_span_three_stops() {
        let near = Taught::of(&bent_by(1.2, &[10.0, 20.0, 40.0]), Reciprocity::NONE, true, Spread::default());
        assert_eq!((near.fitted(), near.rule()), (None, Reciprocity::NONE));
        let wide = bent_by(1.2, &[5.0, 10.0, 20.0, 60.0]);
        assert!(Taught::of(&wide, Reciprocity::NONE, true, Spread::default()).fitted().is_some());
        // a maker's rule stands
        assert_eq!(Taught::of(&wide, Reciprocity::NONE, false, Spread::default()).fitted(), None);
    }

    #[test]
    fn many_sheets_over_six_stops_teach_the_exponent_they_were_bent_by() {
        let metered: Vec<f64> = (0..48).map(|i| 4.0 * 2f64.powf(f64::from(i % 13) / 2.0)).collect();
        for exponent in [1.0, 1.1, 1.25] {
            let taught = Taught::of(&bent_by(exponent, &metered), Reciprocity::NONE, true, Spread::default());
            let fitted = taught.fitted().unwrap();
            let off = (fitted.exponent.as_number() - exponent).abs();
            assert!(off < fitted.sd && fitted.sd < EXPONENT_PRIOR.1, "{exponent}: {fitted:?}");
            // and the time for a metered minute comes out where the sheets say, not by the offset alone
            let lesson = taught.for_camera(&1, &0);
            let time = lesson.rule().corrected(seconds(60.0).with_stops(lesson.at(seconds(60.0)).correction_stops));
            assert!(time.stops_over(seconds(60f64.powf(exponent))).abs() < 0.15, "{exponent}: {time:?}");
        }
    }

    #[test]
    fn far_from_the_times_that_taught_it_the_exponent_widens_the_interval() {
        let taught =
            Taught::of(&bent_by(1.1, &[2.0, 4.0, 8.0, 16.0, 20.0]), Reciprocity::NONE, true, Spread::default());
        let lesson = taught.for_camera(&1, &0);
        assert!(lesson.at(seconds(2000.0)).sd_stops > lesson.at(seconds(8.0)).sd_stops + 0.1);
    }

    #[test]
    fn a_wild_sheet_stands_out_among_the_residuals_and_weighs_little() {
        let mut sheets = bent_by(1.0, &[10.0; 9]);
        sheets[4].result = ResultStops::new(-5.0).unwrap();
        let residuals = Taught::of(&sheets, Reciprocity::NONE, true, Spread::default()).residuals();
        assert!(residuals[4].stops_off() < -4.0 && residuals[4].weight < 0.1, "{:?}", residuals[4]);
        assert!(residuals[0].stops_off().abs() < 0.3 && residuals[0].weight > 0.9, "{:?}", residuals[0]);
    }
}
