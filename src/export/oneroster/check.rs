//! Our own check of a OneRoster 1.2 CSV bundle: required files, headers, identifiers, vocabulary.
//! The bundle is checked before it is given away; the tests break it in each of these ways.

use std::collections::{HashMap, HashSet};

use super::{CATEGORIES, FILES, LINE_ITEMS, RESULTS, SCORE_STATUS, VERSION};

/// The longest identifier the standard takes.
const LONGEST_ID: usize = 255;

/// What is wrong with a bundle, one sentence each; empty when nothing is.
pub fn faults(files: &[(String, Vec<u8>)]) -> Vec<String> {
    let mut check = Check { files, faults: Vec::new() };
    let declared = check.manifest();
    let line_items = check.data(&declared, "lineItems", &LINE_ITEMS);
    let categories = check.data(&declared, "categories", &CATEGORIES);
    let results = check.data(&declared, "results", &RESULTS);
    let ids = |rows: &[Row]| -> HashSet<String> { rows.iter().map(|row| row.get("sourcedId").to_owned()).collect() };
    check.line_items(&line_items, &ids(&categories));
    check.results(&results, &line_items);
    check.faults
}

/// Whether this can be an identifier of the standard: not empty, not too long, nothing invisible.
pub fn is_identifier(text: &str) -> bool {
    !text.is_empty() && text.len() <= LONGEST_ID && text.trim() == text && !text.chars().any(char::is_control)
}

struct Row {
    file: &'static str,
    line: usize,
    cells: HashMap<&'static str, String>,
}

impl Row {
    fn get(&self, column: &str) -> &str {
        self.cells.get(column).map_or("", String::as_str)
    }
}

struct Check<'a> {
    files: &'a [(String, Vec<u8>)],
    faults: Vec<String>,
}

fn records(bytes: &[u8]) -> Vec<Vec<String>> {
    let mut reader = csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(bytes);
    reader.records().filter_map(Result::ok).map(|record| record.iter().map(str::to_owned).collect()).collect()
}

