//! The story: two sessions, the first a week ago and closed, the second still open.

use super::{
    Ways, marking,
    people::{self, ASSISTANT, DOOR_CODE, INSTRUCTOR, NEWCOMER, Seat},
    setting::{self, Setting},
    stage::Stage,
    visitor::Visitor,
    work::{Light, exposes, makes_camera, prints, reports},
};
use crate::domain::ids::LabSessionId;

/// The side-hole can of 120 mm, wrapped with a strip of paper: in full sun a matter of seconds.
const CAN_CAMERA: [(&str, &str); 4] =
    [("build", "side-hole can"), ("inside_diameter", "120"), ("width", "120"), ("height", "90")];
const CAN_HOLE: [(&str, &str); 3] = [("reading_1", "0.47"), ("reading_2", "0.49"), ("instrument", "0.01")];

/// Tells it all, from the first start of the server.
pub async fn tell(stage: &Stage) -> anyhow::Result<Ways> {
    let (password, assistants_password) = (people::password(stage), people::password(stage));
    stage.it_is(9, "10:00")?;
    let mut instructor = setting::first_instructor(stage, &password).await?;
    let setting = setting::set_up(stage, &mut instructor, &assistants_password).await?;
    let mut seats = first_session(stage, &setting, &password).await?;
    second_session(stage, &setting, &password, &mut seats).await?;
    Ok(Ways {
        sign_in_name: INSTRUCTOR.0.to_owned(),
        password,
        assistant: (ASSISTANT.0.to_owned(), assistants_password),
        door_code: DOOR_CODE.to_owned(),
        newcomer: (NEWCOMER.to_owned(), people::family_name(NEWCOMER).to_owned()),
        seat: (people::name("02").to_owned(), seats.can.key.clone()),
    })
}

/// Those who were there last time.
struct Seats {
    can: Seat,
    partner: Seat,
    shoe_box: Seat,
    inches: Seat,
    disc: Seat,
    rectangle: Seat,
    body_cap: Seat,
}

impl Seats {
    async fn come_back(&mut self, stage: &Stage) -> anyhow::Result<()> {
        let Self { can, partner, shoe_box, inches, disc, rectangle, body_cap } = self;
        for seat in [can, partner, shoe_box, inches, disc, rectangle, body_cap] {
            seat.comes_back(stage).await?;
        }
        Ok(())
    }
}

/// Plans a session and opens it.
async fn open_session(
    stage: &Stage,
    setting: &Setting,
    instructor: &mut Visitor,
    days_ago: i32,
    title: &str,
    task: &str,
) -> anyhow::Result<LabSessionId> {
    let (held_on, paper, tray_line, rubric) = (
        stage.day(days_ago)?.to_string(),
        setting.paper.to_string(),
        setting.tray_line.to_string(),
        setting.rubric.to_string(),
    );
    let page = format!("/front/sections/{}/sessions/new", setting.section);
    let action = format!("/front/sections/{}/sessions", setting.section);
    let fields = [
        ("title", title),
        ("held_on", &held_on),
        ("hole_constant", "1.9"),
        ("wavelength", "550"),
        ("paper", &paper),
        ("tray_line", &tray_line),
        ("rubric", &rubric),
        ("report_task", task),
    ];
    let session = instructor.fills_in(&page, &action, &fields).await?.id().parse()?;
    instructor.fills_in(&front(session), &format!("{}/open", front(session)), &[]).await?;
    Ok(session)
}

/// A session's page at the front bench.
fn front(session: LabSessionId) -> String {
    format!("/front/sessions/{session}")
}

