//! Every route with every role; and what belongs to one student seen by another.

use std::sync::Arc;

use axum::http::Method;
use shimlight::{
    domain::people::actor::Role,
    web::{
        every_route,
        kit::{access::Access, routes::Route},
    },
};

use crate::{
    app::{Answer, Client, TestApp},
    bench::{
        pictures::{a_jpeg, add_picture},
        sheets::{id_of, sheet_in_the_sun, with_box},
    },
};

/// What becomes of a request.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Fate {
    LetIn,
    ToTheDoor,
    SignedOut,
    Refused,
}

fn fate(answer: &Answer) -> Fate {
    match answer.status.as_u16() {
        303 if answer.location().starts_with("/?then=") => Fate::ToTheDoor,
        401 => Fate::SignedOut,
        // a 403 of another heading is a handler's own: let in, and told why not now
        403 if ["For staff", "A student's page", "For instructors"].contains(&answer.text("h1").as_str()) => {
            Fate::Refused
        }
        _ => Fate::LetIn,
    }
}

/// Who asks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Who {
    Anybody,
    Student,
    StudentElsewhere,
    Assistant,
    Instructor,
}

fn expected(route: &Route, who: Who) -> Fate {
    let admitted = match route.access {
        Access::Open => true,
        Access::Bench => matches!(who, Who::Student | Who::StudentElsewhere),
        Access::Staff => matches!(who, Who::Assistant | Who::Instructor),
        Access::Instructor => who == Who::Instructor,
    };
    match (admitted, who) {
        (true, _) => Fate::LetIn,
        (false, Who::Anybody) if route.method == Method::GET => Fate::ToTheDoor,
        (false, Who::Anybody) => Fate::SignedOut,
        (false, _) => Fate::Refused,
    }
}

/// A path of that pattern. Pages get ids of real records where there are some; forms get ids of
/// nothing, so that the walk changes nothing it still needs.
fn path_of(app: &TestApp, route: &Route, section: &str, session: &str, student: &str) -> String {
    let mut before = "";
    let parts = route.path.split('/').map(|part| {
        let filled = match (part.starts_with('{'), before) {
            (false, _) => part.to_owned(),
            (true, "exports") => "silver-book.csv".to_owned(),
            (true, "sections") if route.method == Method::GET => section.to_owned(),
            (true, "sessions" | "report") if route.method == Method::GET => session.to_owned(),
            (true, "students" | "roster" | "marks") if route.method == Method::GET => student.to_owned(),
            (true, _) => app.state.mint::<shimlight::domain::ids::FormId>().to_string(),
        };
        before = part;
        filled
    });
    parts.collect::<Vec<_>>().join("/")
}

