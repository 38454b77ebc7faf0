//! Accounts of instructors and assistants.

use shimlight::domain::people::actor::Role;

use crate::app::TestApp;

const FIRST: &str = "brass shim and needle";

#[tokio::test]
async fn an_assistant_added_with_a_first_password_signs_in_and_stays_out_of_the_accounts() {
    let (app, _, instructor, _) = TestApp::with_open_session().await;
    let fields = [
        ("display_name", "Pat Moor"),
        ("sign_in_name", "pat"),
        ("role", "assistant"),
        ("password", FIRST),
        ("password_again", FIRST),
    ];
    let page = instructor.saves("/front/accounts", &fields).await;
    assert!(page.texts("tbody th").contains(&"Pat Moor".to_owned()), "{:?}", page.texts("tbody tr"));
    let pat = app.client();
    let answer = pat.post("/staff", &[("sign_in_name", "PAT"), ("password", FIRST), ("own", "yes")]).await;
    assert_eq!(answer.location(), "/front");
    let answer = pat.get("/front/accounts").await;
    assert_eq!(answer.status, 403);
    assert_eq!(answer.text("h1"), "For instructors");
    assert!(!answer.body.contains("href=\"/front/accounts\""), "no link to a page that refuses");
}

#[tokio::test]
async fn a_colleague_sets_their_own_password_with_a_link_shown_once() {
    let (app, _, instructor, _) = TestApp::with_open_session().await;
    let fields = [("display_name", "Pat Moor"), ("sign_in_name", "pat"), ("role", "instructor")];
    let page = instructor.saves("/front/accounts", &fields).await;
    let link = page.text("strong.value");
    let path = link.strip_prefix("http://lab.test").expect("an address to type").to_owned();
    let page = instructor.saves("/front/passed-on", &[("back", "/front/accounts"), ("whose", "Pat Moor")]).await;
    assert_eq!(page.text("strong.value"), "", "shown once");

    let pat = app.client();
    let answer = pat.post(&path, &[("password", FIRST), ("password_again", FIRST)]).await;
    assert_eq!(answer.location(), "/front");
    assert_eq!(pat.get("/front/accounts").await.text("p.whose"), "Pat Moor");
}

#[tokio::test]
async fn mistakes_are_named_beside_their_fields_and_what_was_typed_stays() {
    let (app, _, instructor, _) = TestApp::with_open_session().await;
    app.staff_with_password(Role::Assistant, "pat", FIRST).await;
    let slips = [("display_name", ""), ("sign_in_name", "two words"), ("role", "king"), ("password", "short")];
    let answer = instructor.post("/front/accounts", &slips).await;
    assert_eq!(answer.status, 422);
    for field in ["display_name", "sign_in_name", "password"] {
        assert_ne!(answer.error_beside(field), "", "{field}");
    }
    assert_ne!(answer.text("#role-error"), "");
    assert_eq!(answer.attribute("[name=sign_in_name]", "value").as_deref(), Some("two words"));

    let taken = [("display_name", "Pat Again"), ("sign_in_name", "Pat"), ("role", "assistant")];
    let answer = instructor.post("/front/accounts", &taken).await;
    assert_eq!(answer.status, 422);
    assert!(answer.error_beside("sign_in_name").contains("is taken"));
    assert_eq!(instructor.get("/front/accounts").await.text("strong.value"), "", "no link for nobody");
}

#[tokio::test]
async fn ending_an_account_signs_it_out_everywhere() {
    let (app, _, instructor, _) = TestApp::with_open_session().await;
    let id = app.staff_with_password(Role::Assistant, "pat", FIRST).await;
    let pat = app.client();
    pat.post("/staff", &[("sign_in_name", "pat"), ("password", FIRST)]).await;
    assert_eq!(pat.get("/").await.text("p.whose"), "pat");
    let page = instructor.saves(&format!("/front/accounts/{id}/end"), &[]).await;
    assert!(page.texts("tbody tr").iter().any(|row| row.contains("pat") && row.contains("ended")));
    assert_eq!(pat.get("/").await.text("p.whose"), "");
    let answer = instructor.post(&format!("/front/accounts/{id}/link"), &[]).await;
    assert_eq!(answer.status, 403, "no password for an ended account");
}

#[tokio::test]
async fn the_last_instructor_stays() {
    let (app, _, instructor, _) = TestApp::with_open_session().await;
    let mut conn = app.state.store.read().await.expect("a reader");
    let only = shimlight::store::people::accounts::list(&mut conn).await.expect("accounts").remove(0).id;
    let answer = instructor.post(&format!("/front/accounts/{only}/end"), &[]).await;
    assert_eq!(answer.status, 422);
    assert!(answer.text(".wrong").contains("the last instructor"), "{}", answer.text("main"));

    app.staff(Role::Instructor, "Pat Moor").await;
    assert_eq!(instructor.post(&format!("/front/accounts/{only}/end"), &[]).await.status, 303);
    assert_eq!(instructor.get("/front/accounts").await.status, 303, "ended oneself");
}
