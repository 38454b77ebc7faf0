//! One-time links: the first instructor, a new password.

use shimlight::{
    domain::people::actor::Role,
    secrets,
    store::people::accounts::{self, LinkPurpose},
};

use crate::app::TestApp;

async fn link(app: &TestApp, purpose: LinkPurpose) -> String {
    let token = secrets::new_token(&app.state.world.chance);
    let (hash, now) = (secrets::token_hash(&token), app.state.now());
    app.write(move |tx| {
        Box::pin(async move {
            accounts::insert_link(tx, &hash, purpose, now.plus_minutes(60), now).await?;
            Ok(String::new())
        })
    })
    .await;
    token
}

#[tokio::test]
async fn the_first_instructor_makes_an_account_and_is_signed_in() {
    let app = TestApp::new().await;
    assert!(app.client().get("/").await.text(".empty").contains("no instructor yet"));
    let path = format!("/first/{}", link(&app, LinkPurpose::FirstInstructor).await);
    let client = app.client();
    assert_eq!(client.get(&path).await.text("h1"), "The first instructor");

    let slips = [("display_name", ""), ("sign_in_name", "ines quarry"), ("password", "short"), ("password_again", "")];
    let answer = client.post(&path, &slips).await;
    assert_eq!(answer.status, 422);
    for field in ["display_name", "sign_in_name", "password"] {
        assert_ne!(answer.error_beside(field), "", "{field}");
    }

    let right = [
        ("display_name", "Ines Quarry"),
        ("sign_in_name", "ines"),
        ("password", "ten or more"),
        ("password_again", "ten or more"),
    ];
    assert_eq!(client.post(&path, &right).await.location(), "/front");
    assert_eq!(client.get("/").await.text("p.whose"), "Ines Quarry");
    assert_eq!(client.get(&path).await.status, 410, "the link works once");
    assert_eq!(app.client().post(&path, &right).await.status, 410);
    let answer = app.client().post("/staff", &[("sign_in_name", "ines"), ("password", "ten or more")]).await;
    assert_eq!(answer.location(), "/front");
    assert_eq!(app.client().get("/").await.text(".empty"), "");
}

#[tokio::test]
async fn a_link_grows_old() {
    let app = TestApp::new().await;
    let path = format!("/first/{}", link(&app, LinkPurpose::FirstInstructor).await);
    app.state.world.clock.forward_minutes(61);
    assert_eq!(app.client().get(&path).await.status, 410);
    assert_eq!(app.client().get("/first/nonsense").await.status, 410);
}

#[tokio::test]
async fn a_new_password_ends_the_old_one_and_every_sign_in_under_it() {
    let app = TestApp::new().await;
    let id = app.staff_with_password(Role::Assistant, "pat", "the old password").await;
    let elsewhere = app.client();
    elsewhere.post("/staff", &[("sign_in_name", "pat"), ("password", "the old password")]).await;
    let path = format!("/new-password/{}", link(&app, LinkPurpose::NewPassword(id)).await);
    let here = app.client();
    assert!(here.get(&path).await.text("main").contains("For the account pat"));
    let answer = here.post(&path, &[("password", "a new password"), ("password_again", "a newer one")]).await;
    assert_ne!(answer.error_beside("password_again"), "");
    let answer = here.post(&path, &[("password", "a new password"), ("password_again", "a new password")]).await;
    assert_eq!(answer.location(), "/front");
    assert_eq!(here.get("/").await.text("p.whose"), "pat");
    assert_eq!(elsewhere.get("/").await.text("p.whose"), "");
    for (password, status) in [("the old password", 422), ("a new password", 303)] {
        let answer = app.client().post("/staff", &[("sign_in_name", "pat"), ("password", password)]).await;
        assert_eq!(answer.status, status, "{password}");
    }
    // the first instructor's door is not this one
    let other = link(&app, LinkPurpose::NewPassword(id)).await;
    assert_eq!(here.get(&format!("/first/{other}")).await.status, 410);
}
