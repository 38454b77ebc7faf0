//! No circle of files: following what files use never leads back to where one began. Code that goes
//! round in circles can only be read all at once.
//!
//! A folder's `mod.rs` and the files under it are one room with its door: what they use of each other
//! does not count, and neither does what only tests use.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

/// Circles that stand here still, each by its modules. The list only ever gets shorter.
const KNOWN: [&[&str]; 2] = [
    &["calc::cases::checking", "calc::cases::definition", "calc::cases::given"],
    &[
        "calc::light::experience",
        "calc::light::fit",
        "calc::light::forecast",
        "calc::light::offsets",
        "calc::light::taught",
    ],
];

/// Whether a circle runs through modules of a known one only.
fn is_known(circle: &[String]) -> bool {
    let from = |arrow: &String| arrow.split(" <- ").next().unwrap_or_default().to_owned();
    KNOWN.iter().any(|known| circle.iter().all(|arrow| known.contains(&from(arrow).as_str())))
}

/// A path in code, part by part, from the crate's root: `["domain", "site", "Site"]`.
type CodePath = Vec<String>;

/// What each module uses of other modules, each with everything it uses there.
type Uses = BTreeMap<CodePath, BTreeMap<CodePath, BTreeSet<String>>>;

fn sources(folder: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let mut files: Vec<_> = entries
        .flat_map(|path| if path.is_dir() { sources(&path) } else { vec![path] })
        .filter(|path| path.extension().is_some_and(|extension| extension == "rs"))
        .collect();
    files.sort();
    files
}

/// The module a file holds, by where it lies.
fn module_of(file: &Path, root: &Path) -> CodePath {
    let inside = file.strip_prefix(root).unwrap().with_extension("");
    let mut parts: CodePath = inside.iter().map(|part| part.to_str().unwrap().to_owned()).collect();
    if parts.last().is_some_and(|last| matches!(last.as_str(), "mod" | "lib" | "main")) {
        parts.pop();
    }
    parts
}

/// The code without comments, without what stands in quotes, and without its tests: those end a file.
fn bare(code: &str) -> String {
    let mut kept = String::new();
    for line in code.lines() {
        if line.trim_start().starts_with("#[cfg(test)]") {
            break;
        }
        let mut quoted = false;
        let mut before = ' ';
        let mut signs = line.chars().peekable();
        while let Some(sign) = signs.next() {
            match sign {
                '"' if before != '\\' && before != '\'' => quoted = !quoted,
                '/' if !quoted && signs.peek() == Some(&'/') => break,
                _ if !quoted => kept.push(sign),
                _ => {}
            }
            before = sign;
        }
        kept.push('\n');
    }
    kept
}

/// Every path that a `use` brings in, with the name it then has: `a::{b, c::d as e}` gives three parts.
fn leaves(tree: &str) -> Vec<(CodePath, String)> {
    let tree = tree.trim();
    if let Some((before, inner)) = tree.split_once('{').filter(|(before, _)| !before.contains(',')) {
        let inner = inner.trim_end().trim_end_matches('}');
        let head: CodePath = parts_of(before.trim_end_matches("::"));
        let mut depth = 0;
        let each = inner.split(|sign| {
            depth += i32::from(sign == '{') - i32::from(sign == '}');
            sign == ',' && depth == 0
        });
        let each: Vec<_> = each.map(str::trim).filter(|part| !part.is_empty()).collect();
        let under = each.into_iter().flat_map(leaves);
        let named = head.last().cloned().unwrap_or_default();
        // `a::{self}` brings in `a`
        let name_of = |name: String| if name == "self" { named.clone() } else { name };
        return under.map(|(path, name)| ([head.clone(), path].concat(), name_of(name))).collect();
    }
    let (path, name) = tree.split_once(" as ").unwrap_or((tree, ""));
    let path = parts_of(path);
    let last = path.last().cloned().unwrap_or_default();
    vec![(path, if name.is_empty() { last } else { name.trim().to_owned() })]
}

