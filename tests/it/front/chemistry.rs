//! `/front/chemistry`: an evening's tally, from the bottle to the bath that must be changed.

use std::sync::Arc;

use axum::http::StatusCode;
use shimlight::{
    domain::{
        baths::{
            batch::Slot,
            sheet_run::{NewSheetRun, SheetOf},
        },
        stock::product::{Product, ProductKind},
    },
    store::{self, baths::sheet_runs},
};

use crate::{
    app::{Answer, Client, TestApp},
    darkroom::product,
};

/// The product of a kind, put on the shelf.
pub async fn stocks(app: &TestApp, kind: ProductKind) -> String {
    let evening = app.the_evening().await;
    let product = product(app, evening.site, kind);
    let id = product.id.to_string();
    app.write(move |tx| {
        Box::pin(async move {
            store::stock::products::insert(tx, &product).await?;
            Ok(String::new())
        })
    })
    .await;
    id
}

/// Mixes a batch through the form and gives the path of its page.
pub async fn mixes(staff: &Client, kind: ProductKind, volume: &str) -> String {
    let product = stocks(&staff.app, kind).await;
    let at = local_now(staff);
    let answer = staff
        .post(
            "/front/chemistry/batches",
            &[("product", &product), ("parts", "1+4"), ("volume", volume), ("happened_at", &at), ("remark", "")],
        )
        .await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text("main"));
    answer.location()
}

/// Now, as the control of a form shows it.
pub fn local_now(client: &Client) -> String {
    let zone = jiff::tz::TimeZone::get("America/Denver").expect("bundled zones");
    client.app.state.now().as_local_control(&zone)
}

/// Sets a batch into a tray through the form on its page.
pub async fn sets_in(staff: &Client, batch: &str, slot: Slot) -> Answer {
    let line = staff.app.the_evening().await.tray_line;
    let place = format!("{line} {}", slot.as_str());
    let at = local_now(staff);
    staff.saves(&format!("{batch}/set-in"), &[("place", &place), ("happened_at", &at)]).await
}

/// Students put sheets of 4x5 inches through the trays.
pub async fn sheets_through(app: &Arc<TestApp>, student: &Client, runs: i64, sheets: i64) {
    let evening = app.the_evening().await;
    let actor = shimlight::domain::people::actor::Actor::Student(student.student.expect("a student"));
    for _ in 0..runs {
        let run = NewSheetRun {
            id: app.state.mint(),
            movement: app.state.mint(),
            site: evening.site,
            lab_session: Some(evening.session),
            tray_line: evening.tray_line,
            paper: evening.paper,
            what: SheetOf::TestStrip,
            student: student.student,
            sheets,
            area_mm2: sheets * 12_903,
            developed_at: app.state.now(),
        };
        let now = app.state.now();
        app.write(move |tx| {
            Box::pin(async move {
                sheet_runs::record(tx, actor, &run, now).await?;
                Ok(String::new())
            })
        })
        .await;
    }
}

pub async fn nothing_is_wrong(app: &TestApp) {
    let mut conn = app.state.store.read().await.expect("a reader");
    assert_eq!(store::engine::check::run(&mut conn).await.expect("a check"), []);
}

#[tokio::test]
async fn what_to_pour_together_is_shown_before_and_after() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let product = stocks(&app, ProductKind::Fixer).await;
    let page = instructor.get("/front/chemistry").await;
    assert_eq!(page.attribute("#mix ~ ul a", "href"), Some(format!("/front/chemistry/mix?product={product}")));
    let asked = format!("/front/chemistry/mix?product={product}&parts=1%2B4&volume=2+L&happened_at=2026-03-20T12:00");
    let page = instructor.get(&asked).await;
    assert_eq!(page.texts(".reading .value"), ["1600 mL", "400 mL"], "water first, then concentrate");
    assert!(page.text("main").contains("Nothing is saved yet"));
    assert_eq!(page.attribute("[name=volume]", "value"), Some("2 L".to_owned()), "what was typed stands there");
    assert_eq!(page.text("form > section + .actions button"), "It is mixed: save", "the button follows the amounts");

    let batch = mixes(&instructor, ProductKind::Fixer, "2 L").await;
    let page = instructor.get(&batch).await;
    assert!(page.text("h1").starts_with("Fixer 1"), "{}", page.text("h1"));
    assert!(page.text("main").contains("400 mL of concentrate and 1600 mL of water"));
    assert!(page.text("main").contains("by Ines Quarry"), "who mixed it");
    assert!(page.text(".saved").starts_with("Last saved: batch mixed"));
    nothing_is_wrong(&app).await;
}

