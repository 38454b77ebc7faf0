//! An exposure: one sheet in one camera, what was forecast, what was done, how it came out.

pub mod aim;
pub mod diagnosis;
pub mod found_light;
pub mod new_exposure;
pub mod print;
pub mod reckoner;
pub mod sheet_time;
pub mod shown_forecast;
pub mod starting_exposure;
pub mod sun_found;
pub mod verdict;

use crate::calc::{
    light::{
        experience::{Judged, JudgedSheet},
        reciprocity::Reciprocity,
    },
    quantity::{FNumber, HoleToFilm, ResultStops, Seconds},
};

use self::{
    aim::Aim,
    diagnosis::Sign,
    found_light::{FoundLight, LightSource},
    verdict::{Fault, ResultSource, Verdict},
};
use super::{
    ids::{CameraId, ExposureId, HoleId, LabSessionId, PaperId, PersonId, SectionId, StudentId},
    instant::Instant,
    measure::decimal::milli,
    stock::{
        paper::Paper,
        reciprocity_lines::{ReciprocityLines, reciprocity_of},
        sheet::Sheet,
    },
};

/// A result within this many thousandths of a stop is good to print from.
const GOOD_MILLI: i64 = 600;

/// An exposure as it is stored.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Exposure {
    /// Its id.
    pub id: ExposureId,
    /// The number on the sheet's back, counted within the section.
    pub number: i64,
    /// The section.
    pub section: SectionId,
    /// The session it was made in.
    pub session: LabSessionId,
    /// The camera.
    pub camera: CameraId,
    /// The hole as measured at the time.
    pub hole: HoleId,
    /// Whose sheet it is.
    pub student: Option<StudentId>,
    /// What was in the camera.
    pub paper: PaperId,
    /// Its size.
    pub sheet: Sheet,
    /// Where the light's value came from.
    pub light_source: LightSource,
    /// The light as found, in words that [`super::found_light::FoundLight::parse_words`] reads.
    pub light_typed: String,
    /// EV at ISO 100, thousandths.
    pub ev100_milli: i64,
    /// Standard deviation of the light, thousandths of a stop.
    pub light_sd_milli: i64,
    /// Exposure index the forecast used, thousandths.
    pub exposure_index_milli: i64,
    /// Reciprocity exponent it used, thousandths.
    pub reciprocity_milli: i64,
    /// Threshold of reciprocity it used, milliseconds.
    pub reciprocity_threshold_ms: i64,
    /// The maker's table it used; none where the exponent counted.
    pub reciprocity_table: ReciprocityLines,
    /// Where on the film it was exposed for, in words that [`Aim::from_stored`] reads; empty for the middle.
    pub aim: String,
    /// The stops more that this asked for, thousandths; part of the base.
    pub aim_milli: i64,
    /// Stops less because a hole has no glass, thousandths; part of the base.
    pub gain_milli: i64,
    /// What experience added to the forecast, thousandths of a stop; `None` on old records.
    pub experience_milli: Option<i64>,
    /// Made by staff to show how it is done.
    pub demonstration: bool,
    /// Recorded by mistake: kept, but counted nowhere.
    pub taken_back: Option<TakenBack>,
    /// Hole-to-film distance of the camera as it was then, nanometres.
    pub hole_to_film_nm: i64,
    /// Diameter of the hole as it was measured then, nanometres.
    pub hole_diameter_nm: i64,
    /// f-number it used, thousandths.
    pub f_number_milli: i64,
    /// Metered time without experience, milliseconds.
    pub base_ms: i64,
    /// The forecast, milliseconds: the one that was shown before the sheet was recorded, or where none was
    /// shown (a card from the dark) the one for the light as found.
    pub forecast_ms: i64,
    /// Its low end.
    pub forecast_low_ms: i64,
    /// Its high end.
    pub forecast_high_ms: i64,
    /// How many sheets it rested on.
    pub based_on: i64,
    /// Whether that forecast was shown; then it stays whatever is corrected.
    pub forecast_shown: bool,
    /// The light it was shown for, in words, where that was not the light as found; else empty.
    pub shown_for: String,
    /// How long the shutter was open, milliseconds.
    pub made_ms: i64,
    /// When.
    pub made_at: Instant,
    /// How it came out, once judged.
    pub judgement: Option<Judgement>,
    /// Anything else.
    pub remark: String,
    /// Who typed it in.
    pub recorded_by: PersonId,
    /// When.
    pub recorded_at: Instant,
    /// Counts edits.
    pub version: i64,
}

