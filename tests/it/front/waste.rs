//! `/front/waste`: from the first drop to the carrier's paper, and what is refused on the way.

use axum::http::StatusCode;
use shimlight::{
    domain::{
        baths::batch::Slot,
        people::actor::Role,
        site::{
            Site,
            site_rule::{Asks, RuleClock, SiteRule, Span},
        },
        stock::product::ProductKind,
    },
    store,
};

use super::chemistry::{local_now, mixes, nothing_is_wrong, sets_in, sheets_through};
use crate::app::{Client, TestApp};

/// Sets up a container through the form and gives the path of its page.
pub async fn sets_up(staff: &Client, contents: &str, hazards: &str) -> String {
    let answer = staff
        .post(
            "/front/waste/containers",
            &[("contents", contents), ("capacity", "20 L"), ("hazards", hazards), ("place", "under the bench")],
        )
        .await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text("main"));
    answer.location()
}

pub fn id_of(path: &str) -> &str {
    path.rsplit('/').next().expect("an id")
}

/// The version that a page's forms carry.
pub async fn version(client: &Client, path: &str) -> String {
    client.get(path).await.attribute("[name=version]", "value").expect("a version")
}

/// Retires a batch through the form; `although` says why against an objection.
pub async fn retires(staff: &Client, batch: &str, into: &str, measured: &str, although: &str) -> crate::app::Answer {
    let (version, at) = (version(staff, batch).await, local_now(staff));
    let fields = [
        ("version", version.as_str()),
        ("measured", measured),
        ("into", id_of(into)),
        ("happened_at", at.as_str()),
        ("although", although),
    ];
    staff.post(&format!("{batch}/retire"), &fields).await
}

#[tokio::test]
async fn a_batch_goes_into_its_container_and_out_with_a_carrier_and_the_log_has_both() {
    let (app, _anon, instructor, student) = TestApp::with_open_session().await;
    let fixer = mixes(&instructor, ProductKind::Fixer, "2 L").await;
    sets_in(&instructor, &fixer, Slot::Fixer).await;
    sheets_through(&app, &student, 4, 8).await;
    let can = sets_up(&instructor, "spent fixer", "irritant, contains silver").await;
    let retired = retires(&instructor, &fixer, &can, "1950", "").await;
    assert_eq!(retired.status, StatusCode::SEE_OTHER, "{}", retired.text("main"));
    let page = instructor.get(&fixer).await;
    assert_eq!(page.text("h1 .tag"), "retired");
    assert!(page.text("main").contains("into waste container 1"));

    app.state.world.clock.forward_minutes(60 * 24 * 12);
    let instructor = app.staff(Role::Instructor, "Ines Quarry again").await;
    let (at, first) = (local_now(&instructor), version(&instructor, &can).await);
    let fields = [
        ("version", first.as_str()),
        ("carrier", "Fell & Daughters (invented)"),
        ("destination", "Silver works, dock 4 (invented)"),
        ("reference", "FD-2026-118"),
        ("mass", "2.1"),
        ("happened_at", at.as_str()),
    ];
    let page = instructor.saves(&format!("{can}/remove"), &fields).await;
    assert_eq!(page.text("h1 .tag"), "removed");
    assert_eq!(page.texts("#removal ~ dl dd").last().map(String::as_str), Some("not yet"));
    app.state.world.clock.forward_minutes(60 * 24 * 20);
    let instructor = app.staff(Role::Instructor, "Ines Quarry once more").await;
    let copy = version(&instructor, &can).await;
    let page = instructor.saves(&format!("{can}/copy-returned"), &[("version", &copy), ("on", "2026-04-20")]).await;
    assert_eq!(page.texts("#removal ~ dl dd").last().map(String::as_str), Some("20 Apr 2026"));

    let log = instructor.get("/front/waste/disposal-log").await;
    let events: Vec<String> = log.texts("tbody tr td:nth-child(3)");
    assert_eq!(events, ["retiring", "removal"]);
    assert!(
        log.text("tbody tr:last-child")
            .contains("Fell & Daughters (invented) to Silver works, dock 4 (invented), 2.1 kg")
    );
    nothing_is_wrong(&app).await;
}

