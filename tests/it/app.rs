//! The cast of every story: a server on a fresh database, and clients that keep their cookies.
//!
//! `let (app, anon, instructor, student) = TestApp::with_open_session().await;`
#![allow(dead_code, reason = "each story uses what it needs")]

use std::sync::{Arc, Mutex};

use axum::{
    Router,
    body::Body,
    http::{HeaderMap, Request, StatusCode, header},
};
use http_body_util::BodyExt;
use jiff::tz::TimeZone;
use scraper::{Html, Selector};
use shimlight::{
    clock::World,
    domain::{
        evening::lab_session::{LabSession, SessionState},
        ids::{AccountId, LabSessionId, PaperId, SectionId, SiteId, StudentId, TrayLineId},
        instant::Instant,
        people::{actor::Role, section::Section, student::Student},
        site::Site,
        stock::{
            paper::{Paper, PaperBase, PaperKind},
            reciprocity_lines::ReciprocityLines,
        },
    },
    secrets::{self, Effort, Hasher},
    store::{self, Store},
    web::{
        every_route,
        kit::{reach::Reach, state::AppState},
    },
};
use tempfile::TempDir;

/// The evening every story is set in: 20 March 2026, noon in the site's zone.
pub fn noon() -> Instant {
    Instant::from_micros(1_774_029_600_000_000).expect("in range")
}

/// A server of its own on a database of its own.
pub struct TestApp {
    /// What the handlers see.
    pub state: AppState,
    router: Router,
    _folder: TempDir,
}

/// The section the stories play in.
#[derive(Clone, Copy, Debug)]
pub struct Evening {
    pub site: SiteId,
    pub section: SectionId,
    pub paper: PaperId,
    pub tray_line: TrayLineId,
    pub session: LabSessionId,
}

impl TestApp {
    /// A server with nothing in it.
    pub async fn new() -> Arc<Self> {
        let folder = tempfile::tempdir().expect("a folder");
        let store = Store::open(&folder.path().join("shimlight.db")).await.expect("a fresh database");
        let state = AppState::new(store, World::fixed(noon()), Hasher::new(Effort::Weak), Reach::default());
        let router = every_route::router(state.clone());
        Arc::new(Self { state, router, _folder: folder })
    }

    /// A server with a site, a section with an open session, an instructor and a student who joined.
    pub async fn with_open_session() -> (Arc<Self>, Client, Client, Client) {
        let app = Self::new().await;
        let evening = app.evening().await;
        let anon = app.client();
        let instructor = app.staff(Role::Instructor, "Ines Quarry").await;
        let student = app.student(evening.section, "07", "Teodora Vask").await;
        (app, anon, instructor, student)
    }

