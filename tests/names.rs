//! Our own names, sources and scenario: what was taken out must not come back, and every word that we coined stands
//! where contributors look.

use std::{
    collections::BTreeSet,
    fs,
    path::{Path, PathBuf},
};

/// Names of makers, of their products, of institutions and of a place, turned by thirteen letters: they stand
/// nowhere in the tree, not even here. A check's published source is named in `tests/reference/`, as a bibliography does.
const NAMES: &str = "xbqnx vysbeq unezna sbzn sbzncna shwv shwvsvyz nqbk ntsn ntsncubgb nevfgn orettre ebyyrv grgrany \
     xragzrer xbavpn cbynebvq zbrefpu rnfgzna qhcbag cngrefba wbob qhefg avxba cragnk zvabygn frxbavp tbffra yrvpn mrvff \
     unffryoynq znzvln ubytn ybzbtencul mrebvzntr baqh qrxgby ebqvany ulcnz zhygvtenqr vysbfgbc vysbfby zvpebcura \
     creprcgby oebzbcura arhgby rhxboebz uc5 sc4 gevk gznk npebf cebivn iryivn jrvyy pbearyy gvqrjngre";

/// The notation of one data sheet, sources that a reader cannot see, a published worked example’s numbers, a book’s
/// title, and words and addresses that another kind of program is known by.
const SAID: [&str; 25] = [
    "Tm^",
    "Tc =",
    "Tc=",
    "(Tm /",
    "the reference",
    "reference, part ",
    "part two,",
    "part one,",
    "forum post",
    "exposure issue",
    "from one writer",
    "(one writer",
    "handouts found",
    "service’s copy",
    "shown only this once",
    "I have written it down",
    "for the wall",
    "projected wall",
    "joined yet",
    ">Join<",
    "\"/join\"",
    "39.7425",
    "105.18",
    "compendium",
    "light and matter",
];

/// Files with these endings are read; so are those without one.
const READ: [&str; 13] = ["rs", "html", "css", "js", "mjs", "md", "toml", "sql", "py", "txt", "yml", "yaml", "sh"];

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// Everything that is read: not the bibliography, not what is built or fetched, and not this file.
fn files(folder: &Path) -> Vec<PathBuf> {
    let Ok(entries) = fs::read_dir(folder) else { return Vec::new() };
    let left_out =
        ["tests/reference", "tests/schemas", "tests/names.rs", "tests/browser/node_modules", "target", ".git"]
            .map(|path| root().join(path));
    let paths = entries.map(|entry| entry.expect("listed").path()).filter(|path| !left_out.contains(path));
    paths
        .flat_map(|path| if path.is_dir() { files(&path) } else { vec![path] })
        .filter(|path| path.extension().is_none_or(|ending| READ.iter().any(|read| ending == *read)))
        .collect()
}

/// The text in one line, the marks of comments taken off, so that what runs over a line's end is found.
fn in_one_line(text: &str) -> String {
    let lines = text.lines().map(|line| line.trim().trim_start_matches(['/', '!', '#', '*', '\\']).trim());
    lines.map(|line| line.trim_end_matches('\\').trim_end()).collect::<Vec<_>>().join(" ")
}

fn turned(word: &str) -> String {
    let turn = |c: u8| if c.is_ascii_lowercase() { (c - b'a' + 13) % 26 + b'a' } else { c };
    word.bytes().map(|c| char::from(turn(c))).collect()
}

/// What must not come back, ready to be looked for.
struct Search {
    names: BTreeSet<String>,
}

impl Search {
    fn new() -> Self {
        Self { names: NAMES.split_whitespace().map(turned).collect() }
    }

    /// What of it stands in a text.
    fn found_in(&self, text: &str) -> Vec<String> {
        let line = in_one_line(text);
        let lower = line.to_lowercase();
        let words: BTreeSet<&str> = lower.split(|c: char| !c.is_alphanumeric()).collect();
        let names = self.names.iter().filter(|name| words.contains(name.as_str())).cloned();
        let said = SAID.iter().filter(|said| {
            if said.chars().any(char::is_uppercase) { line.contains(**said) } else { lower.contains(**said) }
        });
        names.chain(said.map(|said| (*said).to_owned())).collect()
    }
}

#[test]
fn no_makers_name_no_notation_of_one_sheet_and_no_unseen_source_comes_back() {
    let files = files(root());
    assert!(files.len() > 600, "only {} files were looked at", files.len());
    let (search, mut found) = (Search::new(), Vec::new());
    for file in files {
        let Ok(text) = fs::read_to_string(&file) else { continue };
        for what in search.found_in(&text) {
            found.push(format!("{}: {what}", file.strip_prefix(root()).expect("inside").display()));
        }
    }
    assert!(found.is_empty(), "{found:#?}");
}

/// A script names the library it runs; a reader is told what kind it is.
#[test]
fn what_a_reader_opens_names_no_numerical_library() {
    for file in ["README.md", "DEVELOPERS.md"] {
        let text = fs::read_to_string(root().join(file)).expect("text").to_lowercase();
        let named: Vec<_> = ["scipy", "numpy"].into_iter().filter(|library| text.contains(library)).collect();
        assert!(named.is_empty(), "{file}: {named:?}");
    }
}

#[test]
fn what_comes_back_is_found_in_any_case_and_over_the_end_of_a_line() {
    let (search, maker) = (Search::new(), turned("xbqnx"));
    assert_eq!(search.found_in(&format!("// as {} says\n", maker.to_uppercase())), std::slice::from_ref(&maker));
    assert_eq!(search.found_in("/// 2.40 g, worked out in the\n/// reference (part D)."), ["the reference"]);
    assert_eq!(search.found_in("let text = \"coatings, from one \\\n    writer\";"), ["from one writer"]);
    assert_eq!(search.found_in("Tc = Tm^1.3"), ["Tm^", "Tc ="]);
    assert!(search.found_in(&format!("{maker}s are plural, a reference case, TcpStream")).is_empty());
}

/// The words that a page marks as ours.
fn ours() -> Vec<String> {
    let list = fs::read_to_string(root().join("src/web/kit/words/list.rs")).expect("the list of words");
    let line = in_one_line(&list);
    let coined = line.split("ours(").skip(1);
    coined
        .map(|rest| rest.trim_start().trim_start_matches('"').split('"').next().unwrap_or_default().to_owned())
        .collect()
}

#[test]
fn every_word_that_we_call_ours_says_in_the_contributors_map_why_it_is() {
    let map = fs::read_to_string(root().join("DEVELOPERS.md")).expect("the map");
    let (_, list) = map.split_once("## Words that are ours").expect("its list");
    let lines: Vec<(&str, &str)> = list
        .lines()
        .take_while(|line| !line.starts_with("## "))
        .filter_map(|line| line.strip_prefix("| ")?.strip_suffix(" |")?.split_once(" | "))
        .collect();
    let ours = ours();
    assert!(ours.len() > 30, "{ours:?}");
    for word in ours {
        let stands = lines.iter().any(|(words, why)| words.split(", ").any(|listed| listed == word) && why.len() > 8);
        assert!(stands, "{word} is called ours, and the map does not say why");
    }
}