#[tokio::test]
async fn a_slipped_digit_at_the_retiring_invents_no_litres_of_waste() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let fixer = mixes(&instructor, ProductKind::Fixer, "10 L").await;
    let can = sets_up(&instructor, "spent fixer", "irritant, contains silver").await;
    let id = can.rsplit('/').next().expect("an id").to_owned();
    let at = local_now(&instructor);
    let pours = async |remark: &str| {
        let fields = [("measured", "18 L"), ("missing", ""), ("into", &id), ("happened_at", &at), ("remark", remark)];
        let stands = version(&instructor, &fixer).await;
        let fields: Vec<_> = fields.into_iter().chain([("version", stands.as_str())]).collect();
        instructor.post(&format!("{fixer}/retire"), &fields).await
    };
    let asked = pours("").await;
    assert_eq!(asked.status, StatusCode::UNPROCESSABLE_ENTITY);
    let question = asked.text("form[action$=retire] .error");
    assert!(question.contains("is 8000 mL more than the book has there (10 L)"), "{}", asked.text("main"));
    assert_eq!(pours("rinsed out three times").await.status, StatusCode::SEE_OTHER);
    nothing_is_wrong(&app).await;
}

#[tokio::test]
async fn sheets_typed_in_after_the_fixer_was_poured_away_follow_it_into_its_container() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let fixer = mixes(&instructor, ProductKind::Fixer, "2 L").await;
    sets_in(&instructor, &fixer, Slot::Fixer).await;
    app.state.world.clock.forward_minutes(60);
    let can = sets_up(&instructor, "spent fixer", "irritant").await;
    retires(&instructor, &fixer, &can, "2 L", "").await;
    let evening = app.the_evening().await;
    let (line, paper) = (evening.tray_line.to_string(), evening.paper.to_string());
    let late = [
        ("line", line.as_str()),
        ("paper", paper.as_str()),
        ("what", "other"),
        ("sheets", "10"),
        ("width", "4 in"),
        ("height", "5 in"),
        ("happened_at", "2026-03-20T12:30"),
    ];
    instructor.saves("/front/chemistry/sheets", &late).await;
    let page = instructor.get(&can).await;
    // 0.129 m² x 0.97 g/m²
    assert!(page.text("main").contains("0.13 g (0.045 to 0.21)"), "{}", page.text("main"));
    nothing_is_wrong(&app).await;
    // with the container gone, they are kept and wait until the instructor decides
    let (at, stands) = (local_now(&instructor), version(&instructor, &can).await);
    let fields = [
        ("version", stands.as_str()),
        ("carrier", "Fell & Daughters (invented)"),
        ("destination", "Silver works (invented)"),
        ("reference", "FD-119"),
        ("happened_at", at.as_str()),
    ];
    instructor.saves(&format!("{can}/remove"), &fields).await;
    let assistant = app.staff(Role::Assistant, "Otis Brae").await;
    let page = assistant.saves("/front/chemistry/sheets", &late).await;
    assert!(page.text("#unbooked ~ ul li").contains("the instructor decides"), "{}", page.text("main"));
    let home = assistant.get("/front").await.texts("#attention ~ ul li").join("; ");
    assert!(home.contains("Sheets that wait for the instructor’s decision: 10."), "{home}");
    let page = instructor.get("/front/chemistry").await;
    let run = page.attribute("#decide-run option", "value").expect("a sheet to decide about");
    let decision = [("run", run.as_str()), ("decision", "went")];
    assert_eq!(assistant.post("/front/chemistry/sheets/decide", &decision).await.status, StatusCode::FORBIDDEN);
    let page = instructor.saves("/front/chemistry/sheets/decide", &decision).await;
    assert!(page.text("#unbooked ~ ul li").contains("the instructor decided to leave them out"));
    let again = instructor.post("/front/chemistry/sheets/decide", &decision).await;
    assert_eq!(again.status, StatusCode::UNPROCESSABLE_ENTITY);
    nothing_is_wrong(&app).await;
}

