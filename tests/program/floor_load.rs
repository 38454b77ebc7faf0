//! Thirty students click at once while the floor, the bare floor and every bench listen: nobody is turned
//! away, every listener hears of it, and the server still stops in order.

use std::path::Path;

use hyper::StatusCode;
use shimlight::{
    clock::World,
    domain::{
        evening::lab_session::SessionState,
        ids::{AccountId, FormId, LabSessionId, StudentId},
        people::{actor::Role, student::Student},
    },
    secrets,
    store::{self, Stamp, Store},
};
use tokio::{
    io::{AsyncBufReadExt, AsyncWriteExt, BufReader},
    net::TcpStream,
    sync::mpsc,
    task::JoinSet,
};

use crate::{
    lab::Demo,
    program::{PATIENCE, Server, get, post},
};

const STUDENTS: usize = 30;

/// Who is there, by their cookies, and the session they are in.
struct Evening {
    session: LabSessionId,
    instructor: String,
    students: Vec<String>,
}

/// Puts thirty students on the roster of the demo's open session, each with a seat.
async fn thirty_at_the_benches(database: &Path) -> Evening {
    let world = World::system();
    let store = Store::open(database).await.expect("a sound database");
    let mut conn = store.read().await.expect("a reader");
    let section = store::people::sections::list(&mut conn).await.expect("sections").remove(0);
    let sessions = store::evening::lab_sessions::list(&mut conn, section.id).await.expect("sessions");
    let open = |state: &SessionState| matches!(state, SessionState::Open { .. });
    let session = sessions.into_iter().find(|session| open(&session.state)).expect("an open session").id;
    drop(conn);
    let (at, account) = (world.now(), world.mint::<AccountId>());
    let tokens: Vec<_> = (0..=STUDENTS).map(|_| secrets::new_token(&world.chance)).collect();
    let hashes: Vec<_> = tokens.iter().map(|token| secrets::token_hash(token)).collect();
    let seats: Vec<(Student, [u8; 32])> = hashes[1..]
        .iter()
        .zip(1..)
        .map(|(hash, number)| {
            let student = Student {
                id: world.mint::<StudentId>(),
                section: section.id,
                roster_number: format!("load-{number}"),
                name: format!("Visitor {number}"),
                email: String::new(),
                walk_in: false,
                inches: false,
                joined_at: Some(at),
                left_at: None,
                version: 1,
            };
            (student, *hash)
        })
        .collect();
    let instructor = hashes[0];
    let seated = store.write(Stamp::server(at), move |tx| {
        Box::pin(async move {
            store::people::accounts::insert(tx, account, Role::Instructor, "load", "Front Bench", "none", at).await?;
            store::people::sign_ins::insert(tx, &instructor, Some(account), None, false, at).await?;
            for (student, hash) in seats {
                store::people::students::insert(tx, &student, at).await?;
                store::people::sign_ins::insert(tx, &hash, None, Some(student.id), false, at).await?;
            }
            Ok(String::new())
        })
    });
    seated.await.expect("everybody has a seat");
    store.close().await;
    let mut cookies = tokens.iter().map(|token| format!("shimlight_seat={token}"));
    let instructor = cookies.next().expect("the first");
    Evening { session, instructor, students: cookies.collect() }
}

/// A page that listens: each event it hears, by the parts it names; it ends with the stream.
async fn listen(address: &str, path: &str, cookie: &str) -> mpsc::UnboundedReceiver<String> {
    let mut stream = TcpStream::connect(address).await.expect("it listens");
    let head =
        format!("GET {path} HTTP/1.1\r\nHost: {address}\r\nCookie: {cookie}\r\nAccept: text/event-stream\r\n\r\n");
    stream.write_all(head.as_bytes()).await.expect("sent");
    let (send, heard) = mpsc::unbounded_channel();
    tokio::spawn(async move {
        let mut lines = BufReader::new(stream).lines();
        while let Ok(Some(line)) = lines.next_line().await {
            if let Some(parts) = line.strip_prefix("data: ")
                && send.send(parts.to_owned()).is_err()
            {
                break;
            }
        }
    });
    heard
}