#[tokio::test]
async fn every_route_lets_in_whom_it_is_for_and_nobody_else() {
    let (app, anon, instructor, student) = TestApp::with_open_session().await;
    let evening = app.the_evening().await;
    let elsewhere = app.other_section("BAY22").await;
    let cast = [
        (Who::Anybody, anon),
        (Who::Student, student.clone()),
        (Who::StudentElsewhere, app.student(elsewhere, "07", "Olu Adeyemi").await),
        (Who::Assistant, app.staff(Role::Assistant, "Pat Moor").await),
        (Who::Instructor, instructor),
    ];
    let (section, session) = (evening.section.to_string(), evening.session.to_string());
    let student = student.student.expect("a student").to_string();
    let mut wrong = Vec::new();
    let mut walked = 0;
    for route in every_route::table() {
        for (who, client) in &cast {
            // these end the sign-in, as they should
            if route.path == "/leave" && *who != Who::Anybody {
                continue;
            }
            let path = path_of(&app, &route, &section, &session, &student);
            let answer =
                if route.method == Method::GET { client.get(&path).await } else { client.post(&path, &[]).await };
            walked += 1;
            if fate(&answer) != expected(&route, *who) || answer.status.is_server_error() {
                wrong.push(format!("{who:?} {} {path}: {}", route.method, answer.status));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
    assert!(walked > 200, "{walked}");
}

/// Records that belong to one student.
struct Records {
    camera: String,
    hole: String,
    exposure: String,
    print: String,
    strip: String,
    session: String,
    way: String,
    picture: String,
    /// The name of the picture that the owner's hole would draw.
    drawn: String,
}

const REPORT: &str = "My second sheet taught me patience.";

impl Records {
    /// A camera with a hole, a sheet, a print of it, a test strip and a report.
    async fn of(app: &TestApp, owner: &Client) -> Self {
        // a hole of one's own: pictures are found by their numbers, and the neighbour has the usual box
        let measures = [("build", "box"), ("distance", "128"), ("width", "127"), ("height", "102")];
        owner.saves("/bench/camera", &measures).await;
        owner.saves("/bench/hole", &[("reading_1", "0.47"), ("reading_2", "0.49"), ("instrument", "0.01")]).await;
        let optics = owner.get("/bench/hole/optics").await;
        let drawn =
            optics.attribute(".seen figure:nth-child(2) img", "src").expect("a picture of the hole as measured");
        let evening = app.the_evening().await;
        let (paper, session) = (evening.paper.to_string(), evening.session.to_string());
        let exposure = id_of(&owner.saves("/bench/exposures", &sheet_in_the_sun("33", "right")).await).to_string();
        let print = [
            ("exposure", exposure.as_str()),
            ("paper", &paper),
            ("made", "8"),
            ("light", "bulb"),
            ("developed", "no"),
            ("sheet", "4x5in"),
            ("made_at", "2026-03-20T12:00"),
        ];
        owner.saves("/bench/prints", &print).await;
        let strip = [
            ("what", "test strip"),
            ("size", "4x5in"),
            ("sheets", "1"),
            ("developed_at", "2026-03-20T12:00"),
            ("paper", paper.as_str()),
        ];
        owner.saves("/bench/chemistry", &strip).await;
        owner.saves(&format!("/bench/report/{session}"), &[("act", "save"), ("body", REPORT)]).await;
        add_picture(owner, &session, &a_jpeg(), "").await;
        owner.saves("/bench/ways", &[]).await;
        Self {
            picture: newest(app, "report_picture").await,
            way: newest(app, "sheet_way").await,
            camera: newest(app, "camera").await,
            hole: newest(app, "hole").await,
            print: newest(app, "print").await,
            strip: newest(app, "sheet_run").await,
            exposure,
            session,
            drawn: drawn.rsplit('/').next().expect("a name").to_owned(),
        }
    }

    /// The address of one of these records. A new route at the bench that takes an id belongs here.
    fn address(&self, pattern: &str) -> Option<String> {
        let (parameter, id) = match pattern.split('/').nth(2)? {
            "camera" => ("{id}", &self.camera),
            "hole" if pattern.contains("{key}") => ("{key}", &self.drawn),
            "hole" => ("{id}", &self.hole),
            "exposures" => ("{id}", &self.exposure),
            "prints" => ("{id}", &self.print),
            "chemistry" => ("{id}", &self.strip),
            "report" => {
                let address = pattern.replace("{session}", &self.session).replace("{picture}", &self.picture);
                return (!address.contains('{')).then_some(address);
            }
            "ways" => ("{id}", &self.way),
            _ => return None,
        };
        let address = pattern.replace(parameter, id);
        (!address.contains('{')).then_some(address)
    }
}

/// The newest record of a table (ids are in the order of time).
async fn newest(app: &TestApp, table: &str) -> String {
    let sql = format!("SELECT lower(hex(id)) FROM {table} ORDER BY id DESC LIMIT 1");
    let mut conn = app.state.store.read().await.expect("a reader");
    let hex: String =
        sqlx::query_scalar(sqlx::AssertSqlSafe(sql)).fetch_one(&mut *conn).await.expect("a record of the owner's");
    hex.parse::<uuid::Uuid>().expect("an id").to_string()
}

/// Everything these tables hold, to see whether anything changed.
async fn everything(app: &TestApp, but_reports: bool) -> Vec<String> {
    let mut conn = app.state.store.read().await.expect("a reader");
    let mut all = Vec::new();
    for (table, columns) in [
        ("camera", "hex(id), distance_nm, version"),
        ("hole", "hex(id), diameter_nm, version"),
        ("exposure", "hex(id), made_ms, verdict, remark, version"),
        ("print", "hex(id), made_ms, verdict, remark, version"),
        ("sheet_run", "hex(id), area_mm2, undone_at"),
        ("report", "hex(id), body, state, version"),
        ("sheet_way", "hex(id), place, ended_at, version"),
    ] {
        if table == "report" && but_reports {
            continue;
        }
        let sql = format!("SELECT concat_ws('|', '{table}', {columns}) FROM {table} ORDER BY id");
        let rows: Vec<String> =
            sqlx::query_scalar(sqlx::AssertSqlSafe(sql)).fetch_all(&mut *conn).await.expect("readable");
        all.extend(rows);
    }
    all
}

/// Fields that every form at the bench would take, so that a refusal is for who asks, not for what.
fn well_filled() -> Vec<(&'static str, &'static str)> {
    let mut fields = sheet_in_the_sun("12", "too dark");
    fields.extend([
        ("version", "1"),
        ("to", "outside"),
        ("build", "box"),
        ("distance", "99"),
        ("width", "90"),
        ("height", "90"),
        ("reading_1", "0.7"),
        ("reading_2", "0.7"),
        ("instrument", "0.01"),
        ("developed_at", "2026-03-20T12:00"),
        ("light", "another bulb"),
        ("developed", "no"),
        ("why", "mine now"),
        ("act", "save"),
        ("body", "Somebody else's words."),
    ]);
    fields
}

fn routes_with_an_id_at_the_bench() -> impl Iterator<Item = Route> {
    every_route::table().into_iter().filter(|route| route.access == Access::Bench && route.path.contains('{'))
}

async fn setting() -> (Arc<TestApp>, Client, Records) {
    let (app, _anon, _instructor, owner) = TestApp::with_open_session().await;
    let records = Records::of(&app, &owner).await;
    (app, owner, records)
}

#[tokio::test]
async fn the_owner_opens_each_of_their_records() {
    let (_app, owner, records) = setting().await;
    for route in routes_with_an_id_at_the_bench().filter(|route| route.method == Method::GET) {
        let path = records.address(route.path).unwrap_or_else(|| panic!("list {} in Records::address", route.path));
        assert_eq!(owner.get(&path).await.status, 200, "{path}");
    }
}

#[tokio::test]
async fn no_student_reaches_another_students_records_nor_another_sections() {
    let (app, _owner, records) = setting().await;
    let elsewhere = app.other_section("BAY22").await;
    let neighbour = app.student(app.the_evening().await.section, "08", "Anselm Quarry").await;
    let stranger = app.student(elsewhere, "07", "Olu Adeyemi").await;
    with_box(&neighbour).await;
    let before = everything(&app, true).await;
    for route in routes_with_an_id_at_the_bench() {
        let path = records.address(route.path).unwrap_or_else(|| panic!("list {} in Records::address", route.path));
        for (who, client) in [("neighbour", &neighbour), ("stranger", &stranger)] {
            let answer = if route.method == Method::GET {
                client.get(&path).await
            } else {
                client.post(&path, &well_filled()).await
            };
            assert!(!answer.body.contains(REPORT), "{who} {path}");
            // a section's session has one report for each of its students: the neighbour's own
            let own =
                who == "neighbour" && route.path.starts_with("/bench/report/") && !route.path.contains("{picture}");
            let refused = matches!(answer.status.as_u16(), 403 | 404);
            assert!(refused || own, "{who} {} {path}: {} {}", route.method, answer.status, answer.text("main"));
        }
        assert_eq!(everything(&app, true).await, before, "{} {path} changed something", route.method);
    }
    let reports = everything(&app, false).await;
    assert!(reports.iter().any(|row| row.contains(REPORT)), "the owner's report stands: {reports:?}");
}

#[tokio::test]
async fn what_a_bench_lists_is_ones_own() {
    let (app, owner, records) = setting().await;
    let neighbour = app.student(app.the_evening().await.section, "08", "Anselm Quarry").await;
    let owned = [&records.camera, &records.hole, &records.exposure, &records.print, &records.strip];
    for route in every_route::table() {
        if route.access != Access::Bench || route.method != Method::GET || route.path.contains('{') {
            continue;
        }
        let page = neighbour.get(route.path).await;
        assert_eq!(page.status, 200, "{}", route.path);
        assert!(!page.body.contains(REPORT), "{}", route.path);
        for id in owned {
            assert!(!page.body.contains(id.as_str()), "{} shows {id}", route.path);
        }
        assert_eq!(owner.get(route.path).await.status, 200, "{}", route.path);
    }
}
