//! A roster read from a CSV file or pasted text.
//!
//! Columns: `roster_number,name,email_optional,user_identifier,class_identifier` (RFC 4180; columns
//! may be missing from the end, down to two). The users file of a OneRoster CSV bundle is taken as
//! well, by its own header. All bad lines are found, not just the first, so that a file is mended in
//! one go.

use std::collections::HashMap;

use unicode_normalization::UnicodeNormalization;

/// The header a roster must have.
pub const HEADER: [&str; 5] = ["roster_number", "name", "email_optional", "user_identifier", "class_identifier"];
/// Longest identifier of the college's own system, in bytes, as OneRoster takes it.
pub const LONGEST_IDENTIFIER: usize = 255;
/// More lines than this are no section.
pub const MOST_LINES: usize = 2_000;
/// Longest roster number, in characters.
pub const LONGEST_NUMBER: usize = 40;
/// Longest name, in characters.
pub const LONGEST_NAME: usize = 120;
/// Longest address, in characters.
pub const LONGEST_EMAIL: usize = 200;

/// One line of a roster.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RosterLine {
    /// Where it began in the file, counted from 1.
    pub line: usize,
    /// The roster number.
    pub number: String,
    /// The name.
    pub name: String,
    /// The address, possibly empty; `None` when the file has no such column.
    pub email: Option<String>,
    /// Who it is in the college's own system, possibly empty; `None` when the file has no such column.
    pub user_identifier: Option<String>,
    /// The class there; `None` when the file has no such column.
    pub class_identifier: Option<String>,
}

/// A line that cannot be taken, and why.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BadLine {
    /// Where it began in the file, counted from 1.
    pub line: usize,
    /// Why, in words that follow “line 3:”.
    pub reason: String,
}

impl BadLine {
    fn new(line: usize, reason: impl Into<String>) -> Self {
        Self { line, reason: reason.into() }
    }
}

/// Reads a roster. `as_it_was` takes off whatever our own export put in front of a cell to keep
/// spreadsheets from running it.
///
/// # Errors
/// Every line that cannot be taken; then nothing is.
pub fn read(text: &str, as_it_was: impl Fn(&str) -> &str) -> Result<Vec<RosterLine>, Vec<BadLine>> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let (records, mut bad) = match split(text) {
        Ok(records) => (records, Vec::new()),
        Err((records, bad)) => (records, vec![bad]),
    };
    let mut records = records.into_iter();
    let Some(header) = records.next() else {
        return Err(if bad.is_empty() { vec![BadLine::new(1, "there is nothing in it")] } else { bad });
    };
    let columns = match columns(&header) {
        Ok(columns) => columns,
        Err(reason) => return Err(vec![BadLine::new(header.line, reason)]),
    };
    let mut lines: Vec<RosterLine> = Vec::new();
    let mut seen: HashMap<String, usize> = HashMap::new();
    for record in records {
        let read = match &columns {
            Columns::Ours(count) => line(&record, *count, &as_it_was).map(Some),
            Columns::Users(places) => user_line(&record, places),
        };
        let read = match read {
            Ok(None) => continue,
            Ok(Some(line)) => Ok(line),
            Err(reason) => Err(reason),
        };
        match read {
            Ok(line) => match seen.get(&line.number) {
                Some(first) => bad.push(BadLine::new(
                    line.line,
                    format!("the roster number {} stands in line {first} already", line.number),
                )),
                None => {
                    seen.insert(line.number.clone(), line.line);
                    lines.push(line);
                }
            },
            Err(reason) => bad.push(BadLine::new(record.line, reason)),
        }
    }
    if bad.is_empty() && lines.is_empty() {
        bad.push(BadLine::new(header.line, "there is no student under the header"));
    }
    if lines.len() > MOST_LINES {
        bad.push(BadLine::new(lines[MOST_LINES].line, format!("a roster has at most {MOST_LINES} students")));
    }
    bad.sort_by_key(|bad| bad.line);
    if bad.is_empty() { Ok(lines) } else { Err(bad) }
}

/// One record: a line, or several when a quoted cell has a line break.
struct Record<'t> {
    line: usize,
    text: &'t str,
    /// A quote where none may stand.
    stray_quote: bool,
}

