//! What holds for every page: headers, error pages, static files.

use axum::http::{StatusCode, header};

use crate::app::TestApp;

#[tokio::test]
async fn an_unknown_address_gets_a_page_with_a_way_out_and_no_scripts_from_elsewhere() {
    let app = TestApp::new().await;
    let answer = app.client().get("/no/such/page").await;
    assert_eq!(answer.status, StatusCode::NOT_FOUND);
    assert_eq!(answer.text("h1"), "Not here");
    assert_eq!(answer.attribute("a.go", "href").as_deref(), Some("/"));
    let policy = answer.headers[header::CONTENT_SECURITY_POLICY].to_str().expect("text");
    assert!(policy.starts_with("default-src 'none'") && !policy.contains("unsafe"), "{policy}");
    assert_eq!(answer.headers[header::CACHE_CONTROL], "no-store");
    assert_eq!(answer.headers[header::X_CONTENT_TYPE_OPTIONS], "nosniff");
}

#[tokio::test]
async fn a_style_sheet_may_be_kept_for_ever_because_its_address_changes_with_it() {
    let app = TestApp::new().await;
    let page = app.client().get("/no/such/page").await;
    let address = page.attribute("link[rel=stylesheet]", "href").expect("a style sheet");
    let sheet = app.client().get(&address).await;
    assert_eq!(sheet.status, StatusCode::OK);
    assert!(sheet.headers[header::CACHE_CONTROL].to_str().expect("text").contains("immutable"));
    assert_eq!(sheet.headers[header::CONTENT_TYPE], "text/css; charset=utf-8");
}

#[tokio::test]
async fn an_address_with_a_mangled_id_is_not_here_rather_than_an_error() {
    let (_app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let answer = instructor.get("/front/sessions/not-an-id").await;
    assert_eq!(answer.status, StatusCode::NOT_FOUND, "{}", answer.text("main"));
}

#[tokio::test]
async fn health_asks_the_writer() {
    let app = TestApp::new().await;
    assert_eq!(app.client().get("/health").await.status, StatusCode::OK);
    app.state.store.close().await;
    assert_eq!(app.client().get("/health").await.status, StatusCode::SERVICE_UNAVAILABLE);
}
