//! The starting exposure: how long a camera's shutter should be open next, from its hole, the
//! paper, the light and what earlier sheets have shown.

use crate::calc::{
    light::{
        experience::{Experience, JudgedSheet, Lesson, Spread, Taught},
        forecast::{Basis, Forecast, forecast, metered_base},
        reciprocity::Reciprocity,
        sky::Light,
    },
    quantity::{ExposureIndex, FNumber, HoleDiameter, OutOfRange, Seconds},
};

use super::{Exposure, aim::Aim, verdict::Verdict};
use crate::domain::{
    camera::{
        Camera,
        hole::Hole,
        target::{HoleFormula, Target},
    },
    evening::lab_session::LabSession,
    ids::{CameraId, LabSessionId},
    stock::paper::Paper,
};

/// How many of the newest sheets on a paper teach. More would slow the page without telling more.
pub const MOST_TEACHING: i64 = 300;

/// What an unmeasured hole does to the exposure, in stops: a hole made by hand comes out within
/// about a tenth of its target (our own judgement).
const TARGET_SD_STOPS: f64 = 0.3;

/// Which hole a forecast was made with.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum HoleUsed {
    /// The hole as measured.
    Measured(HoleDiameter),
    /// The target of the session's formula, because nobody has measured the hole yet.
    Target(HoleDiameter),
}

impl HoleUsed {
    /// Its diameter.
    pub fn diameter(self) -> HoleDiameter {
        match self {
            Self::Measured(diameter) | Self::Target(diameter) => diameter,
        }
    }

    /// Whether it was measured.
    pub fn is_measured(self) -> bool {
        matches!(self, Self::Measured(_))
    }
}

/// A camera as an exposure sees it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Setting {
    /// The hole.
    pub hole: HoleUsed,
    /// f-number with that hole.
    pub f_number: FNumber,
    hole_sd_stops: f64,
}

impl Setting {
    /// With the newest measured hole, or with the target before there is one.
    ///
    /// # Errors
    /// When there is no hole and the session holds figures that no formula takes.
    pub fn of(camera: &Camera, hole: Option<&Hole>, session: &LabSession) -> Result<Self, OutOfRange> {
        Ok(match hole {
            Some(hole) => Self {
                hole: HoleUsed::Measured(hole.diameter()),
                f_number: hole.f_number(camera.hole_to_film()),
                hole_sd_stops: hole.sd_stops(),
            },
            None => {
                let target = Target::of(camera, HoleFormula::of(session)?);
                Self { hole: HoleUsed::Target(target.hole), f_number: target.f_number, hole_sd_stops: TARGET_SD_STOPS }
            }
        })
    }
}

/// What a paper's sheets have taught, all of it.
pub type PaperTaught = Taught<LabSessionId, CameraId>;

/// What the sheets that teach have taught about their paper.
pub fn taught_by(teaching: &[Exposure], paper: &Paper) -> PaperTaught {
    let sheets: Vec<JudgedSheet<LabSessionId, CameraId>> =
        teaching.iter().filter_map(|exposure| exposure.judged_sheet(paper)).collect();
    Taught::of(&sheets, paper.reciprocity(), paper.may_fit_exponent(), Spread::default())
}

/// A blank or solid sheet came before: only a bound, so that the next step is a wide one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AfterBlank {
    /// The sheet's number.
    pub number: i64,
    /// What was said of it: all white or all black.
    pub verdict: Verdict,
    /// How long it was exposed, milliseconds.
    pub made_ms: i64,
    /// Whether the wide step leads further than the forecast, so that it is what is shown.
    pub leads: bool,
}

/// A starting exposure with everything it rests on.
#[derive(Clone, Debug)]
pub struct StartingExposure {
    /// The forecast as shown.
    pub forecast: Forecast,
    /// The camera with its hole.
    pub setting: Setting,
    /// The paper's exposure index.
    pub index: ExposureIndex,
    /// The light.
    pub light: Light,
    /// Where on the film it is exposed for.
    pub aim: Aim,
    /// Stops less because a hole has no glass; 0 where the index holds that already.
    pub gain_stops: f64,
    /// The reciprocity rule: the card's, or the one that the sheets have taught.
    pub reciprocity: Reciprocity,
    /// What was learned so far.
    pub experience: Experience,
    /// The camera's last judged sheet, if it was blank or solid.
    pub after_blank: Option<AfterBlank>,
}

/// A sheet's time as it would have been in another light.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CarriedOver {
    /// As much light as the sheet got.
    pub made: Seconds,
    /// As much as it would have needed; `None` until it is judged, when something spoiled it, and when it is only a bound.
    pub right: Option<Seconds>,
}