#[tokio::test]
async fn a_removal_is_taken_back_before_the_retiring_it_rests_on() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let fixer = mixes(&instructor, ProductKind::Fixer, "2 L").await;
    let can = sets_up(&instructor, "spent fixer", "irritant").await;
    retires(&instructor, &fixer, &can, "1900", "").await;
    let at = local_now(&instructor);
    let fields = [
        ("version", "1"),
        ("carrier", "Fell & Daughters (invented)"),
        ("destination", "Silver works (invented)"),
        ("reference", "FD-120"),
        ("happened_at", at.as_str()),
    ];
    instructor.saves(&format!("{can}/remove"), &fields).await;
    let book = instructor.get("/front/waste/book").await;
    // newest first: removal, retiring, its measured shortfall, mixing
    let entries = "[aria-label='Entries of the silver book'] tbody ";
    assert_eq!(book.texts(&format!("{entries}tr")).len(), 4);
    let link = |row: usize| format!("tr:nth-child({row}) a[href*='/front/waste/book/']");
    let removal = book.attribute(&format!("{entries}{}", link(1)), "href").expect("a link");
    let retiring = book.attribute(&format!("{entries}{}", link(2)), "href").expect("a link");
    let refused = instructor.post(&retiring, &[("why", "misread")]).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    let said = refused.text(".wrong");
    assert!(
        said.contains("waste container 1 no longer has what this would take back: take entry 4 (removal)"),
        "{said}"
    );
    let unsaid = instructor.post(&removal, &[("why", " ")]).await;
    assert_eq!(unsaid.error_beside("why"), "must not be empty");
    instructor.saves(&removal, &[("why", "the carrier came on another day")]).await;
    instructor.saves(&retiring, &[("why", "misread the graduate")]).await;
    let page = instructor.get(&fixer).await;
    assert!(page.text("h1 .tag") != "retired" && page.text("main").contains("2000 mL"), "{}", page.text("main"));
    let page = instructor.get(&can).await;
    assert!(page.text("main").contains("nothing in it yet"), "its clock never began");
    // what was taken back stands taken back
    let again = instructor.get(&removal).await;
    assert!(again.text("main").contains("taken back already"));
    nothing_is_wrong(&app).await;
}

#[tokio::test]
async fn a_discharge_is_the_instructors_alone_and_names_its_authority_and_paper() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let assistant = app.staff(Role::Assistant, "Otis Brae").await;
    let stop = mixes(&assistant, ProductKind::StopBath, "1 L").await;
    let at = local_now(&instructor);
    let act = format!("{stop}/discharge");
    let paper = [("reference", "permit 12"), ("reference_on", "2025-11-03")];
    // an invented authority
    let fields = [("volume", "500"), ("happened_at", at.as_str()), ("authority", "Harbour sewer works")];
    let all: Vec<_> = fields.into_iter().chain(paper).collect();
    assert_eq!(assistant.post(&act, &all).await.status, StatusCode::FORBIDDEN);
    assert!(assistant.get(&stop).await.attribute("form[action$=discharge]", "action").is_none());
    let refused = instructor.post(&act, &[("volume", "500"), ("happened_at", &at), ("authority", "  ")]).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.text("#discharge-authority-error").contains("must name the authority"));
    assert!(
        !refused.text("#discharge-reference-error").is_empty()
            && !refused.text("#discharge-reference_on-error").is_empty()
    );
    assert_eq!(refused.attribute("[id=discharge-volume]", "value"), Some("500".to_owned()));
    let page = instructor.saves(&act, &all).await;
    assert_eq!(page.texts(".reading .value")[0], "500 mL");
    // nothing on the page suggests a drain
    assert!(!page.text("main").to_lowercase().contains("drain"));
    let register = assistant.get("/front/waste/discharges").await;
    let line = register.text("tbody tr");
    assert!(line.contains("stop bath 1") && line.contains("Harbour sewer works, permit 12 of 2025-11-03"), "{line}");
    assert!(register.text("caption").contains("500 mL"), "{}", register.text("caption"));
    nothing_is_wrong(&app).await;
}

