//! What judged sheets have taught: the offsets of paper, session and camera, and beside them the
//! exponent of the paper's reciprocity.

use super::experience::{Experience, Judged, Spread, observed_stops};
use super::fit::Fit;
use super::offsets::Row;
use super::reciprocity::Reciprocity;
use crate::calc::quantity::{ReciprocityExponent, ResultStops, Seconds};

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
    /// The exponent p.
    pub exponent: ReciprocityExponent,
    /// Its standard deviation.
    pub sd: f64,
}

/// What a paper's judged sheets have taught, all of it.
#[derive(Clone, Debug)]
pub struct Taught<S, C> {
    fit: Fit<S, C>,
    rule: Reciprocity,
    may_fit: bool,
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

/// The weight of a sheet that agrees to a hair.
const GREATEST_WEIGHT: f64 = 1.25;

impl Residual {
    /// How much of its say it keeps, 0 to 1.
    pub fn share(self) -> f64 {
        self.weight / GREATEST_WEIGHT
    }

    /// Observation less expectation.
    pub fn stops_off(self) -> f64 {
        self.stops - self.expected
    }
}

impl<S: PartialEq + Clone, C: PartialEq + Clone> Taught<S, C> {
    /// Fits the offsets. With `may_fit` the reciprocity exponent is one of the unknowns: once the times of
    /// the sheets span three stops it is fitted beside the offsets, with [`EXPONENT_PRIOR`]; before, the
    /// exponent of `rule` is held and only its ± 0.1 counts, in the interval. Without `may_fit` (a maker's
    /// rule) `rule` stands as it is.
    ///
    /// The exponent enters an observation as `log2(made / t₀) / p`, which is not linear: it is
    /// linearised round the present exponent, fitted with the offsets, and so on until it stays
    /// (Gauss-Newton). Its prior is normal, kept to exponents of one or more.
    pub fn of(sheets: &[JudgedSheet<S, C>], rule: Reciprocity, may_fit: bool, spread: Spread) -> Self {
        let mut fit = Fit::seating(sheets.iter().map(|sheet| (sheet.session.clone(), sheet.camera.clone())), spread);
        let judged = || sheets.iter().map(|sheet| sheet.judged);
        let (mean, sd) = EXPONENT_PRIOR;
        if !may_fit || span_stops(sheets) < SPAN_FOR_EXPONENT_STOPS {
            let lever = |sheet: &JudgedSheet<S, C>| if may_fit { sheet.lever(rule) } else { 0.0 };
            let observed = sheets.iter().map(|sheet| (sheet.observed(rule), lever(sheet))).collect();
            fit.settle(observed, judged(), may_fit.then_some((0.0, sd)));
            return Self { fit, rule, may_fit, fitted: None };
        }
        let (mut exponent, mut rule) = (mean, rule);
        for _ in 0..MOST_STEPS {
            rule = rule.with_exponent(kept_in_range(exponent));
            let observed = sheets.iter().map(|sheet| (sheet.observed(rule), sheet.lever(rule))).collect();
            fit.settle(observed, judged(), Some((mean - exponent, sd)));
            let next = kept_in_range(exponent + fit.posterior.slope().0).as_number();
            let step = next - exponent;
            exponent = next;
            if step.abs() < SMALL_STEP {
                break;
            }
        }
        let fitted = FittedExponent { exponent: rule.exponent(), sd: fit.posterior.slope().1.sqrt() };
        Self { fit, rule, may_fit, fitted: Some(fitted) }
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
            // an exponent that is held, by few sheets or at the end of its range, leaves a slope behind: the
            // offsets given none
            correction_stops: if self.may_fit { mean - covariance / slope_variance * slope_mean } else { mean },
            variance,
            exponent: self.may_fit.then_some((covariance, slope_variance)),
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
    /// made over threshold, d(L / p)/dp = -L / p², and the offsets take it up with the other sign.
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

/// A few dozen steps at most; the bound only guards against endless crawling.
const MOST_STEPS: usize = 50;
/// A step of the exponent that no forecast would show.
const SMALL_STEP: f64 = 1e-10;

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
    /// exponent is unknown, its uncertainty is part of the interval, the more the longer the time and
    /// the farther from the times of the sheets.
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calc::quantity::ExposureTime;

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

    /// With no sheet the exponent's ± 0.1 (the prior) stands beside the offsets': at 32 s and p = 1.2 a
    /// tenth is log2(32) / 1.2 x 0.1 = 0.417 stop (computed by hand).
    #[test]
    fn below_three_stops_the_exponent_is_held_and_its_tenth_is_in_the_interval() {
        let rule = Reciprocity::above_one_second(ReciprocityExponent::new(1.2).unwrap());
        let sd = |may_fit: bool, sheets: &[JudgedSheet<u8, u8>], s: f64| {
            let taught = Taught::of(sheets, rule, may_fit, Spread::default());
            assert_eq!((taught.fitted(), taught.rule()), (None, rule));
            taught.for_camera(&1, &0).at(seconds(s)).sd_stops
        };
        let (held, unsure) = (sd(false, &[], 32.0), sd(true, &[], 32.0));
        assert!((unsure.powi(2) - held.powi(2) - (5.0 / 1.2 * 0.1f64).powi(2)).abs() < 1e-12, "{held} {unsure}");
        assert_eq!(sd(true, &[], 1.0), sd(false, &[], 1.0));
        // sheets near a time say what is right there, whatever the exponent: far from it they do not
        let near = bent_by(1.2, &[24.0, 32.0, 40.0, 32.0, 32.0, 24.0]);
        let more = |s: f64| sd(true, &near, s) - sd(false, &near, s);
        assert!(more(32.0) < 0.03 && more(1000.0) > 0.1, "{} {}", more(32.0), more(1000.0));
    }

    #[test]
    fn whatever_the_card_says_the_exponent_is_fitted_with_its_prior() {
        let wide = bent_by(1.2, &[5.0, 10.0, 20.0, 60.0]);
        let of_card = |p: f64| {
            let rule = Reciprocity::above_one_second(ReciprocityExponent::new(p).unwrap());
            Taught::of(&wide, rule, true, Spread::default()).fitted().unwrap().exponent.as_number()
        };
        assert!((of_card(1.0) - of_card(1.3)).abs() < 1e-6, "{} {}", of_card(1.0), of_card(1.3));
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
        assert!(residuals[4].stops_off() < -4.0 && residuals[4].share() < 0.1, "{:?}", residuals[4]);
        assert!(
            residuals[0].stops_off().abs() < 0.3 && residuals[0].share() > 0.7 && residuals[0].share() <= 1.0,
            "{:?}",
            residuals[0]
        );
    }
}
