//! Which column of a roster holds what: said by its header, or shown by its first line.

use std::collections::HashMap;

use super::roster_table::{Record, Separator, cells};

/// The header a roster must have.
pub const HEADER: [&str; 5] = ["roster_number", "name", "email_optional", "user_identifier", "class_identifier"];

/// What the columns hold.
pub(in crate::domain) enum Columns {
    /// Ours: so many of them.
    Ours(usize),
    /// No header, but the first line shows it: number, name, perhaps an address.
    Evident,
    /// Those of OneRoster's users file, by name.
    Users(HashMap<String, usize>),
}

/// How the columns of OneRoster's users file begin, in versions 1.1 and 1.2 alike.
const USERS: [&str; 4] = ["sourcedId", "status", "dateLastModified", "enabledUser"];

/// What people write over the columns of number, name and address, without case, spaces and signs.
const OTHER_WORDS: [&[&str]; 3] = [
    &["rosternumber", "rosterno", "number", "no", "nr", "studentnumber"],
    &["name", "student", "studentname", "fullname"],
    &["emailoptional", "email", "mail", "emailaddress"],
];

/// Whether a cell of the header names our column of that place.
fn names_column(cell: &str, place: usize) -> bool {
    let bare: String = cell.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).collect();
    cell.eq_ignore_ascii_case(HEADER[place]) || OTHER_WORDS.get(place).is_some_and(|words| words.contains(&&*bare))
}

/// What the first line announces or shows.
pub(in crate::domain) fn columns(first: &Record<'_>, separator: Separator) -> Result<Columns, String> {
    let expected = HEADER.join(",");
    if !first.text.contains([',', '\t']) && first.text.contains(';') {
        return Err(
            "cells are parted by semicolons here, and by commas or tabs in a roster: a semicolon may belong to \
                    a name. Save the sheet as comma-separated values (CSV, UTF-8), or copy its cells and paste them"
                .to_owned(),
        );
    }
    let mut cells = cells(first, separator)?;
    // the standard's headers are exact in case
    if cells.starts_with(&USERS.map(str::to_owned)) {
        for column in ["givenName", "familyName"] {
            if cells.iter().all(|cell| cell != column) {
                return Err(format!("this is a OneRoster users file without the column {column}"));
            }
        }
        return Ok(Columns::Users(cells.into_iter().zip(0..).collect()));
    }
    drop_empty_end(&mut cells, 2);
    let is_header = (2..=HEADER.len()).contains(&cells.len())
        && cells.iter().enumerate().all(|(place, cell)| names_column(cell, place));
    if is_header {
        return Ok(Columns::Ours(cells.len()));
    }
    if shows_number_and_name(&cells) {
        return Ok(Columns::Evident);
    }
    Err(format!(
        "the header must be {expected} (the last three may be left away), or that of a OneRoster users file; or, \
         without a header, each line begins with a roster number that has a figure in it, then the name. This is {}",
        shown(first.text)
    ))
}

/// Whether cells can be nothing but a number, a name and perhaps an address: a figure in the first and
/// no space, a letter and no figure in the second.
fn shows_number_and_name(cells: &[String]) -> bool {
    let [number, name, rest @ ..] = cells else { return false };
    number.chars().any(|c| c.is_ascii_digit())
        && !number.contains(char::is_whitespace)
        && name.chars().any(char::is_alphabetic)
        && !name.chars().any(|c| c.is_ascii_digit())
        && rest.len() <= 1
        && rest.iter().all(|cell| cell.is_empty() || cell.contains('@'))
}

/// Takes off empty cells at the end, which a spreadsheet adds for columns it shows; `least` stay.
pub(in crate::domain) fn drop_empty_end(cells: &mut Vec<String>, least: usize) {
    while cells.len() > least && cells.last().is_some_and(String::is_empty) {
        cells.pop();
    }
}

/// What was typed, between quotes and no longer than a line.
pub(in crate::domain) fn shown(text: &str) -> String {
    let text = text.trim();
    let start: String = text.chars().filter(|c| !c.is_control()).take(60).collect();
    if text.chars().count() > 60 { format!("“{start}…”") } else { format!("“{start}”") }
}