/// Who took a sheet back, when and why.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TakenBack {
    /// When.
    pub at: Instant,
    /// Who.
    pub by: PersonId,
    /// Why.
    pub why: String,
}

/// How a sheet came out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Judgement {
    /// The word.
    pub verdict: Verdict,
    /// How many stops more it would have needed, thousandths, and how that was found. `None` for a
    /// blank or solid sheet, which is only a bound.
    pub result: Option<(i64, ResultSource)>,
    /// What spoiled it, if anything did: then it teaches nothing.
    pub fault: Option<Fault>,
    /// What else the negative looks like, if somebody picked it.
    pub sign: Option<Sign>,
    /// When it was judged.
    pub judged_at: Instant,
}

impl Judgement {
    /// Whether the sheet must have been through the trays to be judged like that: before, it shows nothing.
    /// Only what spoiled it may be known already: light that got in, or a sheet never developed.
    pub fn needs_trays(&self) -> bool {
        self.fault.is_none()
    }
}

impl Exposure {
    /// The reciprocity rule the forecast used.
    pub fn reciprocity(&self) -> Reciprocity {
        reciprocity_of(self.reciprocity_milli, self.reciprocity_threshold_ms, &self.reciprocity_table)
    }

    /// Where it was exposed for.
    pub fn aimed(&self) -> Aim {
        Aim::from_stored(&self.aim, self.aim_milli).unwrap_or_default()
    }

    /// The base as it would be with the index that stands on the paper's card now: a card that was
    /// set right must not be corrected a second time by sheets made under the old one.
    pub fn base_now(&self, paper: &Paper) -> Seconds {
        let then_over_now = self.exposure_index_milli.max(1) as f64 / paper.exposure_index_milli.max(1) as f64;
        self.base().with_stops(then_over_now.log2())
    }

    /// Metered time without experience.
    pub fn base(&self) -> Seconds {
        Seconds::from_millis(self.base_ms)
    }

    /// How long the shutter was open.
    pub fn made(&self) -> Seconds {
        Seconds::from_millis(self.made_ms)
    }

    /// What this sheet teaches about its paper. `None` until it is judged, when something spoiled it,
    /// when it is only a bound, and when it was taken back.
    pub fn judged_sheet(&self, paper: &Paper) -> Option<JudgedSheet<LabSessionId, CameraId>> {
        let judgement = self.judgement.filter(|judgement| judgement.fault.is_none() && self.taken_back.is_none())?;
        let (milli, source) = judgement.result?;
        Some(JudgedSheet {
            made: self.made(),
            base: self.base_now(paper),
            result: ResultStops::new(milli as f64 / 1000.0).ok()?,
            judged: match source {
                ResultSource::Eye => Judged::ByEye,
                ResultSource::Scan => Judged::ByScan,
            },
            session: self.session,
            camera: self.camera,
        })
    }

    /// Whether it teaches anything about its paper.
    pub fn teaches(&self) -> bool {
        self.taken_back.is_none()
            && self.judgement.is_some_and(|judgement| judgement.fault.is_none() && judgement.result.is_some())
    }

    /// The time that would have been right, by what was said of it.
    pub fn right_time(&self) -> Option<Seconds> {
        let (milli, _) = self.judgement?.result?;
        let rule = self.reciprocity();
        Some(rule.corrected(rule.metered(self.made()).with_stops(milli as f64 / 1000.0)))
    }

    /// Whether a print can be made from it: judged, not spoiled, and near enough to right.
    pub fn good_to_print(&self) -> bool {
        self.judgement.is_some_and(|judged| {
            judged.fault.is_none() && judged.result.is_some_and(|(stops, _)| stops.abs() <= GOOD_MILLI)
        })
    }

    /// Whether the right time, by what was said of it, lies past the end of the maker's table, or the time
    /// it was given does: then the lesson rests on a last step carried on.
    pub fn lesson_past_table(&self) -> bool {
        let rule = self.reciprocity();
        let past = |time: Seconds| rule.is_past_table(rule.metered(time));
        past(self.made()) || self.right_time().is_some_and(past)
    }

