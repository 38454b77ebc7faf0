//! Every form has a size, and what is too long is told before any work.

use std::{
    pin::Pin,
    sync::{
        Arc,
        atomic::{AtomicUsize, Ordering},
    },
    task::{Context, Poll},
};

use axum::{
    body::{Body, Bytes},
    http::{Method, Request, header},
};
use shimlight::web::{
    every_route,
    kit::{access::Access, routes::Route},
};

use crate::app::{Client, TestApp};

const PIECE: usize = 4 * 1024;

/// A body of so many bytes that counts what was taken from it.
pub struct Counted {
    pub begins: Option<Bytes>,
    pub left: usize,
    pub taken: Arc<AtomicUsize>,
}

impl futures_util::Stream for Counted {
    type Item = Result<Bytes, std::convert::Infallible>;

    fn poll_next(mut self: Pin<&mut Self>, _: &mut Context<'_>) -> Poll<Option<Self::Item>> {
        if let Some(begins) = self.begins.take() {
            return Poll::Ready(Some(Ok(begins)));
        }
        if self.left == 0 {
            return Poll::Ready(None);
        }
        let piece = self.left.min(PIECE);
        self.left -= piece;
        self.taken.fetch_add(piece, Ordering::SeqCst);
        Poll::Ready(Some(Ok(Bytes::from(vec![b'/'; piece]))))
    }
}

/// Sends a form whose last field is a megabyte long; gives the status and how much of it was read.
async fn sends_a_megabyte(client: &Client, path: &str, field: &str) -> (u16, usize) {
    let taken = Arc::new(AtomicUsize::new(0));
    let begins = Some(Bytes::from(format!("theme=dim&{field}=")));
    let body = Body::from_stream(Counted { begins, left: 1024 * 1024 - 200, taken: Arc::clone(&taken) });
    let request = Request::post(path)
        .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
        .header(header::HOST, "lab.test")
        .header(header::ORIGIN, "http://lab.test")
        .body(body)
        .expect("a request");
    let status = client.send(request).await.status.as_u16();
    (status, taken.load(Ordering::SeqCst))
}

fn public_forms() -> impl Iterator<Item = String> {
    let open = |route: &Route| route.access == Access::Open && route.method == Method::POST;
    every_route::table().into_iter().filter(open).map(|route| route.path.replace("{token}", "some-token"))
}

#[tokio::test]
async fn no_public_form_reads_a_megabyte() {
    let app = TestApp::new().await;
    let mut walked = 0;
    for path in public_forms() {
        for field in ["back", "seat_key", "door_code", "sign_in_name", "password", "then", "form_id"] {
            let (status, taken) = sends_a_megabyte(&app.client(), &path, field).await;
            // leaving reads no form at all; a link that does not open says so first or after
            let refused = status == 413 || (path == "/leave" && status == 303 && taken == 0);
            assert!(refused, "{path} {field}: {status}");
            assert!(taken <= 64 * 1024, "{path} {field}: {taken} bytes were read");
            walked += 1;
        }
    }
    assert!(walked >= 7 * 6, "{walked}");
}

#[tokio::test]
async fn a_field_that_is_too_long_is_told_beside_it_and_what_fits_is_kept() {
    let app = TestApp::new().await;
    app.evening().await;
    let long = "mango ".repeat(600);
    let answer = app.client().post("/seat", &[("seat_key", &long)]).await;
    assert_eq!(answer.status, 422);
    assert!(answer.error_beside("seat_key").contains("is too long"), "{}", answer.text("main"));
    let answer = app.client().post("/staff", &[("sign_in_name", &long), ("password", &long)]).await;
    assert_eq!(answer.status, 422);
    for field in ["sign_in_name", "password"] {
        assert!(answer.error_beside(field).contains("is too long"), "{field}: {}", answer.text("main"));
    }
    let kept = answer.attribute("[name=sign_in_name]", "value").expect("what was typed");
    assert!(kept.starts_with("mango mango") && kept.len() < long.len(), "{}", kept.len());
    let fields = [("door_code", long.as_str()), ("roster_number", "07"), ("family_name", "Vask")];
    let answer = app.client().post("/door", &fields).await;
    assert_eq!(answer.status, 422);
    assert!(answer.error_beside("door_code").contains("is too long"), "{}", answer.text("main"));
    assert_eq!(answer.attribute("[name=family_name]", "value").as_deref(), Some("Vask"));
}

#[tokio::test]
async fn no_part_of_a_form_that_was_cut_is_saved() {
    let (_, _, _, student) = TestApp::with_open_session().await;
    student.saves("/bench/camera", &[("build", "box"), ("distance", "128"), ("width", "127"), ("height", "102")]).await;
    let long = "a".repeat(70_000);
    let answer = student.post("/bench/call", &[("why", &long)]).await;
    assert_eq!(answer.status, 422, "{}", answer.text("main"));
    assert!(answer.text("main").contains("is too long"), "{}", answer.text("main"));
    assert!(!student.get("/bench").await.body.contains("aaaaaaaaaa"));
}

#[tokio::test]
async fn only_forms_are_taken_as_forms() {
    let (_, anon, _, student) = TestApp::with_open_session().await;
    for (client, path) in [(&anon, "/seat"), (&anon, "/theme"), (&student, "/bench/camera")] {
        for kind in ["application/json", "text/plain", "application/x-www-form-urlencoded-not"] {
            let request = Request::post(path)
                .header(header::CONTENT_TYPE, kind)
                .header(header::HOST, "lab.test")
                .header(header::ORIGIN, "http://lab.test")
                .body(Body::from("seat_key=mango"))
                .expect("a request");
            let answer = client.send(request).await;
            assert_eq!(answer.status, 415, "{path} {kind}");
            assert_eq!(answer.text("h1"), "Not a form");
        }
    }
}