    /// Runs one write, as the server.
    pub async fn write<F>(&self, work: F)
    where
        F: for<'c> FnOnce(&'c mut sqlx::SqliteConnection) -> store::Work<'c> + Send + 'static,
    {
        self.state.store.write(self.state.server_stamp(), work).await.expect("the story's setting is stored");
    }

    /// Sets up a site, a section with the door code QUAY7, a paper and an open session.
    pub async fn evening(&self) -> Evening {
        let state = &self.state;
        let evening = Evening {
            site: state.mint(),
            section: state.mint(),
            paper: state.mint(),
            tray_line: state.mint(),
            session: state.mint(),
        };
        let at = state.now();
        let site = Site {
            id: evening.site,
            name: "Quayside darkroom".to_owned(),
            place: "Room B2".to_owned(),
            zone: TimeZone::get("America/Denver").expect("bundled zones"),
            position: None,
            elevation_m: 0,
            disposal_contact: String::new(),
            waste_title: String::new(),
            emergency_line: String::new(),
            silver_limit_ug_per_l: None,
            silver_limit_source: String::new(),
            version: 1,
        };
        let section = Section {
            id: evening.section,
            site: evening.site,
            name: "Light and shadow, group 2".to_owned(),
            door_code: "QUAY7".to_owned(),
            walk_ins: false,
            version: 1,
        };
        let paper = Paper {
            id: evening.paper,
            site: evening.site,
            kind: PaperKind::Paper,
            base: PaperBase::ResinCoated,
            sees: shimlight::domain::stock::colours_seen::ColoursSeen::BlueAndGreen,
            name: "Resin-coated paper, grade 2".to_owned(),
            exposure_index_milli: 6_000,
            index_from: String::new(),
            iso_speed_milli: None,
            daylight_factor_milli: 1_000,
            reciprocity_table: ReciprocityLines::default(),
            reciprocity_milli: 1_000,
            reciprocity_threshold_ms: 1_000,
            silver_ug_per_m2: 970_000,
            silver_low_ug_per_m2: 350_000,
            silver_high_ug_per_m2: 1_610_000,
            silver_source: "reference figure for fibre paper".to_owned(),
            carry_over_ul_per_m2: 35_000,
            remark: String::new(),
            version: 1,
        };
        let session = LabSession {
            id: evening.session,
            section: evening.section,
            title: "First light".to_owned(),
            held_on: jiff::civil::date(2026, 3, 20),
            hole_constant_milli: 1_900,
            wavelength_nm: 550,
            paper: evening.paper,
            tray_line: Some(evening.tray_line),
            rubric: None,
            report_task: "What did your second sheet teach you?".to_owned(),
            state: SessionState::Planned,
            version: 1,
        };
        self.write(move |tx| {
            Box::pin(async move {
                store::site::sites::insert(tx, &site, at).await?;
                store::people::sections::insert(tx, &section, at).await?;
                store::stock::papers::insert(tx, &paper).await?;
                store::baths::tray_lines::insert(tx, evening.tray_line, evening.site, "By the sink", Some(6)).await?;
                store::evening::lab_sessions::insert(tx, &session, at).await?;
                store::evening::lab_sessions::update_state(tx, session.id, SessionState::Open { opened_at: at })
                    .await?;
                Ok(String::new())
            })
        })
        .await;
        evening
    }

    /// Another section on the same site, with nobody in it.
    pub async fn other_section(&self, door_code: &str) -> SectionId {
        let evening = self.the_evening().await;
        let (id, at) = (self.state.mint::<SectionId>(), self.state.now().plus_minutes(1));
        let section = Section {
            id,
            site: evening.site,
            name: "Light and shadow, group 5".to_owned(),
            door_code: door_code.to_owned(),
            walk_ins: false,
            version: 1,
        };
        self.write(move |tx| {
            Box::pin(async move {
                store::people::sections::insert(tx, &section, at).await?;
                Ok(String::new())
            })
        })
        .await;
        id
    }

    /// The evening set up by [`TestApp::evening`].
    pub async fn the_evening(&self) -> Evening {
        let mut conn = self.state.store.read().await.expect("a reader");
        let section = store::people::sections::list(&mut conn).await.expect("sections").pop().expect("one section");
        let session = store::evening::lab_sessions::list(&mut conn, section.id)
            .await
            .expect("sessions")
            .pop()
            .expect("one session");
        Evening {
            site: section.site,
            section: section.id,
            paper: session.paper,
            tray_line: session.tray_line.expect("a tray line"),
            session: session.id,
        }
    }

    /// Somebody who has not signed in.
    pub fn client(self: &Arc<Self>) -> Client {
        Client { app: Arc::clone(self), cookies: Arc::default(), student: None }
    }

    /// A member of staff, signed in.
    pub async fn staff(self: &Arc<Self>, role: Role, name: &str) -> Client {
        let id: AccountId = self.state.mint();
        let (name, at) = (name.to_owned(), self.state.now());
        let (token, hash) = self.token();
        self.write(move |tx| {
            Box::pin(async move {
                let sign_in_name = name.to_lowercase().replace(' ', ".");
                store::people::accounts::insert(tx, id, role, &sign_in_name, &name, "no password", at).await?;
                store::people::sign_ins::insert(tx, &hash, Some(id), None, false, at).await?;
                Ok(String::new())
            })
        })
        .await;
        self.client_with(&token)
    }

    /// A student on the roster who has joined and sits at a shared lab computer.
    pub async fn student(self: &Arc<Self>, section: SectionId, roster_number: &str, name: &str) -> Client {
        let id: StudentId = self.state.mint();
        let at = self.state.now();
        let student = Student {
            id,
            section,
            roster_number: roster_number.to_owned(),
            name: name.to_owned(),
            email: String::new(),
            walk_in: false,
            joined_at: None,
            left_at: None,
            inches: false,
            version: 1,
        };
        let (token, hash) = self.token();
        let mut key_hash = [0; 32];
        self.state.world.chance.fill(&mut key_hash);
        self.write(move |tx| {
            Box::pin(async move {
                store::people::students::insert(tx, &student, at).await?;
                store::people::students::update_seat_key(tx, id, &key_hash, at).await?;
                store::people::sign_ins::insert(tx, &hash, None, Some(id), true, at).await?;
                Ok(String::new())
            })
        })
        .await;
        Client { student: Some(id), ..self.client_with(&token) }
    }

    /// A student on the roster who is not seated yet.
    pub async fn on_roster(&self, section: SectionId, roster_number: &str, name: &str) -> StudentId {
        let id: StudentId = self.state.mint();
        let at = self.state.now();
        let student = Student {
            id,
            section,
            roster_number: roster_number.to_owned(),
            name: name.to_owned(),
            email: String::new(),
            walk_in: false,
            joined_at: None,
            left_at: None,
            inches: false,
            version: 1,
        };
        self.write(move |tx| {
            Box::pin(async move {
                store::people::students::insert(tx, &student, at).await?;
                Ok(String::new())
            })
        })
        .await;
        id
    }

    /// A member of staff with a password, not signed in.
    pub async fn staff_with_password(&self, role: Role, sign_in_name: &str, password: &str) -> AccountId {
        let id: AccountId = self.state.mint();
        let at = self.state.now();
        let hash = self.state.hasher.hash_password(password, &self.state.world.chance).await;
        let name = sign_in_name.to_owned();
        self.write(move |tx| {
            Box::pin(async move {
                store::people::accounts::insert(tx, id, role, &name, &name, &hash, at).await?;
                Ok(String::new())
            })
        })
        .await;
        id
    }

    fn token(&self) -> (String, [u8; 32]) {
        let token = secrets::new_token(&self.state.world.chance);
        let hash = secrets::token_hash(&token);
        (token, hash)
    }

    fn client_with(self: &Arc<Self>, token: &str) -> Client {
        let client = self.client();
        client.cookies.lock().expect("one test").push(("shimlight_seat".to_owned(), token.to_owned()));
        client
    }
}

