//! The program, running.

use std::{
    io::{BufRead, BufReader, Read},
    path::{Path, PathBuf},
    process::{Child, Command, ExitStatus, Output, Stdio},
    sync::mpsc,
    thread,
    time::Duration,
};

use http_body_util::{BodyExt, Full};
use hyper::{Request, StatusCode, body::Bytes, client::conn::http1, header};
use hyper_util::rt::TokioIo;
use tokio::net::TcpStream;

/// Longer than anything takes, however busy the machine; whoever waits this long waits for something that
/// will not come.
pub const PATIENCE: Duration = Duration::from_secs(300);

/// The program in an environment of its own: the settings, zone and language of whoever runs the tests play
/// no part.
pub fn program() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_shimlight"));
    for (name, _) in std::env::vars_os() {
        let known = name.to_string_lossy();
        if ["SHIMLIGHT_", "LC_", "LANG"].iter().any(|ours| known.starts_with(ours)) {
            command.env_remove(&name);
        }
    }
    command.env("TZ", "UTC").env("LC_ALL", "C");
    command
}

/// Runs the program to its end.
pub fn run(database: &Path, arguments: &[&str]) -> Output {
    program()
        .args(arguments)
        .env("SHIMLIGHT_DATABASE", database)
        .env("SHIMLIGHT_LOG", "warn")
        .output()
        .expect("the program starts")
}

/// Standard output and error, for messages.
pub fn said(output: &Output) -> String {
    format!("{}\n{}", String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr))
}

/// `shimlight serve` on a free port.
pub struct Server {
    child: Child,
    /// `127.0.0.1:port`.
    pub address: String,
    output: mpsc::Receiver<String>,
    log: mpsc::Receiver<String>,
}

impl Server {
    pub fn start(database: &Path, arguments: &[&str]) -> Self {
        let mut child = program()
            .args(["serve", "--listen", "127.0.0.1:0"])
            .args(arguments)
            .env("SHIMLIGHT_DATABASE", database)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the program starts");
        let log = lines(child.stderr.take().expect("piped"));
        let output = lines(child.stdout.take().expect("piped"));
        let mut server = Self { child, address: String::new(), output, log };
        server.address = server.prints("  http://").trim().trim_start_matches("http://").to_owned();
        server.waits_for("serving");
        server
    }

    /// Waits until the log says this.
    pub fn waits_for(&self, words: &str) {
        next_with(&self.log, words);
    }

    /// Waits until it prints a line with this, and gives the line.
    pub fn prints(&self, words: &str) -> String {
        next_with(&self.output, words)
    }

    /// SIGKILL: no chance to tidy up.
    pub fn kill(mut self) {
        self.child.kill().expect("it runs");
        self.child.wait().expect("it ends");
    }

    /// SIGTERM, without waiting for the end.
    pub fn terminate(&self) {
        let id = self.child.id().to_string();
        // the shell's own: a bare system has no other
        let done = Command::new("sh").args(["-c", "kill -TERM \"$1\"", "sh", &id]).status().expect("a shell");
        assert!(done.success(), "it runs");
    }

    /// Waits for the end.
    pub fn ends(mut self) -> ExitStatus {
        self.child.wait().expect("it ends")
    }

    /// SIGTERM and the end.
    pub fn stop(self) {
        self.terminate();
        assert!(self.ends().success(), "an orderly stop");
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        // a failed test must not leave a server behind
        drop(self.child.kill());
        drop(self.child.wait());
    }
}

fn next_with(lines: &mpsc::Receiver<String>, words: &str) -> String {
    let mut before = Vec::new();
    loop {
        match lines.recv_timeout(PATIENCE) {
            Ok(line) if line.contains(words) => return line,
            Ok(line) => before.push(line),
            Err(error) => panic!("it never said {words:?} ({error}), only {before:#?}"),
        }
    }
}

fn lines(stream: impl Read + Send + 'static) -> mpsc::Receiver<String> {
    let (send, lines) = mpsc::channel();
    thread::spawn(move || {
        for line in BufReader::new(stream).lines().map_while(Result::ok) {
            if send.send(line).is_err() {
                break;
            }
        }
    });
    lines
}

/// What came back.
#[derive(Debug)]
pub struct Answer {
    pub status: StatusCode,
    pub location: String,
    pub body: String,
}

/// Asks for a page; `None` when the connection broke before an answer came.
pub async fn get(address: &str, path: &str, cookie: &str) -> Option<Answer> {
    let request = Request::get(path).header(header::HOST, address).header(header::COOKIE, cookie);
    send(address, request.body(Full::default()).expect("a request")).await
}

/// Sends a form; `None` when the connection broke before an answer came.
pub async fn post(address: &str, path: &str, cookie: &str, fields: &[(&str, &str)]) -> Option<Answer> {
    let body = form_urlencoded::Serializer::new(String::new()).extend_pairs(fields).finish();
    let request = Request::post(path)
        .header(header::HOST, address)
        .header(header::ORIGIN, format!("http://{address}"))
        .header(header::COOKIE, cookie)
        .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded");
    send(address, request.body(Full::from(body)).expect("a request")).await
}

async fn send(address: &str, request: Request<Full<Bytes>>) -> Option<Answer> {
    let stream = TcpStream::connect(address).await.ok()?;
    let (mut sender, connection) = http1::handshake(TokioIo::new(stream)).await.ok()?;
    tokio::spawn(connection);
    let (parts, body) = sender.send_request(request).await.ok()?.into_parts();
    let body = body.collect().await.ok()?.to_bytes();
    let location = parts.headers.get(header::LOCATION).and_then(|to| to.to_str().ok()).unwrap_or_default();
    Some(Answer {
        status: parts.status,
        location: location.to_owned(),
        body: String::from_utf8_lossy(&body).into_owned(),
    })
}

/// Every file below a folder, by its path in it, with its content.
pub fn files(folder: &Path) -> Vec<(PathBuf, Vec<u8>)> {
    let mut found = Vec::new();
    let mut folders = vec![folder.to_owned()];
    while let Some(next) = folders.pop() {
        for entry in std::fs::read_dir(&next).expect("a folder") {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                folders.push(path);
            } else {
                let name = path.strip_prefix(folder).expect("below the folder").to_owned();
                found.push((name, std::fs::read(&path).expect("a file")));
            }
        }
    }
    found.sort();
    found
}
