//! Seat keys after joining.

use crate::app::{Client, TestApp};

async fn joined(app: &std::sync::Arc<TestApp>) -> (Client, String) {
    let evening = app.evening().await;
    app.on_roster(evening.section, "07", "Teodora Vask").await;
    let client = app.client();
    let fields = [("door_code", "QUAY7"), ("roster_number", "07"), ("family_name", "Vask")];
    let page = client.saves("/door", &fields).await;
    let key = page.text("strong.value");
    (client, key)
}

#[tokio::test]
async fn a_new_key_ends_the_old_one_and_the_other_computers() {
    let app = TestApp::new().await;
    let (here, old) = joined(&app).await;
    let elsewhere = app.client();
    elsewhere.post("/seat", &[("seat_key", &old), ("own", "yes")]).await;
    assert_eq!(elsewhere.get("/bench/key").await.status, 200);

    let page = here.saves("/bench/key", &[]).await;
    let new = page.text("strong.value");
    assert_ne!(new, old);
    assert_eq!(elsewhere.get("/bench/key").await.status, 303);
    let answer = app.client().post("/seat", &[("seat_key", &old)]).await;
    assert!(answer.error_beside("seat_key").contains("no seat has this key"), "{}", answer.text("main"));
    assert_eq!(app.client().post("/seat", &[("seat_key", &new)]).await.location(), "/bench");
}

#[tokio::test]
async fn when_the_server_forgot_the_key_the_page_offers_a_new_one() {
    let app = TestApp::new().await;
    // joined and signed in, yet nothing waits to be shown: as after a restart
    let evening = app.evening().await;
    let student = app.student(evening.section, "07", "Teodora Vask").await;
    let page = student.get("/bench/key").await;
    assert_eq!(page.text("strong.value"), "");
    assert_eq!(page.attribute("form[action='/bench/key']", "method").as_deref(), Some("post"));
    assert_ne!(student.saves("/bench/key", &[]).await.text("strong.value"), "");
}

#[tokio::test]
async fn the_key_is_kept_only_as_a_hash() {
    let app = TestApp::new().await;
    let (_, key) = joined(&app).await;
    let copy = app.state.store.path().with_extension("copy");
    app.state.store.backup(&copy).await.expect("a copy");
    let bytes = std::fs::read(copy).expect("readable");
    for form in [key.clone(), key.replace(' ', ""), key.replace(' ', "-")] {
        assert!(!bytes.windows(form.len()).any(|window| window == form.as_bytes()), "{form}");
    }
}

#[tokio::test]
async fn a_mistyped_key_is_answered_beside_the_field_with_the_word_that_was_meant() {
    let app = TestApp::new().await;
    app.evening().await;
    for (typed, message) in [
        ("mango lamp rvier otter", "was it “river”?"),
        ("mango lamp", "a seat key is four words; this has 2"),
        ("", "a seat key is four words"),
        ("mango lamp river otter", "no seat has this key"),
    ] {
        let answer = app.client().post("/seat", &[("seat_key", typed)]).await;
        assert_eq!(answer.status, 422);
        assert!(answer.error_beside("seat_key").contains(message), "{typed}: {}", answer.error_beside("seat_key"));
    }
}

#[tokio::test]
async fn a_student_chooses_inches_and_sees_them_chosen() {
    let (_, _, _, student) = TestApp::with_open_session().await;
    let page = student.saves("/bench/units", &[("units", "inch"), ("back", "/bench/key")]).await;
    assert_eq!(page.attribute("[name=units][checked]", "value").as_deref(), Some("inch"));
    let answer = student.post("/bench/units", &[("units", "cubits")]).await;
    assert_eq!(answer.status, 422);
    let answer = student.post("/bench/units", &[("units", "metric"), ("back", "//elsewhere.test/")]).await;
    assert_eq!(answer.location(), "/bench");
}

#[tokio::test]
async fn a_key_that_another_student_has_is_drawn_again() {
    // two servers with the same stream of chance; on the second somebody has the key that will be drawn
    let (one, two) = (TestApp::new().await, TestApp::new().await);
    let (first, _) = (one.evening().await, two.evening().await);
    one.on_roster(first.section, "07", "Teodora Vask").await;
    let id = two.on_roster(two.the_evening().await.section, "07", "Teodora Vask").await;
    one.write(|_| Box::pin(async { Ok(String::new()) })).await;
    let fields = [("door_code", "QUAY7"), ("roster_number", "07"), ("family_name", "Vask")];
    let taken = one.client().saves("/door", &fields).await.text("strong.value");
    let mut conn = one.state.store.read().await.expect("a reader");
    let hash: Vec<u8> = sqlx::query_scalar("SELECT seat_key_hash FROM student WHERE seat_key_hash IS NOT NULL")
        .fetch_one(&mut *conn)
        .await
        .expect("a hash");
    two.write(move |tx| {
        Box::pin(async move {
            sqlx::query(
                "INSERT INTO student (id, section_id, roster_number, name, seat_key_hash, joined_at, created_at)
                 SELECT zeroblob(16), section_id, '08', 'Anselm Quarry', ?, 1, 1 FROM student WHERE id = ?",
            )
            .bind(hash)
            .bind(id)
            .execute(tx)
            .await?;
            Ok(String::new())
        })
    })
    .await;
    let drawn = two.client().saves("/door", &fields).await.text("strong.value");
    assert_ne!(drawn, "");
    assert_ne!(drawn, taken);
    let mut conn = two.state.store.read().await.expect("a reader");
    let keys: i64 = sqlx::query_scalar("SELECT count(DISTINCT seat_key_hash) FROM student")
        .fetch_one(&mut *conn)
        .await
        .expect("a count");
    assert_eq!(keys, 2);
}
