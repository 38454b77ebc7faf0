//! Names of folders and files made from what people typed.

use std::collections::HashSet;

use unicode_normalization::UnicodeNormalization;

/// Longest name, in bytes: with a suffix it stays below what file systems take.
const LONGEST: usize = 120;
/// Names some systems keep for devices.
const KEPT: [&str; 4] = ["con", "prn", "aux", "nul"];

/// A folder's name that any system takes and no shell or folder view is misled by: letters of any
/// script stay; what separates, controls or hides becomes a dash.
///
/// ```
/// use shimlight::export::file_name::safe;
/// assert_eq!(safe("../etc/passwd"), "etc-passwd");
/// assert_eq!(safe("愛子's group"), "愛子's group");
/// ```
pub fn safe(text: &str) -> String {
    let mut name = String::new();
    for c in text.nfc() {
        let c = if is_unsafe(c) { '-' } else { c };
        // one dash or space for a run of them
        if !(matches!(c, '-' | ' ') && name.ends_with(['-', ' '])) {
            name.push(c);
        }
        if name.len() >= LONGEST {
            break;
        }
    }
    let name = name.trim_matches(['.', ' ', '-', '~']);
    let stem = name.split('.').next().unwrap_or_default().to_lowercase();
    let numbered = |prefix: &str| {
        stem.strip_prefix(prefix).is_some_and(|rest| rest.len() == 1 && rest.bytes().all(|b| b.is_ascii_digit()))
    };
    if name.is_empty() {
        "unnamed".to_owned()
    } else if KEPT.contains(&stem.as_str()) || numbered("com") || numbered("lpt") {
        format!("{name}_")
    } else {
        name.to_owned()
    }
}

fn is_unsafe(c: char) -> bool {
    let invisible = matches!(c,
        '\u{ad}' | '\u{61c}' | '\u{180e}' | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}'
        | '\u{feff}' | '\u{fff0}'..='\u{ffff}' | '\u{e0000}'..='\u{e0fff}');
    c.is_control() || invisible || "/\\:*?\"<>|$`%".contains(c) || (c.is_whitespace() && c != ' ')
}

/// Names already given within one folder; the same again gets a number, whatever its case.
#[derive(Clone, Debug, Default)]
pub struct Taken(HashSet<String>);

impl Taken {
    /// A safe name that was not given before.
    pub fn name(&mut self, text: &str) -> String {
        let name = safe(text);
        let mut candidate = name.clone();
        let mut number = 2;
        while !self.0.insert(candidate.to_lowercase()) {
            candidate = format!("{name} ({number})");
            number += 1;
        }
        candidate
    }
}

/// The `Content-Disposition` of a file to be kept: its name in plain letters for old browsers, and
/// in full (RFC 6266, RFC 8187).
pub fn attachment(name: &str) -> String {
    let name = safe(name);
    let plain: String =
        name.chars().map(|c| if c.is_ascii_alphanumeric() || matches!(c, '.' | '-' | '_') { c } else { '-' }).collect();
    let full: String = name.bytes().map(percent).collect();
    format!("attachment; filename=\"{plain}\"; filename*=UTF-8''{full}")
}

fn percent(byte: u8) -> String {
    if byte.is_ascii_alphanumeric() || matches!(byte, b'.' | b'-' | b'_') {
        char::from(byte).to_string()
    } else {
        format!("%{byte:02X}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_stay_readable_and_lead_nowhere_else() {
        for (typed, name) in [
            ("First light", "First light"),
            ("../../etc/passwd", "etc-passwd"),
            ("..", "unnamed"),
            ("", "unnamed"),
            ("-rf ~", "rf"),
            ("a/b\\c:d", "a-b-c-d"),
            ("=cmd()", "=cmd()"),
            ("two\nlines\0", "two-lines"),
            ("मीरा 愛子 Łukasz", "मीरा 愛子 Łukasz"),
            ("txt\u{202e}fdp", "txt-fdp"),
            ("CON", "CON_"),
            ("com1.csv", "com1.csv_"),
            ("trailing. ", "trailing"),
        ] {
            assert_eq!(safe(typed), name, "{typed:?}");
        }
        assert!(safe(&"愛".repeat(200)).len() <= LONGEST + 3);
    }

    #[test]
    fn the_same_name_twice_gets_a_number() {
        let mut taken = Taken::default();
        assert_eq!(taken.name("Group"), "Group");
        assert_eq!(taken.name("group"), "group (2)");
        assert_eq!(taken.name("Group"), "Group (3)");
    }

    #[test]
    fn an_attachment_is_named_in_plain_letters_and_in_full() {
        assert_eq!(
            attachment("marks Été\r\n.csv"),
            "attachment; filename=\"marks--t--.csv\"; filename*=UTF-8''marks%20%C3%89t%C3%A9-.csv"
        );
    }
}
