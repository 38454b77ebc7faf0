//! The story: two sessions, the first a week ago and closed, the second still open.

use super::{
    Ways, asked, care,
    chemistry::{self, Baths, Containers},
    experience, floor, marking,
    people::{self, ASSISTANT, DOOR_CODE, INSTRUCTOR, NEWCOMER, Seat},
    setting::{self, Setting},
    stage::Stage,
    visitor::Visitor,
    work::{
        Light, exposes, makes_camera, names_the_film, prints, records_twice, reports, spoils, strip, types_in_cards,
    },
};
use crate::domain::ids::LabSessionId;

type Fields = &'static [(&'static str, &'static str)];

/// A student, their camera, and its hole as measured.
struct Maker {
    number: &'static str,
    camera: Fields,
    hole: Fields,
}

/// The side-hole can of 120 mm, lined with a strip of paper: in full sun a matter of seconds.
const CAN: Maker = Maker {
    number: "02",
    camera: &[("build", "side-hole can"), ("inside_diameter", "120"), ("width", "120"), ("height", "90")],
    hole: &[("reading_1", "0.47"), ("reading_2", "0.49"), ("instrument", "0.01"), ("plate", "0.2")],
};
const SHOE_BOX: Maker = Maker {
    number: "01",
    camera: &[("build", "box"), ("distance", "105"), ("width", "127"), ("height", "102"), ("subject", "4 m")],
    hole: &[("reading_1", "0.44"), ("reading_2", "0.46"), ("reading_3", "0.45"), ("instrument", "0.01")],
};
/// Measured in inches.
const INCHES: Maker = Maker {
    number: "07",
    camera: &[("build", "box"), ("distance", "4 3/4"), ("width", "5"), ("height", "4")],
    hole: &[("reading_1", "0.0190"), ("reading_2", "0.0195"), ("instrument", "0.0005"), ("plate", "0.002")],
};
const DISC: Maker = Maker {
    number: "05",
    camera: &[("build", "end-hole can disc"), ("distance", "150"), ("diameter", "100")],
    hole: &[("reading_1", "0.55"), ("reading_2", "0.61"), ("instrument", "0.01"), ("remark", "a burr on one side")],
};
const RECTANGLE: Maker = Maker {
    number: "04",
    camera: &[("build", "end-hole can rectangle"), ("distance", "165"), ("width", "70"), ("height", "70")],
    hole: &[("reading_1", "0.57"), ("reading_2", "0.56"), ("instrument", "0.01"), ("plate", "0.05")],
};
const BODY_CAP: Maker = Maker {
    number: "06",
    camera: &[("build", "body cap"), ("distance", "45"), ("width", "36"), ("height", "24")],
    hole: &[("reading_1", "0.29"), ("reading_2", "0.30"), ("instrument", "0.005")],
};
/// Came late to the second session: no hole yet.
const LATE: Maker = Maker {
    number: "09",
    camera: &[("build", "side-hole can"), ("inside_diameter", "98"), ("width", "100"), ("height", "80")],
    hole: &[],
};

/// Tells it all, from the first start of the server.
pub async fn tell(stage: &Stage) -> anyhow::Result<Ways> {
    let (password, assistants_password) = (people::password(stage), people::password(stage));
    stage.it_is(9, "10:00")?;
    let mut instructor = setting::first_instructor(stage, &password).await?;
    let setting = setting::set_up(stage, &mut instructor, &assistants_password).await?;
    care::counts_the_shelf(stage, &mut instructor).await?;
    care::enters_customs(stage, &mut instructor).await?;
    let containers = chemistry::begin_the_book(stage, &setting, &mut instructor).await?;
    experience::knows_the_papers(stage, &setting, &mut instructor).await?;
    let told = Told { stage, setting, containers, password: &password, assistants_password: &assistants_password };
    let mut seats = told.first_session().await?;
    told.second_session(&mut seats).await?;
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

/// A session's page at the front bench.
fn front(session: LabSessionId) -> String {
    format!("/front/sessions/{session}")
}

/// What every scene needs.
struct Told<'a> {
    stage: &'a Stage,
    setting: Setting,
    containers: Containers,
    password: &'a str,
    assistants_password: &'a str,
}