impl Check<'_> {
    fn wrong(&mut self, fault: impl Into<String>) {
        self.faults.push(fault.into());
    }

    fn bytes(&self, name: &str) -> Option<Vec<u8>> {
        self.files.iter().find(|(file, _)| file == name).map(|(_, bytes)| bytes.clone())
    }

    fn manifest(&mut self) -> HashMap<String, String> {
        let Some(bytes) = self.bytes("manifest.csv") else {
            self.wrong("manifest.csv is missing");
            return HashMap::new();
        };
        let rows = records(&bytes);
        if rows.first().is_none_or(|header| header != &["propertyName", "value"]) {
            self.wrong("manifest.csv: the header must be propertyName,value");
        }
        let mut found = HashMap::new();
        for row in rows.iter().skip(1) {
            if let [name, value] = row.as_slice() {
                found.insert(name.clone(), value.clone());
            } else {
                self.wrong("manifest.csv: a line has not two cells");
            }
        }
        for (property, value) in [("manifest.version", "1.0"), ("oneroster.version", VERSION)] {
            if found.get(property).map(String::as_str) != Some(value) {
                self.wrong(format!("manifest.csv: {property} must be {value}"));
            }
        }
        for file in FILES {
            let there = self.bytes(&format!("{file}.csv")).is_some();
            match found.get(&format!("file.{file}")).map(String::as_str) {
                None => self.wrong(format!("manifest.csv: file.{file} is missing")),
                Some("bulk" | "delta") if !there => self.wrong(format!("{file}.csv is declared and missing")),
                Some("absent") if there => self.wrong(format!("{file}.csv is there and declared absent")),
                Some("bulk" | "delta" | "absent") => {}
                Some(other) => self.wrong(format!("manifest.csv: file.{file} cannot be {other}")),
            }
        }
        for (name, _) in self.files {
            let known = name == "manifest.csv" || FILES.iter().any(|file| *name == format!("{file}.csv"));
            if !known {
                self.faults.push(format!("{name} is no file of the standard"));
            }
        }
        found
    }

    fn data(&mut self, declared: &HashMap<String, String>, file: &'static str, header: &[&'static str]) -> Vec<Row> {
        let Some(bytes) = self.bytes(&format!("{file}.csv")) else { return Vec::new() };
        let bulk = declared.get(&format!("file.{file}")).is_some_and(|value| value == "bulk");
        let mut rows = records(&bytes).into_iter();
        if rows.next().is_none_or(|found| found != header) {
            self.wrong(format!("{file}.csv: the header must be {}", header.join(",")));
            return Vec::new();
        }
        let mut seen = HashSet::new();
        let mut kept = Vec::new();
        for (cells, line) in rows.zip(2..) {
            if cells.len() != header.len() {
                self.wrong(format!(
                    "{file}.csv, line {line}: {} cells where the header has {}",
                    cells.len(),
                    header.len()
                ));
                continue;
            }
            let row = Row { file, line, cells: header.iter().copied().zip(cells).collect() };
            let id = row.get("sourcedId");
            if !is_identifier(id) {
                self.wrong(format!("{file}.csv, line {line}: sourcedId is no identifier"));
            } else if !seen.insert(id.to_owned()) {
                self.wrong(format!("{file}.csv, line {line}: the sourcedId {id} is there twice"));
            }
            if bulk && !(row.get("status").is_empty() && row.get("dateLastModified").is_empty()) {
                self.wrong(format!("{file}.csv, line {line}: in bulk, status and dateLastModified stay empty"));
            }
            kept.push(row);
        }
        kept
    }

    fn must(&mut self, row: &Row, column: &str, fits: impl Fn(&str) -> bool, what: &str) {
        if !fits(row.get(column)) {
            self.wrong(format!("{}.csv, line {}: {column} must be {what}", row.file, row.line));
        }
    }

    fn line_items(&mut self, rows: &[Row], categories: &HashSet<String>) {
        for row in rows {
            self.must(row, "title", |text| !text.is_empty(), "given");
            self.must(row, "classSourcedId", is_identifier, "an identifier");
            self.must(row, "categorySourcedId", |id| categories.contains(id), "one of categories.csv");
            for column in ["assignDate", "dueDate"] {
                self.must(row, column, is_date, "a date");
            }
            for column in ["resultValueMin", "resultValueMax"] {
                self.must(row, column, is_number, "a number");
            }
            for column in ["academicSessionSourcedId", "schoolSourcedId"] {
                self.must(row, column, |id| id.is_empty() || is_identifier(id), "an identifier or empty");
            }
        }
    }

    fn results(&mut self, rows: &[Row], line_items: &[Row]) {
        for row in rows {
            let item = line_items.iter().find(|item| item.get("sourcedId") == row.get("lineItemSourcedId"));
            self.must(row, "lineItemSourcedId", |_| item.is_some(), "one of lineItems.csv");
            self.must(row, "studentSourcedId", is_identifier, "an identifier");
            self.must(row, "scoreStatus", |word| SCORE_STATUS.contains(&word), "one of the standard’s words");
            self.must(row, "scoreDate", is_date, "a date");
            self.must(row, "score", |score| score.is_empty() || is_number(score), "a number or empty");
            for column in ["inProgress", "incomplete", "late", "missing"] {
                self.must(row, column, |word| ["true", "false", ""].contains(&word), "true, false or empty");
            }
            let graded = row.get("scoreStatus") == "fully graded";
            self.must(row, "score", |score| !graded || !score.is_empty(), "given when fully graded");
            if let (Some(item), Ok(score)) = (item, row.get("score").parse::<f64>()) {
                let bound = |column| item.get(column).parse::<f64>().unwrap_or(f64::NAN);
                let inside = score >= bound("resultValueMin") && score <= bound("resultValueMax");
                self.must(row, "score", |_| inside, "from resultValueMin to resultValueMax");
                self.must(row, "classSourcedId", |class| class == item.get("classSourcedId"), "the line item’s");
            }
        }
    }
}

fn is_date(text: &str) -> bool {
    text.len() == 10 && text.parse::<jiff::civil::Date>().is_ok()
}

