//! A CSV file in the making: a header row, then rows of typed cells.

use csv::{Terminator, Writer, WriterBuilder};
use jiff::tz::TimeZone;

use super::cell::{Cell, guard};

/// A CSV file in the making (RFC 4180: CRLF after every row, quoted where needed, UTF-8).
#[derive(Debug)]
pub struct Table {
    writer: Writer<Vec<u8>>,
    zone: TimeZone,
    columns: usize,
}

impl Table {
    /// Begins a file with its header row. Moments are written with the offset of `zone`.
    pub fn new<H: AsRef<str>>(zone: &TimeZone, headers: impl IntoIterator<Item = H>) -> Self {
        let headers: Vec<String> = headers.into_iter().map(|header| guard(header.as_ref())).collect();
        let mut table = Self {
            writer: WriterBuilder::new().terminator(Terminator::CRLF).from_writer(Vec::new()),
            zone: zone.clone(),
            columns: headers.len(),
        };
        table.record(&headers);
        table
    }

    /// Adds a row, one cell for each header.
    ///
    /// # Panics
    /// When the number of cells is not the number of headers: a mistake in our own code.
    pub fn row(&mut self, cells: impl IntoIterator<Item = Cell>) {
        let zone = self.zone.clone();
        let fields: Vec<String> = cells.into_iter().map(|cell| cell.field(&zone)).collect();
        assert_eq!(fields.len(), self.columns, "a row has a cell for each header");
        self.record(&fields);
    }

    /// The file's bytes.
    pub fn finish(self) -> Vec<u8> {
        self.writer.into_inner().expect("memory takes every byte")
    }

    fn record(&mut self, fields: &[String]) {
        self.writer.write_record(fields).expect("memory takes every byte");
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::export::cell::unguard;

    fn zone() -> TimeZone {
        TimeZone::get("America/Denver").expect("bundled zones")
    }

    #[test]
    fn rows_end_with_crlf_and_are_quoted_where_needed() {
        let mut table = Table::new(&zone(), ["name", "points /10", "-note"]);
        table.row([Cell::from("a, \"b\""), Cell::scaled(4_500, 3), Cell::from("one\ntwo")]);
        table.row([Cell::from("=cmd()"), Cell::from(-5), Cell::Empty]);
        let text = String::from_utf8(table.finish()).expect("UTF-8");
        assert_eq!(text, "name,points /10,'-note\r\n\"a, \"\"b\"\"\",4.5,\"one\ntwo\"\r\n'=cmd(),-5,\r\n");
    }

    #[test]
    fn a_file_without_rows_has_its_headers() {
        let bytes = Table::new(&zone(), ["entry", "kind"]).finish();
        assert_eq!(bytes, b"entry,kind\r\n");
    }

    #[test]
    fn a_single_empty_cell_is_still_a_row() {
        let mut table = Table::new(&zone(), ["name"]);
        table.row([Cell::from("")]);
        assert_eq!(table.finish(), b"name\r\n\"\"\r\n");
    }

    #[test]
    fn hostile_and_foreign_names_come_back_as_they_were() {
        let names = [
            "=cmd()|' /C calc'!A0",
            "Zoë \"Zed\" Łukasz",
            "मीरा, 愛子",
            "two\r\nlines",
            "'=x",
            "  @y",
            "<script>",
            "\u{200f}נועה",
        ];
        let mut table = Table::new(&zone(), ["name"]);
        for name in names {
            table.row([Cell::from(name)]);
        }
        let bytes = table.finish();
        let mut reader = csv::Reader::from_reader(bytes.as_slice());
        let read: Vec<String> = reader
            .records()
            .map(|record| unguard(record.expect("a record").get(0).expect("a field")).to_owned())
            .collect();
        assert_eq!(read, names);
    }
}
