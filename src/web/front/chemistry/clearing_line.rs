//! A clearing test on its batch's page.

use crate::domain::{baths::clearing::ClearingTest, ids::ClearingTestId, site::Site};

/// A test on the batch's page.
pub(super) struct ClearingLine {
    pub id: ClearingTestId,
    pub when: String,
    pub words: String,
    pub tag: &'static str,
    pub remark: String,
    pub standing: bool,
}

/// A test in words.
pub(super) fn line(test: &ClearingTest, site: &Site) -> ClearingLine {
    let (advice, words) = test.times.judged();
    ClearingLine {
        id: test.id,
        when: test.tested_at.as_words(&site.zone),
        words,
        tag: advice.as_str(),
        remark: test.remark.clone(),
        standing: test.undone_at.is_none(),
    }
}
