//! Starting and stopping.

use hyper::StatusCode;
use tokio::{
    io::{AsyncReadExt, AsyncWriteExt},
    net::TcpStream,
};

use crate::{
    lab::{Lab, rule, rule_sources},
    program::{self, PATIENCE, Server, get, post},
};

const FORM_ID: &str = "0197e3a0-0000-7000-8000-000000000001";

#[tokio::test]
async fn an_empty_folder_is_served_with_a_link_that_makes_the_first_instructor() {
    let folder = tempfile::tempdir().expect("a folder");
    let database = folder.path().join("shimlight.db");
    let server = Server::start(&database, &[]);
    let link = server.prints("/first/");
    assert!(link.trim().starts_with(&format!("http://{}/first/", server.address)), "{link}");
    let answer = get(&server.address, "/health", "").await.expect("an answer");
    assert_eq!((answer.status, answer.body.as_str()), (StatusCode::OK, "well\n"));
    let well = program::run(&database, &["health", "--listen", &server.address]);
    assert!(well.status.success(), "{}", program::said(&well));
    server.stop();
}

#[tokio::test]
async fn one_server_at_a_time_holds_a_database() {
    let lab = Lab::new().await;
    let server = Server::start(&lab.database, &[]);
    let second = program::run(&lab.database, &["serve", "--listen", "127.0.0.1:0"]);
    assert_eq!(second.status.code(), Some(1));
    assert!(program::said(&second).contains("already being served"), "{}", program::said(&second));
    server.kill();
    // the lock goes with the process, however it ends
    Server::start(&lab.database, &[]).stop();
}

#[tokio::test]
async fn told_to_stop_it_finishes_the_form_that_is_on_its_way() {
    let lab = Lab::new().await;
    let server = Server::start(&lab.database, &[]);
    let body = form_urlencoded::Serializer::new(String::new())
        .extend_pairs(rule(FORM_ID, "letter of the last minute"))
        .finish();
    let (first, rest) = body.split_at(20);
    let mut stream = TcpStream::connect(&server.address).await.expect("it listens");
    let head = format!(
        "POST /front/site/rules HTTP/1.1\r\nHost: {}\r\nCookie: {}\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: {}\r\nExpect: 100-continue\r\n\r\n",
        server.address,
        lab.cookie,
        body.len()
    );
    stream.write_all(head.as_bytes()).await.expect("sent");
    // asked to go on: the form is being read
    let mut go_on = [0; 25];
    stream.read_exact(&mut go_on).await.expect("an answer");
    assert_eq!(&go_on, b"HTTP/1.1 100 Continue\r\n\r\n");
    stream.write_all(first.as_bytes()).await.expect("sent");

    server.terminate();
    server.waits_for("stopping");
    stream.write_all(rest.as_bytes()).await.expect("still taken");
    let mut answer = String::new();
    stream.read_to_string(&mut answer).await.expect("an answer");
    assert!(answer.starts_with("HTTP/1.1 303"), "{answer}");
    assert!(server.ends().success(), "an orderly stop");
    assert_eq!(rule_sources(&lab.database).await, ["letter of the last minute"]);
}

#[tokio::test]
async fn a_caller_who_never_finishes_the_headers_is_let_go() {
    let lab = Lab::new().await;
    let server = Server::start(&lab.database, &[]);
    let mut stream = TcpStream::connect(&server.address).await.expect("it listens");
    stream.write_all(b"GET / HTTP/1.1\r\nHost: lab").await.expect("sent");
    let mut rest = Vec::new();
    let ended = tokio::time::timeout(PATIENCE, stream.read_to_end(&mut rest)).await;
    assert!(ended.is_ok(), "the server closed the connection");
    server.stop();
}

#[tokio::test]
async fn headers_without_end_are_refused() {
    let lab = Lab::new().await;
    let server = Server::start(&lab.database, &[]);
    let mut stream = TcpStream::connect(&server.address).await.expect("it listens");
    let long = "x".repeat(400_000);
    drop(stream.write_all(format!("GET / HTTP/1.1\r\nHost: lab\r\nX-Long: {long}\r\n\r\n").as_bytes()).await);
    let mut answer = Vec::new();
    drop(stream.read_to_end(&mut answer).await);
    let answer = String::from_utf8_lossy(&answer);
    assert!(answer.is_empty() || answer.starts_with("HTTP/1.1 431"), "{answer}");
    assert_eq!(get(&server.address, "/health", "").await.expect("an answer").status, StatusCode::OK);
    server.stop();
}

#[tokio::test]
async fn whoever_watches_the_server_reads_its_numbers_on_a_listener_of_their_own() {
    let lab = Lab::new().await;
    let server = Server::start(&lab.database, &["--metrics", "127.0.0.1:0"]);
    let line = server.prints("/metrics");
    let watched = line.split("http://").nth(1).and_then(|rest| rest.strip_suffix("/metrics")).expect("an address");
    let saved = post(&server.address, "/front/site/rules", &lab.cookie, &rule(FORM_ID, "letter")).await;
    assert_eq!(saved.expect("an answer").status, StatusCode::SEE_OTHER);
    let refused = post(&server.address, "/front/site/rules", &lab.cookie, &[("span", "never")]).await;
    assert_eq!(refused.expect("an answer").status, StatusCode::UNPROCESSABLE_ENTITY);

    let numbers = get(watched, "/metrics", "").await.expect("an answer");
    assert!(numbers.body.ends_with("# EOF\n"), "{}", numbers.body);
    for line in [
        "shimlight_requests_total{status=\"3xx\"} 1",
        "shimlight_requests_total{status=\"4xx\"} 1",
        "shimlight_forms_refused_total 1",
        "shimlight_writes_waiting 0",
        "shimlight_commits_failed_total 0",
    ] {
        assert!(numbers.body.lines().any(|told| told == line), "{line}: {}", numbers.body);
    }
    assert!(!numbers.body.contains("shimlight_wal_bytes 0\n"), "{}", numbers.body);
    assert_eq!(get(&server.address, "/metrics", "").await.expect("an answer").status, StatusCode::NOT_FOUND);
    server.stop();
}