async fn first_session(stage: &Stage, setting: &Setting, password: &str) -> anyhow::Result<Seats> {
    stage.it_is(7, "11:30")?;
    let mut instructor = people::sign_in(stage, INSTRUCTOR.0, password).await?;
    let task = "What did your first sheet teach you about your second?";
    let session = open_session(stage, setting, &mut instructor, 7, "First light", task).await?;
    stage.it_is(7, "12:10")?;
    let mut can = Seat::join(stage, "02").await?;
    makes_camera(&mut can, &CAN_CAMERA, &CAN_HOLE).await?;
    let mut partner = Seat::join(stage, "03").await?;
    partner.at.fills_in("/bench/camera/new", "/bench/camera/join", &[("number", "1"), ("partner", "02")]).await?;
    let mut shoe_box = Seat::join(stage, "01").await?;
    let camera = [("build", "box"), ("distance", "105"), ("width", "127"), ("height", "102"), ("subject", "4 m")];
    let hole = [("reading_1", "0.44"), ("reading_2", "0.46"), ("reading_3", "0.45"), ("instrument", "0.01")];
    makes_camera(&mut shoe_box, &camera, &hole).await?;
    let mut inches = Seat::join(stage, "07").await?;
    inches.at.fills_in("/bench/key", "/bench/units", &[("units", "inch")]).await?;
    let camera = [("build", "box"), ("distance", "4 3/4"), ("width", "5"), ("height", "4")];
    let hole = [("reading_1", "0.0190"), ("reading_2", "0.0195"), ("instrument", "0.0005")];
    makes_camera(&mut inches, &camera, &hole).await?;
    let mut disc = Seat::join(stage, "05").await?;
    let camera = [("build", "end-hole can disc"), ("distance", "150"), ("diameter", "100")];
    let hole = [("reading_1", "0.55"), ("reading_2", "0.61"), ("instrument", "0.01"), ("remark", "a burr on one side")];
    makes_camera(&mut disc, &camera, &hole).await?;
    let mut rectangle = Seat::join(stage, "04").await?;
    let camera = [("build", "end-hole can rectangle"), ("distance", "165"), ("width", "70"), ("height", "70")];
    let hole = [("reading_1", "0.57"), ("reading_2", "0.56"), ("instrument", "0.01")];
    makes_camera(&mut rectangle, &camera, &hole).await?;
    let mut body_cap = Seat::join(stage, "06").await?;
    let camera = [("build", "body cap"), ("distance", "45"), ("width", "36"), ("height", "24")];
    let hole = [("reading_1", "0.29"), ("reading_2", "0.30"), ("instrument", "0.005")];
    makes_camera(&mut body_cap, &camera, &hole).await?;

    let hazy = Light::Sky("hazy-sun");
    stage.it_is(7, "12:40")?;
    exposes(stage, &mut can, Light::Reading("EV 15"), "12x9cm", 0.1).await?;
    exposes(stage, &mut shoe_box, hazy, "5x4in", -0.2).await?;
    exposes(stage, &mut inches, hazy, "5x4in", 0.4).await?;
    exposes(stage, &mut disc, hazy, "10x10cm", 0.0).await?;
    exposes(stage, &mut partner, Light::Reading("EV 14.5"), "12x9cm", 0.2).await?;
    exposes(stage, &mut rectangle, Light::Sky("cloudy-bright"), "7x7cm", -0.3).await?;
    let right = exposes(stage, &mut can, Light::Reading("EV 15"), "12x9cm", -0.1).await?;
    prints(stage, &mut can, right, "6", "12x9cm", "too pale").await?;
    prints(stage, &mut can, right, "12", "12x9cm", "right").await?;
    let text = "The first sheet was far too dark. I halved the time as the page said, and the second one has a black \
                sky and clear shadows. The wall curves, so the fence at the edges bends upwards.";
    reports(&mut can, session, "submit", text).await?;
    reports(&mut shoe_box, session, "submit", "The shadow of the lid fell on the hole. Next time I tape it back.")
        .await?;
    reports(&mut disc, session, "", "My hole is oval: 0.55 one way and 0.61 the other. I think it").await?;
    stage.it_is(7, "17:30")?;
    let mut instructor = people::sign_in(stage, INSTRUCTOR.0, password).await?;
    instructor.fills_in(&front(session), &format!("{}/close", front(session)), &[]).await?;
    stage.it_is(5, "16:00")?;
    marking::first_session(stage, setting, session, password).await?;
    Ok(Seats { can, partner, shoe_box, inches, disc, rectangle, body_cap })
}

async fn second_session(stage: &Stage, setting: &Setting, password: &str, seats: &mut Seats) -> anyhow::Result<()> {
    stage.it_is(0, "11:40")?;
    let mut instructor = people::sign_in(stage, INSTRUCTOR.0, password).await?;
    let task = "Which of your sheets would you hang up, and what would you change about it?";
    let session = open_session(stage, setting, &mut instructor, 0, "Second light", task).await?;
    seats.come_back(stage).await?;
    stage.it_is(0, "12:10")?;
    let full = Light::Sky("full-sun");
    exposes(stage, &mut seats.can, Light::Reading("EV 15"), "12x9cm", 0.1).await?;
    exposes(stage, &mut seats.shoe_box, full, "5x4in", 0.0).await?;
    exposes(stage, &mut seats.inches, full, "5x4in", 0.3).await?;
    exposes(stage, &mut seats.disc, full, "10x10cm", -0.1).await?;
    exposes(stage, &mut seats.partner, Light::Reading("1/125 f/16 ISO 100"), "12x9cm", 0.0).await?;
    exposes(stage, &mut seats.body_cap, full, "36x24mm", 0.0).await?;
    reports(&mut seats.inches, session, "", "Three sheets so far; the last one is nearly right.").await?;
    Ok(())
}
