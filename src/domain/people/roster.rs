//! A roster read from a CSV file or pasted text.
//!
//! Columns: `roster_number,name,email_optional,user_identifier,class_identifier` (RFC 4180; columns
//! may be missing from the end, down to two). Cells may be parted by tabs, as a spreadsheet copies
//! them, and the header may be missing where the first line shows what is what: a number, a name and
//! perhaps an address. The users file of a OneRoster CSV bundle is taken as well, by its own header.
//! All bad lines are found, not just the first, so that a file is mended in one go; how it was read
//! is said in words.

use std::collections::HashMap;

use unicode_normalization::UnicodeNormalization;

use super::{
    roster_columns::{Columns, columns, drop_empty_end, shown},
    roster_table::{NeverClosed, Record, Separator, cells, split},
};

pub use super::roster_columns::HEADER;

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

/// A roster that could be read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Roster {
    /// Its students, in the order of the file.
    pub lines: Vec<RosterLine>,
    /// How it was read, in a sentence or two: what parts the cells, which column was taken for what,
    /// and which lines stand for nobody.
    pub read_as: String,
}

/// Reads a roster. `as_it_was` takes off whatever our own export put in front of a cell to keep
/// spreadsheets from running it.
///
/// # Errors
/// Every line that cannot be taken; then nothing is.
pub fn read(text: &str, as_it_was: impl Fn(&str) -> &str) -> Result<Roster, Vec<BadLine>> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let separator = Separator::of(text);
    let (records, mut bad) = match split(text, separator) {
        Ok(records) => (records, Vec::new()),
        Err(NeverClosed { records, line }) => (records, vec![BadLine::new(line, "a quote is opened and never closed")]),
    };
    let Some(first) = records.first() else {
        return Err(if bad.is_empty() { vec![BadLine::new(1, "there is nothing in it")] } else { bad });
    };
    let columns = match columns(first, separator) {
        Ok(columns) => columns,
        Err(reason) => return Err(vec![BadLine::new(first.line, reason)]),
    };
    let headed = !matches!(columns, Columns::Evident);
    let mut lines: Vec<RosterLine> = Vec::new();
    let mut seen: HashMap<String, usize> = HashMap::new();
    let mut nobody = Vec::new();
    for record in records.iter().skip(usize::from(headed)) {
        let read = match &columns {
            Columns::Ours(count) => line(record, separator, *count, &as_it_was).map(Some),
            Columns::Evident => evident_line(record, separator, &as_it_was).map(Some),
            Columns::Users(places) => user_line(record, separator, places),
        };
        let read = match read {
            Ok(None) => {
                nobody.push(record.line);
                continue;
            }
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
        bad.push(BadLine::new(first.line, "there is no student under the header"));
    }
    if lines.len() > MOST_LINES {
        bad.push(BadLine::new(lines[MOST_LINES].line, format!("a roster has at most {MOST_LINES} students")));
    }
    bad.sort_by_key(|bad| bad.line);
    if bad.is_empty() { Ok(Roster { lines, read_as: read_as(separator, &columns, &nobody) }) } else { Err(bad) }
}

/// How it was read, in words.
fn read_as(separator: Separator, columns: &Columns, nobody: &[usize]) -> String {
    let parted = match separator {
        Separator::Comma => "cells parted by commas",
        Separator::Tab => "cells parted by tabs",
    };
    let mut words = match columns {
        Columns::Ours(count) => format!("{parted}, under the header {}", HEADER[..*count].join(", ")),
        Columns::Evident => format!(
            "{parted}, without a header: the first column as roster number, the second as name, a third as e-mail"
        ),
        Columns::Users(_) => format!("{parted}, as a OneRoster users file"),
    };
    if !nobody.is_empty() {
        let numbers: Vec<String> = nobody.iter().map(usize::to_string).collect();
        let (line, stand) = if nobody.len() == 1 { ("line", "stands") } else { ("lines", "stand") };
        words.push_str(&format!(
            ". Left out, because they {stand} for somebody who is no student, gone or switched off: {line} {}",
            numbers.join(", ")
        ));
    }
    words
}

/// A line without a header over it: its address is only known where there is one.
fn evident_line(
    record: &Record<'_>,
    separator: Separator,
    as_it_was: &impl Fn(&str) -> &str,
) -> Result<RosterLine, String> {
    let count = cells(record, separator).map_or(2, |mut cells| {
        drop_empty_end(&mut cells, 2);
        cells.len()
    });
    let quotes = |reason: String| match separator {
        Separator::Comma if count > 2 => format!("{reason}: a name with a comma needs quotes round it"),
        _ => reason,
    };
    if count > 3 {
        return Err(quotes(format!(
            "it has {count} cells; a number, a name and an e-mail are the most without a header"
        )));
    }
    let line = line(record, separator, count.max(2), as_it_was).map_err(quotes)?;
    if line.name.chars().any(char::is_alphabetic) {
        Ok(line)
    } else {
        Err(format!("{} has no letter in it, so it is no name; the number comes first", shown(&line.name)))
    }
}

