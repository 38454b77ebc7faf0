//! Invented sections for judging first exposures: drawn from the model, or from a harsher world. Shared by
//! the bench and by the test of the interval's coverage.
//!
//! What is invented: [`World`]. Chance is fixed, so that two runs give the same.

use shimlight::calc::{
    light::{
        experience::{EXPONENT_PRIOR, Judged, JudgedSheet, Lesson, Spread, Taught},
        forecast::{Basis, forecast, metered_base},
        reciprocity::Reciprocity,
        sky::{Sky, SunFrom},
    },
    quantity::{ExposureIndex, FNumber, ReciprocityExponent, ResultStops, Seconds},
};

/// How many sheets the forecasts have learned from.
pub const SHEETS: [usize; 6] = [0, 1, 3, 6, 12, 24];
/// The index on the paper's card: the value to start from.
const INDEX: f64 = 6.0;
/// A hole measured twice with a scale to 0.01 mm, in stops.
const HOLE_SD: f64 = 0.1;
/// Cameras of a section that make the sheets.
const CAMERAS: usize = 10;
/// Skies a class meets, and what a handout says for each: half a minute in sun, twice as long for
/// every step towards overcast, whatever the camera (common practice, no source: 30 to 45 s in sun).
const SKIES: [(Sky, f64); 4] =
    [(Sky::FullSun, 30.0), (Sky::HazySun, 60.0), (Sky::CloudyBright, 120.0), (Sky::HeavyOvercast, 240.0)];

/// What an invented section is drawn from.
pub struct World {
    pub name: &'static str,
    /// Degrees of freedom of the offsets; infinite is normal, as the model has them.
    offset_freedom: f64,
    /// Degrees of freedom of judging.
    noise_freedom: f64,
    /// The noise of judging against the model's.
    noise_factor: f64,
    /// Whether the paper has a reciprocity exponent that nobody knows, drawn from its prior; the card
    /// says the prior's middle. Otherwise there is none and a maker says so.
    bends: bool,
    /// One camera of the section leaks, and nobody says so: its sheets look darker by two stops or so.
    leak: bool,
}

/// The model itself.
pub const MODEL: World = World {
    name: "drawn from the model",
    offset_freedom: f64::INFINITY,
    noise_freedom: 4.0,
    noise_factor: 1.0,
    bends: false,
    leak: false,
};

/// The model with a reciprocity exponent to fit.
pub const BENDING: World =
    World { name: "drawn from the model, with a reciprocity exponent to fit", bends: true, ..MODEL };

/// A harsher one.
#[allow(dead_code, reason = "the test of the coverage asks for the model alone")]
pub const HARSHER: World = World {
    name: "harsher: heavier tails (t with 3 degrees for offsets, 2 for judging), an exponent to fit, one camera with a leak",
    offset_freedom: 3.0,
    noise_freedom: 2.0,
    noise_factor: 1.25,
    bends: true,
    leak: true,
};

/// Chance that is the same in every run: splitmix64.
struct Dice(u64);

impl Dice {
    fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }

    fn below(&mut self, bound: usize) -> usize {
        (self.uniform() * bound as f64) as usize
    }

    fn normal(&mut self) -> f64 {
        // Box and Muller
        (-2.0 * (1.0 - self.uniform()).ln()).sqrt() * (std::f64::consts::TAU * self.uniform()).cos()
    }

    /// Student t: a normal over the root of a mean of squares. Scale 1, so wider than a normal.
    fn student(&mut self, freedom: f64) -> f64 {
        if freedom.is_infinite() {
            return self.normal();
        }
        let squares: f64 = (0..freedom as usize).map(|_| self.normal().powi(2)).sum();
        self.normal() / (squares / freedom).sqrt()
    }
}

/// One invented camera.
struct Camera {
    f_number: f64,
    offset: f64,
    leaks: bool,
}

impl Camera {
    fn of(world: &World, dice: &mut Dice) -> Self {
        // boxes and cans: hole by d = 1.9 sqrt(550 nm f) for 60 to 200 mm, made within a tenth or so
        let length = 60.0 + 140.0 * dice.uniform();
        let hole = 1.9 * (550e-6 * length).sqrt() * (1.0 + 0.1 * dice.normal());
        Self { f_number: length / hole.max(0.1), offset: 0.35 * dice.student(world.offset_freedom), leaks: false }
    }

    fn f_number(&self) -> FNumber {
        FNumber::new(self.f_number).expect("a camera")
    }
}

fn index() -> ExposureIndex {
    ExposureIndex::new(INDEX).expect("an index")
}

fn above_one_second(exponent: f64) -> Reciprocity {
    let kept = exponent.clamp(ReciprocityExponent::MIN, ReciprocityExponent::MAX);
    Reciprocity::above_one_second(ReciprocityExponent::new(kept).expect("kept in range"))
}

/// A section: its paper, two sessions, ten cameras.
struct Section {
    paper: f64,
    /// How the paper bends long times in truth.
    rule: Reciprocity,
    /// What its card says, and whether that is an unknown.
    card: (Reciprocity, bool),
    sessions: [f64; 2],
    cameras: Vec<Camera>,
}

