//! The sizes a paper is kept in, with how many sheets were counted on the shelf.

use super::sheet::Sheet;

/// A size on the shelf.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ShelfSize {
    /// The size.
    pub sheet: Sheet,
    /// How many sheets; `None` when nobody counted.
    pub sheets: Option<i64>,
}

/// The most sheets of one size that are believed.
pub const MOST_SHEETS: i64 = 100_000;

/// Reads a list of sizes, one a line, each with how many sheets there are if that was counted:
/// `4x5in 120`.
///
/// ```
/// use shimlight::domain::stock::shelf;
/// let sizes = shelf::read("4x5in 120\n9 x 12 cm\n").expect("two sizes");
/// assert_eq!(sizes[0].sheets, Some(120));
/// assert_eq!(shelf::written(&sizes), "4x5in 120\n9x12cm");
/// ```
///
/// # Errors
/// The line that cannot be read, or that names a size a second time.
pub fn read(text: &str) -> Result<Vec<ShelfSize>, String> {
    let mut sizes: Vec<ShelfSize> = Vec::new();
    for line in text.lines().map(str::trim).filter(|line| !line.is_empty()) {
        let size = read_line(line).ok_or_else(|| {
            format!("“{line}”: type a size with its unit and, after a space, how many sheets, such as 4x5in 120")
        })?;
        if sizes.iter().any(|other| other.sheet.typed == size.sheet.typed) {
            return Err(format!("“{line}”: {} stands there twice", size.sheet.typed));
        }
        sizes.push(size);
    }
    Ok(sizes)
}

fn read_line(line: &str) -> Option<ShelfSize> {
    if let Ok(sheet) = Sheet::parse(line) {
        return Some(ShelfSize { sheet, sheets: None });
    }
    let (size, count) = line.rsplit_once(|c: char| c.is_whitespace() || c == ':' || c == '=')?;
    let sheets = count.parse::<i64>().ok().filter(|sheets| (0..=MOST_SHEETS).contains(sheets))?;
    let sheet = Sheet::parse(size.trim_end_matches([':', '=', ' '])).ok()?;
    Some(ShelfSize { sheet, sheets: Some(sheets) })
}

/// The list as [`read`] takes it.
pub fn written(sizes: &[ShelfSize]) -> String {
    let line = |size: &ShelfSize| match size.sheets {
        Some(sheets) => format!("{} {sheets}", size.sheet.typed),
        None => size.sheet.typed.clone(),
    };
    sizes.iter().map(line).collect::<Vec<_>>().join("\n")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_list_is_read_as_people_write_it() {
        let sizes = read("4 x 5 in: 100\n 8x10in = 25 \n\n9x12cm").expect("three sizes");
        let counted: Vec<_> = sizes.iter().map(|size| (size.sheet.typed.as_str(), size.sheets)).collect();
        assert_eq!(counted, [("4x5in", Some(100)), ("8x10in", Some(25)), ("9x12cm", None)]);
        assert_eq!(read(&written(&sizes)), Ok(sizes));
    }

    #[test]
    fn a_line_that_says_nothing_is_named() {
        for bad in ["a box", "4x5in many", "4x5 100", "4x5in -3", "4x5in 100001"] {
            let said = read(&format!("8x10in 5\n{bad}")).expect_err(bad);
            assert!(said.contains(bad), "{said}");
        }
        assert!(read("4x5in 3\n4 x 5 in 7").expect_err("twice").contains("twice"));
    }
}
