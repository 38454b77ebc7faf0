//! Streams of events: a few a sign-in, and never all connections.

use crate::app::TestApp;

#[tokio::test]
async fn a_sign_in_holds_a_few_streams_and_the_oldest_gives_way() {
    let (app, _, _, student) = TestApp::with_open_session().await;
    let neighbour = app.student(app.the_evening().await.section, "08", "Anselm Quarry").await;
    let mut theirs = neighbour.listens("/bench/changes?by-itself").await;
    assert!(theirs.next().await.is_some());
    let mut streams = Vec::new();
    for _ in 0..4 {
        let mut stream = student.listens("/bench/changes?by-itself").await;
        assert!(stream.next().await.is_some(), "a page opened is told of every part");
        streams.push(stream);
    }
    let mut fifth = student.listens("/bench/changes?by-itself").await;
    assert!(fifth.next().await.is_some());
    let last = streams[0].next().await.expect("told that it gives way");
    assert_eq!(last, "another page");
    assert_eq!(streams[0].next().await, None, "the oldest has ended");
    student.post("/bench/call", &[("why", "The tape leaks")]).await;
    for stream in streams.iter_mut().skip(1).chain([&mut fifth, &mut theirs]) {
        assert!(stream.next().await.is_some(), "the others go on");
    }
}
