//! Joining with door code, roster number and family name.

use shimlight::{
    domain::{ids::SectionId, people::seat_key::SeatKey},
    store,
};

use crate::app::{Answer, Client, TestApp};

async fn join(client: &Client, code: &str, number: &str, family: &str) -> Answer {
    client.post("/door", &[("door_code", code), ("roster_number", number), ("family_name", family)]).await
}

/// The four words on the page.
fn words(page: &Answer) -> String {
    page.text("strong.value")
}

async fn allow_walk_ins(app: &TestApp, section: SectionId) {
    let mut conn = app.state.store.read().await.expect("a reader");
    let section = store::people::sections::find(&mut conn, section).await.expect("readable").expect("there");
    app.write(move |tx| {
        Box::pin(async move {
            store::people::sections::update(
                tx,
                &shimlight::domain::people::section::Section { walk_ins: true, ..section },
            )
            .await?;
            Ok(String::new())
        })
    })
    .await;
}

#[tokio::test]
async fn a_student_joins_writes_the_key_down_and_comes_back_with_it_from_another_computer() {
    let app = TestApp::new().await;
    let evening = app.evening().await;
    app.on_roster(evening.section, "07", "Teodora Vask").await;

    let first = app.client();
    let answer = join(&first, "quay-7", "7", "vask").await;
    assert_eq!(answer.location(), "/bench/key");
    let page = first.get("/bench/key").await;
    assert_eq!(page.text("p.whose"), "Teodora Vask");
    let key = words(&page);
    assert!(SeatKey::parse(&key).is_ok(), "{key:?}");

    assert_eq!(first.post("/bench/key/kept", &[]).await.location(), "/bench");
    let page = first.get("/bench/key").await;
    assert_eq!(words(&page), "", "shown once");

    let second = app.client();
    let shouted = key.to_uppercase().replace(' ', "-");
    let answer = second.post("/seat", &[("seat_key", &shouted)]).await;
    assert_eq!(answer.location(), "/bench");
    assert_eq!(second.get("/bench/key").await.text("p.whose"), "Teodora Vask");
}

#[tokio::test]
async fn the_same_words_answer_a_wrong_code_a_wrong_number_and_a_wrong_name() {
    let app = TestApp::new().await;
    let evening = app.evening().await;
    app.on_roster(evening.section, "07", "Teodora Vask").await;
    let anon = app.client();
    let mut answers = Vec::new();
    for (code, number, family) in [("NOSUCH", "07", "Vask"), ("QUAY7", "08", "Vask"), ("QUAY7", "07", "Quarry")] {
        let answer = join(&anon, code, number, family).await;
        assert_eq!(answer.status, 422);
        assert_eq!(answer.attribute("[name=family_name]", "value").as_deref(), Some(family), "what was typed is kept");
        answers.push(answer.texts(".wrong li"));
    }
    assert_eq!(answers[0].len(), 1);
    assert!(answers.iter().all(|answer| *answer == answers[0]), "{answers:?}");
    assert!(anon.cookie("shimlight_seat").is_none());
}

#[tokio::test]
async fn a_joined_name_is_taken_and_its_key_stays_good() {
    let app = TestApp::new().await;
    let evening = app.evening().await;
    app.on_roster(evening.section, "07", "Vask, Teodora").await;
    let first = app.client();
    join(&first, "QUAY7", "07", "Vask").await;
    let key = words(&first.get("/bench/key").await);

    let answer = join(&app.client(), "QUAY7", "07", "Vask").await;
    assert_eq!(answer.status, 422);
    assert!(answer.text(".wrong").contains("this name is taken"), "{}", answer.text(".wrong"));
    assert_eq!(app.client().post("/seat", &[("seat_key", &key)]).await.location(), "/bench");
}

#[tokio::test]
async fn an_impatient_second_click_joins_once_and_shows_the_same_key() {
    let app = TestApp::new().await;
    let evening = app.evening().await;
    app.on_roster(evening.section, "07", "Teodora Vask").await;
    let client = app.client();
    let id: shimlight::domain::ids::FormId = app.state.mint();
    let fields = [("door_code", "QUAY7"), ("roster_number", "07"), ("family_name", "Vask")];
    let first = client.post_as("/door", &id.to_string(), &fields).await;
    let key = words(&client.get("/bench/key").await);
    let second = client.post_as("/door", &id.to_string(), &fields).await;
    assert_eq!((first.location(), second.location()), ("/bench/key".to_owned(), "/bench/key".to_owned()));
    assert_eq!(words(&client.get("/bench/key").await), key);
    assert_eq!(app.client().post("/seat", &[("seat_key", &key)]).await.location(), "/bench");
}