/// A browser of sorts: keeps its cookies, sends forms as a browser would.
#[derive(Clone)]
pub struct Client {
    pub app: Arc<TestApp>,
    cookies: Arc<Mutex<Vec<(String, String)>>>,
    /// The student it belongs to, if it is a student's.
    pub student: Option<StudentId>,
}

/// Longer than anything takes, however busy the machine.
const PATIENCE: std::time::Duration = std::time::Duration::from_secs(300);

/// A stream of events being listened to.
pub struct Stream {
    body: Body,
    pub headers: HeaderMap,
}

impl Stream {
    /// What the next event says; `None` when the stream has ended.
    pub async fn next(&mut self) -> Option<String> {
        loop {
            let frame = tokio::time::timeout(PATIENCE, self.body.frame());
            let frame = frame.await.expect("an event, or the end")?.expect("a frame").into_data().expect("data");
            let text = String::from_utf8(frame.to_vec()).expect("UTF-8");
            // a slow test hears the heartbeat, too: a comment, no event
            if text.starts_with(':') {
                continue;
            }
            let data = text.lines().find_map(|line| line.strip_prefix("data: "));
            return Some(data.unwrap_or_default().to_owned());
        }
    }
}

/// What came back.
#[derive(Debug)]
pub struct Answer {
    pub status: StatusCode,
    pub headers: HeaderMap,
    pub body: String,
}

impl Client {
    /// Asks for a page.
    pub async fn get(&self, path: &str) -> Answer {
        self.send(Request::get(path).body(Body::empty()).expect("a request")).await
    }

    /// Waits until it is written down that somebody is at work now, which no page waits for.
    pub async fn is_seen_at_work(&self) {
        let now = self.app.state.now();
        let noted = tokio::time::timeout(PATIENCE, async {
            loop {
                let mut conn = self.app.state.store.read().await.expect("a reader");
                let seen = sqlx::query_scalar("SELECT max(seen_at) FROM sign_in").fetch_one(&mut *conn).await;
                if seen.ok() == Some(now.as_micros()) {
                    return;
                }
                drop(conn);
                // nobody is told of it: asked again
                tokio::time::sleep(std::time::Duration::from_millis(10)).await;
            }
        });
        noted.await.expect("somebody is seen at work");
    }

    /// Sends a form with an id of its own.
    pub async fn post(&self, path: &str, fields: &[(&str, &str)]) -> Answer {
        let id: shimlight::domain::ids::FormId = self.app.state.mint();
        self.post_as(path, &id.to_string(), fields).await
    }

    /// Sends a form under a given form id.
    pub async fn post_as(&self, path: &str, form_id: &str, fields: &[(&str, &str)]) -> Answer {
        let body = form_urlencoded::Serializer::new(String::new())
            .append_pair("form_id", form_id)
            .extend_pairs(fields)
            .finish();
        let request = Request::post(path)
            .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
            .header(header::HOST, "lab.test")
            .header(header::ORIGIN, "http://lab.test")
            .body(Body::from(body))
            .expect("a request");
        self.send(request).await
    }

