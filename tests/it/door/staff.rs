//! Instructors and assistants sign in.

use shimlight::domain::people::actor::Role;

use crate::app::TestApp;

const PASSWORD: &str = "brass shim and needle";

#[tokio::test]
async fn an_instructor_signs_in_and_goes_on_to_the_page_asked_for() {
    let app = TestApp::new().await;
    app.staff_with_password(Role::Instructor, "ines", PASSWORD).await;
    let client = app.client();
    let asked = client.get("/front/accounts").await;
    assert_eq!(asked.location(), "/?then=%2Ffront%2Faccounts");
    let sheet = client.get(&asked.location()).await;
    let then = sheet.attribute("form[action='/staff'] [name=then]", "value").expect("kept");
    let answer =
        client.post("/staff", &[("sign_in_name", "Ines"), ("password", PASSWORD), ("then", then.as_str())]).await;
    assert_eq!(answer.location(), "/front/accounts");
    assert_eq!(client.get("/").await.text("p.whose"), "ines");
}

#[tokio::test]
async fn only_pages_of_this_server_are_gone_on_to() {
    let app = TestApp::new().await;
    app.staff_with_password(Role::Assistant, "pat", PASSWORD).await;
    for then in
        ["https://elsewhere.test/", "//elsewhere.test/", "/\\elsewhere.test", "/front\r\nx", "/frontier", "/bench"]
    {
        let answer =
            app.client().post("/staff", &[("sign_in_name", "pat"), ("password", PASSWORD), ("then", then)]).await;
        assert_eq!(answer.location(), "/front", "{then}");
    }
    let sheet = app.client().get("/?then=//elsewhere.test/").await;
    assert_eq!(sheet.attribute("[name=then]", "value"), None);
}

#[tokio::test]
async fn an_unknown_name_and_a_wrong_password_get_the_same_words() {
    let app = TestApp::new().await;
    app.staff_with_password(Role::Instructor, "ines", PASSWORD).await;
    let one = app.client().post("/staff", &[("sign_in_name", "ines"), ("password", "wrong password")]).await;
    let two = app.client().post("/staff", &[("sign_in_name", "nobody"), ("password", "wrong password")]).await;
    assert_eq!((one.status.as_u16(), two.status.as_u16()), (422, 422));
    assert_eq!(one.texts(".wrong li"), two.texts(".wrong li"));
    assert_eq!(one.attribute("[name=sign_in_name]", "value").as_deref(), Some("ines"));
    assert_eq!(one.attribute("[name=password]", "value"), None, "a password is never shown again");
}

#[tokio::test]
async fn an_ended_account_cannot_sign_in() {
    let app = TestApp::new().await;
    let id = app.staff_with_password(Role::Assistant, "pat", PASSWORD).await;
    let at = app.state.now();
    app.write(move |tx| {
        Box::pin(async move {
            shimlight::store::people::accounts::end(tx, id, at).await?;
            Ok(String::new())
        })
    })
    .await;
    let answer = app.client().post("/staff", &[("sign_in_name", "pat"), ("password", PASSWORD)]).await;
    assert_eq!(answer.status, 422);
}

#[tokio::test]
async fn a_receipt_does_not_tell_a_password() {
    use sha2::{Digest, Sha256};
    let app = TestApp::new().await;
    app.staff_with_password(Role::Instructor, "ines", PASSWORD).await;
    app.client().post("/staff", &[("sign_in_name", "ines"), ("password", PASSWORD)]).await;
    let mut conn = app.state.store.read().await.expect("a reader");
    let kept: Vec<Vec<u8>> =
        sqlx::query_scalar("SELECT body_hash FROM receipt").fetch_all(&mut *conn).await.expect("receipts");
    // what somebody with the file would try for each password they can think of
    let mut guess = Sha256::new();
    for part in ["sign_in_name", "ines", "password", PASSWORD] {
        guess.update((part.len() as u64).to_be_bytes());
        guess.update(part.as_bytes());
    }
    assert_eq!(kept.len(), 1);
    assert_ne!(kept[0], guess.finalize().to_vec());
}
