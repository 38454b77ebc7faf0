//! Behind TLS and a name of its own; and while the clock is wrong.

use axum::{
    Router,
    body::Body,
    http::{HeaderMap, Request, StatusCode, header},
};
use http_body_util::BodyExt;
use shimlight::{
    clock::World,
    domain::instant::Instant,
    secrets::{Effort, Hasher},
    store::Store,
    web::{
        every_route,
        kit::{reach::Reach, state::AppState},
    },
};
use tempfile::TempDir;

use crate::app::{TestApp, noon};

async fn lab_behind(url: &str) -> (TempDir, Router) {
    let folder = tempfile::tempdir().expect("a folder");
    let store = Store::open(&folder.path().join("shimlight.db")).await.expect("a fresh database");
    let reach = Reach { public_url: Some(url.to_owned()), trusted_proxy: false };
    let state = AppState::new(store, World::fixed(noon()), Hasher::new(Effort::Weak), reach);
    (folder, every_route::router(state))
}

async fn ask(router: &Router, host: &str, path: &str) -> (StatusCode, HeaderMap, String) {
    let request = Request::get(path).header(header::HOST, host).body(Body::empty()).expect("a request");
    let (parts, body) = tower::ServiceExt::oneshot(router.clone(), request).await.expect("infallible").into_parts();
    let bytes = body.collect().await.expect("a body").to_bytes();
    (parts.status, parts.headers, String::from_utf8_lossy(&bytes).into_owned())
}

#[tokio::test]
async fn with_a_public_address_another_name_is_refused_and_told_where_to_go() {
    let (_folder, router) = lab_behind("https://lab.test").await;
    for host in ["lab.test", "LAB.test", "lab.test:443", "localhost:8080", "127.0.0.1:8080", "[::1]:8080"] {
        assert_eq!(ask(&router, host, "/").await.0, 200, "{host}");
    }
    for host in ["elsewhere.test", "lab.test.elsewhere.test", "lab.test:8443", "127.0.0.1.elsewhere.test", ""] {
        let (status, _, body) = ask(&router, host, "/").await;
        assert_eq!(status, 421, "{host}");
        assert!(body.contains("https://lab.test"), "{host}: {body}");
    }
    // whoever watches the server asks under whatever name
    assert_eq!(ask(&router, "shimlight:8080", "/health").await.0, 200);
}

#[tokio::test]
async fn behind_tls_cookies_carry_the_host_prefix_and_browsers_are_told_to_stay_with_tls() {
    let (_folder, router) = lab_behind("https://lab.test").await;
    let (_, headers, _) = ask(&router, "lab.test", "/").await;
    assert!(headers[header::STRICT_TRANSPORT_SECURITY].to_str().expect("text").starts_with("max-age=31536000"));
    let request = Request::post("/theme")
        .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
        .header(header::HOST, "lab.test")
        .header(header::ORIGIN, "https://lab.test")
        .body(Body::from("theme=dim&back=/"))
        .expect("a request");
    let answer = tower::ServiceExt::oneshot(router.clone(), request).await.expect("infallible");
    let cookie = answer.headers()[header::SET_COOKIE].to_str().expect("text").to_owned();
    assert!(cookie.starts_with("__Host-shimlight_theme=dim;"), "{cookie}");
    assert!(cookie.contains("Secure") && cookie.contains("Path=/") && !cookie.contains("Domain"), "{cookie}");
    let themed = async |cookie: &str| {
        let request = Request::get("/").header(header::HOST, "lab.test").header(header::COOKIE, cookie);
        let request = request.body(Body::empty()).expect("a request");
        let answer = tower::ServiceExt::oneshot(router.clone(), request).await.expect("infallible");
        let bytes = answer.into_body().collect().await.expect("a body").to_bytes();
        String::from_utf8_lossy(&bytes).contains("data-theme=\"dim\"")
    };
    assert!(themed("other=1; __Host-shimlight_theme=dim").await);
    assert!(!themed("shimlight_theme=dim").await, "one without the prefix may have been planted by a neighbour");
}

#[tokio::test]
async fn without_tls_nothing_is_promised() {
    let app = TestApp::new().await;
    let answer = app.client().get("/").await;
    assert!(!answer.headers.contains_key(header::STRICT_TRANSPORT_SECURITY));
}

#[tokio::test]
async fn while_the_clock_is_far_off_every_page_says_so_and_nothing_is_saved() {
    let (app, _, _, student) = TestApp::with_open_session().await;
    for micros in [0, 86_400_000_000, 946_684_800_000_000, 7_900_000_000_000_000] {
        app.state.world.clock.set(Instant::from_micros(micros).expect("in range"));
        for path in ["/", "/bench", "/health"] {
            let answer = student.get(path).await;
            assert_eq!(answer.status, 503, "{path} at {micros}");
            assert!(answer.body.contains("clock"), "{path}: {}", answer.body);
        }
        let answer = student.post("/bench/units", &[("units", "inch"), ("back", "/bench")]).await;
        assert_eq!(answer.status, 503);
    }
    app.state.world.clock.set(noon());
    assert_eq!(student.get("/bench").await.status, 200, "once it is right again all is as before");
}