fn parts_of(path: &str) -> CodePath {
    path.split("::").map(|part| part.trim().to_owned()).filter(|part| !part.is_empty()).collect()
}

/// A path as seen from the root, when it is one of this crate; `names` are those that a file brought in.
fn from_root(path: &[String], here: &[String], names: &BTreeMap<String, CodePath>) -> Option<CodePath> {
    let mut at = here.to_vec();
    let mut rest = path;
    match rest.first()?.as_str() {
        "crate" => {
            at.clear();
            rest = &rest[1..];
        }
        "self" => rest = &rest[1..],
        "super" => {
            while rest.first().is_some_and(|part| part == "super") {
                at.pop();
                rest = &rest[1..];
            }
        }
        name => {
            at = names.get(name)?.clone();
            rest = &rest[1..];
        }
    }
    let rest: Vec<_> = rest.iter().filter(|part| *part != "self" && *part != "*").cloned().collect();
    Some([at, rest].concat())
}

/// Everything a file uses, as paths from the root, and the names it gives away again.
fn used_in(
    code: &str,
    here: &CodePath,
    modules: &BTreeSet<CodePath>,
) -> (BTreeSet<CodePath>, BTreeMap<CodePath, CodePath>) {
    let mut names = BTreeMap::new();
    for module in modules.iter().filter(|module| module.len() == here.len() + 1 && module.starts_with(here)) {
        names.insert(module[here.len()].clone(), module.clone());
    }
    let mut used = BTreeSet::new();
    let mut given = BTreeMap::new();
    let mut rest = String::new();
    for statement in code.split_inclusive(';') {
        let start = statement.find("use ").filter(|at| {
            statement[..*at].chars().next_back().is_none_or(|sign| sign == '\n' || sign == ' ')
                && statement.ends_with(';')
        });
        let Some(start) = start else {
            rest.push_str(statement);
            continue;
        };
        rest.push_str(&statement[..start]);
        let before = statement[..start].trim_end();
        // `pub use` and `pub(in crate::web) use` alike
        let public = before.ends_with("pub")
            || (before.ends_with(')')
                && before.rsplit('\n').next().is_some_and(|line| line.trim_start().starts_with("pub(")));
        for (path, name) in leaves(statement[start + 4..].trim_end_matches(';')) {
            let Some(path) = from_root(&path, here, &names) else { continue };
            if public {
                given.insert([here.clone(), vec![name.clone()]].concat(), path.clone());
            }
            names.insert(name, path.clone());
            used.insert(path);
        }
    }
    let of_a_name = |sign: char| sign.is_alphanumeric() || sign == '_' || sign == ':';
    for word in rest.split(|sign| !of_a_name(sign)).filter(|word| word.contains("::")) {
        used.extend(from_root(&parts_of(word), here, &names));
    }
    (used, given)
}

/// Which module a path leads to: the deepest that there is, behind every name that passes it on.
fn owner(path: &CodePath, modules: &BTreeSet<CodePath>, given: &BTreeMap<CodePath, CodePath>) -> Option<CodePath> {
    let mut path = path.clone();
    for _ in 0..8 {
        let passed_on = (1..=path.len()).rev().find_map(|end| Some((given.get(&path[..end])?, end)));
        let Some((to, end)) = passed_on else { break };
        path = [to.clone(), path[end..].to_vec()].concat();
    }
    (1..=path.len()).rev().map(|end| path[..end].to_vec()).find(|module| modules.contains(module))
}

pub fn uses(root: &Path) -> Uses {
    let files: Vec<_> = sources(root).into_iter().filter(|file| !file.ends_with("main.rs")).collect();
    let code: BTreeMap<CodePath, String> =
        files.iter().map(|file| (module_of(file, root), bare(&fs::read_to_string(file).unwrap()))).collect();
    uses_among(&code)
}

