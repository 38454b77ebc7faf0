//! One crate has no compiler wall between its layers, so this test is the wall: the calculation core
//! and the domain know nothing of files, clocks, networks, databases or the web.

use std::fs;
use std::path::{Path, PathBuf};

const FORBIDDEN: [&str; 16] = [
    "sqlx",
    "axum",
    "tokio",
    "askama",
    "std::fs",
    "std::net",
    "std::env",
    "std::process",
    "SystemTime",
    "Instant::now",
    "Timestamp::now",
    "ZonedDateTime::now",
    "crate::store",
    "crate::export",
    "crate::web",
    "crate::cli",
];

/// The calculation core does not even know the domain.
const FORBIDDEN_IN_CALC: [&str; 3] = ["crate::domain", "std::io", "getrandom"];

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

fn assert_pure(folder: &str, forbidden: &[&str]) -> usize {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src").join(folder);
    let files = sources(&root);
    for file in &files {
        let found = trespasses(&fs::read_to_string(file).unwrap(), forbidden);
        assert!(found.is_empty(), "{} must not use {found:#?}", file.display());
    }
    files.len()
}

#[test]
fn the_calculation_core_is_pure() {
    let files = assert_pure("calc", &[&FORBIDDEN[..], &FORBIDDEN_IN_CALC].concat());
    assert!(files > 20, "only {files} files were looked at");
}

#[test]
fn the_domain_does_no_io() {
    assert_pure("domain", &FORBIDDEN);
}

#[test]
fn a_trespass_is_found() {
    assert_eq!(trespasses("use sqlx::Row;\n// sqlx stays out\n", &FORBIDDEN).len(), 1);
    assert_eq!(trespasses("let now = std::time::SystemTime::now();", &FORBIDDEN).len(), 1);
}
