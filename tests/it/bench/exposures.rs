//! From the light to seconds, to a sheet, to what it teaches.

use axum::http::StatusCode;
use shimlight::{
    domain::{
        baths::{batch::Slot, sheet_run::SheetOf},
        ids::FormId,
        stock::product::ProductKind,
    },
    store,
};

use super::sheets::{but, forecast_in_the_sun, id_of, seconds, sheet_in_the_sun, version_of, with_box};
use crate::{
    app::{Client, TestApp},
    darkroom::Darkroom,
};

pub async fn at_the_box() -> (std::sync::Arc<TestApp>, Client) {
    let (app, _anon, _instructor, student) = TestApp::with_open_session().await;
    with_box(&student).await;
    (app, student)
}

/// Closes the session.
async fn closed(app: &TestApp) {
    let evening = app.the_evening().await;
    let at = app.state.now();
    app.write(move |tx| {
        Box::pin(async move {
            let session = store::evening::lab_sessions::find(tx, evening.session).await?.expect("a session");
            let closed = session.state.close(at).expect("it was open");
            store::evening::lab_sessions::update_state(tx, evening.session, closed).await?;
            Ok(String::new())
        })
    })
    .await;
}

async fn count(app: &TestApp) -> usize {
    let session = app.the_evening().await.session;
    let mut conn = app.state.store.read().await.expect("a reader");
    store::exposure::exposures::list_of_session(&mut conn, session).await.expect("exposures").len()
}

#[tokio::test]
async fn a_hole_of_f256_in_full_sun_with_paper_at_ei_6_asks_for_half_a_minute() {
    let (_app, student) = at_the_box().await;
    let page = student.get("/bench/exposures?sky=full-sun&sun=front").await;
    // t = 100 N² / (2^EV EI) = 100 × 256² / (32768 × 6) = 33.3 s: ISO 2720 with EV 15 of the ANSI PH2.7 table
    assert_eq!(page.text("p.reading .value"), "33 s");
    let facts = page.texts("dl.facts dd");
    assert!(facts.iter().any(|fact| fact.contains("no experience yet")), "{facts:?}");
    assert!(facts.iter().any(|fact| fact.contains("0.500 mm as measured, f/256")), "{facts:?}");
    assert!(facts.iter().any(|fact| fact.contains("12 s, 33 s and 1 min 35 s (1.5 stops apart)")), "{facts:?}");
    assert!(facts.contains(&"8 s · 17 s · 33 s · 1 min 5 s · 2 min 15 s, 1 stop apart".to_owned()), "{facts:?}");
    assert!(page.text("details.working").contains("100 × 256² / (2^15.0 × 6)"), "{}", page.text("details.working"));
    assert!(page.text("aside.caution").contains("Never look at the sun"));
}

#[tokio::test]
async fn before_the_hole_is_measured_the_target_is_used_and_said_and_nothing_is_recorded() {
    let (app, _anon, _instructor, student) = TestApp::with_open_session().await;
    assert!(student.get("/bench/exposures").await.text("p.empty").contains("no camera yet"));
    student.saves("/bench/camera", &[("build", "box"), ("distance", "120"), ("width", "100"), ("height", "80")]).await;
    let page = student.get("/bench/exposures?sky=full-sun").await;
    // N = 120 / 0.488 = 246: 100 × 246² / (32768 × 6) = 30.7 s
    assert_eq!(page.text("p.reading .value"), "31 s");
    assert!(page.text("main").contains("With the target hole"), "{}", page.text("main"));
    assert_eq!(page.attribute("form[method=post][action='/bench/exposures']", "action"), None);
    let answer = student.post("/bench/exposures", &sheet_in_the_sun("31", "")).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(answer.text("main").contains("measure the hole"), "{}", answer.text("main"));
    assert_eq!(count(&app).await, 0);
}

