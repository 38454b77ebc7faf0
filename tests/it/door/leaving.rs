//! Leaving at one click, and by itself.

use crate::app::TestApp;

#[tokio::test]
async fn leaving_ends_the_sign_in_on_the_server_not_only_in_the_browser() {
    let (_, _, _, student) = TestApp::with_open_session().await;
    student.post("/theme", &[("theme", "dim"), ("back", "/bench")]).await;
    assert_eq!(student.cookie("shimlight_theme").as_deref(), Some("dim"));
    let copied = student.copy();
    let answer = student.post("/leave", &[]).await;
    assert_eq!(answer.location(), "/");
    assert!(student.cookie("shimlight_seat").is_none());
    assert_eq!(student.cookie("shimlight_theme"), None, "whoever comes next begins with a light page");
    assert_eq!(copied.get("/bench/key").await.status, 303, "a copied cookie opens nothing");
}

#[tokio::test]
async fn a_shared_computer_leaves_after_fifteen_idle_minutes_ones_own_does_not() {
    let app = TestApp::new().await;
    let evening = app.evening().await;
    app.on_roster(evening.section, "07", "Teodora Vask").await;
    app.on_roster(evening.section, "08", "Anselm Quarry").await;
    let (shared, own) = (app.client(), app.client());
    shared.saves("/door", &[("door_code", "QUAY7"), ("roster_number", "07"), ("family_name", "Vask")]).await;
    let fields = [("door_code", "QUAY7"), ("roster_number", "08"), ("family_name", "Quarry"), ("own", "yes")];
    let page = own.saves("/door", &fields).await;
    assert_eq!(page.attribute("body", "data-idle-minutes"), None);
    let page = shared.get("/bench/key").await;
    assert_eq!(page.attribute("body", "data-idle-minutes").as_deref(), Some("15"));
    assert!(page.body.contains("905; url=/left"), "without a script it leaves all the same");

    app.state.world.clock.forward_minutes(16);
    assert_eq!(shared.get("/bench/key").await.status, 303);
    assert_eq!(own.get("/bench/key").await.status, 200);
}

#[tokio::test]
async fn the_page_left_alone_says_so_and_the_key_brings_one_back() {
    let app = TestApp::new().await;
    let evening = app.evening().await;
    app.on_roster(evening.section, "07", "Teodora Vask").await;
    let client = app.client();
    let fields = [("door_code", "QUAY7"), ("roster_number", "07"), ("family_name", "Vask")];
    let key = client.saves("/door", &fields).await.text("strong.value");
    app.state.world.clock.forward_minutes(16);
    let page = client.get("/left").await;
    assert!(page.text(".saved").contains("left out after 15 idle minutes"), "{}", page.text("main"));
    assert_eq!(page.text("p.whose"), "");
    assert!(client.cookie("shimlight_seat").is_none());
    client.post("/seat", &[("seat_key", &key)]).await;
    assert_eq!(client.get("/bench/key").await.text("strong.value"), "", "the key is not shown again");
}

#[tokio::test]
async fn an_idle_page_in_one_tab_does_not_end_the_work_in_another() {
    let (app, _, instructor, student) = TestApp::with_open_session().await;
    app.state.world.clock.forward_minutes(5);
    assert_eq!(student.get("/left").await.location(), "/bench");
    assert_eq!(instructor.get("/left").await.location(), "/front");
    assert_eq!(student.get("/bench/key").await.status, 200);
}

#[tokio::test]
async fn signing_in_as_somebody_else_ends_the_sign_in_before_it() {
    let (app, _, _, student) = TestApp::with_open_session().await;
    let evening = app.the_evening().await;
    app.on_roster(evening.section, "08", "Anselm Quarry").await;
    let before = student.copy();
    student.saves("/door", &[("door_code", "QUAY7"), ("roster_number", "08"), ("family_name", "Quarry")]).await;
    assert_eq!(student.get("/bench/key").await.text("p.whose"), "Anselm Quarry");
    assert_eq!(before.get("/bench/key").await.status, 303);
}

#[tokio::test]
async fn the_dim_page_is_chosen_and_leads_back_to_where_one_was() {
    let app = TestApp::new().await;
    let client = app.client();
    let answer = client.post("/theme", &[("theme", "dim"), ("back", "/")]).await;
    assert_eq!(answer.location(), "/");
    let page = client.get("/").await;
    assert_eq!(page.attribute("html", "data-theme").as_deref(), Some("dim"));
    assert!(page.text(".not-a-safelight").contains("not a safelight"));
    client.post("/theme", &[("theme", "light"), ("back", "/")]).await;
    assert_eq!(client.get("/").await.attribute("html", "data-theme"), None);
    assert_eq!(client.post("/theme", &[("theme", "dim"), ("back", "//elsewhere.test")]).await.location(), "/");
}