/// What is counted of a product on the shelf, microlitres.
async fn on_shelf(app: &TestApp, product: &str) -> Option<i64> {
    let mut conn = app.state.store.read().await.expect("a reader");
    let found = store::stock::products::find(&mut conn, product.parse().expect("an id")).await.expect("a read");
    found.expect("a product").on_shelf_ul
}

#[tokio::test]
async fn mixing_takes_its_concentrate_off_the_shelf_and_asks_when_too_little_was_counted() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let evening = app.the_evening().await;
    let counted = Product { on_shelf_ul: Some(1_000_000), ..product(&app, evening.site, ProductKind::Fixer) };
    let fixer = counted.id.to_string();
    app.write(move |tx| {
        Box::pin(async move {
            store::stock::products::insert(tx, &counted).await?;
            Ok(String::new())
        })
    })
    .await;
    let at = local_now(&instructor);
    let mixed = |volume: &'static str| {
        [
            ("product", fixer.clone()),
            ("parts", "1+4".to_owned()),
            ("volume", volume.to_owned()),
            ("happened_at", at.clone()),
        ]
    };
    let sends = async |volume: &'static str, more: Option<(&'static str, &'static str)>| {
        let fields = mixed(volume);
        let fields: Vec<_> = fields.iter().map(|(name, value)| (*name, value.as_str())).chain(more).collect();
        instructor.post("/front/chemistry/batches", &fields).await
    };
    let first = sends("2 L", None).await.location();
    assert_eq!(on_shelf(&app, &fixer).await, Some(600_000), "400 mL of 1 L");

    // four litres would take 800 mL: said before, asked at the saving
    let ahead = format!("/front/chemistry/mix?product={fixer}&parts=1%2B4&volume=4+L");
    let page = instructor.get(&ahead).await;
    assert!(
        page.text("section .caution").contains("takes 800 mL of concentrate; 600 mL were counted"),
        "{}",
        page.text("main")
    );
    let asked = sends("4 L", None).await;
    assert_eq!(asked.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(asked.error_beside("recount").contains("600 mL were counted on the shelf"), "{}", asked.text("main"));
    assert_eq!(asked.attribute("[name=volume]", "value").as_deref(), Some("4 L"));
    assert_eq!(on_shelf(&app, &fixer).await, Some(600_000));
    assert_eq!(sends("4 L", Some(("recount", "yes"))).await.status, StatusCode::SEE_OTHER);
    assert_eq!(on_shelf(&app, &fixer).await, Some(0));

    // what was never mixed counts on the shelf again
    let link = "[aria-label='Entries of the silver book'] tbody tr:last-child a[href*='/front/waste/book/']";
    let take_back = instructor.get(&first).await.attribute(link, "href").expect("a link");
    instructor.saves(&take_back, &[("why", "wrong bottle")]).await;
    assert_eq!(on_shelf(&app, &fixer).await, Some(400_000));
    nothing_is_wrong(&app).await;
}

