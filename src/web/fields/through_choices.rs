//! The question whether a sheet went through the trays.

use crate::web::kit::form::{Control, Form};

/// The question whether a sheet went through the trays. Neither answer is chosen before somebody said so.
pub fn through_choices(form: &Form) -> Control {
    let answers = [("yes", "Yes, it went through"), ("no", "Not yet")];
    form.radio(
        "developed",
        "Has it been through the trays?",
        &answers.map(|(value, words)| (value.to_owned(), words.to_owned())),
    )
    .hint("what went through counts towards developer and fixer")
}