#[tokio::test]
async fn a_sheet_is_recorded_with_its_number_and_what_was_understood() {
    let (app, student) = at_the_box().await;
    let page = student.saves("/bench/exposures", &sheet_in_the_sun("1:05", "")).await;
    assert_eq!(page.text("h1"), "Sheet 1");
    assert_eq!(page.text("p.reading .value"), "1 min 5 s");
    assert!(page.text("p.saved").contains("sheet recorded (sheet 1, 1 min 5 s)"), "{}", page.text("p.saved"));
    let list = student.get("/bench/exposures").await;
    assert_eq!(list.text("table:last-of-type tbody th a"), "sand or snow in full sun");
    assert!(list.texts("td").contains(&"not looked at yet".to_owned()));
    // the size used last is offered again
    assert_eq!(list.attribute("[name=sheet]", "value").as_deref(), Some("4x5in"));

    let mut conn = app.state.store.read().await.expect("a reader");
    let stored = store::exposure::exposures::find(&mut conn, id_of(&page)).await.expect("read").expect("stored");
    assert_eq!((stored.made_ms, stored.base_ms, stored.f_number_milli), (65_000, 33_333, 256_000));
    assert_eq!((stored.ev100_milli, stored.exposure_index_milli, stored.based_on), (15_000, 6_000, 0));
    assert_eq!(stored.sheet.area_mm2(), 12_903);
}

#[tokio::test]
async fn a_first_sheet_too_pale_makes_the_second_suggestion_longer() {
    let (_app, student) = at_the_box().await;
    let first = forecast_in_the_sun(&student).await;
    let sheet = student.saves("/bench/exposures", &sheet_in_the_sun("33", "too pale")).await;
    assert!(sheet.text("main").contains("It needed 1.0 stop more"), "{}", sheet.text("main"));
    assert!(sheet.text("main").contains("about 1 min 6 s would have been right"), "{}", sheet.text("main"));
    assert!(!sheet.text("main").contains("gives the seconds"), "this page does: {}", sheet.text("main"));
    let page = student.get("/bench/exposures?sky=full-sun&sun=front").await;
    assert!(seconds(&page) > 1.3 * first, "{first} then {}", seconds(&page));
    assert!(page.text("main").contains("rests on 1 exposure on this paper"), "{}", page.text("main"));
    // the table of skies still says what the hand gets
    let by_hand = student.get("/bench/exposures").await.texts("[aria-label='Times by sky'] td:nth-child(3)");
    assert_eq!(by_hand[..2], ["17 s", "33 s"], "{by_hand:?}");
}

#[tokio::test]
async fn a_partners_sheet_teaches_and_another_camera_of_the_section_learns_a_share() {
    let (app, student) = at_the_box().await;
    let section = app.the_evening().await.section;
    let partner = app.student(section, "08", "Ilka Brandt").await;
    partner.saves("/bench/camera/join", &[("number", "1"), ("partner", "07")]).await;
    let other = app.student(section, "09", "Noor Halim").await;
    with_box(&other).await;
    let before = forecast_in_the_sun(&other).await;

    let sheet = partner.saves("/bench/exposures", &sheet_in_the_sun("33", "much too pale")).await;

    let (shared, share) = (forecast_in_the_sun(&student).await, forecast_in_the_sun(&other).await);
    assert!(shared > share && share > before, "{shared} {share} {before}");
    let path = format!("/bench/exposures/{}", id_of(&sheet));
    assert_eq!(student.get(&path).await.status, StatusCode::OK);
    // somebody else's sheet is as good as none
    assert_eq!(other.get(&path).await.status, StatusCode::NOT_FOUND);
    assert_eq!(other.get(&format!("{path}/correct")).await.status, StatusCode::NOT_FOUND);
    let judged = other.post(&format!("{path}/judge"), &[("version", "1"), ("verdict", "right")]).await;
    assert_eq!(judged.status, StatusCode::NOT_FOUND);
    assert!(!other.get("/bench/exposures").await.text("main").contains("Sheet 1"));
}

#[tokio::test]
async fn a_leak_is_kept_but_does_not_teach() {
    let (_app, student) = at_the_box().await;
    let before = forecast_in_the_sun(&student).await;
    let leaked = but(sheet_in_the_sun("33", "too dark"), &[("fault", "leak")]);
    let sheet = student.saves("/bench/exposures", &leaked).await;
    assert!(sheet.text("main").contains("tape it"), "{}", sheet.text("main"));
    assert_eq!(forecast_in_the_sun(&student).await, before);
}