fn uses_among(code: &BTreeMap<CodePath, String>) -> Uses {
    let modules: BTreeSet<CodePath> = code.keys().cloned().collect();
    let mut found = BTreeMap::new();
    let mut given = BTreeMap::new();
    for (module, code) in code {
        let (used, passed_on) = used_in(code, module, &modules);
        found.insert(module.clone(), used);
        given.extend(passed_on);
    }
    let one_room = |one: &CodePath, other: &CodePath| one.starts_with(other) || other.starts_with(one);
    found
        .into_iter()
        .map(|(module, used)| {
            let mut others: BTreeMap<CodePath, BTreeSet<String>> = BTreeMap::new();
            for path in &used {
                if let Some(other) = owner(path, &modules, &given).filter(|other| !one_room(&module, other)) {
                    others.entry(other).or_default().insert(path.last().cloned().unwrap_or_default());
                }
            }
            (module, others)
        })
        .collect()
}

/// Everything that a module leads to, however many steps away.
fn leads_to(module: &CodePath, uses: &Uses) -> BTreeSet<CodePath> {
    let mut seen = BTreeSet::new();
    let mut waiting = vec![module.clone()];
    while let Some(next) = waiting.pop() {
        for other in uses.get(&next).into_iter().flat_map(BTreeMap::keys) {
            if seen.insert(other.clone()) {
                waiting.push(other.clone());
            }
        }
    }
    seen
}

/// Each circle once: the modules that lead to each other, and what each takes from the others.
fn circles(uses: &Uses) -> Vec<Vec<String>> {
    let reach: BTreeMap<_, _> = uses.keys().map(|module| (module, leads_to(module, uses))).collect();
    let mut told = BTreeSet::new();
    let mut all = Vec::new();
    for (module, reached) in &reach {
        if !reached.contains(*module) || told.contains(*module) {
            continue;
        }
        let circle: Vec<_> =
            reach.keys().filter(|other| reached.contains(**other) && reach[**other].contains(*module)).collect();
        told.extend(circle.iter().map(|other| (**other).clone()));
        let arrows = circle.iter().flat_map(|from| {
            let within = uses[**from].iter().filter(|(to, _)| circle.contains(&to));
            within.map(|(to, what)| {
                let what: Vec<_> = what.iter().map(String::as_str).collect();
                format!("{} <- {} ({})", from.join("::"), to.join("::"), what.join(", "))
            })
        });
        all.push(arrows.collect());
    }
    all
}

#[test]
fn no_files_use_each_other_in_a_circle() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let uses = uses(&root);
    let arrows: usize = uses.values().map(BTreeMap::len).sum();
    assert!(uses.len() > 300 && arrows > 2_000, "only {} files and {arrows} uses were seen", uses.len());
    let circles = circles(&uses);
    let (known, new): (Vec<_>, Vec<_>) = circles.iter().partition(|circle| is_known(circle));
    assert!(new.is_empty(), "{} circles: {new:#?}", new.len());
    // what was broken must not come back: take it off the list
    assert_eq!(known.len(), KNOWN.len(), "fewer circles than are listed as known: {known:#?}");
}

#[test]
fn a_circle_is_found_through_names_that_are_passed_on() {
    let module = |path: &str| -> CodePath { parts_of(path) };
    let code = BTreeMap::from([
        (module("a"), "pub mod b;\npub mod c;\npub use b::Shared;\n".to_owned()),
        (module("a::b"), "use super::c::{self, Other as Another};\nfn f() { c::go(); }\n".to_owned()),
        (module("a::c"), "fn go() { crate::d::on(); }\n".to_owned()),
        (module("d"), "use crate::a;\nfn on(_: a::Shared) {}\n".to_owned()),
        (module("e"), "use crate::{a::c, d};\n".to_owned()),
    ]);
    assert_eq!(circles(&uses_among(&code)), [["a::b <- a::c (Other, c, go)", "a::c <- d (on)", "d <- a::b (Shared)"]]);
}