#[tokio::test]
async fn a_discharge_at_or_above_the_sites_limit_is_asked_back_with_the_figure() {
    let (app, _anon, instructor, student) = TestApp::with_open_session().await;
    app.write(|tx| {
        Box::pin(async move {
            let site = store::site::sites::find(tx).await?.expect("a site");
            let source = "letter of 3 March".to_owned();
            let limited = Site { silver_limit_ug_per_l: Some(5_000), silver_limit_source: source, ..site };
            store::site::sites::update(tx, &limited).await?;
            Ok(String::new())
        })
    })
    .await;
    let fixer = mixes(&instructor, ProductKind::Fixer, "2 L").await;
    sets_in(&instructor, &fixer, Slot::Fixer).await;
    sheets_through(&app, &student, 4, 8).await;
    let at = local_now(&instructor);
    let fields = [
        ("volume", "500"),
        ("happened_at", at.as_str()),
        ("authority", "Harbour sewer works"),
        ("reference", "permit 12"),
        ("reference_on", "2025-11-03"),
    ];
    let act = format!("{fixer}/discharge");
    let asked = instructor.post(&act, &fields).await;
    assert_eq!(asked.status, StatusCode::UNPROCESSABLE_ENTITY);
    let question = asked.text("#discharge-volume-error");
    assert!(question.contains("at or above") && question.contains("the limit is 5.00 mg/L"), "{question}");
    let sure: Vec<_> = fields.into_iter().chain([("volume_sure", "yes")]).collect();
    instructor.saves(&act, &sure).await;
    nothing_is_wrong(&app).await;
}

#[tokio::test]
async fn fixer_does_not_go_into_a_developer_container_unless_somebody_says_why() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let fixer = mixes(&instructor, ProductKind::Fixer, "1 L").await;
    let can = sets_up(&instructor, "developer", "irritant").await;
    let refused = retires(&instructor, &fixer, &can, "1 L", "").await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(
        refused.error_beside("into").contains("sulphur dioxide") || refused.text(".wrong").contains("sulphur dioxide")
    );
    let saved = retires(&instructor, &fixer, &can, "1 L", "safety office, letter of 3 March").await;
    assert_eq!(saved.status, StatusCode::SEE_OTHER, "{}", saved.text("main"));
    let page = instructor.get(&can).await;
    assert!(page.text("main").contains("letter of 3 March"), "the reason stands in the book");
    // now fixer is in it: developer is refused there too
    let developer = mixes(&instructor, ProductKind::Developer, "1 L").await;
    let refused = retires(&instructor, &developer, &can, "1 L", "").await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY, "{}", refused.text("main"));
    nothing_is_wrong(&app).await;
}

#[tokio::test]
async fn a_full_container_takes_no_more_and_no_container_takes_more_than_it_holds() {
    let (_app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let can = sets_up(&instructor, "spent fixer", "irritant").await;
    let fixer = mixes(&instructor, ProductKind::Fixer, "25 L").await;
    let refused = retires(&instructor, &fixer, &can, "25 L", "").await;
    assert!(
        refused.text(".wrong").contains("waste container 1 takes 20 L, and with this it would hold 25 L"),
        "{}",
        refused.text(".wrong")
    );
    let at = local_now(&instructor);
    let act = format!("{can}/full");
    let page = instructor.saves(&act, &[("version", "1"), ("happened_at", &at)]).await;
    assert_eq!(page.text("h1 .tag"), "full");
    let small = mixes(&instructor, ProductKind::Fixer, "1 L").await;
    let refused = retires(&instructor, &small, &can, "1 L", "").await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.text(".wrong").contains("is full: choose another"), "{}", refused.text(".wrong"));
    // from a page loaded before: both versions are shown
    let stale = instructor.post(&act, &[("version", "1"), ("not", "yes")]).await;
    assert_eq!(stale.status, StatusCode::CONFLICT);
}

