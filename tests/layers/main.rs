//! One crate has no compiler wall between its layers, so this test is the wall: the calculation core
//! and the domain know nothing of files, clocks, networks, databases or the web; what people do knows
//! nothing of pages and their addresses; the bench and the front bench know nothing of each other.

use std::fs;
use std::path::{Path, PathBuf};

mod circles;

/// What the calculation core and the domain must not name.
const FORBIDDEN: [&str; 10] = [
    "sqlx",
    "tokio",
    "std::fs",
    "std::net",
    "std::env",
    "std::process",
    "SystemTime",
    "Instant::now",
    "Timestamp::now",
    "ZonedDateTime::now",
];

/// What the calculation core must not name besides.
const FORBIDDEN_IN_CALC: [&str; 2] = ["std::io", "getrandom"];

/// What nobody below the web may name: who serves, and where a page is. The last are how an address begins.
const OF_THE_WEB: [&str; 7] = ["axum", "\"/bench", "\"/front", "\"/door", "\"/static", "\"/calc", "</"];

/// The floors from the ground up, each with the floors that it stands on.
const FLOORS: [(&str, &[&str]); 11] = [
    ("calc", &[]),
    ("clock", &["domain"]),
    ("domain", &["calc"]),
    ("secrets", &["clock", "domain"]),
    ("store", &["calc", "clock", "domain", "secrets"]),
    ("drawing", &["calc", "domain"]),
    ("scans", &["calc", "domain"]),
    ("export", &["calc", "domain", "store"]),
    ("lab", &["calc", "clock", "domain", "store"]),
    ("web", &["calc", "clock", "domain", "drawing", "export", "lab", "scans", "secrets", "store"]),
    ("cli", &["calc", "clock", "domain", "drawing", "export", "lab", "scans", "secrets", "store", "web"]),
];

/// The rooms of the web, each with the rooms that it may use: what several pages need stands below them all.
const ROOMS: [(&str, &[&str]); 8] = [
    ("kit", &["request"]),
    ("request", &["kit"]),
    ("fields", &["kit", "request"]),
    ("sheets", &["fields", "kit", "request"]),
    ("bench", &["fields", "kit", "request", "sheets"]),
    ("front", &["every_route", "fields", "kit", "request", "sheets"]),
    ("door", &["every_route", "fields", "kit", "request"]),
    ("every_route", &["bench", "door", "front", "kit", "request"]),
];

fn sources(folder: &Path) -> Vec<PathBuf> {
    let Ok(entries) = fs::read_dir(folder) else {
        return Vec::new();
    };
    let paths = entries.map(|entry| entry.unwrap().path());
    paths
        .flat_map(|path| if path.is_dir() { sources(&path) } else { vec![path] })
        .filter(|path| path.extension().is_some_and(|extension| extension == "rs"))
        .collect()
}

/// Lines of code that name something forbidden; comments may name what they like.
fn trespasses(code: &str, forbidden: &[&str]) -> Vec<String> {
    code.lines()
        .filter(|line| !line.trim_start().starts_with("//"))
        .filter(|line| forbidden.iter().any(|word| line.contains(word)))
        .map(str::to_owned)
        .collect()
}

/// A file's code without its tests, which end it.
fn without_tests(code: &str) -> &str {
    code.split("#[cfg(test)]").next().unwrap_or_default()
}

fn assert_pure(folder: &str, forbidden: &[&str], with_tests: bool) -> usize {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src").join(folder);
    let files = sources(&root);
    for file in &files {
        let code = fs::read_to_string(file).unwrap();
        let found = trespasses(if with_tests { &code } else { without_tests(&code) }, forbidden);
        assert!(found.is_empty(), "{} must not use {found:#?}", file.display());
    }
    files.len()
}

/// What uses across a wall: `(module, used)` where `at` is the part of the path that names the room.
fn across(walls: &[(&str, &[&str])], at: usize) -> Vec<String> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut found = Vec::new();
    for (module, used) in circles::uses(&root) {
        let Some((room, may)) = walls.iter().find(|(room, _)| module.get(at).is_some_and(|name| name == room)) else {
            continue;
        };
        for (other, what) in used {
            let same_house = at == 0 || module[..at] == other[..at.min(other.len())];
            let trespass = other.get(at).is_some_and(|name| name != room && !may.contains(&name.as_str()));
            let known = other.get(at).is_some_and(|name| walls.iter().any(|(room, _)| room == name));
            if same_house && trespass && known {
                found.push(format!("{} uses {} ({what:?})", module.join("::"), other.join("::")));
            }
        }
    }
    found
}

#[test]
fn the_calculation_core_is_pure() {
    let files = assert_pure("calc", &[&FORBIDDEN[..], &FORBIDDEN_IN_CALC].concat(), true);
    assert!(files > 20, "only {files} files were looked at");
}

#[test]
fn the_domain_does_no_io() {
    assert_pure("domain", &FORBIDDEN, true);
}

#[test]
fn nothing_below_the_web_knows_of_it() {
    for floor in ["calc", "domain", "store", "lab", "export", "scans"] {
        let files = assert_pure(floor, &[&OF_THE_WEB[..], &["askama"]].concat(), false);
        assert!(files > 5, "only {files} files of {floor} were looked at");
    }
    // a drawing is written as a template, and that is all it has of the web
    assert_pure("drawing", &OF_THE_WEB[..OF_THE_WEB.len() - 1], false);
}

#[test]
fn every_floor_stands_on_those_below_it() {
    let found = across(&FLOORS, 0);
    assert!(found.is_empty(), "{found:#?}");
}

#[test]
fn the_rooms_of_the_web_keep_to_themselves() {
    let found = across(&ROOMS, 1);
    assert!(found.is_empty(), "{found:#?}");
}

#[test]
fn a_trespass_is_found() {
    assert_eq!(trespasses("use sqlx::Row;\n// sqlx stays out\n", &FORBIDDEN).len(), 1);
    assert_eq!(trespasses("let now = std::time::SystemTime::now();", &FORBIDDEN).len(), 1);
    let tested = "format!(\"/bench/sheets/{id}\")\n#[cfg(test)]\n\"/bench\"";
    assert_eq!(trespasses(without_tests(tested), &OF_THE_WEB).len(), 1);
    // were the store no floor of the web, nor the kit a room below the front bench
    assert!(!across(&[("web", &[]), ("store", &[])], 0).is_empty());
    assert!(!across(&[("front", &[]), ("kit", &[])], 1).is_empty());
}