/// Cuts the text into records, quotes respected, empty lines left out. The records before a quote
/// that is never closed come with the error.
fn split(text: &str) -> Result<Vec<Record<'_>>, (Vec<Record<'_>>, BadLine)> {
    /// Where in a cell we are.
    #[derive(Clone, Copy, PartialEq)]
    enum At {
        Start,
        Bare,
        Quoted { since: usize },
        JustClosed,
        Closed,
    }
    let mut records = Vec::new();
    let (mut line, mut began_line, mut began) = (1, 1, 0);
    let (mut at, mut stray_quote) = (At::Start, false);
    for (byte, c) in text.char_indices() {
        at = match (at, c) {
            (At::Quoted { .. }, '"') => At::JustClosed,
            (At::Quoted { since }, _) => At::Quoted { since },
            // two quotes inside a quoted cell are one
            (At::Start | At::JustClosed, '"') => At::Quoted { since: line },
            (_, ',') => At::Start,
            (_, '\n') => {
                records.push(Record { line: began_line, text: &text[began..byte], stray_quote });
                (began, began_line) = (byte + 1, line + 1);
                stray_quote = false;
                At::Start
            }
            (At::JustClosed | At::Closed, c) => {
                stray_quote |= !c.is_whitespace();
                At::Closed
            }
            (At::Start | At::Bare, c) => {
                stray_quote |= c == '"';
                At::Bare
            }
        };
        line += usize::from(c == '\n');
    }
    let quoted_since = match at {
        At::Quoted { since } => Some(since),
        _ => None,
    };
    if let Some(opened) = quoted_since {
        records.retain(|record| !record.text.trim().is_empty());
        return Err((records, BadLine::new(opened, "a quote is opened and never closed")));
    }
    records.push(Record { line: began_line, text: &text[began..], stray_quote });
    records.retain(|record| !record.text.trim().is_empty());
    Ok(records)
}

fn cells(record: &Record<'_>) -> Result<Vec<String>, String> {
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(record.text.as_bytes());
    let mut row = csv::StringRecord::new();
    reader.read_record(&mut row).map_err(|_| "it could not be read".to_owned())?;
    Ok(row.iter().map(str::to_owned).collect())
}

/// Which columns a header announces.
enum Columns {
    /// Ours: so many of them.
    Ours(usize),
    /// Those of OneRoster's users file, by name.
    Users(HashMap<String, usize>),
}

/// How the columns of OneRoster's users file begin, in versions 1.1 and 1.2 alike.
const USERS: [&str; 4] = ["sourcedId", "status", "dateLastModified", "enabledUser"];

/// What the header announces.
fn columns(header: &Record<'_>) -> Result<Columns, String> {
    let expected = HEADER.join(",");
    for (sign, name) in [(';', "semicolons"), ('\t', "tabs")] {
        if !header.text.contains(',') && header.text.contains(sign) {
            return Err(format!(
                "cells are parted by {name} here, and by commas in a roster: a semicolon or tab may belong to a name. \
                 Save the sheet as comma-separated values (CSV, UTF-8) and send it again"
            ));
        }
    }
    let cells = cells(header)?;
    // the standard's headers are exact in case
    if cells.starts_with(&USERS.map(str::to_owned)) {
        for column in ["givenName", "familyName"] {
            if cells.iter().all(|cell| cell != column) {
                return Err(format!("this is a OneRoster users file without the column {column}"));
            }
        }
        return Ok(Columns::Users(cells.into_iter().zip(0..).collect()));
    }
    let fits = |count: &usize| {
        cells.len() == *count && cells.iter().zip(HEADER).all(|(cell, name)| cell.eq_ignore_ascii_case(name))
    };
    (2..=HEADER.len()).find(fits).map(Columns::Ours).ok_or_else(|| {
        format!("the header must be {expected} (the last three may be left away), or that of a OneRoster users file; this is {}", shown(header.text))
    })
}