#[tokio::test]
async fn deadlines_name_their_clock_and_their_rule_or_say_that_none_was_entered() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let can = sets_up(&instructor, "spent fixer", "irritant").await;
    let page = instructor.get("/front/waste").await;
    assert!(page.text("main").contains("No deadline entered"));
    let site = app.the_evening().await.site;
    for (clock, days) in [(RuleClock::FirstDrop, 180), (RuleClock::Full, 10)] {
        let rule = SiteRule {
            id: app.state.mint(),
            site,
            asks: Asks::GoneWithin { clock, span: Span::Days(days) },
            or_next_visit: false,
            source: "safety office".to_owned(),
            entered_at: app.state.now(),
        };
        app.write(move |tx| {
            Box::pin(async move {
                store::site::site_rules::insert(tx, &rule, shimlight::domain::ids::Id::from_uuid(uuid::Uuid::nil()))
                    .await?;
                Ok(String::new())
            })
        })
        .await;
    }
    let fixer = mixes(&instructor, ProductKind::Fixer, "1 L").await;
    retires(&instructor, &fixer, &can, "1 L", "").await;
    let page = instructor.get(&can).await;
    let lines = page.texts("#by-when ~ ul li");
    assert!(lines[0].contains("remove by 15 Sep 2026") && lines[0].contains("180 days of the first drop"), "{lines:?}");
    assert!(
        lines[0].contains("179 days left") && lines[0].contains("with the start not counted, 16 Sep 2026"),
        "{lines:?}"
    );
    assert!(lines[0].contains("clock: first drop, began 20 Mar 2026"), "{lines:?}");
    assert!(lines[1].contains("its clock has not begun"), "{lines:?}");
    app.state.world.clock.forward_minutes(60 * 24 * 200);
    let instructor = app.staff(Role::Instructor, "Ines Quarry again").await;
    let page = instructor.get("/front/waste").await;
    assert_eq!(page.text("ul.plain .tag"), "overdue");
    let home = instructor.get("/front").await;
    let said = home.texts("#attention ~ ul li").join("; ");
    assert!(said.contains("Waste container 1: remove by 15 Sep 2026, 21 days overdue."), "{said}");
}

#[tokio::test]
async fn a_label_is_not_printed_while_it_would_say_nothing_of_the_hazards() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let unsaid = [("contents", "spent fixer"), ("capacity", "20 L"), ("hazards", " "), ("place", "under the bench")];
    let asked = instructor.post("/front/waste/containers", &unsaid).await;
    assert_eq!(asked.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(asked.error_beside("hazards").contains("the label needs them"), "{}", asked.text("main"));
    assert_eq!(asked.attribute("[name=place]", "value").as_deref(), Some("under the bench"), "kept");
    let can = sets_up(&instructor, "spent fixer", "irritant").await;
    // as it was set up before they were asked for
    app.write(|tx| {
        Box::pin(async move {
            sqlx::query("UPDATE waste_container SET hazards = ''").execute(tx).await.expect("a container");
            Ok(String::new())
        })
    })
    .await;
    let refused = instructor.get(&format!("{can}/label")).await;
    assert_eq!(refused.status, StatusCode::CONFLICT);
    assert_eq!(refused.text("h1"), "No label yet");
    let edited = [("version", "1"), ("hazards", "irritant, toxic to fish"), ("place", "B2"), ("capacity", "20 L")];
    instructor.saves(&format!("{can}/edit"), &edited).await;
    let label = instructor.get(&format!("{can}/label")).await;
    assert_eq!(label.status, StatusCode::OK);
    let said = label.text(".cut-card");
    assert!(said.contains("irritant, toxic to fish") && said.contains("contains silver"), "{said}");
}

