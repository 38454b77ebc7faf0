//! One bench card, in words.

use crate::{
    calc::{
        light::{
            given_time::{GivenTime, notes},
            sky::{Sky, SunFrom},
        },
        optics::micrometer::MicrometerSetting,
        working::{figures, plain},
    },
    domain::{
        camera::{
            Camera, Film,
            hole::Hole,
            target::{HoleFormula, Target},
        },
        exposure::{found_light::SKY_LETTERS, reckoner::SKIES},
        marking::own_figure::HeldBack,
        measure::length::LengthUnit,
        people::student::Student,
    },
    lab::exposure::at_hand::Learned,
    web::kit::sentences::sentences,
};

/// What stands on a card.
#[derive(Clone, Debug, Default)]
pub struct BenchCard {
    /// The number on the camera; empty to be written in.
    pub camera: String,
    /// Whose it is; empty to be written in.
    pub names: Vec<String>,
    /// Roster numbers beside the names.
    pub numbers: Vec<String>,
    /// The camera in a few words; empty when it is not known.
    pub about: String,
    /// The hole to make and as measured; `None` when the camera is not known.
    pub hole: Option<HoleLines>,
    /// What to start with; empty when the camera is not known.
    pub times: Vec<TimeLine>,
    /// What the times rest on.
    pub rests_on: String,
    /// What the times are for: the paper or film the camera is loaded with.
    pub loaded: String,
    /// Whether nobody has said yet which film the camera holds: then no time can be given.
    pub film_unknown: bool,
    /// Sand or snow, and full sun from the side and from behind the subject: other seconds than twice or
    /// four times where reciprocity counts.
    pub more_times: String,
    /// What has to be said beside the times.
    pub notes: String,
    /// Whether the card has the steps of film that goes to a laboratory.
    pub to_laboratory: bool,
    /// What those who share it are to work out first: lines to write on stand in its place.
    pub held: HeldBack,
}

/// The hole on a card.
#[derive(Clone, Debug)]
pub struct HoleLines {
    /// The target, to be set on a metric micrometer: `0.49 mm`.
    pub target: String,
    /// The same in thousandths of an inch.
    pub thousandths: String,
    /// As measured, with its uncertainty; empty before.
    pub measured: String,
    /// The f-number, with the hole as measured or as aimed for.
    pub f_number: String,
}

/// A starting exposure under one sky.
#[derive(Clone, Debug)]
pub struct TimeLine {
    /// The two letters that stand for the sky.
    pub letters: &'static str,
    /// The sky in words.
    pub words: &'static str,
    /// The time as one counts it.
    pub time: String,
    /// A shorter and a longer one to try beside it.
    pub bracket: String,
}

impl BenchCard {
    /// A card with nothing on it but lines to write on.
    pub fn blank() -> Self {
        Self::default()
    }

