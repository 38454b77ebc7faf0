//! What holds for every page: headers, error pages, static files.

use std::path::{Path, PathBuf};

use axum::{
    body::Body,
    http::{Request, StatusCode, header},
};

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

/// What stands between `before` and `after`, each time.
fn between<'a>(text: &'a str, before: &str, after: &str) -> Vec<&'a str> {
    text.split(before).skip(1).filter_map(|rest| Some(rest.split_once(after)?.0)).collect()
}

#[tokio::test]
async fn every_face_that_a_style_sheet_or_a_page_names_is_served_as_one() {
    let app = TestApp::new().await;
    let page = app.client().get("/no/such/page").await;
    let sheet = app.client().get(&page.attribute("link[rel=stylesheet]", "href").expect("a style sheet")).await;
    let faces = between(&sheet.body, "url(\"", "\")");
    assert_eq!(faces.len(), 4, "{faces:?}");
    assert_eq!(sheet.body.matches("url(").count(), 4, "no other way of naming one");
    let ahead = between(&page.body, "rel=\"preload\" href=\"", "\"");
    assert_eq!(ahead.len(), 2, "both weights are fetched while the style sheet comes");
    for address in ahead.iter().chain(&faces) {
        assert!(faces.contains(address), "{address} is fetched for nothing");
        assert!(address.starts_with("/static/") && !address.contains("missing"), "{address}");
        let request = Request::get(*address).header(header::ACCEPT_ENCODING, "gzip").body(Body::empty());
        let face = app.client().send(request.expect("a request")).await;
        assert_eq!(face.status, StatusCode::OK, "{address}");
        assert_eq!(face.headers[header::CONTENT_TYPE], "font/woff2", "{address}");
        assert!(face.headers[header::CACHE_CONTROL].to_str().expect("text").contains("immutable"), "{address}");
        assert!(!face.headers.contains_key(header::CONTENT_ENCODING), "{address} is compressed in itself");
    }
    let policy = page.headers[header::CONTENT_SECURITY_POLICY].to_str().expect("text");
    assert!(policy.contains("font-src 'self'"), "{policy}");
    let licence = faces[0].rsplit_once('/').expect("a folder").0.to_owned() + "/OFL.txt";
    assert_eq!(app.client().get(&licence).await.headers[header::CONTENT_TYPE], "text/plain; charset=utf-8");
}

/// Every file below `folder` that ends so.
fn files(folder: &Path, ending: &str) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(folder).expect("a folder").map(|entry| entry.expect("an entry").path());
    entries
        .flat_map(|path| if path.is_dir() { files(&path, ending) } else { vec![path] })
        .filter(|path| path.to_string_lossy().ends_with(ending))
        .collect()
}

#[test]
fn the_face_has_every_letter_and_sign_that_we_write_on_pages() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let sheet = std::fs::read_to_string(root.join("static/shimlight.css")).expect("the style sheet");
    let ranges: Vec<(u32, u32)> = between(&sheet, "unicode-range: ", ";")[0]
        .split(", ")
        .map(|range| {
            let range = range.trim_start_matches("U+");
            let (first, last) = range.split_once('-').unwrap_or((range, range));
            let code = |text| u32::from_str_radix(text, 16).expect("a code");
            (code(first), code(last))
        })
        .collect();
    let has = |sign: char| ranges.iter().any(|(first, last)| (*first..=*last).contains(&u32::from(sign)));
    assert!(has('λ') && has('√') && !has('愛'), "{ranges:?}");
    let mut sources = files(&root.join("templates"), ".html");
    sources.extend(files(&root.join("static"), ".js"));
    sources.extend(files(&root.join("src"), ".rs"));
    for source in sources {
        let text = std::fs::read_to_string(&source).expect("a source");
        let shown = text.split("#[cfg(test)]").next().unwrap_or_default();
        for (line, number) in shown.lines().zip(1..).filter(|(line, _)| !line.trim_start().starts_with("//")) {
            let lacking: String = line.chars().filter(|sign| !sign.is_ascii() && !has(*sign)).collect();
            // what people type, shown in whatever the computer has; and tests
            let typed =
                ["cell.rs", "family_name.rs", "people.rs", "tests.rs"].iter().any(|name| source.ends_with(name));
            assert!(lacking.is_empty() || typed, "{}:{number} shows {lacking}", source.display());
        }
    }
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