/// A line of OneRoster's users file; `None` for somebody who is no student, gone or switched off.
/// The roster number is the `identifier`, or the user's name there, or the sourcedId.
fn user_line(
    record: &Record<'_>,
    separator: Separator,
    places: &HashMap<String, usize>,
) -> Result<Option<RosterLine>, String> {
    if record.stray_quote {
        return Err("a quote stands inside a cell: put quotes round the whole cell and double those inside".to_owned());
    }
    let cells = cells(record, separator)?;
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

fn line(
    record: &Record<'_>,
    separator: Separator,
    columns: usize,
    as_it_was: &impl Fn(&str) -> &str,
) -> Result<RosterLine, String> {
    if record.stray_quote {
        return Err("a quote stands inside a cell: put quotes round the whole cell and double those inside".to_owned());
    }
    let mut cells = cells(record, separator)?;
    drop_empty_end(&mut cells, columns);
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
///
/// # Errors
/// When it is none, or too long.
pub fn checked_email(text: String) -> Result<String, String> {
    let text = checked("address", text, 0, LONGEST_EMAIL)?;
    let plausible = text.split_once('@').is_some_and(|(name, place)| !name.is_empty() && !place.is_empty());
    if text.is_empty() || (plausible && !text.contains(char::is_whitespace)) {
        Ok(text)
    } else {
        Err(format!("{} is not an e-mail address", shown(&text)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plain(text: &str) -> Result<Vec<RosterLine>, Vec<BadLine>> {
        read(text, |cell| cell).map(|roster| roster.lines)
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
    fn semicolons_a_strange_header_and_an_empty_file_are_refused_with_the_reason() {
        assert!(reasons("roster_number;name\n1;Ada\n")[0].1.starts_with("cells are parted by semicolons"));
        let strange = reasons("number,who\n1,Ada\n");
        assert!(strange[0].1.starts_with("the header must be roster_number,name,email_optional,user_identifier"));
        assert!(strange[0].1.ends_with("This is “number,who”"), "{strange:?}");
        assert_eq!(reasons(" \n"), [(1, "there is nothing in it".to_owned())]);
        assert_eq!(reasons("roster_number,name\n"), [(1, "there is no student under the header".to_owned())]);
    }

    #[test]
    fn cells_pasted_from_a_spreadsheet_are_read_with_or_without_a_header() {
        let expected = vec![("07".to_owned(), "Teodora Vask".to_owned()), ("08".to_owned(), "Vask, Ilo".to_owned())];
        for (text, read_as) in [
            ("07\tTeodora Vask\n08\tVask, Ilo\n", "cells parted by tabs, without a header"),
            ("07\tTeodora Vask\t\t\r\n08\tVask, Ilo\tilo@example.org\t\r\n\t\t\t\r\n", "cells parted by tabs, without"),
            (
                "roster_number\tname\n07\tTeodora Vask\n08\tVask, Ilo",
                "parted by tabs, under the header roster_number, name",
            ),
            (
                "No.\tStudent name\tE-mail\n07\tTeodora Vask\t\n08\tVask, Ilo\t",
                "under the header roster_number, name, email",
            ),
            ("07,Teodora Vask\n08,\"Vask, Ilo\"\n", "cells parted by commas, without a header: the first column"),
        ] {
            assert_eq!(names(text), expected, "{text:?}");
            let said = read(text, |cell| cell).expect("a roster").read_as;
            assert!(said.contains(read_as), "{said}");
        }
        let nick = "1\tAl \"Bo\" Ng\n";
        assert_eq!(names(nick), [("1".to_owned(), "Al \"Bo\" Ng".to_owned())]);
        let some = plain("07\tTeodora Vask\n08\tIlo Vask\tilo@example.org\n").expect("a roster");
        assert_eq!(some[0].email, None, "an address on record is not wiped by a line that has none");
        assert_eq!(some[1].email.as_deref(), Some("ilo@example.org"));
    }

    #[test]
    fn without_a_header_no_line_is_dropped_and_none_is_guessed() {
        let bad = reasons("07,Teodora Vask\n08,Vask, Ilo\nUma Vask\n09,\n10,Ada,ada@example.org,x\nAda,11\n");
        assert_eq!(bad.iter().map(|(line, _)| *line).collect::<Vec<_>>(), [2, 3, 4, 5, 6]);
        assert_eq!(bad[0].1, "“Ilo” is not an e-mail address: a name with a comma needs quotes round it");
        assert!(bad[1].1.starts_with("the name is missing") && bad[2].1.starts_with("the name is missing"), "{bad:?}");
        assert!(bad[3].1.starts_with("it has 4 cells; a number, a name"), "{bad:?}");
        assert!(bad[4].1.starts_with("“11” has no letter in it"), "{bad:?}");
        // where the columns are not evident the reader asks instead of guessing
        for unclear in
            ["Teodora Vask\t07\n", "Vask\tTeodora\n", "7 8\tAda\n", "07\tRoom 12\n", "07\tAda\tRoom\n", "07\n"]
        {
            assert!(reasons(unclear)[0].1.starts_with("the header must be"), "{unclear:?}");
        }
    }

    #[test]
    fn what_our_own_export_put_in_front_is_taken_off_again() {
        fn unguard(cell: &str) -> &str {
            cell.strip_prefix('\'').unwrap_or(cell)
        }
        let read = read("roster_number,name\n1,'=cmd()\n", unguard).expect("a roster");
        assert_eq!(read.lines[0].name, "=cmd()");
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
        let read = |text: &str| plain(text).expect("a roster");
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
        let said = super::read(users, |cell| cell).expect("a roster").read_as;
        assert!(said.ends_with("no student, gone or switched off: lines 3, 4"), "{said}");
        let long = format!("roster_number,name,email_optional,user_identifier\n1,Ada,,{}\n", "x".repeat(256));
        assert!(reasons(&long)[0].1.contains("255 are the most"));
        assert!(
            reasons("sourcedId,status,dateLastModified,enabledUser,givenName\nu,,,true,Ada\n")[0]
                .1
                .contains("familyName")
        );
    }
}
