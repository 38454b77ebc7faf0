//! Which sheets were just taken in from cards.

use serde::Deserialize;

use crate::domain::exposure::Exposure;

/// What the address may carry: the sheets that were just taken in.
#[derive(Debug, Default, Deserialize)]
pub struct Taken {
    /// The first number.
    pub first: Option<String>,
    /// The last.
    pub last: Option<String>,
}

impl Taken {
    /// In words, when they are among those listed.
    pub fn words(&self, sheets: &[Exposure]) -> String {
        let number = |text: &Option<String>| {
            let number: i64 = text.as_deref()?.parse().ok()?;
            sheets.iter().any(|sheet| sheet.number == number).then_some(number)
        };
        match (number(&self.first), number(&self.last)) {
            (Some(first), Some(last)) if first == last => format!("It is sheet {first}: write the number on its back."),
            (Some(first), Some(last)) => {
                format!("They are sheets {first} to {last}: write each number on the back of its sheet.")
            }
            _ => String::new(),
        }
    }
}
