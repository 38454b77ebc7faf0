//! What to do now, in words and numbers: decided by [`Todo`], so that heading, numbers and the main button
//! never say different things.

use std::borrow::Cow;

use crate::web::bench::at_bench::RECORD;
use crate::web::kit::addresses::address_of;
use crate::{
    calc::{
        light::{
            given_time::{GivenTime, notes},
            sky::{Sky, SunFrom},
        },
        working::seconds_text,
    },
    domain::{
        camera::{
            Camera,
            target::{HoleFormula, Target},
        },
        evening::{
            lab_session::LabSession,
            next_step::{Step, Todo},
            sheet_way::{DarkRoom, Place},
        },
        exposure::{Exposure, found_light::FoundLight},
        marking::own_figure::{Figure, HeldBack, Reveals},
        measure::length::{LengthUnit, computed_words},
    },
    lab::exposure::at_hand::Learned,
    web::{
        bench::{at_bench::micrometer_words, evening, timer::clock_for},
        kit::reading::Reading,
    },
};

use super::Desk;

/// What to do now.
pub struct Now {
    /// As a heading.
    pub heading: Cow<'static, str>,
    /// In a sentence or two.
    pub words: Cow<'static, str>,
    /// With which numbers.
    pub numbers: Vec<Reading>,
    /// What can hurt; empty when nothing.
    pub caution: &'static str,
    /// The one main button.
    pub main: Button,
    /// Other ways on: where, and in words.
    pub others: Vec<(String, String)>,
}

/// A button: a link, or a form that moves a sheet on.
pub struct Button {
    /// Where it leads or is sent.
    pub path: String,
    /// Where the sheet goes; `None` for a link, empty for a sheet that begins its way.
    pub to: Option<&'static str>,
    /// In words.
    pub words: Cow<'static, str>,
}

impl Button {
    fn link(path: impl Into<String>, words: impl Into<Cow<'static, str>>) -> Self {
        Self { path: path.into(), to: None, words: words.into() }
    }
}

const OUTSIDE: &str =
    "Outside: never look at the sun through the hole or a finder, stay off the roadway, and leave no needle in a box.";
const WET: &str =
    "Wet floor in the dark: walk slowly, say where you are. Tongs or gloves; dry hands before any switch.";

/// What to do now.
pub(super) fn now(desk: &Desk, held: &HeldBack) -> Now {
    let Some(camera) = &desk.at_hand.camera else { return measure_the_camera() };
    match desk.progress.todo() {
        Todo::MeasureCamera => measure_the_camera(),
        Todo::MakeHole => make_the_hole(camera, desk.formula, desk.unit),
        Todo::LoadSheet => load(desk, held),
        Todo::GoOutside => go_outside(desk, held),
        Todo::OpenShutter => open_the_shutter(desk, held),
        Todo::ComeBack => come_back(desk),
        Todo::WaitForPlace => wait(desk),
        Todo::MindTrays => mind_the_trays(desk),
        Todo::Judge => judge(desk),
        Todo::Print => print(desk),
        Todo::Write => write(desk),
    }
}

fn measure_the_camera() -> Now {
    Now {
        heading: "Measure your camera".into(),
        words: "Take three measures with a ruler, inside: from the hole to the film, and the film's two sides. You are told which hole to make. If your partner has registered the camera you share, say so instead.".into(),
        numbers: Vec::new(),
        caution: "",
        main: Button::link(address_of(&Step::Camera.destination()), "Go to the camera"),
        others: Vec::new(),
    }
}

fn make_the_hole(camera: &Camera, formula: HoleFormula, unit: LengthUnit) -> Now {
    let target = Target::of(camera, formula);
    let [setting, in_the_other_unit] = micrometer_words(target, unit);
    Now {
        heading: "Make the hole and measure it".into(),
        words: "Mark the needle where its taper fills the micrometer, drill from both faces, smooth, then measure twice across.".into(),
        numbers: vec![
            Reading::plain("Hole to make", computed_words(target.hole.as_mm(), 3, unit), Reveals::HOLE),
            Reading::plain("Micrometer", setting, Reveals::HOLE).remark(in_the_other_unit),
        ],
        caution: "Push needles into a board, count them back; thin brass cuts. Never look at the sun through the hole or a finder.",
        main: Button::link(address_of(&Step::Hole.destination()), "Go to the hole"),
        others: Vec::new(),
    }
}