#[tokio::test]
async fn a_container_that_was_there_before_the_book_opens_with_what_is_in_it() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let mut fields = vec![
        ("contents", "spent fixer"),
        ("capacity", "20 L"),
        ("hazards", "irritant"),
        ("already", "8 L"),
        ("silver", "4"),
        ("low", "1"),
        ("high", "9"),
    ];
    let refused = instructor.post("/front/waste/containers", &fields).await;
    assert!(refused.error_beside("since").contains("first drop"), "{}", refused.error_beside("since"));
    fields.push(("since", "2026-02-01T09:00"));
    let page = instructor.saves("/front/waste/containers", &fields).await;
    assert!(page.text("main").contains("8000 mL") && page.text("main").contains("4.0 g (1.0 to 9.0)"));
    assert!(page.texts("#about ~ dl dd").contains(&"1 Feb 2026, 09:00".to_owned()), "{}", page.text("dl"));
    let at = local_now(&instructor);
    let path = page.attribute("form[action$='/recover']", "action").expect("a form");
    let too_much =
        instructor.post(&path, &[("means", "electrolytic unit"), ("silver", "5"), ("happened_at", &at)]).await;
    assert!(too_much.text("#recover-silver-error").contains("reading"), "{}", too_much.text(".wrong"));
    let page =
        instructor.saves(&path, &[("means", "electrolytic unit"), ("silver", "3.5"), ("happened_at", &at)]).await;
    assert!(page.text("main").contains("0.50 g (0 to 5.5)"), "{}", page.text("main"));
    nothing_is_wrong(&app).await;
}

#[tokio::test]
async fn what_a_container_is_for_can_be_put_right_until_something_is_in_it() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let can = sets_up(&instructor, "developer", "irritant").await;
    let edited = |contents, version| {
        [("version", version), ("contents", contents), ("hazards", "irritant"), ("place", ""), ("capacity", "20 L")]
    };
    let page = instructor.saves(&format!("{can}/edit"), &edited("spent fixer", "1")).await;
    assert!(page.text("dl").contains("spent photographic fixer"), "{}", page.text("dl"));
    // the right container comes first in the list of a batch
    sets_up(&instructor, "developer", "irritant").await;
    let developer = mixes(&instructor, ProductKind::Developer, "1 L").await;
    let page = instructor.get(&developer).await;
    assert_eq!(page.text("#retire-into option"), "waste container 2 (developer)");
    let fixer = mixes(&instructor, ProductKind::Fixer, "1 L").await;
    retires(&instructor, &fixer, &can, "1 L", "").await;
    let refused = instructor.post(&format!("{can}/edit"), &edited("developer", "2")).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.text(".wrong").contains("something is in it already"), "{}", refused.text(".wrong"));
    nothing_is_wrong(&app).await;
}