#[tokio::test]
async fn a_sheet_that_was_used_before_is_replaced_by_a_new_one() {
    let app = TestApp::new().await;
    let evening = app.evening().await;
    app.on_roster(evening.section, "07", "Teodora Vask").await;
    app.on_roster(evening.section, "08", "Anselm Quarry").await;
    let computer = app.client();
    let id: shimlight::domain::ids::FormId = app.state.mint();
    let fields = [("door_code", "QUAY7"), ("roster_number", "07"), ("family_name", "Vask")];
    computer.post_as("/door", &id.to_string(), &fields).await;
    computer.post("/leave", &[]).await;

    let fields = [("door_code", "QUAY7"), ("roster_number", "08"), ("family_name", "Quarry")];
    let answer = computer.post_as("/door", &id.to_string(), &fields).await;
    assert_eq!(answer.status, 422);
    assert!(answer.text(".saved").contains("used before"), "{}", answer.text("main"));
    let fresh = answer.attribute("form[action='/door'] [name=form_id]", "value").expect("a new id");
    let answer = computer.post_as("/door", &fresh, &fields).await;
    assert_eq!(answer.location(), "/bench/key");
}

#[tokio::test]
async fn resending_the_joining_form_after_leaving_opens_nothing() {
    let app = TestApp::new().await;
    let evening = app.evening().await;
    app.on_roster(evening.section, "07", "Teodora Vask").await;
    let computer = app.client();
    let id: shimlight::domain::ids::FormId = app.state.mint();
    let fields = [("door_code", "QUAY7"), ("roster_number", "07"), ("family_name", "Vask")];
    computer.post_as("/door", &id.to_string(), &fields).await;
    computer.post("/leave", &[]).await;
    computer.post_as("/door", &id.to_string(), &fields).await;
    assert_eq!(computer.get("/bench/key").await.location(), "/?then=%2Fbench%2Fkey");
}

#[tokio::test]
async fn somebody_not_on_the_roster_joins_only_where_walk_ins_are_allowed() {
    let app = TestApp::new().await;
    let evening = app.evening().await;
    let anon = app.client();
    let answer = join(&anon, "QUAY7", "", "").await;
    assert_eq!(answer.status, 422);
    assert!(answer.error_beside("roster_number").contains("ask the front bench"));

    allow_walk_ins(&app, evening.section).await;
    let answer = join(&anon, "QUAY7", "", "").await;
    assert!(answer.error_beside("full_name").contains("type your name"), "{}", answer.text("main"));
    for (name, number) in [("Ilse Brandt", "W1"), ("Olu Adeyemi", "W2")] {
        let walk_in = app.client();
        walk_in.saves("/door", &[("door_code", "QUAY7"), ("full_name", name)]).await;
        let page = walk_in.get("/bench/key").await;
        assert_eq!(page.text("p.whose"), name);
        assert!(page.text("main").contains(&format!("Roster number {number}")), "{}", page.text("main"));
    }
}

#[tokio::test]
async fn a_student_struck_off_the_roster_finds_no_seat() {
    let app = TestApp::new().await;
    let evening = app.evening().await;
    let student = app.on_roster(evening.section, "07", "Teodora Vask").await;
    app.write(move |tx| {
        Box::pin(async move {
            sqlx::query("UPDATE student SET left_at = 1 WHERE id = ?").bind(student).execute(tx).await?;
            Ok(String::new())
        })
    })
    .await;
    assert_eq!(join(&app.client(), "QUAY7", "07", "Vask").await.status, 422);
}

#[tokio::test]
async fn an_empty_form_is_told_all_that_is_missing_at_once() {
    let app = TestApp::new().await;
    app.evening().await;
    let refused = join(&app.client(), "", "", "").await;
    assert_eq!(refused.status, 422);
    for field in ["door_code", "roster_number", "family_name"] {
        assert!(refused.error_beside(field).starts_with("type "), "{field}: {}", refused.error_beside(field));
    }
    let no_name = join(&app.client(), "QUAY7", "07", " ").await;
    assert_eq!(no_name.texts(".error").len(), 1);
    assert!(no_name.error_beside("family_name").starts_with("type your family name"));
}