/// Waits until a listener hears of this part.
async fn hears_of(heard: &mut mpsc::UnboundedReceiver<String>, part: &str) {
    let waited = tokio::time::timeout(PATIENCE, async {
        while let Some(parts) = heard.recv().await {
            if parts.split(' ').any(|it| it == part) {
                return;
            }
        }
        panic!("the stream ended before it spoke of {part}");
    });
    waited.await.unwrap_or_else(|_| panic!("it never spoke of {part}"));
}

/// What one student does: registers a box and its hole, begins a sheet, asks for help, and looks
/// at the bench after each.
async fn works(address: String, cookie: String, number: usize) {
    let world = World::system();
    let form = || world.mint::<FormId>().to_string();
    let distance = (90 + number).to_string();
    let (camera, hole, sheet, call) = (form(), form(), form(), form());
    let camera = [
        ("form_id", camera.as_str()),
        ("build", "box"),
        ("distance", distance.as_str()),
        ("width", "127"),
        ("height", "102"),
    ];
    let hole = [("form_id", hole.as_str()), ("reading_1", "0.45"), ("reading_2", "0.46"), ("instrument", "0.01")];
    let why = format!("needle {number}");
    for (path, fields) in [
        ("/bench/camera", camera.as_slice()),
        ("/bench/hole", hole.as_slice()),
        ("/bench/ways", &[("form_id", sheet.as_str())]),
        ("/bench/call", &[("form_id", call.as_str()), ("why", why.as_str())]),
    ] {
        let answer = post(&address, path, &cookie, fields).await.expect("an answer");
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{path}: {}", answer.body);
        let page = get(&address, "/bench", &cookie).await.expect("an answer");
        assert_eq!(page.status, StatusCode::OK, "{}", page.body);
    }
}

#[tokio::test]
async fn thirty_students_click_at_once_and_everybody_who_listens_hears_of_it() {
    let demo = Demo::new();
    let evening = thirty_at_the_benches(&demo.database).await;
    let server = Server::start(&demo.database, &[]);
    let address = server.address.clone();
    let floor = format!("/front/sessions/{}/floor", evening.session);
    let mut board = listen(&address, &format!("{floor}/changes"), &evening.instructor).await;
    hears_of(&mut board, "lines").await;
    let mut benches = Vec::new();
    for cookie in &evening.students {
        let mut bench = listen(&address, "/bench/changes", cookie).await;
        hears_of(&mut bench, "evening").await;
        benches.push(bench);
    }

    let mut working = JoinSet::new();
    for (number, cookie) in evening.students.iter().enumerate() {
        working.spawn(works(address.clone(), cookie.clone(), number));
    }
    while let Some(done) = working.join_next().await {
        done.expect("nobody is turned away");
    }

    hears_of(&mut board, "lines").await;
    let page = get(&address, &floor, &evening.instructor).await.expect("an answer");
    for number in 0..STUDENTS {
        assert!(page.body.contains(&format!("needle {number}")), "the call of {number} stands on the floor");
    }
    // what is said to all reaches every bench
    let form = World::system().mint::<FormId>().to_string();
    let words = [("form_id", form.as_str()), ("words", "lights on in two minutes")];
    let said = post(&address, &format!("{floor}/say"), &evening.instructor, &words).await.expect("an answer");
    assert_eq!(said.status, StatusCode::SEE_OTHER, "{}", said.body);
    for bench in &mut benches {
        hears_of(bench, "told").await;
    }

    // every stream is closed, so that the server stops in order
    server.stop();
    for bench in &mut benches {
        let ended = tokio::time::timeout(PATIENCE, async { while bench.recv().await.is_some() {} }).await;
        assert!(ended.is_ok(), "the stream ended with the server");
    }
}