#[tokio::test]
async fn hostile_and_foreign_words_are_shown_as_words() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let script = "<script>alert('fix')</script>";
    let long = "ש".repeat(390);
    let fields =
        [("contents", "mixed"), ("capacity", "20 L"), ("hazards", script), ("place", "\"><b>אאא"), ("already", "1 L")];
    let unsaid = instructor.post("/front/waste/containers", &fields).await;
    assert!(unsaid.error_beside("silver").contains("not known"), "{}", unsaid.text(".wrong"));
    let fields: Vec<_> = fields.into_iter().chain([("since", "2026-03-01T10:00"), ("silver_unknown", "yes")]).collect();
    let can = instructor.post("/front/waste/containers", &fields).await.location();
    let at = local_now(&instructor);
    let reason = [("loss", "spill"), ("volume", "10"), ("remark", long.as_str()), ("happened_at", at.as_str())];
    instructor.saves(&format!("{can}/write-off"), &reason).await;
    for path in [&can, &format!("{can}/label"), "/front/waste", "/front/waste/book", "/front/waste/disposal-log"] {
        let page = instructor.get(path).await;
        assert_eq!(page.status, StatusCode::OK, "{path}");
        assert!(!page.body.contains("<script>alert") && !page.body.contains("<b>א"), "{path}");
    }
    assert!(instructor.get(&format!("{can}/label")).await.text(".cut-card").contains(script));
    // nobody knows its silver: never 0 g
    let log = instructor.get("/front/waste/disposal-log").await;
    let silver = log.texts("tbody td:nth-child(8)");
    assert_eq!(silver[0], "not known, at most 12.0 g", "as on the page of the container");
    assert!(instructor.get(&can).await.text("main").contains("not known, at most"));
    assert!(instructor.get("/front/waste/book").await.text("main").contains("not known, at most 12.0 g"));
    let file = instructor.get("/front/exports/disposal-log.csv").await.body;
    let mut reader = csv::Reader::from_reader(file.as_bytes());
    let header = reader.headers().expect("a header").clone();
    let first = reader.records().next().expect("a row").expect("a record");
    let cell = |name: &str| &first[header.iter().position(|column| column == name).expect("a column")];
    assert_eq!((cell("silver_mg"), cell("silver_mg_per_l"), cell("basis")), ("", "", "unknown"));
    assert_eq!((cell("silver_low_mg"), cell("silver_high_mg")), ("0", "12000"));
    let statement = instructor.get("/front/waste/years/2026").await;
    assert_eq!(statement.texts("tbody th"), ["mixed photographic solutions *", "all together *"]);
    assert!(statement.text("main").contains("* The silver of a container in this line is not known"));
    let file = instructor.get("/front/exports/year-statement.csv").await.body;
    assert!(file.lines().skip(1).all(|line| line.split(',').nth(20) == Some("yes")), "{file}");
    nothing_is_wrong(&app).await;
}

#[tokio::test]
async fn a_moved_container_takes_no_more_and_what_applied_to_it_is_kept_when_it_leaves() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let can = sets_up(&instructor, "spent fixer", "irritant").await;
    let rule = [("clock", "moved"), ("span", "10"), ("unit", "days"), ("source", "safety office")];
    instructor.saves("/front/site/rules", &rule).await;
    let fixer = mixes(&instructor, ProductKind::Fixer, "1 L").await;
    retires(&instructor, &fixer, &can, "1 L", "").await;
    let (at, stands) = (local_now(&instructor), version(&instructor, &can).await);
    instructor.saves(&format!("{can}/moved"), &[("version", &stands), ("happened_at", &at)]).await;
    let more = mixes(&instructor, ProductKind::Fixer, "1 L").await;
    let refused = retires(&instructor, &more, &can, "1 L", "").await;
    assert!(refused.text(".wrong").contains("was moved"), "{}", refused.text(".wrong"));
    // moved by mistake, and moved again: both stay in sight
    let stands = version(&instructor, &can).await;
    instructor.saves(&format!("{can}/moved"), &[("version", &stands), ("not", "yes")]).await;
    let stands = version(&instructor, &can).await;
    let page = instructor.saves(&format!("{can}/moved"), &[("version", &stands), ("happened_at", &at)]).await;
    assert_eq!(page.texts("#about ~ details li").len(), 3, "{}", page.text("#about ~ details"));
    let stands = version(&instructor, &can).await;
    let removal = [
        ("version", stands.as_str()),
        ("carrier", "Fell & Daughters (invented)"),
        ("destination", "Silver works (invented)"),
        ("reference", "FD-121"),
        ("happened_at", at.as_str()),
    ];
    instructor.saves(&format!("{can}/remove"), &removal).await;
    // the rule ends, and another comes: what applied when it left stands
    let site = instructor.get("/front/site").await;
    let end = site.attribute("form[action$='/end']", "action").expect("a rule");
    instructor.saves(&end, &[]).await;
    let page = instructor.get(&can).await;
    let said = page.text("#by-when ~ ul");
    assert!(said.contains("remove by 29 Mar 2026") && said.contains("10 days of the day it was moved"), "{said}");
    let log = instructor.get("/front/exports/disposal-log.csv").await;
    let last = log.body.lines().last().expect("a row");
    assert!(last.contains(",2026-03-29,") && last.contains(",moved,"), "{last}");
    nothing_is_wrong(&app).await;
}

