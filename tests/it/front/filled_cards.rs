//! A pile of cards, filled in the dark, is typed in by staff.

use std::sync::Arc;

use axum::http::StatusCode;
use shimlight::{
    domain::{baths::sheet_run::SheetOf, exposure::Exposure, ids::FormId},
    store,
};

use crate::{
    app::{Client, TestApp},
    bench::sheets::{film_on_the_shelf, with_body_cap},
};

const CARD: [&str; 6] = ["camera", "student", "light", "made", "time", "hole"];

/// A row from its first six fields.
fn row(number: usize, values: [&str; 6]) -> Vec<(String, String)> {
    CARD.iter().zip(values).map(|(name, value)| (format!("{name}_{number}"), value.to_owned())).collect()
}

fn and(mut fields: Vec<(String, String)>, more: &[(&str, &str)]) -> Vec<(String, String)> {
    for (name, value) in more {
        fields.retain(|(field, _)| field != name);
        fields.push(((*name).to_owned(), (*value).to_owned()));
    }
    fields
}

/// Sends a pile, with the usual size and instrument.
async fn send(app: &TestApp, staff: &Client, pile: &[Vec<(String, String)>]) -> crate::app::Answer {
    let mut fields = vec![("sheet".to_owned(), "4x5in".to_owned()), ("instrument".to_owned(), "0.01 mm".to_owned())];
    fields.extend(pile.iter().flatten().cloned());
    let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
    staff.post(&path(app).await, &fields).await
}

async fn path(app: &TestApp) -> String {
    format!("/front/sessions/{}/filled-cards", app.the_evening().await.session)
}

/// An instructor, and a student with a camera 1 whose hole nobody has measured. It is two o'clock.
async fn after_the_evening() -> (Arc<TestApp>, Client, Client) {
    let (app, _anon, instructor, student) = TestApp::with_open_session().await;
    student.saves("/bench/camera", &[("build", "box"), ("distance", "128"), ("width", "127"), ("height", "102")]).await;
    app.state.world.clock.forward_minutes(120);
    (app, instructor, student)
}

async fn stored(app: &TestApp) -> Vec<Exposure> {
    let session = app.the_evening().await.session;
    let mut conn = app.state.store.read().await.expect("a reader");
    store::exposure::exposures::list_of_session(&mut conn, session).await.expect("exposures")
}

#[tokio::test]
async fn a_pile_is_taken_in_with_its_hole_its_results_and_its_trays() {
    let (app, instructor, student) = after_the_evening().await;
    let first = and(
        row(1, ["1", "07", "FS", "33", "12:10", "0.5 0.5"]),
        &[("verdict_1", "too pale"), ("trays_1", "12:20"), ("remark_1", "the pier")],
    );
    // rows in between may stay empty
    let second = and(
        row(5, ["1", "07", "HO b", "2 min", "12:40", ""]),
        &[("sheet_5", "9x12cm"), ("fault_5", "leak"), ("verdict_5", "too dark")],
    );
    let third = row(12, ["1", "07", "1/125 f/16 ISO 100", "1:05", "13.05", ""]);
    let answer = send(&app, &instructor, &[first, second, third]).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text("main"));
    let page = instructor.get(&answer.location()).await;
    assert!(page.text("p.saved").starts_with("Taken in. They are sheets 1 to 3"), "{}", page.text("main"));
    assert_eq!(page.texts("[aria-label='Sheets of this session'] tbody th"), ["1", "2", "3"]);
    assert!(page.text("[aria-label='Sheets of this session'] caption").contains("3 recorded so far"));

    let sheets = stored(&app).await;
    // f/256 with the hole of the first card: 33.3 s at EV 15 and EI 6, ISO 2720
    assert_eq!(sheets.iter().map(|sheet| sheet.base_ms).collect::<Vec<_>>(), [33_333, 266_667, sheets[2].base_ms]);
    assert_eq!(sheets.iter().map(|sheet| sheet.made_ms).collect::<Vec<_>>(), [33_000, 120_000, 65_000]);
    assert_eq!((sheets[0].student, sheets[0].remark.as_str()), (student.student, "the pier"));
    assert!(sheets[0].teaches() && !sheets[1].teaches());
    assert_eq!(sheets[1].sheet.typed, "9x12cm");
    let mut conn = app.state.store.read().await.expect("a reader");
    let run = store::baths::sheet_runs::find_of(&mut conn, SheetOf::Negative(sheets[0].id)).await.expect("read");
    assert_eq!(run.map(|run| run.area_mm2), Some(12_903));
    assert_eq!(
        store::baths::sheet_runs::find_of(&mut conn, SheetOf::Negative(sheets[1].id)).await.expect("read"),
        None
    );
    let hole = store::camera::holes::find_latest(&mut conn, sheets[0].camera).await.expect("read").expect("a hole");
    assert_eq!(hole.id, sheets[2].hole);
    drop(conn);
    // and the student finds them at the bench
    let evening = app.the_evening().await;
    let partner = app.student(evening.section, "08", "Ilka Brandt").await;
    assert!(partner.get("/bench/exposures").await.text("p.empty").contains("no camera"));
}