#[tokio::test]
async fn after_an_all_white_sheet_four_times_the_light_and_after_an_all_black_one_a_quarter() {
    let (_app, student) = at_the_box().await;
    student.saves("/bench/exposures", &sheet_in_the_sun("33", "all white")).await;
    let page = student.get("/bench/exposures?sky=full-sun&sun=front").await;
    assert_eq!(page.text("p.reading .value"), "2 min 10 s");
    assert!(page.text("main").contains("Sheet 1 came out all white after 33 s"), "{}", page.text("main"));
    student
        .saves(
            "/bench/exposures",
            &but(sheet_in_the_sun("2 min 12 s", "all black"), &[("made_at", "2026-03-20T12:00")]),
        )
        .await;
    let page = student.get("/bench/exposures?sky=full-sun&sun=front").await;
    assert_eq!(page.text("p.reading .value"), "33 s");
    // in another light it is the light that is quartered, not the seconds
    let page = student.get("/bench/exposures?sky=hazy-sun&sun=front").await;
    assert_eq!(page.text("p.reading .value"), "1 min 5 s");
}

#[tokio::test]
async fn the_same_form_sent_twice_makes_one_sheet() {
    let (app, student) = at_the_box().await;
    let form: FormId = app.state.mint();
    let fields = sheet_in_the_sun("33", "");
    let first = student.post_as("/bench/exposures", &form.to_string(), &fields).await;
    let second = student.post_as("/bench/exposures", &form.to_string(), &fields).await;
    assert_eq!((first.status, second.status), (StatusCode::SEE_OTHER, StatusCode::SEE_OTHER));
    assert_eq!(first.location(), second.location());
    assert_eq!(count(&app).await, 1);
    let other = student.post_as("/bench/exposures", &form.to_string(), &sheet_in_the_sun("34", "")).await;
    assert_eq!(other.status, StatusCode::CONFLICT);
    assert_eq!(count(&app).await, 1);
}

#[tokio::test]
async fn each_mistake_is_told_beside_its_field_and_what_was_typed_stays() {
    let (app, student) = at_the_box().await;
    for (field, value, words) in [
        ("made", "", "type how long it was open"),
        ("made", "a while", "is not a time"),
        ("made", "-12", "is not a time"),
        ("made", "0", "thousandth of a second"),
        ("made", "1e9", "is not a time"),
        ("made", "99999 h", "11 days"),
        ("made", "1:75", "is not a time"),
        ("made_at", "yesterday", "must be a date and time"),
        ("made_at", "2031-01-01T10:00", "lies ahead"),
        ("made_at", "2026-03-08T02:30", "the clocks went forward"),
        ("made", "1,200", "can be read two ways"),
        ("reading", "EV 1,250", "can be read two ways"),
        ("aim", "the moon", "choose one of those offered"),
        ("point", "far left", "type how far across"),
        ("sheet", "4x5", "with its unit"),
        ("sheet", "0x0in", "with its unit"),
        ("sky", "", "describe the sky"),
        ("sky", "starlight", "describe the sky"),
        ("sun", "above", "choose one of those offered"),
        ("reading", "NaN lx", "is not a reading"),
        ("reading", "EV 99", "from -10 to 25 EV"),
        ("developed", "", "say whether it went through"),
        ("verdict", "splendid", "choose one of those offered"),
        ("fault", "gremlins", "choose one of those offered"),
        ("stops", "1", "goes with “stops given”"),
        ("remark", "\u{7}", "cannot be shown"),
    ] {
        let verdict = if field == "stops" { "right" } else { "" };
        let answer = student.post("/bench/exposures", &but(sheet_in_the_sun("33", verdict), &[(field, value)])).await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{field} {value}");
        let beside = answer.text(&format!("[id=record-{field}-error]"));
        assert!(beside.contains(words), "{field} {value}: {beside}");
    }
    let all =
        student.post("/bench/exposures", &[("made", "x"), ("sheet", "y"), ("made_at", "z"), ("reading", "w")]).await;
    assert_eq!(all.texts("[id=record] .error").len(), 5, "{:?}", all.texts(".error"));
    assert_eq!(all.attribute("[name=made]", "value").as_deref(), Some("x"));
    assert_eq!(count(&app).await, 0);
}

