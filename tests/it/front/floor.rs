//! The floor: who is where, and putting right what went wrong.

use std::sync::Arc;

use axum::http::StatusCode;
use shimlight::{
    domain::{baths::batch::Slot, ids::StudentId, people::actor::Role, stock::product::ProductKind},
    store,
};

use super::{
    chemistry::{mixes, sets_in},
    waste::{retires, sets_up},
};

use crate::{
    app::{Answer, Client, TestApp},
    bench::sheets::{id_of, sheet_in_the_sun, with_box, with_hole},
};

async fn evening() -> (Arc<TestApp>, Client, Client, String) {
    let (app, _anon, instructor, student) = TestApp::with_open_session().await;
    let floor = format!("/front/sessions/{}/floor", app.the_evening().await.session);
    (app, instructor, student, floor)
}

#[tokio::test]
async fn a_tray_whose_fixer_was_retired_says_that_nothing_stands_there() {
    let (app, instructor, _student, floor) = evening().await;
    let front = instructor.get("/front").await;
    assert!(front.text("[aria-labelledby=attention]").contains("By the sink there is no developer and no fixer"));
    let developer = mixes(&instructor, ProductKind::Developer, "1 L").await;
    sets_in(&instructor, &developer, Slot::Developer).await;
    let fixer = mixes(&instructor, ProductKind::Fixer, "1 L").await;
    sets_in(&instructor, &fixer, Slot::Fixer).await;
    let baths = instructor.get(&floor).await.texts("[data-part=baths] li");
    assert_eq!(baths.len(), 3);
    assert_eq!(baths[1], "stop bath: nothing stands here");
    assert!(!instructor.get("/front").await.text("main").contains("there is no"));

    let can = sets_up(&instructor, "spent fixer", "irritant").await;
    app.state.world.clock.forward_minutes(1);
    let answer = retires(&instructor, &fixer, &can, "1 L", "").await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text("main"));
    let page = instructor.get(&floor).await;
    let baths = page.texts("[data-part=baths] li");
    assert!(baths[0].starts_with("developer: developer 1"), "{baths:?}");
    assert_eq!(baths[2], "fixer: nothing stands here");
    assert_eq!(page.text("[data-part=baths] li:last-child .tag.change"), "nothing stands here");
    let front = instructor.get("/front").await;
    assert!(
        front
            .text("[aria-labelledby=attention]")
            .contains("First light is open, and in By the sink there is no fixer.")
    );
}

fn rows(page: &Answer) -> Vec<String> {
    page.texts("table tbody tr")
}

async fn log_of(app: &TestApp, student: StudentId) -> Vec<String> {
    let mut conn = app.state.store.read().await.expect("a reader");
    let lines = store::people::change_log::list_of(&mut conn, student).await.expect("lines");
    lines.into_iter().map(|line| format!("{} {}", line.what, line.detail).trim().to_owned()).collect()
}

#[tokio::test]
async fn a_line_goes_from_the_camera_to_the_report_as_records_come_in() {
    let (app, instructor, student, floor) = evening().await;
    app.on_roster(app.the_evening().await.section, "08", "Anselm Quarry").await;
    let page = instructor.get(&floor).await;
    assert_eq!(rows(&page), ["07 Teodora Vask none yet camera 0 none not yet"]);
    assert!(page.text("#not-seated + p").contains("08 Anselm Quarry"));

    student.saves("/bench/camera", &[("build", "box"), ("distance", "128"), ("width", "127"), ("height", "102")]).await;
    assert_eq!(rows(&instructor.get(&floor).await), ["07 Teodora Vask 1, box hole 0 none just now"]);
    with_hole(&student).await;
    assert_eq!(rows(&instructor.get(&floor).await), ["07 Teodora Vask 1, box sheets 0 none just now"]);
    student.saves("/bench/exposures", &sheet_in_the_sun("20", "too pale")).await;
    let line = "07 Teodora Vask 1, box sheets 1 no. 1: 20 s, too pale just now";
    assert_eq!(rows(&instructor.get(&floor).await), [line]);
    student.saves("/bench/exposures", &sheet_in_the_sun("33", "a little pale")).await;
    app.state.world.clock.forward_minutes(5);
    let line = "07 Teodora Vask 1, box prints 2 no. 2: 33 s, a little pale 5 min ago";
    assert_eq!(rows(&instructor.get(&floor).await), [line]);
    app.state.world.clock.forward_minutes(15);
    assert!(rows(&instructor.get(&floor).await)[0].ends_with("quiet for 20 min"));
}

#[tokio::test]
async fn partners_stand_on_one_line_with_their_camera() {
    let (app, instructor, student, floor) = evening().await;
    let evening = app.the_evening().await;
    with_box(&student).await;
    let partner = app.student(evening.section, "08", "Anselm Quarry").await;
    partner.saves("/bench/camera/join", &[("number", "1"), ("partner", "07")]).await;
    let page = instructor.get(&floor).await;
    assert_eq!(rows(&page), ["07 Teodora Vask 08 Anselm Quarry 1, box sheets 0 none just now"]);
}