/// A line of OneRoster's users file; `None` for somebody who is no student, gone or switched off.
/// The roster number is the `identifier`, or the user's name there, or the sourcedId.
fn user_line(record: &Record<'_>, places: &HashMap<String, usize>) -> Result<Option<RosterLine>, String> {
    if record.stray_quote {
        return Err("a quote stands inside a cell: put quotes round the whole cell and double those inside".to_owned());
    }
    let cells = cells(record)?;
    if cells.len() > places.len() {
        return Err(format!("it has {} cells where the header has {}", cells.len(), places.len()));
    }
    let cell = |column: &str| -> String {
        let cell = places.get(column).and_then(|place| cells.get(*place));
        cell.map_or_else(String::new, |cell| cell.trim().nfc().collect())
    };
    let role = cell("role");
    // 1.1 has the role here, 1.2 in a file of its own: without it the preview shows who it is
    let student = role.is_empty() || role.eq_ignore_ascii_case("student");
    if !student || cell("status") == "tobedeleted" || cell("enabledUser").eq_ignore_ascii_case("false") {
        return Ok(None);
    }
    let first = |names: [&str; 2]| names.into_iter().map(&cell).find(|text| !text.is_empty()).unwrap_or_default();
    let (given, family) = (first(["preferredGivenName", "givenName"]), first(["preferredFamilyName", "familyName"]));
    let user = identifier("sourcedId", cell("sourcedId"))?;
    if user.is_empty() {
        return Err("the sourcedId is missing".to_owned());
    }
    let number = [cell("identifier"), cell("username"), user.clone()].into_iter().find(|text| !text.is_empty());
    Ok(Some(RosterLine {
        line: record.line,
        number: checked("roster number", number.unwrap_or_default(), 1, LONGEST_NUMBER)?,
        name: checked("name", format!("{given} {family}").trim().to_owned(), 1, LONGEST_NAME)?,
        email: places.contains_key("email").then(|| checked_email(cell("email"))).transpose()?,
        user_identifier: Some(user),
        class_identifier: None,
    }))
}

fn identifier(what: &str, text: String) -> Result<String, String> {
    if text.len() > LONGEST_IDENTIFIER {
        return Err(format!("the {what} has {} bytes; {LONGEST_IDENTIFIER} are the most", text.len()));
    }
    checked(what, text, 0, LONGEST_IDENTIFIER)
}

fn line(record: &Record<'_>, columns: usize, as_it_was: &impl Fn(&str) -> &str) -> Result<RosterLine, String> {
    if record.stray_quote {
        return Err("a quote stands inside a cell: put quotes round the whole cell and double those inside".to_owned());
    }
    let cells = cells(record)?;
    if cells.len() > columns {
        return Err(format!(
            "it has {} cells where the header has {columns}: a name with a comma needs quotes round it",
            cells.len()
        ));
    }
    let cell = |index: usize| -> String {
        let cell = cells.get(index).map_or("", |cell| as_it_was(cell).trim());
        cell.nfc().collect()
    };
    let number = checked("roster number", cell(0), 1, LONGEST_NUMBER)?;
    let name = checked("name", cell(1), 1, LONGEST_NAME)?;
    let email = (columns > 2).then(|| checked_email(cell(2))).transpose()?;
    let user_identifier = (columns > 3).then(|| identifier("user identifier", cell(3))).transpose()?;
    let class_identifier = (columns > 4).then(|| identifier("class identifier", cell(4))).transpose()?;
    Ok(RosterLine { line: record.line, number, name, email, user_identifier, class_identifier })
}

/// A cell's text within its limits.
fn checked(what: &str, text: String, least: usize, most: usize) -> Result<String, String> {
    let count = text.chars().count();
    if count < least {
        return Err(format!("the {what} is missing"));
    }
    if count > most {
        return Err(format!("the {what} has {count} characters; {most} are the most"));
    }
    if text.contains('\n') {
        return Err(format!("the {what} has a line break inside; perhaps a quote is missing"));
    }
    if text.contains('\u{fffd}') {
        return Err(format!("the {what} has a character that could not be read: save the file as CSV UTF-8"));
    }
    if text.chars().any(char::is_control) {
        return Err(format!("the {what} has a character that cannot be shown"));
    }
    Ok(text)
}

/// An address, or nothing. Whether mail arrives there is not ours to say.
pub fn checked_email(text: String) -> Result<String, String> {
    let text = checked("address", text, 0, LONGEST_EMAIL)?;
    let plausible = text.split_once('@').is_some_and(|(name, place)| !name.is_empty() && !place.is_empty());
    if text.is_empty() || (plausible && !text.contains(char::is_whitespace)) {
        Ok(text)
    } else {
        Err(format!("{} is not an e-mail address", shown(&text)))
    }
}

