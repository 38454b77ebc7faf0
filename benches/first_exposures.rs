//! How good first exposures are: a thousand invented sections, drawn from the model and from a harsher
//! world.
//!
//!     cargo bench --bench first_exposures            # a thousand sections
//!     cargo bench --bench first_exposures -- 200     # fewer, to try
//!
//! Each section makes sheets in two sessions with cameras of its own; then a student with a camera that
//! nobody has used yet makes the first exposure with it. Reported: how often that lies within half a
//! stop and within one stop of right, by the rule of thumb on a handout, by the forecast without
//! experience, and by the forecast that has learned from 1, 3, 6, 12, 24 sheets; and how often the right
//! time lies in the 80 % interval.
//!
//! What is invented: `World`. Chance is fixed, so that two runs print the same.

use shimlight::calc::{
    light::{
        experience::{Judged, JudgedSheet, Lesson, Spread, Taught},
        forecast::{Basis, forecast, metered_base},
        reciprocity::Reciprocity,
        sky::{Sky, SunFrom},
    },
    quantity::{ExposureIndex, FNumber, ResultStops, Seconds},
};

/// How many sheets the forecasts have learned from.
const SHEETS: [usize; 6] = [0, 1, 3, 6, 12, 24];
/// The index on the paper's card: the value to start from.
const INDEX: f64 = 6.0;
/// A hole measured twice with a scale to 0.01 mm, in stops.
const HOLE_SD: f64 = 0.1;
/// Skies a class meets, and what a handout says for each: half a minute in sun, twice as long for
/// every step towards overcast, whatever the camera (handouts found say 30 to 45 s in sun).
const SKIES: [(Sky, f64); 4] =
    [(Sky::FullSun, 30.0), (Sky::HazySun, 60.0), (Sky::CloudyBright, 120.0), (Sky::HeavyOvercast, 240.0)];

/// What an invented section is drawn from.
struct World {
    name: &'static str,
    /// Degrees of freedom of the offsets; infinite is normal, as the model has them.
    offset_freedom: f64,
    /// Degrees of freedom of judging.
    noise_freedom: f64,
    /// The noise of judging against the model's.
    noise_factor: f64,
    /// One camera in six leaks, and nobody says so: its sheets look darker by two stops or so.
    leak: bool,
}

const WORLDS: [World; 2] = [
    World {
        name: "drawn from the model",
        offset_freedom: f64::INFINITY,
        noise_freedom: 4.0,
        noise_factor: 1.0,
        leak: false,
    },
    World {
        name: "harsher: heavier tails (t with 3 degrees for offsets, 2 for judging), one camera with a leak",
        offset_freedom: 3.0,
        noise_freedom: 2.0,
        noise_factor: 1.25,
        leak: true,
    },
];

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
        Self {
            f_number: length / hole.max(0.1),
            offset: 0.35 * dice.student(world.offset_freedom),
            leaks: world.leak && dice.below(6) == 0,
        }
    }

    fn f_number(&self) -> FNumber {
        FNumber::new(self.f_number).expect("a camera")
    }
}

fn index() -> ExposureIndex {
    ExposureIndex::new(INDEX).expect("an index")
}

/// A section: its paper, two sessions, ten cameras.
struct Section {
    paper: f64,
    sessions: [f64; 2],
    cameras: Vec<Camera>,
}

impl Section {
    fn of(world: &World, dice: &mut Dice) -> Self {
        Self {
            paper: dice.student(world.offset_freedom),
            sessions: [0.5 * dice.student(world.offset_freedom), 0.5 * dice.student(world.offset_freedom)],
            cameras: (0..10).map(|_| Camera::of(world, dice)).collect(),
        }
    }