#[tokio::test]
async fn the_board_follows_by_itself_until_it_is_held_still() {
    let (_app, instructor, _student, floor) = evening().await;
    let page = instructor.get(&floor).await;
    assert_eq!(page.attribute("[data-changes]", "data-changes"), Some(format!("{floor}/changes?by-itself")));
    assert!(
        page.body.contains(&format!("<noscript><meta http-equiv=\"refresh\" content=\"30; url={floor}?by-itself\">"))
    );
    let still = instructor.get(&format!("{floor}?still")).await;
    assert_eq!(still.attribute("[data-changes]", "data-changes"), None);
    assert!(!still.body.contains("http-equiv"));
}

#[tokio::test]
async fn a_board_nobody_looks_at_does_not_keep_a_shared_computer_signed_in() {
    let (app, _instructor, _student, floor) = evening().await;
    app.staff_with_password(Role::Assistant, "pat", "brass shim and needle").await;
    let pat = app.client();
    pat.post("/staff", &[("sign_in_name", "pat"), ("password", "brass shim and needle")]).await;
    for _ in 0..3 {
        assert_eq!(pat.get(&format!("{floor}?by-itself")).await.status, 200);
        app.state.world.clock.forward_minutes(6);
    }
    assert_eq!(pat.get(&format!("{floor}?by-itself")).await.status, 303);
}

#[tokio::test]
async fn a_lost_seat_key_is_reissued_in_two_clicks_and_the_old_one_ends() {
    let (app, instructor, student, floor) = evening().await;
    let id = student.student.expect("a student");
    let page = instructor.get(&floor).await;
    let link = page.attribute("tbody th a", "href").expect("a link on the name");
    assert_eq!(link, format!("{floor}/students/{id}"));
    let page = instructor.saves(&format!("{link}/new-key"), &[]).await;
    let key = page.text("strong.value");
    assert_eq!(student.get("/bench/key").await.status, 303, "the old sign-in has ended");
    let back = app.client();
    assert_eq!(back.post("/seat", &[("seat_key", &key)]).await.location(), "/bench");
    assert_eq!(back.get("/bench/key").await.text("p.whose"), "Teodora Vask");
    let page = instructor.saves("/front/passed-on", &[("back", &link), ("whose", &id.to_string())]).await;
    assert_eq!(page.text("strong.value"), "");
    assert_eq!(page.text("details li"), "20 Mar 2026, 12:00: seat key reissued");
    assert_eq!(log_of(&app, id).await, ["seat key reissued"]);
}

#[tokio::test]
async fn a_wrongly_taken_name_is_freed_and_its_owner_joins() {
    let (app, instructor, thief, floor) = evening().await;
    let id = thief.student.expect("a student");
    let page = instructor.saves(&format!("{floor}/students/{id}/free"), &[]).await;
    assert!(page.text("main").contains("Not seated yet"));
    assert_eq!(thief.get("/bench/key").await.status, 303);
    let owner = app.client();
    owner.saves("/door", &[("door_code", "QUAY7"), ("roster_number", "07"), ("family_name", "Vask")]).await;
    assert_eq!(log_of(&app, id).await, ["name freed", "seat taken"]);
}

#[tokio::test]
async fn a_student_is_moved_to_another_camera_or_to_none() {
    let (app, instructor, student, floor) = evening().await;
    let evening = app.the_evening().await;
    with_box(&student).await;
    let other = app.student(evening.section, "08", "Anselm Quarry").await;
    other.saves("/bench/camera", &[("build", "box"), ("distance", "90"), ("width", "100"), ("height", "125")]).await;
    let id = other.student.expect("a student");
    let path = format!("{floor}/students/{id}");
    let page = instructor.get(&path).await;
    let options = page.texts("#camera option");
    assert_eq!(options, ["no camera", "1, box (Teodora Vask)", "2, box (Anselm Quarry)"]);
    let mut conn = app.state.store.read().await.expect("a reader");
    let first =
        store::camera::cameras::find_by_number(&mut conn, evening.section, 1).await.expect("read").expect("there").id;

    instructor.saves(&format!("{path}/camera"), &[("camera", &first.to_string())]).await;
    assert!(rows(&instructor.get(&floor).await)[0].starts_with("07 Teodora Vask 08 Anselm Quarry 1, box"));
    instructor.saves(&format!("{path}/camera"), &[("camera", "none")]).await;
    assert!(rows(&instructor.get(&floor).await)[1].starts_with("08 Anselm Quarry none yet"));
    assert_eq!(log_of(&app, id).await, ["student moved camera 2 to 1", "student moved camera 1 to none"]);

    let nonsense: shimlight::domain::ids::CameraId = app.state.mint();
    for wrong in ["", "one", &nonsense.to_string()] {
        let answer = instructor.post(&format!("{path}/camera"), &[("camera", wrong)]).await;
        assert_eq!(answer.status, 422);
        assert_eq!(answer.error_beside("camera"), "choose one of those offered", "{wrong}");
    }
}