impl Told<'_> {
    async fn instructor(&self) -> anyhow::Result<Visitor> {
        people::sign_in(self.stage, INSTRUCTOR.0, self.password).await
    }

    async fn assistant(&self) -> anyhow::Result<Visitor> {
        people::sign_in(self.stage, ASSISTANT.0, self.assistants_password).await
    }

    async fn sits_down(&self, maker: &Maker) -> anyhow::Result<Seat> {
        let mut seat = Seat::join(self.stage, maker.number).await?;
        if std::ptr::eq(maker.camera, INCHES.camera) {
            seat.at.fills_in("/bench/key", "/bench/units", &[("units", "inch")]).await?;
        }
        makes_camera(&mut seat, maker.camera, maker.hole).await?;
        Ok(seat)
    }

    /// Plans a session and opens it.
    async fn opens_session(&self, days_ago: i32, title: &str, task: &str) -> anyhow::Result<LabSessionId> {
        let mut instructor = self.instructor().await?;
        let Setting { section, paper, tray_line, rubric } = self.setting;
        let held_on = self.stage.day(days_ago)?.to_string();
        let fields = [
            ("title", title),
            ("held_on", &held_on),
            ("hole_constant", "1.9"),
            ("wavelength", "550"),
            ("paper", &paper.to_string()),
            ("tray_line", &tray_line.to_string()),
            ("rubric", &rubric.to_string()),
            ("report_task", task),
        ];
        let page = format!("/front/sections/{section}/sessions/new");
        let action = format!("/front/sections/{section}/sessions");
        let session = instructor.fills_in(&page, &action, &fields).await?.id().parse()?;
        instructor.fills_in(&front(session), &format!("{}/open", front(session)), &[]).await?;
        Ok(session)
    }

    async fn first_session(&self) -> anyhow::Result<Seats> {
        let stage = self.stage;
        stage.it_is(7, "11:30")?;
        let task = "What did your first sheet teach you about your second?";
        let session = self.opens_session(7, "First light", task).await?;
        let due = format!("{}T20:00", stage.day(6)?);
        asked::asks(&mut self.instructor().await?, session, &["hole-diameter", "f-number"], &due).await?;
        let baths = chemistry::mixes_all(stage, &self.setting, &mut self.assistant().await?).await?;

        stage.it_is(7, "12:10")?;
        let mut seats = Seats {
            can: self.sits_down(&CAN).await?,
            partner: Seat::join(stage, "03").await?,
            shoe_box: self.sits_down(&SHOE_BOX).await?,
            inches: self.sits_down(&INCHES).await?,
            disc: self.sits_down(&DISC).await?,
            rectangle: self.sits_down(&RECTANGLE).await?,
            body_cap: self.sits_down(&BODY_CAP).await?,
        };
        let join = [("number", "1"), ("partner", CAN.number)];
        seats.partner.at.fills_in("/bench/camera/new", "/bench/camera/join", &join).await?;
        self.work_out(&mut seats).await?;
        stage.it_is(7, "12:40")?;
        self.first_sheets(&mut seats, session).await?;

        stage.it_is(7, "17:30")?;
        self.after_the_first(session, &baths).await?;
        Ok(seats)
    }

    /// Own figures before the first sheet: right at once, right the second time, and not at all.
    async fn work_out(&self, seats: &mut Seats) -> anyhow::Result<()> {
        let Seats { can, partner, shoe_box, disc, .. } = seats;
        asked::works_out(can, "hole-diameter", "0.488", "mm", "1.9 × √(0.00055 × 120)").await?;
        asked::works_out(can, "f-number", "250", "", "120 / 0.48").await?;
        // the partner has the same can with the film 138 mm away
        asked::works_out(partner, "hole-diameter", "0.26", "mm", "half of it, since r is asked").await?;
        asked::works_out(partner, "hole-diameter", "0.52", "mm", "no: d is asked").await?;
        asked::works_out(shoe_box, "hole-diameter", "0.45", "mm", "with 1/f′ = 1/105 + 1/4000").await?;
        asked::works_out(disc, "f-number", "517", "", "150 / 0.29").await?;
        asked::works_out(disc, "f-number", "520", "", "the same again").await
    }

    async fn first_sheets(&self, seats: &mut Seats, session: LabSessionId) -> anyhow::Result<()> {
        let (stage, hazy) = (self.stage, Light::Sky("hazy-sun"));
        exposes(stage, &mut seats.can, Light::Reading("EV 15"), "12x9cm", 0.1).await?;
        exposes(stage, &mut seats.shoe_box, hazy, "5x4in", -0.2).await?;
        exposes(stage, &mut seats.inches, hazy, "5x4in", 0.4).await?;
        exposes(stage, &mut seats.disc, hazy, "10x10cm", 0.0).await?;
        exposes(stage, &mut seats.partner, Light::Reading("EV 14.5"), "12x9cm", 0.2).await?;
        exposes(stage, &mut seats.rectangle, Light::Sky("cloudy-bright"), "7x7cm", -0.3).await?;
        let right = exposes(stage, &mut seats.can, Light::Reading("EV 15"), "12x9cm", -0.1).await?;
        strip(stage, &mut seats.can, "3x9cm").await?;
        prints(stage, &mut seats.can, right, "6", "12x9cm", "too pale").await?;
        prints(stage, &mut seats.can, right, "12", "12x9cm", "right").await?;
        let text = "The first sheet was far too dark. I halved the time as the page said, and the second one has a \
                    black sky and clear shadows. The wall curves, so the fence at the edges bends upwards.";
        let said = ("I halved the time, because the sheet was far too dark.", "4.5");
        asked::shows(&mut seats.can, session, right, "The fence behind the wood shop").await?;
        asked::answers(stage, &mut seats.can, session, "submit", said, text).await?;
        let text = "The shadow of the lid fell on the hole. Next time I tape it back.";
        reports(&mut seats.shoe_box, session, "submit", text).await?;
        let text = "My hole is oval: 0.55 one way and 0.61 the other. I think it";
        reports(&mut seats.disc, session, "", text).await
    }

    async fn after_the_first(&self, session: LabSessionId, baths: &Baths) -> anyhow::Result<()> {
        let stage = self.stage;
        let close = format!("{}/close", front(session));
        self.instructor().await?.fills_in(&front(session), &close, &[]).await?;
        let mut assistant = self.assistant().await?;
        chemistry::retires(stage, &mut assistant, baths, &self.containers).await?;
        // typed in when its fixer is in the container already: its silver is in the reading
        let forgotten = [
            ("camera_1", "5"),
            ("student_1", RECTANGLE.number),
            ("light_1", "FS"),
            ("made_1", "20"),
            ("time_1", "13:30"),
            ("sheet_1", "7x7cm"),
            ("trays_1", "13:41"),
            ("verdict_1", "right"),
        ];
        types_in_cards(&mut assistant, &front(session), &forgotten).await?;
        stage.minutes_go_by(10);
        let Containers { spent_fixer, first_rinse, scrap, .. } = &self.containers;
        let into = (spent_fixer.as_str(), first_rinse.as_str(), scrap.as_str());
        care::clears_up(stage, &self.setting, &mut assistant, session, into).await?;
        chemistry::takes_back(stage, &mut assistant, &self.containers).await?;
        stage.it_is(5, "16:00")?;
        marking::first_session(stage, &self.setting, session, self.password).await
    }

    async fn second_session(&self, seats: &mut Seats) -> anyhow::Result<()> {
        let (stage, full) = (self.stage, Light::Sky("full-sun"));
        stage.it_is(0, "11:30")?;
        let task = "Which of your sheets would you hang up, and what would you change about it?";
        let session = self.opens_session(0, "Second light", task).await?;
        let due = format!("{}T20:00", stage.day(-7)?);
        let figures = ["angle-of-view", "dilution", "silver"];
        asked::asks(&mut self.instructor().await?, session, &figures, &due).await?;
        let fixer = chemistry::mixes_fresh(stage, &self.setting, &mut self.assistant().await?).await?;
        care::tests_clearing(stage, &mut self.assistant().await?, &fixer).await?;
        chemistry::types_in_the_first_strips(stage, &self.setting, &mut self.assistant().await?).await?;
        let mut instructor = self.instructor().await?;
        experience::demonstrates(stage, &mut instructor, session).await?;
        experience::leaves_one_out(stage, &self.setting, &mut instructor).await?;
        seats.come_back(stage).await?;
        // an arc as long as the can is wide is seen under one radian
        asked::works_out(&mut seats.can, "angle-of-view", "57.3", "°", "s / 2R = 120 / 120 = 1 rad").await?;
        asked::works_out(&mut seats.shoe_box, "angle-of-view", "31.2", "°", "atan(63.5 / 105)").await?;
        stage.it_is(0, "12:10")?;
        exposes(stage, &mut seats.can, Light::Reading("EV 15"), "12x9cm", 0.1).await?;
        exposes(stage, &mut seats.shoe_box, full, "5x4in", 0.0).await?;
        exposes(stage, &mut seats.inches, full, "5x4in", 0.3).await?;
        exposes(stage, &mut seats.disc, Light::Sky("clear"), "10x10cm", -0.1).await?;
        spoils(stage, &mut seats.inches, full, "5x4in").await?;
        records_twice(stage, &mut seats.shoe_box, full, "5x4in").await?;
        exposes(stage, &mut seats.partner, Light::Reading("1/125 f/16 ISO 100"), "12x9cm", 0.0).await?;
        names_the_film(stage, &mut seats.body_cap).await?;
        // in the sun no hand could time it
        exposes(stage, &mut seats.body_cap, Light::Sky("open-shade"), "36x24mm", 0.0).await?;
        self.sits_down(&LATE).await?;
        Seat::join(stage, "08").await?;
        let text = "Three sheets so far; the last one is nearly right.";
        reports(&mut seats.inches, session, "", text).await?;
        let cards = [
            ("camera_1", "5"),
            ("student_1", RECTANGLE.number),
            ("light_1", "FS"),
            ("made_1", "22"),
            ("time_1", "12:30"),
            ("sheet_1", "7x7cm"),
            ("trays_1", "12:41"),
            ("verdict_1", "right"),
        ];
        types_in_cards(&mut self.assistant().await?, &front(session), &cards).await?;
        self.on_the_floor(seats, session).await
    }

    /// How the session stands when the demo is opened: all of it in the last quarter of an hour.
    async fn on_the_floor(&self, seats: &mut Seats, session: LabSessionId) -> anyhow::Result<()> {
        let stage = self.stage;
        stage.it_is(0, "13:45")?;
        floor::goes(stage, &mut seats.inches, &["outside", "waiting for a place"]).await?;
        floor::goes(stage, &mut seats.can, &["outside", "in the trays"]).await?;
        floor::calls(&mut seats.rectangle, "the lid leaks light").await?;
        floor::goes(stage, &mut seats.shoe_box, &["outside"]).await?;
        floor::goes(stage, &mut seats.disc, &[]).await?;
        floor::says(&mut self.assistant().await?, &front(session), "Last sheet may be loaded at ten to three").await
    }
}