    /// Sheets in the order they are made: a dozen in the first session, a dozen in the second, each by
    /// what the forecast says then, judged to the half stop.
    fn sheets(&self, world: &World, dice: &mut Dice) -> Vec<JudgedSheet<usize, usize>> {
        let mut sheets: Vec<JudgedSheet<usize, usize>> = Vec::new();
        for number in 0..24 {
            let (session, camera) = (number / 12, dice.below(self.cameras.len()));
            let made_with = &self.cameras[camera];
            let (sky, _) = SKIES[dice.below(SKIES.len())];
            let lesson = taught(&sheets).for_camera(&session, &camera);
            let first = forecast(basis(made_with, sky, lesson));
            let made = first.time;
            // what the sheet asked for beyond its base: the offsets, and chance of light and judging
            let asked = self.paper
                + self.sessions[session]
                + made_with.offset
                + 0.6 * world.noise_factor * dice.student(world.noise_freedom)
                - if made_with.leaks { 2.0 + 0.5 * dice.normal() } else { 0.0 };
            let result = ((asked - made.stops_over(first.base)) * 2.0).round() / 2.0;
            let Ok(result) = ResultStops::new(result.clamp(-8.0, 8.0)) else { continue };
            sheets.push(JudgedSheet { made, base: first.base, result, judged: Judged::ByEye, session, camera });
        }
        sheets
    }
}

fn taught(sheets: &[JudgedSheet<usize, usize>]) -> Taught<usize, usize> {
    Taught::of(sheets, Reciprocity::NONE, false, Spread::default())
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
        reciprocity: Reciprocity::NONE,
        light,
        experience: lesson.at(base),
    }
}

/// How first exposures came out.
#[derive(Default)]
struct Tally {
    half: usize,
    one: usize,
    covered: usize,
    count: usize,
}

impl Tally {
    fn note(&mut self, off: f64, covered: bool) {
        self.half += usize::from(off.abs() <= 0.5);
        self.one += usize::from(off.abs() <= 1.0);
        self.covered += usize::from(covered);
        self.count += 1;
    }

    fn line(&self, name: &str, interval: bool) {
        let percent = |n: usize| format!("{:5.1} %", 100.0 * n as f64 / self.count as f64);
        let covered = if interval { percent(self.covered) } else { "      -".to_owned() };
        println!("  {name:<34} {}   {}   {covered}", percent(self.half), percent(self.one));
    }
}

fn run(world: &World, sections: usize) {
    let mut dice = Dice(20_261_125);
    let mut thumb = Tally::default();
    let mut learned: Vec<Tally> = SHEETS.iter().map(|_| Tally::default()).collect();
    for _ in 0..sections {
        let section = Section::of(world, &mut dice);
        let sheets = section.sheets(world, &mut dice);
        for (place, &count) in SHEETS.iter().enumerate() {
            // four students with cameras of their own, in the session that the last sheet is of
            let session = count.saturating_sub(1) / 12;
            for _ in 0..4 {
                let mut camera = Camera::of(world, &mut dice);
                camera.leaks = false;
                let (sky, handout) = SKIES[dice.below(SKIES.len())];
                let lesson = taught(&sheets[..count.min(sheets.len())]).for_camera(&session, &99);
                let first = forecast(basis(&camera, sky, lesson));
                // the light of that moment against its description, and the hole against its reading
                let chance = sky.light(SunFrom::Front).sd_stops * dice.normal() + HOLE_SD * dice.normal();
                let right = first.base.with_stops(section.paper + section.sessions[session] + camera.offset + chance);
                let given = Seconds::from_millis(first.practical.seconds as i64 * 1000);
                let covered = first.low <= right && right <= first.high;
                learned[place].note(given.stops_over(right), covered);
                if count == 0 {
                    thumb.note(Seconds::from_millis((handout * 1000.0) as i64).stops_over(right), false);
                }
            }
        }
    }
    println!("\n{}; {sections} sections, 4 first exposures each", world.name);
    println!("  {:<34} within ½   within 1   in the 80 % interval", "");
    thumb.line("rule of thumb, one time for a sky", false);
    for (tally, count) in learned.iter().zip(SHEETS) {
        let name = match count {
            0 => "forecast without experience".to_owned(),
            1 => "after 1 sheet".to_owned(),
            n => format!("after {n} sheets"),
        };
        tally.line(&name, true);
    }
    // fewer sections are too few to tell
    if world.offset_freedom.is_infinite() && sections >= 1000 {
        for (tally, count) in learned.iter().zip(SHEETS) {
            let share = tally.covered as f64 / tally.count as f64;
            assert!((0.75..=0.85).contains(&share), "after {count} sheets the 80 % interval holds {share}");
        }
    }
}

fn main() {
    // cargo bench adds flags of its own
    let sections = std::env::args().skip(1).find_map(|arg| arg.parse().ok()).unwrap_or(1000);
    for world in &WORLDS {
        run(world, sections);
    }
}