#[tokio::test]
async fn a_sheet_typed_in_under_the_wrong_camera_is_moved_and_forecast_anew_from_the_right_hole() {
    let (app, instructor, student, floor) = evening().await;
    let evening = app.the_evening().await;
    with_box(&student).await;
    let sheet = id_of(&student.saves("/bench/exposures", &sheet_in_the_sun("33", "right")).await);
    // the other box is 64 mm long: with the same hole f/128, four times the light
    let other = app.student(evening.section, "08", "Anselm Quarry").await;
    other.saves("/bench/camera", &[("build", "box"), ("distance", "64"), ("width", "100"), ("height", "80")]).await;
    let path = format!("{floor}/sheets/{sheet}");
    let page = instructor.get(&path).await;
    let version = page.attribute("main [name=version]", "value").expect("a version");
    let mut conn = app.state.store.read().await.expect("a reader");
    let second =
        store::camera::cameras::find_by_number(&mut conn, evening.section, 2).await.expect("read").expect("there").id;
    let (second, whose) = (second.to_string(), other.student.expect("a student").to_string());
    let place = [("camera", second.as_str()), ("student", whose.as_str()), ("version", version.as_str())];

    let answer = instructor.post(&path, &place).await;
    assert_eq!(answer.status, 422);
    assert!(answer.error_beside("camera").contains("no measured hole yet"));
    assert_eq!(answer.attribute("#student option[selected]", "value").as_deref(), Some(whose.as_str()), "kept");

    with_hole(&other).await;
    let before = store::exposure::exposures::find(&mut conn, sheet).await.expect("read").expect("there");
    instructor.saves(&path, &place).await;
    let after = store::exposure::exposures::find(&mut conn, sheet).await.expect("read").expect("there");
    assert_eq!((before.f_number_milli, after.f_number_milli), (256_000, 128_000));
    // ISO 2720: the time goes with the square of the f-number
    assert!((before.base_ms - 4 * after.base_ms).abs() <= 4, "{} {}", before.base_ms, after.base_ms);
    assert!(after.forecast_low_ms <= after.forecast_ms && after.forecast_ms <= after.forecast_high_ms);
    assert!(other.get("/bench/exposures").await.body.contains(&sheet.to_string()), "its owner sees it");
    assert!(!student.get("/bench/exposures").await.body.contains(&sheet.to_string()), "and nobody else");
    let lines = store::people::change_log::list_of(&mut conn, sheet).await.expect("lines");
    assert_eq!(lines.last().expect("a line").detail, "sheet 1: camera 1 to 2, student 07 to 08");

    let answer = instructor.post(&path, &place).await;
    assert_eq!(answer.status, 409, "moved from a stale page");
    assert_eq!(answer.text("h1"), "Changed in the meantime");
}

#[tokio::test]
async fn nothing_of_another_section_is_reached_through_this_sessions_floor() {
    let (app, instructor, _student, floor) = evening().await;
    let elsewhere = app.other_section("BAY22").await;
    let stranger = app.student(elsewhere, "07", "Olu Adeyemi").await;
    let id = stranger.student.expect("a student");
    assert_eq!(instructor.get(&format!("{floor}/students/{id}")).await.status, 404);
    for change in ["new-key", "free", "camera"] {
        let answer = instructor.post(&format!("{floor}/students/{id}/{change}"), &[("camera", "none")]).await;
        assert_eq!(answer.status, 404, "{change}");
    }
    assert_eq!(stranger.get("/bench/key").await.status, 200, "untouched");
}

#[tokio::test]
async fn the_worst_names_are_shown_as_they_are_and_run_nothing() {
    let (app, instructor, _student, floor) = evening().await;
    let section = app.the_evening().await.section;
    let long = "Ø".repeat(120);
    for (number, name) in [("21", "<script>alert(1)</script>"), ("22", "دانا \"الشمس\""), ("23", long.as_str())]
    {
        let student = app.student(section, number, name).await;
        let page = student.get("/bench/key").await;
        assert_eq!(page.text("p.whose"), name);
        assert!(!page.body.contains("<script>alert"), "{name}");
        let page = instructor.get(&format!("{floor}/students/{}", student.student.expect("a student"))).await;
        assert_eq!(page.text("h1"), format!("{number} {name}"));
        assert!(!page.body.contains("<script>alert"), "{name}");
    }
    app.on_roster(section, "24", "<b>not joined</b>").await;
    let page = instructor.get(&floor).await;
    assert!(!page.body.contains("<script>alert") && !page.body.contains("<b>not"), "{}", page.text("main"));
    assert!(rows(&page).iter().any(|row| row.starts_with("21 <script>alert(1)</script>")));
}