fn load(desk: &Desk, held: &HeldBack) -> Now {
    let first = desk.sheets.is_empty();
    if desk.at_hand.needs_film() {
        return Now {
            heading: "Say which film is in the camera".into(),
            words: "Its speed counts, not that of the session’s paper. Then there is a time to leave it open.".into(),
            numbers: Vec::new(),
            caution: OUTSIDE,
            main: Button::link(address_of(&Step::Sheets.destination()), "Name the film"),
            others: Vec::new(),
        };
    }
    let words = if first {
        "Load in the dark room, sensitive side towards the hole. Press the button when you go in: the front bench then knows that a place is taken."
    } else {
        "Load in the dark room, sensitive side towards the hole. The time below has learned from the sheets so far."
    };
    let mut others = vec![(address_of(&Step::Sheets.destination()), "Times in your own light".to_owned())];
    others.push((clock(desk, held), "Shutter clock".to_owned()));
    Now {
        heading: if first { "Load a sheet and expose it" } else { "Expose another sheet" }.into(),
        words: words.into(),
        numbers: desk.learned.as_ref().map(|learned| next_times(learned, &desk.sheets)).unwrap_or_default(),
        caution: OUTSIDE,
        main: Button { path: "/bench/ways".to_owned(), to: Some(""), words: "Load a sheet".into() },
        others,
    }
}

fn go_outside(desk: &Desk, held: &HeldBack) -> Now {
    Now {
        heading: "Load the sheet, then go outside".into(),
        words:
            "Sensitive side towards the hole, lid on, shutter shut. Set the camera down outside where it cannot move."
                .into(),
        numbers: desk.learned.as_ref().map(|learned| next_times(learned, &desk.sheets)).unwrap_or_default(),
        caution: OUTSIDE,
        main: move_on(desk, Place::Outside),
        others: vec![(clock(desk, held), "Shutter clock".to_owned())],
    }
}

fn open_the_shutter(desk: &Desk, held: &HeldBack) -> Now {
    let time = shown_time(desk, held).map(|(_, given)| given.text);
    Now {
        heading: time
            .as_ref()
            .map_or_else(|| "Open the shutter".into(), |time| format!("Open the shutter for {time}").into()),
        words: if time.is_some() {
            "That is for the light of your last sheet. Other light now? Take its time instead."
        } else {
            "Choose the time of the light you have. The clock counts it for you."
        }
        .into(),
        numbers: desk.learned.as_ref().map(|learned| next_times(learned, &desk.sheets)).unwrap_or_default(),
        caution: OUTSIDE,
        main: Button::link(clock(desk, held), "Shutter clock"),
        others: vec![
            (address_of(&Step::Sheets.destination()), "Times in your own light".to_owned()),
            (RECORD.to_owned(), "Write down the time".to_owned()),
        ],
    }
}

fn come_back(desk: &Desk) -> Now {
    Now {
        heading: "Bring the camera back, shutter shut".into(),
        words: "The exposure is written down. Bring the camera to the dark room’s door; nobody goes in before there is a place.".into(),
        numbers: Vec::new(),
        caution: "",
        main: move_on(desk, Place::Waiting),
        others: Vec::new(),
    }
}

fn wait(desk: &Desk) -> Now {
    let camera = desk.at_hand.camera.as_ref().map(|camera| camera.id);
    let called = camera.is_some_and(|camera| desk.room.may_come().contains(&camera));
    let recorded = desk.newest_way().is_some_and(|way| way.exposure.is_some());
    if called {
        return Now {
            heading: "Go in: there is a place for you".into(),
            words: "Into the dark room, to the trays. Leave phones and anything that shines outside.".into(),
            numbers: desk.trays.clone(),
            caution: WET,
            main: move_on(desk, Place::InTheTrays),
            others: Vec::new(),
        };
    }
    Now {
        heading: "Wait for a place in the dark room".into(),
        words: waiting_words(&desk.room, camera, recorded).into(),
        numbers: Vec::new(),
        caution: "",
        main: if recorded { move_on(desk, Place::InTheTrays) } else { Button::link(RECORD, "Write down the exposure") },
        others: Vec::new(),
    }
}

fn waiting_words(room: &DarkRoom, camera: Option<crate::domain::ids::CameraId>, recorded: bool) -> String {
    let row = match camera.and_then(|camera| room.position(camera)) {
        Some(1) => "You are next. ".to_owned(),
        Some(position) => format!("You are number {position} in the row. "),
        None => String::new(),
    };
    let rest = if recorded {
        "Keep the shutter shut. Go in when somebody comes out or calls you."
    } else {
        "Keep the shutter shut. Write down meanwhile how long it was open."
    };
    format!("{row}{rest}")
}

fn mind_the_trays(desk: &Desk) -> Now {
    let recorded = desk.newest_way().and_then(|way| way.exposure);
    let main = match recorded {
        Some(exposure) => {
            Button::link(format!("{}/{exposure}#judge", address_of(&Step::Sheets.destination())), "Say how it came out")
        }
        None => Button::link(RECORD, "Write down how it came out"),
    };
    Now {
        heading: "Mind the time in each tray".into(),
        words: if desk.trays.is_empty() {
            "Nobody has recorded what stands in the trays: ask for the time in each. Look at the sheet in white light after the wash."
        } else {
            "One tray after the other, each its full time, even when it looks dark. Look at it in white light after the wash, then say how it came out."
        }
        .into(),
        numbers: desk.trays.clone(),
        caution: WET,
        main,
        others: vec![("/bench/chemistry".to_owned(), "The trays".to_owned())],
    }
}

