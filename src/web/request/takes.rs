//! How much a form may send, by the kind of its route. Held where a form is read, before anything is done with it.

/// A picture that is sent may have so many bytes.
pub const MOST_SENT: usize = 16 * 1024 * 1024;
/// Names of fields are not longer.
pub const LONGEST_NAME: usize = 200;

/// What a route takes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Takes {
    /// The whole body, in bytes.
    pub body: usize,
    /// How many fields.
    pub fields: usize,
    /// One field, in bytes of UTF-8.
    pub field: usize,
}

impl Takes {
    /// The forms of the door, which anybody may send.
    pub const DOOR: Self = Self { body: 16 * 1024, fields: 24, field: 1_000 };
    /// Any other form, unless its route says more: remarks of some hundred characters in any script.
    pub const FORM: Self = Self { body: 128 * 1024, fields: 400, field: 8 * 1024 };
    /// A long text: a report, a roster, phrases.
    pub const TEXT: Self = Self { body: 1024 * 1024, fields: 400, field: 768 * 1024 };
    /// Many rows at once: a pile of cards, the sheet of marks, a rubric.
    pub const PILE: Self = Self { body: 1024 * 1024, fields: 4_000, field: 16 * 1024 };
    /// A picture with some words.
    pub const PICTURE: Self = Self { body: MOST_SENT + 64 * 1024, fields: 400, field: 8 * 1024 };

    /// The beginning of a value that is too long; nothing of one that fits.
    pub fn cut(self, value: &str) -> Option<&str> {
        if value.len() <= self.field {
            return None;
        }
        let end = (0..=self.field).rev().find(|at| value.is_char_boundary(*at)).unwrap_or(0);
        Some(&value[..end])
    }
}

/// What is said beside a field of which only the beginning fitted.
pub fn too_long(kept: &str) -> String {
    format!(
        "is too long: only its first {} characters are kept here; shorten it and send it again",
        kept.chars().count()
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_value_is_cut_between_two_characters_and_never_within_one() {
        let takes = Takes { field: 5, ..Takes::DOOR };
        assert_eq!(takes.cut("brass"), None);
        assert_eq!(takes.cut("brassy"), Some("brass"));
        assert_eq!(takes.cut("λλλ"), Some("λλ"));
        assert!(too_long("λλ").contains("first 2 characters"));
    }
}