    /// The class that sets names smaller, so that a long one or many leave the rest its place.
    pub fn crowded(&self) -> &'static str {
        let letters: usize = self.names.iter().chain(&self.numbers).map(|words| words.chars().count() + 3).sum();
        match letters {
            0..=75 => "",
            76..=150 => " many",
            _ => " crowd",
        }
    }

    /// A card for a student who has no camera yet.
    pub fn of_student(student: &Student) -> Self {
        Self { names: vec![student.name.clone()], numbers: vec![student.roster_number.clone()], ..Self::default() }
    }

    /// A card for a camera and those who share it.
    pub fn of_camera(
        camera: &Camera,
        holders: &[Student],
        hole: Option<&Hole>,
        formula: HoleFormula,
        learned: Option<&Learned>,
    ) -> Self {
        let target = Target::of(camera, formula);
        let setting = MicrometerSetting::of(target.hole);
        let known = learned.map(|learned| learned.setting().f_number);
        let f_number = known.or_else(|| hole.map(|hole| hole.f_number(camera.hole_to_film())));
        Self {
            camera: camera.number.to_string(),
            names: holders.iter().map(|student| student.name.clone()).collect(),
            numbers: holders.iter().map(|student| student.roster_number.clone()).collect(),
            about: about(camera),
            hole: Some(HoleLines {
                target: setting.metric_text(),
                thousandths: format!("{:.1}/1000 in", setting.as_inches() * 1000.0),
                measured: hole.map_or(String::new(), measured),
                f_number: format!("f/{}", figures(f_number.unwrap_or(target.f_number).as_number(), 3)),
            }),
            times: learned.map_or_else(Vec::new, |learned| SKIES.map(|sky| time_line(sky, learned)).into()),
            loaded: learned.map_or_else(String::new, Learned::loaded_words),
            more_times: learned.map_or_else(String::new, more_times),
            notes: learned.map_or_else(String::new, card_notes),
            rests_on: match learned.map_or(0, |learned| learned.lesson().based_on()) {
                0 => "No sheet judged yet: cut the first in three and give all three times of its line".to_owned(),
                1 => "Rests on 1 judged sheet".to_owned(),
                n => format!("Rests on {n} judged sheets"),
            },
            film_unknown: learned.is_none(),
            to_laboratory: !camera.uses_trays(),
            held: HeldBack::NOTHING,
        }
    }
}

fn about(camera: &Camera) -> String {
    let mm = |typed: &crate::domain::camera::Typed| typed.length.number(LengthUnit::Millimetre);
    let film = match camera.film() {
        Film::FlatRectangle { distance, width, height } => {
            format!("hole to film {} mm, film {} × {} mm", mm(distance), mm(width), mm(height))
        }
        Film::FlatDisc { distance, diameter } => {
            format!("hole to film {} mm, film round, {} mm", mm(distance), mm(diameter))
        }
        Film::Curved { inside_diameter, width, height } => {
            format!("{} mm inside, film {} × {} mm along the wall", mm(inside_diameter), mm(width), mm(height))
        }
    };
    format!("{}: {film}", camera.build().as_str())
}

fn measured(hole: &Hole) -> String {
    let result = hole.measurement.result();
    format!("{:.3} ± {:.3} mm", result.diameter.as_mm(), result.uncertainty_mm)
}

/// The times beside the table's.
fn more_times(learned: &Learned) -> String {
    let time = |sky: Sky, sun: SunFrom| learned.start(sky.light(sun)).forecast.practical.text;
    format!(
        "SN {}; FS with the sun from the side {}, from behind {}",
        time(Sky::SandOrSnow, SunFrom::Front),
        time(Sky::FullSun, SunFrom::Side),
        time(Sky::FullSun, SunFrom::Back)
    )
}

/// What has to be said beside any time on the card.
fn card_notes(learned: &Learned) -> String {
    let skies = SKIES.map(|sky| sky.light(SunFrom::Front));
    let others =
        [Sky::SandOrSnow.light(SunFrom::Front), Sky::FullSun.light(SunFrom::Side), Sky::FullSun.light(SunFrom::Back)];
    let given: Vec<GivenTime> = skies
        .into_iter()
        .chain(others)
        .flat_map(|light| {
            let forecast = learned.start(light).forecast;
            std::iter::once(forecast.practical).chain(forecast.bracket)
        })
        .collect();
    sentences(&notes(&given))
}

fn time_line(sky: Sky, learned: &Learned) -> TimeLine {
    let start = learned.start(sky.light(SunFrom::Front));
    let forecast = &start.forecast;
    let [shorter, _, longer] = &forecast.bracket;
    let bracket = if longer.too_short {
        // what to change stands once, below the times
        "too short: see below".to_owned()
    } else {
        format!("{} / {} (±{})", shorter.text, longer.text, plain(forecast.bracket_step_stops))
    };
    TimeLine {
        letters: SKY_LETTERS.into_iter().find(|(_, known)| *known == sky).map_or("", |(letters, _)| letters),
        words: super::short(sky),
        time: forecast.practical.text.clone(),
        bracket,
    }
}
