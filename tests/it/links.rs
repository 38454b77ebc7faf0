//! Every address that stands in templates and code leads to a route of the table: a link to a page that does not
//! exist is found here, not by somebody who presses it.

use std::{
    collections::BTreeSet,
    fs,
    path::{Path, PathBuf},
};

use shimlight::web::{every_route, kit::routes::Route};

fn files(folder: &Path, ending: &str) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            found.extend(files(&path, ending));
        } else if path.extension().is_some_and(|it| it == ending) {
            found.push(path);
        }
    }
    found
}

/// An address with whatever is put in at run time as `{}`: from a template (`{{ … }}`, `{% … %}`) or from a format
/// string (`{…}`). `None` for what is no address of ours.
fn address(text: &str, beginnings: &BTreeSet<&str>) -> Option<String> {
    let mut plain = String::new();
    let mut rest = text;
    while let Some(at) = rest.find('{') {
        plain.push_str(&rest[..at]);
        let close = match &rest[at..] {
            it if it.starts_with("{{") => it.find("}}").map(|end| end + 2),
            // a condition in an address has several readings: each is somebody else's line
            it if it.starts_with("{%") => return None,
            it => it.find('}').map(|end| end + 1),
        }?;
        plain.push_str("{}");
        rest = &rest[at + close..];
    }
    plain.push_str(rest);
    let path = plain.split(['?', '#']).next()?;
    let first = path.strip_prefix('/')?.split('/').next()?;
    let well_formed = path.chars().all(|sign| sign.is_ascii_alphanumeric() || "/-_{}.".contains(sign));
    (beginnings.contains(first) && well_formed).then(|| path.trim_end_matches('/').to_owned())
}

/// Whether a path, with `{}` for what is put in, fits a route's pattern, with `{name}` for what it takes.
fn fits(path: &str, pattern: &str) -> bool {
    let (path, pattern): (Vec<_>, Vec<_>) = (path.split('/').collect(), pattern.split('/').collect());
    let part_fits = |(part, of): (&&str, &&str)| {
        part == of
            || of.starts_with('{')
            || (*part == "{}" && !of.is_empty())
            || (part.contains("{}") && part.len() > 2)
    };
    path.len() == pattern.len() && path.iter().zip(&pattern).all(part_fits)
}

/// What stands between the quotes of a line, those with escapes left out.
fn quoted(text: &str) -> impl Iterator<Item = &str> {
    text.split('"').skip(1).step_by(2)
}

/// Addresses of a source. In code, those of its tests and comments are left out.
fn addresses(code: &str, is_template: bool, beginnings: &BTreeSet<&str>) -> BTreeSet<String> {
    if is_template {
        let marks = ["href=\"", "action=\"", "src=\"", "data-part=\""].into_iter();
        let each = marks.flat_map(|mark| code.match_indices(mark).map(move |(at, _)| at + mark.len()));
        return each.filter_map(|at| address(code[at..].split('"').next()?, beginnings)).collect();
    }
    let shown = code.split("#[cfg(test)]").next().unwrap_or_default();
    let lines = shown.lines().filter(|line| !line.trim_start().starts_with("//"));
    lines.flat_map(quoted).filter_map(|text| address(text, beginnings)).collect()
}

/// The first part of every route's path.
fn beginnings(table: &[Route]) -> BTreeSet<&'static str> {
    table.iter().filter_map(|route| route.path.split('/').nth(1)).filter(|part| !part.is_empty()).collect()
}

#[test]
fn every_address_leads_to_a_route() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let table = every_route::table();
    let beginnings = beginnings(&table);
    let mut looked_at = 0;
    let mut lost = Vec::new();
    for (folder, ending) in [("templates", "html"), ("src", "rs")] {
        for file in files(&root.join(folder), ending) {
            for path in addresses(&fs::read_to_string(&file).unwrap(), ending == "html", &beginnings) {
                looked_at += 1;
                if !table.iter().any(|route| fits(&path, route.path)) {
                    lost.push(format!("{path} in {}", file.strip_prefix(root).unwrap().display()));
                }
            }
        }
    }
    assert!(lost.is_empty(), "{} lead nowhere: {lost:#?}", lost.len());
    assert!(looked_at > 500, "only {looked_at} addresses were looked at");
}

#[test]
fn an_address_that_leads_nowhere_is_found() {
    let beginnings = BTreeSet::from(["bench", "front"]);
    let of = |code: &str, is_template| Vec::from_iter(addresses(code, is_template, &beginnings));
    assert_eq!(of("<a href=\"/bench/exposures/{{ sheet.id }}?x=1#end\">", true), ["/bench/exposures/{}"]);
    assert_eq!(of("format!(\"/front/sections/{}/roster\", id)", false), ["/front/sections/{}/roster"]);
    assert!(of("// \"/front/nothing\"\nlet words = \"a / b\";", false).is_empty());
    let pattern = "/front/sections/{id}/roster";
    assert!(fits("/front/sections/{}/roster", pattern));
    assert!(!fits("/front/sections/{}/rooster", pattern) && !fits("/front/sections/{}", pattern));
}
