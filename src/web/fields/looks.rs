//! The looks of negatives that a verdict names.

use crate::{domain::exposure::verdict::Verdict, drawing::negative::Negative};

/// What a negative looks like, with the word for it.
pub struct Look {
    /// The word.
    pub word: &'static str,
    /// What it means for the next sheet.
    pub means: &'static str,
    /// The drawing.
    pub picture: Negative,
}

/// Every look that a verdict names, from pale to dark. `id` begins the ids of the drawings.
pub fn looks(id: &str) -> Vec<Look> {
    let look = |verdict: Verdict| {
        Some(Look {
            word: verdict.as_str(),
            means: verdict.means(),
            picture: Negative::of(&format!("{id}-{}", verdict.as_str().replace(' ', "-")), verdict)?,
        })
    };
    Verdict::ALL.into_iter().filter_map(look).collect()
}