#[tokio::test]
async fn every_bad_row_is_named_by_number_and_field_and_nothing_is_taken_in() {
    let (app, instructor, _student) = after_the_evening().await;
    let good = row(1, ["1", "07", "FS", "33", "12:10", "0.5 0.5"]);
    for (field, value, words) in [
        ("camera", "", "type the camera’s number"),
        ("camera", "17", "no camera “17”"),
        ("camera", "one", "no camera “one”"),
        ("student", "", "type the roster number"),
        ("student", "99", "no roster number “99”"),
        ("light", "", "is not a reading"),
        ("light", "SUNNY", "is not on the list"),
        ("light", "15", "say what 15 is"),
        ("made", "", "type how long it was open"),
        ("made", "long", "is not a time"),
        ("time", "", "type a time of day"),
        ("time", "25:10", "type a time of day"),
        ("time", "23:10", "lies ahead"),
        ("sheet", "4x5", "with its unit"),
        ("verdict", "fine", "choose one of those offered"),
        ("stops", "1", "goes with “stops given”"),
        ("aim", "the moon", "type middle, side, top, corner"),
        ("aim", "90 x 0", "lies off the film"),
        ("fault", "leak", ""),
        ("trays", "12:00", "lies before the exposure"),
        ("trays", "soon", "type a time of day"),
        ("hole", "", "no measured hole"),
        ("hole", "0.5", "two or more readings"),
        ("hole", "0.5 wide", "is not a length"),
        ("hole", "0.5 400", "must be from"),
    ] {
        let name = format!("{field}_3");
        let bad = and(
            row(3, ["1", "07", "FS", "33", "12:10", "0.5 0.5"]),
            &[
                (&name, value),
                (
                    "verdict_3",
                    if field == "stops" {
                        "right"
                    } else if field == "verdict" {
                        value
                    } else {
                        ""
                    },
                ),
            ],
        );
        let pile = if field == "hole" { vec![bad] } else { vec![and(good.clone(), &[("hole_1", "")]), bad] };
        let answer = send(&app, &instructor, &pile).await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{field} {value}");
        let asked = if field == "fault" { "verdict_3".to_owned() } else { name.clone() };
        let said = answer.error_beside(&asked);
        assert!(said.starts_with("Card 3: ") && said.contains(words), "{field} {value}: {said}");
        if field != "verdict" && field != "fault" {
            assert_eq!(answer.attribute(&format!("[name={name}]"), "value").as_deref(), Some(value));
        }
    }
    assert!(stored(&app).await.is_empty());
    let empty = send(&app, &instructor, &[]).await;
    assert!(empty.text("main").contains("no card was typed in"), "{}", empty.text("main"));
    let bad_usual = and(good, &[("sheet", "postcard")]);
    let mut fields: Vec<(&str, &str)> = bad_usual.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
    fields.push(("instrument", "a ruler"));
    let answer = instructor.post(&path(&app).await, &fields).await;
    assert!(answer.error_beside("sheet").contains("with its unit"));
    assert!(answer.error_beside("instrument").contains("is not a length"));
}

#[tokio::test]
async fn a_hole_is_taken_once_and_never_over_a_measured_one() {
    let (app, instructor, _student) = after_the_evening().await;
    let twice =
        [row(1, ["1", "07", "FS", "33", "12:10", "0.5 0.5"]), row(2, ["1", "07", "FS", "33", "12:20", "0.4 0.4"])];
    let answer = send(&app, &instructor, &twice).await;
    assert!(answer.error_beside("hole_2").contains("card 1 gives the hole of camera 1 already"));
    let answer = send(&app, &instructor, &twice[..1]).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER);
    let answer = send(&app, &instructor, &twice[1..]).await;
    assert!(answer.error_beside("hole_2").contains("has a measured hole already"), "{}", answer.text("main"));
}