fn judge(desk: &Desk) -> Now {
    let oldest = desk.sheets.iter().rev().find(|sheet| sheet.judgement.is_none());
    let (number, made_ms, path) = oldest.map_or((0, 0, String::new()), |sheet| {
        (sheet.number, sheet.made_ms, format!("{}/{}", address_of(&Step::Sheets.destination()), sheet.id))
    });
    Now {
        heading: format!("Judge sheet {number}").into(),
        words: format!(
            "It was open for {}. When it is through the trays, say how it came out: the next time follows from it.",
            seconds_text(made_ms as f64 / 1000.0)
        )
        .into(),
        numbers: Vec::new(),
        caution: WET,
        main: Button::link(path, "Judge it"),
        others: Vec::new(),
    }
}

fn print(desk: &Desk) -> Now {
    let number = desk.sheets.iter().find(|sheet| sheet.good_to_print()).map_or(0, |sheet| sheet.number);
    Now {
        heading: "Make a contact print".into(),
        words: format!(
            "Sheet {number} is good to print from. Dry it first; picture side to picture side, under glass. Begin with a test strip."
        )
        .into(),
        numbers: Vec::new(),
        caution: "Glass edges cut. Dry hands before the lamp and its switch.",
        main: Button::link(address_of(&Step::Prints.destination()), "Go to the prints"),
        others: Vec::new(),
    }
}

fn write(desk: &Desk) -> Now {
    let task = desk.at_hand.evening.as_ref().map_or("", |(session, _): &(LabSession, _)| session.report_task.as_str());
    let (heading, button) = match &desk.report {
        Some(report) if report.state.is_submitted() => ("Your report is handed in", "See it"),
        Some(_) => ("Finish your report", "Go to the report"),
        None => ("Write your report", "Go to the report"),
    };
    Now {
        heading: heading.into(),
        words: if task.is_empty() { "What did your sheets teach you?".into() } else { task.to_owned().into() },
        numbers: Vec::new(),
        caution: "",
        main: Button::link(address_of(&Step::Report.destination()), button),
        others: Vec::new(),
    }
}

/// The button that moves the newest sheet on.
fn move_on(desk: &Desk, place: Place) -> Button {
    let (to, words) = evening::button(place);
    match desk.newest_way() {
        Some(way) => Button { path: format!("/bench/ways/{}", way.id), to: Some(to), words: words.into() },
        // it ended a moment ago
        None => Button::link("/bench", "Look again"),
    }
}

/// The light of the last sheet and the time for the next one in it; `None` where there is none to go by, no
/// hand can give it, or it is held back.
fn shown_time(desk: &Desk, held: &HeldBack) -> Option<(FoundLight, GivenTime)> {
    let found =
        FoundLight::parse_words(&desk.sheets.first()?.light_typed).filter(|_| held.shows(Figure::ExposureTime))?;
    let given = desk.learned.as_ref()?.start(found.light()).forecast.practical;
    (!given.too_short).then_some((found, given))
}

/// The shutter clock, set to the time for the next sheet where there is one.
fn clock(desk: &Desk, held: &HeldBack) -> String {
    let set = shown_time(desk, held).and_then(|(found, given)| clock_for(&given, found));
    set.unwrap_or_else(|| "/bench/timer".to_owned())
}

/// How long to leave it open: in the light of the last sheet, or under two skies to choose from.
fn next_times(learned: &Learned, sheets: &[Exposure]) -> Vec<Reading> {
    let time = |name: &str, found: FoundLight| {
        let forecast = learned.start(found.light()).forecast;
        let said = notes([&forecast.practical]);
        let interval = forecast.interval_text();
        // the interval says itself what its star means
        let said = said.into_iter().filter(|note| !interval.contains(note));
        let remark: Vec<String> = std::iter::once(interval.clone()).chain(said.map(str::to_owned)).collect();
        Reading::plain(name, forecast.practical.text.clone(), Reveals::TIME).remark(remark.join("; "))
    };
    let last = sheets.first().and_then(|sheet| FoundLight::parse_words(&sheet.light_typed));
    match last {
        Some(found) => vec![time(&format!("Open for, in the light of your last sheet ({})", found.in_words()), found)],
        None => [Sky::FullSun, Sky::HeavyOvercast]
            .into_iter()
            .map(|sky| time(&format!("Open for, {}", sky.label()), FoundLight::Sky(sky, SunFrom::Front)))
            .collect(),
    }
}
