//! The text of a roster cut into records and cells: by commas as a CSV file has them, or by tabs as
//! cells copied from a spreadsheet have them.

/// What parts the cells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::domain) enum Separator {
    /// RFC 4180.
    Comma,
    /// Cells pasted from a spreadsheet.
    Tab,
}

impl Separator {
    /// Tabs, when the first line that says anything has one before any comma: a comma may belong to
    /// a name, a tab cannot.
    pub(in crate::domain) fn of(text: &str) -> Self {
        let first = text.lines().find(|line| !line.trim().is_empty()).unwrap_or("");
        match first.find(['\t', ',']).map(|at| first.as_bytes()[at]) {
            Some(b'\t') => Self::Tab,
            _ => Self::Comma,
        }
    }

    fn sign(self) -> char {
        match self {
            Self::Comma => ',',
            Self::Tab => '\t',
        }
    }
}

/// One record: a line, or several when a quoted cell has a line break.
pub(in crate::domain) struct Record<'t> {
    /// Where it began in the file, counted from 1.
    pub(in crate::domain) line: usize,
    /// All of it.
    pub(in crate::domain) text: &'t str,
    /// A quote where none may stand.
    pub(in crate::domain) stray_quote: bool,
}

/// A quote that is never closed, and the records before it.
pub(in crate::domain) struct NeverClosed<'t> {
    pub(in crate::domain) records: Vec<Record<'t>>,
    /// The line it was opened in.
    pub(in crate::domain) line: usize,
}

/// Cuts the text into records, quotes respected, empty lines left out.
pub(in crate::domain) fn split(text: &str, separator: Separator) -> Result<Vec<Record<'_>>, NeverClosed<'_>> {
    /// Where in a cell we are.
    #[derive(Clone, Copy, PartialEq)]
    enum At {
        Start,
        Bare,
        Quoted { since: usize },
        JustClosed,
        Closed,
    }
    let sign = separator.sign();
    let mut records = Vec::new();
    let (mut line, mut began_line, mut began) = (1, 1, 0);
    let (mut at, mut stray_quote) = (At::Start, false);
    for (byte, c) in text.char_indices() {
        at = match (at, c) {
            (At::Quoted { .. }, '"') => At::JustClosed,
            (At::Quoted { since }, _) => At::Quoted { since },
            // two quotes inside a quoted cell are one
            (At::Start | At::JustClosed, '"') => At::Quoted { since: line },
            (_, c) if c == sign => At::Start,
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
                // a spreadsheet copies a nickname in quotes as it stands
                stray_quote |= c == '"' && separator == Separator::Comma;
                At::Bare
            }
        };
        line += usize::from(c == '\n');
    }
    let never_closed = match at {
        At::Quoted { since } => Some(since),
        _ => None,
    };
    if never_closed.is_none() {
        records.push(Record { line: began_line, text: &text[began..], stray_quote });
    }
    records.retain(|record| !record.text.trim().is_empty());
    match never_closed {
        Some(line) => Err(NeverClosed { records, line }),
        None => Ok(records),
    }
}

/// The cells of a record, without the spaces round them.
pub(in crate::domain) fn cells(record: &Record<'_>, separator: Separator) -> Result<Vec<String>, String> {
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(separator.sign() as u8)
        .from_reader(record.text.as_bytes());
    let mut row = csv::StringRecord::new();
    reader.read_record(&mut row).map_err(|_| "it could not be read".to_owned())?;
    Ok(row.iter().map(|cell| cell.trim().to_owned()).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tabs_part_cells_when_a_tab_comes_first_and_commas_otherwise() {
        for (text, separator) in [
            ("07\tVask, Ilo\n", Separator::Tab),
            ("\n\nroster_number\tname\n", Separator::Tab),
            ("07,Teo\tVask\n", Separator::Comma),
            ("roster_number,name", Separator::Comma),
            ("", Separator::Comma),
        ] {
            assert_eq!(Separator::of(text), separator, "{text:?}");
        }
    }

    #[test]
    fn a_first_cell_that_is_empty_is_a_cell() {
        let records = split("\tVask\n", Separator::Tab).ok().expect("records");
        assert_eq!(cells(&records[0], Separator::Tab).expect("cells"), ["", "Vask"]);
    }
}