#[tokio::test]
async fn of_a_hole_many_times_off_the_pile_asks_whether_the_unit_slipped() {
    let (app, instructor, _student) = after_the_evening().await;
    let slipped = row(2, ["1", "07", "FS", "33", "12:10", "19 19.5"]);
    let asked = send(&app, &instructor, std::slice::from_ref(&slipped)).await;
    assert_eq!(asked.status, StatusCode::UNPROCESSABLE_ENTITY);
    let question = asked.error_beside("sure");
    assert!(question.starts_with("Card 2: 19.3 mm is several times wider"), "{question}");
    assert_eq!(asked.attribute("[name=hole_2]", "value").as_deref(), Some("19 19.5"));
    assert!(stored(&app).await.is_empty());
    let right = and(slipped, &[("hole_2", "19 thou 19.5thou")]);
    assert_eq!(send(&app, &instructor, &[right]).await.status, StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn the_same_pile_sent_twice_is_taken_in_once() {
    let (app, instructor, _student) = after_the_evening().await;
    let form: FormId = app.state.mint();
    let pile = row(1, ["1", "07", "FS", "33", "12:10", "0.5 0.5"]);
    let mut fields: Vec<(&str, &str)> = pile.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
    fields.extend([("sheet", "4x5in"), ("instrument", "0.01")]);
    for _ in 0..2 {
        let answer = instructor.post_as(&path(&app).await, &form.to_string(), &fields).await;
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text("main"));
    }
    assert_eq!(stored(&app).await.len(), 1);
}

#[tokio::test]
async fn a_slip_in_a_card_is_put_right_by_staff_and_both_versions_are_shown_when_two_do() {
    let (app, instructor, _student) = after_the_evening().await;
    let card = and(row(1, ["1", "07", "FS", "330", "12:10", "0.5 0.5"]), &[("trays_1", "12:20")]);
    let page = instructor.get(&send(&app, &instructor, &[card]).await.location()).await;
    let path = page.attribute("tbody th a", "href").expect("a link to correct it");
    let form = instructor.get(&path).await;
    assert_eq!(form.attribute("[name=made]", "value").as_deref(), Some("5 min 30 s"));
    assert_eq!(form.attribute("[name=developed_at]", "value").as_deref(), Some("2026-03-20T12:20"));
    let fields = |made| {
        [
            ("version", "1"),
            ("sky", "full-sun"),
            ("sun", "front"),
            ("made", made),
            ("made_at", "2026-03-20T12:10"),
            ("sheet", "4x5in"),
            ("developed", "yes"),
            ("developed_at", "2026-03-20T12:20"),
            ("verdict", "right"),
        ]
    };
    let page = instructor.saves(&path, &fields("33")).await;
    assert_eq!(page.text("h1"), "Filled cards");
    let sheets = stored(&app).await;
    assert_eq!((sheets[0].made_ms, sheets[0].version), (33_000, 2));
    let stale = instructor.post(&path, &fields("34")).await;
    assert_eq!(stale.status, StatusCode::CONFLICT);
    assert!(stale.texts("table td").contains(&"34 s".to_owned()), "{}", stale.text("main"));
    let wrong = instructor.post(&path, &fields("")).await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(wrong.error_beside("made").contains("type how long"));
}

#[tokio::test]
async fn students_do_not_type_in_piles() {
    let (app, _anon, _instructor, student) = TestApp::with_open_session().await;
    assert_eq!(student.get(&path(&app).await).await.status, StatusCode::FORBIDDEN);
    assert_eq!(student.post(&path(&app).await, &[]).await.status, StatusCode::FORBIDDEN);
}

#[tokio::test]
async fn a_card_may_aim_for_a_corner_give_stops_from_a_scan_and_say_what_else_was_seen() {
    let (app, instructor, _student) = after_the_evening().await;
    let corner = and(
        row(1, ["1", "07", "FS", "66", "12:10", "0.5 0.5"]),
        &[("aim_1", "corner"), ("verdict_1", "stops given"), ("stops_1", "-1.5"), ("stops_by_1", "scan")],
    );
    let point = and(row(2, ["1", "07", "FS", "66", "12:20", ""]), &[("aim_2", "30 x 20")]);
    let answer = send(&app, &instructor, &[corner, point]).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text("main"));
    let sheets = stored(&app).await;
    // the corner of 127 x 102 mm at 128 mm: cos⁴ = 0.507, 0.98 stop (computed by hand)
    assert_eq!((sheets[0].aim.as_str(), sheets[0].aim_milli / 10), ("the corners", 98));
    assert_eq!(sheets[1].aim, "a point 30 mm across, 20 mm up");
    let judged = sheets[0].judgement.expect("judged");
    assert_eq!(judged.result, Some((-1500, shimlight::domain::exposure::verdict::ResultSource::Scan)));
    // what stood on a card was printed some other time: no forecast is said to have been shown
    assert!(sheets.iter().all(|sheet| !sheet.forecast_shown));
}

#[tokio::test]
async fn a_body_cap_is_taken_in_with_the_film_that_the_pile_names() {
    let (app, _anon, instructor, student) = TestApp::with_open_session().await;
    with_body_cap(&student).await;
    let film = film_on_the_shelf(&app).await.to_string();
    app.state.world.clock.forward_minutes(120);
    let card = row(1, ["1", "07", "HO", "2", "12:10", ""]);
    let unnamed = send(&app, &instructor, std::slice::from_ref(&card)).await;
    assert!(unnamed.error_beside("camera_1").contains("which film camera 1 holds"), "{}", unnamed.text("main"));
    let answer = send(&app, &instructor, &[and(card, &[("film", &film)])]).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text("main"));
    let sheets = stored(&app).await;
    assert_eq!((sheets[0].paper.to_string(), sheets[0].exposure_index_milli), (film, 100_000));
    assert!(instructor.get(&path(&app).await).await.text("dl.facts").contains("Film, ISO 100"));
}