fn is_number(text: &str) -> bool {
    text.parse::<f64>().is_ok_and(f64::is_finite)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn whole() -> Vec<(String, Vec<u8>)> {
        let mut manifest = "propertyName,value\r\nmanifest.version,1.0\r\noneroster.version,1.2\r\n".to_owned();
        for file in FILES {
            let value = if ["categories", "lineItems", "results"].contains(&file) { "bulk" } else { "absent" };
            manifest.push_str(&format!("file.{file},{value}\r\n"));
        }
        let line_item = "L1,,,First light,,2026-03-20,2026-03-27,C1,K1,,0,20,";
        let result = "R1,,,L1,U1,fully graded,15.5,2026-03-21,\"Sharp, well seen\",,C1,false,false,true,false";
        [
            ("manifest.csv", manifest),
            ("categories.csv", format!("{}\r\nK1,,,Lab work,\r\n", CATEGORIES.join(","))),
            ("lineItems.csv", format!("{}\r\n{line_item}\r\n", LINE_ITEMS.join(","))),
            ("results.csv", format!("{}\r\n{result}\r\n", RESULTS.join(","))),
        ]
        .map(|(name, text)| (name.to_owned(), text.into_bytes()))
        .to_vec()
    }

    /// The whole bundle with one text changed in one file.
    fn broken(file: &str, from: &str, to: &str) -> Vec<String> {
        let mut files = whole();
        let bytes = &mut files.iter_mut().find(|(name, _)| name == file).expect("a file").1;
        let text = String::from_utf8(bytes.clone()).expect("text");
        assert!(text.contains(from), "{file} has {from}");
        *bytes = text.replacen(from, to, 1).into_bytes();
        faults(&files)
    }

    #[test]
    fn a_whole_bundle_has_no_fault() {
        assert_eq!(faults(&whole()), Vec::<String>::new());
    }

    #[test]
    fn every_way_of_breaking_it_is_found() {
        for (file, from, to, words) in [
            ("manifest.csv", "oneroster.version,1.2", "oneroster.version,1.1", "oneroster.version must be 1.2"),
            ("manifest.csv", "file.results,bulk", "file.results,absent", "declared absent"),
            ("manifest.csv", "file.users,absent", "file.users,bulk", "users.csv is declared and missing"),
            ("manifest.csv", "file.roles,absent\r\n", "", "file.roles is missing"),
            ("manifest.csv", "propertyName,value", "property,value", "the header must be"),
            ("results.csv", "scoreStatus", "scorestatus", "results.csv: the header must be"),
            ("results.csv", "R1,,,", ",,,", "sourcedId is no identifier"),
            ("results.csv", "R1,,,", "R1,active,,", "status and dateLastModified stay empty"),
            ("results.csv", "fully graded", "graded", "one of the standard’s words"),
            ("results.csv", "15.5", "25", "from resultValueMin to resultValueMax"),
            ("results.csv", "15.5", "", "given when fully graded"),
            ("results.csv", "15.5", "many", "a number or empty"),
            ("results.csv", ",L1,U1,", ",L2,U1,", "one of lineItems.csv"),
            ("results.csv", ",L1,U1,", ",L1,,", "studentSourcedId must be an identifier"),
            ("results.csv", "2026-03-21", "21.3.2026", "scoreDate must be a date"),
            ("results.csv", ",C1,false", ",C2,false", "the line item’s"),
            ("results.csv", "true,false\r\n", "yes,false\r\n", "true, false or empty"),
            ("lineItems.csv", ",K1,", ",K2,", "one of categories.csv"),
            ("lineItems.csv", "First light", "", "title must be given"),
            ("lineItems.csv", "L1,,,", "L1,,", "12 cells where the header has 13"),
        ] {
            let found = broken(file, from, to);
            assert!(found.iter().any(|fault| fault.contains(words)), "{file} {from} -> {to}: {found:?}");
        }
        let mut files = whole();
        files.push(("names.csv".to_owned(), Vec::new()));
        assert!(faults(&files).iter().any(|fault| fault.contains("no file of the standard")));
        assert!(faults(&files[1..]).iter().any(|fault| fault.contains("manifest.csv is missing")));
        let twice = broken("results.csv", "R1,,,", "R1,,,L1,U0,exempt,,2026-03-21,,,C1,,,,\r\nR1,,,");
        assert!(twice.iter().any(|fault| fault.contains("there twice")), "{twice:?}");
    }
}
