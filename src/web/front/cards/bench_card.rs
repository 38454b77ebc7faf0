//! One bench card, in words.

use crate::{
    calc::{
        light::sky::{Sky, SunFrom},
        optics::micrometer::MicrometerSetting,
        working::{figures, plain},
    },
    domain::{
        camera::{Camera, Film},
        found_light::SKY_LETTERS,
        hole::Hole,
        length::LengthUnit,
        own_figure::{Figure, HeldBack},
        paper::PaperKind,
        reckoner::SKIES,
        student::Student,
        target::{HoleFormula, Target},
    },
    web::bench::at_hand::Learned,
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
    /// Whether the camera holds film although the session's paper is paper: then its times would
    /// mislead.
    pub other_film: bool,
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
    /// Whether a time on it lies past the end of the maker's reciprocity table.
    pub fn past_table(&self) -> bool {
        self.times.iter().any(|line| line.time.ends_with('*'))
    }

    /// A card with nothing on it but lines to write on.
    pub fn blank() -> Self {
        Self::default()
    }

    /// Whether an own figure, named as in addresses, may stand on it.
    pub fn shows(&self, figure: &str) -> bool {
        Figure::from_slug(figure).is_none_or(|figure| self.held.shows(figure))
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
        paper: PaperKind,
        learned: &Learned,
    ) -> Self {
        let target = Target::of(camera, formula);
        let setting = MicrometerSetting::of(target.hole);
        let experience = learned.start(Sky::FullSun.light(SunFrom::Front)).experience;
        Self {
            camera: camera.number.to_string(),
            names: holders.iter().map(|student| student.name.clone()).collect(),
            numbers: holders.iter().map(|student| student.roster_number.clone()).collect(),
            about: about(camera),
            hole: Some(HoleLines {
                target: setting.metric_text(),
                thousandths: format!("{:.1}/1000 in", setting.as_inches() * 1000.0),
                measured: hole.map_or(String::new(), measured),
                f_number: format!("f/{}", figures(learned.setting().f_number.as_number(), 3)),
            }),
            times: SKIES.into_iter().map(|sky| time_line(sky, learned)).collect(),
            rests_on: match experience.based_on {
                0 => "No sheet judged yet: cut the first in three and give all three times of its line".to_owned(),
                1 => "Rests on 1 judged sheet".to_owned(),
                n => format!("Rests on {n} judged sheets"),
            },
            other_film: !camera.uses_trays() && paper == PaperKind::Paper,
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

fn time_line(sky: Sky, learned: &Learned) -> TimeLine {
    let start = learned.start(sky.light(SunFrom::Front));
    let forecast = &start.forecast;
    let [shorter, _, longer] = &forecast.bracket;
    TimeLine {
        letters: SKY_LETTERS.into_iter().find(|(_, known)| *known == sky).map_or("", |(letters, _)| letters),
        words: super::short(sky),
        // the maker vouches for no time past the end of the table
        time: format!("{}{}", forecast.practical.text, if forecast.past_table { " *" } else { "" }),
        bracket: format!("{} / {} (±{})", shorter.text, longer.text, plain(forecast.bracket_step_stops)),
    }
}