#[tokio::test]
async fn a_number_of_stops_may_be_given_and_is_kept_as_it_was_found() {
    let (app, student) = at_the_box().await;
    let given = but(sheet_in_the_sun("33", "stops given"), &[("stops", "-1,5"), ("stops_by", "scan")]);
    let sheet = student.saves("/bench/exposures", &given).await;
    assert!(
        sheet.texts("p.reading .value").contains(&"1.5 stops too dark, from a scan".to_owned()),
        "{}",
        sheet.text("main")
    );
    let mut conn = app.state.store.read().await.expect("a reader");
    let stored = store::exposure::exposures::find(&mut conn, id_of(&sheet)).await.expect("read").expect("stored");
    let judgement = stored.judgement.expect("judged");
    assert_eq!(judgement.result, Some((-1500, shimlight::domain::exposure::verdict::ResultSource::Scan)));
    for bad in ["", "x", "9", "--1"] {
        let fields = but(sheet_in_the_sun("33", "stops given"), &[("stops", bad)]);
        let answer = student.post("/bench/exposures", &fields).await;
        assert!(answer.text("[id=record-stops-error]").contains("type how many stops"), "{bad}");
    }
}

#[tokio::test]
async fn judging_from_a_stale_page_is_refused_with_both_versions() {
    let (_app, student) = at_the_box().await;
    let sheet = student.saves("/bench/exposures", &sheet_in_the_sun("33", "")).await;
    let path = format!("/bench/exposures/{}", id_of(&sheet));
    let version = version_of(&sheet, "judge");
    let through = [("developed", "yes"), ("developed_at", "2026-03-20T12:00")];
    let right = [("version", version.as_str()), ("verdict", "right"), through[0], through[1]];
    student.saves(&format!("{path}/judge"), &right).await;
    let stale = student.post(&format!("{path}/judge"), &[("version", &version), ("verdict", "too dark")]).await;
    assert_eq!(stale.status, StatusCode::CONFLICT);
    let cells = stale.texts("table td");
    assert!(cells.contains(&"too dark".to_owned()) && cells.contains(&"right".to_owned()), "{cells:?}");
    let nothing = student.post(&format!("{path}/judge"), &[("version", "2"), ("verdict", "")]).await;
    assert_eq!(nothing.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(nothing.text("[id=judge-verdict-error]").contains("the nearest is good enough"));
}

#[tokio::test]
async fn a_correction_moves_base_and_forecast_with_the_light_and_a_stale_one_is_refused() {
    let (app, student) = at_the_box().await;
    let sheet = student.saves("/bench/exposures", &sheet_in_the_sun("33", "right")).await;
    let id = id_of(&sheet);
    let path = format!("/bench/exposures/{id}/correct");
    let form = student.get(&path).await;
    assert_eq!(form.attribute("[name=made]", "value").as_deref(), Some("33 s"));
    assert_eq!(form.attribute("[name=sky] [selected]", "value").as_deref(), Some("full-sun"));
    let corrected = but(sheet_in_the_sun("40", "right"), &[("sky", "hazy-sun"), ("version", "1")]);
    student.saves(&path, &corrected).await;

    let mut conn = app.state.store.read().await.expect("a reader");
    let stored = store::exposure::exposures::find(&mut conn, id).await.expect("read").expect("stored");
    drop(conn);
    assert_eq!((stored.made_ms, stored.ev100_milli, stored.base_ms), (40_000, 14_000, 66_666));
    assert!((66_660..=66_670).contains(&stored.forecast_ms), "{}", stored.forecast_ms);
    assert_eq!(stored.version, 2);

    let again = student.post(&path, &but(sheet_in_the_sun("50", "right"), &[("version", "1")])).await;
    assert_eq!(again.status, StatusCode::CONFLICT);
    let cells = again.texts("table td");
    assert!(cells.contains(&"50 s".to_owned()) && cells.contains(&"40 s".to_owned()), "{cells:?}");
    let bad = student.post(&path, &but(sheet_in_the_sun("", "right"), &[("version", "2")])).await;
    assert_eq!(bad.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(bad.error_beside("made").contains("type how long"));
}

#[tokio::test]
async fn a_sheet_counts_in_the_trays_once_and_a_corrected_size_counts_anew() {
    let (app, student) = at_the_box().await;
    let developed = but(sheet_in_the_sun("33", ""), &[("developed", "yes"), ("developed_at", "2026-03-20T12:00")]);
    let sheet = student.saves("/bench/exposures", &developed).await;
    let id = id_of(&sheet);
    let mut conn = app.state.store.read().await.expect("a reader");
    let run = store::baths::sheet_runs::find_of(&mut conn, SheetOf::Negative(id)).await.expect("read").expect("a run");
    assert_eq!((run.area_mm2, run.sheets), (12_903, 1));
    drop(conn);
    // it cannot be put through a second time
    assert_eq!(sheet.attribute("form[action$=trays]", "action"), None);
    let twice = student.post(&format!("/bench/exposures/{id}/trays"), &[("developed_at", "2026-03-20T12:00")]).await;
    assert_eq!(twice.status, StatusCode::UNPROCESSABLE_ENTITY);

    let path = format!("/bench/exposures/{id}/correct");
    student.saves(&path, &but(developed.clone(), &[("sheet", "8x10in"), ("version", "1")])).await;
    let mut conn = app.state.store.read().await.expect("a reader");
    let anew = store::baths::sheet_runs::find_of(&mut conn, SheetOf::Negative(id)).await.expect("read").expect("a run");
    assert_eq!(anew.area_mm2, 51_613);
    assert_ne!(anew.id, run.id);
    drop(conn);
    // said not to have been through after all
    student.saves(&path, &but(developed, &[("developed", ""), ("version", "2")])).await;
    let mut conn = app.state.store.read().await.expect("a reader");
    assert_eq!(store::baths::sheet_runs::find_of(&mut conn, SheetOf::Negative(id)).await.expect("read"), None);
}

#[tokio::test]
async fn a_corrected_size_takes_the_old_booking_back_and_the_silver_book_stays_right() {
    let lab = Darkroom::new().await;
    let fixer = lab.mixes(ProductKind::Fixer, 2).await;
    lab.sets_in(Slot::Fixer, &fixer).await;
    let student = lab.app.student(lab.evening.section, "07", "Teodora Vask").await;
    with_box(&student).await;
    let developed = but(sheet_in_the_sun("33", ""), &[("developed", "yes"), ("developed_at", "2026-03-20T12:00")]);
    let sheet = student.saves("/bench/exposures", &developed).await;
    // 12,903 mm² x 0.97 g/m² = 12,516 µg, and what the drained sheet carried off again
    let small = lab.holds(&fixer).await.silver.best_ug;
    assert!((12_510..=12_516).contains(&small), "{small}");
    let path = format!("/bench/exposures/{}/correct", id_of(&sheet));
    student.saves(&path, &but(developed, &[("sheet", "8x10in"), ("version", "1")])).await;
    // 51,613 mm² x 0.97 g/m² = 50,065 µg
    let large = lab.holds(&fixer).await.silver.best_ug;
    assert!((50_000..=50_065).contains(&large), "{large}");
    let mut conn = lab.app.state.store.read().await.expect("a reader");
    assert_eq!(store::engine::check::run(&mut conn).await.expect("checked").len(), 0);
}

#[tokio::test]
async fn a_sheet_that_waited_in_its_box_goes_through_the_trays_later() {
    let (app, student) = at_the_box().await;
    let sheet = student.saves("/bench/exposures", &sheet_in_the_sun("33", "")).await;
    let path = format!("/bench/exposures/{}/trays", id_of(&sheet));
    app.state.world.clock.forward_minutes(10);
    let early = student.post(&path, &[("developed_at", "2026-03-20T11:59")]).await;
    assert!(early.text("[id=trays-developed_at-error]").contains("before the exposure"));
    let late = student.post(&path, &[("developed_at", "2026-03-20T13:00")]).await;
    assert!(late.text("[id=trays-developed_at-error]").contains("lies ahead"));
    let page = student.saves(&path, &[("developed_at", "2026-03-20T12:08")]).await;
    assert!(page.text("dl.facts").contains("went through at 20 Mar 2026, 12:08"), "{}", page.text("dl.facts"));
}

#[tokio::test]
async fn nothing_is_recorded_once_the_session_is_closed() {
    let (app, student) = at_the_box().await;
    closed(&app).await;
    let page = student.get("/bench/exposures?sky=full-sun").await;
    assert_eq!(page.text("p.reading .value"), "33 s");
    assert!(page.text("p.note").contains("is over"));
    let answer = student.post("/bench/exposures", &sheet_in_the_sun("33", "")).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(answer.text("main").contains("closed"), "{}", answer.text("main"));
    assert_eq!(count(&app).await, 0);
}

#[tokio::test]
async fn a_sheet_sent_again_after_the_session_was_closed_is_answered_as_before() {
    let (app, student) = at_the_box().await;
    let form: FormId = app.state.mint();
    let first = student.post_as("/bench/exposures", &form.to_string(), &sheet_in_the_sun("33", "")).await;
    closed(&app).await;
    let second = student.post_as("/bench/exposures", &form.to_string(), &sheet_in_the_sun("33", "")).await;
    assert_eq!((second.status, second.location()), (StatusCode::SEE_OTHER, first.location()));
}

#[tokio::test]
async fn a_sheet_from_before_the_session_is_refused_and_says_why() {
    let (app, student) = at_the_box().await;
    for old in ["2026-03-19T23:00", "1999-01-01T10:00", "1970-01-02T00:00"] {
        let answer = student.post("/bench/exposures", &but(sheet_in_the_sun("33", ""), &[("made_at", old)])).await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{old}");
        let said = answer.text("[id=record-made_at-error]");
        assert!(said.contains("lies before the session: “First light” is of 20 Mar 2026"), "{old}: {said}");
    }
    assert_eq!(count(&app).await, 0);
}

#[tokio::test]
async fn a_sheet_recorded_twice_is_taken_back_with_what_it_counted_and_can_count_again() {
    let lab = Darkroom::new().await;
    let fixer = lab.mixes(ProductKind::Fixer, 2).await;
    lab.sets_in(Slot::Fixer, &fixer).await;
    let student = lab.app.student(lab.evening.section, "07", "Teodora Vask").await;
    with_box(&student).await;
    let bare = forecast_in_the_sun(&student).await;
    let developed =
        but(sheet_in_the_sun("33", "too pale"), &[("developed", "yes"), ("developed_at", "2026-03-20T12:00")]);
    let sheet = student.saves("/bench/exposures", &developed).await;
    let path = format!("/bench/exposures/{}", id_of(&sheet));
    assert!(lab.holds(&fixer).await.silver.best_ug > 0);

    let nameless = student.post(&format!("{path}/take-back"), &[("version", "1"), ("why", "")]).await;
    assert!(nameless.text("[id=back-why-error]").contains("must not be empty"), "{}", nameless.text("main"));
    let back = student.saves(&format!("{path}/take-back"), &[("version", "1"), ("why", "recorded twice")]).await;
    assert!(back.text("main").contains("Taken back on 20 Mar 2026, 12:00: recorded twice"), "{}", back.text("main"));
    assert_eq!(lab.holds(&fixer).await.silver.best_ug, 0);
    assert_eq!(forecast_in_the_sun(&student).await, bare);
    assert!(student.get("/bench/exposures").await.text("main").contains("None recorded yet"));
    // while it is taken back nothing is changed about it
    let judged = student.post(&format!("{path}/judge"), &[("version", "2"), ("verdict", "right")]).await;
    assert_eq!(judged.status, StatusCode::UNPROCESSABLE_ENTITY);
    // its number is not given to the next one
    let next = student.saves("/bench/exposures", &sheet_in_the_sun("33", "")).await;
    assert_eq!(next.text("h1"), "Sheet 2");

    student.saves(&format!("{path}/count-again"), &[("version", "2")]).await;
    assert!(forecast_in_the_sun(&student).await > bare);
    let mut conn = lab.app.state.store.read().await.expect("a reader");
    assert_eq!(store::engine::check::run(&mut conn).await.expect("checked").len(), 0);
}

#[tokio::test]
async fn the_corners_may_be_exposed_for_and_the_record_keeps_it() {
    let (app, student) = at_the_box().await;
    let page = student.get("/bench/exposures?sky=full-sun&sun=front&aim=corner").await;
    // corner of 127 x 102 mm at 128 mm: tan = 81.4/128, cos⁴ = 0.507, 0.98 stop: 33.3 s x 1.97 = 65.7 s
    assert_eq!(page.text("p.reading .value"), "1 min 5 s");
    assert!(page.text("dl.facts").contains("the corners: 0.98 stops more"), "{}", page.text("dl.facts"));
    let off = student.get("/bench/exposures?sky=full-sun&sun=front&point=90+x+0").await;
    assert!(off.text("[id=asked-point-error]").contains("lies off the film"), "{}", off.text("main"));
    let sheet = student.saves("/bench/exposures", &but(sheet_in_the_sun("66", "right"), &[("aim", "corner")])).await;
    let mut conn = app.state.store.read().await.expect("a reader");
    let stored = store::exposure::exposures::find(&mut conn, id_of(&sheet)).await.expect("read").expect("stored");
    drop(conn);
    assert_eq!((stored.aim.as_str(), stored.aim_milli / 10), ("the corners", 98));
    // right at the corners is what the formula says there: it teaches next to nothing
    assert!((forecast_in_the_sun(&student).await / 33.0 - 1.0).abs() < 0.05);
    let corrected = but(sheet_in_the_sun("66", "right"), &[("aim", "middle"), ("version", "1")]);
    student.saves(&format!("/bench/exposures/{}/correct", stored.id), &corrected).await;
    assert!(forecast_in_the_sun(&student).await > 45.0);
}

#[tokio::test]
async fn before_the_trays_a_sheet_shows_nothing_unless_something_spoiled_it() {
    let (app, student) = at_the_box().await;
    let early = but(sheet_in_the_sun("33", "right"), &[("developed", "no")]);
    let refused = student.post("/bench/exposures", &early).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.text("[id=record-verdict-error]").contains("before the trays a sheet shows nothing"));
    let leak = but(early.clone(), &[("verdict", "all black"), ("fault", "leak")]);
    student.saves("/bench/exposures", &leak).await;

    // on its page it is judged and said to have gone through in one form, with neither answer chosen for it
    let sheet = student.saves("/bench/exposures", &sheet_in_the_sun("33", "")).await;
    let path = format!("/bench/exposures/{}", id_of(&sheet));
    assert_eq!(sheet.attribute("#judge [name=developed][checked]", "value"), None);
    let judge = format!("{path}/judge");
    let unsaid = student.post(&judge, &[("version", "1"), ("verdict", "right")]).await;
    assert!(
        unsaid.text("[id=judge-developed-error]").contains("say whether it went through"),
        "{}",
        unsaid.text("main")
    );
    let not_yet = [("version", "1"), ("verdict", "right"), ("developed", "no")];
    let refused = student.post(&judge, &not_yet).await;
    let said = refused.text("[id=judge-verdict-error]");
    assert!(said.contains("before the trays"), "{}", refused.text("main"));
    let went = [("version", "1"), ("verdict", "right"), ("developed", "yes"), ("developed_at", "2026-03-20T12:00")];
    let judged = student.saves(&judge, &went).await;
    assert!(judged.text("dl.facts").contains("went through at 20 Mar 2026, 12:00"), "{}", judged.text("main"));

    // nor is it said afterwards to have seen no tray
    let correction = but(early, &[("version", "2")]);
    let refused = student.post(&format!("{path}/correct"), &correction).await;
    assert!(refused.text("[id=verdict-error]").contains("before the trays"), "{}", refused.text("main"));
    let mut conn = app.state.store.read().await.expect("a reader");
    assert_eq!(store::engine::check::run(&mut conn).await.expect("a check"), []);
}