#[tokio::test]
async fn a_batch_is_offered_only_the_trays_that_take_it_and_where_it_does_not_stand() {
    let (_app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let offered = async || instructor.get("/front/chemistry").await.texts("[name=place] option");
    let nothing = instructor.get("/front/chemistry").await;
    assert!(nothing.text("#set-in ~ .empty").starts_with("No batch is waiting"), "{}", nothing.text("main"));
    let fixer = mixes(&instructor, ProductKind::Fixer, "1000").await;
    mixes(&instructor, ProductKind::Developer, "1000").await;
    let before = offered().await;
    let chosen = |words: &str| before.iter().filter(|option| option.starts_with(words)).cloned().collect::<Vec<_>>();
    let (fixers, developers) = (chosen("fixer "), chosen("developer "));
    assert!(!fixers.is_empty() && fixers.iter().all(|option| option.ends_with("fixer")), "{before:?}");
    assert!(!developers.is_empty() && developers.iter().all(|option| option.ends_with(": developer")), "{before:?}");
    sets_in(&instructor, &fixer, Slot::Fixer).await;
    let after = offered().await;
    assert!(after.iter().all(|option| !option.ends_with(": fixer")), "it stands there: {after:?}");
    assert!(developers.iter().all(|option| after.contains(option)), "{after:?}");
}

#[tokio::test]
async fn how_long_a_bath_has_stood_in_its_tray_counts_only_while_it_is_in_use() {
    let (_app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let stop = mixes(&instructor, ProductKind::StopBath, "1000").await;
    let first = sets_in(&instructor, &stop, Slot::StopBath).await;
    assert!(first.text("main").contains(" ago)"), "{}", first.text("main"));
    let can = super::waste::sets_up(&instructor, "stop bath", "irritant").await;
    super::waste::retires(&instructor, &stop, &can, "1000", "").await;
    let retired = instructor.get(&stop).await;
    assert_eq!(retired.text("h1 .tag"), "retired");
    let facts = retired.texts("dl.facts dd").join("; ");
    assert!(facts.contains("2026") && !facts.contains(" ago)"), "{facts}");
}

#[tokio::test]
async fn a_wrong_volume_is_named_beside_its_field_and_nothing_is_mixed() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let product = stocks(&app, ProductKind::Developer).await;
    let answer = instructor
        .post(
            "/front/chemistry/batches",
            &[("product", &product), ("parts", "1:9"), ("volume", "a bucket"), ("happened_at", "soon")],
        )
        .await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(answer.error_beside("volume").contains("2 L"), "{}", answer.error_beside("volume"));
    assert!(answer.error_beside("parts").contains("1+9"));
    assert!(answer.error_beside("happened_at").contains("date and time"));
    assert_eq!(answer.attribute("[name=volume]", "value"), Some("a bucket".to_owned()));
    let later = instructor
        .post(
            "/front/chemistry/batches",
            &[("product", &product), ("parts", "1+9"), ("volume", "1000"), ("happened_at", "2026-03-21T12:00")],
        )
        .await;
    assert_eq!(later.error_beside("happened_at"), "must not lie in the future");
    let mut conn = app.state.store.read().await.expect("a reader");
    assert!(store::baths::batches::list(&mut conn).await.expect("batches").is_empty());
}

#[tokio::test]
async fn the_evenings_tally_balances() {
    let (app, _anon, instructor, student) = TestApp::with_open_session().await;
    let developer = mixes(&instructor, ProductKind::Developer, "2000").await;
    let fixer = mixes(&instructor, ProductKind::Fixer, "4000").await;
    sets_in(&instructor, &developer, Slot::Developer).await;
    sets_in(&instructor, &fixer, Slot::Fixer).await;
    // 24 students x 8 sheets of 4x5
    sheets_through(&app, &student, 24, 8).await;
    let page = instructor.get(&fixer).await;
    assert!(page.text("main").contains("192 sheets"), "{}", page.text("dl"));
    // 2.40 g less what was carried off into the wash
    let silver = page.texts(".reading .interval").join(" ");
    assert!(silver.contains("2.4 g (0.86 to 3.9) in all, by area"), "{silver}");
    // 2.477 m² / (2.0645 m²/L x 4 L)
    assert!(page.text("main").contains("30 % of its capacity"), "{}", page.text("main"));
    assert_eq!(page.text("h1 .tag"), "use");
    // one sheet too many typed: the newest entry's movement is taken back
    sheets_through(&app, &student, 1, 1).await;
    let page = instructor.get(&fixer).await;
    let take_back = page.attribute("tbody tr:first-child a[href*='/front/waste/book/']", "href").expect("a link");
    let asked = instructor.get(&take_back).await;
    assert_eq!(asked.text("h1"), "Take back: sheet");
    let book = instructor.saves(&take_back, &[("why", "typed twice")]).await;
    assert_eq!(book.text("h1"), "Silver book");
    let page = instructor.get(&fixer).await;
    assert!(page.text("main").contains("192 sheets"), "the sheet is gone from the batch");
    // what was saved last on its page is what was taken back, and when
    let at = local_now(&instructor);
    let spill = [("loss", "spill"), ("volume", "10"), ("remark", "dripped"), ("happened_at", at.as_str())];
    let page = instructor.saves(&format!("{fixer}/write-off"), &spill).await;
    assert!(page.text(".saved").contains("spill written off"), "{}", page.text(".saved"));
    app.state.world.clock.forward_minutes(7);
    let take_back = page.attribute("tbody tr:first-child a[href*='/front/waste/book/']", "href").expect("a link");
    instructor.saves(&take_back, &[("why", "it was water")]).await;
    let saved = instructor.get(&fixer).await.text(".saved");
    let now = app.state.now().as_words(&jiff::tz::TimeZone::get("America/Denver").expect("bundled zones"));
    assert_eq!(saved, format!("Last saved: spill taken back, {now}"));
    nothing_is_wrong(&app).await;
}

#[tokio::test]
async fn a_bath_past_its_capacity_is_to_be_changed_and_says_why() {
    let (app, _anon, instructor, student) = TestApp::with_open_session().await;
    let fixer = mixes(&instructor, ProductKind::Fixer, "500 mL").await;
    sets_in(&instructor, &fixer, Slot::Fixer).await;
    sheets_through(&app, &student, 1, 70).await;
    let page = instructor.get("/front/chemistry").await;
    assert_eq!(page.text("#in-use ~ .wide .tag"), "watch", "87 % used");
    sheets_through(&app, &student, 1, 20).await;
    let page = instructor.get("/front/chemistry").await;
    assert_eq!(page.text("#in-use ~ .wide .tag"), "change");
    assert!(page.text("main").contains("112 % of its capacity used"), "{}", page.text("main"));
}

#[tokio::test]
async fn a_reading_takes_the_place_of_the_estimate_and_both_are_kept() {
    let (app, _anon, instructor, student) = TestApp::with_open_session().await;
    let fixer = mixes(&instructor, ProductKind::Fixer, "1000").await;
    sets_in(&instructor, &fixer, Slot::Fixer).await;
    sheets_through(&app, &student, 4, 10).await;
    let at = local_now(&instructor);
    let reading =
        [("method", "silver estimating paper"), ("silver", "0.8"), ("low", "0.5"), ("high", "1"), ("happened_at", &at)];
    let page = instructor.saves(&format!("{fixer}/reading"), &reading).await;
    let row = page.texts("#readings ~ .wide td");
    assert_eq!(row[0], "silver estimating paper");
    assert_eq!(row[1], "0.80 g/L (0.50 to 1.0)");
    // both sides in grams a litre, so that they can be compared
    assert!(row[2].contains(" g/L (0.49") && row[2].ends_with(" g in all)"), "the estimate before: {row:?}");
    assert!(page.texts(".reading .interval").join(" ").contains("by silver estimating paper"));
    // a sheet older than the reading stands until the reading is taken back
    let sheet = page.attribute("tbody tr:nth-child(2) a[href*='/front/waste/book/']", "href").expect("a link");
    let refused = instructor.post(&sheet, &[("why", "never happened")]).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.text(".wrong").contains("take the reading back first"), "{}", refused.text(".wrong"));
    let backwards = [("method", "laboratory"), ("silver", "0.8"), ("low", "0.9"), ("high", "1"), ("happened_at", &at)];
    let refused = instructor.post(&format!("{fixer}/reading"), &backwards).await;
    assert_eq!(refused.text("#reading-low-error"), "must not be more than the best figure");
    nothing_is_wrong(&app).await;
}