    /// The time on the clock that gives so many times the light it got: reciprocity asks for more than
    /// so many times the seconds.
    pub fn time_for_light(&self, times: f64) -> Seconds {
        let rule = self.reciprocity();
        rule.corrected(rule.metered(self.made()).with_stops(times.log2()))
    }

    /// The light was another than first recorded: the base moves with it, and a forecast that nobody was
    /// shown, since hole, paper and what experience said stay the same.
    pub fn correct_light(&mut self, found: FoundLight) {
        let light = found.light();
        let ev100_milli = milli(light.ev100.as_ev());
        // one EV more is one stop less
        self.shift((self.ev100_milli - ev100_milli) as f64 / 1000.0);
        self.light_source = found.source();
        self.light_typed = found.in_words();
        self.ev100_milli = ev100_milli;
        self.light_sd_milli = milli(light.sd_stops);
    }

    /// It was typed in under the wrong camera: the base, and a forecast that nobody was shown, move with
    /// the f-number of the hole it was really made through; the light, the paper and what experience
    /// said stay the same.
    pub fn put_into(&mut self, camera: CameraId, hole: HoleId, hole_to_film: HoleToFilm, f_number: FNumber) {
        let f_number_milli = milli(f_number.as_number()).max(1);
        // the light goes with the square of the f-number
        self.shift(2.0 * (f_number_milli as f64 / self.f_number_milli.max(1) as f64).log2());
        self.camera = camera;
        self.hole = hole;
        (self.hole_to_film_nm, self.hole_diameter_nm) = setting_nm(hole_to_film, f_number);
        self.f_number_milli = f_number_milli;
    }

    /// It was exposed for another place on the film: the base, and a forecast that nobody was shown, move
    /// with the fall-off there.
    pub fn correct_aim(&mut self, aim: Aim) {
        self.shift(aim.stops() - self.aim_milli as f64 / 1000.0);
        self.aim = aim.words();
        self.aim_milli = aim.stops_milli();
    }

    /// Something else was in the camera than first recorded: speed, reciprocity and the missing glass are
    /// those of its card now; the base moves with them, and a forecast that nobody was shown.
    pub fn correct_loaded(&mut self, loaded: &Paper) {
        let gain_milli = loaded.lens_free_gain_milli();
        let faster = loaded.exposure_index_milli.max(1) as f64 / self.exposure_index_milli.max(1) as f64;
        let stops = (self.gain_milli - gain_milli) as f64 / 1000.0 - faster.log2();
        let before = self.reciprocity();
        self.paper = loaded.id;
        self.exposure_index_milli = loaded.exposure_index_milli;
        self.reciprocity_milli = loaded.reciprocity_milli;
        self.reciprocity_threshold_ms = loaded.reciprocity_threshold_ms;
        self.reciprocity_table = loaded.reciprocity_table.clone();
        self.gain_milli = gain_milli;
        self.shift_from(before, stops);
    }

    /// Moves the base, and a forecast that nobody was shown, by so many stops of metered time.
    fn shift(&mut self, stops: f64) {
        self.shift_from(self.reciprocity(), stops);
    }

    /// The same where reciprocity was another before.
    fn shift_from(&mut self, before: Reciprocity, stops: f64) {
        let rule = self.reciprocity();
        self.base_ms = self.base().with_stops(stops).as_millis().max(1);
        if self.forecast_shown {
            return;
        }
        let moved =
            |ms: i64| rule.corrected(before.metered(Seconds::from_millis(ms)).with_stops(stops)).as_millis().max(1);
        self.forecast_ms = moved(self.forecast_ms);
        self.forecast_low_ms = moved(self.forecast_low_ms).min(self.forecast_ms);
        self.forecast_high_ms = moved(self.forecast_high_ms).max(self.forecast_ms);
    }
}

/// Hole-to-film distance and hole diameter in nanometres, from the distance and the f-number.
pub(super) fn setting_nm(hole_to_film: HoleToFilm, f_number: FNumber) -> (i64, i64) {
    let distance_mm = hole_to_film.as_mm();
    let nanometres = |mm: f64| (mm * 1e6).round() as i64;
    (nanometres(distance_mm), nanometres(distance_mm / f_number.as_number()).max(1))
}