#[tokio::test]
async fn a_look_and_a_cartridge_written_down_by_mistake_are_taken_back_and_stay_in_sight() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let can = sets_up(&instructor, "spent fixer", "irritant").await;
    let at = local_now(&instructor);
    let look = [("closed", "yes"), ("labelled", "yes"), ("sound", "yes"), ("happened_at", at.as_str())];
    let page = instructor.saves(&format!("{can}/look"), &look).await;
    let id = page.attribute("#take-back-look option", "value").expect("a look");
    let act = format!("{can}/looks/take-back");
    let refused = instructor.post(&act, &[("look", &id), ("why", " ")]).await;
    assert!(!refused.text("#take-back-why-error").is_empty());
    let page = instructor.saves(&act, &[("look", &id), ("why", "it was container 2")]).await;
    let said = page.text("#looks ~ ul");
    assert!(said.contains("taken back") && said.contains("it was container 2"), "{said}");
    assert_eq!(
        instructor.post(&act, &[("look", &id), ("why", "again")]).await.status,
        StatusCode::UNPROCESSABLE_ENTITY
    );
    let change = [("cartridge", "number 5"), ("happened_at", at.as_str())];
    let page = instructor.saves("/front/waste/recovery/cartridges", &change).await;
    let id = page.attribute("#take-back-change option", "value").expect("a change");
    let back = [("change", id.as_str()), ("why", "it was not changed after all")];
    let page = instructor.saves("/front/waste/recovery/cartridges/take-back", &back).await;
    assert!(page.text("#cartridges ~ div").contains("it was not changed after all"), "{}", page.text("main"));
    nothing_is_wrong(&app).await;
}

#[tokio::test]
async fn what_was_mixed_against_an_objection_stands_on_the_label_and_the_limit_is_seen_at_a_glance() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let limit = [("silver-5", "yes"), ("verified", "yes")];
    instructor.saves("/front/site/example", &limit).await;
    let can = sets_up(&instructor, "spent fixer", "irritant").await;
    let developer = mixes(&instructor, ProductKind::Developer, "1 L").await;
    retires(&instructor, &developer, &can, "1 L", "safety office, letter of 3 March").await;
    let label = instructor.get(&format!("{can}/label")).await.text(".cut-card");
    assert!(label.contains("Also in it: developer"), "{label}");
    let at = local_now(&instructor);
    // a strip alone is no figure
    let strip = [("method", "silver estimating paper"), ("silver", "0.5"), ("happened_at", at.as_str())];
    let refused = instructor.post(&format!("{can}/reading"), &strip).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(!refused.text("#reading-low-error").is_empty(), "{}", refused.text(".wrong"));
    let strip: Vec<_> = strip.into_iter().chain([("low", "0.3"), ("high", "1")]).collect();
    instructor.saves(&format!("{can}/reading"), &strip).await;
    let waste = instructor.get("/front/waste").await.text("main");
    assert!(waste.contains("at or above the limit") && waste.contains("also in it"), "{waste}");
    let home = instructor.get("/front").await.texts("#attention ~ ul li").join("; ");
    assert!(home.contains("At or above the site’s limit for silver"), "{home}");
    let laboratory = [("method", "laboratory"), ("silver", "0.002"), ("happened_at", at.as_str())];
    let page = instructor.saves(&format!("{can}/reading"), &laboratory).await.text("#in-it ~ p .tag");
    assert_eq!(page, "below the limit");
    nothing_is_wrong(&app).await;
}