#[tokio::test]
async fn a_spill_takes_its_silver_along_and_evaporation_leaves_it() {
    let (app, _anon, instructor, student) = TestApp::with_open_session().await;
    let fixer = mixes(&instructor, ProductKind::Fixer, "1000").await;
    sets_in(&instructor, &fixer, Slot::Fixer).await;
    sheets_through(&app, &student, 1, 10).await;
    let at = local_now(&instructor);
    let act = format!("{fixer}/write-off");
    let nothing_said = instructor.post(&act, &[("loss", "spill"), ("volume", "100"), ("happened_at", &at)]).await;
    assert_eq!(nothing_said.text("#write-off-remark-error"), "must not be empty");
    let fields = [("loss", "spill"), ("volume", "500"), ("remark", "tray knocked over"), ("happened_at", at.as_str())];
    let page = instructor.saves(&act, &fields).await;
    let after_spill = page.texts(".reading .value");
    let fields = [("loss", "evaporation"), ("volume", "100"), ("remark", "warm week"), ("happened_at", at.as_str())];
    let page = instructor.saves(&act, &fields).await;
    let dried = page.texts(".reading .value");
    assert_eq!((after_spill[0].as_str(), dried[0].as_str()), ("495 mL", "395 mL"));
    assert!(dried[1] > after_spill[1], "the same silver in less liquid: {after_spill:?} {dried:?}");
    let too_much = [("loss", "sample"), ("volume", "2 L"), ("remark", "for the lab"), ("happened_at", at.as_str())];
    let refused = instructor.post(&act, &too_much).await;
    assert!(refused.text("#write-off-volume-error").contains("more than the book allows"));
    nothing_is_wrong(&app).await;
}