#[tokio::test]
async fn a_time_that_the_clocks_skipped_is_refused_and_of_one_shown_twice_either_can_be_typed() {
    let (app, instructor, _student) = after_the_evening().await;
    let on = async |date: jiff::civil::Date| {
        let session = app.the_evening().await.session;
        app.write(move |tx| {
            Box::pin(async move {
                let found = store::evening::lab_sessions::find(tx, session).await?.expect("a session");
                let moved = shimlight::domain::evening::lab_session::LabSession { held_on: date, ..found };
                store::evening::lab_sessions::update_plan(tx, &moved).await?;
                Ok(String::new())
            })
        })
        .await;
    };
    // in that zone the clocks went forward on 8 March 2026 at 2:00 and back on 2 November 2025 at 2:00
    on(jiff::civil::date(2026, 3, 8)).await;
    let skipped = send(&app, &instructor, &[row(1, ["1", "07", "EV 5", "33", "2:30", "0.5 0.5"])]).await;
    assert!(skipped.error_beside("time_1").contains("the clocks went forward"), "{}", skipped.text("main"));
    on(jiff::civil::date(2025, 11, 2)).await;
    let twice = send(&app, &instructor, &[row(1, ["1", "07", "EV 5", "33", "1:30", "0.5 0.5"])]).await;
    assert!(twice.error_beside("time_1").contains("1:30 second"), "{}", twice.text("main"));
    let pile = [
        row(1, ["1", "07", "EV 5", "33", "1:30 first", "0.5 0.5"]),
        row(2, ["1", "07", "EV 5", "33", "1:30 second", ""]),
    ];
    let answer = send(&app, &instructor, &pile).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text("main"));
    let sheets = stored(&app).await;
    assert_eq!(sheets[1].made_at.micros_since(sheets[0].made_at), 3_600_000_000);
}

#[tokio::test]
async fn cards_are_rows_under_heads_whose_fields_have_names_and_more_rows_lose_nothing() {
    let (app, instructor, _student) = after_the_evening().await;
    let page = instructor.get(&path(&app).await).await;
    let heads = page.texts(".card-grid thead th");
    assert_eq!(heads[..4], ["Card", "Camera", "Roster number", "Light"]);
    assert_eq!(page.texts(".card-grid tbody tr").len(), 12);
    assert_eq!(page.texts(".card-grid tbody tr:first-child td").len(), heads.len() - 1, "a cell under each head");
    assert_eq!(page.text("label[for=light_12]"), "Light, card 12");

    // more rows are asked for before anything is right or whole, and what was typed is still there
    let begun = and(row(12, ["1", "07", "FS", "33", "12:10", "0.5 0.5"]), &[("rows", "12"), ("verdict_12", "right")]);
    let more = send(&app, &instructor, &[and(begun.clone(), &[("more", "yes"), ("camera_1", "no such")])]).await;
    assert_eq!(more.status, StatusCode::OK, "{}", more.text("main"));
    assert_eq!(more.texts(".card-grid tbody tr").len(), 24);
    assert_eq!(more.attribute("[name=rows]", "value").as_deref(), Some("24"));
    assert_eq!(more.attribute("[name=camera_1]", "value").as_deref(), Some("no such"));
    assert_eq!(more.attribute("[name=hole_12]", "value").as_deref(), Some("0.5 0.5"));
    assert_eq!(more.text("[name=verdict_12] option[selected]"), "right");
    assert!(stored(&app).await.is_empty());

    // a row past the first twelve is read like any other, and kept where it is wrong
    let last = |seconds| and(row(24, ["1", "07", "FS", seconds, "12:20", ""]), &[("rows", "24")]);
    let refused = send(&app, &instructor, &[last("long"), begun.clone()]).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.error_beside("made_24").starts_with("Card 24: "), "{}", refused.text("main"));
    assert_eq!(refused.attribute("[name=made_24]", "value").as_deref(), Some("long"));
    let answer = send(&app, &instructor, &[last("40"), begun]).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text("main"));
    assert_eq!(stored(&app).await.len(), 2);
    // no page of more rows than the most
    let many = send(&app, &instructor, &[vec![("rows".to_owned(), "99999".to_owned())]]).await;
    assert_eq!(many.texts(".card-grid tbody tr").len(), 60);
    assert!(!many.text("main").contains("More rows"));
}
