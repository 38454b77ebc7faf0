//! Cookies that other sites cannot use, and forms that other sites cannot send.

use axum::{
    body::Body,
    http::{Request, header},
};
use shimlight::{
    clock::World,
    secrets::{Effort, Hasher},
    store::Store,
    web::kit::{reach::Reach, state::AppState},
};

use crate::app::{TestApp, noon};

fn leave(headers: &[(&str, &str)]) -> Request<Body> {
    let request = Request::post("/leave").header(header::HOST, "lab.test");
    headers
        .iter()
        .fold(request, |request, (name, value)| request.header(*name, *value))
        .body(Body::empty())
        .expect("a request")
}

#[tokio::test]
async fn a_form_from_another_site_is_refused_and_changes_nothing() {
    let (_, _, _, student) = TestApp::with_open_session().await;
    for headers in [
        vec![("origin", "http://elsewhere.test")],
        vec![("sec-fetch-site", "cross-site")],
        vec![("sec-fetch-site", "cross-site"), ("origin", "http://lab.test.elsewhere.test")],
        vec![("origin", "null")],
    ] {
        let answer = student.send(leave(&headers)).await;
        assert_eq!(answer.status, 403, "{headers:?}");
        assert_eq!(student.get("/bench/key").await.status, 200, "still signed in: {headers:?}");
    }
    for headers in [vec![("origin", "http://lab.test")], vec![("sec-fetch-site", "same-origin")]] {
        assert_eq!(student.send(leave(&headers)).await.status, 303, "{headers:?}");
    }
}

#[tokio::test]
async fn cookies_are_kept_from_scripts_and_other_sites() {
    let app = TestApp::new().await;
    let evening = app.evening().await;
    app.on_roster(evening.section, "07", "Teodora Vask").await;
    let answer =
        app.client().post("/door", &[("door_code", "QUAY7"), ("roster_number", "07"), ("family_name", "Vask")]).await;
    let cookie = answer.headers[header::SET_COOKIE].to_str().expect("text").to_owned();
    assert!(cookie.contains("HttpOnly") && cookie.contains("SameSite=Lax") && cookie.contains("Path=/"), "{cookie}");
    assert!(!cookie.contains("Secure"), "a lab's plain network has no TLS: {cookie}");
}

#[tokio::test]
async fn behind_tls_cookies_travel_only_over_tls() {
    let folder = tempfile::tempdir().expect("a folder");
    let store = Store::open(&folder.path().join("shimlight.db")).await.expect("a fresh database");
    let reach = Reach { public_url: Some("https://lab.test".to_owned()), trusted_proxy: false };
    let state = AppState::new(store, World::fixed(noon()), Hasher::new(Effort::Weak), reach);
    let router = shimlight::web::every_route::router(state);
    let request = Request::post("/theme")
        .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
        .header(header::HOST, "127.0.0.1:8080")
        .header(header::ORIGIN, "https://lab.test")
        .body(Body::from("theme=dim&back=/"))
        .expect("a request");
    let answer = tower::ServiceExt::oneshot(router, request).await.expect("infallible");
    assert_eq!(answer.status(), 303, "the public origin is trusted whatever the proxy calls us");
    let cookie = answer.headers()[header::SET_COOKIE].to_str().expect("text");
    assert!(cookie.contains("Secure"), "{cookie}");
}