#[tokio::test]
async fn topping_up_measures_first_and_raises_the_capacity() {
    let (app, _anon, instructor, student) = TestApp::with_open_session().await;
    let fixer = mixes(&instructor, ProductKind::Fixer, "1000").await;
    sets_in(&instructor, &fixer, Slot::Fixer).await;
    sheets_through(&app, &student, 1, 80).await;
    let at = local_now(&instructor);
    let silent = [("measured", "900"), ("addition", "fresh"), ("added", "1 L"), ("happened_at", at.as_str())];
    let refused = instructor.post(&format!("{fixer}/top-up"), &silent).await;
    assert!(refused.text("#top-up-missing-error").contains("are missing"), "{}", refused.text(".wrong"));
    let fields: Vec<_> = silent.into_iter().chain([("missing", "evaporated")]).collect();
    let page = instructor.saves(&format!("{fixer}/top-up"), &fields).await;
    assert_eq!(page.texts(".reading .value")[0], "1900 mL");
    assert!(page.text("main").contains("25 % of its capacity"), "80 sheets in two litres: {}", page.text("main"));
    nothing_is_wrong(&app).await;
}

#[tokio::test]
async fn sheets_that_found_no_fixer_are_in_sight_and_booked_once_it_is_set_in_with_its_time() {
    let (app, _anon, instructor, student) = TestApp::with_open_session().await;
    let fixer = mixes(&instructor, ProductKind::Fixer, "1000").await;
    app.state.world.clock.forward_minutes(10);
    sheets_through(&app, &student, 2, 3).await;
    let page = instructor.get("/front/chemistry").await;
    assert_eq!(page.texts("#unbooked ~ ul li").len(), 2);
    assert!(page.text("#unbooked ~ ul li").contains("no fixer stood in the line then"));
    let nothing = instructor.post("/front/chemistry/sheets/look-again", &[]).await;
    assert_eq!(nothing.status, StatusCode::UNPROCESSABLE_ENTITY);
    app.state.world.clock.forward_minutes(20);
    let line = app.the_evening().await.tray_line;
    let place = format!("{line} fixer");
    instructor.saves(&format!("{fixer}/set-in"), &[("place", &place), ("happened_at", "2026-03-20T12:05")]).await;
    let page = instructor.saves("/front/chemistry/sheets/look-again", &[]).await;
    assert!(page.texts("#unbooked").is_empty(), "nothing is left unbooked");
    let page = instructor.get(&fixer).await;
    assert!(page.text("main").contains("6 sheets"));
    nothing_is_wrong(&app).await;
}