impl StartingExposure {
    /// A sheet made on the same paper, carried over to this light and this place on the film: the light it got against what
    /// its own light, hole and place asked for, as experience has it.
    pub fn carry_over(&self, sheet: &Exposure, paper: &Paper) -> CarriedOver {
        let stops = self.reciprocity.metered(sheet.made()).stops_over(sheet.base_now(paper));
        let here = |stops: f64| self.reciprocity.corrected(self.forecast.base.with_stops(stops));
        let judged = sheet.judgement.filter(|judgement| judgement.fault.is_none());
        let needed = judged.and_then(|judgement| judgement.result).map(|(milli, _)| milli as f64 / 1000.0);
        CarriedOver { made: here(stops), right: needed.map(|more| here(stops + more)) }
    }
}

/// The starting exposure of a camera. `of_camera` are its sheets that still say something of the next one
/// (from the box in use, not left out) in the order they were made: after one that came out blank or
/// solid the next step is a wide one.
pub fn starting_exposure(
    setting: Setting,
    paper: &Paper,
    light: Light,
    aim: Aim,
    lesson: Lesson,
    of_camera: &[Exposure],
) -> StartingExposure {
    let index = paper.exposure_index();
    let reciprocity = lesson.rule();
    let (gain_stops, aim_stops) = (paper.lens_free_gain_milli() as f64 / 1000.0, aim.stops());
    let base = metered_base(setting.f_number, index, light, aim_stops - gain_stops);
    let experience = lesson.at(base);
    let basis = Basis {
        f_number: setting.f_number,
        hole_sd_stops: setting.hole_sd_stops,
        index,
        gain_stops,
        aim_stops,
        reciprocity,
        light,
        experience,
    };
    let start = |forecast, after_blank| StartingExposure {
        forecast,
        setting,
        index,
        light,
        aim,
        gain_stops,
        reciprocity,
        experience,
        after_blank,
    };
    let plain = forecast(basis);
    let last_judged = of_camera.iter().rev().filter(|exposure| exposure.paper == paper.id).find_map(|exposure| {
        let judgement = exposure.judgement.filter(|judgement| judgement.fault.is_none())?;
        Some((exposure, judgement.verdict))
    });
    let bound = last_judged.and_then(|(exposure, verdict)| {
        let factor = verdict.next_factor()?;
        // what the sheet was given beyond its base, in metered stops, and the wide step on top
        let given = reciprocity.metered(exposure.made()).stops_over(exposure.base_now(paper));
        Some((exposure, verdict, given + factor.log2()))
    });
    let Some((exposure, verdict, stops)) = bound else {
        return start(plain, None);
    };
    // a forecast that already asks for more than four times (less than a quarter) stands
    let leads = match verdict {
        Verdict::AllWhite => stops > experience.correction_stops,
        _ => stops < experience.correction_stops,
    };
    let shown = if leads {
        forecast(Basis { experience: Experience { correction_stops: stops, ..experience }, ..basis })
    } else {
        plain
    };
    let after_blank = AfterBlank { number: exposure.number, verdict, made_ms: exposure.made_ms, leads };
    start(shown, Some(after_blank))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        calc::light::sky::{Sky, SunFrom},
        domain::{
            camera::{Body, Build, Film, Typed},
            evening::lab_session::SessionState,
            exposure::{
                Judgement,
                found_light::FoundLight,
                new_exposure::NewExposure,
                verdict::{Fault, ResultSource},
            },
            ids::{Id, PersonId, StudentId},
            instant::Instant,
            measure::length::Length,
            stock::{paper::PaperKind, reciprocity_lines::ReciprocityLines, sheet::Sheet},
        },
    };

    fn id<T: Id>(number: u128) -> T {
        T::from_uuid(uuid::Uuid::from_u128(number))
    }

    fn at(minutes: i64) -> Instant {
        Instant::from_micros(1_774_029_600_000_000).expect("in range").plus_minutes(minutes)
    }

    fn mm(value: f64) -> Typed {
        Typed { length: Length::from_mm(value), typed: format!("{value} mm") }
    }

    fn can(number: u128, inside: f64) -> Camera {
        let film = Film::Curved { inside_diameter: mm(inside), width: mm(125.0), height: mm(100.0) };
        Camera {
            id: id(number),
            section: id(1),
            number: 1,
            body: Body::new(Build::SideHoleCan, film).expect("a can"),
            subject: None,
            remark: String::new(),
            created_at: at(0),
            version: 1,
        }
    }

    fn session() -> LabSession {
        LabSession {
            id: id(2),
            section: id(1),
            title: "First light".to_owned(),
            held_on: jiff::civil::date(2026, 3, 20),
            hole_constant_milli: 1_900,
            wavelength_nm: 550,
            paper: id(3),
            tray_line: None,
            rubric: None,
            report_task: String::new(),
            state: SessionState::Planned,
            version: 1,
        }
    }

    fn paper(exposure_index_milli: i64) -> Paper {
        Paper {
            id: id(3),
            site: id(4),
            kind: PaperKind::Paper,
            base: crate::domain::stock::paper::PaperBase::ResinCoated,
            sees: crate::domain::stock::colours_seen::ColoursSeen::BlueAndGreen,
            name: "Grade 2".to_owned(),
            exposure_index_milli,
            index_from: String::new(),
            iso_speed_milli: None,
            daylight_factor_milli: 1_000,
            reciprocity_table: ReciprocityLines::default(),
            reciprocity_milli: 1_000,
            reciprocity_threshold_ms: 1_000,
            silver_ug_per_m2: 970_000,
            silver_low_ug_per_m2: 350_000,
            silver_high_ug_per_m2: 1_610_000,
            silver_source: String::new(),
            carry_over_ul_per_m2: 35_000,
            remark: String::new(),
            version: 1,
        }
    }

    fn sun() -> Light {
        Sky::FullSun.light(SunFrom::Front)
    }

    fn start(camera: &Camera, paper: &Paper, taught: &[Exposure]) -> StartingExposure {
        let setting = Setting::of(camera, None, &session()).expect("a formula");
        let lesson = taught_by(taught, paper).for_camera(&session().id, &camera.id);
        let own: Vec<_> = taught.iter().filter(|exposure| exposure.camera == camera.id).cloned().collect();
        starting_exposure(setting, paper, sun(), Aim::MIDDLE, lesson, &own)
    }

    fn made(camera: &Camera, paper: &Paper, seconds: i64, verdict: Verdict, fault: Option<Fault>) -> Exposure {
        let start = start(camera, paper, &[]);
        let result = verdict.stops_milli().map(|milli| (milli, ResultSource::Eye));
        let new = NewExposure {
            id: id(u128::from(seconds.unsigned_abs()) + 1000),
            hole: id(5),
            student: Some(id::<StudentId>(6)),
            sheet: Sheet::parse("4x5in").expect("a size"),
            light: FoundLight::Sky(Sky::FullSun, SunFrom::Front),
            shown: None,
            demonstration: false,
            made_ms: seconds * 1000,
            made_at: at(5),
            judgement: Some(Judgement { verdict, result, fault, sign: None, judged_at: at(20) }),
            remark: String::new(),
            recorded_by: id::<PersonId>(6),
            recorded_at: at(6),
        };
        new.recorded(1, camera, &session(), paper, &start)
    }

    /// Inside diameter 110 to 130 mm, C = 1.9, EV 15, EI 10: about eight seconds, to 1.5 stops.
    /// Common practice, no source.
    #[test]
    fn the_eight_second_can_is_near_eight_seconds() {
        for inside in [110.0, 115.0, 120.0, 125.0, 130.0] {
            let start = start(&can(10, inside), &paper(10_000), &[]);
            let off = (start.forecast.time.as_s() / 8.0).log2();
            assert!(off.abs() < 1.5, "{inside} mm: {} s", start.forecast.time.as_s());
            assert!(!start.setting.hole.is_measured());
            assert_eq!(start.forecast.experience_text(), "no experience yet");
        }
    }

    #[test]
    fn a_sheet_that_was_too_pale_makes_the_next_one_longer_and_others_learn_a_share() {
        let (camera, other, paper) = (can(10, 120.0), can(11, 120.0), paper(6_000));
        let first = start(&camera, &paper, &[]);
        let seconds = first.forecast.practical.seconds as i64;
        let taught = [made(&camera, &paper, seconds, Verdict::TooPale, None)];
        let (own, theirs) = (start(&camera, &paper, &taught), start(&other, &paper, &taught));
        assert!(own.forecast.time > first.forecast.time);
        assert!(theirs.forecast.time > first.forecast.time && theirs.forecast.time < own.forecast.time);
        assert_eq!(own.forecast.base, first.forecast.base);
        assert!(own.forecast.sd_stops < first.forecast.sd_stops);
        assert_eq!(theirs.experience.based_on, 1);
    }

    #[test]
    fn a_leak_teaches_nothing_and_asks_for_no_wide_step() {
        let (camera, paper) = (can(10, 120.0), paper(6_000));
        for verdict in [Verdict::TooDark, Verdict::AllBlack] {
            let taught = [made(&camera, &paper, 20, verdict, Some(Fault::Leak))];
            let next = start(&camera, &paper, &taught);
            assert_eq!(next.forecast.time, start(&camera, &paper, &[]).forecast.time, "{verdict:?}");
            assert_eq!((next.after_blank, next.experience.based_on), (None, 0));
        }
    }

    #[test]
    fn after_a_blank_sheet_four_times_and_after_a_solid_one_a_quarter() {
        let (camera, paper) = (can(10, 120.0), paper(6_000));
        for (verdict, made_s, next_s) in [(Verdict::AllWhite, 20, 80.0), (Verdict::AllBlack, 60, 15.0)] {
            let next = start(&camera, &paper, &[made(&camera, &paper, made_s, verdict, None)]);
            let seconds = next.forecast.time.as_s();
            assert!((seconds - next_s).abs() < 0.01, "{verdict:?}: {seconds} s");
            assert!(next.after_blank.is_some_and(|after| after.leads));
        }
    }

    #[test]
    fn a_blank_sheet_made_far_too_short_does_not_pull_the_forecast_down() {
        let (camera, paper) = (can(10, 120.0), paper(6_000));
        let next = start(&camera, &paper, &[made(&camera, &paper, 1, Verdict::AllWhite, None)]);
        assert_eq!(next.forecast.time, start(&camera, &paper, &[]).forecast.time);
        assert!(next.after_blank.is_some_and(|after| !after.leads));
    }

    #[test]
    fn a_card_set_right_is_not_corrected_a_second_time_by_sheets_made_under_the_old_one() {
        let (camera, old) = (can(10, 120.0), paper(6_000));
        let taught = [made(&camera, &old, 20, Verdict::TooPale, None)];
        let before = start(&camera, &old, &taught).forecast.time.as_s();
        // twice the index, half the base: the sheets now ask for a stop more, and the time stays
        let after = start(&camera, &paper(12_000), &taught);
        assert!(after.experience.correction_stops > start(&camera, &old, &taught).experience.correction_stops + 0.7);
        assert!((after.forecast.time.as_s() / before).log2().abs() < 0.25, "{before} then {:?}", after.forecast.time);
    }

    #[test]
    fn the_forecast_that_was_shown_stays_when_the_light_is_corrected_and_one_that_was_not_moves() {
        let (camera, paper) = (can(10, 120.0), paper(6_000));
        let hazy = FoundLight::Sky(Sky::HazySun, SunFrom::Front);
        let unseen = made(&camera, &paper, 20, Verdict::Right, None);
        for shown in [false, true] {
            let mut sheet = Exposure { forecast_shown: shown, ..unseen.clone() };
            sheet.correct_light(hazy);
            // a stop less light: twice the base
            assert!((sheet.base_ms - 2 * unseen.base_ms).abs() <= 1);
            let moved = if shown { 1 } else { 2 };
            assert!((sheet.forecast_ms - moved * unseen.forecast_ms).abs() <= 1, "{shown}: {}", sheet.forecast_ms);
        }
    }

    #[test]
    fn a_sheet_that_turns_out_to_be_film_gets_the_films_speed_and_reciprocity() {
        let (camera, paper) = (can(10, 120.0), paper(6_000));
        let film = Paper { kind: PaperKind::Film, id: id(9), reciprocity_milli: 1_300, ..self::paper(100_000) };
        let mut sheet = made(&camera, &paper, 20, Verdict::Right, None);
        sheet.correct_loaded(&film);
        let as_film = made(&camera, &film, 20, Verdict::Right, None);
        assert_eq!(
            (sheet.paper, sheet.gain_milli, sheet.reciprocity_milli),
            (film.id, film.lens_free_gain_milli(), 1_300)
        );
        assert!((sheet.base_ms - as_film.base_ms).abs() <= 1, "{} {}", sheet.base_ms, as_film.base_ms);
        assert!((sheet.forecast_ms - as_film.forecast_ms).abs() <= 2, "{} {}", sheet.forecast_ms, as_film.forecast_ms);
    }

    #[test]
    fn film_in_a_body_cap_gets_the_missing_lens_once() {
        let (camera, mut film) = (can(10, 120.0), paper(100_000));
        let as_paper = start(&camera, &film, &[]).forecast.base;
        film.kind = PaperKind::Film;
        let as_film = start(&camera, &film, &[]).forecast.base;
        // q = pi/4 against 0.65: 0.27 stop (arithmetic checked)
        assert!((as_paper.stops_over(as_film) - 0.27).abs() < 0.005);
    }
}