impl Section {
    fn of(world: &World, dice: &mut Dice) -> Self {
        let (mean, sd) = EXPONENT_PRIOR;
        let mut section = Self {
            paper: dice.student(world.offset_freedom),
            rule: Reciprocity::NONE,
            card: (Reciprocity::NONE, false),
            sessions: [0.5 * dice.student(world.offset_freedom), 0.5 * dice.student(world.offset_freedom)],
            cameras: (0..CAMERAS).map(|_| Camera::of(world, dice)).collect(),
        };
        if world.bends {
            section.rule = above_one_second(mean + sd * dice.normal());
            section.card = (above_one_second(mean), true);
        }
        if world.leak {
            section.cameras[dice.below(CAMERAS)].leaks = true;
        }
        section
    }

    /// Sheets in the order they are made: a dozen in the first session, a dozen in the second, each by
    /// what the forecast says then, judged to the half stop.
    fn sheets(&self, world: &World, dice: &mut Dice) -> Vec<JudgedSheet<usize, usize>> {
        let mut sheets: Vec<JudgedSheet<usize, usize>> = Vec::new();
        for number in 0..24 {
            let (session, camera) = (number / 12, dice.below(self.cameras.len()));
            let made_with = &self.cameras[camera];
            let (sky, _) = SKIES[dice.below(SKIES.len())];
            let lesson = self.taught(&sheets).for_camera(&session, &camera);
            let first = forecast(basis(made_with, sky, lesson));
            let made = first.time;
            // what the sheet asked for beyond its base: the offsets, and chance of light and judging
            let asked = self.paper
                + self.sessions[session]
                + made_with.offset
                + 0.6 * world.noise_factor * dice.student(world.noise_freedom)
                - if made_with.leaks { 2.0 + 0.5 * dice.normal() } else { 0.0 };
            let got = self.rule.metered(made).stops_over(first.base);
            let result = ((asked - got) * 2.0).round() / 2.0;
            let Ok(result) = ResultStops::new(result.clamp(-8.0, 8.0)) else { continue };
            sheets.push(JudgedSheet { made, base: first.base, result, judged: Judged::ByEye, session, camera });
        }
        sheets
    }

    fn taught(&self, sheets: &[JudgedSheet<usize, usize>]) -> Taught<usize, usize> {
        let (card, unknown) = self.card;
        Taught::of(sheets, card, unknown, Spread::default())
    }
}

fn basis(camera: &Camera, sky: Sky, lesson: Lesson) -> Basis {
    let light = sky.light(SunFrom::Front);
    let base = metered_base(camera.f_number(), index(), light, 0.0);
    Basis {
        f_number: camera.f_number(),
        hole_sd_stops: HOLE_SD,
        index: index(),
        gain_stops: 0.0,
        aim_stops: 0.0,
        reciprocity: lesson.rule(),
        light,
        experience: lesson.at(base),
    }
}

/// How first exposures came out.
#[derive(Clone, Copy, Debug, Default)]
pub struct Tally {
    half: usize,
    one: usize,
    covered: usize,
    count: usize,
}

impl Tally {
    /// `off` in stops of light, as the paper took them.
    fn note(&mut self, off: f64, covered: bool) {
        self.half += usize::from(off.abs() <= 0.5);
        self.one += usize::from(off.abs() <= 1.0);
        self.covered += usize::from(covered);
        self.count += 1;
    }

    /// The share within half a stop.
    #[allow(dead_code, reason = "the test of the coverage asks for the interval alone")]
    pub fn half(&self) -> f64 {
        self.half as f64 / self.count as f64
    }

    /// The share within one stop.
    #[allow(dead_code, reason = "the test of the coverage asks for the interval alone")]
    pub fn one(&self) -> f64 {
        self.one as f64 / self.count as f64
    }

    /// How often the right time lay in the 80 % interval.
    pub fn covered(&self) -> f64 {
        self.covered as f64 / self.count as f64
    }
}

/// First exposures by the rule of thumb, and by forecasts that have learned from each of [`SHEETS`].
pub struct Outcome {
    #[allow(dead_code, reason = "the test of the coverage asks for the interval alone")]
    pub thumb: Tally,
    pub learned: [Tally; SHEETS.len()],
}

/// Four first exposures in each of so many sections, with cameras that nobody has used yet.
pub fn outcome(world: &World, sections: usize) -> Outcome {
    let mut dice = Dice(20_261_125);
    let mut thumb = Tally::default();
    let mut learned = [Tally::default(); SHEETS.len()];
    for _ in 0..sections {
        let section = Section::of(world, &mut dice);
        let sheets = section.sheets(world, &mut dice);
        for (place, &count) in SHEETS.iter().enumerate() {
            // in the session that the last sheet is of
            let session = count.saturating_sub(1) / 12;
            let taught = section.taught(&sheets[..count.min(sheets.len())]);
            for _ in 0..4 {
                let camera = Camera::of(world, &mut dice);
                let (sky, handout) = SKIES[dice.below(SKIES.len())];
                let first = forecast(basis(&camera, sky, taught.for_camera(&session, &99)));
                // the light of that moment against its description, and the hole against its reading
                let chance = sky.light(SunFrom::Front).sd_stops * dice.normal() + HOLE_SD * dice.normal();
                let offsets = section.paper + section.sessions[session] + camera.offset + chance;
                let (metered, rule) = (first.base.with_stops(offsets), section.rule);
                let right = rule.corrected(metered);
                let off = |given_ms: i64| rule.metered(Seconds::from_millis(given_ms)).stops_over(metered);
                let covered = first.low <= right && right <= first.high;
                learned[place].note(off(first.practical.seconds as i64 * 1000), covered);
                if count == 0 {
                    thumb.note(off((handout * 1000.0) as i64), false);
                }
            }
        }
    }
    Outcome { thumb, learned }
}