#[tokio::test]
async fn staff_record_sheets_that_no_student_types_in() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let fixer = mixes(&instructor, ProductKind::Fixer, "1000").await;
    sets_in(&instructor, &fixer, Slot::Fixer).await;
    let evening = app.the_evening().await;
    let (line, paper, at) = (evening.tray_line.to_string(), evening.paper.to_string(), local_now(&instructor));
    let fields = [
        ("line", line.as_str()),
        ("paper", paper.as_str()),
        ("what", "other"),
        ("sheets", "5"),
        ("width", "4 in"),
        ("height", "5 in"),
        ("happened_at", at.as_str()),
    ];
    instructor.saves("/front/chemistry/sheets", &fields).await;
    let page = instructor.get("/front/chemistry/sheets").await;
    assert_eq!(page.texts("#tally ~ table td"), ["5"]);
    let page = instructor.get(&fixer).await;
    assert!(page.text("main").contains("5 sheets, 0.0645 m²"), "{}", page.text("dl"));
    nothing_is_wrong(&app).await;
}

#[tokio::test]
async fn a_batch_mixed_by_mistake_is_put_away_empty_unless_it_was_used() {
    let (app, _anon, instructor, student) = TestApp::with_open_session().await;
    let unused = mixes(&instructor, ProductKind::Fixer, "1000").await;
    let used = mixes(&instructor, ProductKind::Fixer, "2000").await;
    sets_in(&instructor, &used, Slot::Fixer).await;
    sheets_through(&app, &student, 1, 1).await;
    // the newest entry stands first: the mixing is the last
    let link = "[aria-label='Entries of the silver book'] tbody tr:last-child a[href*='/front/waste/book/']";
    let take_back = instructor.get(&used).await.attribute(link, "href").expect("a link");
    let refused = instructor.post(&take_back, &[("why", "wrong bottle")]).await;
    assert!(refused.text(".wrong").contains("the batch was used since"), "{}", refused.text(".wrong"));
    let take_back = instructor.get(&unused).await.attribute(link, "href").expect("a link");
    instructor.saves(&take_back, &[("why", "wrong bottle")]).await;
    let page = instructor.get(&unused).await;
    assert_eq!(page.text("h1 .tag"), "retired");
    assert!(page.text("main").contains("with nothing left in it"));
    nothing_is_wrong(&app).await;
}

#[tokio::test]
async fn students_reach_none_of_it() {
    let (_app, anon, instructor, student) = TestApp::with_open_session().await;
    let fixer = mixes(&instructor, ProductKind::Fixer, "1000").await;
    for path in ["/front/chemistry", fixer.as_str(), "/front/chemistry/sheets"] {
        assert_eq!(student.get(path).await.status, StatusCode::FORBIDDEN, "{path}");
        assert_eq!(anon.get(path).await.status, StatusCode::SEE_OTHER, "{path}");
    }
    assert_eq!(student.post(&format!("{fixer}/retire"), &[]).await.status, StatusCode::FORBIDDEN);
}