    /// The value of a cookie it holds.
    pub fn cookie(&self, name: &str) -> Option<String> {
        let cookies = self.cookies.lock().expect("one test");
        cookies.iter().find(|(kept, _)| kept == name).map(|(_, value)| value.clone())
    }

    /// Another browser that holds the same cookies now: what somebody who copied them would have.
    pub fn copy(&self) -> Self {
        let cookies = self.cookies.lock().expect("one test").clone();
        Self { cookies: Arc::new(Mutex::new(cookies)), ..self.clone() }
    }

    /// Sends a form, expects it to be saved, and opens the page it leads to.
    pub async fn saves(&self, path: &str, fields: &[(&str, &str)]) -> Answer {
        let answer = self.post(path, fields).await;
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{path} {fields:?}: {}", answer.text("main"));
        let landing = answer.location();
        let page = self.get(&landing).await;
        assert_eq!(page.status, StatusCode::OK, "{landing}: {}", page.text("main"));
        page
    }

    /// Listens to a stream of events.
    pub async fn listens(&self, path: &str) -> Stream {
        let (parts, body) = self.ask(Request::get(path).body(Body::empty()).expect("a request")).await.into_parts();
        assert_eq!(parts.headers[header::CONTENT_TYPE], "text/event-stream", "{}", parts.status);
        Stream { body, headers: parts.headers }
    }

    /// Sends a request as it is, with this client's cookies.
    pub async fn send(&self, request: Request<Body>) -> Answer {
        let (parts, body) = self.ask(request).await.into_parts();
        self.keep_cookies(&parts.headers);
        // a stream goes on for ever: its head is all of its answer
        let streaming = parts.headers.get(header::CONTENT_TYPE).is_some_and(|kind| kind == "text/event-stream");
        let bytes = if streaming { Default::default() } else { body.collect().await.expect("a body").to_bytes() };
        Answer { status: parts.status, headers: parts.headers, body: String::from_utf8_lossy(&bytes).into_owned() }
    }

    async fn ask(&self, mut request: Request<Body>) -> axum::response::Response {
        let cookies = self
            .cookies
            .lock()
            .expect("one test")
            .iter()
            .map(|(name, value)| format!("{name}={value}"))
            .collect::<Vec<_>>()
            .join("; ");
        if !cookies.is_empty() {
            request.headers_mut().insert(header::COOKIE, cookies.parse().expect("cookies"));
        }
        tower::ServiceExt::oneshot(self.app.router.clone(), request).await.expect("infallible")
    }

    fn keep_cookies(&self, headers: &HeaderMap) {
        let mut cookies = self.cookies.lock().expect("one test");
        for set in headers.get_all(header::SET_COOKIE) {
            let text = set.to_str().expect("a cookie");
            let (pair, rest) = text.split_once(';').unwrap_or((text, ""));
            let (name, value) = pair.split_once('=').expect("name and value");
            cookies.retain(|(kept, _)| kept != name);
            if !value.is_empty() && !rest.contains("Max-Age=0") {
                cookies.push((name.to_owned(), value.to_owned()));
            }
        }
    }
}

impl Answer {
    /// Where a redirect leads.
    pub fn location(&self) -> String {
        self.headers.get(header::LOCATION).and_then(|to| to.to_str().ok()).unwrap_or_default().to_owned()
    }

    /// The text of the first element a CSS selector finds, white space folded; empty when none.
    pub fn text(&self, selector: &str) -> String {
        self.texts(selector).into_iter().next().unwrap_or_default()
    }

    /// The texts of all elements a CSS selector finds.
    pub fn texts(&self, selector: &str) -> Vec<String> {
        let html = Html::parse_document(&self.body);
        let selector = Selector::parse(selector).expect("a selector");
        let fold = |text: String| text.split_whitespace().collect::<Vec<_>>().join(" ");
        html.select(&selector).map(|element| fold(element.text().collect())).collect()
    }

    /// An attribute of the first element a CSS selector finds.
    pub fn attribute(&self, selector: &str, name: &str) -> Option<String> {
        let html = Html::parse_document(&self.body);
        let selector = Selector::parse(selector).expect("a selector");
        html.select(&selector).next().and_then(|element| element.value().attr(name)).map(str::to_owned)
    }

    /// The message beside the control called `name`.
    pub fn error_beside(&self, name: &str) -> String {
        let id = self.attribute(&format!("[name={name}]"), "id").unwrap_or_else(|| name.to_owned());
        self.text(&format!("[id=\"{id}-error\"]"))
    }
}