fn shown(text: &str) -> String {
    let text = text.trim();
    let start: String = text.chars().filter(|c| !c.is_control()).take(60).collect();
    if text.chars().count() > 60 { format!("“{start}…”") } else { format!("“{start}”") }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plain(text: &str) -> Result<Vec<RosterLine>, Vec<BadLine>> {
        read(text, |cell| cell)
    }

    fn names(text: &str) -> Vec<(String, String)> {
        plain(text).expect("a roster").into_iter().map(|line| (line.number, line.name)).collect()
    }

    fn reasons(text: &str) -> Vec<(usize, String)> {
        plain(text).expect_err("a bad roster").into_iter().map(|bad| (bad.line, bad.reason)).collect()
    }

    #[test]
    fn a_roster_is_read_with_or_without_mark_and_with_either_line_end() {
        let expected = vec![("07".to_owned(), "Teodora Vask".to_owned()), ("08".to_owned(), "Vask, Ilo".to_owned())];
        for text in [
            "roster_number,name,email_optional\n07,Teodora Vask,\n08,\"Vask, Ilo\",ilo@example.org\n",
            "\u{feff}roster_number,name,email_optional\r\n07,Teodora Vask,\r\n08,\"Vask, Ilo\",\r\n",
            "Roster_Number,Name\n\n 07 , Teodora Vask \n\n08,\"Vask, Ilo\"",
            "\"roster_number\",\"name\"\r\n\"07\",\"Teodora Vask\"\r\n\"08\",\"Vask, Ilo\"",
        ] {
            assert_eq!(names(text), expected, "{text:?}");
        }
    }

    #[test]
    fn names_of_every_script_are_kept() {
        let text = "roster_number,name\n1,मीरा\n2,愛子\n3,\"O'Brien \"\"Bo\"\" Ng\"\n4,שירה\n5,Rene\u{301}e\n";
        let read: Vec<String> = names(text).into_iter().map(|(_, name)| name).collect();
        assert_eq!(read, ["मीरा", "愛子", "O'Brien \"Bo\" Ng", "שירה", "Ren\u{e9}e"]);
    }

    #[test]
    fn every_bad_line_is_named_by_its_number_and_its_reason() {
        let long = "x".repeat(121);
        let text = format!(
            "roster_number,name,email_optional\n\
             07,Teodora Vask,\n\
             ,Nobody,\n\
             07,Second Seven,\n\
             09,,\n\
             10,{long},\n\
             11,Vask, Ilo,x@example.org\n\
             12,Ada,not an address\n\
             13,Al \"Bo\" Ng,\n\
             14,\"Two\nlines\",\n\
             15,B\u{fffd}rg,\n"
        );
        let reasons = reasons(&text);
        let lines: Vec<usize> = reasons.iter().map(|(line, _)| *line).collect();
        assert_eq!(lines, [3, 4, 5, 6, 7, 8, 9, 10, 12]);
        let starts = [
            "the roster number is missing",
            "the roster number 07 stands in line 2 already",
            "the name is missing",
            "the name has 121 characters; 120 are the most",
            "it has 4 cells where the header has 3",
            "“not an address” is not an e-mail address",
            "a quote stands inside a cell",
            "the name has a line break inside",
            "the name has a character that could not be read",
        ];
        for ((_, reason), start) in reasons.iter().zip(starts) {
            assert!(reason.starts_with(start), "{reason}");
        }
    }

    #[test]
    fn a_quote_never_closed_is_named_by_the_line_it_was_opened_in() {
        let reasons = reasons("roster_number,name\n1,Ada\n,Missing\n3,\"Ilo\n4,Uma\n");
        assert_eq!(reasons[0], (3, "the roster number is missing".to_owned()));
        assert_eq!(reasons[1], (4, "a quote is opened and never closed".to_owned()));
    }

    #[test]
    fn quotes_round_half_a_cell_are_refused_and_spaces_after_them_forgiven() {
        for bad in ["1,\"Ada\" Ng", "1,\"Ada\" \"Ng\"", "1, \"Ada\"", "1,\"Ada\"x"] {
            assert!(
                reasons(&format!("roster_number,name\n{bad}\n"))[0].1.starts_with("a quote stands inside"),
                "{bad}"
            );
        }
        assert_eq!(names("roster_number,name\n1,\"Ada\"  \n"), [("1".to_owned(), "Ada".to_owned())]);
    }

    #[test]
    fn semicolons_tabs_a_strange_header_and_an_empty_file_are_refused_with_the_reason() {
        assert!(reasons("roster_number;name\n1;Ada\n")[0].1.starts_with("cells are parted by semicolons"));
        assert!(reasons("roster_number\tname\n1\tAda\n")[0].1.starts_with("cells are parted by tabs"));
        let strange = reasons("number,who\n1,Ada\n");
        assert!(strange[0].1.starts_with("the header must be roster_number,name,email_optional,user_identifier"));
        assert!(strange[0].1.ends_with("this is “number,who”"), "{strange:?}");
        assert_eq!(reasons(" \n"), [(1, "there is nothing in it".to_owned())]);
        assert_eq!(reasons("roster_number,name\n"), [(1, "there is no student under the header".to_owned())]);
    }

    #[test]
    fn what_our_own_export_put_in_front_is_taken_off_again() {
        fn unguard(cell: &str) -> &str {
            cell.strip_prefix('\'').unwrap_or(cell)
        }
        let read = read("roster_number,name\n1,'=cmd()\n", unguard).expect("a roster");
        assert_eq!(read[0].name, "=cmd()");
    }

    proptest::proptest! {
        #[test]
        fn no_text_whatever_stops_the_reading(text in "[\\PC\n\r\t\",;]{0,80}") {
            let _ = plain(&text);
            let _ = plain(&format!("roster_number,name\n{text}"));
        }

        #[test]
        fn what_a_csv_writer_quotes_is_read_as_it_was(names in proptest::collection::vec("[a-zé ,\"';愛-]{1,30}", 1..8)) {
            let mut writer = csv::Writer::from_writer(Vec::new());
            writer.write_record(&HEADER[..3]).expect("in memory");
            for (at, name) in names.iter().enumerate() {
                writer.write_record([at.to_string().as_str(), &format!("x{name}x"), ""]).expect("in memory");
            }
            let text = String::from_utf8(writer.into_inner().expect("in memory")).expect("text");
            let read: Vec<String> = plain(&text).expect("a roster").into_iter().map(|line| line.name).collect();
            let sent: Vec<String> = names.iter().map(|name| format!("x{name}x")).collect();
            proptest::prop_assert_eq!(read, sent);
        }
    }

    #[test]
    fn identifiers_come_in_the_last_two_columns_and_from_a_oneroster_users_file() {
        let read = |text: &str| read(text, |cell| cell).expect("a roster");
        let ours = read("roster_number,name,email_optional,user_identifier,class_identifier\n1,Ada,,u-1,c-1\n");
        assert_eq!(
            (ours[0].user_identifier.as_deref(), ours[0].class_identifier.as_deref()),
            (Some("u-1"), Some("c-1"))
        );
        assert_eq!(read("roster_number,name\n1,Ada\n")[0].user_identifier, None);
        // version 1.1 has the role in this file
        let users = "sourcedId,status,dateLastModified,enabledUser,orgSourcedIds,role,username,userIds,givenName,familyName\n\
                     u-1,active,,true,o,student,ada,,Ada,Brook\nu-2,active,,true,o,teacher,t,,Tea,Cher\n\
                     u-3,tobedeleted,,true,o,student,gone,,Gone,Away\n";
        let lines = read(users);
        assert_eq!(lines.len(), 1, "{lines:?}");
        assert_eq!((lines[0].number.as_str(), lines[0].name.as_str()), ("ada", "Ada Brook"));
        let long = format!("roster_number,name,email_optional,user_identifier\n1,Ada,,{}\n", "x".repeat(256));
        assert!(reasons(&long)[0].1.contains("255 are the most"));
        assert!(
            reasons("sourcedId,status,dateLastModified,enabledUser,givenName\nu,,,true,Ada\n")[0]
                .1
                .contains("familyName")
        );
    }
}
